"""Passphrases: which may be chosen, how they are kept, and how fast they may be tried.

Errors: BadPassphrase, for one that cannot be chosen or that is not this person's, and
TooManyTries, where it went wrong too often for that name or from that address.
"""

from __future__ import annotations

import hashlib
import secrets
from datetime import datetime, timedelta
from functools import cache
from math import ceil

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError
from sqlalchemy import Connection, delete, insert, select, update

from tracker.domain.errors import CardwrightError
from tracker.services.service import Service, production_row
from tracker.store.people_tables import SignInTry
from tracker.store.rows import table

SHORTEST, LONGEST = 10, 200
"""Characters of a passphrase."""

HASHER = PasswordHasher()
"""Argon2id, by its library's own parameters; tests put a cheap one here."""

FREE_TRIES = 5
FIRST_WAIT = timedelta(seconds=15)
LONGEST_WAIT = {"name": timedelta(minutes=2), "address": timedelta(minutes=15)}
"""Waits double from the first to the longest. Common practice, no source.

That of a name is short: anybody on the set's Wi-Fi could keep its owner out by it.
"""

FORGOTTEN_AFTER = timedelta(days=1)


class BadPassphrase(CardwrightError):
    """A passphrase that cannot be chosen, or that does not go with the name."""


class TooManyTries(CardwrightError):
    """Signing in went wrong too often. wait_seconds: how long to wait before the next try."""

    def __init__(self, wait_seconds: int) -> None:
        self.wait_seconds = wait_seconds
        super().__init__(
            f"Signing in went wrong too often: wait {wait_seconds} seconds, then try again."
        )


def hash_of(passphrase: str) -> str:
    """How a passphrase that somebody chose is kept. Errors: BadPassphrase."""
    if not SHORTEST <= len(passphrase) <= LONGEST:
        raise BadPassphrase(
            f"A passphrase has {SHORTEST} to {LONGEST} characters, and this one has"
            f" {len(passphrase)}: choose another."
        )
    if not _is_text(passphrase):
        raise BadPassphrase("This passphrase has a character that is none: choose another.")
    return HASHER.hash(passphrase)


def is_right(kept: str | None, passphrase: str) -> bool:
    """Whether a passphrase is the one that is kept; as much work where none is."""
    can_be = len(passphrase) <= LONGEST and _is_text(passphrase)
    nobodys = _nobodys(HASHER)
    try:
        HASHER.verify(kept or nobodys, passphrase if can_be else "")
    except (VerificationError, InvalidHashError):
        return False
    return can_be and kept is not None


def is_dated(kept: str) -> bool:
    """Whether it was made with other parameters than those of today."""
    return HASHER.check_needs_rehash(kept)


@cache
def _nobodys(hasher: PasswordHasher) -> str:
    return hasher.hash(secrets.token_urlsafe(32))


def _is_text(passphrase: str) -> bool:
    try:
        passphrase.encode()
    except UnicodeEncodeError:
        return False
    return True


def count_try(service: Service, name: str, address: str) -> None:
    """Count a try as a failure before it is made, so that many at once gain nothing.

    Errors: TooManyTries; a try that is refused is not counted.
    """
    now = service.clock()
    with service.store.writing() as conn:
        # There may be no row to lock yet.
        production_row(conn, locked=True)
        conn.execute(delete(SignInTry).where(SignInTry.last_at < now - FORGOTTEN_AFTER))
        waits = [_left(conn, kind, who, now) for kind, who in _both(name, address)]
        if any(waits):
            raise TooManyTries(ceil(max(waits).total_seconds()))
        for kind, who in _both(name, address):
            _count(conn, _key(kind, who), now)


def forget_tries(conn: Connection, name: str, address: str) -> None:
    """It was the right passphrase: what went wrong before does not count any more."""
    keys = [_key(kind, who) for kind, who in _both(name, address)]
    conn.execute(delete(SignInTry).where(SignInTry.who_sha256.in_(keys)))


def wait_after(failures: int, longest: timedelta) -> timedelta:
    """How long to wait after so many failures in a row."""
    if failures < FREE_TRIES:
        return timedelta()
    doubled: int = 2 ** min(failures - FREE_TRIES, 20)
    return min(FIRST_WAIT * doubled, longest)


def _both(name: str, address: str) -> tuple[tuple[str, str], ...]:
    return (("name", name), ("address", address))


def _left(conn: Connection, kind: str, who: str, now: datetime) -> timedelta:
    asked = select(SignInTry.failures, SignInTry.last_at)
    row = conn.execute(asked.where(SignInTry.who_sha256 == _key(kind, who))).one_or_none()
    if row is None:
        return timedelta()
    wait = wait_after(row.failures, LONGEST_WAIT[kind])
    # A clock that was set back must not make the wait longer.
    left: timedelta = min(row.last_at + wait - now, wait)
    return max(timedelta(), left)


def _count(conn: Connection, key: str, now: datetime) -> None:
    more = update(SignInTry).where(SignInTry.who_sha256 == key)
    if conn.execute(more.values(failures=SignInTry.failures + 1, last_at=now)).rowcount == 0:
        row = {"who_sha256": key, "failures": 1, "last_at": now}
        conn.execute(insert(table(SignInTry)).values(row))


def _key(kind: str, who: str) -> str:
    return hashlib.sha256(f"{kind}:{who}".encode("utf-8", "surrogatepass")).hexdigest()
