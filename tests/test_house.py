"""Dependencies run one way, downward: the contracts hold, and a planted violation is caught."""

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]


def lint_imports(where: Path) -> subprocess.CompletedProcess[str]:
    code = "import sys; sys.path.insert(0, '.'); from importlinter.cli import lint_imports_command"
    return subprocess.run(
        [sys.executable, "-c", f"{code}; lint_imports_command(['--no-cache'])"],
        cwd=where,
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.fixture
def house(tmp_path: Path) -> Path:
    for name in ("tracker", "dashboards", "seed_demo", "migrations"):
        shutil.copytree(ROOT / name, tmp_path / name)
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    return tmp_path


def test_the_house_keeps_its_contracts(house: Path) -> None:
    result = lint_imports(house)
    assert result.returncode == 0, result.stdout + result.stderr


@pytest.mark.parametrize(
    ("room", "line"),
    [
        ("tracker/domain/sizes.py", "import tracker.wire.codec"),
        ("tracker/domain/sizes.py", "import click"),
        ("tracker/wire/canonical.py", "import tracker.cli.now"),
        ("tracker/store/queries.py", "import sqlite3"),
        ("tracker/store/queries.py", "import tracker.operations.backup"),
        ("tracker/reminders/rules.py", "import tracker.store.queries"),
        ("tracker/reminders/turns.py", "import tracker.wire.codec"),
        ("tracker/reminders/deciding.py", "import tracker.store.reminder_rows"),
        ("tracker/reminders/notices.py", "import tracker.reminders.outbox"),
        ("tracker/store/reminder_rows.py", "import tracker.reminders.notices"),
        ("tracker/reminders/hours.py", "import tracker.reminders.turns"),
        ("tracker/reminders/feed.py", "import tracker.services.notices"),
        ("tracker/reminders/clock.py", "import tracker.store.queries"),
        ("tracker/reminders/delivery/mail.py", "import tracker.store.queries"),
        ("migrations/versions/0001_the_journal.py", "import pysqlite3"),
        ("migrations/env.py", "import tracker.store.tables"),
        ("dashboards/wear.py", "import sqlalchemy"),
        ("tracker/planning/wear.py", "import tracker.store.queries"),
    ],
)
def test_a_planted_violation_is_caught(house: Path, room: str, line: str) -> None:
    planted = house / room
    planted.write_text(planted.read_text() + f"\n{line}\n")
    result = lint_imports(house)
    assert result.returncode == 1
    assert "BROKEN" in result.stdout


def test_a_package_that_somebody_forgot_is_caught(house: Path) -> None:
    (house / "tracker" / "attic").mkdir()
    (house / "tracker" / "attic" / "__init__.py").write_text("")
    result = lint_imports(house)
    assert result.returncode != 0
    assert "attic" in result.stdout + result.stderr


def test_the_top_level_holds_what_belongs_there_and_no_more() -> None:
    listed = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout.split("\n")
    top = {name.split("/")[0] for name in listed if name and not name.startswith(".")}
    assert top <= {
        "README.md",
        "DEVELOPERS.md",
        "CHANGELOG.md",
        "pyproject.toml",
        "tracker",
        "tests",
        "migrations",
        "dashboards",
        "seed_demo",
    }
