"""The demo, as somebody who has just installed it: served, looked at, stopped, and gone."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import urllib.request
from http.cookiejar import CookieJar
from pathlib import Path

ROOT = Path(__file__).parents[2]
ROLES = ("data manager", "loader", "production office", "administrator")


def test_the_demo_is_served_with_a_link_for_each_role_and_leaves_nothing(tmp_path: Path) -> None:
    process = subprocess.Popen(
        [sys.executable, "-m", "tracker", "demo", "--port", "0"],
        cwd=ROOT,
        env=os.environ | {"TMPDIR": str(tmp_path), "PYTHONUNBUFFERED": "1"},
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    assert process.stdout is not None
    told = []
    for line in process.stdout:
        told.append(line)
        if "Ctrl-C" in line:
            break
    try:
        for role in ROLES:
            line = next(line for line in told if line.strip().startswith(role))
            found = re.search(r"http://127\.0\.0\.1:\d+/come-in/\S+", line)
            assert found, line
            _comes_in(found[0], role)
    finally:
        process.send_signal(signal.SIGTERM)
        rest, _ = process.communicate(timeout=60)
    assert process.returncode == 0, rest
    assert "Nothing of the demo is left behind" in rest
    assert list(tmp_path.iterdir()) == []


def _comes_in(link: str, role: str) -> None:
    """Whoever follows the link is signed in as that role, and sees what is in danger."""
    browser = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(CookieJar()))
    with browser.open(link) as answer:
        assert answer.url.endswith("/now")
        assert "The Heron Causeway" in answer.read().decode()
    with browser.open(link.partition("/come-in/")[0] + "/me") as answer:
        assert role in answer.read().decode()
