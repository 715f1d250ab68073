"""The coach over time: what sounds when, what a restart repeats, what it learns from."""

from __future__ import annotations

import copy
from functools import cache
from pathlib import Path

import pytest

from coach.forecast.knowledge import Knowledge
from coach.logbook.learning.lessons import learn_from
from coach.roast.entries import Header, Mark, Move, Pop, Reading, Reply
from coach.roast.errors import EntryError
from coach.roast.profile import Profile
from coach.roast.typed_line import parse
from coach.session.coach import Coach
from coach.session.journal import JournalWriter, line_of, read_journal
from coach.session.journal_folder import roasts
from coach.session.profile_files import load_profile
from coach.session.typed_entries import entry_from
from tests.helpers import EXAMPLE, ROOT


def profile() -> Profile:
    return load_profile(str(ROOT / "profiles" / "larch-hill.toml"))


def coach() -> Coach:
    return Coach(profile(), Header(id="x", started="2026-11-02T08:00:00+00:00"))


def test_a_cue_that_falls_due_while_an_entry_is_folded_is_told_as_sounding() -> None:
    c = coach()
    c.advance(60.0)
    c.receive(Mark(at=60.0, event="charge"))  # the gas of the plan was never set
    assert [x.name for x in c.cues if x.sounds] == ["move due"]
    assert c.heard.all == (60.0,)


def test_after_a_restart_what_stands_unanswered_sounds_once_more_and_then_not_again() -> None:
    c = coach()
    c.receive(Mark(at=60.0, event="charge"))
    c.advance(61.0)
    c.restarted()
    heard = [x.name for at in range(70, 100) for x in c.advance(float(at))]
    assert heard == ["move due"]


def test_a_restart_says_nothing_of_what_was_answered() -> None:
    c = coach()
    c.receive(Mark(at=60.0, event="charge"))
    for step in profile().steps:
        if step.time == 0:
            c.receive(Move(at=62.0, control=step.control, value=step.shown))
    c.restarted()
    assert not [x for at in range(70, 100) for x in c.advance(float(at)) if x.name == "move due"]


def test_knowledge_that_comes_later_gives_what_it_would_have_given_from_the_start() -> None:
    journal = read_journal(EXAMPLE)
    late, early = (Coach(profile(), journal.header, k) for k in (None, Knowledge(count=3)))
    for c in (late, early):
        for n in journal.entries[:20]:
            c.take(c.prepare(n.entry, n.line), most=0)  # forecasts alone are looked at
    assert late.situation.forecast.first_crack != early.situation.forecast.first_crack
    late.learn(Knowledge(count=3))
    assert str(late.situation.forecast.first_crack) == str(early.situation.forecast.first_crack)


def copied(folder: Path, name: str, number: int, **changes: object) -> None:
    journal = read_journal(EXAMPLE)
    header = journal.header.model_copy(update={"id": f"r{number}", "profile": name, "run": "live", **changes})
    writer = JournalWriter(folder / f"r{number}.jsonl")
    writer.create(header)
    writer.append("".join(line_of(n.entry) for n in journal.entries))
    writer.close()


def test_a_logbook_teaches_only_what_belongs_to_the_profile(tmp_path: Path) -> None:
    copied(tmp_path, profile().name, 1)
    copied(tmp_path, "Another profile", 2)
    copied(tmp_path, profile().name, 3, run="rehearsal")
    (tmp_path / "torn.jsonl").write_text("{")
    assert [r.header.id for r in roasts(tmp_path, profile=profile().name)] == ["r1"]
    assert learn_from(tmp_path, profile()).count == 1
    assert learn_from(tmp_path, profile(), but=tmp_path / "r1.jsonl").count == 0


def test_the_newest_roasts_are_learnt_from(tmp_path: Path) -> None:
    for number in range(1, 6):
        copied(tmp_path, "P", number, started=f"2026-11-0{number}T08:00:00+00:00")
    assert [r.header.id for r in roasts(tmp_path, most=2)] == ["r4", "r5"]


def test_a_reading_in_doubt_is_kept_out_and_said() -> None:
    c = coach()
    c.receive(Mark(at=0.0, event="charge"))
    for t, value in ((30, 120), (60, 100), (90, 101), (120, 180)):
        c.advance(float(t))
        c.receive(Reading(at=float(t), temperature=value))
    assert c.situation.estimate is not None
    assert list(c.situation.estimate.doubtful) == [6]


def test_taps_call_the_crack_until_the_mark_overrides() -> None:
    document = profile().document
    taps = document.taps.model_copy(update={"dated": "first tap"})
    dated = Profile(document.model_copy(update={"taps": taps}))
    c = Coach(dated, Header(id="x", started="2026-11-02T08:00:00+00:00"))
    c.receive(Mark(at=0.0, event="charge"))
    c.receive(Mark(at=270.0, event="yellow"))
    for t in (500.0, 502.0, 503.5, 504.5, 505.5, 506.2, 507.0):
        c.advance(t)
        c.receive(Pop(at=t))
    assert c.situation.tapped_onset == 500.0
    c.receive(Reply(at=508.0, cue="tapped crack", answer="not yet"))
    assert c.situation.tapped_onset is None
    for t in (530.0, 531.0, 532.0, 533.0, 534.0, 535.0):
        c.advance(t)
        c.receive(Pop(at=t))
    assert c.situation.tapped_onset == 530.0
    c.receive(Mark(at=536.0, event="first crack"))
    assert c.situation.tapped_onset is None


@cache
def five_minutes() -> Coach:
    """A coach five minutes into the bundled roast."""
    journal = read_journal(EXAMPLE)
    coach = Coach(profile(), journal.header)
    charge = next(n.entry.at for n in journal.entries if getattr(n.entry, "event", "") == "charge")
    for n in journal.entries:
        if n.entry.came <= charge + 300.0:
            coach.advance(n.entry.came)
            coach.receive(n.entry)
    return coach


@pytest.mark.parametrize(
    ("wrong", "why"),
    [
        (330.0, "the other unit: 166 °C is 331 °F"),
        (1666.0, "a digit doubled"),
        (16.0, "two digits for three"),
        (616.0, "digits swapped"),
        (-166.0, "a minus"),
    ],
)
def test_a_mistyped_reading_is_kept_and_flagged_and_moves_nothing(wrong: float, why: str) -> None:
    right, other = copy.deepcopy((five_minutes(), five_minutes()))
    assert right.roast.charge_at is not None
    charge = right.roast.charge_at
    other.receive(Reading(at=charge + 301.0, temperature=wrong))
    for c in (right, other):
        c.advance(charge + 301.0)
    assert other.situation.estimate is not None, why
    assert other.entries[-1].line in other.situation.estimate.doubtful, why
    a, b = right.situation.forecast.first_crack, other.situation.forecast.first_crack
    assert a is not None
    assert b is not None
    assert b.time.median == pytest.approx(a.time.median, abs=0.5), why
    assert any(c.name == "reading doubtful" for c in other.cues), why


def test_entries_from_times_that_can_not_be_are_refused() -> None:
    c = coach()
    c.receive(Mark(at=60.0, event="charge"))
    c.advance(120.0)
    for line, said in (("165@9:00", "has not come yet"), ("g 99", "far above")):
        with pytest.raises(EntryError, match=said):
            entry_from(c, parse(line), 120.0)
    assert len(c.entries) == 1
