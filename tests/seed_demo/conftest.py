"""The demo folded once for all tests here: what is true when the story stops."""

from __future__ import annotations

from collections.abc import Callable
from datetime import time
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

import seed_demo
from seed_demo.cast import RULE
from tracker.domain.fold import Production, fold_production
from tracker.domain.rule import BackupRule
from tracker.wire.folder import read_folder


def _play(folder: Path, seed: int) -> Production:
    seed_demo.write(folder, seed=seed)
    return fold_production(
        read_folder(folder).facts,
        rule=BackupRule(**RULE),
        zone=ZoneInfo(str(seed_demo.ABOUT["time_zone"])),
        day_starts=time.fromisoformat(str(seed_demo.ABOUT["day_starts"])),
    )


@pytest.fixture
def play(tmp_path: Path) -> Callable[[int], Production]:
    """The production as another seed has it."""
    return lambda seed: _play(tmp_path / str(seed), seed)


@pytest.fixture(scope="session")
def production(tmp_path_factory: pytest.TempPathFactory) -> Production:
    return _play(tmp_path_factory.mktemp("demo"), 20260413)
