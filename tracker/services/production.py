"""Setting a production up, and what is brought in from a crew's lists."""

from __future__ import annotations

import hashlib
import secrets
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import insert, select

from tracker.domain.facts import Fact
from tracker.domain.fold import FOLD_VERSION
from tracker.domain.rule import RECOMMENDED, BackupRule
from tracker.services.errors import NotSetUp
from tracker.services.logging import Logged, Said, log_history, log_live
from tracker.services.service import Service, new_id
from tracker.store import tables as t
from tracker.store.rows import table
from tracker.wire.codec import encode

LINK_HOLDS = timedelta(days=7)


@dataclass(frozen=True, slots=True)
class SetUp:
    """What came of setting up. token: the secret of the one-time link; it is shown once."""

    name: str
    token: str
    until: datetime


def set_up(
    service: Service,
    name: str,
    zone: ZoneInfo,
    day_starts: time,
    rule: BackupRule = RECOMMENDED,
) -> SetUp:
    """Make the production, with its first backup rule, and a link to set up its people.

    Errors: NotSetUp if there is one already.
    """
    now = service.clock()
    token = secrets.token_urlsafe(32)
    with service.store.writing() as conn:
        if conn.scalar(select(t.Production.id)) is not None:
            raise NotSetUp("There is a production here already. Use another folder.")
        conn.execute(
            insert(table(t.Production)).values(
                id=1,
                name=name,
                origin=new_id(),
                time_zone=str(zone),
                day_starts=f"{day_starts:%H:%M}",
                created_at=now,
                last_logged=now,
                context=0,
                fold_version=FOLD_VERSION,
            )
        )
        conn.execute(
            insert(table(t.SetupLink)).values(
                token_sha256=hashlib.sha256(token.encode()).hexdigest(),
                made_at=now,
                until=now + LINK_HOLDS,
                used_at=None,
            )
        )
    log_live(service, [rule_said(rule, now)])
    return SetUp(name, token, now + LINK_HOLDS)


def rule_said(rule: BackupRule, at: datetime) -> dict[str, Any]:
    """A backup rule as it goes on the wire."""
    return {
        "id": new_id(),
        "event": "rule_set",
        "occurred_at": at.isoformat(),
        "copies": rule.copies,
        "level": rule.level,
        "kinds": rule.kinds,
        "off_site": rule.off_site,
        "receipt": rule.receipt,
        "hold_days": rule.hold_days,
    }


def bring_in(service: Service, facts: list[Fact], file: str, *, dry_run: bool = False) -> Logged:
    """Take a crew's list of cards, cameras or drives; those that are known stay as they are."""
    said = [Said(encode(fact), file, line) for line, fact in enumerate(facts, 2)]
    return log_history(service, said, dry_run=dry_run)
