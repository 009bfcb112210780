"""Who may do what: one table, role by action. What is not in it is an error, never a yes.

An action is the name of a function of `acts_*` that takes who says it, or one of

    look      read what is known: cards, rolls, drives, plans
    export    take the journal along
    audit     have the journal proved, and the rows with it
    history   log facts as they were written down elsewhere, without a permission being asked
    invite    let somebody in
    revoke    end somebody's access: a person, a session, a token
    token     make a token for a program
    mine      see one's own page: where one is signed in
    tape_rule say what the crew's coloured tape means
    outbox    see what was sent to whom, and what became of it
    office    look at what was bought, what it costs, what is wearing out
    purchase  say what is bought and rented, what came of it, and what may be spent

or what people say to the reminders (see `notices`): take, snooze, set_settings, offer_shift.
"""

from __future__ import annotations

from typing import Literal, get_args

Role = Literal["data manager", "loader", "production office", "administrator"]
ROLES: tuple[Role, ...] = get_args(Role)

EVERYBODY: frozenset[Role] = frozenset(ROLES)
CREW: frozenset[Role] = frozenset({"data manager", "loader", "administrator"})
DESK: frozenset[Role] = frozenset({"data manager", "production office", "administrator"})
MANAGERS: frozenset[Role] = frozenset({"data manager", "administrator"})
ADMINISTRATOR: frozenset[Role] = frozenset({"administrator"})

TABLE: dict[str, frozenset[Role]] = {
    "look": EVERYBODY,
    "export": DESK,
    "audit": MANAGERS,
    "history": ADMINISTRATOR,
    "erase": ADMINISTRATOR,
    "invite": ADMINISTRATOR,
    "revoke": ADMINISTRATOR,
    "token": MANAGERS,
    "mine": EVERYBODY,
    "tape_rule": MANAGERS,
    "outbox": DESK,
    "office": DESK,
    "purchase": DESK,
    # notices: whoever is reminded may say that they have it; who holds back speaks for the unit
    "take": EVERYBODY,
    "snooze": MANAGERS,
    "set_settings": MANAGERS,
    "offer_shift": MANAGERS,
    # acts_back: one's own last tap is anybody's, any fact is not
    "my_last": EVERYBODY,
    "take_back_last": EVERYBODY,
    "take_back": MANAGERS,
    # acts_camera
    "load": CREW,
    "swap": CREW,
    "format_in_camera": CREW,
    "pull": CREW,
    "rename_roll": CREW,
    "confirm_name": CREW,
    "name_rolls": CREW,
    # acts_card: whoever sees damage says so at once; who ends it has looked at it
    "register_card": DESK,
    "take_in_visiting": CREW,
    "relabel": MANAGERS,
    "check_in": CREW,
    "hand_over": CREW,
    "set_aside": CREW,
    "return_to_service": MANAGERS,
    "note_damage": CREW,
    "settle_damage": MANAGERS,
    "retire": MANAGERS,
    "report_missing": CREW,
    "found": CREW,
    "settle": MANAGERS,
    "note": EVERYBODY,
    # acts_clearing: what lets footage go
    "clear": MANAGERS,
    "clear_against_the_rule": MANAGERS,
    "withdraw_clearing": MANAGERS,
    "declare_empty": MANAGERS,
    "write_off": MANAGERS,
    "received": DESK,
    # acts_copies
    "offloaded": CREW,
    "copy_started": MANAGERS,
    "copy_finished": MANAGERS,
    "copy_checked": MANAGERS,
    "copy_failed": MANAGERS,
    "copy_lost": MANAGERS,
    # acts_day
    "call_unit": MANAGERS,
    "wrap_unit": MANAGERS,
    "count": MANAGERS,
    "commit_plan": MANAGERS,
    "set_rule": MANAGERS,
    "set_camera": MANAGERS,
    # acts_drive
    "register_drive": DESK,
    "move_drive": MANAGERS,
    "empty_drive": MANAGERS,
    "fail_drive": MANAGERS,
    "lose_drive": MANAGERS,
    "find_drive": MANAGERS,
    "give_back_drive": MANAGERS,
    "set_todays_drives": MANAGERS,
}


def may(role: str, action: str) -> bool:
    """Whether somebody of that role may do that. LookupError for a role or action not known."""
    if role not in ROLES:
        raise LookupError(f"no role is called {role!r}; there are: {', '.join(ROLES)}")
    if action not in TABLE:
        raise LookupError(f"no action is called {action!r}: give it a row in the table of roles")
    return role in TABLE[action]


_CALLED: dict[Role, str] = {
    "data manager": "a data manager",
    "loader": "a loader",
    "production office": "the production office",
    "administrator": "an administrator",
}


def who_may(action: str) -> str:
    """Whoever may do that, to be asked: "a data manager or an administrator".

    LookupError for an action that is not known.
    """
    if action not in TABLE:
        raise LookupError(f"no action is called {action!r}: give it a row in the table of roles")
    called = [_CALLED[role] for role in ROLES if role in TABLE[action]]
    return " or ".join([", ".join(called[:-1]), called[-1]] if len(called) > 1 else called)


OF_EVENT: dict[str, str] = {
    "registered": "register_card",
    "checked_in": "check_in",
    "relabelled": "relabel",
    "loaded": "load",
    "formatted": "format_in_camera",
    "pulled": "pull",
    "handed_over": "hand_over",
    "copy_started": "copy_started",
    "copy_finished": "copy_finished",
    "copy_checked": "copy_checked",
    "copy_failed": "copy_failed",
    "copy_lost": "copy_lost",
    "roll_renamed": "rename_roll",
    "declared_empty": "declare_empty",
    "written_off": "write_off",
    "received": "received",
    "cleared": "clear",
    "clearing_withdrawn": "withdraw_clearing",
    "set_aside": "set_aside",
    "returned_to_service": "return_to_service",
    "damage_noted": "note_damage",
    "damage_settled": "settle_damage",
    "health_read": "note_damage",
    "speed_measured": "note_damage",
    "retired": "retire",
    "reported_missing": "report_missing",
    "found": "found",
    "settled": "settle",
    "noted": "note",
    "voided": "take_back",
    "drive_registered": "register_drive",
    "drive_moved": "move_drive",
    "drive_emptied": "empty_drive",
    "drive_failed": "fail_drive",
    "drive_lost": "lose_drive",
    "drive_found": "find_drive",
    "drive_returned": "give_back_drive",
    "called": "call_unit",
    "wrapped": "wrap_unit",
    "counted": "count",
    "proof_kept": "copy_checked",
    "plan_committed": "commit_plan",
    "camera_set": "set_camera",
    "rule_set": "set_rule",
}
"""What logging a fact by itself is, in the table above."""


def may_log(role: str, event: str) -> bool:
    """Whether somebody of that role may log a fact of that event, live and by itself.

    A visiting card is taken in by whoever may take in visiting cards: see `take_in_visiting`.
    LookupError for a role that is not known; an event that is not known is for others to name.
    """
    action = OF_EVENT.get(event)
    return action is None or may(role, action)
