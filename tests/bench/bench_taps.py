"""First crack from taps: how alike two people call it, how far off, how soon, and what strays do.

    python tests/bench/bench_taps.py [roasts] [--development]

The growth of a call dated by growth was chosen on the roasts of DEVELOPMENT; figures are told of those of REPORT.
Two people tap the same simulated pops.  'within 5 s': share of roasts in which their onsets differ by 5 s or less, and
in brackets the share where both stop tapping at the call and the crack is marked where it is put then.  The simulated
onset is the moment at which 2 % of the beans have cracked.  One line for each setting and each pair of hands.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[2]))

from coach.cues.first_crack_taps import first_call
from coach.roast.profile import Taps
from tests.cues.tappers import BEANS, CAREFUL, DISTRACTED, USUAL, Cracking, Hand, crackings

DEVELOPMENT, REPORT = 21, 73001
SETTINGS = (Taps(), Taps(dated="first tap"),
            Taps(stray=1, cracking=8, threshold=5), Taps(stray=4, cracking=15, threshold=5),
            Taps(stray=2, cracking=30, threshold=6))  # fmt: skip
HANDS = {
    "hear all": (CAREFUL, CAREFUL),
    "2 % missed": (Hand(softest=0.0), Hand(softest=0.0)),
    "miss soft ones": (USUAL, USUAL),
    "10 % missed": (Hand(softest=0.0, missed=0.1),) * 2,
    "usual, distracted": (USUAL, DISTRACTED),
}


def line(name: str, roasts: list[Cracking], hands: tuple[Hand, Hand], settings: Taps) -> str:
    """One row of the table."""
    apart, at_once, error, called = [], [], [], []
    for i, r in enumerate(roasts):
        tapped = [h.tap(r, np.random.default_rng([i, k])) for k, h in enumerate(hands)]
        a, b = (first_call(taps, settings) for taps in tapped)
        if a is None or b is None:
            apart.append(np.inf)
            at_once.append(np.inf)
            continue
        apart.append(abs(a.onset - b.onset))
        c, d = (first_call([t for t in taps if t <= x.at], settings) for taps, x in zip(tapped, (a, b), strict=True))
        assert c is not None
        assert d is not None
        at_once.append(abs(c.onset - d.onset))
        error.append(a.onset - r.onset)
        called.append(a.at - r.onset)
    low, mid, high = np.quantile(error, [0.1, 0.5, 0.9])
    same, soon = np.mean(np.array(apart) <= 5), np.mean(np.array(at_once) <= 5)
    return (
        f"  {name:18} within 5 s {same:.2f} ({soon:.2f})   apart, median {np.median(apart):4.1f} s"
        f"   onset off {mid:+5.1f} s ({low:+.0f} to {high:+.0f})"
        f"   called {np.median(called):+5.1f} s after the true onset"
    )


def false_calls(settings: Taps, runs: int = 10_000) -> str:
    """Calls where there is no crack: five strays at random in a minute, and steady strays for six minutes."""
    rng = np.random.default_rng(3)
    five = np.mean([first_call(rng.uniform(0, 60, 5).tolist(), settings) is not None for _ in range(runs)])
    out = f"  called falsely: five strays at random in a minute {five:.3f}"
    for rate in (1, 2, 3):
        taps = (rng.uniform(0, 360, rng.poisson(6 * rate)).tolist() for _ in range(runs))
        out += f"; {rate}/min for 6 min {np.mean([first_call(t, settings) is not None for t in taps]):.3f}"
    return out


def main() -> None:
    """Print the tables."""
    numbers = [int(a) for a in sys.argv[1:] if not a.startswith("--")]
    count, seed = numbers[0] if numbers else 250, DEVELOPMENT if "--development" in sys.argv else REPORT
    print(f"roasts of seed {seed}")
    for beans in BEANS:
        roasts = list(crackings(count, seed, (beans,)))
        print(
            f"{beans}: {len(roasts)} roasts, {np.median([len(r.pops) for r in roasts]):.0f} pops until 90 s after onset"
        )
        for settings in SETTINGS:
            print(
                f" stray {settings.stray:g}/min, cracking {settings.cracking:g}/min, threshold {settings.threshold:g},"
                f" dated by {settings.dated}"
            )
            for name, hands in HANDS.items():
                print(line(name, roasts, hands, settings))
    for settings in SETTINGS:
        print(f"stray {settings.stray:g}/min, cracking {settings.cracking:g}/min, threshold {settings.threshold:g}")
        print(false_calls(settings))


if __name__ == "__main__":
    main()
