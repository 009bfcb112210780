"""Settings, from one place: each is able to say where its value came from.

What is given on the command line goes before the environment, and that before
`cardwright.toml` in the data folder.
"""

from __future__ import annotations

import os
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from tracker.domain.errors import CardwrightError

DATA = "CARDWRIGHT_DATA"
DATABASE = "CARDWRIGHT_DATABASE"
FILE = "cardwright.toml"
KEYS = frozenset({"database"})


class BadSettings(CardwrightError):
    """A setting is missing or cannot be understood; it says which, and where it stands."""


@dataclass(frozen=True, slots=True)
class Setting:
    """A value, and where it came from."""

    value: str
    origin: str


@dataclass(frozen=True, slots=True)
class Settings:
    """data: the folder of this production. database: its address, if not a file in there."""

    data: Setting
    database: Setting | None = None

    @property
    def folder(self) -> Path:
        """The data folder."""
        return Path(self.data.value)

    @property
    def address(self) -> str | Path:
        """What the store is opened with."""
        if self.database is not None:
            return self.database.value
        return self.folder / "cardwright.db"


def settings(data: Path | None, environ: Mapping[str, str] | None = None) -> Settings:
    """The settings. Errors: BadSettings."""
    env = os.environ if environ is None else environ
    if data is not None:
        folder = Setting(str(data), "--data")
    elif env.get(DATA):
        folder = Setting(env[DATA], DATA)
    else:
        raise BadSettings(f"Say where the data is: --data FOLDER, or set {DATA}.")
    if env.get(DATABASE):
        return Settings(folder, Setting(env[DATABASE], DATABASE))
    return Settings(folder, _from_file(Path(folder.value) / FILE))


def _from_file(file: Path) -> Setting | None:
    try:
        given = tomllib.loads(file.read_text(encoding="utf-8"))
    except FileNotFoundError:
        return None
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise BadSettings(f"{file} cannot be read: {error}") from None
    unknown = sorted(given.keys() - KEYS)
    if unknown:
        raise BadSettings(f"{file}: unknown {', '.join(unknown)}; known is {', '.join(KEYS)}.")
    value = given.get("database")
    if value is None:
        return None
    if not isinstance(value, str):
        raise BadSettings(f"{file}, database: found {value!r}, expected an address as text.")
    return Setting(value, str(file))
