"""What the rules speak of when they look at the rows is what they speak of when all is folded."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import closing
from datetime import datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

import seed_demo
from tests.reminders.told import chosen
from tests.services.happenings import Teller, tell
from tests.services.harbour import CART, GB, LEE, Clock, Harbour
from tests.services.harbour import begin as harbour_begins
from tests.services.test_rows_agree import STORIES, Story, begin, run
from tracker.domain.fold import fold_production
from tracker.domain.rule import BackupRule
from tracker.reminders.limits import Chosen
from tracker.reminders.rules import RULES, Condition, due
from tracker.reminders.seen import see
from tracker.reminders.sight import _KEPT, look
from tracker.services import acts_camera, acts_card, acts_drive, erasing
from tracker.services.logging import Said, log_history
from tracker.services.production import set_up
from tracker.services.service import Service, production_row
from tracker.store.engine import Store
from tracker.store.journal import every_fact
from tracker.wire.codec import encode
from tracker.wire.folder import read_folder

EVERYTHING = chosen()
Found = dict[tuple[str, str], Condition]


def folded(service: Service, now: datetime, given: Chosen = EVERYTHING) -> Found:
    """What the rules speak of, from the journal alone."""
    with service.store.reading() as conn:
        row = production_row(conn)
        facts = [fact for _, fact in every_fact(conn)]
    production = fold_production(
        facts, zone=ZoneInfo(row.time_zone), day_starts=time.fromisoformat(row.day_starts)
    )
    seen = see(production, now, given)
    return {one.key: one for rule in RULES for one in due(seen, rule, now)}


def looked(service: Service, now: datetime, given: Chosen = EVERYTHING) -> Found:
    with service.store.reading() as conn:
        sight = look(service, conn, now, given)
    assert not sight.unknown
    return dict(sight.conditions)


def agree(store: Store, story: Story, later: list[int]) -> None:
    """Looked at again and again by one process, which remembers what it read."""
    told = begin(store, days=1)
    teller = Teller(told.mishaps)
    told.hear(teller.inventory(), live=False)
    for number, (happening, live, with_next) in enumerate(story):
        batch = tell(teller, happening)
        told.clock.now = max(told.clock.now, teller.now)
        if batch:
            told.hear(batch, live=live)
        if not with_next:
            now = told.clock.now + timedelta(hours=later[number % len(later)])
            assert looked(told.service, now) == folded(told.service, now), told.lines


LATER = st.lists(st.sampled_from((0, 3, 30)), min_size=1, max_size=4)


@run("postgresql")
@given(story=STORIES, later=LATER)
def test_whatever_happens_rows_and_journal_say_the_same(
    new_store: Callable[..., Store], story: Story, later: list[int]
) -> None:
    with closing(new_store("sqlite")) as store:
        agree(store, story, later)


@pytest.fixture
def harbour(new_store: Callable[..., Store]) -> Harbour:
    return harbour_begins(new_store("sqlite"), Clock())


def shot(harbour: Harbour, label: str = "S-014", camera: str = "A") -> None:
    acts_camera.load(harbour.service, LEE, label, camera, roll=f"{camera}001", formatted=True)
    harbour.clock.wait(60)
    acts_camera.pull(harbour.service, LEE, label, bytes_=480 * GB)


def test_of_the_demo_rows_and_journal_say_the_same(
    tmp_path: Path, new_store: Callable[..., Store]
) -> None:
    seed_demo.write(tmp_path)
    facts = read_folder(tmp_path).facts
    end = max(fact.occurred_at for fact in facts) + timedelta(hours=1)
    service = Service(new_store("sqlite"), lambda: end)
    rule = BackupRule(**seed_demo.ABOUT["rule"])
    set_up(service, "The demo", ZoneInfo("Europe/Lisbon"), time(5), rule)
    log_history(service, [Said(encode(fact)) for fact in facts])
    for hours in (0, 5, 60):
        now = end + timedelta(hours=hours)
        assert looked(service, now) == folded(service, now)


def test_only_the_cards_of_which_something_was_said_are_read_again(harbour: Harbour) -> None:
    shot(harbour)
    looked(harbour.service, harbour.clock.now)
    before = dict(_KEPT[harbour.service.store].cards)
    acts_card.hand_over(harbour.service, LEE, ["S-014"], "Kim", "cart")
    now = harbour.clock.now
    assert looked(harbour.service, now) == folded(harbour.service, now)
    after = _KEPT[harbour.service.store].cards
    same = [card.state.label for card_id, card in before.items() if after[card_id] is card]
    assert sorted(same) == ["S-015", "S-016"]


def test_a_drive_that_was_lost_takes_the_cover_of_cards_nobody_touched(harbour: Harbour) -> None:
    shot(harbour)
    harbour.checked("S-014", "RAID", "SHUTTLE")
    harbour.clock.wait(300)
    now = harbour.clock.now
    assert all(key[1] != "exposed too long" for key in looked(harbour.service, now))
    acts_drive.lose_drive(harbour.service, CART, "SHUTTLE")
    found = looked(harbour.service, now)
    assert found == folded(harbour.service, now)
    assert any(key[1] == "exposed too long" for key in found)


def test_a_name_that_was_erased_is_in_no_sentence_any_more(harbour: Harbour) -> None:
    shot(harbour)
    acts_card.hand_over(harbour.service, LEE, ["S-014"], "Benedikta", "cart")
    before = looked(harbour.service, harbour.clock.now)
    assert any("Benedikta" in one.says for one in before.values())
    (handed,) = [f for f in harbour.facts("S-014") if f.event == "handed_over"]
    erasing.erase(harbour.service, CART, handed.id, "she asked for it")
    after = looked(harbour.service, harbour.clock.now)
    assert after == folded(harbour.service, harbour.clock.now)
    assert not any("Benedikta" in one.says for one in after.values())


def test_what_is_logged_in_the_same_minute_is_seen(harbour: Harbour) -> None:
    shot(harbour)
    now = harbour.clock.now + timedelta(hours=3)
    assert ("exposed too long") in {rule for _, rule in looked(harbour.service, now)}
    said = {"id": "00000000-0000-4000-8000-000000000001", "event": "declared_empty"}
    said |= {"card": "S-014", "roll": "A001", "occurred_at": harbour.clock.now.isoformat()}
    log_history(harbour.service, [Said(said)])
    assert looked(harbour.service, now) == folded(harbour.service, now)
