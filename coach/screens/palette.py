"""The colours of the screen, and the pairs in which text or signs stand on a ground.

Light on dark; the hues are those of Okabe and Ito (2008, Color Universal Design), chosen to be told apart with the
common colour-vision deficiencies.  No meaning rests on a colour alone: every one goes with a sign or a word.
"""

from __future__ import annotations

from typing import Final

GROUND: Final = "#121212"
TEXT: Final = "#e8e8e8"
SOFT: Final = "#9a9a9a"
FAINT: Final = "#7d7d7d"
ORANGE: Final = "#e69f00"
SKY: Final = "#56b4e9"
YELLOW: Final = "#f0e442"
VERMILLION: Final = "#e8702a"

TEXT_PAIRS: Final = (
    (TEXT, GROUND), (GROUND, TEXT), (SOFT, GROUND), (ORANGE, GROUND), (SKY, GROUND), (YELLOW, GROUND),
    (VERMILLION, GROUND), (GROUND, ORANGE), (GROUND, VERMILLION),
)  # fmt: skip
"""Foreground and ground of everything that is read."""
SIGN_PAIRS: Final = ((FAINT, GROUND),)
"""Foreground and ground of what is only seen: the marks of the tolerance band."""
CHART: Final = {"reading": YELLOW, "fan": SKY, "reference": SOFT, "band": FAINT, "other": VERMILLION}
"""What has to be told apart on the chart."""
