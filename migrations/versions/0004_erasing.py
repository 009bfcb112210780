"""Words can be erased: who did it, when and why; and no digest is left by which to guess them.

Going down drops who, when and why. The digests stay salted, since nobody knows the others any
more: a fact with words that is said once more is then taken for another with the same id.
"""

import hashlib

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None

TEXT = sa.String().with_variant(sa.String(collation="C"), "postgresql")
"""Text that sorts by its code points on both databases."""

KEPT = "facts are only ever added"
ONCE = "words are only ever erased once"
ERASED = "OLD.said IS NULL AND OLD.erased_at IS NOT NULL"
SALTED = "s:"
AT_ONCE = 5_000


def upgrade() -> None:
    """Make the columns, then salt the digests of what was said."""
    op.add_column("words", sa.Column("fields", sa.Text(), nullable=True))
    op.add_column("words", sa.Column("erased_at", sa.BigInteger(), nullable=True))
    op.add_column("words", sa.Column("erased_by", TEXT, nullable=True))
    op.add_column("words", sa.Column("erased_why", sa.Text(), nullable=True))
    _guard_lifted(lifted=True)
    _salt_all()
    _guard_lifted(lifted=False)
    if _on_postgresql():
        op.execute(
            f"CREATE TRIGGER words_stay_erased BEFORE UPDATE ON words FOR EACH ROW"
            f" WHEN ({ERASED}) EXECUTE FUNCTION refuse('{ONCE}')"
        )
    else:
        op.execute(
            f"CREATE TRIGGER words_stay_erased BEFORE UPDATE ON words"
            f" WHEN {ERASED} BEGIN SELECT RAISE(ABORT, '{ONCE}'); END"
        )


def downgrade() -> None:
    """Drop the columns."""
    op.execute("DROP TRIGGER words_stay_erased" + (" ON words" if _on_postgresql() else ""))
    for column in ("erased_why", "erased_by", "erased_at", "fields"):
        op.drop_column("words", column)


def _on_postgresql() -> bool:
    return op.get_bind().dialect.name == "postgresql"


def _guard_lifted(*, lifted: bool) -> None:
    """Let the journal be changed, this once, and guard it again as the first revision did."""
    if _on_postgresql():
        verb = "DISABLE" if lifted else "ENABLE"
        op.execute(f"ALTER TABLE journal {verb} TRIGGER journal_refuses_update")
    elif lifted:
        op.execute("DROP TRIGGER journal_refuses_update")
    else:
        op.execute(
            "CREATE TRIGGER journal_refuses_update BEFORE UPDATE ON journal"
            f" BEGIN SELECT RAISE(ABORT, '{KEPT}'); END"
        )


def _salt_all() -> None:
    """Where the salt is gone, so are the words: nothing is kept then of what was said."""
    connection = op.get_bind()
    some = sa.text(
        "SELECT words.fact_id, words.salt, journal.said FROM words"
        " JOIN journal ON journal.fact_id = words.fact_id"
        " WHERE words.fact_id > :after ORDER BY words.fact_id LIMIT :at_once"
    )
    change = sa.text("UPDATE journal SET said = :said WHERE fact_id = :fact_id")
    after = ""
    while rows := connection.execute(some, {"after": after, "at_once": AT_ONCE}).all():
        after = rows[-1].fact_id
        changed = [
            {"fact_id": row.fact_id, "said": _salted(row.salt, row.said)}
            for row in rows
            if not row.said.startswith(SALTED)
        ]
        if changed:
            connection.execute(change, changed)


def _salted(salt: str | None, said: str) -> str:
    if salt is None:
        return SALTED
    return SALTED + hashlib.sha256(f"{salt}{said}".encode()).hexdigest()
