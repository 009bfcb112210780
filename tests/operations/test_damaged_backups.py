"""A backup that is not whole is refused in one plain sentence, and nothing is changed by it."""

from __future__ import annotations

import hashlib
import io
import json
import os
import shutil
import zipfile
import zlib
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import text

from tests.services.harbour import Clock, begin
from tracker.cli.main import main
from tracker.operations.backup import back_up
from tracker.operations.errors import BadBackup
from tracker.operations.restore import restore, try_restoring
from tracker.services.service import Service
from tracker.store import migrate
from tracker.store.copying import as_one_file
from tracker.store.engine import open_store

MANIFEST, CHECKPOINT, DATABASE = "manifest.json", "checkpoint.json", "cardwright.db"


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory, sqlite_template: Path) -> Path:
    """A backup that nothing is wrong with."""
    folder = tmp_path_factory.mktemp("good")
    shutil.copy(sqlite_template, folder / DATABASE)
    store = open_store(folder / DATABASE)
    service = begin(store, Clock()).service
    made = back_up(service, folder / "good.zip")
    store.close()
    return made.file


Parts = dict[str, bytes]


def parts_of(file: Path) -> Parts:
    with zipfile.ZipFile(file) as read:
        return {name: read.read(name) for name in read.namelist()}


def written(parts: Parts, to: Path) -> Path:
    with zipfile.ZipFile(to, "w", zipfile.ZIP_DEFLATED) as file:
        for name, data in parts.items():
            file.writestr(name, data)
    return to


def said_anew(parts: Parts, **fields: Any) -> Parts:
    """The manifest with other fields, and the digests of the parts as they are now."""
    told = json.loads(parts[MANIFEST])
    told["parts"] = {
        name: {"bytes": len(data), "sha256": hashlib.sha256(data).hexdigest()}
        for name, data in parts.items()
        if name != MANIFEST
    }
    return {**parts, MANIFEST: json.dumps({**told, **fields}).encode()}


def without(parts: Parts, *names: str) -> Parts:
    return {name: data for name, data in parts.items() if name not in names}


def flipped(data: bytes, at: float) -> bytes:
    place = int(len(data) * at)
    return data[:place] + bytes([data[place] ^ 0x40]) + data[place + 1 :]


def flipped_inside(data: bytes) -> bytes:
    """A bit of the database itself flipped, one that matters.

    Not of what the ZIP says of it, such as its time; and in a run of zeros a bit of the packed
    form may be another one and say the same.
    """
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        part = archive.getinfo(DATABASE)
    middle = part.header_offset + 30 + len(DATABASE) + part.compress_size // 2
    for place in range(middle, middle + 1000):
        bad = data[:place] + bytes([data[place] ^ 0x40]) + data[place + 1 :]
        with zipfile.ZipFile(io.BytesIO(bad)) as archive:
            try:
                archive.read(DATABASE)
            except (zipfile.BadZipFile, zlib.error):
                return bad
    raise AssertionError("no bit of the database matters")


def rewritten(parts: Parts, tmp_path: Path, *statements: str) -> Parts:
    """The database changed by whoever also writes the manifest anew."""
    file = tmp_path / "changed.db"
    file.write_bytes(parts[DATABASE])
    with closing(open_store(file)) as store, store.writing() as conn:
        names = conn.scalars(text("SELECT name FROM sqlite_schema WHERE type = 'trigger'")).all()
        for statement in [*(f"DROP TRIGGER {name}" for name in names), *statements]:
            conn.execute(text(statement))
    as_one_file(file)
    return said_anew({**parts, DATABASE: file.read_bytes()})


Damage = Callable[[Path, Path], Path]


def raw(change: Callable[[bytes], bytes]) -> Damage:
    """The file itself, changed."""

    def damage(good: Path, tmp_path: Path) -> Path:
        file = tmp_path / "bad.zip"
        file.write_bytes(change(good.read_bytes()))
        return file

    return damage


def inside(change: Callable[[Parts], Parts]) -> Damage:
    """What is in it, changed, in a file that is a good ZIP."""
    return lambda good, tmp_path: written(change(parts_of(good)), tmp_path / "bad.zip")


def by_sql(*statements: str) -> Damage:
    return lambda good, tmp_path: written(
        rewritten(parts_of(good), tmp_path, *statements), tmp_path / "bad.zip"
    )


def manifest(**fields: Any) -> Damage:
    return inside(lambda parts: said_anew(parts, **fields))


