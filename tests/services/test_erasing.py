"""What somebody wrote about somebody goes for good, and everything else stays proved."""

from __future__ import annotations

import io
import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Connection, select, text
from sqlalchemy.exc import IntegrityError

from tests.services.harbour import KIM, LEE, Clock, Harbour, begin
from tracker.domain.sentences import sentence
from tracker.services import acts_back as back
from tracker.services import acts_card as cards
from tracker.services import acts_drive as drives
from tracker.services.auditing import rebuild
from tracker.services.erasing import CannotErase, erase
from tracker.services.errors import Conflict
from tracker.services.exporting import export
from tracker.services.logging import Said, log_history, log_live
from tracker.services.roles import ROLES, may
from tracker.services.service import Who, new_id
from tracker.store import migrate
from tracker.store import tables as t
from tracker.store.engine import Store
from tracker.wire.canonical import same_body

ADMIN = Who(by="ada")
SECRET = "Lee Marlowe-Quill dropped it"


def noted(harbour: Harbour, **more: Any) -> dict[str, Any]:
    at = harbour.clock.now.isoformat()
    obj = {"id": new_id(), "event": "noted", "card": "S-014", "text": SECRET}
    return {**obj, "occurred_at": at, **more}


def kept_anywhere(harbour: Harbour) -> list[str]:
    """The tables in which the words, or what tells them, can be found."""
    found = []
    with harbour.service.store.reading() as conn:
        for table in t.Base.metadata.sorted_tables:
            rows = [dict(row._mapping) for row in conn.execute(select(table))]
            if any(SECRET in repr(value) for row in rows for value in row.values()):
                found.append(table.name)
    return found


def test_words_go_and_the_fact_stays(harbour: Harbour) -> None:
    service = harbour.service
    given = cards.hand_over(service, KIM, ["S-014"], SECRET, "driver").new[0]
    assert set(kept_anywhere(harbour)) == {"words", "card"}
    before, count = harbour.card("S-014"), harbour.count()
    done = erase(service, ADMIN, given.id.upper(), "asked by the person")
    assert done.fields == ("to",)
    assert kept_anywhere(harbour) == []
    assert harbour.count() == count
    assert harbour.card("S-014").status == before.status
    assert "(erased)" in sentence(harbour.facts("S-014")[-1])
    assert harbour.agrees()
    assert rebuild(service) == []
    assert harbour.agrees()


def test_optional_words_leave_a_mark_too(harbour: Harbour) -> None:
    service = harbour.service
    found = log_live(service, [noted(harbour, event="found", place="van", tapped_by="Lee")]).new[0]
    assert erase(service, ADMIN, found.id, "asked").fields == ("place", "tapped_by", "text")
    fact: Any = harbour.facts("S-014")[-1]
    assert (fact.text, fact.place, fact.tapped_by) == ("(erased)",) * 3
    assert harbour.agrees()


def test_who_erased_it_when_and_why_is_kept_and_stays(harbour: Harbour) -> None:
    fact = log_live(harbour.service, [noted(harbour)]).new[0]
    erase(harbour.service, ADMIN, fact.id, "asked by the person")
    with harbour.service.store.reading() as conn:
        row = conn.execute(select(t.Words.__table__).where(t.Words.fact_id == fact.id)).one()
    assert (row.salt, row.said) == (None, None)
    assert (row.erased_by, row.erased_why) == ("ada", "asked by the person")
    assert row.erased_at == harbour.clock.now
    with pytest.raises(IntegrityError, match="only ever"), harbour.service.store.writing() as conn:
        conn.execute(text("UPDATE words SET erased_by = 'kim'"))


def test_the_words_of_a_drive_go_from_its_row(harbour: Harbour) -> None:
    service = harbour.service
    moved = drives.move_drive(service, KIM, "SHUTTLE", "in transit", holder=SECRET).new[0]
    assert set(kept_anywhere(harbour)) == {"words", "drive"}
    erase(service, ADMIN, moved.id, "asked")
    assert kept_anywhere(harbour) == []
    assert service.memory._kept is None
    with service.store.reading() as conn:
        holder = conn.scalar(select(t.Drive.holder).where(t.Drive.label == "SHUTTLE"))
    assert holder == "(erased)"
    assert harbour.agrees()


def test_the_words_of_a_card_that_is_registered_no_more(harbour: Harbour) -> None:
    service = harbour.service
    card = cards.register_card(service, KIM, "S-071", "CFast", 10**9, text=SECRET).new[0]
    back.take_back(service, KIM, card.id)
    erase(service, ADMIN, card.id, "asked")
    assert "S-071" not in harbour.labels()
    assert kept_anywhere(harbour) == []
    assert harbour.agrees()


def test_the_card_goes_on_from_what_is_left(harbour: Harbour) -> None:
    service = harbour.service
    damage = cards.note_damage(service, LEE, "S-014", "casing", 2, SECRET).new[0]
    erase(service, ADMIN, damage.id, "asked")
    cards.settle_damage(service, KIM, "S-014", damage.id, "looked at it")
    cards.note(service, LEE, "S-014", "after that")
    assert kept_anywhere(harbour) == []
    assert harbour.agrees()


