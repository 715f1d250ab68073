"""Control charts against published examples, and the share of false signals by simulation."""

from __future__ import annotations

from math import erf, sqrt

import numpy as np
import pytest

from coach.logbook.index.summary import Summary
from coach.logbook.trend import spc
from coach.logbook.trend.trend import FALSE_SIGNALS, QUANTITIES, RUNNING_WIDTHS, WEIGHT, begun, judge, widths

# NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4 (EWMA); its last ten values are those of 6.3.2.2.
NIST = [
    52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5,
    49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1,
]  # fmt: skip
NIST_EWMA = [
    50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33,
    50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99,
]  # fmt: skip
# Montgomery, Introduction to Statistical Quality Control: 30 values, target 10, sigma 1.
MONTGOMERY = [
    9.45, 7.99, 9.29, 11.66, 12.16, 10.18, 8.04, 11.46, 9.20, 10.34, 9.03, 11.47, 10.51, 9.40, 10.08, 9.37, 10.62,
    10.31, 8.52, 10.84, 10.90, 9.33, 12.29, 11.50, 10.60, 11.08, 10.38, 11.62, 11.31, 10.52,
]  # fmt: skip


def test_individuals_of_the_nist_handbook() -> None:
    centre, sigma = np.mean(NIST[10:]), spc.sigma_of_ranges(NIST[10:])  # the handbook rounds d2
    assert centre == pytest.approx(50.81)
    assert (centre - 3 * sigma, centre + 3 * sigma) == pytest.approx(
        (45.8159, 55.8041), abs=0.002
    )  # there with d2 rounded
    assert pytest.approx(1.128, abs=5e-4) == spc.D2


def test_ewma_of_the_nist_handbook() -> None:
    z = spc.ewma(NIST, target=50.0, weight=0.3)
    assert z == pytest.approx(NIST_EWMA, abs=0.0051)
    half = spc.ewma_half_width(sigma=2.0539, weight=0.3, width=3.0)
    assert (50 + half, 50 - half) == pytest.approx((52.5884, 47.4116), abs=1e-4)
    assert all(abs(v - 50) < half for v in z)


def test_montgomery_cusum_signals_at_29() -> None:
    sums = spc.cusum(MONTGOMERY, target=10.0, slack=0.5)
    first = next(i for i, s in enumerate(sums, 1) if s > 5)
    assert first == 29
    assert sums[28] == pytest.approx(5.28)
    assert [s > 0 for s in sums[21:29]] == [False] + 7 * [True], "N+ = 7"
    assert sums[29] == pytest.approx(5.30)
    assert max(spc.cusum([-x for x in MONTGOMERY], target=-10.0, slack=0.5)) == pytest.approx(1.77)
    z = spc.ewma(MONTGOMERY, target=10.0, weight=0.1)
    assert z[:3] == pytest.approx([9.945, 9.7495, 9.70355])


def test_nist_cusum_signals_at_14() -> None:
    x = [
        324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225, 324.600,
        324.625, 325.150, 328.325, 327.250, 327.825, 328.500, 326.675, 327.775, 326.875, 328.350,
    ]  # fmt: skip
    sums = spc.cusum(x, target=325.0, slack=0.3175)  # NIST 6.3.2.3: k = 0.3175, h = 4.1959
    assert [round(s, 2) for s in sums[12:]] == pytest.approx(
        [3.01, 4.94, 7.45, 10.63, 11.99, 14.44, 16.00, 19.04], abs=0.011
    )
    assert next(i for i, s in enumerate(sums, 1) if s > 4.1959) == 14
    assert max(spc.cusum([-v for v in x], target=-325.0, slack=0.3175)) < 4.1959


def test_capability_of_the_nist_handbook() -> None:
    fit = spc.capability([14.0, 16.0, 18.0], 8.0, 20.0)  # NIST 6.1.6: mean 16, standard deviation 2
    assert fit is not None
    assert (fit.cp, fit.cpk) == pytest.approx((1.0, 0.66667), abs=1e-5)
    assert spc.capability([5.0, 5.0], 0, 10) is None
    # 6.1.6 worked interval formula at n = 50
    assert spc.Capability(0.0, 1.33, 50).interval == pytest.approx((1.05, 1.61), abs=0.01)


