"""The clock of a rehearsal: seconds since it began, at a speed; it can be paused and put forward."""

from __future__ import annotations

from collections.abc import Callable


class RehearsalClock:
    """A clock that returns the seconds since :meth:`begin` when called.  It never runs backwards.

    ``timer`` gives real seconds from any start, and never runs backwards either (``time.monotonic``).  ``speed`` is
    how many seconds pass for each real one.
    """

    def __init__(self, timer: Callable[[], float], speed: float = 1.0) -> None:
        self.speed = speed
        self._timer = timer
        self._passed = 0.0
        self._since: float | None = None

    def __call__(self) -> float:
        if self._since is None:
            return self._passed
        return self._passed + (self._timer() - self._since) * self.speed

    def begin(self) -> None:
        """Let time run from here on."""
        if self._since is None:
            self._since = self._timer()

    def stop(self) -> None:
        """Stop it."""
        self._passed = self()
        self._since = None

    def toggle(self) -> None:
        """Stop it, or let it go on."""
        if self.paused:
            self.begin()
        else:
            self.stop()

    @property
    def paused(self) -> bool:
        """True if it is stopped (as it is before it began)."""
        return self._since is None

    def forward(self, seconds: float) -> None:
        """Put it forward by this many seconds."""
        self._passed += seconds
