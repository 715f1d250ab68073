"""Pages as HTML: one file each, no script, nothing fetched, readable in grey and on paper.

Each has its template beside the module that fills it, extends ``text/frame.html`` and uses ``text/parts.html``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any

from markupsafe import Markup

from coach.roast.errors import printable

if TYPE_CHECKING:
    from jinja2 import Environment


@dataclass(frozen=True)
class Table:
    """A table of texts; its first column names the row, the columns in ``numbers`` are set flush right."""

    caption: str
    head: Sequence[str]
    rows: Sequence[Sequence[str]]
    numbers: frozenset[int] = frozenset()


def render(template: str, **values: Any) -> str:
    """A whole page.  Texts are escaped and rid of control characters; a ``Markup`` (a drawing) goes in as it is."""
    return _environment().get_template(template).render(values)


@cache
def _environment() -> Environment:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    return Environment(
        loader=PackageLoader("coach.logbook", ""), autoescape=True, undefined=StrictUndefined, finalize=_shown,
        trim_blocks=True, lstrip_blocks=True,
    )  # fmt: skip


def _shown(value: Any) -> Any:
    return value if isinstance(value, Markup) else printable(str(value))
