"""A time that was typed: it is over, it is of this age, and what was typed wrongly is kept."""

from __future__ import annotations

import pytest

from tests.services.harbour import LEE
from tests.web.visitor import Crew
from tracker.services import acts_camera

PULL = "/cards/S-014?act=pull"


@pytest.fixture
def shooting(crew: Crew) -> Crew:
    """S-014 is in camera A since 10:10 of the production's clock; it is 11:10 now."""
    acts_camera.load(crew.harbour.service, LEE, "S-014", "A", roll="A001", formatted=True)
    crew.harbour.clock.wait(60)
    return crew


def test_a_time_that_is_still_to_come_is_refused_with_what_was_typed_kept(shooting: Crew) -> None:
    kim, before = shooting.kim, shooting.harbour.count()
    page = kim.get(PULL)
    page = kim.press(page, "Log it as pulled", at="2026-03-12T11:10", size="400 GB", clips="12")
    assert (page.status, shooting.harbour.count()) == (400, before)
    assert (
        "the exact time: found '2026-03-12T11:10', expected a time that is over: it is "
        "2026-03-02 11:10 by the clock of the production."
    ) in page.says
    kept = page.form("Log it as pulled").fields
    assert (kept["at"], kept["size"], kept["clips"]) == ("2026-03-12T11:10", "400 GB", "12")
    kim.press(page, "Log it as pulled", at="2026-03-02T11:05")
    assert shooting.harbour.status("S-014") == "exposed"
    assert shooting.harbour.mishaps("S-014") == []


def test_the_minute_that_has_begun_is_no_time_to_come(shooting: Crew) -> None:
    shooting.harbour.clock.wait(-0.5)
    page = shooting.kim.press(shooting.kim.get(PULL), "Log it as pulled", at="2026-03-02T11:10")
    assert (page.status, shooting.harbour.status("S-014")) == (200, "exposed")


@pytest.mark.parametrize("typed", ["0001-01-01T00:00", "1969-12-31T23:59", "2201-01-01T00:00"])
def test_a_year_that_nobody_can_mean_is_a_fault_of_the_field(shooting: Crew, typed: str) -> None:
    page = shooting.kim.press(shooting.kim.get(PULL), "Log it as pulled", at=typed)
    assert page.status == 400
    assert f"the exact time: found '{typed}', expected a year from 1970 to 2200." in page.says
    assert page.form("Log it as pulled").fields["at"] == typed


def test_the_first_hour_of_1970_is_answered_too(shooting: Crew) -> None:
    page = shooting.kim.press(shooting.kim.get(PULL), "Log it as pulled", at="1970-01-01T00:30")
    assert page.status < 500


@pytest.mark.parametrize("typed", ["0001-01-01T00:00", "9999-12-31T23:59"])
def test_a_promise_is_for_a_year_of_this_age(shooting: Crew, typed: str) -> None:
    acts_camera.pull(shooting.harbour.service, LEE, "S-014")
    page = shooting.kim.get("/cards/S-014?act=clear-against-the-rule")
    page = shooting.kim.press(
        page, page.buttons[-1], override_reason="no drives left", authorised_by="Noor",
        promise="a copy at the lab", promise_by="Kim", promise_until=typed,
    )  # fmt: skip
    assert page.status == 400
    assert f"“Until when”: found '{typed}', expected a year from 1970 to 2200." in page.says


@pytest.mark.parametrize("typed", ["yesterday", "2026-03-02", "2026-02-30T10:00"])
def test_what_is_no_time_is_answered_with_how_one_is_written(shooting: Crew, typed: str) -> None:
    page = shooting.kim.press(shooting.kim.get(PULL), "Log it as pulled", at=typed)
    assert "expected a date and a time, as 2026-03-02T14:05" in page.says


def test_a_call_that_is_still_to_come_is_not_logged(crew: Crew) -> None:
    page = crew.kim.get("/morning")
    (button,) = [words for words in page.buttons if words.startswith("Call")]
    before = crew.harbour.count()
    page = crew.kim.press(page, button, at="2026-03-03T09:00", day_number="12b")
    assert (page.status, crew.harbour.count()) == (400, before)
    assert "expected a time that is over" in page.says
    kept = page.form(button).fields
    assert (kept["at"], kept["day_number"]) == ("2026-03-03T09:00", "12b")
