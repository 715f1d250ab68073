"""Which cue is heard: spacing, once a minute, one repetition, what is held back, what waited too long."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from coach.cues.annunciator import PATIENCE, Heard, Pending, choose
from coach.cues.table import CUES, Priority

HIGH, MEDIUM, LOW = "drop now", "tapped crack", "move due"


def pending(name: str, since: float, *, key: str = "", later: bool = False, worse: bool = False) -> Pending:
    row = CUES[name]
    priority: Priority = row.speaks(later)[1]
    slack = 2.0 if worse or priority == "high" else 60.0
    return Pending(row, priority, since - slack, since, key, later)


def run(
    wants: dict[str, tuple[float, float]],
    until: float = 300.0,
    hushed: tuple[float, float] = (0, -1),
    step: float = 1.0,
) -> list[tuple[float, str]]:
    """Cues that stand unanswered from one time to another; what is heard, second by second."""
    heard, out, at = Heard(), [], 0.0
    while at <= until:
        now = [pending(n, a) for n, (a, b) in wants.items() if a <= at <= b]
        heard, name = choose(now, heard, at, hushed[0] <= at <= hushed[1])
        if name is not None:
            out.append((at, name))
        at += step
    return out


def test_one_sound_and_one_repetition() -> None:
    assert run({MEDIUM: (10, 300)}) == [(10, MEDIUM), (70, MEDIUM)]
    assert run({LOW: (10, 300)}) == [(10, LOW), (70, LOW)]
    assert run({HIGH: (10, 300)}) == [(10, HIGH), (30, HIGH)]


def test_a_cue_that_asks_once_is_not_repeated() -> None:
    assert not CUES["drop near"].again
    assert run({"drop near": (10, 300)}) == [(10, "drop near")]


def test_two_at_once_are_five_seconds_apart_the_urgent_one_first() -> None:
    got = run({LOW: (10, 60), MEDIUM: (10, 60), HIGH: (10, 25)})
    assert got[:3] == [(10, HIGH), (15, MEDIUM), (20, LOW)]


def test_within_a_priority_the_table_decides() -> None:
    names = [n for n, r in CUES.items() if r.priority == "medium"][:3]
    got = run(dict.fromkeys(names, (10, 50)))
    assert [n for _, n in got] == names


def test_an_urgent_one_does_not_break_the_spacing_but_goes_next() -> None:
    assert run({LOW: (10, 60), HIGH: (11, 25)})[:2] == [(10, LOW), (15, HIGH)]


def test_a_cue_that_comes_and_goes_sounds_once_a_minute() -> None:
    heard, times = Heard(), []
    for at in range(0, 600):
        now = [pending("too hot", 20 * (at // 20))] if (at // 10) % 2 == 0 else []
        heard, name = choose(now, heard, float(at), False)
        if name:
            times.append(at)
    assert len(times) <= 10
    assert all(b - a >= 60 for a, b in pairwise(times))


@pytest.mark.parametrize("name", [HIGH, MEDIUM])
def test_later_limit_is_said_once_more_at_once_where_it_is_urgent(name: str) -> None:
    heard = Heard()
    heard, first = choose([pending(name, 10)], heard, 10, False)
    assert first == name
    heard, again = choose([pending(name, 10, later=True)], heard, 16, False)
    assert again == (HIGH if name == HIGH else None)  # the others keep to once a minute
    heard, third = choose([pending(name, 10, later=True)], heard, 22, False)
    assert third is None


def test_an_urgent_one_is_never_dropped_however_many_sounded() -> None:
    heard = Heard(all=tuple(float(t) for t in range(0, 100, 5)))
    assert choose([pending(MEDIUM, 100)], heard, 100, False)[1] is None
    assert choose([pending(LOW, 100)], heard, 100, False)[1] is None
    assert choose([pending(HIGH, 100)], heard, 100, True)[1] == HIGH


def test_room_is_kept_for_what_is_more_urgent() -> None:
    """Ten in ten minutes at most (ANSI/ISA-18.2-2016, 16.4.3)."""
    seven = Heard(all=tuple(10.0 * k for k in range(7)))
    assert choose([pending(LOW, 100)], seven, 100, False)[1] is None
    assert choose([pending(MEDIUM, 100)], seven, 100, False)[1] == MEDIUM
    eight = Heard(all=tuple(10.0 * k for k in range(8)))
    assert choose([pending(MEDIUM, 100)], eight, 100, False)[1] is None
    assert choose([pending(LOW, 700)], seven, 700, False)[1] == LOW  # ten minutes later
    five = Heard(all=tuple(10.0 * k for k in range(5)))
    assert choose([pending("reading due", 100)], five, 100, False)[1] is None  # its own ceiling


def test_a_repetition_leaves_room_for_what_is_new() -> None:
    before = Heard(all=tuple(10.0 * k for k in range(4)))
    once, name = choose([pending(MEDIUM, 50)], before, 50, False)
    assert name == MEDIUM
    assert choose([pending(MEDIUM, 50)], once, 110, False)[1] == MEDIUM
    full = Heard(once.sounds, (*once.all, 60.0))
    assert choose([pending(MEDIUM, 50)], full, 110, False)[1] is None
    assert choose([pending("drop near", 110)], full, 110, False)[1] == "drop near"


def test_low_ones_are_held_while_listening_and_others_are_not() -> None:
    assert run({LOW: (10, 300)}, hushed=(0, 20)) == [(21, LOW), (81, LOW)]
    assert run({LOW: (10, 100)}, hushed=(0, 40)) == []  # waited too long: it stays on the screen
    assert run({MEDIUM: (10, 60)}, hushed=(0, 300)) == [(10, MEDIUM)]


@pytest.mark.parametrize(("name", "priority"), [(LOW, "low"), (MEDIUM, "medium")])
def test_what_waited_too_long_stays_silent(name: str, priority: Priority) -> None:
    wait = PATIENCE[priority]
    assert choose([pending(name, 100)], Heard(), 100 + wait, False)[1] == name
    assert choose([pending(name, 100)], Heard(), 101 + wait, False)[1] is None
    assert choose([pending(HIGH, 100)], Heard(), 400, False)[1] == HIGH


def test_a_new_episode_sounds_again() -> None:
    heard, name = choose([pending(LOW, 10, key="gas 335")], Heard(), 10, False)
    assert name == LOW
    heard, name = choose([pending(LOW, 80, key="gas 484")], heard, 80, False)
    assert name == LOW
    worse = pending(MEDIUM, 200, worse=True)
    heard, _ = choose([pending(MEDIUM, 130)], heard, 130, False)
    assert choose([worse], heard, 200, False)[1] == MEDIUM


def test_after_a_restart_each_sounds_once_more_and_no_more() -> None:
    heard = Heard().after_restart([MEDIUM, LOW])
    times = []
    for at in range(0, 200):
        heard, name = choose([pending(MEDIUM, -100), pending(LOW, -100)], heard, float(at), False)
        if name:
            times.append((at, name))
    assert times == [(0, MEDIUM), (5, LOW)]
    over = Heard().after_restart([MEDIUM])
    over, _ = choose([], over, 0, False)
    assert not over.owed  # answered meanwhile


def test_at_random() -> None:
    """Any mixture of cues that come and go: never two within 5 s, none twice a minute but the urgent, once more."""
    names = [n for n, r in CUES.items() if r.sound != "none"]
    for seed in range(30):
        rng = np.random.default_rng(seed)
        wants = {n: sorted(rng.uniform(0, 600, 2)) for n in rng.choice(names, 10, replace=False)}
        got = run({n: (float(a), float(b)) for n, (a, b) in wants.items()}, 600, (200, 260), step=0.5)
        times = [t for t, _ in got]
        assert all(b - a >= 5 for a, b in pairwise(times))
        for n in set(names):
            mine = [t for t, m in got if m == n]
            assert all(b - a >= (20 if CUES[n].priority == "high" else 60) for a, b in pairwise(mine))
            assert len(mine) <= 2
        for n, (a, b) in wants.items():
            if CUES[n].priority == "high" and b - a > 12:
                assert any(a <= t <= a + 12 for t, m in got if m == n), (seed, n)
        assert not [n for t, n in got if 200 <= t <= 260 and CUES[n].priority == "low"]


def test_ten_in_ten_minutes_holds_late_in_a_roast_and_old_sounds_make_room() -> None:
    seven = Heard(all=tuple(1000.0 + 10.0 * k for k in range(7)))
    assert choose([pending(LOW, 1100)], seven, 1100, False)[1] is None
    assert choose([pending(LOW, 1661)], seven, 1661, False)[1] == LOW


@pytest.mark.parametrize("restarted", [False, True])
def test_what_was_first_heard_beyond_its_later_limit_is_not_said_again_for_that(restarted: bool) -> None:
    heard = Heard().after_restart([HIGH]) if restarted else Heard()
    heard, first = choose([pending(HIGH, 10, later=True)], heard, 10, False)
    assert first == HIGH
    for at in range(11, 30):
        heard, again = choose([pending(HIGH, 10, later=True)], heard, float(at), False)
        assert again is None, at


def test_a_cue_never_heard_was_last_heard_long_ago() -> None:
    assert Heard().last(LOW) == -np.inf
    assert choose([pending(LOW, 20)], Heard(), 20, False)[0].last(LOW) == 20
