"""What is proposed: no card twice, none that should not be loaded, the least used first."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from tests.stories import story
from tracker.domain.facts import START, CameraSet
from tracker.domain.permissions import Reason
from tracker.domain.plans import Choice, Place, choices, propose

PLACES = [Place("A", 1), Place("A", 1, spare=True), Place("B", 1), Place("B", 2)]
LABELS = [f"S-{n:03}" for n in range(1, 8)]


def choice(label: str, fillings: int = 0, status: str = "ready", why: str | None = None) -> Choice:
    reasons = () if why is None else (Reason(why, why, "take another card"),)
    return Choice(label, status, reasons, (), fillings, START, here=False, watched=False)


def test_slots_are_served_before_spares() -> None:
    few = {"A": [choice("S-001")], "B": [choice("S-001"), choice("S-002", 3)]}
    lines = propose(PLACES, few, {}, same_as="same as yesterday", staying={})
    assert [(line.place.says, line.card) for line in lines] == [
        ("camera A, slot 1", "S-001"),
        ("camera A, spare 1", None),
        ("camera B, slot 1", "S-002"),
        ("camera B, slot 2", None),
    ]
    assert lines[2].reason == "fewest fillings (3)"


def test_yesterdays_card_keeps_its_place_and_not_if_something_speaks_against_it() -> None:
    both = [choice("S-001"), choice("S-002", 9), choice("S-003", why="set aside")]
    before = {Place("A", 1): "S-003", Place("B", 2): "S-002"}
    lines = propose(
        PLACES, {"A": both, "B": both}, before, same_as="same as yesterday", staying={}
    )  # fmt: skip
    found = {line.place: (line.card, line.reason) for line in lines}
    assert found[Place("B", 2)] == ("S-002", "same as yesterday")
    assert found[Place("A", 1)] == ("S-001", "fewest fillings (0)")


made = st.lists(
    st.builds(
        choice,
        st.sampled_from(LABELS),
        st.integers(0, 9),
        st.sampled_from(["ready", "cleared", "loaded", "exposed"]),
        st.sampled_from([None, "media", "set aside"]),
    ),
    unique_by=lambda one: one.label,
)
somewhere = st.dictionaries(st.sampled_from(PLACES), st.sampled_from(LABELS))


@given(made, made, somewhere, st.sets(st.sampled_from(LABELS)))
def test_no_card_is_proposed_twice_nor_one_that_does_not_fit(
    for_a: list[Choice], for_b: list[Choice], before: dict[Place, str], taken: set[str]
) -> None:
    of_camera = {"A": for_a, "B": for_b}
    lines = propose(PLACES, of_camera, before, same_as="as before", staying={}, taken=taken)
    assert [line.place for line in lines] == PLACES
    cards = [line.card for line in lines if line.card is not None]
    assert len(cards) == len(set(cards))
    assert not taken.intersection(cards)
    for line in lines:
        free = {c.label for c in of_camera[line.place.camera] if c.free}
        assert line.card is None or line.card in free
        assert line.card is not None or not free - {*cards, *taken}
        assert line.reason


def test_a_card_from_which_footage_may_still_be_got_back_is_not_proposed() -> None:
    camera = CameraSet(
        id="camera", occurred_at=START[0], logged_at=START[0], origin="", letters="A", unit="main"
    )
    told = story("S-014").shot("A001").formatted("camera", "A")
    assert told.status == "ready"
    for settled in (False, True):
        if settled:
            told.settled("formatted 1", "formatted_uncovered")
        production = told.production
        (one,) = choices(camera, production.views(), production.context, {}, {})
        assert (one.free, [reason.code for reason in one.reasons]) == (
            settled,
            [] if settled else ["lost"],
        )
