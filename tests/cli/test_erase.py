"""Words of a fact are erased from the command line."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from tracker.cli.main import main

NOTE = "01955f00-0000-7000-8000-000000000002"
SECRET = "Lee Marlowe-Quill dropped it"
Run = Callable[..., tuple[int, str, str]]


@pytest.fixture(params=["sqlite", "postgresql"])
def run(
    request: pytest.FixtureRequest,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> Run:
    """Runs a command on a data folder of its own, on each database."""
    monkeypatch.setenv("CARDWRIGHT_DATA", str(tmp_path / "data"))
    if request.param == "postgresql":
        address = request.getfixturevalue("postgres_url")(migrated=False)
        monkeypatch.setenv("CARDWRIGHT_DATABASE", address)

    def command(*args: object) -> tuple[int, str, str]:
        with pytest.raises(SystemExit) as left:
            main([str(arg) for arg in args])
        told = capsys.readouterr()
        assert isinstance(left.value.code, int)
        return left.value.code, told.out, told.err

    return command


def test_words_are_erased_and_the_journal_stays_whole(run: Run, tmp_path: Path) -> None:
    zone = ["--time-zone", "Europe/Helsinki", "--day-starts", "05:00"]
    run("init", "--production", "Harbour", *zone, "--copies", 2, "--level", "checksummed")
    at = {"card": "S-014", "occurred_at": "2026-03-02T08:00:00+02:00"}
    card = {"id": NOTE[:-1] + "1", "event": "registered", "media": "CFast", "capacity_bytes": 512}
    note = {"id": NOTE, "event": "noted", "text": SECRET}
    file = tmp_path / "monday.jsonl"
    file.write_text("\n".join(json.dumps({**one, **at}) for one in (card, note)))
    assert run("log", "--history", file)[0] == 0
    assert SECRET in run("card", "S-014")[1]
    code, out, _ = run("erase", NOTE, "--reason", "asked by the person")
    assert code == 0
    assert "Erased: text." in out
    assert "Backups and exports" in out
    shown = run("card", "S-014")[1]
    assert SECRET not in shown
    assert "(erased)" in shown
    assert run("audit")[0] == 0
    code, _, error = run("erase", NOTE, "--reason", "asked by the person")
    assert (code, "erased already" in error) == (3, True)
    assert run("erase", NOTE)[0] == 2
