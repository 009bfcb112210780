"""The other face of `tracker.domain.rule.covered`: the same question, asked of many rolls in SQL.

A lost drive or another rule touches a hundred thousand copies; they are judged by one statement,
not by folding. That both faces agree is tested, not hoped.
"""

from __future__ import annotations

from typing import Any

from sqlalchemy import (
    ColumnElement,
    Connection,
    and_,
    case,
    distinct,
    exists,
    false,
    func,
    literal,
    not_,
    or_,
    select,
    true,
    update,
)
from sqlalchemy.orm import aliased

from tracker.domain.rule import RANK, BackupRule, RuleBook
from tracker.store.tables import Copy, Drive, Roll


def refresh(
    conn: Connection, rules: RuleBook, which: ColumnElement[bool] | None = None
) -> set[str]:
    """Judge rolls anew (all, or some); gives the ids of the cards of those that changed.

    Mirrors go after the main rolls that they hang on.
    """
    wanted = true() if which is None else which
    changed: set[str] = set()
    for mirror in (False, True):
        now = _covered(rules, mirror=mirror)
        some = and_(_is_mirror(mirror=mirror), Roll.covered.is_distinct_from(now))
        some = some if mirror else and_(some, wanted)
        changed.update(conn.scalars(select(Roll.card).where(some).distinct()))
        if changed:
            conn.execute(update(Roll).where(some).values(covered=now))
    return changed


def _is_mirror(*, mirror: bool) -> ColumnElement[bool]:
    return Roll.loaded_as == "mirror" if mirror else Roll.loaded_as != "mirror"


def _covered(rules: RuleBook, *, mirror: bool) -> ColumnElement[bool]:
    main = aliased(Roll)
    by_main = exists().where(main.id == Roll.main, main.covered) if mirror else false()
    return case(
        (not_(Roll.closed), false()),
        (not_(Roll.owes), true()),
        (func.coalesce(Roll.verdict, "") == "bad", false()),
        (by_main, true()),
        else_=_meets(rules.main, rules.proxy),
    )


def _meets(main: BackupRule, proxy: BackupRule) -> ColumnElement[bool]:
    """Whether copies that count, and what post said, are enough.

    A wiped roll is judged by the rule that was in force when it was wiped.
    """

    def rule(kept: ColumnElement[Any], of_main: int, of_proxy: int) -> ColumnElement[int]:
        now = case((Roll.loaded_as == "proxy", literal(of_proxy)), else_=literal(of_main))
        return func.coalesce(kept, now)

    copies = rule(Roll.needs_copies.expression, main.copies, proxy.copies)
    level = rule(Roll.needs_rank.expression, RANK[main.level], RANK[proxy.level])
    kinds = rule(Roll.needs_kinds.expression, main.kinds, proxy.kinds)
    off_site = rule(Roll.needs_off_site.expression, main.off_site, proxy.off_site)
    by_post = case((Roll.loaded_as == "proxy", literal(proxy.receipt)), else_=main.receipt)
    receipt = func.coalesce(Roll.needs_receipt, by_post)

    def count(what: ColumnElement[Any]) -> ColumnElement[int]:
        counted = (
            select(func.count(distinct(what)))
            .select_from(Copy)
            .join(Drive, Drive.label == Copy.drive)
            .where(
                Copy.roll == Roll.id,
                Copy.sound,
                Copy.rank >= level,
                Drive.usable,
                or_(Drive.emptied.is_(None), Copy.finished > Drive.emptied),
            )
        )
        return counted.correlate(Roll).scalar_subquery()

    away = case((Drive.place == "off site", Drive.enclosure))
    return and_(
        or_(not_(receipt), func.coalesce(Roll.verdict, "") == "good"),
        count(Drive.enclosure.expression) >= copies,
        count(Drive.kind.expression) >= kinds,
        count(away) >= off_site,
    )
