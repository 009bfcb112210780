"""What happens to a drive, and which drives take today's copies."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, delete, insert, select

from tracker.domain.drives import DriveState
from tracker.domain.errors import CardwrightError, UnknownLabel
from tracker.domain.facts import END, DriveKind, DrivePlace
from tracker.services.acts import act, looking_first, obj, what_if
from tracker.services.logging import Logged
from tracker.services.service import Service, Who
from tracker.store import tables as t


def register_drive(
    service: Service,
    who: Who,
    drive: str,
    kind: DriveKind,
    capacity_bytes: int,
    place: DrivePlace,
    *,
    at: datetime | None = None,
    tap: str | None = None,
    **more: Any,
) -> Logged:
    """A drive takes copies. more: the other fields of `drive_registered`."""
    return act(
        service, who, "drive_registered", at, tap, drive=drive, kind=kind,
        capacity_bytes=capacity_bytes, place=place, **more,
    )  # fmt: skip


def move_drive(
    service: Service,
    who: Who,
    drive: str,
    place: DrivePlace,
    *,
    holder: str | None = None,
    seal: str | None = None,
    text: str | None = None,
    at: datetime | None = None,
    tap: str | None = None,
) -> Logged:
    """The drive is somewhere else: `in transit` until somebody says that it arrived."""
    return act(
        service, who, "drive_moved", at, tap, drive=drive, place=place, holder=holder,
        seal=seal, text=text,
    )  # fmt: skip


def would_fall_below(service: Service, drive: str) -> list[str]:
    """The names of the rolls that fall below the backup rule if a drive is emptied, or goes.

    To be asked before `empty_drive`. Errors: UnknownLabel.
    """
    return what_if(service, obj("drive_emptied", drive=drive))[0]


def empty_drive(
    service: Service,
    who: Who,
    drive: str,
    *,
    text: str | None = None,
    at: datetime | None = None,
    tap: str | None = None,
) -> Logged:
    """Everything on the drive is gone."""
    return act(service, who, "drive_emptied", at, tap, drive=drive, text=text)


def fail_drive(
    service: Service,
    who: Who,
    drive: str,
    *,
    text: str | None = None,
    at: datetime | None = None,
    tap: str | None = None,
) -> Logged:
    """The drive does not work."""
    return act(service, who, "drive_failed", at, tap, drive=drive, text=text)


def lose_drive(
    service: Service,
    who: Who,
    drive: str,
    *,
    text: str | None = None,
    at: datetime | None = None,
    tap: str | None = None,
) -> Logged:
    """Nobody knows where the drive is."""
    return act(service, who, "drive_lost", at, tap, drive=drive, text=text)


def find_drive(
    service: Service,
    who: Who,
    drive: str,
    *,
    text: str | None = None,
    at: datetime | None = None,
    tap: str | None = None,
) -> Logged:
    """A lost drive is back, with what is on it."""
    return act(service, who, "drive_found", at, tap, drive=drive, text=text)


def give_back_drive(
    service: Service,
    who: Who,
    drive: str,
    *,
    text: str | None = None,
    at: datetime | None = None,
    tap: str | None = None,
) -> Logged:
    """The drive went back, and its copies with it."""
    return act(service, who, "drive_returned", at, tap, drive=drive, text=text)


class NotForToday(CardwrightError):
    """Drives that were to take today's copies, and cannot. says: of each, why not."""

    def __init__(self, says: Sequence[str]) -> None:
        super().__init__(
            f"{' and '.join(says)}: today's copies cannot go there. Nothing was changed: "
            "choose other drives, or say first on the page of the drive that it is back."
        )


def set_todays_drives(
    service: Service, who: Who, drives: Sequence[str], *, at: datetime | None = None
) -> None:
    """Today's copies go to these drives, in place of those set before.

    Errors: UnknownLabel; NotForToday for one that is lost, failed or returned.
    """
    when = at or service.clock()
    with looking_first(service) as conn:
        known = service.around(conn).context.drives
        for drive in drives:
            if drive not in known:
                raise UnknownLabel("drive", drive, known)
        gone = [f"{drive} {why}" for drive in drives if (why := known[drive].at(END).why_not)]
        if gone:
            raise NotForToday(gone)
        conn.execute(delete(t.TodaysDrive))
        for drive in dict.fromkeys(drives):
            conn.execute(insert(t.TodaysDrive).values(drive=drive, set_at=when))


def todays_drives(service: Service) -> list[str]:
    """The labels of the drives to which today's copies go: of those set, the usable ones."""
    with service.store.reading() as conn:
        return drives_of_today(conn)


def todays_drives_gone(service: Service) -> list[str]:
    """Of the drives set for today, those to which no copy can go: "RAID is lost"."""
    with service.store.reading() as conn:
        return gone_of_today(conn)


def drives_of_today(conn: Connection) -> list[str]:
    """As `todays_drives`, in a transaction that is open already."""
    return [drive for drive, why in _set_for_today(conn) if not why]


def gone_of_today(conn: Connection) -> list[str]:
    """As `todays_drives_gone`, in a transaction that is open already."""
    return [f"{drive} {why}" for drive, why in _set_for_today(conn) if why]


def _set_for_today(conn: Connection) -> list[tuple[str, str]]:
    """The drives set for today, each with why it cannot be used; "" if it can."""
    asked = (
        select(t.Drive.label, t.Drive.place, t.Drive.failed, t.Drive.lost, t.Drive.returned)
        .join(t.TodaysDrive, t.TodaysDrive.drive == t.Drive.label)
        .order_by(t.Drive.label)
    )
    return [
        (
            row.label,
            DriveState(row.place, failed=row.failed, lost=row.lost, returned=row.returned).why_not,
        )
        for row in conn.execute(asked)
    ]