def test_nothing_is_there_to_be_erased(harbour: Harbour) -> None:
    service = harbour.service
    fact = log_live(service, [noted(harbour)]).new[0]
    plain = cards.check_in(service, KIM, "S-015", "empty").new[0]
    unknown = new_id()
    erase(service, ADMIN, fact.id, "asked")
    for asked, why in ((fact.id, "erased already"), (plain.id, "no words"), (unknown, "no such")):
        with pytest.raises(CannotErase, match=why):
            erase(service, ADMIN, asked, "asked")
    with pytest.raises(CannotErase, match="say why"):
        erase(service, ADMIN, fact.id, " ")


# Nothing is left by which the words could be guessed


def test_the_digest_of_what_was_said_tells_nothing(harbour: Harbour) -> None:
    said = noted(harbour)
    twin = {**said, "card": "S-015", "id": new_id()}
    log_live(harbour.service, [said, twin])
    with harbour.service.store.reading() as conn:
        asked = select(t.Entry.fact_id, t.Entry.said, t.Words.salt).join(
            t.Words, t.Words.fact_id == t.Entry.fact_id
        )
        kept = conn.execute(asked).all()
    assert all(row.said.startswith("s:") and row.salt for row in kept)


def test_said_again_before_and_after_it_is_erased(harbour: Harbour) -> None:
    service, said = harbour.service, noted(harbour)
    other = {**said, "text": "another"}
    log_live(service, [said])
    assert log_live(service, [said]).again == [said["id"]]
    with pytest.raises(Conflict):
        log_live(service, [other])
    erase(service, ADMIN, said["id"], "asked")
    # Nobody can tell any more: it is taken for the same, and does not bring the words back.
    for again in (said, other):
        assert log_history(service, [Said(again)]).again == [said["id"]]
    assert kept_anywhere(harbour) == []


def test_older_digests_are_salted_by_the_upgrade(harbour: Harbour) -> None:
    service, said = harbour.service, noted(harbour)
    plain = {**noted(harbour), "event": "checked_in", "found": "empty"}
    del plain["text"]
    gone = noted(harbour)
    log_live(service, [said, plain, gone])
    erase(service, ADMIN, gone["id"], "asked")
    migrate.downgrade(service.store, "0003")
    with service.store.writing() as conn, unguarded(conn):
        for obj in (said, gone):
            change = text("UPDATE journal SET said = :said WHERE fact_id = :id")
            conn.execute(change, {"said": same_body(obj), "id": obj["id"]})
    migrate.upgrade(service.store)
    with service.store.reading() as conn:
        rows = conn.execute(select(t.Entry.fact_id, t.Entry.said))
        kept = {row.fact_id: row.said for row in rows}
    assert kept[said["id"]].startswith("s:")
    assert kept[plain["id"]] == same_body(plain)
    assert kept[gone["id"]] == "s:"
    assert log_live(service, [said, plain, gone]).new == []
    with pytest.raises(Conflict):
        log_live(service, [{**said, "text": "another"}])
    assert harbour.agrees()


@contextmanager
def unguarded(conn: Connection) -> Iterator[None]:
    """The journal may be changed in this block, as by the program of an older revision."""
    name = "journal_refuses_update"
    if conn.dialect.name == "postgresql":
        conn.execute(text(f"ALTER TABLE journal DISABLE TRIGGER {name}"))
        yield
        conn.execute(text(f"ALTER TABLE journal ENABLE TRIGGER {name}"))
        return
    made = conn.scalar(text("SELECT sql FROM sqlite_schema WHERE name = :name"), {"name": name})
    conn.execute(text(f"DROP TRIGGER {name}"))
    yield
    conn.exec_driver_sql(str(made))


def test_exports_have_a_mark_where_the_words_stood(harbour: Harbour) -> None:
    fact = log_live(harbour.service, [noted(harbour)]).new[0]
    erase(harbour.service, ADMIN, fact.id, "asked")
    out = io.BytesIO()
    export(harbour.service, out, chains=True)
    told = next(one for one in map(json.loads, out.getvalue().splitlines()) if one["id"] == fact.id)
    assert (told["text"], told.get("salt")) == ("(erased)", None)
    assert len(told["words"]) == 64


def test_the_files_of_sqlite_do_not_hold_the_words(new_store: Callable[..., Store]) -> None:
    harbour = begin(new_store("sqlite"), Clock())
    with harbour.service.store.reading() as conn:
        file = Path(conn.engine.url.database or "")
    fact = cards.hand_over(harbour.service, KIM, ["S-014"], SECRET, "driver").new[0]
    for _ in range(30):
        cards.note(harbour.service, LEE, "S-015", "pages move on")

    def found() -> list[str]:
        return [
            one.name
            for one in file.parent.glob(f"{file.name}*")
            if SECRET.encode() in one.read_bytes()
        ]

    assert found()
    erase(harbour.service, ADMIN, fact.id, "asked")
    assert found() == []


def test_an_administrator_erases(harbour: Harbour) -> None:
    assert [role for role in ROLES if may(role, "erase")] == ["administrator"]
