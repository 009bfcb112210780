"""What is taken along reads back to the very same facts."""

from __future__ import annotations

import hashlib
import io
import json
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import text

from tests.services.harbour import KIM, Harbour
from tracker.domain.errors import UnknownLabel
from tracker.domain.facts import Fact
from tracker.services import acts_card, acts_drive
from tracker.services.exporting import export
from tracker.services.logging import Said, log_history
from tracker.services.service import new_id
from tracker.store.bodies import commitment
from tracker.store.journal import every_fact
from tracker.wire.canonical import canonical
from tracker.wire.codec import decode_envelope, encode
from tracker.wire.jsonlines import read_json_facts
from tracker.wire.table import read_csv_facts

READ = {"jsonl": read_json_facts, "csv": read_csv_facts}
FORMS = ("jsonl", "csv")


@pytest.fixture
def worked(harbour: Harbour) -> Harbour:
    """Texts that a spreadsheet or a careless reader would spoil, a void, a list, a big number."""
    acts_card.hand_over(harbour.service, KIM, ["S-014"], "=Lee; +1", "driver")
    acts_card.set_aside(harbour.service, KIM, "S-015", "two\nlines, \"quoted\", 'ö'")
    acts_drive.lose_drive(harbour.service, KIM, "RAID")
    at = harbour.clock.now.isoformat()
    pulled = {"id": new_id(), "event": "pulled", "card": "S-016", "occurred_at": at}
    void = {"id": new_id(), "event": "voided", "card": "S-016", "occurred_at": at}
    told = [
        {**pulled, "bytes": str(2**53 + 1), "scenes": ["12A", "7;8"], "seconds": 12.5},
        {**void, "target": pulled["id"], "reason": "another card"},
    ]
    log_history(harbour.service, [Said(one) for one in told])
    return harbour


def kept(harbour: Harbour) -> list[Fact]:
    with harbour.service.store.reading() as conn:
        return [fact for _, fact in every_fact(conn)]


def taken(harbour: Harbour, form: str = "jsonl", **which: Any) -> list[Fact]:
    out = io.BytesIO()
    count = export(harbour.service, out, form=form, **which)
    facts = READ[form](out.getvalue(), "all", decode_envelope)
    assert len(facts) == count
    return facts


@pytest.mark.parametrize("form", FORMS)
def test_everything_reads_back_the_same(worked: Harbour, form: str) -> None:
    facts = taken(worked, form)
    assert facts == kept(worked)
    assert len(facts) == 18


def test_in_the_order_of_logging(worked: Harbour) -> None:
    logged = [fact.logged_at for fact in taken(worked)]
    assert logged == sorted(logged)
    assert len(set(logged)) == len(logged)


@pytest.mark.parametrize("form", FORMS)
def test_into_a_file(worked: Harbour, tmp_path: Path, form: str) -> None:
    file = tmp_path / "all"
    export(worked.service, file, form=form)
    assert READ[form](file.read_bytes(), "all", decode_envelope) == kept(worked)


def test_one_card_by_any_label_that_it_had(worked: Harbour) -> None:
    before = taken(worked, cards=["S-014"])
    assert {getattr(fact, "card", None) for fact in before} == {"S-014"}
    acts_card.relabel(worked.service, KIM, "S-014", "S-114")
    assert taken(worked, cards=["S-014"])[:-1] == before
    assert taken(worked, "csv", cards=["S-114"]) == taken(worked, cards=["S-014"])
    with pytest.raises(UnknownLabel, match="S-999"):
        taken(worked, cards=["S-999"])


def test_only_what_came_as_history(worked: Harbour) -> None:
    history = taken(worked, sources=["history"])
    assert [fact.event for fact in history] == ["pulled", "voided"]
    assert taken(worked, cards=["S-014"], sources=["history"]) == []


@pytest.mark.parametrize("form", FORMS)
def test_erased_words_are_marked_and_read_back(worked: Harbour, form: str) -> None:
    with worked.service.store.writing() as conn:
        conn.execute(text("UPDATE words SET said = NULL, salt = NULL"))
    facts = taken(worked, form)
    assert facts == kept(worked)
    assert {getattr(f, "to", "(erased)") for f in facts} == {"(erased)"}


def test_the_chains_can_be_verified_elsewhere(worked: Harbour) -> None:
    """From the lines alone: each body is what was hashed, and each names the hash before it."""
    out = io.BytesIO()
    export(worked.service, out, chains=True)
    heads: dict[tuple[str, str], tuple[str, int]] = {}
    for raw in out.getvalue().splitlines():
        link = json.loads(raw)
        hashed, salt = link.pop("hash"), link.pop("salt", None)
        said = {word: link.pop(word) for word in WORDS & link.keys()} if salt else {}
        head, count = heads.get((link["subject"], link["origin"]), ("0" * 64, 0))
        assert (link["prev"], link["seq"]) == (head, count + 1)
        assert salt is None or commitment(salt, said) == link["words"]
        assert hashlib.sha256(canonical(link)).hexdigest() == hashed
        heads[link["subject"], link["origin"]] = (hashed, count + 1)
    assert len(heads) > 6


WORDS = {"text", "reason", "to", "holder", "authorised_by"}


def test_a_csv_holds_no_chains(worked: Harbour) -> None:
    with pytest.raises(ValueError, match="JSON Lines only"):
        export(worked.service, io.BytesIO(), form="csv", chains=True)


def test_a_line_is_what_the_codec_says(worked: Harbour) -> None:
    out = io.BytesIO()
    export(worked.service, out)
    first = kept(worked)[0]
    assert json.loads(out.getvalue().splitlines()[0]) == encode(first, envelope=True)
