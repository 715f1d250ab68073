"""The frame of every page that is written: one file, no script, nothing fetched, readable in grey and on paper."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape
from typing import Final

from coach.roast.errors import printable

STYLE: Final = """
@page { margin: 9mm; }
* { box-sizing: border-box; }
body { font: 15px/1.4 "DejaVu Sans", "Noto Sans", Arial, sans-serif; color: #111; background: #fff;
  margin: 0 auto; padding: 1rem; max-width: 60rem; }
h1 { font-size: 1.35rem; margin: 0 0 .2rem; }
h2 { font-size: 1rem; margin: .7rem 0 .2rem; border-bottom: 1px solid #555; }
p, ul, ol { margin: .2rem 0; }
ul, ol { padding-left: 1.3rem; }
.boxes { list-style: none; padding-left: .2rem; }
table { border-collapse: collapse; margin: .2rem 0; font-size: .84rem; }
caption { text-align: left; font-weight: bold; padding: .2rem 0; }
th, td { text-align: left; padding: .08rem .4rem .08rem 0; border-bottom: 1px solid #bbb; vertical-align: top; }
th[scope=row] { white-space: nowrap; }
th.n, td.n { text-align: right; font-variant-numeric: tabular-nums; white-space: nowrap; }
svg { width: 100%; height: auto; display: block; }
figure { margin: .3rem 0; }
figcaption, .small { font-size: .85rem; color: #333; }
.side { display: grid; grid-template-columns: 1fr 1fr; gap: 0 1.4rem; }
.side > * { min-width: 0; }
.out { font-weight: bold; }
.box { border: 1px solid #333; padding: .2rem .5rem; margin: .3rem 0; }
@media screen and (max-width: 52rem) { .side { grid-template-columns: 1fr; } }
@media print {
  body { font-size: 7.8pt; line-height: 1.15; padding: 0; max-width: none; }
  h1 { font-size: 12.5pt; } h2 { font-size: 8.8pt; margin: 1mm 0 .3mm; }
  table, caption { font-size: 7.6pt; } th, td { padding-top: 0; padding-bottom: 0; }
  .side { grid-template-columns: 1fr 1fr; gap: 0 5mm; }
  figcaption, .small { font-size: 7.3pt; }
}
"""
POLICY: Final = "default-src 'none'; style-src 'unsafe-inline'"
"""The page says itself that nothing may be fetched or run (Content Security Policy)."""


def clean(text: str) -> str:
    """A text for HTML: control characters out, signs escaped."""
    return escape(printable(text))


def page(title: str, body: Iterable[str]) -> str:
    """A whole page.  ``body`` is HTML whose texts have been through ``clean``."""
    return (
        "<!DOCTYPE html>\n"
        '<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{POLICY}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{clean(title)}</title>\n<style>{STYLE}</style>\n</head>\n<body>\n<main>\n"
        + "\n".join(body)
        + "\n</main>\n</body>\n</html>\n"
    )


def table(
    caption: str, head: Sequence[str], rows: Iterable[Sequence[str]], numbers: frozenset[int] = frozenset()
) -> str:
    """A table; its first column names the row; columns in ``numbers`` are set flush right.  Texts are escaped."""

    def kind(i: int) -> str:
        return ' class="n"' if i in numbers else ""

    names = "".join(f'<th scope="col"{kind(i)}>{clean(h) or "&nbsp;"}</th>' for i, h in enumerate(head))
    if head and not head[0]:
        names = f"<td></td>{names.split('</th>', 1)[1]}"
    body = []
    for row in rows:
        cells = [f'<th scope="row">{clean(row[0])}</th>'] if row else []
        cells += [f"<td{kind(i)}>{clean(c)}</td>" for i, c in enumerate(row) if i > 0]
        body.append(f"<tr>{''.join(cells)}</tr>")
    top = f"<caption>{clean(caption)}</caption>" if caption else ""
    return f"<table>{top}<thead><tr>{names}</tr></thead><tbody>{''.join(body)}</tbody></table>"


def items(texts: Iterable[str], ordered: bool = False, boxes: bool = False) -> str:
    """A list of texts; empty where there are none.  ``boxes``: they bring boxes to tick, and need no dots."""
    found = [f"<li>{clean(t)}</li>" for t in texts]
    tag = "ol" if ordered else "ul"
    kind = ' class="boxes" role="list"' if boxes else ""
    return f"<{tag}{kind}>{''.join(found)}</{tag}>" if found else ""


def paragraph(text: str, kind: str = "") -> str:
    """A paragraph; empty where there is no text."""
    attribute = f' class="{kind}"' if kind else ""
    return f"<p{attribute}>{clean(text)}</p>" if text else ""


def figure(svg: str, caption: str) -> str:
    """A picture with its caption."""
    return f"<figure>{svg}<figcaption>{clean(caption)}</figcaption></figure>"
