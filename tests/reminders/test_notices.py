"""Who is told of what and when, from the tables: once, held back and never skipped, once cleared.

Times are minutes after S-014 came out of the camera; it is to be copied within two hours.
"""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import update

from tests.reminders.post import Died, Post
from tests.services.harbour import CART, KIM, LEE, PROOF
from tracker.reminders.limits import Chosen, Limits, Own
from tracker.reminders.notices import heartbeat
from tracker.reminders.outbox import ATTEMPTS, wait_after
from tracker.reminders.settings import Settings
from tracker.services import acts_card, acts_copies, acts_day, erasing, notices, people
from tracker.store import reminder_tables as r

S_014 = "1 thing: S-014, exposed too long"
LOST = "1 thing, danger: S-014, missing with footage"
SETTLED = "settled: S-014, exposed too long"


# Told


def test_what_was_shot_and_not_copied_is_told_of_once_and_then_every_two_hours(told: Post) -> None:
    told.shot()
    assert told.minute(119) == []
    assert told.minute(1) == [S_014]
    assert told.minute(1) == []
    assert told.minute(118) == []
    assert told.minute(1) == [S_014]
    assert [letter.to for letter in told.box.letters] == ["lee@harbour.example"] * 2
    assert told.told("Lee") == [S_014, S_014]
    assert told.told("Kim") == []


def test_what_it_says_is_what_is_the_matter_and_what_to_do(told: Post) -> None:
    told.shot()
    told.minute(120)
    (letter,) = told.box.letters
    assert letter.title == f"Harbour: {S_014}"
    assert letter.body == (
        "S-014 was shot (A001), came out at 11:10 and is not backed up; nobody logged where it "
        "went. Bring it to the cart. Do not format. At the cart: make 2 copies, checksummed, each "
        "on its own drive.\n"
    )
    assert not letter.danger


def test_two_things_of_one_minute_are_one_message_with_their_count(told: Post) -> None:
    told.shot("S-014", "A", "A001")
    told.shot("S-015", "B", "B001")
    told.clock.wait(-60)
    assert told.minute(180) == ["2 things"]
    assert [line[:5] for line in told.box.letters[-1].body.split("\n\n")] == ["S-014", "S-015"]


def test_danger_goes_to_everybody_at_once_at_any_hour_and_stands_first(told: Post) -> None:
    told.shot("S-015", "B", "B001")
    told.shot()
    told.clock.wait(14 * 60)
    told.missing()
    assert sorted(told.minute()) == [LOST, LOST, LOST]
    assert all(letter.danger for letter in told.box.letters[-3:])
    assert {letter.to for letter in told.box.letters[-3:]} == {
        "kim@harbour.example",
        "lee@harbour.example",
        "noor@harbour.example",
    }


def test_what_is_no_danger_waits_for_the_hours_in_which_people_work(told: Post) -> None:
    acts_day.call_unit(told.service, KIM, "main")
    told.shot()
    acts_day.wrap_unit(told.service, KIM, "main")
    told.minute()
    told.box.letters.clear()
    assert told.minute(4 * 60) == []
    told.clock.wait(16 * 60)
    acts_day.call_unit(told.service, KIM, "main")
    assert told.minute(1) == ["1 thing: S-014, exposed too long"]
    assert "(It was due 9 times before this, and was not sent then.)" in told.box.letters[-1].body


def test_where_nobody_has_the_role_the_administrator_is_told(told: Post) -> None:
    people.revoke_person(told.service, told.person("Ada"), told.person("Lee").id)
    told.shot()
    assert told.minute(120) == [S_014]
    assert told.box.letters[-1].to == "ada@harbour.example"


# After a pause


def test_after_a_pause_only_the_newest_goes_and_says_how_many_did_not(told: Post) -> None:
    told.shot()
    told.minute(120)
    assert told.minute(6 * 60 + 5) == [S_014]
    assert "(It was due 2 times before this, and was not sent then.)" in told.box.letters[-1].body
    turns = [row for row in told.rows(r.NoticeTurn) if row.channel == "mail"]
    assert sorted((row.first, row.turn) for row in turns) == [(0, 0), (1, 3)]
    assert told.minute(1) == []


