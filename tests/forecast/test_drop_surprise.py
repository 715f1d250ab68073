"""How surprising the end of earlier roasts was widens or narrows what is said of the temperature at drop."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from helpers import ROOT, example
from scipy import stats
from workshops import from_roasts

from coach.forecast.learning import WORTH_LATE, _surprise, lesson
from coach.forecast.predictor import Outlook
from coach.logbook.learning.cache import dump_lesson, load_lesson
from coach.roast.roast import Roast, effective, fold
from coach.session.profile_files import load_profile

PROFILE = load_profile(str(ROOT / "profiles" / "larch-hill.toml"))
ROAST = fold(example().header, effective(example().entries))


def bent(by: float) -> Roast:
    """The example with its last readings off by so many K."""
    last = ROAST.marks["drop"] - 40.0
    return replace(
        ROAST, readings=tuple(replace(r, celsius=r.celsius + (by if r.t > last else 0.0)) for r in ROAST.readings)
    )


def test_the_scale_is_the_posterior_of_a_normals_variance() -> None:
    """By numerical integration: a scaled-inverse-chi-square prior about 1 worth WORTH_LATE values, a normal likelihood;
    the posterior's scale is where that of the variance with its degrees of freedom stands (Gelman et al. 2013, 2.6)."""
    z2 = [0.2, 3.1, 0.8, 5.0]
    v = np.linspace(0.05, 60.0, 600_000)
    prior = stats.invgamma.pdf(v, WORTH_LATE / 2, scale=WORTH_LATE / 2)
    like = np.prod([stats.norm.pdf(np.sqrt(x), scale=np.sqrt(v)) for x in z2], axis=0)
    post = prior * like
    post /= np.trapezoid(post, v)
    mean = float(np.trapezoid(v * post, v))
    df = WORTH_LATE + len(z2)
    assert _surprise(z2) ** 2 == pytest.approx(mean * (df - 2) / df, rel=2e-3)
    assert _surprise([]) == 1.0


def test_an_end_off_the_way_is_a_surprise_and_one_on_it_is_none() -> None:
    plain, off = lesson(PROFILE, ROAST).late, lesson(PROFILE, bent(4.0)).late
    assert plain is not None
    assert off is not None
    assert plain < 2.0 < off
    undropped = replace(ROAST, marks={k: t for k, t in ROAST.marks.items() if k != "drop"})
    assert lesson(PROFILE, undropped).late is None


def test_roasts_that_surprised_widen_the_temperature_at_drop() -> None:
    t = ROAST.marks["drop"] - 60.0
    calm, wild = from_roasts(PROFILE, [ROAST] * 5), from_roasts(PROFILE, [bent(4.0)] * 5)
    assert calm.drop.surprise < wild.drop.surprise
    widths = []
    for factor in (calm.drop.surprise, wild.drop.surprise):
        knowledge = replace(calm, drop=replace(calm.drop, surprise=factor))
        _, forecast = Outlook(PROFILE, knowledge, 1.0).at(t, ROAST.until(t))
        assert forecast.drop is not None
        d = forecast.drop.temperature
        widths.append(d.quantile(0.9) - d.quantile(0.1))
    assert widths[1] > 1.1 * widths[0]


def test_it_is_kept_with_the_lesson() -> None:
    kept = load_lesson(dump_lesson(found := lesson(PROFILE, bent(4.0))))
    assert kept is not None
    assert kept.late == found.late
