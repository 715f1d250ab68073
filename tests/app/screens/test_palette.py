"""The colours against published formulas.

Contrast: relative luminance and contrast ratio of WCAG 2.2 (W3C Recommendation 2023), with the ratios the standard and
its techniques print.  Colour vision: the matrices of Machado, Oliveira and Fernandes 2009 (IEEE TVCG 15:1291, table 1,
severity 1.0), on linear RGB, and the difference of CIE 1976 L*a*b* (ISO/CIE 11664-4); both are compared with the
library colorspacious, which carries the published tables for every severity.
"""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from colorspacious import cspace_convert, machado_et_al_2009_matrix
from numpy.typing import NDArray

from coach.app.screens.palette import LOOKS, Look, ThemeName

Array = NDArray[np.float64]
OWN: tuple[ThemeName, ...] = ("dark", "light", "contrast")
"""The themes with colours of our own; the fourth has the terminal's."""
KINDS = {"protanopia": "protanomaly", "deuteranopia": "deuteranomaly", "tritanopia": "tritanomaly"}
DEFICIENT = {
    "protanopia": [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]],
    "deuteranopia": [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.01182, 0.04294, 0.968881]],
    "tritanopia": [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.3039]],
}


def linear(colour: str) -> Array:
    c = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255
    return np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)


def contrast(a: str, b: str) -> float:
    x, y = sorted((float(linear(c) @ [0.2126, 0.7152, 0.0722]) for c in (a, b)), reverse=True)
    return (x + 0.05) / (y + 0.05)


def lab(rgb: Array) -> Array:
    to_xyz = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
    f = np.cbrt(to_xyz @ np.clip(rgb, 0, 1) / [0.9505, 1.0, 1.089])
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


@pytest.mark.parametrize(
    ("a", "b", "ratio"),
    [
        ("#000000", "#ffffff", 21.0),  # WCAG 2.2, definition of contrast ratio: 1 to 21
        ("#ffffff", "#ffffff", 1.0),
        ("#777777", "#ffffff", 4.48),  # the grey that just fails 4.5:1 on white, as in the understanding documents
        ("#767676", "#ffffff", 4.54),  # and the one that just passes
    ],
)
def test_the_formula_gives_the_published_ratios(a: str, b: str, ratio: float) -> None:
    assert contrast(a, b) == pytest.approx(ratio, abs=0.005)


def text_pairs(k: Look) -> tuple[tuple[str, str], ...]:
    """Foreground and ground of everything that is read."""
    plain = (k.text, k.soft, k.off, k.fan, k.today, k.good)
    return (
        *((c, k.ground) for c in plain), *((c, k.bar) for c in (k.text, k.soft, k.good, k.today)),
        *((c, k.lane) for c in (k.text, k.off) if k.lane),
        (k.soon_text, k.soon), (k.now_text, k.now), (k.danger_text, k.danger),
    )  # fmt: skip


def sign_pairs(k: Look) -> tuple[tuple[str, str], ...]:
    """Foreground and ground of what is only seen: lines, dots and ticks."""
    grounds = [k.ground, *([k.lane] if k.lane else [])]
    return tuple((c, g) for c in (k.faint, k.plan, k.today, k.fan, k.other) for g in grounds)


def chart(k: Look) -> dict[str, str]:
    """Colours that must be told apart in the pictures, by name."""
    return {"today": k.today, "fan": k.fan, "plan": k.plan, "other": k.other}


@pytest.mark.parametrize("name", OWN)
def test_text_and_signs_stand_out(name: ThemeName) -> None:
    look, text = LOOKS[name], 7.0 if name == "contrast" else 4.5
    low = {pair: round(contrast(*pair), 1) for pair in text_pairs(look) if contrast(*pair) < text}
    assert not low, "WCAG 2.2, 1.4.3: text 4.5:1; 1.4.6: 7:1 where more is promised"
    low = {pair: round(contrast(*pair), 1) for pair in sign_pairs(look) if contrast(*pair) < 3.0}
    assert not low, "WCAG 2.2, 1.4.11: graphics 3:1"


def test_colours_stand_in_the_palette_alone() -> None:
    import re
    from pathlib import Path

    import coach.app.screens

    for path in Path(coach.app.screens.__file__).parent.glob("*.py"):
        assert path.name == "palette.py" or not re.findall(r"#[0-9a-f]{6}\b", path.read_text()), path.name


@pytest.mark.parametrize("kind", list(DEFICIENT))
def test_the_matrices_are_the_published_ones(kind: str) -> None:
    assert np.array(DEFICIENT[kind]) == pytest.approx(machado_et_al_2009_matrix(KINDS[kind], 100), abs=1e-9)


def test_lightness_and_hue_are_those_of_the_library() -> None:
    for colour in (c for name in OWN for c in chart(LOOKS[name]).values()):
        rgb = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        assert lab(linear(colour)) == pytest.approx(cspace_convert(rgb, "sRGB1", "CIELab"), abs=0.1)


@pytest.mark.parametrize("severity", [50, 100])
@pytest.mark.parametrize("kind", list(DEFICIENT))
def test_chart_colours_are_told_apart_with_deficient_colour_vision(kind: str, severity: int) -> None:
    matrix = machado_et_al_2009_matrix(KINDS[kind], severity)
    assert matrix.sum(axis=1) == pytest.approx(1.0, abs=2e-6)  # white stays white
    for name in OWN:
        for (a, x), (b, y) in combinations(chart(LOOKS[name]).items(), 2):
            difference = float(np.linalg.norm(lab(matrix @ linear(x)) - lab(matrix @ linear(y))))
            assert difference > 15.0, (name, a, b, kind)


def test_nothing_blinks() -> None:
    from pathlib import Path

    import coach.app.screens

    for path in Path(coach.app.screens.__file__).parent.glob("*.py"):
        assert "blink" not in path.read_text().lower()
