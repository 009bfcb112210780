"""What the pages of the reminders show, and what people say to them, on both databases."""

from __future__ import annotations

from datetime import timedelta

import pytest

from tests.reminders.post import Post
from tests.services.harbour import CART
from tracker.reminders.settings import BadSetting, from_json
from tracker.services import acts_copies, notices, notices_page, shift
from tracker.services.notices import CannotAnswer

LOST, EXPOSED = "missing with footage", "exposed too long"


def test_what_is_owed_by_whom_and_when_the_next_notice_comes(told: Post) -> None:
    pulled = told.shot()
    told.minute(121)
    page = notices_page.owed(told.service)
    (one,) = page.owed
    assert page.alive
    assert (one.condition.about, one.condition.rule, one.to) == ("S-014", EXPOSED, ("Lee",))
    assert one.condition.due == pulled + timedelta(hours=2)
    assert (one.told, one.next) == (1, pulled + timedelta(hours=4))
    assert (one.holder, one.snooze, one.waits) == (None, None, "")


def test_danger_stands_first_and_says_who_has_it(told: Post) -> None:
    told.shot("S-015", "B", "B001")
    told.shot()
    told.clock.wait(130)
    told.missing()
    told.minute()
    first, second = notices_page.owed(told.service).owed
    assert (first.condition.rule, second.condition.rule) == (LOST, EXPOSED)
    assert first.to == ("Kim", "Lee", "Noor")
    assert first.spell is not None
    notices.take(told.service, told.person("Noor"), first.spell)
    first, _ = notices_page.owed(told.service).owed
    assert (first.holder, first.has_since, first.to) == ("Noor", told.clock.now, ("Noor",))


def test_what_is_held_back_says_by_whom_and_until_when(told: Post) -> None:
    told.shot()
    told.minute(120)
    until = told.clock.now + timedelta(hours=3)
    lee = told.person("Lee")
    snooze = notices.snooze(told.service, lee, until=until, reason="on a boat", rule=EXPOSED)
    (one,) = notices_page.owed(told.service).owed
    assert one.waits == "held back: on a boat"
    (held,) = notices_page.snoozes(told.service)
    assert (held.id, held.owner, held.until, held.rule) == (snooze, "Lee", until, EXPOSED)
    notices.end_snooze(told.service, lee, snooze)
    assert notices_page.snoozes(told.service) == []


def test_before_the_first_look_at_it_the_next_notice_is_due_now(told: Post) -> None:
    told.shot()
    told.clock.wait(120)
    (one,) = notices_page.owed(told.service).owed
    assert (one.spell, one.told, one.next) == (None, 0, told.clock.now)


def test_a_clock_that_stands_still_is_said(told: Post) -> None:
    told.clock.wait(30)
    assert not notices_page.owed(told.service).alive


def test_the_outbox_shows_every_message_with_what_is_in_it_and_its_error(told: Post) -> None:
    told.shot()
    told.box.answers = ["refuses"]
    told.minute(365)
    found = notices_page.outbox(told.service)
    mail, page = sorted(found, key=lambda one: one.channel)
    assert [(i.about, i.rule, i.notice, i.stands_for) for i in mail.items] == [
        ("S-014", EXPOSED, 3, 2)
    ]
    assert (mail.person, mail.state, mail.attempts, mail.error) == (
        "Lee", "retried", 1, "4.3.2 not now",
    )  # fmt: skip
    assert mail.next_try == told.clock.now + timedelta(minutes=1)
    assert (page.state, page.sent_at) == ("sent", told.clock.now)
    assert "S-014 was shot" in (page.body or "")
    assert notices_page.outbox(told.service, person=told.person("Kim").id) == []
    assert len(notices_page.outbox(told.service, channel="page")) == 1


def test_the_end_of_something_is_in_the_outbox_too(told: Post) -> None:
    told.shot()
    told.minute(120)
    told.copied()
    told.minute()
    told.minute(15)
    newest = notices_page.outbox(told.service)[0]
    assert [(item.about, item.notice) for item in newest.items] == [("S-014", None)]


def test_each_rule_says_what_it_would_say_today_with_other_settings_too(told: Post) -> None:
    told.shot()
    told.clock.wait(60)
    by_name = {one.rule.name: one for one in notices_page.rules(told.service)}
    exposed = by_name[EXPOSED]
    assert (len(exposed.says), len(exposed.coming)) == (0, 1)
    assert not by_name["backed up and not cleared"].rule.on
    said = {"production": {"rules": {EXPOSED: {"after_s": 1800}}}}
    other = {one.rule.name: one for one in notices_page.rules(told.service, said=said)}
    assert [one.about for one in other[EXPOSED].says] == ["S-014"]
    assert other[EXPOSED].rule.after == timedelta(minutes=30)
    assert notices_page.history(told.service) == []