def ewma_run_length(weight: float, width: float, states: int = 101) -> float:
    """Mean number of values until an EWMA chart with fixed limits signals in a stable process (known sigma).

    Markov chain over ``states`` cells between the limits (Brook and Evans 1972; Lucas and Saccucci 1990).
    """
    limit = spc.ewma_half_width(sigma=1.0, weight=weight, width=width)
    cell = 2 * limit / states
    middles = -limit + (np.arange(states) + 0.5) * cell
    edges = -limit + np.arange(states + 1) * cell
    steps = (edges[None, :] - (1 - weight) * middles[:, None]) / weight
    below = np.vectorize(lambda v: 0.5 * (1 + erf(v / sqrt(2))))(steps)
    chain = np.diff(below, axis=1)
    lengths = np.linalg.solve(np.eye(states) - chain, np.ones(states))
    return float(lengths[states // 2])


@pytest.mark.parametrize(
    ("weight", "width", "length"),
    [(0.1, 2.7, 369), (0.2, 2.7, 238), (0.2, 2.86, 371), (0.2, 2.962, 500), (0.3, 3.0, 465)],
)
def test_run_lengths_of_ewma_charts(weight: float, width: float, length: float) -> None:
    """Zero-shift run lengths computed apart from this code, by another Markov chain."""
    assert ewma_run_length(weight, width) == pytest.approx(length, rel=0.01)


def test_scores_are_standard_normal_from_the_sixth_value_on() -> None:
    rng = np.random.default_rng(3)
    scores = []
    for _ in range(4000):
        x = rng.normal(7.0, 2.0, 6)
        scores.append(spc.normal_score(float(x[5]), float(x[:5].mean()), float(x[:5].std(ddof=1)), 5))
    assert np.mean(scores) == pytest.approx(0.0, abs=0.06)
    assert np.std(scores) == pytest.approx(1.0, abs=0.04)
    assert np.mean(np.abs(scores) > 2.5758) == pytest.approx(0.01, abs=0.005)
    half = spc.value_limit(3.0, 2.0, 8)
    assert spc.normal_score(10.0 + half, 10.0, 2.0, 8) == pytest.approx(3.0)


def _signalled(x: np.ndarray) -> np.ndarray:
    row = Summary(file="x")
    out = np.zeros(len(x), dtype=bool)
    for chart in x.T:
        out |= np.array([bool(p.why) for p in judge([(row, float(v)) for v in chart], x.shape[1])])
    return out


@pytest.mark.parametrize("common", [0.0, 0.7])
def test_at_most_one_stable_roast_in_fifty_is_signalled(common: float) -> None:
    """Nine charts, whole seconds and degrees, together; independent quantities and ones that move together."""
    rng = np.random.default_rng(8)
    early = late = 0
    runs, count = 40, 80
    for _ in range(runs):
        x = common * rng.normal(size=(count, 1)) + np.sqrt(1 - common**2) * rng.normal(size=(count, 9))
        signalled = _signalled(np.round(4 * x))
        early += int(signalled[:20].sum())
        late += int(signalled[20:].sum())
    share = late / (runs * (count - 20))
    assert 0.002 < share <= 0.02
    assert early / (runs * 15) <= 0.02


def test_a_shift_of_two_sigmas_is_found_soon() -> None:
    rng = np.random.default_rng(4)
    waits = []
    for _ in range(40):
        x = rng.normal(size=60)
        x[40:] += 2.0
        points = judge([(Summary(file="x"), float(v)) for v in x], 9)
        found = [i - 40 for i, p in enumerate(points) if p.why and i >= 40]
        waits.append(found[0] if found else 20)
    assert np.median(waits) <= 6


def test_a_drift_is_dated_where_it_began() -> None:
    """The CUSUM's run tells when a shift began (Montgomery: N+ = 7 at value 29, so after 22)."""
    rows = [Summary(file=f"{i}.jsonl") for i in range(30)]
    found = begun(list(zip(rows, [x - 10 for x in MONTGOMERY], strict=True))[:29], up=True)
    assert found is rows[22]
    rng = np.random.default_rng(6)
    rows = [Summary(file=f"{i}.jsonl") for i in range(90)]
    x = rng.normal(size=90)
    x[50:] += 1.3
    drifts = [p for p in judge(list(zip(rows, map(float, x), strict=True)), 9) if p.why == "drifted"]
    assert drifts
    assert drifts[0].since is not None
    assert 45 <= int(drifts[0].since.name) <= 56


def test_nothing_is_judged_before_five_roasts_nor_drift_before_twenty() -> None:
    row = Summary(file="x")
    points = judge([(row, v) for v in (1.0, 2.0, 1.5, 1.2, 1.8, 99.0)], 9)
    assert [p.why for p in points] == ["", "", "", "", "", "outside"]
    assert points[4].centre is None
    slow = [(row, float(v) + 0.25 * i) for i, v in enumerate([0, 1, 0, 1, 0, 1, 0, 1, 0, 1, 0, 1, 0, 1, 0, 1, 0, 1])]
    assert all(p.why != "drifted" for p in judge(slow, 1))
    single, running = widths(9)
    assert 3.0 < single < 3.6
    assert 3.0 < running < 3.6
    assert len(RUNNING_WIDTHS) == len(QUANTITIES), "a width for each number of charts"
    for charts, width in enumerate(RUNNING_WIDTHS, 1):  # each known width gives the run length it is meant for
        length = ewma_run_length(WEIGHT, width, states=61)
        assert length == pytest.approx(2 * charts / FALSE_SIGNALS, rel=0.02)
