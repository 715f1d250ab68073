"""A terminal coach for people who roast coffee by hand on a small drum roaster.

The life of a reading, from the key to the ear:

1. ``app/screens/entryline.py:EntryLine.press`` takes keys; Enter makes a line of them
2. ``roast/typed_line.py:parse`` reads the line, ``session/typed_entries.py:entry_from`` makes an entry of it
3. ``session/coach.py:Coach.prepare`` checks it against the roast; what is refused changes nothing
4. ``app/live.py:LiveRoast.enter`` puts it on disk (``session/journal_writer.py:Scribe.put``) before it counts
5. ``roast/roast.py:fold`` is what the entries amount to: the ``Roast``, the central type
6. ``forecast/estimator.py:observe`` updates the estimate, ``forecast/projection.py:project`` makes the forecast
7. ``advice/advise.py:advise`` proposes one move, ``cues/watch.py:judge`` says which cues are true
8. ``cues/watch.py:announce`` says what sounds; ``app/screens/roast_view.py:RoastView.show`` shows it all,
   ``app/sound/speaker.py:Speaker.play`` plays it

A roast without screen, disk or clock:

>>> from coach import Coach, Header, Mark, Reading, load_profile
>>> coach = Coach(load_profile("larch-hill"), Header(id="demo", started="2026-11-02T08:00:00+00:00"))
>>> for entry in (Mark(at=60, event="charge"), Reading(at=180, temperature=107), Reading(at=210, temperature=120)):
...     _ = coach.receive(entry)
>>> _ = coach.advance(215)
>>> coach.roast.phase, coach.situation.forecast.first_crack is not None
('drying', True)
"""

TYPE_CHECKING = False  # typing takes time to load, and Ctrl-C may come meanwhile
if TYPE_CHECKING:
    from coach.roast.entries import Header as Header
    from coach.roast.entries import Mark as Mark
    from coach.roast.entries import Reading as Reading
    from coach.session.coach import Coach as Coach
    from coach.session.profile_files import load_profile as load_profile

__version__ = "0.1.0"
_FROM = {
    "Coach": "coach.session.coach", "load_profile": "coach.session.profile_files", "Header": "coach.roast.entries",
    "Mark": "coach.roast.entries", "Reading": "coach.roast.entries",
}  # fmt: skip


def __getattr__(name: str) -> object:
    """Load an exported name when it is first asked for: the command line starts without numpy and scipy."""
    if name not in _FROM:
        raise AttributeError(f"module 'coach' has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(_FROM[name]), name)
