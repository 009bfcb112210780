"""`cardwright figures --to FOLDER`: files that open without the service."""

from __future__ import annotations

from pathlib import Path

import pytest

from tracker.cli.main import main


def test_figures_are_written_for_the_binder(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CARDWRIGHT_DATA", str(tmp_path / "data"))
    (tmp_path / "data").mkdir()
    wanted = ["init", "--production", "Harbour", "--time-zone", "Europe/Helsinki"]
    for args in (wanted, ["figures", "--to", str(tmp_path / "out")]):
        with pytest.raises(SystemExit) as left:
            main(args)
        assert left.value.code == 0, capsys.readouterr()
    assert "open" in capsys.readouterr().out
    assert (tmp_path / "out" / "index.html").is_file()
    assert (tmp_path / "out" / "plotly.min.js").stat().st_size > 10**6
