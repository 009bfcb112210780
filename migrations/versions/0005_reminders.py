"""What the reminders keep: spells, turns, messages, lists, answers, settings and channels.

Going down drops all of it: whoever comes up again is told of what stands as if it were new.
"""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None

TEXT = sa.String().with_variant(sa.String(collation="C"), "postgresql")
"""Text that sorts by its code points on both databases."""

BIG, SMALL, FREE, YES = sa.BigInteger(), sa.Integer(), sa.Text(), sa.Boolean()
SPELL = ("spell", "notice_spell")
MESSAGE = ("message", "notice_message")


def upgrade() -> None:
    """Make the tables."""
    for make in MADE.values():
        make()


def downgrade() -> None:
    """Drop them, those that point to others first."""
    for table in reversed(MADE):
        op.drop_table(table)


def _clock() -> None:
    _table(
        "notice_clock",
        [_key("id", SMALL), _set("generation", BIG), _set("begun_at", BIG), _set("last_tick", BIG)],
        [_may("error", FREE)],
        key=("id",),
    )


def _spell() -> None:
    _table(
        "notice_spell",
        [_set("id"), _set("subject"), _set("rule"), _set("number", SMALL), _set("about")],
        [_set("severity"), _set("opened", BIG), _set("anchor", BIG), _set("delay", BIG)],
        [_may("repeat", BIG), _set("all_clear", YES), _may("gone", BIG), _may("ended", BIG)],
        [_set("done", YES)],
        key=("id",),
        unique=("subject", "rule", "number"),
    )
    op.create_index(op.f("ix_notice_spell_done"), "notice_spell", ["done"])


def _message() -> None:
    _table(
        "notice_message",
        [_set("id"), _set("person"), _set("channel"), _set("made_at", BIG), _set("state")],
        [_set("danger", YES), _set("attempts", SMALL), _may("next_try", BIG), _may("leased_by")],
        [_may("lease_until", BIG), _set("unsure", YES), _may("sent_at", BIG)],
        [_may("error", FREE), _may("title", FREE), _may("body", FREE)],
        key=("id",),
        to=[("person", "person")],
    )
    op.create_index(op.f("ix_notice_message_state"), "notice_message", ["state"])
    op.create_index(
        op.f("ix_notice_message_person_made_at"), "notice_message", ["person", "made_at"]
    )


def _turn() -> None:
    _table(
        "notice_turn",
        [_set("spell"), _set("person"), _set("channel"), _key("turn", BIG), _set("first", BIG)],
        [_set("at", BIG), _set("decided", BIG), _set("message"), _set("offered", YES)],
        key=("spell", "person", "channel", "turn"),
        to=[SPELL, MESSAGE],
    )
    op.create_index(op.f("ix_notice_turn_message"), "notice_turn", ["message"])


def _all_clear() -> None:
    _table(
        "notice_all_clear",
        [_set("spell"), _set("person"), _set("channel"), _set("decided", BIG), _set("message")],
        key=("spell", "person", "channel"),
        to=[SPELL, MESSAGE],
    )
    op.create_index(op.f("ix_notice_all_clear_message"), "notice_all_clear", ["message"])


def _digest() -> None:
    _table(
        "notice_digest",
        [_set("person"), _set("channel"), _set("day"), _set("decided", BIG)],
        [_set("missed", SMALL), _may("message")],
        key=("person", "channel", "day"),
        to=[("person", "person"), MESSAGE],
    )
    op.create_index(op.f("ix_notice_digest_message"), "notice_digest", ["message"])


def _escalation() -> None:
    _table(
        "notice_escalation",
        [_set("spell"), _key("step", SMALL), _set("role"), _set("decided", BIG)],
        key=("spell", "step"),
        to=[SPELL],
    )


def _held() -> None:
    _table(
        "notice_held",
        [_set("spell"), _set("person"), _set("since", BIG)],
        key=("spell",),
        to=[SPELL, ("person", "person")],
    )


def _snooze() -> None:
    _table(
        "notice_snooze",
        [_set("id"), _set("owner"), _set("reason", FREE), _may("subject"), _may("rule")],
        [_set("made_at", BIG), _set("until", BIG), _may("ended_at", BIG), _may("ended_by")],
        key=("id",),
        to=[("owner", "person")],
    )


def _setting() -> None:
    _table(
        "notice_setting",
        [_key("version", SMALL), _set("made_at", BIG), _may("made_by"), _set("said", sa.JSON())],
        key=("version",),
    )


def _channel() -> None:
    _table(
        "notice_channel",
        [_set("person"), _set("channel"), _set("address", FREE), _set("active", YES)],
        [_set("since", BIG)],
        key=("person", "channel"),
        to=[("person", "person")],
    )


def _shift() -> None:
    _table(
        "notice_shift",
        [_set("id"), _set("role"), _set("giver"), _set("taker"), _set("offered_at", BIG)],
        [_may("accepted_at", BIG), _may("withdrawn_at", BIG), _set("said", sa.JSON())],
        key=("id",),
        to=[("giver", "person"), ("taker", "person")],
    )


def _set(name: str, kind: sa.types.TypeEngine = TEXT) -> sa.Column:
    return sa.Column(name, kind, nullable=False)


def _may(name: str, kind: sa.types.TypeEngine = TEXT) -> sa.Column:
    return sa.Column(name, kind, nullable=True)


def _key(name: str, kind: sa.types.TypeEngine) -> sa.Column:
    """A number that is part of a key, and that the database is not to make up."""
    return sa.Column(name, kind, nullable=False, autoincrement=False)


def _table(
    name: str,
    *columns: list[sa.Column],
    key: Sequence[str],
    to: Sequence[tuple[str, str]] = (),
    unique: Sequence[str] = (),
) -> None:
    """A table. to: columns that point to the id of another."""
    rules: list[sa.Constraint] = [sa.PrimaryKeyConstraint(*key, name=op.f(f"pk_{name}"))]
    for column, other in to:
        named = op.f(f"fk_{name}_{column}_{other}")
        rules.append(sa.ForeignKeyConstraint([column], [f"{other}.id"], name=named))
    if unique:
        rules.append(sa.UniqueConstraint(*unique, name=op.f(f"uq_{name}_{'_'.join(unique)}")))
    op.create_table(name, *(one for some in columns for one in some), *rules)


MADE = {
    "notice_clock": _clock,
    "notice_spell": _spell,
    "notice_message": _message,
    "notice_turn": _turn,
    "notice_all_clear": _all_clear,
    "notice_digest": _digest,
    "notice_escalation": _escalation,
    "notice_held": _held,
    "notice_snooze": _snooze,
    "notice_setting": _setting,
    "notice_channel": _channel,
    "notice_shift": _shift,
}
