"""How times, moments and kept states are written in a database, the same in both kinds."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from sqlalchemy import BigInteger, String
from sqlalchemy.engine import Dialect
from sqlalchemy.types import TypeDecorator

from tracker.domain.facts import END, START, Moment

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
FIRST, LAST = "", "~"
# A clock that was reset to 1970 in a zone east of Greenwich is a little before it.
_DAY = 86_400 * 10**6


def to_microseconds(at: datetime) -> int:
    """Microseconds since 1970-01-01T00:00:00Z, exact."""
    since = at - _EPOCH
    # As dividing by a microsecond, in half the time.
    return (since.days * 86_400 + since.seconds) * 1_000_000 + since.microseconds


def from_microseconds(count: int) -> datetime:
    """The aware datetime of a count of microseconds."""
    return _EPOCH + timedelta(microseconds=count)


def moment_text(at: Moment) -> str:
    """A moment as text that sorts as moments do (1970 to 5138)."""
    if at == START:
        return FIRST
    if at == END:
        return LAST
    happened, logged = to_microseconds(at[0]) + _DAY, to_microseconds(at[1]) + _DAY
    return f"{happened:017d}/{logged:017d}/{at[2]}/{at[3]}"


class Instant(TypeDecorator[datetime]):
    """An aware datetime, kept as microseconds since 1970: exact, and the same everywhere."""

    impl = BigInteger
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> int | None:
        """To the database."""
        return None if value is None else to_microseconds(value)

    def process_result_value(self, value: int | None, dialect: Dialect) -> datetime | None:
        """From the database."""
        return None if value is None else from_microseconds(value)


def ordered_text() -> String:
    """Text that sorts by its code points on both databases."""
    return String().with_variant(String(collation="C"), "postgresql")
