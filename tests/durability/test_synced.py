"""Before each acknowledgement the data was brought to the disk: seen by the kernel's own eyes."""

from __future__ import annotations

import http.client
import json
import os
import re
import shutil
import subprocess
import sys
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest

from tests.durability.conftest import begin_at
from tests.durability.crew import CARDS
from tracker.services.service import new_id

ROOT = Path(__file__).parents[2]
CALLS = "fsync,fdatasync,sync_file_range,recvfrom,recvmsg,sendto,sendmsg,writev,write"
FACTS = 20


def log(port: int, token: str) -> None:
    """Facts one after the other, each sent when the last one was acknowledged."""
    headers = {"Authorization": f"Bearer {token}", "Content-Type": "application/json"}
    with closing(http.client.HTTPConnection("127.0.0.1", port, timeout=60)) as conn:
        for number in range(FACTS):
            said = {
                "id": new_id(), "event": "noted", "card": CARDS[0], "text": f"remark {number}",
                "occurred_at": datetime.now(UTC).isoformat(),
            }  # fmt: skip
            conn.request("POST", "/api/v1/facts", json.dumps(said), headers)
            answer = conn.getresponse()
            answer.read()
            assert answer.status == 201


@pytest.fixture
def traced(tmp_path: Path) -> list[str]:
    """What a service did while facts were logged, one system call a line."""
    strace = shutil.which("strace")
    if strace is None:
        if os.environ.get("CI") == "true":
            pytest.fail("strace is missing: apt-get install strace")
        pytest.skip("strace is not installed: apt-get install strace")
    place, calls = begin_at(tmp_path / "data", None), tmp_path / "calls"
    watched = [strace, "-f", "-y", "-s", "40", "-e", f"trace={CALLS}", "-o", str(calls)]
    service = subprocess.Popen(
        [*watched, sys.executable, "-m", "tracker", "serve", "--data", str(place.folder),
         "--port", "0"],
        cwd=ROOT, stdout=subprocess.PIPE, text=True, env=os.environ | {"PYTHONUNBUFFERED": "1"},
    )  # fmt: skip
    try:
        assert service.stdout is not None
        found = re.search(r":(\d+)\.", service.stdout.readline())
        assert found
        log(int(found[1]), place.token)
    finally:
        subprocess.run(["pkill", "-TERM", "-P", str(service.pid)], check=False)
        service.communicate(timeout=60)
    return calls.read_text(errors="replace").splitlines()


def test_a_sync_before_each_acknowledgement(traced: list[str]) -> None:
    acknowledged, synced = 0, False
    for line in traced:
        if '"POST /api/v1/facts' in line:
            synced = False
        elif re.search(r"(fsync|fdatasync)\(\d+<[^>]*cardwright\.db(-wal)?>\)\s*= 0", line):
            synced = True
        elif '"HTTP/1.1 201' in line:
            assert synced, f"acknowledged before it was on disk: {line}"
            acknowledged, synced = acknowledged + 1, False
    assert acknowledged == FACTS
