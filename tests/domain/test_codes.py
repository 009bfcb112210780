"""Short codes: every slip of one character, and every swap of two, is noticed.

Source of the law: textbook theory of linear codes over finite fields. It is tried here, in full:
the code is linear, so a slip is noticed for every code if it is for the code of 0, and that is
proved for each; the slips of a sample of codes are tried one by one besides.
"""

from __future__ import annotations

from itertools import combinations, pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tracker.domain.codes import ALPHABET, NUMBERS, BadCode, code_of, nth_number, number_of

ALL = [code_of(number) for number in range(NUMBERS)]
VALID = set(ALL)
PLACES = range(4)


def test_every_code_says_its_number() -> None:
    assert len(VALID) == NUMBERS == 32_768
    assert all(number_of(code) == number for number, code in enumerate(ALL))


def test_no_code_has_characters_that_look_alike() -> None:
    assert len(ALPHABET) == 32
    assert not set("".join(ALL)) & set("0O1I")


def test_every_mistyped_character_of_every_code_is_refused() -> None:
    for place in PLACES:
        rest = {code[:place] + code[place + 1 :] for code in ALL}
        # Two codes that differ in this place only would leave the same rest.
        assert len(rest) == NUMBERS


def test_every_swap_of_two_characters_of_every_code_is_refused() -> None:
    for one, other in combinations(PLACES, 2):
        for code in ALL:
            signs = list(code)
            if signs[one] != signs[other]:
                signs[one], signs[other] = signs[other], signs[one]
                assert "".join(signs) not in VALID


@given(st.sampled_from(ALL), st.sampled_from(PLACES), st.sampled_from(ALPHABET))
def test_a_slip_is_said_to_be_one(code: str, place: int, sign: str) -> None:
    typed = code[:place] + sign + code[place + 1 :]
    if typed == code:
        assert number_of(typed.lower()) == number_of(code)
    else:
        with pytest.raises(BadCode, match="mistyped"):
            number_of(typed)


@pytest.mark.parametrize("typed", ["", "ABC", "ABCDE", "AB0C", "A1BC", "OABC", "AB C", "ÄBCD"])
def test_what_is_no_code_is_refused_with_the_reason(typed: str) -> None:
    with pytest.raises(BadCode, match="look again"):
        number_of(typed)


def test_numbers_are_allotted_once_each_and_neighbours_look_unlike() -> None:
    allotted = [nth_number(count) for count in range(NUMBERS)]
    assert len(set(allotted)) == NUMBERS
    for one, next_one in pairwise(allotted):
        assert all(a != b for a, b in zip(code_of(one)[:3], code_of(next_one)[:3], strict=True))


@pytest.mark.parametrize("number", [-1, NUMBERS])
def test_only_so_many(number: int) -> None:
    with pytest.raises(ValueError, match="expected 0 to 32767"):
        code_of(number)