@pytest.mark.parametrize("hours", [1, 24, 365 * 24])
def test_a_clock_that_is_set_back_tells_nothing_a_second_time(told: Post, hours: int) -> None:
    told.shot()
    told.minute(120)
    assert told.minute(-60 * hours) == []
    assert told.minute(1) == []
    assert told.minute(60 * hours - 2) == []
    assert told.minute(121) == [S_014]


def test_a_clock_that_is_set_ahead_and_back_keeps_no_message_waiting(told: Post) -> None:
    told.shot()
    told.clock.wait(120)
    told.tick()
    told.clock.wait(365 * 24 * 60)
    told.box.answers = ["refuses"]
    told.deliver()
    assert told.states() == ["retried"]
    told.clock.wait(-365 * 24 * 60)
    assert told.deliver().sent == 1
    assert told.box.titles() == [f"Harbour: {S_014}"]


# Before it goes


def test_what_is_settled_before_it_goes_is_not_sent(told: Post) -> None:
    told.shot()
    told.clock.wait(120)
    told.tick()
    told.copied()
    assert told.deliver().held == 2
    assert told.minute() == []
    assert told.minute(15) == []
    assert told.states() == ["superseded"]
    assert told.minute(30) == []


def test_what_comes_back_before_it_went_is_told_of_all_the_same(told: Post) -> None:
    """Missing, and found before anybody could be told; and missing again two minutes later."""
    told.shot()
    told.missing()
    told.tick()
    told.found()
    told.deliver()
    assert told.box.letters == []
    told.missing()
    assert told.minute(2) == [LOST] * 3
    assert told.minute(1) == []


def test_of_two_things_the_one_that_is_settled_is_left_out(told: Post) -> None:
    told.shot("S-014", "A", "A001")
    told.shot("S-015", "B", "B001")
    told.clock.wait(120)
    told.tick()
    told.copied("S-014")
    told.deliver()
    assert told.box.titles() == ["Harbour: 1 thing: S-015, exposed too long"]
    told.minute()
    assert told.minute(15) == []
    assert sorted(told.states()) == ["sent", "superseded"]


def test_of_two_things_the_one_that_comes_back_is_told_of_later(told: Post) -> None:
    told.shot("S-014", "A", "A001")
    told.shot("S-015", "B", "B001")
    told.missing("S-014")
    told.missing("S-015")
    told.tick()
    told.found("S-014")
    told.deliver()
    lost = "1 thing, danger: {}, missing with footage"
    assert told.box.titles() == [f"Harbour: {lost.format('S-015')}"] * 3
    told.missing("S-014")
    assert told.minute(3) == [lost.format("S-014")] * 3
    assert told.minute(1) == []


# Its end


def test_an_end_is_told_of_after_15_minutes_once_to_those_who_were_told(told: Post) -> None:
    told.shot()
    told.minute(120)
    told.copied()
    told.minute()
    assert told.minute(14) == []
    assert told.minute(1) == [SETTLED]
    assert told.minute(1) == []
    assert told.minute(300) == []
    assert told.told("Lee") == [S_014, SETTLED]
    assert told.told("Kim") == []
    assert all(row.done for row in told.rows(r.NoticeSpell))


def test_what_comes_back_within_15_minutes_is_the_same_thing(told: Post) -> None:
    told.shot()
    told.missing()
    told.minute()
    told.found()
    assert told.minute(5) == []
    told.missing()
    assert told.minute(5) == []
    assert len([s for s in told.rows(r.NoticeSpell) if s.rule == "missing with footage"]) == 1


def test_what_comes_back_later_is_told_of_anew(told: Post) -> None:
    told.shot()
    told.missing()
    told.minute()
    told.found()
    told.minute(1)
    assert told.minute(20) == ["settled: S-014, missing with footage"] * 3
    told.missing()
    assert told.minute(1) == [LOST] * 3
    spells = [s for s in told.rows(r.NoticeSpell) if s.rule == "missing with footage"]
    assert sorted(spell.number for spell in spells) == [1, 2]


def test_two_rolls_of_one_card_that_end_at_once_are_one_line(told: Post) -> None:
    told.shot(roll="A001")
    told.minute(120)
    told.copied()
    told.shot(roll="A002")
    assert told.minute(120) == [S_014]
    told.clock.wait(10)
    for drive in ("RAID", "SHUTTLE"):
        level = {"proof": PROOF, "roll": "A002"}
        acts_copies.copy_checked(told.service, CART, "S-014", drive, "checksummed", **level)
    told.minute()
    assert told.minute(15) == [SETTLED]
    ended = [row for row in told.rows(r.NoticeAllClear) if row.channel == "mail"]
    assert len(ended) == 2
    assert told.box.letters[-1].body == "Settled:\n- S-014: exposed too long\n"


