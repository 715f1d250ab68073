"""The ledger: episodes of a roast, how each is judged, what they add up to, and what is kept on disk."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from coach.cues.episodes import Episode, Recorder
from coach.cues.situation import ActiveCue
from coach.cues.table import CUES
from coach.roast.entries import Entry, Header, Mark, Move, Reading, Reply
from coach.roast.roast import Numbered, Roast, effective, fold
from coach.session.coach import Coach
from coach.session.journal import Journal, read_journal
from coach.session.profile_files import load_profile
from coach.verification.cue_outcomes import ENOUGH, JUDGES, Outcome, OutcomeLine, demotions, judged, missed_window, sums
from coach.verification.replay import walk
from coach.verification.roast_record import RoastRecord, load_record, record_path, save_record

ROOT = Path(__file__).parents[2]
PROFILE = load_profile(str(ROOT / "profiles" / "larch-hill.toml"))
HEADER = Header(id="ledger", started="2026-01-05T08:00:00+00:00")
CHARGE = 60.0
"""Crack of this profile is due at 8:07 ± 20 s, drop at 9:35, gas goes to 1.2 at 5:35."""


def numbered(*entries: Entry) -> tuple[Numbered, ...]:
    return tuple(Numbered(i + 2, e) for i, e in enumerate(entries))


def roast(*entries: Entry, charged: bool = True) -> Roast:
    start = [Mark(at=CHARGE, event="charge")] if charged else []
    return fold(HEADER, effective(numbered(*start, *entries)))


def mark(event: str, t: float) -> Mark:
    return Mark(at=CHARGE + t, event=event)  # type: ignore[arg-type]


def gas(value: float, t: float) -> Move:
    return Move(at=CHARGE + t, control="gas", value=value)


def read(value: float, t: float, typed: float | None = None) -> Reading:
    return Reading(at=CHARGE + t, temperature=value, typed=None if typed is None else CHARGE + typed)


def episode(cue: str, t: float, **more: object) -> Episode:
    row = CUES[cue]
    at = CHARGE + t
    fields: dict[str, object] = {"until": at + 10.0, "sounds": (at,), **more}
    return Episode(cue, row.family, row.priority, "text", at, **fields)  # type: ignore[arg-type]


def line(cue: str, t: float, *entries: Entry, **more: object) -> OutcomeLine:
    (found,) = judged([episode(cue, t, **more)], roast(*entries), PROFILE)
    return found


GAS = (gas(1.6, 0.0), gas(1.2, 336.0), gas(0.8, 484.0))
"""The planned moves, made."""


# -- how each cue is judged ------------------------------------------------------------------------------------------

CASES: list[tuple[str, float, list[Entry], Outcome]] = [
    ("crack early", 300, [*GAS, mark("first crack", 450)], "useful"),
    ("crack early", 300, [*GAS, mark("first crack", 480)], "false"),
    ("crack early", 300, [*GAS, mark("first crack", 520)], "false"),
    ("crack early", 440, [*GAS, mark("first crack", 450)], "late"),
    ("crack early", 300, [gas(1.6, 0), gas(1.3, 310), mark("first crack", 480)], "unknown"),
    ("crack early", 300, [gas(1.6, 0), gas(1.3, 310), mark("first crack", 450)], "useful"),
    ("crack early", 300, [gas(1.6, 0), gas(1.3, 280), mark("first crack", 480)], "already acting"),
    ("crack early", 300, [gas(1.6, 0), gas(1.8, 280), mark("first crack", 480)], "false"),
    ("crack early", 340, [*GAS, mark("first crack", 480)], "false"),  # a planned move is no answer
    ("crack early", 300, [*GAS], "unknown"),
    ("crack late", 300, [*GAS, mark("first crack", 530)], "useful"),
    ("crack late", 300, [gas(1.6, 0), gas(1.8, 320), mark("first crack", 500)], "unknown"),
    ("crack late", 300, [*GAS, mark("first crack", 450)], "false"),
    ("drop now", 575, [mark("drop", 580)], "useful"),
    ("drop now", 575, [mark("drop", 576)], "already acting"),
    ("drop now", 575, [mark("drop", 570)], "late"),
    ("drop now", 575, [mark("first crack", 487), mark("drop", 673)], "useful"),  # right, and acted on late
    ("drop now", 575, [mark("first crack", 560), mark("drop", 673)], "false"),  # the crack came later than was thought
    ("drop now", 575, [], "unknown"),
    ("drop near", 545, [mark("drop", 575)], "useful"),
    ("drop near", 545, [mark("drop", 547)], "late"),
    ("drop near", 545, [mark("drop", 640)], "false"),
    ("drop near", 545, [mark("first crack", 487), mark("drop", 673)], "useful"),  # due at 575: the hand was late
    ("yellow near", 230, [mark("yellow", 244)], "useful"),
    ("yellow near", 230, [mark("yellow", 229)], "late"),
    ("yellow near", 230, [mark("yellow", 300)], "false"),
    ("yellow near", 230, [], "unknown"),
    ("crack near", 460, [mark("first crack", 487)], "useful"),
    ("crack near", 460, [mark("first crack", 570)], "false"),
    ("reading due", 300, [read(170, 310)], "useful"),
    ("reading due", 300, [read(165, 295, typed=303)], "already acting"),
    ("reading due", 300, [read(170, 390)], "unknown"),
    ("reading due", 300, [Reply(at=CHARGE + 305, cue="reading due", answer="shelved"), read(170, 390)], "false"),
    ("reading due", 300, [mark("drop", 320)], "unknown"),
    ("too hot", 400, [read(192, 400), read(195, 430)], "useful"),
    ("too hot", 400, [read(192, 400), read(192, 430)], "false"),
    ("too hot", 400, [gas(1.6, 0), read(192, 400), gas(1.3, 410), read(192, 430)], "useful"),
    ("too hot", 400, [gas(1.6, 0), gas(1.3, 380), read(192, 400)], "already acting"),
    ("too hot", 400, [read(192, 400)], "unknown"),
    ("too hot", 400, [read(192, 400), mark("drop", 410)], "late"),
    ("too cool", 400, [read(179, 400), read(181, 430)], "useful"),
    ("too cool", 400, [read(179, 400), read(190, 430)], "false"),
    ("stalling", 500, [read(205, 520), read(205, 570), mark("drop", 575)], "useful"),
    ("stalling", 500, [read(200, 520), read(207, 570), mark("drop", 575)], "false"),
    ("stalling", 500, [read(205, 570), mark("drop", 575)], "unknown"),
    ("racing", 500, [read(200, 520), read(216, 570), mark("drop", 575)], "useful"),
    ("racing", 560, [read(200, 520), read(216, 570), mark("drop", 575)], "late"),
    ("racing", 500, [gas(1.6, 0), gas(0.7, 505), read(200, 520), read(207, 570), mark("drop", 575)], "unknown"),
    ("charge near", -30, [], "useful"),
    ("charge near", -180, [], "false"),
    ("tapped crack", 480, [mark("first crack", 470)], "useful"),
    ("tapped crack", 480, [mark("first crack", 520)], "false"),
    ("tapped crack", 480, [Reply(at=CHARGE + 484, cue="tapped crack", answer="not yet")], "false"),
    ("tapped crack", 480, [], "unknown"),
    ("reading doubtful", 300, [read(170, 310)], "unknown"),
]


@pytest.mark.parametrize(("cue", "t", "entries", "expected"), CASES)
def test_outcomes(cue: str, t: float, entries: list[Entry], expected: Outcome) -> None:
    more: dict[str, object] = {"evidence": {"onset": 470.0}} if cue == "tapped crack" else {}
    found = line(cue, t, *entries, **more)
    assert found.outcome == expected, found.why


def test_every_sounding_cue_can_be_judged_both_ways() -> None:
    assert set(JUDGES) == {name for name, row in CUES.items() if row.sound != "none"}
    two_ways = {"over safety limit", "move due"}  # below
    for name in set(JUDGES) - two_ways:
        outcomes = {expected for cue, _, _, expected in CASES if cue == name}
        assert outcomes & {"false", "late", "already acting"}, name
        assert "useful" in outcomes, name


def test_a_move_that_is_due() -> None:
    due = {"evidence": {"due": 335.0}}
    assert line("move due", 330, gas(1.6, 0), gas(1.2, 338), **due).outcome == "useful"
    assert line("move due", 330, gas(1.6, 0), gas(1.2, 325), **due).outcome == "already acting"
    assert line("move due", 330, gas(1.6, 0), gas(1.4, 338), **due).outcome == "unknown"
    muted = Reply(at=CHARGE + 334, cue="move due", answer="shelved")
    assert line("move due", 330, gas(1.6, 0), muted, **due).outcome == "false"
    assert line("move due", 330, gas(1.6, 0), gas(1.2, 338), **due).delay == pytest.approx(8.0)


def test_over_the_limit_is_false_only_when_the_reading_was_taken_back() -> None:
    limit = {"evidence": {"limit": 235.0}}
    hot = read(240, 520)
    assert line("over safety limit", 521, gas(1.6, 0), hot, gas(0.0, 526), **limit).outcome == "useful"
    found = line("over safety limit", 521, gas(1.6, 0), hot, gas(0.0, 526), **limit)
    assert found.reply == "acted"
    assert found.delay == pytest.approx(5.0)
    assert line("over safety limit", 521, gas(1.6, 0), **limit).outcome == "false"


def test_lead_is_from_the_first_sound_to_the_event() -> None:
    assert line("crack early", 300, *GAS, mark("first crack", 450)).lead == pytest.approx(150.0)
    silent = line("crack early", 300, *GAS, mark("first crack", 450), sounds=())
    assert (silent.heard, silent.counts) == (0, False)


def test_replies_and_their_delay() -> None:
    seen = Reply(at=CHARGE + 304, cue="crack early", answer="seen")
    found = line("crack early", 300, *GAS, seen, mark("first crack", 450))
    assert found.reply == "seen"
    assert found.delay == pytest.approx(4.0)
    other = Reply(at=CHARGE + 304, cue="move due", answer="seen")
    assert line("crack early", 300, *GAS, other, mark("first crack", 450)).reply == ""
    acted = line("crack early", 300, gas(1.6, 0), gas(1.2, 306), mark("first crack", 480), answered=CHARGE + 306)
    assert acted.reply == "acted"
    assert acted.delay == pytest.approx(6.0)


def test_the_persons_own_word_goes_first_and_names_its_episode() -> None:
    twice = [episode("crack early", 200), episode("crack early", 300)]
    crack = mark("first crack", 450)
    first = Reply(at=CHARGE + 200, typed=CHARGE + 900, cue="crack early", answer="false")
    a, b = judged(twice, roast(*GAS, crack, first), PROFILE)
    assert (a.outcome, a.own, a.why) == ("false", True, "your word")
    assert (b.outcome, b.own) == ("useful", False)
    last = Reply(at=CHARGE + 900, cue="crack early", answer="late")
    a, b = judged(twice, roast(*GAS, crack, first, last), PROFILE)
    assert (a.outcome, b.outcome) == ("false", "late")
    changed = Reply(at=CHARGE + 901, cue="crack early", answer="useful")
    assert judged(twice, roast(*GAS, crack, last, changed), PROFILE)[1].outcome == "useful"


def test_misses() -> None:
    for came, cue in ((487, ""), (507, ""), (517, "crack late"), (447, "crack early")):
        assert missed_window(roast(mark("first crack", came)), PROFILE) == cue
    assert missed_window(roast(), PROFILE) == ""


# -- what they add up to ---------------------------------------------------------------------------------------------


def history(right: int, wrong: int, cue: str = "crack early", other: Outcome = "false") -> list[list[OutcomeLine]]:
    row = CUES[cue]
    make: list[tuple[Outcome, int]] = [("useful", right), (other, wrong)]
    return [
        [OutcomeLine(cue, row.family, row.priority, 0.0, "", 1, False, outcome, "", lead=100.0)]
        for outcome, count in make
        for _ in range(count)
    ]


def test_thirteen_of_twenty_is_kept_silent_and_fourteen_is_not() -> None:
    """Below 0.70 over the last twenty (Wickens and Dixon 2007)."""
    assert demotions(history(13, 7)) == {"crack early": "right 13 of the last 20 times"}
    assert demotions(history(14, 6)) == {}


def test_few_lines_conclude_nothing() -> None:
    assert demotions(history(0, ENOUGH - 1)) == {}
    assert set(demotions(history(0, ENOUGH))) == {"crack early"}


def test_only_the_last_twenty_count() -> None:
    assert demotions(history(30, 0) + history(13, 7)) == {"crack early": "right 13 of the last 20 times"}
    assert demotions(history(0, 30) + history(20, 0)) == {}
    total = sums(history(30, 0) + history(13, 7))["crack early"]
    assert (total.lines, total.scored, total.right, total.precision, total.lead) == (50, 20, 13, 0.65, 100.0)


def test_late_counts_against_and_what_nobody_can_say_does_not_count() -> None:
    assert set(demotions(history(13, 7, other="late"))) == {"crack early"}
    assert demotions(history(5, 40, other="unknown")) == {}
    assert demotions(history(5, 40, other="already acting")) == {}


def test_urgent_cues_are_never_kept_silent() -> None:
    for name, row in CUES.items():
        assert (name in demotions(history(0, 30, name))) == (row.priority != "high"), name


def test_a_silent_cue_is_still_scored_and_comes_back() -> None:
    bad = history(10, 10)
    assert demotions(bad)
    silent = [[replace(x, heard=0, demoted=True) for x in r] for r in history(20, 0)]
    assert demotions(bad + silent) == {}
    shown_only = [[replace(x, heard=0) for x in r] for r in history(20, 0)]
    assert demotions(bad + shown_only)  # what never asked for attention proves nothing


# -- episodes --------------------------------------------------------------------------------------------------------


def cue(name: str, since: float, state: str = "unacknowledged", sounds: bool = False) -> ActiveCue:
    row = CUES[name]
    return ActiveCue(name, row.family, row.priority, state, sounds, f"{name} {since:g}", row.action, since)  # type: ignore[arg-type]


def test_a_stretch_is_one_episode_and_a_gap_makes_two() -> None:
    r = Recorder()
    for t in range(100, 110):
        r.note(t, [cue("too hot", 100.0, sounds=t == 100)])
    for t in range(110, 130):
        r.note(t, [])
    r.note(130, [cue("too hot", 130.0)])
    a, b = r.episodes
    assert (a.since, a.until, a.sounds) == (100.0, 109.0, (100.0,))
    assert (b.since, b.sounds, b.counts) == (130.0, (), False)


def test_the_next_planned_move_is_another_episode_without_a_gap() -> None:
    r = Recorder()
    for t in range(100, 110):
        r.note(t, [cue("move due", 100.0)])
    for t in range(110, 115):
        r.note(t, [cue("move due", 110.0)])
    assert [e.since for e in r.episodes] == [100.0, 110.0]


def test_between_two_ticks_nothing_is_counted_twice() -> None:
    r = Recorder()
    r.note(100.4, [cue("too hot", 100.4, sounds=True)])
    r.note(101.0, [cue("too hot", 101.0)])
    r.note(102.0, [cue("too hot", 101.0, "acknowledged")])
    (e,) = r.episodes
    assert (e.since, e.until, e.sounds, e.answered) == (100.4, 102.0, (100.4,), 102.0)


def test_marks_and_shelved_cues_are_no_episodes_and_a_sound_counts() -> None:
    r = Recorder(demoted=["crack late"])
    r.note(100, [cue("crack early", 100.0, "normal"), cue("too hot", 100.0, "shelved")])
    assert not r.episodes
    r.note(101, [cue("drop near", 101.0, sounds=True)])
    r.note(102, [cue("crack late", 102.0)])
    near, late = r.episodes
    assert (near.cue, near.sounds) == ("drop near", (101.0,))
    assert late.demoted
    assert late.counts


@pytest.fixture(scope="module")
def example() -> Coach:
    journal = read_journal(ROOT / "examples" / "invented-roast.jsonl")
    return walk(Coach(PROFILE, journal.header), journal.entries)


@pytest.mark.long
def test_a_walk_hears_what_the_coach_has_heard(example: Coach) -> None:
    journal = read_journal(ROOT / "examples" / "invented-roast.jsonl")
    coach, recorder = Coach(PROFILE, journal.header), Recorder()
    at = 0.0
    for n in journal.entries:
        while at + 0.25 <= n.entry.came:
            at += 0.25
            sounded = coach.advance(at)
            recorder.note(coach.at, (*coach.cues, *sounded))
        coach.receive(n.entry, n.line)
        recorder.note(coach.at, coach.cues)
    assert [(e.cue, e.sounds) for e in recorder.episodes if e.sounds] == [
        (e.cue, e.sounds) for e in example.record.episodes if e.sounds
    ]
    heard = sorted(t for e in example.record.episodes for t in e.sounds)
    assert heard == sorted(coach.heard.all)


def test_the_example_is_judged_without_gaps(example: Coach) -> None:
    lines = judged(example.record.episodes, example.roast, PROFILE)
    assert {x.cue for x in lines if x.heard} >= {"drop near", "crack near", "yellow near"}
    assert all(x.outcome in ("useful", "already acting") for x in lines if x.heard)
    assert all(x.text and x.why for x in lines)


def shifted(by: float) -> Journal:
    """The example with its crack and readings moved in time: a day that runs ahead or behind."""
    journal = read_journal(ROOT / "examples" / "invented-roast.jsonl")
    out = []
    for n in journal.entries:
        e = n.entry
        t = e.at - CHARGE
        if isinstance(e, Reading) and t > 120:
            e = e.model_copy(update={"temperature": e.temperature - by / 20 * min((t - 120) / 180, 1.0) * 2.5})
        elif isinstance(e, Mark) and e.event in ("first crack", "drop"):
            e = e.model_copy(update={"at": e.at + by})
        out.append(e)
    return Journal(journal.header, numbered(*sorted(out, key=lambda e: e.came)))


# -- on disk ---------------------------------------------------------------------------------------------------------


def test_cues_lie_beside_the_journal(tmp_path: Path, example: Coach) -> None:
    journal = tmp_path / "roast.jsonl"
    assert load_record(journal) is None
    save_record(journal, RoastRecord(episodes=example.record.episodes))
    assert record_path(journal).name == "roast.record.json"
    kept = load_record(journal)
    assert kept is not None
    assert kept.heard == example.record.episodes
