"""The clock in its process: by itself, and in the one that serves."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from threading import Event
from urllib.request import urlopen

import pytest

from tracker.bootstrap import opened
from tracker.cli.main import main
from tracker.config import settings
from tracker.reminders.notices import heartbeat

ROOT = Path(__file__).parents[2]
PATIENCE_S = 60
Start = Callable[..., "subprocess.Popen[str]"]


@pytest.fixture
def data(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    """The folder of a production."""
    own = ["--production", "Pier", "--time-zone", "UTC", "--data", str(tmp_path / "data")]
    with pytest.raises(SystemExit):
        main(["init", *own])
    capsys.readouterr()
    return tmp_path / "data"


@pytest.fixture
def start(data: Path) -> Iterator[Start]:
    """Starts commands, waits until they say that they run, and ends what a test leaves behind."""
    started: list[subprocess.Popen[str]] = []

    def begin(*args: str) -> subprocess.Popen[str]:
        process = subprocess.Popen(
            [sys.executable, "-m", "tracker", *args, "--data", str(data)],
            cwd=ROOT,
            env=os.environ | {"PYTHONUNBUFFERED": "1"},
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        started.append(process)
        assert process.stdout is not None
        said = process.stdout.readline()
        if not said:
            pytest.fail(process.communicate(timeout=PATIENCE_S)[1])
        if found := re.search(r"http://\S+:\d+", said):
            # Once it has answered, it hears what it is told.
            with urlopen(f"{found[0]}/healthz", timeout=PATIENCE_S) as answer:
                assert answer.status == 200
        return process

    yield begin
    for process in started:
        process.kill()
        process.communicate()


def ticked(data: Path) -> bool:
    with opened(settings(data)) as service:
        return heartbeat(service).last is not None


def until_ticked(data: Path) -> None:
    for _ in range(PATIENCE_S * 20):
        if ticked(data):
            return
        Event().wait(0.05)
    pytest.fail("it does not tick")


def stop(process: subprocess.Popen[str], how: signal.Signals = signal.SIGTERM) -> None:
    process.send_signal(how)
    out, err = process.communicate(timeout=PATIENCE_S)
    assert (process.returncode, err) == (0, "")
    assert out.startswith("Stopped; ")


@pytest.mark.skipif(os.name == "nt", reason="there are no such signals to send")
def test_it_runs_by_itself_until_it_is_told_to_stop(start: Start, data: Path) -> None:
    clock = start("clock")
    until_ticked(data)
    stop(clock, signal.SIGINT)


@pytest.mark.skipif(os.name == "nt", reason="there are no such signals to send")
def test_who_serves_reminds_unless_told_not_to(start: Start, data: Path) -> None:
    stop(start("serve", "--port", "0", "--no-clock"))
    assert not ticked(data)
    serving = start("serve", "--port", "0")
    beside = start("clock")
    until_ticked(data)
    stop(serving)
    stop(beside)


@pytest.mark.skipif(os.name == "nt", reason="a mode says nothing there")
@pytest.mark.parametrize("command", ["serve", "clock"])
def test_secrets_that_others_can_read_start_nothing(
    data: Path, capsys: pytest.CaptureFixture[str], command: str
) -> None:
    (data / "channels.toml").write_text("[mail]\nhost = 'mail.pier.example'\n")
    (data / "channels.toml").chmod(0o644)
    before = signal.getsignal(signal.SIGTERM), signal.getsignal(signal.SIGINT)
    with pytest.raises(SystemExit) as left:
        main([command, "--data", str(data)])
    signal.signal(signal.SIGTERM, before[0])
    signal.signal(signal.SIGINT, before[1])
    assert left.value.code == 2
    assert "chmod 600" in capsys.readouterr().err
