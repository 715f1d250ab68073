"""A look at the trier: the colours of a handful of beans in words, and a word of smell.

The handful is drawn from the batch, so beans differ and so do looks: yellow has to be called, not read off.  That
beans go from green over straw, yellow and tan to brown, yellow near 150 °C (quoted 140 to 165), is common practice, no
source; so are the smells.  The temperatures and the spread are our own.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

HANDFUL: Final = 24
"""Beans on the trier."""
SPREAD: Final = 3.5
"""Standard deviation of bean temperature, as far as colour goes, in a batch well turned [K]."""

COLOURS: Final[tuple[tuple[float, str], ...]] = (
    (0.0, "green"),
    (118.0, "pale green"),
    (132.0, "straw"),
    (143.0, "yellow"),
    (158.0, "tan"),
    (172.0, "light brown"),
    (190.0, "brown"),
    (207.0, "dark brown"),
    (222.0, "nearly black"),
)
"""Bean temperature [°C] from which on a bean has a look."""
SMELLS: Final[tuple[tuple[float, str], ...]] = (
    (0.0, "nothing yet"),
    (95.0, "wet hay"),
    (128.0, "dry hay"),
    (144.0, "warm bread"),
    (164.0, "toast"),
    (184.0, "sharp, like vinegar"),
    (197.0, "sweet roast"),
    (214.0, "roast with smoke"),
    (226.0, "smoke"),
)


@dataclass(frozen=True)
class TrierLook:
    """Sight and smell at the trier."""

    words: str
    """Colours, most of them first: 'mostly straw, some yellow'."""
    smell: str


EMPTY: Final = TrierLook("the drum is empty", "warm metal")


def look_at(*, bean: float, rng: np.random.Generator, spread: float = SPREAD, smoke: bool = False) -> TrierLook:
    """A handful of a batch at ``bean`` [°C] whose beans differ by ``spread`` [K]; smoke if something smoulders."""
    beans = bean + spread * rng.standard_normal(HANDFUL)
    kinds = np.searchsorted([c[0] for c in COLOURS], beans, side="right") - 1
    counts = {int(k): int((kinds == k).sum()) for k in np.unique(np.clip(kinds, 0, None))}
    ordered = sorted(counts, key=lambda k: (-counts[k], k))
    smelt = bean + 2.0 * float(rng.standard_normal())
    smell = next(word for start, word in reversed(SMELLS) if smelt >= start or start == 0.0)
    words = _words([(COLOURS[k][1], counts[k]) for k in ordered])
    return TrierLook(words, "acrid smoke" if smoke else smell)


def _words(found: list[tuple[str, int]]) -> str:
    name, count = found[0]
    if count >= HANDFUL - 0.5:
        return f"all {name}"
    text = f"mostly {name}" if count > 0.6 * HANDFUL else f"half {name}" if count >= 0.4 * HANDFUL else name
    rest = [f"{'some' if n >= 4 else 'a few'} {w}" for w, n in found[1:3]]
    return ", ".join([text, *rest])
