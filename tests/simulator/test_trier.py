"""The trier: order of colours, spread between beans and between looks."""

from __future__ import annotations

import numpy as np
import pytest

from coach.simulator.roaster import YELLOW
from coach.simulator.trier import COLOURS, SMELLS, TrierLook, look_at


def looks(bean: float, count: int = 40) -> list[TrierLook]:
    return [look_at(bean=bean, rng=np.random.default_rng([n, 1])) for n in range(count)]


def test_colours_come_in_order_with_the_bean_temperature() -> None:
    names = [c[1] for c in COLOURS]
    found = [look_at(bean=float(b), rng=np.random.default_rng(3), spread=0.1).words for b in range(81, 240, 4)]
    first = [names.index(words.removeprefix("all ")) for words in found]
    assert first == sorted(first)
    assert set(first) == set(range(len(names)))


def test_yellow_has_to_be_called() -> None:
    """Around the true yellow looks differ; well before it nothing is all yellow, at it most are."""
    assert all("yellow" not in look.words for look in looks(YELLOW - 25))
    before = [look.words for look in looks(YELLOW - 6)]
    assert len(set(before)) >= 3
    assert not any(w == "all yellow" for w in before)
    at = [look.words for look in looks(YELLOW)]
    assert sum(w.startswith(("all yellow", "mostly yellow")) for w in at) >= 38
    assert len(set(at)) >= 2


@pytest.mark.parametrize(("bean", "smell"), [(60.0, SMELLS[0][1]), (110.0, "wet hay"), (205.0, "sweet roast")])
def test_smell_goes_with_the_bean(bean: float, smell: str) -> None:
    found = [look.smell for look in looks(bean)]
    assert found.count(smell) > 30


def test_smoulder_smells_of_smoke_at_any_temperature() -> None:
    assert look_at(bean=120.0, rng=np.random.default_rng(0), smoke=True).smell == "acrid smoke"


def test_same_draw_same_look() -> None:
    assert looks(151.0) == looks(151.0)