def twice(good: Path, tmp_path: Path) -> Path:
    file = tmp_path / "bad.zip"
    shutil.copy(good, file)
    with pytest.warns(UserWarning, match="Duplicate"), zipfile.ZipFile(file, "a") as add:
        add.writestr(DATABASE, b"another")
    return file


def encrypted(data: bytes) -> bytes:
    """The mark of encryption, in each header of a member."""
    data = bytearray(data)
    for mark, offset in ((b"PK\x01\x02", 8), (b"PK\x03\x04", 6)):
        at = -1
        while (at := data.find(mark, at + 1)) >= 0:
            data[at + offset] |= 1
    return bytes(data)


def other_compression(data: bytes) -> bytes:
    data = bytearray(data)
    for mark, offset in ((b"PK\x01\x02", 10), (b"PK\x03\x04", 8)):
        at = -1
        while (at := data.find(mark, at + 1)) >= 0:
            data[at + offset : at + offset + 2] = b"\x63\x00"
    return bytes(data)


def a_page_of_it(parts: Parts) -> Parts:
    """A page in the middle overwritten, and everything said anew around it."""
    data = bytearray(parts[DATABASE])
    data[4096 * 5 : 4096 * 6] = b"\xab" * 4096
    return said_anew({**parts, DATABASE: bytes(data)})


NEWER = "install the version of Cardwright that made it, or a newer one"

