"""Words that stand on screens in more than one place."""

from __future__ import annotations

FORMAT_WORDS: dict[bool | None, str] = {
    True: "may be formatted",
    False: "DO NOT FORMAT",
    None: "",
}
"""What is said of formatting a card; nothing where the question does not arise."""
