"""The choices before a roast as a state machine: keys in, a choice out; no screen, no disk."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from coach.app.screens.choosing import Choosing
from coach.session.offers import RESUMABLE, Choice, Offer

RUNS = Offer(Path("runs.jsonl"), 125.0, 9, True, False, profile="Larch Hill")
OLD = Offer(Path("old.jsonl"), 26 * 3600.0, 12, True, False, profile="Larch Hill")


def typed(c: Choosing, keys: str) -> list[Choice]:
    """The choices that came of keys."""
    named = [{"\n": "enter", "\x1b": "escape"}.get(k, k) for k in keys]
    return [found for k in named if (found := c.press(k)) is not None]


def among(*offers: Offer) -> Choosing:
    return Choosing("Larch Hill", offers)


def test_enter_goes_on_with_what_may_run_and_a_capital_begins_beside_it() -> None:
    assert [(c.act, c.offer) for c in typed(among(RUNS), "\n")] == [("go on", RUNS)]
    assert [c.act for c in typed(among(RUNS), "nN")] == ["begin"]
    assert [c.act for c in typed(among(OLD), "\n")] == ["begin"]
    assert [(c.act, c.offer) for c in typed(among(OLD), "xX")] == [("close", OLD)]


def test_what_enter_does_is_told_apart() -> None:
    assert [c.enters for c in (among(), among(RUNS), among(OLD))] == ["begin", "go on", "begin"]
    elsewhere = among(replace(RUNS, in_use=True))
    assert (elsewhere.enters, elsewhere.resumes) == ("look on", True)


def test_a_key_that_bounces_confirms_nothing() -> None:
    c = among(RUNS)
    assert typed(c, "nnnn") == []
    assert "Shift+N begins a second roast" in c.message
    assert typed(c, "hnX") == [], "nor does a capital of another key"


def test_letters_of_a_line_whose_beginning_was_lost_are_no_answer() -> None:
    """Nor for an old roast."""
    for line in ("/xx k83", "/nn", "gxx", "nner nn", "box"):
        c = among(replace(RUNS, age=RESUMABLE - 1.0), OLD)
        assert typed(c, line) == []
        assert typed(c, "\x1bxX")[0].act == "close"


def test_nothing_begins_before_the_folder_is_read() -> None:
    c = Choosing("Larch Hill")
    assert typed(c, "\nnNx\n") == []
    assert c.ahead == [], "the keys that follow are kept for the roast"
    found = c.found((RUNS,))
    assert found is not None
    assert (found.act, found.offer) == ("go on", RUNS)
    empty = Choosing("Larch Hill")
    assert empty.found(()) is None, "without Enter nothing begins"
    assert [x.act for x in typed(empty, "\n")] == ["begin"]


def test_the_roast_that_was_chosen_stays_chosen_when_more_are_found() -> None:
    c = among(RUNS, OLD)
    assert typed(c, "o") == []
    assert c.offer == OLD
    older = Offer(Path("older.jsonl"), 90 * 3600.0, 3, True, False, profile="Larch Hill")
    c.found((RUNS, older, OLD))
    assert c.offer == OLD
    c.closed(OLD)
    assert c.offer == RUNS
    c.found((RUNS, older, OLD))
    assert c.offers == (RUNS, older), "a roast that was closed is offered no more"
