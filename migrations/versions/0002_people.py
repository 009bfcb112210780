"""The people of a production, and by what they come in."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

TEXT = sa.String().with_variant(sa.String(collation="C"), "postgresql")
"""Text that sorts by its code points on both databases."""


def upgrade() -> None:
    """Make the tables."""
    for make in TABLES.values():
        make()


def downgrade() -> None:
    """Drop them, those that point to others first."""
    for table in reversed(TABLES):
        op.drop_table(table)


def _make_person() -> None:
    op.create_table(
        "person",
        sa.Column("id", TEXT, nullable=False),
        sa.Column("name", TEXT, nullable=False),
        sa.Column("role", TEXT, nullable=False),
        sa.Column("passphrase_hash", TEXT, nullable=True),
        sa.Column("made_at", sa.BigInteger(), nullable=False),
        sa.Column("revoked_at", sa.BigInteger(), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_person")),
    )


def _make_invitation() -> None:
    op.create_table(
        "invitation",
        sa.Column("token_sha256", TEXT, nullable=False),
        sa.Column("role", TEXT, nullable=False),
        sa.Column("name", TEXT, nullable=False),
        sa.Column("made_by", TEXT, nullable=False),
        sa.Column("made_at", sa.BigInteger(), nullable=False),
        sa.Column("until", sa.BigInteger(), nullable=False),
        sa.Column("used_at", sa.BigInteger(), nullable=True),
        sa.Column("revoked_at", sa.BigInteger(), nullable=True),
        sa.ForeignKeyConstraint(
            ["made_by"], ["person.id"], name=op.f("fk_invitation_made_by_person")
        ),
        sa.PrimaryKeyConstraint("token_sha256", name=op.f("pk_invitation")),
    )


def _make_session() -> None:
    op.create_table(
        "session",
        sa.Column("token_sha256", TEXT, nullable=False),
        sa.Column("person", TEXT, nullable=False),
        sa.Column("device", TEXT, nullable=False),
        sa.Column("made_at", sa.BigInteger(), nullable=False),
        sa.Column("last_seen", sa.BigInteger(), nullable=False),
        sa.Column("until", sa.BigInteger(), nullable=False),
        sa.Column("revoked_at", sa.BigInteger(), nullable=True),
        sa.Column("agent", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["person"], ["person.id"], name=op.f("fk_session_person_person")),
        sa.PrimaryKeyConstraint("token_sha256", name=op.f("pk_session")),
    )
    op.create_index(op.f("ix_session_device"), "session", ["device"])
    op.create_index(op.f("ix_session_person"), "session", ["person"])


def _make_api_token() -> None:
    op.create_table(
        "api_token",
        sa.Column("id", TEXT, nullable=False),
        sa.Column("token_sha256", TEXT, nullable=False),
        sa.Column("name", TEXT, nullable=False),
        sa.Column("person", TEXT, nullable=False),
        sa.Column("scope", TEXT, nullable=False),
        sa.Column("made_at", sa.BigInteger(), nullable=False),
        sa.Column("until", sa.BigInteger(), nullable=True),
        sa.Column("last_used", sa.BigInteger(), nullable=True),
        sa.Column("revoked_at", sa.BigInteger(), nullable=True),
        sa.ForeignKeyConstraint(["person"], ["person.id"], name=op.f("fk_api_token_person_person")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_api_token")),
        sa.UniqueConstraint("token_sha256", name=op.f("uq_api_token_token_sha256")),
    )
    op.create_index(op.f("ix_api_token_person"), "api_token", ["person"])


def _make_sign_in_try() -> None:
    op.create_table(
        "sign_in_try",
        sa.Column("who_sha256", TEXT, nullable=False),
        sa.Column("failures", sa.Integer(), nullable=False),
        sa.Column("last_at", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("who_sha256", name=op.f("pk_sign_in_try")),
    )
    op.create_index(op.f("ix_sign_in_try_last_at"), "sign_in_try", ["last_at"])


TABLES = {
    "person": _make_person,
    "invitation": _make_invitation,
    "session": _make_session,
    "api_token": _make_api_token,
    "sign_in_try": _make_sign_in_try,
}
"""How each is made, in an order in which they can be."""
