"""Columns stay in line whatever letters a name has.

Cells by the Unicode Standard: combining marks and zero-width signs take none (UAX 44, general category Mn), East Asian
wide letters two (UAX 11), an emoji with its tone is one of two cells (UTS 51).
"""

from __future__ import annotations

import pytest

from coach.logbook.text.text_table import cut, table


@pytest.mark.parametrize(
    ("name", "cells"),
    [("Cafe\u0301", 4), ("S\u0323antos", 6), ("深煎り", 6), ("a\u0308o\u0308", 2), ("\U0001f44d\U0001f3fd", 2)],
)
def test_a_column_is_as_wide_as_its_cells(name: str, cells: int) -> None:
    head, row, _ = table(["name", "x"], [[name, "|"], ["0123456789", "|"]])
    assert head.index("x") == 12
    assert row == name + " " * (12 - cells) + "|"


def test_what_is_cut_fits_and_keeps_its_accents() -> None:
    assert cut("Cafe\u0301 lot", 8) == "Cafe\u0301 lot"
    assert cut("Cafe\u0301 lot", 5) == "Cafe\u0301…"
    assert cut("深煎り", 4) == "深 …"