def test_nobody_hears_of_the_end_of_what_they_were_never_told(told: Post) -> None:
    told.shot()
    told.box.answers = ["refuses for good"]
    told.minute(120)
    told.copied()
    told.minute()
    assert told.minute(20) == []
    assert told.states() == ["dead"]
    assert told.told("Lee") == [S_014, SETTLED]


def test_whoever_may_have_heard_of_it_hears_of_its_end(told: Post) -> None:
    """The mail went, and the process died before it could be marked; by then it is settled."""
    told.shot()
    told.clock.wait(120)
    told.tick()
    told.box.answers = ["accepts and dies"]
    with pytest.raises(Died):
        told.deliver()
    told.copied()
    told.minute()
    told.minute(15)
    told.minute(1)
    assert told.minute(5) == []
    assert [title.removeprefix("Harbour: ") for title in told.box.titles()] == [S_014, SETTLED]
    assert sorted(told.states()) == ["sent", "superseded"]


def test_a_name_that_is_erased_is_in_no_message_any_more(told: Post) -> None:
    told.shot()
    acts_card.hand_over(told.service, LEE, ["S-014"], "Benedikta", "camera crew")
    told.minute(120)
    assert "Benedikta" in told.box.letters[-1].body
    (handed,) = [f for f in told.harbour.facts("S-014") if f.event == "handed_over"]
    erasing.erase(told.service, CART, handed.id, "she asked for it")
    assert all(row.body is None for row in told.rows(r.NoticeMessage))
    assert told.minute(120) == [S_014]
    assert "Benedikta" not in told.box.letters[-1].body


def test_an_end_that_is_none_any_more_is_not_told_of(told: Post) -> None:
    told.shot()
    told.missing()
    told.minute()
    told.box.letters.clear()
    told.found()
    told.minute(1)
    told.clock.wait(20)
    told.tick()
    told.missing()
    told.clock.wait(1)
    told.tick()
    told.deliver()
    assert told.box.titles() == [f"Harbour: {LOST}"] * 3


# Later, quiet hours, I have it


def test_a_snooze_holds_back_and_skips_nothing(told: Post) -> None:
    told.shot()
    lee = told.person("Lee")
    until = told.clock.now + timedelta(minutes=180)
    notices.snooze(told.service, lee, until=until, reason="on the boat", rule="exposed too long")
    assert told.minute(120) == []
    assert told.minute(59) == []
    assert told.minute(1) == [S_014]


def test_a_snooze_that_is_ended_holds_nothing_back(told: Post) -> None:
    told.shot()
    lee = told.person("Lee")
    until = told.clock.now + timedelta(days=2)
    snooze = notices.snooze(told.service, lee, until=until, reason="later", rule="exposed too long")
    assert told.minute(120) == []
    notices.end_snooze(told.service, lee, snooze)
    assert told.minute(1) == [S_014]
    with pytest.raises(notices.CannotAnswer, match="any more"):
        notices.end_snooze(told.service, lee, snooze)


def test_quiet_hours_hold_back_all_but_danger(told: Post) -> None:
    said = {"quiet": {"start": "13:00", "end": "15:30"}}
    notices.set_settings(told.service, None, said)
    told.shot()
    assert told.minute(120) == []
    assert told.minute(139) == []
    assert told.minute(1) == [S_014]


def test_danger_may_be_held_back_too_if_the_production_wants_it(told: Post) -> None:
    said = {"quiet": {"start": "00:00", "end": "23:00", "pierced": False}}
    notices.set_settings(told.service, None, said)
    told.shot()
    told.missing()
    assert told.minute(1) == []


def test_what_was_refused_before_quiet_hours_waits_for_their_end(told: Post) -> None:
    notices.set_settings(told.service, None, {"quiet": {"start": "13:15", "end": "15:00"}})
    told.shot()
    told.box.answers = ["refuses"]
    told.minute(120)
    assert told.states() == ["retried"]
    assert told.minute(10) == []
    assert told.minute(100) == [S_014]


