"""The journal, and the rows that follow from it."""

from collections.abc import Iterator

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

TEXT = sa.String().with_variant(sa.String(collation="C"), "postgresql")
"""Text that sorts by its code points on both databases."""

KEPT = "facts are only ever added"
ERASED = "words are only ever erased, by setting what was said to null"
ERASING = (
    "NEW.said IS NULL AND NEW.fact_id = OLD.fact_id AND (NEW.salt IS NULL OR NEW.salt = OLD.salt)"
)


def upgrade() -> None:
    """Make the tables, then the triggers by which the journal guards itself."""
    for make in TABLES.values():
        make()
    postgresql = op.get_bind().dialect.name == "postgresql"
    for statement in _postgresql_triggers() if postgresql else _sqlite_triggers():
        op.execute(sa.text(statement))


def downgrade() -> None:
    """Drop everything, the triggers with their tables."""
    for table in reversed(TABLES):
        op.drop_table(table)
    if op.get_bind().dialect.name == "postgresql":
        op.execute(sa.text("DROP FUNCTION refuse()"))


def _sqlite_triggers() -> Iterator[str]:
    for table, verb, when, why in (
        ("journal", "UPDATE", "", KEPT),
        ("journal", "DELETE", "", KEPT),
        ("words", "UPDATE", f"WHEN ({ERASING}) IS NOT TRUE", ERASED),
        ("words", "DELETE", "", ERASED),
    ):
        yield (
            f"CREATE TRIGGER {table}_refuses_{verb.lower()} BEFORE {verb} ON {table} {when}"
            f" BEGIN SELECT RAISE(ABORT, '{why}'); END"
        )


def _postgresql_triggers() -> Iterator[str]:
    # 23001, restrict_violation: an integrity error, as SQLite's RAISE is.
    yield (
        "CREATE FUNCTION refuse() RETURNS trigger LANGUAGE plpgsql AS $$"
        " BEGIN RAISE EXCEPTION '%', TG_ARGV[0] USING ERRCODE = '23001'; END $$"
    )
    for table, verb, each, why in (
        ("journal", "UPDATE", "ROW", KEPT),
        ("journal", "DELETE", "ROW", KEPT),
        ("journal", "TRUNCATE", "STATEMENT", KEPT),
        ("words", "UPDATE", f"ROW WHEN (({ERASING}) IS NOT TRUE)", ERASED),
        ("words", "DELETE", "ROW", ERASED),
        ("words", "TRUNCATE", "STATEMENT", ERASED),
    ):
        yield (
            f"CREATE TRIGGER {table}_refuses_{verb.lower()} BEFORE {verb} ON {table}"
            f" FOR EACH {each} EXECUTE FUNCTION refuse('{why}')"
        )


def _make_camera() -> None:
    op.create_table(
        "camera",
        sa.Column("letters", TEXT, nullable=False),
        sa.Column("unit", TEXT, nullable=False),
        sa.Column("slots", sa.Integer(), nullable=False),
        sa.Column("takes", TEXT, nullable=True),
        sa.Column("needs_write_bytes_per_s", sa.BigInteger(), nullable=True),
        sa.Column("formats_to", TEXT, nullable=True),
        sa.Column("recording", TEXT, nullable=True),
        sa.Column("kind", TEXT, nullable=True),
        sa.PrimaryKeyConstraint("letters", name=op.f("pk_camera")),
    )