def test_what_was_set_is_kept_with_who_set_it(told: Post) -> None:
    kim = told.person("Kim")
    notices.set_settings(told.service, kim, {"production": {"habit": "night"}})
    notices.set_settings(
        told.service,
        None,
        {
            "production": {"habit": "lunch and wrap", "rules": {EXPOSED: {"repeat_s": 3600}}},
            "units": {"second": {"habit": "night"}},
            "quiet": {"start": "22:00", "end": "07:00"},
            "escalate_after_s": None,
        },
    )
    newest, oldest = notices_page.history(told.service)
    assert (newest.version, newest.by, oldest.version, oldest.by) == (2, None, 1, "Kim")
    now = notices_page.settings(told.service)
    assert now.chosen.of("main").habit == "lunch and wrap"
    assert now.chosen.of("second").habit == "night"
    assert now.chosen.of("second").rules[EXPOSED].repeat == timedelta(hours=1)
    assert now.escalate_after is None
    assert notices.set_settings(told.service, None, now) == now


@pytest.mark.parametrize(
    ("said", "where", "expected"),
    [
        ({"production": {"habit": "noon"}}, "production.habit", "one of rolling"),
        ({"production": {"lunch_after_s": -1}}, "production.lunch_after_s", "seconds"),
        ({"production": {"lunch_after": 60}}, "production.lunch_after", "a setting that there is"),
        ({"production": {"rules": {"x": {}}}}, "production.rules.x", "one of exposed too long"),
        ({"quiet": {"start": "22:00"}}, "quiet.end", "a time of day"),
        ({"production": {"drive_full_percent": True}}, "production.drive_full_percent", "whole"),
        ({"loud": 1}, "loud", "one of"),
    ],
)
def test_what_cannot_be_set_names_the_field_and_what_was_expected(
    said: dict[str, object], where: str, expected: str
) -> None:
    with pytest.raises(BadSetting) as bad:
        from_json(said)
    assert bad.value.where == where
    assert f"{where}: found " in str(bad.value)
    assert expected in str(bad.value)


def test_what_cannot_be_answered_says_why(told: Post) -> None:
    lee = told.person("Lee")
    soon = told.clock.now + timedelta(hours=1)
    with pytest.raises(CannotAnswer, match="Say why"):
        notices.snooze(told.service, lee, until=soon, reason=" ", rule=EXPOSED)
    with pytest.raises(CannotAnswer, match="later than now, by 7 days at most"):
        notices.snooze(told.service, lee, until=told.clock.now, reason="x", rule=EXPOSED)
    with pytest.raises(CannotAnswer, match="what is to wait"):
        notices.snooze(told.service, lee, until=soon, reason="x")
    with pytest.raises(CannotAnswer, match="settled already"):
        notices.take(told.service, lee, "nothing")
    with pytest.raises(CannotAnswer, match="There is no channel 'pigeon'"):
        notices.set_channel(told.service, lee.id, "pigeon", "the loft")
    with pytest.raises(CannotAnswer, match="not here"):
        notices.set_channel(told.service, "nobody", "mail", "a@harbour.example")


def test_a_channel_that_is_turned_off_is_kept_and_not_used(told: Post) -> None:
    lee = told.person("Lee")
    notices.set_channel(told.service, lee.id, "mail", "lee@harbour.example", active=False)
    told.shot()
    assert told.minute(120) == []
    mine = [one for one in notices_page.ways(told.service) if one.name == "Lee"]
    assert [(one.channel, one.active) for one in mine] == [("mail", False)]


def test_what_is_handed_over_at_the_end_of_a_shift(told: Post) -> None:
    told.shot("S-015", "B", "B001")
    told.shot()
    acts_copies.copy_started(told.service, CART, "S-015", "RAID")
    told.minute(180)
    handing = shift.to_hand_over(told.service)
    assert [line[:5] for line in handing.running] == ["S-015"]
    assert any("S-014 was shot" in line for line in handing.owed)
    assert any(line.startswith("S-014 (A001), exposed: out of camera A") for line in handing.hands)
    ada, kim = told.person("Ada"), told.person("Kim")
    offer = notices.offer_shift(told.service, kim, "data manager", ada.id, handing.said())
    (open_one,) = shift.shifts(told.service)
    assert (open_one.giver, open_one.taker, open_one.accepted_at) == ("Kim", "Ada", None)
    assert open_one.said["owed"] == list(handing.owed)
    with pytest.raises(CannotAnswer):
        notices.accept_shift(told.service, kim, offer)
    notices.accept_shift(told.service, ada, offer)
    assert shift.shifts(told.service)[0].accepted_at == told.clock.now
    with pytest.raises(CannotAnswer, match="accepted already"):
        notices.withdraw_shift(told.service, kim, offer)
