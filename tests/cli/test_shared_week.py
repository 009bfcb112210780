"""A crew's inventory and one shooting week, where it lies beside the project."""

import json
from collections import Counter
from pathlib import Path

import pytest

from tracker.cli.main import main

WEEK = Path(__file__).parents[2].parent / "shared" / "inputs" / "week"


@pytest.mark.skipif(not WEEK.is_dir(), reason="the shared week does not lie beside the project")
def test_the_week_comes_out_exactly(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as left:
        main(
            ["now", "--from", str(WEEK), "--rule", '{"copies": 2, "level": "checksummed"}',
             "--time-zone", "Europe/Helsinki", "--day-starts", "05:00", "--json"]
        )  # fmt: skip
    assert left.value.code == 1
    told = json.loads(capsys.readouterr().out)
    expected = json.loads((WEEK / "expected_now.json").read_text())
    assert [
        {k: card[k] for k in wanted}
        for card, wanted in zip(told["cards"], expected["cards"], strict=True)
    ] == expected["cards"]
    assert _made(told["mishaps"]) == _made(expected["mishaps"])
    for key in ("rolls_below_rule", "time_zone", "day_starts"):
        assert told[key] == expected[key]
    assert expected["rule"].items() <= told["rule"].items()


def _made(mishaps: list[dict[str, str | None]]) -> Counter[tuple[str | None, ...]]:
    return Counter((m["card"], m["kind"], m["roll"]) for m in mishaps)
