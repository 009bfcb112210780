"""Who comes in, by what, for how long, and how they are let out again, on both databases."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import time, timedelta
from zoneinfo import ZoneInfo

import pytest
from argon2 import PasswordHasher
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy import select, update

from tests.services.harbour import Clock
from tracker.services import passphrases, people
from tracker.services.passphrases import LONGEST_WAIT, BadPassphrase, TooManyTries, wait_after
from tracker.services.people import BadName, LinkSpent, NotAllowed, Person
from tracker.services.production import set_up
from tracker.services.service import Service
from tracker.store import people_tables as p
from tracker.store.engine import Store
from tracker.store.rows import table
from tracker.store.tables import SetupLink

GOOD = "tide turns at noon"
WRONG = "tide turns at nine"
LAPTOP, PHONE = "192.0.2.10", "192.0.2.20"
CHEAP = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
DAY = 24 * 60
TABLES = (p.Person, p.Invitation, p.Session, p.ApiToken, p.SignInTry, SetupLink)


@pytest.fixture(autouse=True)
def cheap(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(passphrases, "HASHER", CHEAP)


@pytest.fixture
def service(store: Store, clock: Clock) -> Service:
    return Service(store, clock)


@pytest.fixture
def link(service: Service) -> str:
    """The one-time link of a new production."""
    return set_up(service, "Harbour", ZoneInfo("Europe/Helsinki"), time(5)).token


@pytest.fixture
def ada(service: Service, link: str) -> Person:
    """The administrator, signed in on a laptop."""
    return here(service, people.set_up_first(service, link, "Ada", GOOD, agent="a laptop"))


def here(service: Service, token: str) -> Person:
    person = people.session_of(service, token)
    assert person is not None
    return person


def joined(service: Service, ada: Person, role: str, name: str) -> Person:
    token = people.invite(service, ada, role, name)
    return here(service, people.accept(service, token, GOOD, "a phone"))


def try_often(service: Service, times: int, name: str = "Ada", address: str = PHONE) -> None:
    for _ in range(times):
        with pytest.raises(BadPassphrase):
            people.sign_in(service, name, WRONG, "", address)


def wait_told(service: Service, name: str, address: str, passphrase: str = GOOD) -> int:
    with pytest.raises(TooManyTries) as told:
        people.sign_in(service, name, passphrase, "", address)
    return told.value.wait_seconds


# The first


def test_the_first_comes_in_by_the_link_and_is_the_administrator(ada: Person) -> None:
    assert (ada.name, ada.role) == ("Ada", "administrator")


def test_the_link_works_once(service: Service, link: str, ada: Person) -> None:
    with pytest.raises(LinkSpent):
        people.set_up_first(service, link, "Mallory", GOOD)


def test_the_link_runs_out(service: Service, link: str, clock: Clock) -> None:
    clock.wait(7 * DAY)
    with pytest.raises(LinkSpent, match="ask for a new one"):
        people.set_up_first(service, link, "Ada", GOOD)


def test_a_link_that_never_was(service: Service, link: str) -> None:
    with pytest.raises(LinkSpent):
        people.set_up_first(service, link[:-1], "Ada", GOOD)


@pytest.mark.parametrize("passphrase", ["", "nine char", "x" * 201, "lone \ud800 surrogate"])
def test_a_passphrase_that_cannot_be_chosen_spends_no_link(
    service: Service, link: str, passphrase: str
) -> None:
    with pytest.raises(BadPassphrase, match="choose another"):
        people.set_up_first(service, link, "Ada", passphrase)
    assert people.set_up_first(service, link, "Ada", "ten chars!")


@pytest.mark.parametrize("name", ["", "  ", "x" * 81, "A\x00da", "A\x1bda", "\ud800"])
def test_a_name_that_cannot_be_given(service: Service, link: str, name: str) -> None:
    with pytest.raises(BadName):
        people.set_up_first(service, link, name, GOOD)


# Invitations


def test_somebody_is_invited_and_joins_with_a_passphrase_of_their_own(
    service: Service, ada: Person
) -> None:
    token = people.invite(service, ada, "loader", " Lee   Quay ")
    lee = here(service, people.accept(service, token, "salt on the jetty", "a phone"))
    assert (lee.name, lee.role) == ("Lee Quay", "loader")
    assert people.sign_in(service, "lee quay", "salt on the jetty", "", PHONE)


def test_an_invitation_works_once(service: Service, ada: Person) -> None:
    token = people.invite(service, ada, "loader", "Lee")
    people.accept(service, token, GOOD, "")
    with pytest.raises(LinkSpent):
        people.accept(service, token, GOOD, "")


def test_an_invitation_holds_for_seven_days(service: Service, ada: Person, clock: Clock) -> None:
    token = people.invite(service, ada, "loader", "Lee")
    clock.wait(7 * DAY - 1)
    assert people.accept(service, token, GOOD, "")
    late = people.invite(service, ada, "loader", "Kim")
    clock.wait(7 * DAY)
    with pytest.raises(LinkSpent):
        people.accept(service, late, GOOD, "")


def test_a_second_invitation_withdraws_the_first(service: Service, ada: Person) -> None:
    lost = people.invite(service, ada, "administrator", "Lee")
    sent = people.invite(service, ada, "loader", "lee")
    with pytest.raises(LinkSpent):
        people.accept(service, lost, GOOD, "")
    assert here(service, people.accept(service, sent, GOOD, "")).role == "loader"


def test_an_invitation_is_withdrawn(service: Service, ada: Person) -> None:
    token = people.invite(service, ada, "loader", "Lee")
    people.withdraw_invitation(service, ada, "Lee")
    with pytest.raises(LinkSpent):
        people.accept(service, token, GOOD, "")


def test_a_name_is_one_persons(service: Service, ada: Person) -> None:
    with pytest.raises(BadName, match="Somebody here is called ADA"):
        people.invite(service, ada, "loader", "ADA")


def test_nobody_is_invited_as_what_is_no_role(service: Service, ada: Person) -> None:
    with pytest.raises(LookupError, match="data manager, loader"):
        people.invite(service, ada, "producer", "Lee")


@pytest.mark.parametrize("role", ["data manager", "loader", "production office"])
def test_only_an_administrator_lets_people_in_and_out(
    service: Service, ada: Person, role: str
) -> None:
    lee = joined(service, ada, role, "Lee")
    with pytest.raises(NotAllowed) as told:
        people.invite(service, lee, "administrator", "Mallory")
    assert told.value.action == "invite"
    with pytest.raises(NotAllowed):
        people.withdraw_invitation(service, lee, "Kim")
    with pytest.raises(NotAllowed):
        people.revoke_person(service, lee, ada.id)
    with pytest.raises(NotAllowed):
        people.revoke_session(service, lee, ada.device or "")


def test_a_role_that_somebody_only_claims_is_not_theirs(service: Service, ada: Person) -> None:
    lee = joined(service, ada, "loader", "Lee")
    with pytest.raises(NotAllowed):
        people.invite(service, Person(lee.id, "Lee", "administrator"), "loader", "Kim")


# Signing in


def test_wrong_passphrase_wrong_name_and_somebody_let_out_are_told_the_same(
    service: Service, ada: Person
) -> None:
    lee = joined(service, ada, "loader", "Lee")
    people.revoke_person(service, ada, lee.id)
    said = set()
    for name, passphrase in (("Ada", WRONG), ("Nobody", GOOD), ("Lee", GOOD), ("", "")):
        with pytest.raises(BadPassphrase) as told:
            people.sign_in(service, name, passphrase, "", PHONE)
        said.add(str(told.value))
    assert said == {"That name and that passphrase do not go together."}


def test_who_is_let_out_while_signing_in_stays_out(
    service: Service, ada: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    lee = joined(service, ada, "loader", "Lee")

    def slow(kept: str | None, passphrase: str) -> bool:
        people.revoke_person(service, ada, lee.id)
        return passphrases.is_right(kept, passphrase)

    monkeypatch.setattr(people, "is_right", slow)
    with pytest.raises(BadPassphrase):
        people.sign_in(service, "Lee", GOOD, "", PHONE)


@pytest.mark.parametrize("passphrase", [GOOD[:-1], GOOD.upper(), GOOD + " ", "x" * 10**6, "\ud800"])
def test_nearly_right_is_wrong(service: Service, ada: Person, passphrase: str) -> None:
    with pytest.raises(BadPassphrase):
        people.sign_in(service, "Ada", passphrase, "", PHONE)


def test_a_name_that_nobody_has_takes_the_same_work(
    service: Service, ada: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    checked: list[str] = []
    nobodys = passphrases._nobodys(CHEAP)

    class Counting:
        def verify(self, kept: str, passphrase: str) -> bool:
            checked.append(kept)
            return CHEAP.verify(kept, passphrase)

        def hash(self, passphrase: str) -> str:
            return nobodys

        def check_needs_rehash(self, kept: str) -> bool:
            return False

    monkeypatch.setattr(passphrases, "HASHER", Counting())
    try_often(service, 1, "Ada")
    try_often(service, 1, "Nobody")
    assert len(checked) == 2
    mine, nobody = (kept.split("$")[:4] for kept in checked)
    assert mine == nobody


def test_stronger_parameters_are_taken_up_when_somebody_signs_in(
    service: Service, ada: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(passphrases, "HASHER", PasswordHasher(2, 16, 1))
    people.sign_in(service, "Ada", GOOD, "", LAPTOP)
    with service.store.reading() as conn:
        kept = conn.scalar(select(p.Person.passphrase_hash)) or ""
    assert kept.startswith("$argon2id$v=19$m=16,t=2,p=1$")
    assert people.sign_in(service, "Ada", GOOD, "", LAPTOP)


def test_what_the_service_uses_is_argon2id() -> None:
    # Argon2id with m >= 19 MiB, t >= 2: the OWASP Password Storage Cheat Sheet, from memory.
    ours = PasswordHasher()
    assert ours.type.name == "ID"
    assert (ours.memory_cost >= 19 * 1024, ours.time_cost >= 2) == (True, True)


# Too many tries


def test_five_wrong_tries_and_then_growing_waits(
    service: Service, ada: Person, clock: Clock
) -> None:
    try_often(service, 5)
    assert wait_told(service, "Ada", LAPTOP) == 15
    clock.wait(0.25)
    try_often(service, 1)
    assert wait_told(service, "Ada", LAPTOP) == 30


def test_asking_during_the_wait_does_not_make_it_longer(
    service: Service, ada: Person, clock: Clock
) -> None:
    try_often(service, 5)
    assert [wait_told(service, "Ada", PHONE) for _ in range(3)] == [15] * 3
    clock.wait(0.25)
    assert people.sign_in(service, "Ada", GOOD, "", PHONE)


def test_the_right_passphrase_ends_the_count(service: Service, ada: Person) -> None:
    try_often(service, 4)
    people.sign_in(service, "Ada", GOOD, "", PHONE)
    try_often(service, 4)
    assert people.sign_in(service, "Ada", GOOD, "", PHONE)


def test_a_name_that_nobody_has_is_slowed_down_as_well(service: Service, ada: Person) -> None:
    try_often(service, 5, "Nobody")
    assert wait_told(service, "NOBODY ", LAPTOP) == 15


def test_an_address_that_tries_many_names_is_slowed_down_and_others_are_not(
    service: Service, ada: Person
) -> None:
    for n in range(5):
        try_often(service, 1, f"name {n}", PHONE)
    assert wait_told(service, "Ada", PHONE) == 15
    assert people.sign_in(service, "Ada", GOOD, "", LAPTOP)


def test_the_wait_of_a_name_stays_short_and_that_of_an_address_grows_longer(
    service: Service, ada: Person, clock: Clock
) -> None:
    for _ in range(12):
        try_often(service, 1)
        clock.wait(15)
    clock.wait(-14.5)
    assert wait_told(service, "Ada", LAPTOP) == 90
    assert wait_told(service, "Nobody", PHONE) == 14.5 * 60


def test_a_day_later_it_is_forgotten(service: Service, ada: Person, clock: Clock) -> None:
    try_often(service, 5)
    clock.wait(DAY + 1)
    try_often(service, 5)


def test_a_clock_that_was_set_back_does_not_keep_anybody_out(
    service: Service, ada: Person, clock: Clock
) -> None:
    try_often(service, 5)
    clock.wait(-DAY)
    assert wait_told(service, "Ada", LAPTOP) == 15


@given(st.integers(0, 10**6), st.sampled_from(sorted(LONGEST_WAIT.values())))
def test_waits_never_shrink_and_never_pass_the_longest(failures: int, longest: timedelta) -> None:
    wait = wait_after(failures, longest)
    assert timedelta() <= wait <= wait_after(failures + 1, longest) <= longest
    assert (wait > timedelta()) == (failures >= 5)


# Several at once


def outcomes(what: Callable[[], object], times: int) -> Counter[str]:
    """How it went for each of several threads that do the same at once."""

    def one(_: int) -> str:
        try:
            what()
        except Exception as error:
            return type(error).__name__
        return "done"

    with ThreadPoolExecutor(times) as threads:
        return Counter(threads.map(one, range(times)))


def test_tries_made_at_once_gain_nothing(service: Service, ada: Person) -> None:
    went = outcomes(lambda: people.sign_in(service, "Ada", WRONG, "", PHONE), 8)
    assert went == {"BadPassphrase": 5, "TooManyTries": 3}


def test_of_several_who_take_one_link_at_once_one_comes_in(service: Service, link: str) -> None:
    went = outcomes(lambda: people.set_up_first(service, link, "Ada", GOOD), 4)
    assert went == {"done": 1, "LinkSpent": 3}


def test_of_several_who_take_one_invitation_at_once_one_comes_in(
    service: Service, ada: Person
) -> None:
    token = people.invite(service, ada, "loader", "Lee")
    went = outcomes(lambda: people.accept(service, token, GOOD, ""), 4)
    assert went == {"done": 1, "LinkSpent": 3}


# Sessions


def test_a_session_lasts_while_it_is_used(service: Service, ada: Person, clock: Clock) -> None:
    token = people.sign_in(service, "Ada", GOOD, "", LAPTOP)
    for _ in range(5):
        clock.wait(13 * DAY)
        assert people.session_of(service, token)
    clock.wait(14 * DAY)
    assert people.session_of(service, token) is None


@pytest.mark.parametrize("token", ["", "nothing", "\x00", "\ud800", "x" * 10**5])
def test_a_token_that_means_nothing(service: Service, ada: Person, token: str) -> None:
    assert people.session_of(service, token) is None
    assert people.token_of(service, token) is None


def test_signing_out_ends_that_session_alone(service: Service, ada: Person) -> None:
    first, second = (people.sign_in(service, "Ada", GOOD, "", LAPTOP) for _ in range(2))
    people.sign_out(service, first)
    people.sign_out(service, first)
    assert people.session_of(service, first) is None
    assert people.session_of(service, second)


def test_sessions_are_listed_and_ended(service: Service, ada: Person, clock: Clock) -> None:
    clock.wait()
    phone = people.sign_in(service, "Ada", GOOD, "a phone\x00" + "!" * 300, PHONE)
    listed = people.sessions(service, ada)
    assert [one.agent[:8] for one in listed] == ["a phone!", "a laptop"]
    assert len(listed[0].agent) == 200
    assert listed[0].until - listed[0].made_at == timedelta(days=14)
    people.revoke_session(service, ada, listed[0].device)
    assert people.session_of(service, phone) is None
    assert [one.device for one in people.sessions(service, ada)] == [ada.device]


def test_one_ends_ones_own_session_and_the_administrator_anybodys(
    service: Service, ada: Person
) -> None:
    lee = joined(service, ada, "loader", "Lee")
    people.revoke_session(service, lee, lee.device or "")
    assert people.sessions(service, lee) == []
    people.sign_in(service, "Lee", GOOD, "", PHONE)
    (seen,) = people.sessions(service, lee)
    people.revoke_session(service, ada, seen.device)
    assert people.sessions(service, lee) == []


# Letting out


def test_who_is_let_out_is_out_with_all_they_had(service: Service, ada: Person) -> None:
    bo = joined(service, ada, "administrator", "Bo")
    session = people.sign_in(service, "Bo", GOOD, "", PHONE)
    token = people.make_token(service, bo, "cart", "log", None)
    guest = people.invite(service, bo, "loader", "Guest")
    people.revoke_person(service, ada, bo.id)
    assert people.session_of(service, session) is None
    assert people.token_of(service, token) is None
    with pytest.raises(LinkSpent):
        people.accept(service, guest, GOOD, "")
    with pytest.raises(NotAllowed):
        people.invite(service, bo, "loader", "Guest")
    assert joined(service, ada, "loader", "Bo").id != bo.id


def test_their_sessions_and_tokens_are_ended_each_by_itself(service: Service, ada: Person) -> None:
    bo = joined(service, ada, "administrator", "Bo")
    people.make_token(service, bo, "cart", "log", None)
    people.revoke_person(service, ada, bo.id)
    with service.store.reading() as conn:
        for each in (p.Session, p.ApiToken):
            asked = select(each.token_sha256).where(each.person == bo.id)
            assert conn.scalars(asked).all()
            assert conn.scalars(asked.where(each.revoked_at.is_(None))).all() == []


def test_no_session_and_no_token_outlives_its_person(
    service: Service, ada: Person, clock: Clock
) -> None:
    session = people.sign_in(service, "Ada", GOOD, "", LAPTOP)
    token = people.make_token(service, ada, "cart", "log", None)
    with service.store.writing() as conn:
        conn.execute(update(p.Person).values(revoked_at=clock.now))
    assert people.session_of(service, session) is None
    assert people.token_of(service, token) is None


def test_the_last_administrator_stays(service: Service, ada: Person) -> None:
    joined(service, ada, "data manager", "Kim")
    with pytest.raises(NotAllowed, match="invite another one first"):
        people.revoke_person(service, ada, ada.id)
    bo = joined(service, ada, "administrator", "Bo")
    people.revoke_person(service, bo, ada.id)
    with pytest.raises(NotAllowed):
        people.revoke_person(service, bo, bo.id)


# Tokens for programs


def test_a_token_acts_for_a_person_within_its_scope(service: Service, ada: Person) -> None:
    kim = joined(service, ada, "data manager", "Kim")
    token = people.make_token(service, kim, "cart", "log", None)
    found = people.token_of(service, token)
    assert found is not None
    person, scope = found
    assert (person.id, person.name, person.role, scope) == (kim.id, "Kim", "data manager", "log")
    assert people.session_of(service, token) is None


def test_a_token_runs_out(service: Service, ada: Person, clock: Clock) -> None:
    until = clock.now + timedelta(hours=1)
    token = people.make_token(service, ada, "cart", "look", until)
    clock.wait(59)
    assert people.token_of(service, token)
    clock.wait(1)
    assert people.token_of(service, token) is None
    with pytest.raises(ValueError, match="that is past"):
        people.make_token(service, ada, "cart", "look", until)


def test_a_token_is_revoked_by_whose_it_is_or_by_an_administrator(
    service: Service, ada: Person
) -> None:
    kim = joined(service, ada, "data manager", "Kim")
    bo = joined(service, ada, "data manager", "Bo")
    for who, others in ((kim, bo), (ada, bo)):
        token = people.make_token(service, kim, "cart", "log", None)
        found = people.token_of(service, token)
        assert found is not None
        with pytest.raises(NotAllowed):
            people.revoke_token(service, others, found[0].device or "")
        people.revoke_token(service, who, found[0].device or "")
        assert people.token_of(service, token) is None


def test_a_token_goes_no_further_than_whoever_makes_it(service: Service, ada: Person) -> None:
    kim = joined(service, ada, "data manager", "Kim")
    with pytest.raises(NotAllowed) as told:
        people.make_token(service, kim, "old log", "history", None)
    assert told.value.action == "history"
    assert people.make_token(service, ada, "old log", "history", None)
    lee = joined(service, ada, "loader", "Lee")
    with pytest.raises(NotAllowed):
        people.make_token(service, lee, "script", "look", None)
    with pytest.raises(ValueError, match="look, log, history"):
        people.make_token(service, ada, "script", "everything", None)  # type: ignore[arg-type]


# What is kept


def test_no_secret_is_kept(service: Service, link: str, ada: Person) -> None:
    invitation = people.invite(service, ada, "loader", "Lee")
    session = people.accept(service, invitation, GOOD, "")
    token = people.make_token(service, ada, "cart", "log", None)
    try_often(service, 1, "my secret typed where the name goes")
    kept = " ".join(everything(service))
    assert "$argon2id$" in kept
    for secret in (link, invitation, session, token, GOOD, WRONG, "my secret"):
        assert secret not in kept


def everything(service: Service) -> Iterator[str]:
    with service.store.reading() as conn:
        for each in TABLES:
            rows = conn.execute(select(table(each))).all()
            assert rows, each
            yield repr(rows)
