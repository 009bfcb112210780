"""Setting a production up, and what is brought in from a crew's lists."""

from __future__ import annotations

import hashlib
import secrets
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import Connection, insert, select, update

from tracker.domain.fold import FOLD_VERSION
from tracker.domain.rule import RECOMMENDED, BackupRule
from tracker.services.errors import NotSetUp
from tracker.services.logging import Logged, Said, log_history, log_live
from tracker.services.service import Service, new_id, production_row
from tracker.store import tables as t
from tracker.store.projection import read_state
from tracker.store.rows import table
from tracker.wire.codec import encode

LINK_HOLDS = timedelta(days=7)

TAPE_RULE = "Tape on: do not format. Whoever sees that a card may be formatted takes its tape off."
"""What the coloured tape means where a crew says nothing else; common practice, no source."""


@dataclass(frozen=True, slots=True)
class About:
    """What every page says of the production. last_logged: the time given to a fact last."""

    name: str
    zone: ZoneInfo
    day_starts: time
    tape_rule: str
    last_logged: datetime


def about(service: Service) -> About:
    """The production. Errors: NotSetUp."""
    with service.store.reading() as conn:
        row = production_row(conn)
    return About(
        row.name,
        ZoneInfo(row.time_zone),
        time.fromisoformat(row.day_starts),
        row.tape_rule or TAPE_RULE,
        row.last_logged,
    )


def backup_rule(service: Service) -> BackupRule:
    """The backup rule for main rolls, as it stands."""
    with service.store.reading() as conn:
        return service.around(conn).context.rules.main


def set_tape_rule(service: Service, says: str) -> None:
    """What the crew's coloured tape means, in its own words; nothing for what is usual."""
    with service.store.writing() as conn:
        conn.execute(update(t.Production).values(tape_rule=says.strip() or None))


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
    # In hexadecimal digits: it is typed on a command line too, where a dash begins an option.
    token = secrets.token_hex(32)
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
    log_live(service, [Said(rule_said(rule, now))])
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


def bring_in(service: Service, said: list[Said], *, dry_run: bool = False) -> Logged:
    """Take a crew's list of cards, cameras or drives; those that are known stay as they are.

    A list that says something else of a known card or drive is answered with a notice; a camera
    that is described otherwise than before is described anew.
    """
    with service.store.reading() as conn:
        known = _known(service, conn)
    fresh, notices, again = [], [], []
    for one in said:
        label = next(str(one.obj[w]) for w in ("card", "drive", "letters") if w in one.obj)
        before = known.get((one.obj["event"], label))
        other = [] if before is None else _otherwise(before, one.obj)
        if before is None or (other and "letters" in one.obj):
            fresh.append(Said({**one.obj, "id": new_id()}, one.file, one.line))
            continue
        again.append(one.obj["id"])
        if other:
            notices.append(f"{label} is registered already, with another {', '.join(other)}.")
    logged = log_history(service, fresh, dry_run=dry_run)
    logged.again += again
    logged.notices += notices
    return logged


def _known(service: Service, conn: Connection) -> dict[tuple[str, str], dict[str, Any]]:
    """What is described already: cards and drives by label, cameras by letters."""
    around = service.around(conn)
    states = [read_state(conn, card_id) for card_id in conn.scalars(select(t.Card.id)).all()]
    cards = [(s.label, s.registered) for s in states if s is not None and s.registered]
    return {
        **{("registered", label): encode(fact) for label, fact in cards},
        **{("camera_set", f.letters): encode(f) for f in around.cameras.values()},
        **{
            ("drive_registered", d.label): encode(d.registered)
            for d in around.context.drives.values()
        },
    }


def _otherwise(before: dict[str, Any], said: dict[str, Any]) -> list[str]:
    """The fields that are said otherwise than they are known."""
    said = {"slots": 1, **said} if "letters" in said else said
    apart = ("id", "occurred_at", "event", "card", "drive")
    words = [word for word in {**before, **said} if word not in apart]
    return sorted(word for word in words if before.get(word) != said.get(word))
