"""What the pages say is next agrees with what they say of formatting, whoever looks."""

from __future__ import annotations

from tests.services.harbour import GB, KIM, LEE
from tests.web.visitor import Crew, Page, Visitor
from tracker.domain.rule import BackupRule
from tracker.services import acts_camera, acts_card, acts_clearing, acts_day
from tracker.services.codes import allot_missing, by_label


def backed_up(crew: Crew, label: str = "S-014", *, formatted: bool = True) -> None:
    harbour = crew.harbour
    acts_camera.load(harbour.service, LEE, label, "A", roll="A001", formatted=formatted)
    harbour.clock.wait(60)
    if not formatted:
        acts_camera.format_in_camera(harbour.service, LEE, label)
    acts_camera.pull(harbour.service, LEE, label, bytes_=400 * GB)
    harbour.checked(label, "RAID", "SHUTTLE")


def short_page(crew: Crew, who: Visitor, label: str = "S-014") -> Page:
    allot_missing(crew.harbour.service)
    coded = by_label(crew.harbour.service, label)
    assert coded is not None
    return who.get(f"/c/{coded.code}")


def test_a_late_format_stops_on_every_page_until_a_person_settles_it(crew: Crew) -> None:
    backed_up(crew, formatted=False)
    assert "Formatted more than 15 minutes after it was loaded" in crew.kim.get("/now").says
    clear = crew.kim.get("/cards/S-014?act=clear").says
    assert "Ask the camera crew what was shot before the format." in clear
    # Who clears it all the same gives no leave with that.
    acts_clearing.clear(crew.harbour.service, KIM, "S-014")
    for page in (crew.kim.get("/cards/S-014"), short_page(crew, crew.lee), crew.lee.get("/now")):
        assert "cleared DO NOT FORMAT" in page.says
        assert 'data-format="may"' not in page.answer.text
        assert "mended since" not in page.says
    (link,) = [one for one in crew.kim.get("/cards/S-014").read.links if "act=settle&" in one]
    page = crew.kim.get(link)
    page = crew.kim.press(page, page.buttons[-1], reason="nothing was shot before it")
    if page.status == 409:
        page = crew.kim.press(page, page.buttons[-1])
    assert "cleared may be formatted" in crew.kim.get("/cards/S-014").says


def test_a_card_that_is_kept_for_some_days_is_not_to_be_cleared_at_once(crew: Crew) -> None:
    acts_day.set_rule(crew.harbour.service, KIM, BackupRule(2, hold_days=3))
    backed_up(crew)
    kept = "clear it, but not before 2026-03-05 11:10 (roll A001 is kept on it until then)."
    assert kept in crew.kim.get("/cards/S-014").says
    assert kept in crew.kim.get("/now").says


def test_a_visiting_card_that_went_back_is_asked_for_no_more(crew: Crew) -> None:
    service = crew.harbour.service
    acts_card.take_in_visiting(service, KIM, "V-1", "2.5in SSD", 1_000 * GB)
    acts_card.check_in(service, KIM, "V-1", "footage")
    crew.harbour.checked("V-1", "RAID", "SHUTTLE")
    assert "Give it back: nothing on it is uncovered." in crew.kim.get("/now").says
    acts_card.hand_over(service, KIM, ["V-1"], "drone crew", "other unit", outside=True)
    says = crew.kim.get("/now").says
    assert "Give it back" not in says
    assert "Nothing: it is with drone crew (other unit, outside the production) again." in says


def test_a_card_with_all_its_copies_is_not_said_to_be_not_copied(crew: Crew) -> None:
    acts_day.set_rule(crew.harbour.service, KIM, BackupRule(2, "checksummed", 1, 1))
    backed_up(crew)
    for page in (crew.kim.get("/cards/S-014"), short_page(crew, crew.lee), crew.kim.get("/now")):
        assert "copied, rule not met DO NOT FORMAT" in page.says
        assert "bring a copy off site: the rule asks for 1" in page.says
    assert "Next Data manager: Do not format." in crew.kim.get("/cards/S-014").says
