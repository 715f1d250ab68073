"""What somebody could forecast who knows the roaster's equations and parameters, and sees no more than the coach: the
readings and moves typed until then.

Run: python tests/bench/bench_oracle.py third [--places 14] [--live 4] [--seed 2042]

Days are drawn with the moves logged until then, the coming ones as that person makes them; the crack is regressed on
what the dial shows at the readings, which is the update of an ensemble Kalman filter (Evensen, Journal of Geophysical
Research 99, 1994; from memory).
"""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path
from typing import Any, Final

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).parent))

import other_roaster
import third_roaster
from bench_dials import LEADS, MAKE, told
from dials import FLICKER, LATE, reread
from workshops import Day

from coach.forecast.learning import from_lessons, lesson
from coach.roast.entries import Move
from coach.roast.profile import Profile

Array = NDArray[np.float64]
DRAWN: Final = 300
AHEAD: Final = 330.0
"""A crack later than this after the forecast counts as one at its end, s."""
AFTER_TURN: Final = 0.55
"""Mean time from a turn to its key, s: half of the display's refresh, and the reaction."""
Event = tuple[float, int, str, float]
"""(time s, drawn day, "gas", "air" or "corrects", value)."""


def plan_of(kit: object) -> tuple[list[tuple[float, str, float]], float]:
    """The planned moves, and the full pressure."""
    if isinstance(kit, other_roaster.Kit):
        return [(t, "gas", v) for t, v in kit.gas] + [(t, "air", v) for t, v in kit.air], kit.top
    assert isinstance(kit, third_roaster.Kits)
    return third_roaster.plan_of(kit, 0), float(kit.top[0])


def start(kit: object, rng: np.random.Generator) -> other_roaster.Roasts | third_roaster.Roasts:
    """DRAWN usual days of one roaster, at charge."""
    if isinstance(kit, other_roaster.Kit):
        days = [other_roaster.a_day(rng, 1.0) for _ in range(DRAWN)]
        fields: dict[str, Any] = {
            f: np.array([getattr(d, f) for d in days]) for f in other_roaster.Today.__dataclass_fields__
        }
        return other_roaster.Roasts(kit, other_roaster.Today(**fields))
    assert isinstance(kit, third_roaster.Kits)
    rows = third_roaster.take(kit, np.zeros(DRAWN, dtype=int))
    return third_roaster.Roasts(rows, third_roaster.draw_days(rng, DRAWN, 1.0))


def moves(kit: object, day: Day, now: float, rng: np.random.Generator) -> list[Event]:
    """The logged moves, and those to come, drawn for each day: planned ones late or left out, perhaps a correction."""
    charge = day.roast.charge_at or 0.0
    logged = [(n.entry.at - charge, n.entry.control, n.entry.value) for n in day.entries
              if isinstance(n.entry, Move) and n.entry.at - charge <= now]  # fmt: skip
    out: list[Event] = [(t, i, c, v) for t, c, v in logged for i in range(DRAWN)]
    for at, control, value in plan_of(kit)[0]:
        made = [m for m in logged if m[1] == control and abs(m[2] - value) < 1e-9 and -0.2 <= m[0] - at <= 47]
        if made:
            logged.remove(made[0])
            continue
        for i in range(DRAWN):
            late = float(rng.uniform(0, 6)) + (float(rng.uniform(10, 40)) if rng.random() < 0.15 else 0.0)
            if at + late > now and rng.random() > 0.05:
                out.append((at + late, i, control, value))
    left = max(400.0 - max(now, 200.0), 0.0) / 200.0  # of the time in which a correction may come
    if not any(c == "gas" for _, c, _ in logged):
        for i in map(int, np.flatnonzero(rng.random(DRAWN) < left / (1 + left))):
            out.append((float(rng.uniform(max(now, 200), 400)), i, "corrects", float(rng.normal(0, 0.05))))
    return sorted(out)


def said(kit: object, profile: Profile, day: Day, now: float, rng: np.random.Generator) -> float:
    """The oracle's first crack (roast time, s), forecast at ``now`` (s); nan where too little was read."""
    roasts, queue, top = start(kit, rng), moves(kit, day, now, rng), plan_of(kit)[1]
    first = {c: v for t, c, v in plan_of(kit)[0] if t == 0}
    gas, air = np.full(DRAWN, first["gas"]), np.full(DRAWN, first["air"])
    dial = np.zeros((int(now + AHEAD), DRAWN))
    for t in range(len(dial)):
        dial[t] = roasts.dial
        while queue and queue[0][0] <= t:
            at, i, control, value = queue.pop(0)
            if control == "corrects":
                off = dial[t, i] - profile.curve.value(at)
                gas[i] = min(gas[i] * np.exp(-0.03 * off + value), top)
            else:
                (gas if control == "gas" else air)[i] = value
        roasts.step(gas, air)
    crack = np.minimum(roasts.cracked, len(dial)) + np.maximum(rng.normal(4, 2, DRAWN), 0)
    still = crack > now
    shows, read, doubt = [], [], []
    for r in day.roast.readings:
        if not 40 < r.t <= now:
            continue
        slope = profile.curve.slope(r.t)
        at = r.t - (AFTER_TURN if r.turned else LATE[0])
        value = r.celsius - (float(np.copysign(day.roast.rounding / 2, slope)) if r.turned else 0.0)
        noise = FLICKER**2 + ((0.2 * slope) ** 2 if r.turned else day.roast.rounding**2 / 12 + (LATE[1] * slope) ** 2)
        x = dial[int(at), still] * (1 - at % 1) + dial[int(at) + 1, still] * (at % 1)
        if abs(value - x.mean()) <= 4 * np.sqrt(x.var() + noise) + day.roast.rounding:  # else mistyped
            shows.append(x - x.mean())
            read.append(value - x.mean())
            doubt.append(noise)
    if len(read) < 2 or still.sum() < DRAWN / 10:
        return float("nan")
    A, y = np.array(shows), crack[still]
    gain = np.linalg.solve(A @ A.T / len(y) + np.diag(doubt), A @ (y - y.mean()) / len(y))
    return float(y.mean() + gain @ np.array(read))


def main() -> None:
    """Run and print."""
    p = argparse.ArgumentParser()
    p.add_argument("roaster", choices=["other", "third"])
    p.add_argument("--places", type=int, default=14)
    p.add_argument("--live", type=int, default=4)
    p.add_argument("--seed", type=int, default=2042)
    a = p.parse_args()
    rows: list[Any] = []
    for number in range(a.places):
        w = MAKE[a.roaster](a.seed, number, 4, a.live)
        if not isinstance(w, other_roaster.Place):
            continue
        rng = np.random.default_rng([a.seed, number, 77])
        days = [reread(d, "turned", rng) for d in w.live]
        lessons = [lesson(w.profile, reread(d, "turned", rng).roast) for d in w.earlier]
        knowledge = from_lessons(w.profile, lessons)
        for d in days:
            coach, crack = told(w.profile, knowledge, d), d.roast.marks["first crack"]
            oracle = [said(w.kit, w.profile, d, crack - lead, rng) - crack for lead in LEADS]
            rows.append((coach.off, coach.floor, oracle))
    print(f"{len(rows)} roasts, turned; mean miss, s   " + " ".join(f"{lead:4d} s" for lead in LEADS))
    for name, miss in zip(("coach", "floor", "oracle"), np.nanmean(np.abs(rows), axis=0), strict=True):
        print(f"{name:8s}" + " ".join(f"{x:6.2f}" for x in miss))


if __name__ == "__main__":
    main()
