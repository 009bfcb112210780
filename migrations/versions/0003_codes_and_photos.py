"""Short codes of cards and drives, photographs of damage, and the production's tape rule."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

TEXT = sa.String().with_variant(sa.String(collation="C"), "postgresql")
"""Text that sorts by its code points on both databases."""


def upgrade() -> None:
    """Make the tables, and the column."""
    op.add_column("production", sa.Column("tape_rule", sa.Text(), nullable=True))
    op.create_table(
        "short_code",
        sa.Column("number", sa.Integer(), nullable=False, autoincrement=False),
        sa.Column("subject", TEXT, nullable=False),
        sa.PrimaryKeyConstraint("number", name=op.f("pk_short_code")),
        sa.UniqueConstraint("subject", name=op.f("uq_short_code_subject")),
    )
    op.create_table(
        "photo",
        sa.Column("sha256", TEXT, nullable=False),
        sa.Column("content", sa.LargeBinary(), nullable=False),
        sa.Column("made_at", sa.BigInteger(), nullable=False),
        sa.Column("made_by", TEXT, nullable=True),
        sa.PrimaryKeyConstraint("sha256", name=op.f("pk_photo")),
    )


def downgrade() -> None:
    """Drop them."""
    op.drop_table("photo")
    op.drop_table("short_code")
    op.drop_column("production", "tape_rule")