def test_whoever_has_it_hears_of_it_alone(told: Post) -> None:
    hourly = {"missing with footage": {"repeat_s": 3600}}
    notices.set_settings(told.service, None, {"production": {"rules": hourly}})
    told.shot()
    told.missing()
    assert told.minute() == [LOST] * 3
    (spell,) = [s for s in told.rows(r.NoticeSpell) if s.rule == "missing with footage"]
    notices.take(told.service, told.person("Kim"), spell.id)
    told.box.letters.clear()
    assert told.minute(60) == [LOST]
    assert told.box.letters[0].to == "kim@harbour.example"
    notices.give_back(told.service, spell.id)
    assert told.minute(60)[-3:] == [LOST] * 3


def test_a_danger_that_stands_on_goes_to_everybody_again_whoever_has_it(told: Post) -> None:
    hourly = {"missing with footage": {"repeat_s": 3600}}
    notices.set_settings(told.service, None, {"production": {"rules": hourly}})
    told.shot()
    told.missing()
    told.minute()
    (spell,) = [s for s in told.rows(r.NoticeSpell) if s.rule == "missing with footage"]
    notices.take(told.service, told.person("Kim"), spell.id)
    told.box.letters.clear()
    told.minute(119)
    assert {letter.to for letter in told.box.letters} == {"kim@harbour.example"}
    told.minute(61)
    found = {letter.to.partition("@")[0] for letter in told.box.letters}
    assert found == {"kim", "lee", "noor", "ada"}


# A danger that nobody answers


def test_a_danger_that_nobody_answers_goes_to_the_next_role(told: Post) -> None:
    told.shot()
    told.missing()
    told.minute()
    told.box.letters.clear()
    assert told.minute(29) == []
    assert told.minute(1) == [LOST]
    assert [letter.to for letter in told.box.letters] == ["ada@harbour.example"]
    assert told.minute(60) == []
    (gone_on,) = told.rows(r.NoticeEscalation)
    assert (gone_on.step, gone_on.role) == (1, "administrator")


def test_a_danger_that_somebody_has_goes_no_further(told: Post) -> None:
    told.shot()
    told.missing()
    told.minute()
    (spell,) = [s for s in told.rows(r.NoticeSpell) if s.rule == "missing with footage"]
    notices.take(told.service, told.person("Noor"), spell.id)
    told.minute(120)
    assert told.rows(r.NoticeEscalation) == []


def test_it_goes_on_only_so_long_after_a_snooze_has_run_out(told: Post) -> None:
    told.shot()
    told.missing()
    told.minute()
    until = told.clock.now + timedelta(minutes=60)
    rule = "missing with footage"
    notices.snooze(told.service, told.person("Kim"), until=until, reason="I look", rule=rule)
    told.minute(60)
    told.minute(29)
    assert told.rows(r.NoticeEscalation) == []
    told.minute(1)
    assert len(told.rows(r.NoticeEscalation)) == 1


# Lists of the morning


def test_notes_wait_for_the_list_of_the_morning(told: Post) -> None:
    on = {"backed up and not cleared": Own(on=True)}
    notices.set_settings(told.service, None, Settings(Chosen(Limits(rules=on))))
    told.shot()
    told.copied()
    told.minute(600)
    assert told.box.letters == []
    midnight = told.clock.now.replace(hour=22, minute=0) - told.clock.now
    told.clock.wait(midnight.total_seconds() / 60)
    assert told.minute(6 * 60 + 59) == []
    assert told.minute(1) == ["list of the morning, 2 things"] or told.box.letters
    days = {row.day for row in told.rows(r.NoticeDigest)}
    assert len(days) == 1
    assert told.minute(60) == []


# The outbox


def test_a_refused_message_is_tried_again_after_1_2_4_minutes_under_the_same_id(
    told: Post,
) -> None:
    told.shot()
    told.box.answers = ["refuses", "hangs", "refuses"]
    told.clock.wait(120)
    told.tick()
    told.deliver()
    waits = []
    for _ in range(3):
        (row,) = [row for row in told.rows(r.NoticeMessage) if row.channel == "mail"]
        assert row.state == "retried"
        waits.append((row.next_try - told.clock.now) / timedelta(minutes=1))
        told.clock.wait(waits[-1] - 0.1)
        assert told.deliver().sent == 0
        told.clock.wait(0.1)
        told.deliver()
    assert waits == [1, 2, 4]
    assert told.box.titles() == [f"Harbour: {S_014}"]
    (row,) = [row for row in told.rows(r.NoticeMessage) if row.channel == "mail"]
    assert (row.state, row.attempts, row.unsure, row.id) == (
        "sent", 4, True, told.box.letters[0].id,
    )  # fmt: skip


