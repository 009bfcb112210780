"""By what somebody is told, a test of it, and the hours in which they are left alone."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import pytest

from tests.services.harbour import Clock, begin
from tests.web.visitor import Crew
from tracker.reminders.letters import Letter, NotAccepted
from tracker.services.people import token_of
from tracker.store.engine import Store
from tracker.web.app import create_app
from tracker.web.outgoing import Outgoing


class Post:
    """A channel of a test: keeps what it takes, or refuses."""

    kind = "mail"

    def __init__(self) -> None:
        self.taken: list[Letter] = []
        self.refuses = ""

    def send(self, letter: Letter) -> None:
        if self.refuses:
            raise NotAccepted(self.refuses)
        self.taken.append(letter)


@pytest.fixture
def post() -> Post:
    return Post()


@pytest.fixture
def crew(new_store: Callable[..., Store], post: Post) -> Crew:
    harbour = begin(new_store("sqlite"), Clock())
    leaves = Outgoing({"mail": post}, ("hooks.example:443",), ("kims phone",))
    tokens = partial(token_of, harbour.service)
    return Crew(harbour, create_app(harbour.service, tokens, None, leaves))


def test_mail_is_set_tested_and_dropped(crew: Crew, post: Post) -> None:
    page = crew.kim.get("/me/told-by")
    wrong = crew.kim.press(page, "Tell me by this (Mail)", address="kim at box")
    assert wrong.status == 400
    assert "no mail address" in wrong.says
    page = crew.kim.press(page, "Tell me by this (Mail)", address="kim@box.example")
    assert "Mail: kim@box.example" in page.says
    page = crew.kim.press(page, "Send a test (Mail)")
    assert "A test went out, and was taken." in page.says
    assert [letter.to for letter in post.taken] == ["kim@box.example"]
    assert "Mail: kim@box.example" not in crew.lee.get("/me/told-by").says
    page = crew.kim.press(page, "Not by this any more (Mail)")
    assert "Mail: kim@box.example" not in page.says


def test_a_test_that_is_refused_says_why_and_not_too_often(crew: Crew, post: Post) -> None:
    page = crew.kim.press(
        crew.kim.get("/me/told-by"), "Tell me by this (Mail)", address="kim@box.example"
    )
    post.refuses = "the server says that the box is full."
    said = crew.kim.press(page, "Send a test (Mail)")
    assert "It was not taken: the server says that the box is full." in said.says
    said = crew.kim.press(page, "Send a test (Mail)")
    assert "A test went just now" in said.says
    crew.harbour.clock.wait(1)
    post.refuses = ""
    assert "A test went out" in crew.kim.press(page, "Send a test (Mail)").says


def test_an_address_by_name_is_one_that_was_set_up(crew: Crew) -> None:
    page = crew.kim.get("/me/told-by")
    button = "Tell me by this (Phone or chat)"
    assert crew.kim.press(page, button, address="json://evil.example").status == 400
    page = crew.kim.press(page, button)
    assert "Phone or chat: kims phone" in page.says


def test_quiet_hours_are_ones_own(crew: Crew) -> None:
    page = crew.kim.get("/me/told-by")
    page = crew.kim.press(
        page, "Set my quiet hours", quiet="own", **{"from": "22:00", "until": "06:00"}
    )
    assert page.form("Set my quiet hours").fields["from"] == "22:00"
    assert crew.lee.get("/me/told-by").form("Set my quiet hours").fields["from"] == ""
    wrong = crew.kim.press(page, "Set my quiet hours", quiet="own", **{"from": "", "until": ""})
    assert wrong.status == 400
    page = crew.kim.press(page, "Set my quiet hours", quiet="none")
    assert page.form("Set my quiet hours").fields["quiet"] == "none"
    page = crew.kim.press(page, "Set my quiet hours", quiet="production")
    assert page.form("Set my quiet hours").fields["quiet"] == "production"


def test_quiet_hours_that_stop_danger_are_asked_about(crew: Crew) -> None:
    page = crew.kim.get("/me/told-by")
    hours = {"from": "22:00", "until": "06:00"}
    same = {"from": "22:00", "until": "22:00"}
    assert crew.kim.press(page, "Set my quiet hours", quiet="own", **same).status == 400
    page = crew.kim.press(page, "Set my quiet hours", quiet="own", pierced=None, **hours)
    assert "From 22:00 to 06:00 no danger reaches you by any channel" in page.says
    asked = page.form("Set my quiet hours").fields
    assert (asked["quiet"], asked["from"], "pierced" in asked) == ("own", "22:00", False)
    assert crew.kim.get("/me/told-by").form("Set my quiet hours").fields["from"] == ""
    page = crew.kim.press(page, "Set my quiet hours", sure="yes")
    assert "Your quiet hours are set." in page.says


def test_a_calendar_shows_what_is_due_by_a_link_and_nothing_else(crew: Crew) -> None:
    page = crew.lee.press(crew.lee.get("/me/told-by"), "Make a link for a calendar")
    link = next(word for word in page.says.split() if word.endswith(".ics"))
    path = link[link.index("/calendar/") :]
    answer = crew.nobody.client.get(path)
    assert answer.status_code == 200
    assert answer.mimetype == "text/calendar"
    assert answer.data.startswith(b"BEGIN:VCALENDAR")
    token = path.removeprefix("/calendar/").removesuffix(".ics")
    asked = {"Authorization": f"Bearer {token}"}
    assert crew.nobody.client.get("/api/v1/now", headers=asked).status_code in (401, 403)
    page = crew.lee.get("/me/told-by")
    ends = next(one for one in page.buttons if one.startswith("End it"))
    assert "shows nothing more" in crew.lee.press(page, ends).says
    assert crew.nobody.client.get(path).status_code == 404


def test_a_token_for_programs_is_no_link_for_a_calendar(crew: Crew) -> None:
    assert crew.nobody.client.get("/calendar/nothing.ics").status_code == 404
