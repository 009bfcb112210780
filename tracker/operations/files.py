"""Files that must be on disk when we say so: synced, moved in one step, never written over."""

from __future__ import annotations

import os
import shutil
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import datetime
from pathlib import Path

from tracker.operations.errors import NoRoom

SPARE_BYTES = 64 * 1024 * 1024
"""Room that is left for whoever else writes to that disk."""

LEFT_BEHIND_S = 86_400


@contextmanager
def scratch(folder: Path, what: str) -> Iterator[Path]:
    """A folder for unfinished work on the disk of another one, removed afterwards.

    What a killed process left there more than a day ago is removed, too. Errors: OSError.
    """
    old = time.time() - LEFT_BEHIND_S
    for left in folder.glob(f".{what}-*"):
        if left.is_dir() and left.stat().st_mtime < old:
            shutil.rmtree(left, ignore_errors=True)
    with tempfile.TemporaryDirectory(dir=folder, prefix=f".{what}-") as name:
        yield Path(name)


def sync(path: Path) -> None:
    """Bring a file or a folder to the disk."""
    # Windows gives no folder to be synced; there a move is on disk by itself.
    if os.name == "nt" and path.is_dir():
        return
    # Windows syncs only what may be written.
    number = os.open(path, os.O_RDWR if os.name == "nt" else os.O_RDONLY)
    try:
        os.fsync(number)
    finally:
        os.close(number)


def put(made: Path, place: Path) -> None:
    """Move a finished file to a name that is free, in one step. Errors: FileExistsError, OSError.

    Both stand on the same disk.
    """
    sync(made)
    try:
        os.link(made, place)
    except FileExistsError:
        raise
    except OSError:
        # A disk without links, as FAT: what is there is looked at first.
        if place.exists():
            raise FileExistsError(place) from None
        made.rename(place)
    with suppress(FileNotFoundError):
        made.unlink()
    sync(place.parent)


def keep(old: Path, place: Path) -> None:
    """Give a file a second name, which stays when the first is replaced. Errors: OSError."""
    try:
        os.link(old, place)
    except FileExistsError:
        raise
    except OSError:
        with old.open("rb") as source, place.open("xb") as target:
            shutil.copyfileobj(source, target)
        shutil.copystat(old, place)
    sync(place)
    sync(place.parent)


def replace(made: Path, place: Path) -> None:
    """Put a finished file in the place of another, in one step."""
    sync(made)
    made.replace(place)
    sync(place.parent)


def free_name(folder: Path, stem: str, at: datetime, suffix: str) -> Path:
    """A name with the time in it that nothing has there."""
    base = f"{stem}-{at.astimezone():%Y%m%d-%H%M%S}"
    names = (base if n == 1 else f"{base}-{n}" for n in range(1, 1000))
    return next(p for name in names if not (p := folder / f"{name}{suffix}").exists())


def need_room(folder: Path, size: int) -> None:
    """See that so many bytes find room. Errors: NoRoom."""
    needed, free = size + SPARE_BYTES, free_bytes(folder)
    if free < needed:
        raise NoRoom(folder, needed, free)


def free_bytes(folder: Path) -> int:
    """How many bytes this user can still write there."""
    return shutil.disk_usage(folder).free


def same_disk(one: Path, other: Path) -> bool:
    """Whether two files or folders stand on the same disk. Errors: OSError."""
    return one.stat().st_dev == other.stat().st_dev


def size_of(file: Path) -> int:
    """Bytes of a SQLite file with what is not yet in it."""
    parts = (file, file.with_name(f"{file.name}-wal"))
    return sum(part.stat().st_size for part in parts if part.exists())
