"""Money as whole numbers of the smallest unit of a currency, never as floats, never mixed.

Codes and the places after the point are those of ISO 4217 (from memory).
"""

from __future__ import annotations

import re
from fractions import Fraction

_NONE = "BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX VND VUV XAF XOF XPF"
_THREE = "BHD IQD JOD KWD LYD OMR TND"
_TWO = """
AED AFN ALL AMD ANG AOA ARS AUD AWG AZN BAM BBD BDT BGN BMD BND BOB BRL BSD BTN BWP BYN BZD CAD CDF
CHF CNY COP CRC CUP CVE CZK DKK DOP DZD EGP ERN ETB EUR FJD FKP GBP GEL GHS GIP GMD GTQ GYD HKD HNL
HTG HUF IDR ILS INR IRR JMD KES KGS KHR KPW KYD KZT LAK LBP LKR LRD LSL MAD MDL MGA MKD MMK MNT MOP
MRU MUR MVR MWK MXN MYR MZN NAD NGN NIO NOK NPR NZD PAB PEN PGK PHP PKR PLN QAR RON RSD RUB SAR SBD
SCR SDG SEK SGD SHP SLE SOS SRD SSP STN SVC SYP SZL THB TJS TMT TOP TRY TTD TWD TZS UAH USD UYU UZS
VED VES WST XCD YER ZAR ZMW
"""

PLACES: dict[str, int] = {
    code: places for places, codes in ((0, _NONE), (2, _TWO), (3, _THREE)) for code in codes.split()
}
"""For each currency, the digits after the point."""

LARGEST = 10**12
"""In the smallest unit: more for one piece was mistyped."""

_SAID = re.compile(r"([0-9]{1,13})(?:([.,])([0-9]{1,6}))?", re.ASCII)


class NotMoney(ValueError):
    """A text that is no amount: what was found, and what was expected."""

    def __init__(self, found: str, expected: str) -> None:
        self.expected = expected
        super().__init__(f"found {found!r}, expected {expected}")


def parse_money(text: str, currency: str) -> int:
    """An amount in the smallest unit of a currency, from "1234.50" or "1234,50".

    Errors: NotMoney where it cannot be read in one way only; LookupError for no such currency.
    """
    places = PLACES[currency]
    said = _SAID.fullmatch(text.strip())
    if said is None:
        raise NotMoney(text, f"an amount such as {_plain(123450, places)}, without its currency")
    whole, point, after = said[1], said[2], said[3] or ""
    if len(after) == 3 and (places != 3 or point == ","):
        raise NotMoney(text, f"an amount without thousands marks, such as {whole}{after}")
    if after[places:].strip("0"):
        raise NotMoney(text, f"at most {places} digits after the point in {currency}")
    minor: int = int(whole) * 10**places + int((after + "000")[:places] or "0")
    if minor > LARGEST:
        raise NotMoney(text, f"at most {_plain(LARGEST, places)}")
    return minor


def plain_money(minor: int, currency: str) -> str:
    """An amount as a file holds it: "1234.50"."""
    return _plain(minor, PLACES[currency])


def show_money(minor: int | None, currency: str) -> str:
    """An amount for people: "1,234.50 EUR"; unknown where nobody knows."""
    if minor is None:
        return "unknown"
    whole, dot, after = _plain(abs(minor), PLACES[currency]).partition(".")
    return f"{'-' if minor < 0 else ''}{int(whole):,}{dot}{after} {currency}"


def half_up(amount: Fraction) -> int:
    """The nearest whole number; a half goes up."""
    return (2 * amount.numerator + amount.denominator) // (2 * amount.denominator)


def _plain(minor: int, places: int) -> str:
    whole, after = divmod(abs(minor), 10**places)
    sign = "-" if minor < 0 else ""
    return f"{sign}{whole}.{after:0{places}}" if places else f"{sign}{whole}"
