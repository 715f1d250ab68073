"""The forecast of first crack against what a person does in their head, on workshops the estimator knows nothing of.

Run: python tests/bench/bench_forecast.py [workshops] [earlier roasts] [size of the days' differences]
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))

from workshops import workshops

from coach.learn import from_roasts
from coach.session import Coach

LEADS = (180, 150, 120, 90, 60, 30)


def main() -> None:
    """Prints MAE by lead of the coach and of three baselines, and the coverage of the 80 and 50 % intervals."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 20
    earlier = int(sys.argv[2]) if len(sys.argv) > 2 else 4
    size = float(sys.argv[3]) if len(sys.argv) > 3 else 1.0
    rows: dict[int, list[tuple[float, ...]]] = {lead: [] for lead in LEADS}
    spent, entries = 0.0, 0
    for profile, past, live in workshops(11, count, earlier, 4, size):
        knowledge = from_roasts(profile, [d.roast for d in past])
        level = profile.goals["first crack"].temperature
        for day in live:
            crack = day.roast.marks["first crack"]
            base = day.roast.charge_at or 0.0
            coach = Coach(profile, day.header, knowledge)
            queue = list(day.entries)
            for lead in LEADS:
                now = base + crack - lead
                while queue and queue[0].entry.came <= now:
                    t0 = time.perf_counter()
                    n = queue.pop(0)
                    coach.receive(n.entry, n.line)
                    spent += time.perf_counter() - t0
                    entries += 1
                coach.advance(now)
                f = coach.situation.forecast.first_crack
                if f is None:
                    continue
                estimate = coach.situation.estimate
                doubtful = estimate.doubtful if estimate else {}
                r = [x for x in coach.roast.readings if x.line not in doubtful][-2:]
                slope = max((r[1].celsius - r[0].celsius) / (r[1].t - r[0].t), 0.01)
                line = r[1].t + (level - r[1].celsius) / slope
                lag = coach.situation.forecast.lag or 0.0
                plan = profile.goals["first crack"].time
                rows[lead].append(
                    (f.time.median - crack, line - crack, plan + lag - crack, plan - crack,
                     float(f.time.q10 <= crack <= f.time.q90), float(f.time.q25 <= crack <= f.time.q75),
                     f.time.q90 - f.time.q10)
                )  # fmt: skip
    print(" lead    n   coach   bias    line     lag    plan  80 %  50 % width")
    for lead, values in rows.items():
        a = np.array(values)
        if not len(a):
            print(lead, "nothing said")
            continue
        mae = np.abs(a[:, :4]).mean(axis=0)
        print(
            f"{lead:5d} {len(a):4d} {mae[0]:7.1f} {a[:, 0].mean():6.1f} {mae[1]:7.1f} {mae[2]:7.1f} {mae[3]:7.1f} "
            f"{a[:, 4].mean():5.2f} {a[:, 5].mean():5.2f} {a[:, 6].mean():5.1f}"
        )
    print(f"mean time of an entry with its ticks: {1000 * spent / max(entries, 1):.1f} ms over {entries} entries")


if __name__ == "__main__":
    main()
