"""A backup as one file: a ZIP with a manifest, a checkpoint, and the database."""

from __future__ import annotations

import hashlib
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import IO

from tracker.operations.errors import BadBackup
from tracker.operations.files import sync
from tracker.operations.manifest import Manifest, Part, read_manifest, written
from tracker.wire.checkpoint import Checkpoint, NoCheckpoint, read_checkpoint
from tracker.wire.checkpoint import written as checkpoint_written

MANIFEST = "manifest.json"
CHECKPOINT = "checkpoint.json"
DATABASES = {"sqlite": "cardwright.db", "postgresql": "cardwright.dump"}
LARGEST_TEXT_BYTES = 256 * 1024 * 1024
PIECE = 1 << 20
# All that the library is known to raise for a damaged file.
DAMAGE = (
    zipfile.BadZipFile, zlib.error, EOFError, OSError, NotImplementedError, RuntimeError,
    ValueError, OverflowError,
)  # fmt: skip


def pack(to: Path, manifest: Manifest, checkpoint: Checkpoint, database: Path) -> Manifest:
    """Write a backup into a new file, and sync it; the manifest with its parts. Errors: OSError."""
    said = checkpoint_written(checkpoint)
    name = DATABASES[manifest.database]
    parts = {
        name: Part(database.stat().st_size, sha256_of(database)),
        CHECKPOINT: Part(len(said), hashlib.sha256(said).hexdigest()),
    }
    manifest = replace(manifest, parts=parts)
    with zipfile.ZipFile(to, "x", zipfile.ZIP_DEFLATED, compresslevel=1) as file:
        file.writestr(MANIFEST, written(manifest))
        file.writestr(CHECKPOINT, said)
        file.write(database, name)
    # Passphrases and tokens stand in it as digests only; names of people stand in it as they are.
    to.chmod(0o600)
    sync(to)
    return manifest


def sha256_of(file: Path) -> str:
    """The SHA-256 of a file, in hexadecimal."""
    with file.open("rb") as read:
        return hashlib.file_digest(read, "sha256").hexdigest()


class Backup:
    """An open backup, of which the manifest and the checkpoint were read and agree."""

    def __init__(self, name: Path, file: zipfile.ZipFile) -> None:
        self.name = name
        self._file = file
        self.manifest = read_manifest(self._text(MANIFEST), name)
        self._see_parts()
        try:
            self.checkpoint = read_checkpoint(self._checked(CHECKPOINT), CHECKPOINT)
        except NoCheckpoint as error:
            raise BadBackup(name, str(error).removesuffix("; take another")) from None
        of = (self.checkpoint.root, self.checkpoint.origin, self.checkpoint.facts)
        if of != (self.manifest.root, self.manifest.origin, self.manifest.facts):
            raise BadBackup(name, "its manifest and its checkpoint are not of the same journal")

    @property
    def database_bytes(self) -> int:
        """The size of its database, unpacked."""
        return self.manifest.parts[DATABASES[self.manifest.database]].bytes

    def unpack(self, to: Path) -> None:
        """Write its database into a new file, comparing it on the way. Errors: BadBackup, OSError.

        An OSError is about the new file.
        """
        name = DATABASES[self.manifest.database]
        with to.open("xb") as out:
            for piece in self._pieces(name, self.manifest.parts[name]):
                out.write(piece)
        sync(to)

    def look_through(self) -> None:
        """Read its database as `unpack` does, and write nothing. Errors: BadBackup."""
        name = DATABASES[self.manifest.database]
        for _ in self._pieces(name, self.manifest.parts[name]):
            pass

    def _see_parts(self) -> None:
        """The parts that must be there, each once, and none besides."""
        database = DATABASES.get(self.manifest.database)
        if database is None:
            found = f"it is of a kind of database that is not known ({self.manifest.database!r})"
            raise BadBackup(self.name, found)
        wanted = {CHECKPOINT, database}
        there = sorted(self._file.namelist())
        if self.manifest.parts.keys() != wanted or there != sorted({MANIFEST, *wanted}):
            lacks = ", ".join(sorted(wanted - {*there})) or "nothing"
            raise BadBackup(self.name, f"it holds {', '.join(there)}; {lacks} is missing")

    def _text(self, part: str) -> bytes:
        try:
            with self._file.open(part) as read:
                return read.read(LARGEST_TEXT_BYTES)
        except KeyError:
            raise BadBackup(self.name, f"there is no {part} in it") from None
        except DAMAGE as error:
            raise _damaged(self.name, part, error) from None

    def _checked(self, part: str) -> bytes:
        return b"".join(self._pieces(part, self.manifest.parts[part]))

    def _pieces(self, part: str, expected: Part) -> Iterator[bytes]:
        """A part in pieces; the last one is given only when all agreed."""
        digest, size, last = hashlib.sha256(), 0, b""
        try:
            with self._file.open(part) as read:
                for piece in _read(read):
                    yield last
                    digest.update(piece)
                    size, last = size + len(piece), piece
                    if size > expected.bytes:
                        break
        except DAMAGE as error:
            raise _damaged(self.name, part, error) from None
        if (size, digest.hexdigest()) != (expected.bytes, expected.sha256):
            found = f"{part} in it is not what its manifest says: it was changed"
            raise BadBackup(self.name, found)
        yield last


def _read(file: IO[bytes]) -> Iterator[bytes]:
    while piece := file.read(PIECE):
        yield piece


def _damaged(name: Path, part: str, error: Exception) -> BadBackup:
    said = " ".join(str(error).split()) or "it ends too early"
    return BadBackup(name, f"{part} in it is damaged ({said})")


@contextmanager
def open_backup(name: Path) -> Iterator[Backup]:
    """The backup in a file. Errors: BadBackup."""
    if not name.is_file():
        raise BadBackup(name, "there is no such file", "give the file that `backup` made")
    try:
        file = zipfile.ZipFile(name)
    except PermissionError:
        raise BadBackup(name, "this user may not read it", "let this user read it") from None
    except DAMAGE:
        found = "it is no backup, or one that was cut off"
        raise BadBackup(name, found) from None
    with file:
        yield Backup(name, file)
