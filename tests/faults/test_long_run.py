"""A short long day and a short load; the figures come from tests/bench/bench_long_run.py and bench_load.py."""

from __future__ import annotations

from pathlib import Path
from statistics import median

import bench_load
import bench_long_run
import pytest


@pytest.mark.long
def test_six_roasts_in_a_row(tmp_path: Path) -> None:
    log = bench_long_run.run(6, tmp_path)
    assert log.short == 0
    assert log.drift < 0.05
    assert len(list(tmp_path.glob("*.jsonl"))) == 6
    assert log.memory[-1] < 1.05 * log.memory[2], "memory after the third roast and after the sixth"
    assert median(log.tick[3:]) < 2 * median(log.tick[:3]), "a second costs the same late in the day"


@pytest.mark.long
def test_a_reading_a_second() -> None:
    cost = bench_load.run(3, 20)
    early = median(c for t, c in cost["reading"] if t < 60)
    late = median(c for t, c in cost["reading"] if t > 120)
    assert late < 2.5 * early, "what a reading costs grows little with the roast"
    assert len(cost["correction"]) == 20
