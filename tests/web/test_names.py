"""Names that were guessed through a day: one list, one tap."""

from __future__ import annotations

from tests.services.harbour import KIM
from tests.web.test_loader import card, shot
from tests.web.visitor import Crew
from tracker.services import acts_camera


def two_guessed(crew: Crew) -> None:
    shot(crew, "S-014")
    crew.lee.press(card(crew, "S-015"), "Into A as A002?")


def ids(crew: Crew) -> list[str]:
    form = crew.kim.get("/names").form("The ticked names are right")
    return [name.split(" ")[1] for name in form.fields if name.startswith("name ")]


def test_guessed_names_stand_in_one_list_and_one_box(crew: Crew) -> None:
    two_guessed(crew)
    assert "Names of rolls that nobody confirmed: 2" in crew.kim.get("/now").says
    says = crew.kim.get("/names").says
    for words in ("A001?", "A002?", "S-014", "S-015", "in the camera"):
        assert words in says


def test_ticked_names_are_confirmed_or_set_right_with_one_tap(crew: Crew) -> None:
    two_guessed(crew)
    first, second = ids(crew)
    page = crew.kim.get("/names")
    button = "The ticked names are right"
    assert crew.kim.press(page, button).status == 400
    page = crew.kim.press(page, button, right=[first, second], **{f"name {second}": "A007"})
    assert "Every name of a roll that is on a card was confirmed." in page.says
    assert "A007" in crew.harbour.holds("S-015")
    assert crew.harbour.agrees()
    page = crew.kim.press(page, "Take this back")
    assert "A001?" in crew.kim.get("/names").says


def test_what_is_not_ticked_stays_guessed(crew: Crew) -> None:
    two_guessed(crew)
    first, _ = ids(crew)
    page = crew.kim.press(crew.kim.get("/names"), "The ticked names are right", right=[first])
    assert "A001?" not in page.says.split("Looked at")[-1]
    assert "A002?" in page.says


def test_a_name_that_somebody_gave_meanwhile_is_left(crew: Crew) -> None:
    two_guessed(crew)
    first, _ = ids(crew)
    old = crew.kim.get("/names")
    acts_camera.rename_roll(crew.harbour.service, KIM, "S-014", "A001", "A031")
    crew.kim.press(old, "The ticked names are right", right=[first])
    assert "A031" in crew.harbour.holds("S-014")
