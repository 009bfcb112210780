"""The one-time link: it makes the administrator, and asks for the backup rule in plain words."""

from __future__ import annotations

from collections.abc import Callable
from datetime import time
from zoneinfo import ZoneInfo

import pytest
from argon2 import PasswordHasher

from tests.services.harbour import Clock, Harbour
from tests.web.visitor import Visitor
from tracker.domain.rule import RECOMMENDED, SHORT_POOL, BackupRule
from tracker.services import passphrases
from tracker.services.production import about, backup_rule, set_up
from tracker.services.service import Service
from tracker.store.engine import Store
from tracker.web.app import create_app

WORDS = "three wet herons"


@pytest.fixture(autouse=True)
def cheap(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(passphrases, "HASHER", PasswordHasher(1, 8, 1))


class Fresh:
    """A production that nobody has set up yet."""

    def __init__(self, store: Store) -> None:
        clock = Clock()
        service = Service(store, clock)
        done = set_up(service, "Harbour", ZoneInfo("Europe/Helsinki"), time(5), RECOMMENDED)
        self.harbour = Harbour(service, clock)
        self.link = f"/set-up/{done.token}"
        self.visitor = Visitor(create_app(service, {}.get))

    @property
    def rule(self) -> BackupRule:
        return backup_rule(self.harbour.service)


@pytest.fixture
def fresh(new_store: Callable[..., Store]) -> Fresh:
    return Fresh(new_store("sqlite"))


def test_ada_sets_it_up_with_the_rule_of_a_short_pool(fresh: Fresh) -> None:
    page = fresh.visitor.get(fresh.link)
    assert "Three copies, two kinds of drive" in page.says
    assert "works once" in page.says
    page = fresh.visitor.press(page, "Set it up", name="Ada", passphrase=WORDS, rule="two")
    assert page.status == 200
    assert fresh.rule == SHORT_POOL
    assert "Ada" in fresh.visitor.get("/me").says


def test_the_rule_that_stands_is_the_one_that_is_chosen(fresh: Fresh) -> None:
    page = fresh.visitor.get(fresh.link)
    assert page.form("Set it up").fields["rule"] == "three"
    count = fresh.harbour.count()
    fresh.visitor.press(page, "Set it up", name="Ada", passphrase=WORDS)
    assert fresh.rule == RECOMMENDED
    assert fresh.harbour.count() == count


def test_a_rule_of_their_own(fresh: Fresh) -> None:
    page = fresh.visitor.get(fresh.link)
    own = {"rule": "own", "copies": "4", "level": "reread", "kinds": "2", "off_site": "1"}
    said = {**own, "hold_days": "3", "tape_rule": "Pink tape on: hands off."}
    fresh.visitor.press(page, "Set it up", name="Ada", passphrase=WORDS, **said)
    assert fresh.rule == BackupRule(4, "reread", 2, 1, False, 3)
    assert about(fresh.harbour.service).tape_rule == "Pink tape on: hands off."


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ({"passphrase": "short"}, "A passphrase has 10 to 200 characters"),
        ({"name": " "}, "A name has 1 to 80 characters"),
        ({"rule": "own", "copies": "0"}, "copies: found '0', expected 1 to 9"),
        ({"rule": "own", "copies": "2", "off_site": "3"}, "off_site: found '3', expected 0 to 2"),
        ({"rule": "own", "level": "good"}, "level: found 'good', expected one of"),
        ({"rule": "none"}, "rule: found 'none'"),
    ],
)
def test_what_is_wrong_is_named_and_nothing_is_set_up(
    fresh: Fresh, typed: dict[str, str], told: str
) -> None:
    page = fresh.visitor.get(fresh.link)
    said = {"name": "Ada", "passphrase": WORDS, "tape_rule": "Pink.", **typed}
    page = fresh.visitor.press(page, "Set it up", **said)
    assert page.status == 400
    assert told in page.says
    assert "Nothing was set up yet" in page.says
    # What was typed is kept, and the link still holds.
    assert page.form("Set it up").fields["name"] == said["name"]
    page = fresh.visitor.press(page, "Set it up", name="Ada", passphrase=WORDS, rule="two")
    assert page.status == 200


@pytest.mark.parametrize(
    ("copies", "level", "asked"),
    [("1", "claimed", True), ("1", "checksummed", True), ("2", "claimed", True),
     ("2", "listed", False)],
)  # fmt: skip
def test_a_rule_on_the_word_of_one_copy_is_asked_about_first(
    fresh: Fresh, copies: str, level: str, asked: bool
) -> None:
    typed = {"name": "Ada", "passphrase": WORDS, "rule": "own", "copies": copies, "level": level,
             "kinds": "1", "off_site": "0"}  # fmt: skip
    page = fresh.visitor.press(fresh.visitor.get(fresh.link), "Set it up", **typed)
    assert page.status == (409 if asked else 200)
    if asked:
        assert fresh.rule == RECOMMENDED
        assert "Never clear on the word of one copy" in page.says
        assert "Nothing was set up yet." in page.says
        again = "Set it up all the same"
        assert page.form(again).fields["copies"] == copies
        page = fresh.visitor.press(page, again, passphrase="short", rule="own")
        assert page.status == 400
        page = fresh.visitor.press(page, again, passphrase=WORDS, rule="own")
    assert (page.status, fresh.rule.copies, fresh.rule.level) == (200, int(copies), level)


def test_another_weak_rule_than_the_one_asked_about_is_asked_again(fresh: Fresh) -> None:
    typed = {"name": "Ada", "passphrase": WORDS, "rule": "own", "level": "claimed",
             "kinds": "1", "off_site": "0"}  # fmt: skip
    page = fresh.visitor.press(fresh.visitor.get(fresh.link), "Set it up", copies="2", **typed)
    page = fresh.visitor.press(page, "Set it up all the same", copies="1", **typed)
    assert (page.status, fresh.rule) == (409, RECOMMENDED)


def test_the_link_lets_nobody_in_twice(fresh: Fresh) -> None:
    page = fresh.visitor.get(fresh.link)
    fresh.visitor.press(page, "Set it up", name="Ada", passphrase=WORDS)
    other = Visitor(fresh.visitor.client.application)
    assert other.get(fresh.link).status == 410
    assert other.send(fresh.link, {"name": "Eve", "passphrase": WORDS, "rule": "two"}).status == 410
    assert other.get("/set-up/nonsense").status == 410


def test_a_form_of_another_site_sets_nothing_up(fresh: Fresh) -> None:
    said = {"name": "Eve", "passphrase": WORDS, "rule": "two"}
    answer = fresh.visitor.client.post(
        fresh.link, data=said, headers={"Origin": "http://elsewhere.example"}
    )
    assert answer.status_code == 403
    assert fresh.visitor.get(fresh.link).status == 200


def test_a_word_of_the_demo_is_nothing_where_there_is_no_demo(fresh: Fresh) -> None:
    assert fresh.visitor.get("/come-in/anything").status == 404