def test_after_48_hours_of_trying_it_is_dead(told: Post) -> None:
    told.shot()
    told.box.answers = ["refuses"] * 2
    told.clock.wait(120)
    told.tick()
    with told.service.store.writing() as conn:
        conn.execute(update(r.NoticeMessage).values(attempts=ATTEMPTS - 2))
    told.deliver()
    assert told.states() == ["retried"]
    told.clock.wait(30)
    told.deliver()
    assert told.states() == ["dead"]
    (row,) = [row for row in told.rows(r.NoticeMessage) if row.channel == "mail"]
    assert row.error == "4.3.2 not now"
    assert told.minute(90) == [S_014]


def test_the_tries_make_48_hours() -> None:
    waits = [wait_after(tries) / timedelta(minutes=1) for tries in range(1, ATTEMPTS)]
    assert waits[:8] == [1, 2, 4, 8, 16, 30, 30, 30]
    assert 48 * 60 <= sum(waits) < 48 * 60 + 30


def test_whoever_dies_between_accept_and_commit_sends_it_twice_under_one_id(told: Post) -> None:
    told.shot()
    told.box.answers = ["accepts and dies"]
    told.clock.wait(120)
    told.tick()
    with pytest.raises(Died):
        told.deliver()
    assert told.states() == ["leased"]
    assert told.deliver().sent <= 1
    told.clock.wait(10)
    told.deliver()
    assert len(told.box.letters) == 2
    assert len({letter.id for letter in told.box.letters}) == 1
    assert told.states() == ["sent"]


def test_a_channel_that_is_down_is_not_asked_for_every_message(told: Post) -> None:
    told.shot()
    told.missing()
    told.box.answers = ["refuses"] * 100
    told.clock.wait(1)
    told.tick()
    told.deliver()
    assert len(told.box.answers) == 97
    assert told.told("Kim") == [LOST]


def test_a_newer_notice_takes_the_place_of_one_that_never_went(told: Post) -> None:
    told.shot()
    told.box.answers = ["refuses"] * 5
    told.minute(120)
    told.minute(60)
    told.box.answers.clear()
    assert told.minute(61) == [S_014]
    assert "(It was due once before this, and was not sent then.)" in told.box.letters[-1].body
    assert told.states() == ["superseded", "sent"]


def test_whoever_left_is_told_nothing_more(told: Post) -> None:
    told.shot()
    told.clock.wait(120)
    told.tick()
    people.revoke_person(told.service, told.person("Ada"), told.person("Lee").id)
    told.deliver()
    assert told.box.letters == []
    assert told.states() == ["superseded"]


# Hand-over


def test_the_next_data_manager_gets_the_notices_once_they_accept(told: Post) -> None:
    people.let_in(told.service, "Ivo", "data manager", "a test")
    told.by_mail("Ivo")
    kim, ivo = told.person("Kim"), told.person("Ivo")
    told.shot()
    shift = notices.offer_shift(told.service, kim, "data manager", ivo.id, {"owed": ["S-014"]})
    told.missing()
    told.minute()
    both = {letter.to for letter in told.box.letters}
    assert {"kim@harbour.example", "ivo@harbour.example"} <= both
    told.box.letters.clear()
    notices.accept_shift(told.service, ivo, shift)
    told.minute(12 * 60)
    after = {letter.to for letter in told.box.letters}
    assert "ivo@harbour.example" in after
    assert "kim@harbour.example" not in after
    with pytest.raises(notices.CannotAnswer):
        notices.accept_shift(told.service, ivo, shift)


# The heartbeat


def test_after_three_missed_ticks_the_clock_is_taken_to_stand_still(told: Post) -> None:
    assert heartbeat(told.service).alive
    told.clock.wait(2.9)
    assert heartbeat(told.service).alive
    told.clock.wait(0.1)
    assert not heartbeat(told.service).alive
    told.minute()
    assert heartbeat(told.service).alive
