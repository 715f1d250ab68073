"""A few kills of the real program while it is typed on; bench_faults.py screen-kills has two hundred."""

from __future__ import annotations

from pathlib import Path

import pytest
from screen_kills import Roast, Tally


@pytest.mark.long
def test_killed_in_mid_roast_and_gone_on_with(tmp_path: Path) -> None:
    tally = Tally()
    roast = Roast(tmp_path, 4, tally, into=380.0)
    roast.live(early=0.0)
    roast.live(early=0.0)
    assert tally.wrong == 0, tally.said()
    assert tally.offered == 2
    assert tally.confirmed >= 2, tally.said()
    assert tally.confirmed <= tally.typed, tally.said()
    path = tmp_path / "roasts" / "left.jsonl"
    some = sorted(roast.confirmed, key=lambda s: s.text)[0]
    kept = [x for x in path.read_text().splitlines(keepends=True) if f'"{some.name}": ' not in x or '"roast"' in x]
    path.write_text("".join(kept))
    roast.look([], [])
    assert any(x.startswith(f"{some} ") for x in tally.lost), "and a lost one would be seen"
    assert tally.wrong > 0


def test_a_rehearsal_killed(tmp_path: Path) -> None:
    tally = Tally()
    Roast(tmp_path, 5, tally, rehearsed=True).live(early=0.0)
    assert tally.wrong == 0, tally.said()
    assert tally.confirmed >= 1
