"""Roasts as strips of their phases, in the list of the logbook."""

from __future__ import annotations

from dataclasses import replace

import pytest

from coach.logbook.index.listing import listing
from coach.logbook.index.strip import PLAIN, SIGNS, key, scale, strip
from coach.logbook.index.summary import Summary

WHOLE = Summary(
    file="20261102-080000-abcdef.jsonl", moment="2026-11-02T08:00:00", profile="An invented profile", ended="dropped",
    yellow_time=240.0, crack_time=480.0, drop_time=600.0, drop_temperature=212.0, accepted=True,
)  # fmt: skip


def test_phases_are_as_long_as_they_took() -> None:
    assert strip(WHOLE, 61, 600.0, plain=True) == "." * 24 + "-" * 24 + "=" * 12 + "|"
    assert strip(WHOLE, 61, 1200.0, plain=True) == "." * 12 + "-" * 12 + "=" * 6 + "|"
    assert len(strip(WHOLE, 20, 600.0)) == 20
    assert set(strip(WHOLE, 20, 600.0)) == set(SIGNS)


def test_what_is_not_known_is_not_drawn() -> None:
    assert strip(replace(WHOLE, yellow_time=None), 61, 600.0, plain=True) == "-" * 48 + "=" * 12 + "|"
    assert strip(replace(WHOLE, crack_time=None), 61, 600.0, plain=True) == "." * 24 + "-" * 36 + "|"
    assert "|" not in strip(replace(WHOLE, drop_time=None), 61, 600.0, plain=True)
    nothing = replace(WHOLE, crack_time=None, drop_time=None)
    assert strip(nothing, 61, 600.0) == ""
    assert scale([nothing]) == 0.0
    assert strip(WHOLE, 61, 0.0) == ""


def test_the_scale_holds_all_and_says_its_end() -> None:
    rows = [WHOLE, replace(WHOLE, drop_time=601.0)]
    assert scale(rows[:1]) == 600.0
    assert scale(rows) == 660.0
    assert "11:00" in key(660.0)
    assert key(660.0, plain=True).isascii()


def test_marks_out_of_order_break_nothing() -> None:
    mad = replace(WHOLE, yellow_time=590.0, crack_time=100.0, drop_time=50.0)
    assert 0 < len(strip(mad, 30, 600.0)) <= 30


@pytest.mark.parametrize("width", [80, 100, 140])
@pytest.mark.parametrize("plain", [False, True])
def test_the_list_has_them_where_there_is_room(width: int, plain: bool) -> None:
    late = replace(WHOLE, crack_time=500.0, drop_time=620.0)
    idle = replace(WHOLE, yellow_time=None, crack_time=None, drop_time=None, ended="not charged", accepted=None)
    lines = listing([WHOLE, late, idle], width, plain)
    assert max(map(len, lines)) <= width
    assert WHOLE.profile in "\n".join(lines), "what has no room in the row stands below it"
    lines = [line for line in lines if not line.startswith("    ")]
    assert lines[0].rstrip().endswith("phases")
    stop = (PLAIN if plain else SIGNS)[3]
    ends = [line.rindex(stop) for line in lines[1:3]]
    assert ends[0] < ends[1], "on one scale"
    assert stop not in lines[3]
    assert all(x in lines[-1] for x in (PLAIN if plain else SIGNS))
    columns = lines[0].index("phases")
    if plain:
        assert all(line[columns:].isascii() for line in lines)


def test_a_list_without_a_drop_has_none() -> None:
    idle = replace(WHOLE, yellow_time=None, crack_time=None, drop_time=None, ended="not charged")
    assert "phases" not in "\n".join(listing([idle], 120))
