"""What would go out at a moment, read from the rows of a production on each database."""

from __future__ import annotations

from datetime import timedelta

from tests.services.harbour import CART, GB, KIM, LEE, Harbour
from tracker.services import acts_camera, acts_card, acts_day
from tracker.services.reminding import Message, would_go_out


def shot(harbour: Harbour) -> None:
    """S-014 came out of camera A after an hour, and the loader has it."""
    acts_day.call_unit(harbour.service, KIM, "main")
    acts_camera.load(harbour.service, LEE, "S-014", "A", roll="A001", formatted=True)
    harbour.clock.wait(60)
    acts_camera.pull(harbour.service, LEE, "S-014", bytes_=480 * GB)


def told(harbour: Harbour, minutes: float = 0) -> tuple[Message, ...]:
    at = harbour.clock.now + timedelta(minutes=minutes)
    return would_go_out(harbour.service, at).messages


def test_what_was_shot_and_not_copied_goes_to_the_loader_when_its_time_has_come(
    harbour: Harbour,
) -> None:
    shot(harbour)
    assert told(harbour, 119) == ()
    (message,) = told(harbour, 120)
    assert (message.to, message.people) == ("loader", ())
    (one,) = message.now
    assert (one.condition.about, one.turn) == ("S-014", 0)
    (again,) = told(harbour, 250)[0].now
    assert (again.turn, again.at) == (1, one.at + timedelta(hours=2))


def test_once_it_is_copied_and_checked_nobody_is_reminded(harbour: Harbour) -> None:
    shot(harbour)
    harbour.checked("S-014", "RAID", "SHUTTLE")
    assert told(harbour, 300) == ()


def test_a_moment_that_is_over_is_judged_by_what_had_happened_by_then(harbour: Harbour) -> None:
    """Copied at 13:10; asked in the evening of how it stood at 12."""
    shot(harbour)
    harbour.clock.wait(200)
    harbour.checked("S-014", "RAID", "SHUTTLE")
    assert told(harbour) == ()
    assert [one.to for one in told(harbour, -60)] == ["loader"]


def test_a_card_at_the_cart_is_the_data_managers(harbour: Harbour) -> None:
    shot(harbour)
    acts_card.hand_over(harbour.service, LEE, ["S-014"], "Kim", "cart")
    assert [one.to for one in told(harbour, 130)] == ["data manager"]


def test_what_is_no_danger_waits_in_the_night(harbour: Harbour) -> None:
    shot(harbour)
    acts_day.wrap_unit(harbour.service, KIM, "main")
    night = [one for one in told(harbour, 14 * 60) if one.to == "loader"]
    assert [one.now for one in night] == [()]
    assert [one.condition.about for one in night[0].waiting][-1] == "S-014"


def test_a_missing_card_is_danger_to_everybody_at_any_hour(harbour: Harbour) -> None:
    shot(harbour)
    acts_card.report_missing(harbour.service, CART, "S-014")
    assert [one.to for one in told(harbour, 14 * 60)] == [
        "data manager",
        "loader",
        "production office",
    ]
