"""The pictures of a roast, as text."""

from __future__ import annotations

from dataclasses import replace

import still

from coach.app.screens.palette import LOOKS, Sketch
from coach.app.screens.roast_pictures import curve_picture
from coach.roast.entries import Reading
from coach.roast.roast import Numbered, placed


def test_a_slip_of_the_fingers_does_not_squeeze_the_temperature() -> None:
    s = still.near_plan()
    assert s.estimate is not None
    found = placed(Numbered(99, Reading(at=340.0, temperature=1985.0)), 0.0, s.roast.header)
    assert found is not None
    roast = replace(s.roast, readings=(*s.roast.readings, found[1]))
    estimate = replace(s.estimate, doubtful={**s.estimate.doubtful, 99: "outside what a probe can show"})
    how = Sketch(LOOKS["dark"])
    before = curve_picture(s, 80, 12, how).plain.splitlines()
    after = curve_picture(replace(s, roast=roast, estimate=estimate), 80, 12, how).plain.splitlines()
    assert [x[:6] for x in after] == [x[:6] for x in before], "the scale stays"
    assert "?" in after[0], "and the slip is shown at the edge"
