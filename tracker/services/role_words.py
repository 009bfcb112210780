"""What each role may do, in words: read off the table of roles, so that it says the same."""

from __future__ import annotations

from tracker.services.roles import Role, may

_WORDS = (
    ("look", "see every card, roll and drive"),
    (
        "load",
        "log what happens to cards: in the camera, out of it, formatted, handed over, damaged",
    ),
    ("offloaded", "say that cards were offloaded"),
    ("copy_checked", "log copies and their checks"),
    ("clear", "clear cards, so that they may be formatted"),
    ("register_card", "register cards and drives"),
    ("received", "say what post received"),
    ("set_todays_drives", "set the drives of the day, and say what happens to a drive"),
    ("set_rule", "set the backup rule, the cameras and the shooting day"),
    ("take_back_last", "take back one's own last entry"),
    ("take_back", "take back what anybody logged"),
    ("export", "take the journal along"),
    ("token", "make tokens for programs"),
    ("invite", "invite people, and let them out"),
)
"""An action that stands for those beside it, and what it is called."""

IN_SHORT: dict[Role, str] = {
    "data manager": "works at the cart: copies, checks, clears, and keeps the drives",
    "loader": "works beside the camera: in, out, handed over, offloaded, damaged",
    "production office": "sees everything, registers cards and drives, hears from post",
    "administrator": "all of it, and invites people and lets them out",
}
"""What each role is for, in a line."""


def may_do(role: str) -> list[str]:
    """What somebody of a role may do. LookupError for a role that is none."""
    return [words for action, words in _WORDS if may(role, action)]
