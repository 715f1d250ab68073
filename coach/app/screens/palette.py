"""The looks of the screen: dark, light, high contrast, and the terminal's own colours.

The hues follow Okabe and Ito (2008, Color Universal Design), chosen to be told apart with the common colour-vision
deficiencies.  No meaning rests on a colour alone: every one goes with a sign, a shape or a word.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

if TYPE_CHECKING:
    from textual.theme import Theme

ThemeName = Literal["dark", "light", "contrast", "terminal"]


@dataclass(frozen=True)
class Look:
    """Colours of one theme, as '#rrggbb' or a name that the terminal gives its own colour.

    ``lane`` is the ground of the tolerance band ('' where it is drawn by its edges), ``bar`` that of the first and last
    row.  ``soon``, ``now`` and ``danger`` are grounds, each with its ``..._text``.
    """

    ground: str
    text: str
    soft: str
    faint: str
    bar: str
    lane: str
    today: str
    fan: str
    plan: str
    off: str
    other: str
    good: str
    soon: str
    soon_text: str
    now: str
    now_text: str
    danger: str
    danger_text: str


LOOKS: Final[dict[ThemeName, Look]] = {
    "dark": Look(
        ground="#101418", text="#e8e8e8", soft="#a0a6ac", faint="#7d858c", bar="#1c242b", lane="#173238",
        today="#f0e442", fan="#56b4e9", plan="#a0a6ac", off="#f0a030", other="#f27b3a", good="#3cc49a",
        soon="#164a6b", soon_text="#ffffff", now="#f0a030", now_text="#101418", danger="#ff6a4d",
        danger_text="#101418",
    ),
    "light": Look(
        ground="#fbfaf7", text="#1b1e22", soft="#50565d", faint="#6c737a", bar="#eae8e2", lane="#d3e6e8",
        today="#1b1e22", fan="#005f9c", plan="#6c737a", off="#9a4300", other="#b83200", good="#00674a",
        soon="#0f5c8f", soon_text="#ffffff", now="#f0a030", now_text="#1b1e22", danger="#b3240d",
        danger_text="#ffffff",
    ),
    "contrast": Look(
        ground="#000000", text="#ffffff", soft="#d8d8d8", faint="#b4b4b4", bar="#000000", lane="#003b47",
        today="#ffff00", fan="#7fd4ff", plan="#b4b4b4", off="#ffb84d", other="#ff8a4d", good="#5cf0b8",
        soon="#003d99", soon_text="#ffffff", now="#ffb84d", now_text="#000000", danger="#ff7a61",
        danger_text="#000000",
    ),
    "terminal": Look(
        ground="default", text="default", soft="default", faint="default", bar="default", lane="",
        today="yellow", fan="cyan", plan="default", off="yellow", other="magenta", good="green",
        soon="blue", soon_text="bright_white", now="yellow", now_text="black", danger="red",
        danger_text="bright_white",
    ),
}  # fmt: skip


def theme(name: ThemeName) -> Theme:
    """The look as a theme of the screen library; its variables ``$bar``, ``$rule``, ``$soft`` and ``$off`` are ours."""
    from textual.theme import Theme

    k = LOOKS[name]
    ansi = {"default": "ansi_default"}
    bare = {f: ansi.get(v, f"ansi_{v}") if not v.startswith("#") else v for f, v in vars(k).items() if v}
    return Theme(
        name=f"coach-{name}", primary=bare["fan"], foreground=bare["text"], background=bare["ground"],
        surface=bare["bar"], panel=bare["bar"], dark=name != "light",
        variables={x: bare[y] for x, y in (("bar", "bar"), ("rule", "faint"), ("soft", "soft"), ("off", "off"))},
    )  # fmt: skip


@dataclass(frozen=True)
class Sketch:
    """Style of drawing: colours, plain characters alone or not, ground colours or not."""

    look: Look
    plain: bool = False
    mono: bool = False

    def inks(self) -> dict[str, str]:
        """A style for each name that the pictures use."""
        k = self.look
        lane = {"lane": k.lane} if k.lane and not (self.mono or self.plain) else {}
        return {
            "today": f"bold {k.today}", "fan": k.fan, "plan": k.plan, "edge": k.faint, "tick": k.faint, "label": k.soft,
            "other": f"bold {k.other}", "window": k.text, "doubt": f"bold {k.off}", "now": f"bold {k.today}",
            "heading": f"bold {k.fan}", **lane,
        }  # fmt: skip

    @property
    def grounds(self) -> bool:
        """True if the band can be shaded."""
        return bool(self.look.lane) and not (self.mono or self.plain)

    def urgent(self, urgency: Literal["later", "soon", "now", "danger"]) -> str:
        """Style of what is to be done, by its urgency."""
        k = self.look
        if urgency == "later":
            return k.text
        grounds = {"soon": (k.soon, k.soon_text), "now": (k.now, k.now_text), "danger": (k.danger, k.danger_text)}
        ground, ink = grounds[urgency]
        return "bold reverse" if self.mono else f"bold {ink} on {ground}"