def _make_drive() -> None:
    op.create_table(
        "drive",
        sa.Column("label", TEXT, nullable=False),
        sa.Column("kind", TEXT, nullable=False),
        sa.Column("capacity_bytes", sa.BigInteger(), nullable=False),
        sa.Column("enclosure", TEXT, nullable=False),
        sa.Column("place", TEXT, nullable=False),
        sa.Column("holder", TEXT, nullable=True),
        sa.Column("seal", TEXT, nullable=True),
        sa.Column("emptied", TEXT, nullable=True),
        sa.Column("failed", sa.Boolean(), nullable=False),
        sa.Column("lost", sa.Boolean(), nullable=False),
        sa.Column("returned", sa.Boolean(), nullable=False),
        sa.Column("usable", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("label", name=op.f("pk_drive")),
    )


def _make_production() -> None:
    op.create_table(
        "production",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("name", TEXT, nullable=False),
        sa.Column("origin", TEXT, nullable=False),
        sa.Column("time_zone", TEXT, nullable=False),
        sa.Column("day_starts", TEXT, nullable=False),
        sa.Column("created_at", sa.BigInteger(), nullable=False),
        sa.Column("last_logged", sa.BigInteger(), nullable=False),
        sa.Column("context", sa.BigInteger(), nullable=False),
        sa.Column("fold_version", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_production")),
    )


def _make_reel() -> None:
    op.create_table(
        "reel",
        sa.Column("camera", TEXT, nullable=False),
        sa.Column("last", TEXT, nullable=False),
        sa.PrimaryKeyConstraint("camera", name=op.f("pk_reel")),
    )


def _make_setup_link() -> None:
    op.create_table(
        "setup_link",
        sa.Column("token_sha256", TEXT, nullable=False),
        sa.Column("made_at", sa.BigInteger(), nullable=False),
        sa.Column("until", sa.BigInteger(), nullable=False),
        sa.Column("used_at", sa.BigInteger(), nullable=True),
        sa.PrimaryKeyConstraint("token_sha256", name=op.f("pk_setup_link")),
    )


def _make_subject() -> None:
    op.create_table(
        "subject",
        sa.Column("id", TEXT, nullable=False),
        sa.Column("kind", TEXT, nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_subject")),
    )


def _make_todays_drive() -> None:
    op.create_table(
        "todays_drive",
        sa.Column("drive", TEXT, nullable=False),
        sa.Column("set_at", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("drive", name=op.f("pk_todays_drive")),
    )


def _make_words() -> None:
    op.create_table(
        "words",
        sa.Column("fact_id", TEXT, nullable=False),
        sa.Column("salt", TEXT, nullable=True),
        sa.Column("said", sa.JSON(none_as_null=True), nullable=True),
        sa.PrimaryKeyConstraint("fact_id", name=op.f("pk_words")),
    )


def _make_card() -> None:
    op.create_table(
        "card",
        sa.Column("id", TEXT, nullable=False),
        sa.Column("label", TEXT, nullable=False),
        sa.Column("status", TEXT, nullable=False),
        sa.Column("camera", TEXT, nullable=True),
        sa.Column("holds", sa.Text(), nullable=False),
        sa.Column("uncovered", sa.Text(), nullable=False),
        sa.Column("next", sa.Text(), nullable=False),
        sa.Column("who", TEXT, nullable=False),
        sa.Column("rank", sa.Integer(), nullable=False),
        sa.Column("may_format", sa.Boolean(), nullable=True),
        sa.Column("since", sa.BigInteger(), nullable=True),
        sa.Column("media", TEXT, nullable=True),
        sa.Column("capacity_bytes", sa.BigInteger(), nullable=True),
        sa.Column("serial", TEXT, nullable=True),
        sa.Column("case", TEXT, nullable=True),
        sa.Column("owner", TEXT, nullable=True),
        sa.Column("visiting", sa.Boolean(), nullable=False),
        sa.Column("place", TEXT, nullable=True),
        sa.Column("last", TEXT, nullable=False),
        sa.Column("facts", sa.BigInteger(), nullable=False),
        sa.Column("state", sa.LargeBinary(), nullable=False),
        sa.Column("fold_version", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["id"], ["subject.id"], name=op.f("fk_card_id_subject")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_card")),
    )
    op.create_index(op.f("ix_card_label"), "card", ["label"])
    op.create_index(op.f("ix_card_status"), "card", ["status"])


def _make_chain() -> None:
    op.create_table(
        "chain",
        sa.Column("subject", TEXT, nullable=False),
        sa.Column("origin", TEXT, nullable=False),
        sa.Column("head", TEXT, nullable=False),
        sa.Column("count", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["subject"], ["subject.id"], name=op.f("fk_chain_subject_subject")),
        sa.PrimaryKeyConstraint("subject", "origin", name=op.f("pk_chain")),
    )


def _make_journal() -> None:
    op.create_table(
        "journal",
        sa.Column("subject", TEXT, nullable=False),
        sa.Column("origin", TEXT, nullable=False),
        sa.Column("seq", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("fact_id", TEXT, nullable=False),
        sa.Column("event", TEXT, nullable=False),
        sa.Column("occurred_at", sa.BigInteger(), nullable=False),
        sa.Column("logged_at", sa.BigInteger(), nullable=False),
        sa.Column("said", TEXT, nullable=False),
        sa.Column("body", sa.LargeBinary(), nullable=False),
        sa.Column("hash", TEXT, nullable=False),
        sa.Column("prev", TEXT, nullable=False),
        sa.ForeignKeyConstraint(
            ["subject"], ["subject.id"], name=op.f("fk_journal_subject_subject")
        ),
        sa.PrimaryKeyConstraint("subject", "origin", "seq", name=op.f("pk_journal")),
        sa.UniqueConstraint("fact_id", name=op.f("uq_journal_fact_id")),
    )
    op.create_index(op.f("ix_journal_logged_at"), "journal", ["logged_at"])


def _make_label() -> None:
    op.create_table(
        "label",
        sa.Column("label", TEXT, nullable=False),
        sa.Column("card", TEXT, nullable=False),
        sa.Column("since", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("until", sa.BigInteger(), nullable=True),
        sa.ForeignKeyConstraint(["card"], ["card.id"], name=op.f("fk_label_card_card")),
        sa.PrimaryKeyConstraint("label", "card", "since", name=op.f("pk_label")),
    )


def _make_mishap() -> None:
    op.create_table(
        "mishap",
        sa.Column("fact", TEXT, nullable=False),
        sa.Column("kind", TEXT, nullable=False),
        sa.Column("roll", TEXT, nullable=False),
        sa.Column("drive", TEXT, nullable=False),
        sa.Column("card", TEXT, nullable=False),
        sa.Column("severity", TEXT, nullable=False),
        sa.Column("settled_by", TEXT, nullable=True),
        sa.ForeignKeyConstraint(["card"], ["card.id"], name=op.f("fk_mishap_card_card")),
        sa.PrimaryKeyConstraint("fact", "kind", "roll", "drive", name=op.f("pk_mishap")),
    )
    op.create_index(op.f("ix_mishap_card"), "mishap", ["card"])
    op.create_index(op.f("ix_mishap_settled_by_severity"), "mishap", ["settled_by", "severity"])


def _make_roll() -> None:
    op.create_table(
        "roll",
        sa.Column("id", TEXT, nullable=False),
        sa.Column("card", TEXT, nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("name", TEXT, nullable=False),
        sa.Column("names", sa.Text(), nullable=False),
        sa.Column("guessed", sa.Boolean(), nullable=False),
        sa.Column("camera", TEXT, nullable=True),
        sa.Column("loaded_as", TEXT, nullable=False),
        sa.Column("opened_at", sa.BigInteger(), nullable=True),
        sa.Column("closed_at", sa.BigInteger(), nullable=True),
        sa.Column("held", sa.Boolean(), nullable=False),
        sa.Column("closed", sa.Boolean(), nullable=False),
        sa.Column("wiped", TEXT, nullable=True),
        sa.Column("wiped_by", TEXT, nullable=True),
        sa.Column("covered_when_wiped", sa.Boolean(), nullable=False),
        sa.Column("loss_settled", sa.Boolean(), nullable=False),
        sa.Column("parted", sa.Boolean(), nullable=False),
        sa.Column("mirror_wiped_early", sa.Boolean(), nullable=False),
        sa.Column("owes", sa.Boolean(), nullable=False),
        sa.Column("empty", sa.Boolean(), nullable=False),
        sa.Column("verdict", TEXT, nullable=True),
        sa.Column("bytes", sa.BigInteger(), nullable=True),
        sa.Column("clips", sa.BigInteger(), nullable=True),
        sa.Column("main", TEXT, nullable=True),
        sa.Column("needs_copies", sa.Integer(), nullable=True),
        sa.Column("needs_rank", sa.Integer(), nullable=True),
        sa.Column("needs_kinds", sa.Integer(), nullable=True),
        sa.Column("needs_off_site", sa.Integer(), nullable=True),
        sa.Column("needs_receipt", sa.Boolean(), nullable=True),
        sa.Column("covered", sa.Boolean(), nullable=False),
        sa.Column("state", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(["card"], ["card.id"], name=op.f("fk_roll_card_card")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_roll")),
    )
    op.create_index(op.f("ix_roll_camera_opened_at"), "roll", ["camera", "opened_at"])
    op.create_index(op.f("ix_roll_card"), "roll", ["card"])
    op.create_index(op.f("ix_roll_covered_closed_owes"), "roll", ["covered", "closed", "owes"])
    op.create_index(op.f("ix_roll_loaded_as_card"), "roll", ["loaded_as", "card"])
    op.create_index(op.f("ix_roll_name"), "roll", ["name"])


def _make_use() -> None:
    op.create_table(
        "use",
        sa.Column("drive", TEXT, nullable=False),
        sa.Column("card", TEXT, nullable=False),
        sa.ForeignKeyConstraint(["card"], ["card.id"], name=op.f("fk_use_card_card")),
        sa.PrimaryKeyConstraint("drive", "card", name=op.f("pk_use")),
    )


def _make_copy() -> None:
    op.create_table(
        "copy",
        sa.Column("roll", TEXT, nullable=False),
        sa.Column("drive", TEXT, nullable=False),
        sa.Column("finished", TEXT, nullable=False),
        sa.Column("finished_at", sa.BigInteger(), nullable=False),
        sa.Column("rank", sa.Integer(), nullable=False),
        sa.Column("sound", sa.Boolean(), nullable=False),
        sa.Column("bytes", sa.BigInteger(), nullable=True),
        sa.Column("clips", sa.BigInteger(), nullable=True),
        sa.Column("made_from", TEXT, nullable=True),
        sa.Column("awaits", sa.Text(), nullable=True),
        sa.ForeignKeyConstraint(["roll"], ["roll.id"], name=op.f("fk_copy_roll_roll")),
        sa.PrimaryKeyConstraint("roll", "drive", name=op.f("pk_copy")),
    )
    op.create_index(op.f("ix_copy_drive"), "copy", ["drive"])


TABLES = {
    "camera": _make_camera,
    "drive": _make_drive,
    "production": _make_production,
    "reel": _make_reel,
    "setup_link": _make_setup_link,
    "subject": _make_subject,
    "todays_drive": _make_todays_drive,
    "words": _make_words,
    "card": _make_card,
    "chain": _make_chain,
    "journal": _make_journal,
    "label": _make_label,
    "mishap": _make_mishap,
    "roll": _make_roll,
    "use": _make_use,
    "copy": _make_copy,
}
"""How each is made, in an order in which they can be."""
