"""Words that stand on screens in more than one place."""

from __future__ import annotations

FORMAT_WORDS: dict[bool | None, str] = {
    True: "may be formatted",
    False: "DO NOT FORMAT",
    None: "",
}
"""What is said of formatting a card; nothing where the question does not arise."""


def large(status: str, who: str = "") -> str:
    """A status in large type. who: who acts next, where that is known.

    A card that nobody has to bring has all its copies: the rule asks for something else.
    """
    if status != "exposed":
        return status
    return "copied, rule not met" if who == "data manager" else "shot, not copied"
