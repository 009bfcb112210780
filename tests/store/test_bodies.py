"""A fact comes back from its body and its words, and the quick spelling is the canonical one."""

from __future__ import annotations

from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from tests.wire.strategies import any_enveloped, any_fact
from tracker.domain.facts import Fact
from tracker.store.bodies import digest_said, fact_from, ready, salted, spelled
from tracker.wire.canonical import canonical, same_body
from tracker.wire.codec import encode


@given(any_enveloped)
def test_a_fact_comes_back_from_its_body_and_its_words(fact: Fact) -> None:
    made = ready(fact, "")
    body = spelled(made.body)
    assert body == canonical(made.body)
    assert fact_from(body, made.words or None, erased=False) == fact


@given(any_enveloped)
def test_without_its_words_it_is_still_a_fact_with_marks_in_their_places(fact: Fact) -> None:
    made = ready(fact, "")
    left: Any = fact_from(spelled(made.body), None, erased=bool(made.words), fields=made.words)
    assert (left.id, left.event, left.occurred_at) == (fact.id, fact.event, fact.occurred_at)
    told = encode(left, envelope=True)
    assert all(told[word] == "(erased)" for word in made.words)
    assert {w: v for w, v in told.items() if w not in made.words} == {
        w: v for w, v in encode(fact, envelope=True).items() if w not in made.words
    }
    # Of words that an older version erased nobody knows the places: only where they must be.
    fact_from(spelled(made.body), None, erased=bool(made.words))


@given(any_fact, st.booleans())
def test_what_was_said_has_one_digest_whenever_it_was_sent(fact: Fact, sent: bool) -> None:
    obj = encode(fact)
    later = obj | {"sent_at": "2026-03-02T08:00:00+00:00"} if sent else obj
    assert digest_said(later) == same_body(later) == same_body(obj)


def test_the_same_words_with_another_salt_look_otherwise() -> None:
    assert salted("a", "00") != salted("b", "00")
    assert salted("a", "00") == salted("a", "00")