DAMAGES: dict[str, tuple[Damage, str]] = {
    "nothing there": (lambda good, tmp: tmp / "none.zip", "there is no such file"),
    "a folder": (lambda good, tmp: tmp, "there is no such file"),
    "an empty file": (raw(lambda data: b""), "no backup, or one that was cut off"),
    "another file": (raw(lambda data: b"A001 is on the shelf. " * 99), "it is no backup"),
    "cut off": (raw(lambda data: data[: len(data) // 2]), "one that was cut off"),
    "its last bytes missing": (raw(lambda data: data[:-5]), "one that was cut off"),
    "its head missing": (raw(lambda data: data[100:]), "is damaged"),
    "a hole in the middle": (
        raw(lambda data: data[:9000] + b"\0" * 4096 + data[13096:]), f"{DATABASE} in it is damaged"
    ),
    "a bit flipped": (
        raw(flipped_inside), f"{DATABASE} in it is damaged"
    ),
    "encrypted": (raw(encrypted), f"{MANIFEST} in it is damaged"),
    "compressed by a way that nobody knows": (raw(other_compression), "in it is damaged"),
    "a ZIP of something else": (
        inside(lambda parts: {"notes.txt": b"A001"}), f"there is no {MANIFEST} in it"
    ),
    "no manifest": (inside(lambda p: without(p, MANIFEST)), f"there is no {MANIFEST} in it"),
    "no checkpoint": (inside(lambda p: without(p, CHECKPOINT)), f"{CHECKPOINT} is missing"),
    "no database": (inside(lambda p: without(p, DATABASE)), f"{DATABASE} is missing"),
    "the database twice": (twice, "it holds"),
    "something besides": (inside(lambda p: {**p, "../../evil": b""}), "it holds ../../evil"),
    "a manifest that is no JSON": (
        inside(lambda p: {**p, MANIFEST: b"\xff{"}), "its manifest cannot be read"
    ),
    "a manifest nested endlessly": (
        inside(lambda p: {**p, MANIFEST: b"[" * 100_000}), "its manifest cannot be read"
    ),
    "a manifest of something else": (manifest(what="a report"), "of something else"),
    "a manifest with a wrong type": (manifest(facts="many"), "its manifest cannot be read"),
    "a newer form": (manifest(format=2), f"a newer Cardwright made it (form 2); {NEWER}"),
    "a newer version": (manifest(revision="9999"), "revision 9999)"),
    "a kind of database that nobody knows": (
        manifest(database="parchment"), "a kind of database that is not known ('parchment')"
    ),
    "another number of facts": (manifest(facts=1), "are not of the same journal"),
    "another root": (manifest(root="00" * 32), "are not of the same journal"),
    "another revision": (manifest(revision="0001"), "not 0001"),
    "other counts": (
        inside(lambda p: said_anew(p, counts={**json.loads(p[MANIFEST])["counts"], "card": 7})),
        "it has not as many rows as its manifest says, in card",
    ),
    "a table less": (by_sql("DROP TABLE photo"), "as its manifest says, in photo"),
    "a checkpoint that was edited": (
        inside(lambda p: said_anew({**p, CHECKPOINT: p[CHECKPOINT].replace(b'"RAID', b'"VAULT')
                                    .replace(b"drive/RAID", b"drive/RAIL")})),
        "its root is not the root of its heads",
    ),
    "the database exchanged": (
        inside(lambda p: {**p, DATABASE: p[DATABASE][::-1]}), "is not what its manifest says"
    ),
    "the database longer": (
        inside(lambda p: {**p, DATABASE: p[DATABASE] + b"x"}), "is not what its manifest says"
    ),
    "no database in its file": (
        inside(lambda p: said_anew({**p, DATABASE: b"A001" * 3000})), "file is not a database"
    ),
    "an empty database": (
        inside(lambda p: said_anew({**p, DATABASE: b""})), "there is no production in it"
    ),
    "a damaged page": (inside(a_page_of_it), "cannot use"),
    "a fact edited": (
        by_sql("UPDATE journal SET body = replace(body, 'RAID', 'RAIL') WHERE seq = 1"),
        "its journal is not whole",
    ),
    "a fact left out": (by_sql("DELETE FROM journal WHERE seq = 2"), "its journal is not whole"),
    "a chain cut off, with its head": (
        by_sql("DELETE FROM journal WHERE subject = 'drive/RAID'",
               "DELETE FROM chain WHERE subject = 'drive/RAID'"),
        "its journal is not the one that its checkpoint is of",
    ),
    "another name of the production": (
        by_sql("UPDATE production SET name = 'Another'"),
        "its journal is not the one that its checkpoint is of",
    ),
}  # fmt: skip


@pytest.fixture
def data(tmp_path: Path, sqlite_template: Path) -> Path:
    """The folder of a production that is in use."""
    folder = tmp_path / "data"
    folder.mkdir()
    shutil.copy(sqlite_template, folder / DATABASE)
    store = open_store(folder / DATABASE)
    begin(store, Clock())
    store.close()
    return folder


@pytest.mark.parametrize("kind", DAMAGES)
def test_a_damaged_backup_is_refused(
    good: Path, data: Path, tmp_path: Path, kind: str, capsys: pytest.CaptureFixture[str]
) -> None:
    damage, said = DAMAGES[kind]
    scratch = tmp_path / "bad"
    scratch.mkdir()
    bad = damage(good, scratch)
    before = (data / DATABASE).read_bytes()
    with pytest.raises(SystemExit) as left:
        main(["restore", str(bad), "--data", str(data)])
    told = capsys.readouterr()
    assert left.value.code == 3
    assert told.out == ""
    assert told.err.startswith(f"cannot use {bad}: ")
    assert said in told.err
    assert told.err.count("\n") == 1
    assert "Traceback" not in told.err
    assert (data / DATABASE).read_bytes() == before
    assert {file.name for file in data.iterdir()} <= {DATABASE, f"{DATABASE}.lock"}


def test_there_are_more_than_twenty_kinds() -> None:
    assert len(DAMAGES) > 20


def test_the_good_one_is_taken(good: Path, data: Path) -> None:
    assert restore(data / DATABASE, good).kept is not None


def test_one_that_this_user_may_not_read(good: Path, tmp_path: Path) -> None:
    file = tmp_path / "closed.zip"
    shutil.copy(good, file)
    file.chmod(0)
    if os.geteuid() == 0:
        tmp_path.chmod(0o755)
        file = Path(shutil.copy(good, f"/tmp/closed-{os.getpid()}.zip"))
        file.chmod(0)
        os.seteuid(65534)
    try:
        with pytest.raises(BadBackup, match="this user may not read it"):
            restore(tmp_path / DATABASE, file)
    finally:
        if os.getuid() == 0:
            os.seteuid(0)
        file.unlink()


@pytest.mark.parametrize("at", [n / 40 for n in range(40)])
def test_a_bit_flipped_anywhere_is_refused_or_of_no_account(
    good: Path, tmp_path: Path, at: float
) -> None:
    """What a ZIP says twice, or of times and attributes, may change without harm."""
    bad = raw(lambda data: flipped(data, at))(good, tmp_path)
    place = tmp_path / "new" / DATABASE
    try:
        restore(place, bad)
    except BadBackup:
        assert not place.exists()
    else:
        with closing(open_store(place)) as store:
            assert migrate.is_current(store)
            assert try_restoring(Service(store), place, good)


def test_a_backup_of_the_other_database(good: Path, postgres_url: Callable[..., str]) -> None:
    with pytest.raises(BadBackup, match="it is of a SQLite file, and this data is in PostgreSQL"):
        restore(postgres_url(migrated=False), good)
