"""The disk is full, or may not be written: it is said plainly, and what was acknowledged stays."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).parents[2]


WAYS = (
    ["unshare", "--mount"],
    ["unshare", "--map-root-user", "--mount"],
    ["sudo", "-n", "unshare", "--mount"],
)
"""How to come to a mount namespace of one's own: as root, as somebody, as one who may."""


def own_mounts() -> list[str]:
    """The first way that works here; nothing that is mounted there stays, or is seen elsewhere."""
    for way in WAYS:
        if shutil.which(way[0]):
            tried = subprocess.run(
                [*way, "mount", "-t", "tmpfs", "tmpfs", "/mnt"], capture_output=True, check=False
            )
            if tried.returncode == 0:
                return way
    reason = "nothing can be mounted here: run it as root"
    if os.environ.get("CI") == "true":
        pytest.fail(reason)
    pytest.skip(reason)


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """What came of it."""
    folder = tmp_path_factory.mktemp("disk")
    done = subprocess.run(
        [*own_mounts(), sys.executable, "-m", "tests.durability.small_disk", str(folder)],
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
