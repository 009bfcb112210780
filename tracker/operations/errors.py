"""What operations refuse.

    CardwrightError
    ├── InUse            another process uses the data, which must be alone for this
    ├── NoRoom           the disk has too little room; nothing was begun
    ├── CannotBackUp     no backup was made
    ├── BadBackup        a file that is no backup to be trusted; nothing was changed
    ├── CannotRestore    nothing was restored, and what was there is as it was
    └── CannotUpgrade    the data is as it was, and the version that wrote it still starts on it

Each message ends with what to do.
"""

from __future__ import annotations

from tracker.domain.errors import CardwrightError


class InUse(CardwrightError):
    """Another process has the data open."""

    def __init__(self, place: object) -> None:
        super().__init__(
            f"another Cardwright works on {place}: stop it (Ctrl-C where it serves), then try again"
        )


class NoRoom(CardwrightError):
    """The disk has too little room. needed, free: bytes."""

    def __init__(self, place: object, needed: int, free: int) -> None:
        self.needed, self.free = needed, free
        super().__init__(
            f"{place} has {free / 1e6:,.0f} MB free, and {needed / 1e6:,.0f} MB are needed:"
            " make room there, or give another folder"
        )


class CannotBackUp(CardwrightError):
    """No backup was made; nothing is left of it."""

    def __init__(self, why: str) -> None:
        super().__init__(f"no backup was made: {why}")


class BadBackup(CardwrightError):
    """A file that is no backup to be trusted."""

    def __init__(self, name: object, found: str, advice: str = "take another backup") -> None:
        super().__init__(f"cannot use {name}: {found}; {advice}")


class CannotRestore(CardwrightError):
    """Nothing was restored."""

    def __init__(self, why: str) -> None:
        super().__init__(f"nothing was restored, and what was there is as it was: {why}")


class CannotUpgrade(CardwrightError):
    """Nothing was upgraded."""

    def __init__(self, why: str) -> None:
        super().__init__(
            f"nothing was upgraded, and the version before still starts on this data: {why}"
        )
