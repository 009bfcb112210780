"""The disk is full, or may not be written: it is said plainly, and what was acknowledged stays."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """What came of it, in a mount namespace of its own, so that nothing stays mounted."""
    own = ["unshare", "--mount"] if os.geteuid() == 0 else ["unshare", "--map-root-user", "--mount"]
    folder = tmp_path_factory.mktemp("disk")
    done = subprocess.run(
        [*own, sys.executable, "-m", "tests.durability.small_disk", str(folder)],
        cwd=ROOT, capture_output=True, text=True, check=False, timeout=300,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


SENT_AGAIN = "What you sent was not acknowledged: send it again."


def says(answer: list[Any]) -> str:
    status, body = answer
    assert status == 503
    return str(json.loads(body)["error"]["message"])


def test_a_full_disk_is_said_and_the_rest_goes_on(told: Any) -> None:
    full = told["full"]
    assert full["acknowledged"] > 5
    for answer in full["answers"]:
        assert says(answer) == (
            "The data cannot be used now: database or disk is full; make room on that disk. "
            + SENT_AGAIN
        )
    assert full["while_full"] == {"again": 503, "looks": 200, "missing": 0}


def test_it_starts_on_a_full_disk_and_takes_everything_once_there_is_room(told: Any) -> None:
    full = told["full"]
    assert full["started"].endswith(" facts")
    assert full["after"] == [201] * len(full["answers"])
    assert (full["missing"], full["sound"]) == (0, True)


def test_a_disk_that_may_not_be_written_any_more(told: Any) -> None:
    closed = told["read_only"]
    assert (closed["before"], closed["refused"]) == (201, 503)
    assert says(closed["answers"][0]).endswith(SENT_AGAIN)
    assert "Read-only file system" in closed["started"]
    assert "let this user write there" in closed["started"]
    assert closed["after"] == [201]
    assert (closed["missing"], closed["sound"]) == (0, True)
