"""Short codes: four characters on a label that a thumb can type, and a slip of it is noticed.

Three characters say a number from 0 to 32,767, the fourth is a check. As elements of GF(32) they
obey c1*x^3 + c2*x^2 + c3*x + c4 = 0: a linear code over a finite field (textbook theory).

One character mistyped by e changes the sum by e*w, its weight w not being 0: never 0, refused.
Two characters swapped change it by (ci - cj)*(wi - wj): weights differ, so it is 0 only if ci = cj,
which is no mistake. That holds for any two characters, neighbours or not.
"""

from __future__ import annotations

from tracker.domain.errors import CardwrightError

ALPHABET = "23456789ABCDEFGHJKLMNPQRSTUVWXYZ"
"""Which character is which element: digits, then letters; without 0 O 1 I, which look alike."""

LENGTH = 4
NUMBERS = 32**3
"""How many codes there are."""

_POLYNOMIAL = 0b100101
"""x^5 + x^2 + 1, which is primitive: the powers of x are all 31 elements but 0."""


class BadCode(CardwrightError):
    """What was typed is no code. typed: as it was. why: what is wrong with it."""

    def __init__(self, typed: str, why: str) -> None:
        self.typed = typed
        self.why = why
        super().__init__(f"That code was mistyped: look again. {why}")


def code_of(number: int) -> str:
    """The code of a number. Errors: ValueError for one that has none."""
    if not 0 <= number < NUMBERS:
        raise ValueError(f"no code says {number}: expected 0 to {NUMBERS - 1}")
    said = (number >> 10, number >> 5 & 31, number & 31)
    return "".join(ALPHABET[element] for element in (*said, _check(said)))


def number_of(code: str) -> int:
    """The number that a code says; small letters do as well. Errors: BadCode."""
    typed = code.strip().upper()
    if len(typed) != LENGTH:
        raise BadCode(code, f"A code has {LENGTH} characters; this has {len(typed)}.")
    wrong = next((sign for sign in typed if sign not in ALPHABET), None)
    if wrong is not None:
        raise BadCode(code, f"No code has {wrong!r} in it: there is no 0, O, 1 or I, and no sign.")
    first, second, third, check = (ALPHABET.index(sign) for sign in typed)
    if check != _check((first, second, third)):
        raise BadCode(code, "One of its characters is wrong, or two are in the wrong order.")
    return first << 10 | second << 5 | third


def _check(said: tuple[int, int, int]) -> int:
    """The element that makes the sum 0; in this field, plus and minus are the same."""
    total = 0
    for element in said:
        total = _times_x(total ^ element)
    return total


def _times_x(element: int) -> int:
    doubled = element << 1
    return doubled ^ _POLYNOMIAL if doubled & 32 else doubled


# Which number comes next

_STEP = 20_251
_FIRST = 11_213


def nth_number(count: int) -> int:
    """The number that is allotted after so many others.

    The step is odd, so that every number has its turn; and each of its three digits to the base
    of 32 is neither 0 nor 31, so that cards that come one after the other share no character of
    their numbers in the same place.
    """
    return (count * _STEP + _FIRST) % NUMBERS
