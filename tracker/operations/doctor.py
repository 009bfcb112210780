"""The doctor: what keeps the data safe, looked at one by one, each with what to do.

It changes nothing. A check gives a finding, and never raises; what it cannot tell it calls unknown.
"""

from __future__ import annotations

import os
import stat
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Literal

from sqlalchemy import func, select

from tracker.config import Settings
from tracker.operations import upgrade
from tracker.operations.files import free_bytes, same_disk, size_of
from tracker.operations.holding import file_of
from tracker.operations.notes import last
from tracker.operations.postgres import missing_tools
from tracker.store import migrate
from tracker.store import tables as t
from tracker.store.engine import NETWORK_FILE_SYSTEMS, CannotOpen, Store, file_system_of, open_store

Verdict = Literal["fine", "warning", "danger", "unknown"]

BACKUP_EVERY = timedelta(days=1)
TEST_EVERY = timedelta(days=7)
LATE = 1.5
"""A backup that is made every evening is some hours late now and then: no warning for that."""

LITTLE_BYTES = 1_000_000_000
LEAST_BYTES = 100_000_000
TRIFLE = timedelta(seconds=2)
FAR_AHEAD = timedelta(days=30)


@dataclass(frozen=True, slots=True)
class Check:
    """What was looked at, what was found, and what to do; nothing where it is fine."""

    name: str
    verdict: Verdict
    says: str
    to_do: str = ""


@dataclass(frozen=True, slots=True)
class Patient:
    """What is looked at. store: None where it could not be opened, and why."""

    settings: Settings
    now: datetime
    store: Store | None
    refused: CannotOpen | None

    @property
    def file(self) -> Path | None:
        """The SQLite file."""
        return file_of(self.settings.address)

    @property
    def folder(self) -> Path:
        """Where the data lies, or what belongs to it."""
        return self.settings.folder if self.file is None else self.file.parent


Look = Callable[[Patient], Check]


def examine(settings: Settings, now: datetime) -> list[Check]:
    """Every check, in order. now: aware."""
    store, refused = None, None
    file = file_of(settings.address)
    try:
        if file is None or file.exists():
            store = open_store(settings.address)
        else:
            refused = CannotOpen(file, "it is not there", "begin with `cardwright init`")
    except CannotOpen as error:
        refused = error
    patient = Patient(settings, now, store, refused)
    # Of what is not there nothing else can be said.
    looks = LOOKS if store is not None or file is None or file.exists() else (_database,)
    try:
        return [_looked(look, patient) for look in looks]
    finally:
        if store is not None:
            store.close()


def _looked(look: Look, patient: Patient) -> Check:
    try:
        return look(patient)
    except Exception as error:
        # A doctor who falls ill helps nobody: the other checks go on.
        said = " ".join(str(error).split())[:200]
        name = look.__name__.lstrip("_").replace("_", " ")
        return Check(name, "unknown", f"It could not be looked at: {said}.", "Run `audit`.")


def _database(patient: Patient) -> Check:
    if patient.store is None:
        assert patient.refused is not None
        found, advice = patient.refused.found, patient.refused.advice
        return Check("database", "danger", f"It cannot be opened: {found}.", _sentence(advice))
    return Check("database", "fine", patient.store.library)


def _version(patient: Patient) -> Check:
    if patient.store is None:
        return _not_opened("version")
    if not upgrade.has_production(patient.store):
        return Check(
            "version", "danger", "There is no production in it.", "Begin with `cardwright init`."
        )
    if upgrade.is_needed(patient.store):
        found = migrate.current(patient.store)
        says = f"The data is of an older version (revision {found})."
        return Check("version", "warning", says, "Run `cardwright upgrade --check`.")
    return Check("version", "fine", "The data is of this version.")


def _file_system(patient: Patient) -> Check:
    if patient.file is None:
        return Check("file system", "fine", "The database is on a server of its own.")
    kind = file_system_of(patient.folder.resolve())
    if kind is None:
        says = "This system does not say on what kind of disk the data lies."
        return Check("file system", "unknown", says, "See that it is a disk of this computer.")
    if kind.removeprefix("fuse.").split("-")[0] in NETWORK_FILE_SYSTEMS:
        says = f"The data lies on a network file system ({kind}), whose locks do not keep it safe."
        return Check("file system", "danger", says, "Move it to a disk of this computer.")
    return Check("file system", "fine", f"A disk of this computer ({kind}).")


