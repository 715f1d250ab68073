"""Choices before the roast as a state machine: unfinished roasts are offered, and keys stand for choices."""

from __future__ import annotations

from pathlib import Path

from coach.session.offers import Act, Choice, Offer, choices


class Choosing:
    """Takes keys, with no screen, no disk and no clock.

    ``offers``: the unfinished roasts, None while the folder is not read yet (nothing begins before).  Letters may be
    those of a line that is meant for the roast: what could harm one is confirmed by the key's capital.
    """

    def __init__(self, profile: str = "", offers: tuple[Offer, ...] | None = None) -> None:
        self.profile = profile
        self.offers = offers
        self.chosen = 0
        self.message = ""
        """The words beside the keys."""
        self._closed: set[Path] = set()
        self._before = ""
        """The key pressed last: its capital confirms some."""
        self.ahead: list[tuple[str, str, float]] | None = None
        """Keys, signs and times (s) typed while a roast is looked for or opened: they are for its entry line.  None
        while none is."""

    @property
    def offer(self) -> Offer | None:
        """The unfinished roast that Enter or x means; None where there is none."""
        return self.offers[min(self.chosen, len(self.offers) - 1)] if self.offers else None

    @property
    def choices(self) -> tuple[Choice, ...]:
        """The present choices, Enter's first."""
        return choices(self.offers, self.chosen, self.profile)

    @property
    def enters(self) -> Act | None:
        """The act of Enter; None while it is not known."""
        return next((c.act for c in self.choices), None)

    @property
    def resumes(self) -> bool:
        """True if Enter goes on with, or looks on at, a roast that may still be running."""
        return self.enters in ("go on", "look on")

    def press(self, key: str) -> Choice | None:
        """Take a key (its character, or its name); return the choice to be carried out, if it is one."""
        if self.offers is None:
            if key == "enter":
                self.ahead, self.message = [], "Looking for a roast that runs…"
            return None
        confirmed = self._before == key.swapcase() != key  # with Caps Lock on, Shift makes the small letter
        choice = next((c for c in self.choices if c.key == key.lower()), None)
        self._before = key
        if choice is None:
            return None
        if choice.confirm and not confirmed:  # a word may hold "nn", at any pace, but hardly "nN"
            self.message = choice.confirm
            return None
        self._before = ""
        if choice.act == "choose" and choice.offer is not None:
            self.chosen = self.offers.index(choice.offer)
            return None
        return choice

    def found(self, offers: tuple[Offer, ...]) -> Choice | None:
        """Take the unfinished roasts of the folder; return the choice of an Enter that waited for them."""
        waited, meant = self.offers is None and self.ahead is not None, self.offer
        self.offers = tuple(o for o in offers if o.path not in self._closed)
        self.chosen = next((i for i, o in enumerate(self.offers) if meant is not None and o.path == meant.path), 0)
        choice = self.press("enter") if waited else None
        if waited and choice is None:
            self.ahead = None
        return choice

    def closed(self, offer: Offer) -> None:
        """Offer a roast no longer: it was closed."""
        self._closed.add(offer.path)
        self.offers = tuple(o for o in self.offers or () if o.path not in self._closed)
        self.chosen = 0
