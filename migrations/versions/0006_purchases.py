"""What was bought and rented: purchases with their versions, what came and went, budgets.

Going down drops all of it: export the list of purchases first.
"""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None

TEXT = sa.String().with_variant(sa.String(collation="C"), "postgresql")
"""Text that sorts by its code points on both databases."""

BIG, SMALL = sa.BigInteger(), sa.Integer()
TO_PURCHASE = ("purchase", "purchase")


def upgrade() -> None:
    """Make the tables."""
    _table(
        "purchase",
        [_set("id"), _set("version", SMALL), _set("order_number"), _set("item"), _set("kind")],
        [_set("terms"), _set("vendor"), _set("quantity", BIG), _set("unit_price", BIG)],
        [_set("currency"), _set("ordered"), _may("capacity_bytes", BIG), _may("media")],
        [_may("due"), _may("warranty_until"), _may("return_by"), _may("lost_charge", BIG)],
        key=("id",),
        unique=("order_number", "item"),
    )
    _table(
        "purchase_version",
        [_set("purchase"), _key("version"), _set("made_at", BIG), _may("made_by")],
        [_set("said", sa.JSON())],
        key=("purchase", "version"),
        to=[TO_PURCHASE],
    )
    _table(
        "purchase_movement",
        [_set("id"), _set("purchase"), _set("what"), _set("day"), _set("quantity", BIG)],
        [_may("minor", BIG), _set("made_at", BIG), _may("made_by"), _may("withdrawn_at", BIG)],
        [_may("withdrawn_by")],
        key=("id",),
        to=[TO_PURCHASE],
    )
    op.create_index(op.f("ix_purchase_movement_purchase"), "purchase_movement", ["purchase"])
    _table(
        "purchase_budget",
        [_set("currency"), _key("version"), _set("minor", BIG), _set("made_at", BIG)],
        [_may("made_by")],
        key=("currency", "version"),
    )


def downgrade() -> None:
    """Drop them, those that point to others first."""
    for table in ("purchase_budget", "purchase_movement", "purchase_version", "purchase"):
        op.drop_table(table)


def _set(name: str, kind: sa.types.TypeEngine = TEXT) -> sa.Column:
    return sa.Column(name, kind, nullable=False)


def _may(name: str, kind: sa.types.TypeEngine = TEXT) -> sa.Column:
    return sa.Column(name, kind, nullable=True)


def _key(name: str) -> sa.Column:
    """A number that is part of a key, and that the database is not to make up."""
    return sa.Column(name, SMALL, nullable=False, autoincrement=False)


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
