"""Pictures as SVG through matplotlib: fixed sizes, no colour needed to tell things apart, the same bytes each time."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, Final

from markupsafe import Markup, escape

from coach.roast.units import clock

if TYPE_CHECKING:
    from matplotlib.figure import Figure

SETTINGS: Any = {
    "svg.fonttype": "none", "svg.hashsalt": "coach", "font.family": "sans-serif",
    "font.sans-serif": ["DejaVu Sans"], "font.size": 8, "axes.linewidth": 0.7, "axes.grid": True,
    "grid.color": "#cccccc", "grid.linewidth": 0.4, "axes.spines.top": False, "axes.spines.right": False,
    "legend.fontsize": 7, "legend.frameon": False, "lines.linewidth": 1.2, "path.simplify": True,
}  # fmt: skip
DARK: Final = "#111111"
MIDDLE: Final = "#6a6a6a"
LIGHT: Final = "#d9d9d9"
ACCENT: Final = "#0b5fa5"
"""Used beside shape or line style, never alone: as dark as MIDDLE in grey."""


@contextmanager
def drawing(width: float, height: float, rows: int = 1, columns: int = 1, **more: Any) -> Iterator[tuple[Figure, Any]]:
    """A figure of ``width`` x ``height`` inches with its axes."""
    import matplotlib

    matplotlib.use("svg", force=False)
    from matplotlib.backends.backend_svg import FigureCanvasSVG
    from matplotlib.figure import Figure

    with matplotlib.rc_context(SETTINGS):
        figure = Figure(figsize=(width, height), layout="constrained")
        FigureCanvasSVG(figure)
        yield figure, figure.subplots(rows, columns, **more)


def svg(figure: Figure, name: str, title: str) -> Markup:
    """A figure as an element for a page: ``name`` keeps its ids apart from other pictures', ``title`` is read out."""
    import matplotlib

    out = io.StringIO()
    with matplotlib.rc_context(SETTINGS):
        figure.savefig(out, format="svg", metadata={"Date": None, "Creator": None, "Format": None, "Type": None})
    text = out.getvalue()
    text = text[text.index("<svg") :]
    text = re.sub(r"<metadata>.*?</metadata>", "", text, flags=re.S)
    text = re.sub(r"<!--.*?-->\n?", "", text, flags=re.S)
    text = re.sub(r'\bid="', f'id="{name}-', text)
    text = re.sub(r'(xlink:href="#|url\(#)', rf"\g<1>{name}-", text)
    head, rest = text.split(">", 1)
    head = re.sub(r'\s(width|height)="[^"]*"', "", head)
    return Markup(f'{head} role="img" aria-label="{escape(title)}">{rest}')


def clock_axis(axis: Any, end: float | None = None) -> None:
    """Ticks of an axis of times (s) as m:ss: each minute or two where it goes from charge to an ``end``."""
    from matplotlib.ticker import FuncFormatter, MaxNLocator, MultipleLocator

    few, even = MaxNLocator(5, steps=[1, 1.5, 2, 3, 6, 10]), MultipleLocator(60 if (end or 0.0) < 900 else 120)
    axis.set_major_locator(few if end is None else even)
    axis.set_major_formatter(FuncFormatter(lambda s, _: clock(s)))
