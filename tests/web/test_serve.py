"""The service as a process of its own: it serves, and it stops without dropping anything."""

from __future__ import annotations

import http.client
import json
import os
import signal
import socket
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import closing, suppress
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PATIENCE_S = 60

SLOW = """
import sys
from flask import Flask
from tracker.web.serving import serve

app = Flask("slow")

@app.get("/slow")
def slow():
    print("begun", flush=True)
    sys.stdin.readline()
    return "x" * int(sys.argv[1])

serve(app, "127.0.0.1", 0, ready=lambda port: print(port, flush=True))
print("stopped", flush=True)
"""

Start = Callable[..., "subprocess.Popen[str]"]


@pytest.fixture
def start() -> Iterator[Start]:
    """Starts processes, and ends those that a test leaves behind."""
    started: list[subprocess.Popen[str]] = []

    def begin(*args: str) -> subprocess.Popen[str]:
        process = subprocess.Popen(
            [sys.executable, *args],
            cwd=ROOT,
            env=os.environ | {"PYTHONPATH": str(ROOT), "PYTHONUNBUFFERED": "1"},
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        started.append(process)
        return process

    yield begin
    for process in started:
        process.kill()
        process.communicate()


@pytest.fixture
def data(tmp_path: Path) -> Path:
    """The folder of a production."""
    folder = tmp_path / "data"
    own = ("--production", "Pier", "--time-zone", "UTC", "--data", str(folder))
    subprocess.run(
        [sys.executable, "-m", "tracker", "init", *own], cwd=ROOT, check=True, capture_output=True
    )
    return folder


def line(process: subprocess.Popen[str]) -> str:
    """The next line that a process writes; its complaints, if it writes none."""
    assert process.stdout is not None
    told = process.stdout.readline()
    if not told:
        pytest.fail(process.communicate(timeout=PATIENCE_S)[1])
    return told.strip()


def free_port() -> int:
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


def get(port: int, path: str) -> tuple[int, bytes]:
    with closing(http.client.HTTPConnection("127.0.0.1", port, timeout=PATIENCE_S)) as asking:
        asking.request("GET", path)
        answer = asking.getresponse()
        return answer.status, answer.read()


@pytest.mark.skipif(os.name == "nt", reason="there are no such signals to send")
@pytest.mark.parametrize("how", [signal.SIGTERM, signal.SIGINT])
def test_it_serves_until_it_is_told_to_stop(start: Start, data: Path, how: signal.Signals) -> None:
    port = free_port()
    process = start("-m", "tracker", "serve", "--data", str(data), "--port", str(port))
    assert line(process) == f"Serving on http://127.0.0.1:{port}. Ctrl-C stops it."
    status, body = get(port, "/healthz")
    assert (status, json.loads(body)) == (200, {"ok": True})
    assert get(port, "/api/v1/now")[0] == 401
    process.send_signal(how)
    out, err = process.communicate(timeout=PATIENCE_S)
    assert (process.returncode, out, err) == (
        0,
        "Stopped; everything that was being logged is logged.\n",
        "",
    )


@pytest.mark.skipif(os.name == "nt", reason="there are no such signals to send")
@pytest.mark.parametrize("how", [signal.SIGTERM, signal.SIGINT])
@pytest.mark.parametrize("size", [5, 8_000_000])
def test_a_running_request_finishes_first(start: Start, how: signal.Signals, size: int) -> None:
    process = start("-c", SLOW, str(size))
    port = int(line(process))
    answers: list[bytes] = []
    asking = threading.Thread(target=lambda: answers.append(get(port, "/slow")[1]))
    asking.start()
    assert line(process) == "begun"
    process.send_signal(how)
    assert process.stdin is not None
    process.stdin.write("go on\n")
    process.stdin.flush()
    asking.join(PATIENCE_S)
    assert [len(answer) for answer in answers] == [size]
    assert line(process) == "stopped"
    assert process.wait(PATIENCE_S) == 0
    with suppress(ConnectionError), socket.create_connection(("127.0.0.1", port), 1):
        pytest.fail("it still listens")


def test_a_port_that_is_taken_is_said_plainly(start: Start, data: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = str(taken.getsockname()[1])
        process = start("-m", "tracker", "serve", "--data", str(data), "--port", port)
        _, err = process.communicate(timeout=PATIENCE_S)
    assert process.returncode == 3
    assert err.startswith("Cannot run: ")


def test_without_a_production_there_is_nothing_to_serve(start: Start, tmp_path: Path) -> None:
    process = start("-m", "tracker", "serve", "--data", str(tmp_path))
    _, err = process.communicate(timeout=PATIENCE_S)
    assert process.returncode == 3
    assert "cardwright init" in err
