"""The roast's clock across restarts: sleep, clocks set back and forward, another computer start."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone
from typing import Any

import pytest

from coach.roast.entries import Header
from coach.session.roast_clock import Now, elapsed, right_now, stopwatch, uptime

START = datetime(2026, 10, 25, 0, 50, tzinfo=UTC)


def header(**extra: Any) -> Header:
    return Header(id="x", started=START.isoformat(), **extra)


def test_the_clock_that_nobody_sets_is_believed() -> None:
    h = header(boot="abc", uptime=1000.0)
    for wall in (-7200.0, 0.0, 300.0, 9000.0):  # the wall clock set back, or forward, in mid-roast
        now = Now(START + timedelta(seconds=wall), 1300.0, "abc")
        assert elapsed(h, 250.0, now) == (300.0, "")


def test_after_another_start_of_the_computer_the_wall_clock_counts() -> None:
    h = header(boot="abc", uptime=1000.0)
    now = Now(START + timedelta(seconds=400), 20.0, "def")
    assert elapsed(h, 250.0, now) == (400.0, "")


def test_a_wall_clock_set_back_then_goes_on_from_the_last_entry_and_says_so() -> None:
    now = Now(START + timedelta(seconds=-3000), 20.0, "def")
    seconds, word = elapsed(header(boot="abc", uptime=1000.0), 250.0, now)
    assert seconds == 250.0
    assert "set back" in word


def test_daylight_saving_changes_nothing() -> None:
    summer = START.astimezone(timezone(timedelta(hours=2)))
    h = Header(id="x", started=summer.isoformat())
    winter = (START + timedelta(seconds=1200)).astimezone(timezone(timedelta(hours=1)))
    assert elapsed(h, 0.0, Now(winter, 5.0)) == (1200.0, "")


@pytest.mark.parametrize("extra", [{}, {"boot": "", "uptime": 5.0}, {"boot": "abc"}, {"boot": "abc", "uptime": "x"}])
def test_headers_without_usable_clocks(extra: dict[str, Any]) -> None:
    now = Now(START + timedelta(seconds=60), 1e6, "abc")
    assert elapsed(header(**extra), 0.0, now) == (60.0, "")


def test_a_start_without_zone_is_of_the_world_clock() -> None:
    there, here = (Header(id="x", started=f"2026-10-25T00:50:00{zone}") for zone in ("+00:00", ""))
    now = Now(there.moment + timedelta(seconds=90), 5.0)
    assert elapsed(here, 0.0, now) == elapsed(there, 0.0, now) == (90.0, "")


def test_the_clocks_of_this_computer() -> None:
    a, b = right_now(), right_now()
    assert b.uptime >= a.uptime > 0
    assert a.wall.tzinfo is not None
    watch = stopwatch(100.0)
    assert 100.0 <= watch() < 101.0
    assert uptime() >= b.uptime
