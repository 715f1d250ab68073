"""An unfinished roast as it is offered, and the choices that a person has about such roasts before the next one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final, Literal

from coach.roast.units import clock

if TYPE_CHECKING:
    from coach.roast.roast import Phase

RESUMABLE: Final = 3 * 3600.0
"""Age of a roast up to which it may still be running and can be gone on with, s."""
FRESH: Final = 1800.0
"""Age of a roast up to which somebody is most likely at it, s."""


@dataclass(frozen=True)
class Offer:
    """An unfinished roast: its journal, its ``age`` since it was opened (s), the number of its entries and files, the
    name of its profile, its phase, and the roast time ``reached`` by its last entry (s).  ``charged``: it was charged;
    ``in_use``: another coach has it open; ``elsewhere``: it may run on another computer."""

    path: Path
    age: float
    entries: int
    charged: bool
    in_use: bool
    files: int = 1
    profile: str = ""
    phase: Phase = "waiting"
    reached: float = 0.0
    elsewhere: bool = False

    @property
    def resumable(self) -> bool:
        """True if the roast may still be running."""
        return self.age < RESUMABLE

    @property
    def fresh(self) -> bool:
        """True if somebody is most likely at it: the beans in the drum, or the drum warming."""
        return self.age < FRESH


Act = Literal["begin", "go on", "look on", "close", "choose"]


GO_ON: Final[tuple[Act, str]] = ("go on", "goes on with")
LOOK_ON: Final[tuple[Act, str]] = ("look on", "looks on at")
"""The act of Enter for a roast that may be running, and its words."""


@dataclass(frozen=True)
class Choice:
    """One choice of a person on the page before the roast: its key, its act, the roast that it is about, its text.

    Where ``confirm`` is not '' the key's capital must follow it at once, and that text is shown in between.
    """

    key: str
    act: Act
    offer: Offer | None
    text: str
    confirm: str = ""


def choices(offers: Sequence[Offer] | None, chosen: int = 0, profile: str = "") -> tuple[Choice, ...]:
    """The choices before a roast, Enter's first; none while the folder is not read yet (``offers`` None).

    Enter never begins a roast beside one that may still be running; a key of its own does.  ``chosen``: place of the
    offer that Enter and x mean; ``profile``: name of the profile that is followed.
    """
    if offers is None:
        return ()
    begins = Choice("enter", "begin", None, "begins the roast")
    if not offers:
        return (begins,)
    meant = offers[min(chosen, len(offers) - 1)]
    going = meant if meant.resumable else next((o for o in offers if o.resumable), None)
    out: list[Choice] = []
    if going is None:
        out.append(begins)
    else:
        act, does = LOOK_ON if going.in_use else GO_ON
        out.append(Choice("enter", act, going, f"{does} {name_of(going, profile)}"))
        beside = f"{name_of(going, profile)} may be running. Shift+N begins a second roast beside it."
        out.append(Choice("n", "begin", None, "begins a new roast", beside))
    if not meant.in_use:
        sure = f"Shift+X closes {name_of(meant, profile)} without a drop."
        out.append(Choice("x", "close", meant, f"closes {name_of(meant, profile)} without a drop", sure))
    if len(offers) > 1:
        following = offers[(offers.index(meant) + 1) % len(offers)]
        out.append(Choice("o", "choose", following, f"chooses the next: {name_of(following, profile)}"))
    return tuple(out)


def name_of(offer: Offer, profile: str = "") -> str:
    """An unfinished roast in a few words: its profile unless it is the one that is followed, and its age."""
    called = offer.profile if offer.profile and offer.profile != profile else "the roast"
    return f"{called} opened {ago(offer.age)} ago"


def ago(age: float) -> str:
    """A time span ``age`` (s) in words."""
    if age < RESUMABLE:
        return clock(max(age, 0.0))
    return f"{age / 3600:.0f} hours" if age < 48 * 3600 else f"{age / 86400:.0f} days"


def described(offer: Offer, profile: str = "") -> str:
    """An unfinished roast in one line."""
    stage = "before charge" if not offer.charged else f"in mid-roast ({offer.phase}, last entry {clock(offer.reached)})"
    what = f"{offer.entries} entries, opened {ago(offer.age)} ago, {stage}"
    if offer.profile and offer.profile != profile:
        what = f"{offer.profile}: {what}"
    if offer.files > 1:
        which = "the one that is open" if offer.in_use else "the fullest"
        what += f"; {which} of {offer.files} files of it, the others stay as they are"
    if offer.in_use:
        what += "; open in another coach"
    elif offer.elsewhere:
        what += "; opened before this computer was switched on, or on another one: close it there first"
    return what