def _permissions(patient: Patient) -> Check:
    if os.name == "nt":
        return Check("permissions", "unknown", "They are not looked at on Windows.")
    folder, file = patient.folder, patient.file
    if not os.access(folder, os.W_OK):
        says = f"This user may not write into {folder}."
        return Check("permissions", "danger", says, "Let this user write there.")
    places = [folder] if file is None or not file.exists() else [folder, file]
    open_to = [one for one in places if one.stat().st_mode & (stat.S_IWOTH | stat.S_IROTH)]
    writable = [one for one in open_to if one.stat().st_mode & stat.S_IWOTH]
    if writable:
        says = f"Every user of this computer may write to {writable[0]}."
        return Check("permissions", "danger", says, f"Run: chmod o-rwx {writable[0]}")
    if folder in open_to and (file is None or file in open_to):
        says = f"Every user of this computer may read {folder}: it holds people's names."
        return Check("permissions", "warning", says, f"Run: chmod o-rwx {folder}")
    return Check("permissions", "fine", "Only its own users may read and write the data.")


def _disk(patient: Patient) -> Check:
    free = free_bytes(patient.folder)
    size = 0 if patient.file is None else size_of(patient.file)
    says = f"{_size(free)} free where the data lies, which takes {_size(size)}."
    if free < max(LEAST_BYTES, size):
        return Check("disk", "danger", says, "Make room now: soon nothing can be logged.")
    if free < max(LITTLE_BYTES, 4 * size):
        return Check("disk", "warning", says, "Make room: an upgrade needs thrice that size.")
    return Check("disk", "fine", says)


def _clock(patient: Patient) -> Check:
    if patient.store is None:
        return _not_opened("clock")
    with patient.store.reading() as conn:
        micros = conn.scalar(select(func.max(t.Entry.logged_at)))
    if micros is None:
        return Check("clock", "unknown", "Nothing was logged yet that it could be held against.")
    ahead = micros - patient.now
    if ahead > TRIFLE:
        says = f"This computer's clock is {_span(ahead)} behind the last fact that was logged."
        return Check("clock", "danger", says, "Set the clock; what is logged till then is late.")
    if -ahead > FAR_AHEAD:
        says = f"The last fact was logged {_span(-ahead)} ago, by this computer's clock."
        return Check("clock", "warning", says, "If that is not so, set the clock.")
    here = f"{patient.now.astimezone(UTC):%Y-%m-%d %H:%M} UTC"
    return Check("clock", "fine", f"It says {here}, after the last fact that was logged.")


def _last_backup(patient: Patient) -> Check:
    note = last(patient.settings.folder, "backup")
    to_do = "Run `cardwright backup`, onto another disk."
    if note is None:
        return Check("last backup", "danger", "No backup is known of.", to_do)
    says = f"{_span(patient.now - note.at)} ago, {note.says}: {note.file}."
    if not Path(note.file).is_file():
        # It may well be on a disk that lies in a safe.
        says = f"{says} It is not there now."
    elif same_disk(Path(note.file), patient.folder):
        says = f"{says} It lies on the same disk as the data."
        return Check("last backup", "warning", says, "Copy it to another disk.")
    if patient.now - note.at > BACKUP_EVERY * LATE:
        return Check("last backup", "warning", says, to_do)
    return Check("last backup", "fine", says)


def _last_restore_test(patient: Patient) -> Check:
    name, folder = "last restore test", patient.settings.folder
    good, bad = last(folder, "restore-test"), last(folder, "restore-test", fine=False)
    to_do = "Run `cardwright restore-test`."
    if bad is not None and (good is None or bad.at > good.at):
        says = f"{_span(patient.now - bad.at)} ago it failed: {bad.says}."
        return Check(name, "danger", says, "Make a new backup, and try that.")
    if good is None:
        return Check(name, "warning", "No backup was ever tried.", to_do)
    says = f"{_span(patient.now - good.at)} ago, {good.file} could be restored."
    if patient.now - good.at > TEST_EVERY * LATE:
        return Check(name, "warning", says, to_do)
    return Check(name, "fine", says)


def _tools(patient: Patient) -> Check:
    if patient.file is not None:
        return Check("tools", "fine", "Backups need no other program.")
    missing = missing_tools()
    if missing:
        says = f"Backups of PostgreSQL need {' and '.join(missing)}, not found on PATH."
        return Check("tools", "danger", says, "Install PostgreSQL's client programs.")
    return Check("tools", "fine", "PostgreSQL's client programs are there.")


LOOKS: tuple[Look, ...] = (
    _database,
    _version,
    _file_system,
    _permissions,
    _disk,
    _clock,
    _tools,
    _last_backup,
    _last_restore_test,
)


def _not_opened(name: str) -> Check:
    return Check(name, "unknown", "The database could not be opened.")


def _sentence(words: str) -> str:
    return words[:1].upper() + words[1:] + ("" if words.endswith(".") else ".")


def _size(count: int) -> str:
    return f"{count / 1e9:,.1f} GB" if count >= 1e9 else f"{count / 1e6:,.1f} MB"


def _span(length: timedelta) -> str:
    """A length of time in its largest whole unit."""
    seconds = int(abs(length.total_seconds()))
    for unit, size in (("day", 86_400), ("hour", 3600), ("minute", 60), ("second", 1)):
        count = seconds // size
        if count:
            return f"{count} {unit}{'' if count == 1 else 's'}"
    return "a moment"
