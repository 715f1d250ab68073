"""The brief before a roast, and the takeover in the middle of one."""

from __future__ import annotations

import io
import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from browser import PAPERS, faults, fetches, needs_browser, printed
from helpers import EXAMPLE, example

from coach.advice.charge_temperature import ChargeProposal
from coach.app.cli import main
from coach.app.commands.brief import confirm
from coach.cues.evidence import drop_due
from coach.logbook.brief.brief import CAUTION, Brief, PastRoast, brief, doubts
from coach.logbook.brief.brief_page import brief_page, text
from coach.logbook.brief.gathered import running_state
from coach.logbook.brief.handover import HandoverState, drop_rule
from coach.logbook.index.summary import summarise
from coach.logbook.learning.lessons import learn_from
from coach.logbook.profiles.versions import merge
from coach.logbook.review.review import degrees
from coach.roast.entries import Note
from coach.roast.profile import Profile, in_unit
from coach.roast.roast import Numbered, effective, fold
from coach.roast.units import clock
from coach.session.coach import Coach
from coach.session.journal import line_of
from coach.session.profile_files import load_profile

NOW = datetime(2026, 11, 2, 9, 0, tzinfo=UTC)
SECTIONS = [
    "Your first three actions", "Recipe", "If ... then", "Safety", "Machine and carry-over", "Last three roasts",
    "Settings changed", "Open doubts",
]  # fmt: skip


@pytest.fixture(scope="module")
def profile() -> Profile:
    return load_profile("larch-hill")


def past(*notes: str, person: str = "Ada") -> PastRoast:
    roast = fold(example().header, effective(example().entries))
    roast = replace(
        roast,
        header=roast.header.model_copy(update={"person": person}),
        notes=tuple((600.0 + i, n) for i, n in enumerate(notes)),
    )
    return PastRoast(summarise(roast, "x.jsonl"), roast)


def lines_of(b: Brief, title: str) -> str:
    return "\n".join(" ".join((*s.lines, *(" ".join(r) for r in s.rows))) for s in b.sections if s.title == title)


def test_the_brief_has_all_its_parts(profile: Profile) -> None:
    b = brief(profile, [past("doubt: airflow felt weak"), past(), past(), past()], NOW, on_machine=past())
    assert [s.title for s in b.sections] == SECTIONS
    assert len(b.facts) == 3
    actions = next(s for s in b.sections if s.title == "Your first three actions")
    assert len(actions.lines) == 3
    ifs = lines_of(b, "If ... then")
    assert "before 7:47" in ifs
    assert "not heard by 8:27" in ifs
    assert "probe is lost" in ifs
    assert "yellow 4:04" in ifs
    assert "235 °C: heat off at once" in ifs
    assert CAUTION in lines_of(b, "Safety")
    assert "dropped 50 minutes ago" in lines_of(b, "Machine and carry-over")
    assert len(next(s for s in b.sections if s.title == "Last three roasts").rows) == 3
    assert "“airflow felt weak” (Ada, 2026-11-02)" in lines_of(b, "Open doubts")


def test_the_recipe_is_by_time_and_temperature(profile: Profile) -> None:
    rows = next(s for s in brief(profile, [], NOW).sections if s.title == "Recipe").rows
    assert [r[0] for r in rows] == ["0:00", "0:00", "0:00", "1:08", "3:05", "4:04", "5:35", "8:04", "8:07", "9:35"]
    assert ("5:35", "gas 1.2 kPa", "174 °C", "", "") in rows
    assert ("8:07", "first crack", "197 °C", "20 s", "3") in rows


def test_nothing_is_said_that_is_not_known(profile: Profile) -> None:
    b = brief(profile, [], NOW)
    assert "count the drum as cold" in lines_of(b, "Machine and carry-over")
    assert "None is in the logbook." in lines_of(b, "Last three roasts")
    assert "None was handed over." in lines_of(b, "Open doubts")
    cold = brief(profile, [past()], NOW + timedelta(days=3), on_machine=past())
    assert "3 days ago" in lines_of(cold, "Machine and carry-over")
    assert "as cold" in lines_of(cold, "Machine and carry-over")


def test_changed_settings_are_said(profile: Profile) -> None:
    last = past()
    gas = tuple(m for m in last.roast.moves if not (m.control == "gas" and m.t > 300))
    odd = replace(last, roast=replace(last.roast, moves=(*gas, replace(gas[0], t=200.0, value=1.4, shown=1.4))))
    said = lines_of(brief(profile, [odd], NOW), "Settings changed")
    assert "Gas 1.2 kPa, planned for 5:35, was not set." in said
    assert "gas 1.4 kPa was set at 3:20; the plan has no such setting." in said
    newer = Profile(merge(profile, [replace(last.roast, marks={**last.roast.marks, "yellow": 260.0})]).document)
    said = lines_of(brief(newer, [last], NOW, parent=profile), "Settings changed")
    assert "provisional" in said
    assert "Since version 1: yellow: 4:04" in said


def test_doubts_stay_open_until_settled() -> None:
    first = past("doubt: probe slow?", "? second crack early", "plain note", person="Ben")
    assert doubts([first]) == ["“second crack early” (Ben, 2026-11-02)", "“probe slow?” (Ben, 2026-11-02)"]
    assert doubts([past("settled: probe cleaned"), first]) == []
    assert doubts([past("Doubt:  new one", "x"), past("settled: all"), first]) == ["“new one” (Ada, 2026-11-02)"]


def test_facts_are_checked_as_typed(profile: Profile) -> None:
    charge, development, limit = brief(profile, [], NOW).facts
    assert charge.fits("222")
    assert charge.fits(" 222 °C ")
    assert not charge.fits("212")
    assert not charge.fits("about right")
    assert development.fits("1:28")
    assert development.fits("88")
    assert not development.fits("1:38")
    assert limit.fits("235,0")
    assert not limit.fits("")


def test_other_rules_of_drop_are_said(profile: Profile) -> None:
    assert drop_rule(profile) == "drop 1:28 after first crack, about 209 °C"
    d = profile.document
    by_heat = d.model_copy(update={"drop": d.drop.model_copy(update={"by": "temperature"})})
    assert drop_rule(Profile(by_heat)) == "drop at 209 °C (± 2 °C)"
    by_share = d.model_copy(update={"drop": d.drop.model_copy(update={"by": "ratio", "ratio": 0.155})})
    assert drop_rule(Profile(by_share)).startswith("drop when development is 15.5 % of the roast")
    without = d.model_copy(update={"milestones": [], "drop": by_heat.drop})
    b = brief(Profile(without), [], NOW)
    assert "first crack comes before" not in lines_of(b, "If ... then")
    assert len(b.facts) == 3


@pytest.mark.long
def test_takeover_in_mid_roast(profile: Profile) -> None:
    journal = example()
    standing = HandoverState.of(profile, journal.header, journal.entries, 60.0 + 390.0)
    b = brief(profile, [], NOW, state=standing)
    assert [s.title for s in b.sections] == ["The roast now", "What is coming", *SECTIONS]
    now = lines_of(b, "The roast now")
    assert "Roast time 6:30, browning." in now
    assert "gas 1.2 kPa" in now
    assert "yellow 4:04" in now
    assert "First crack 8:" in lines_of(b, "What is coming")
    assert "Read the probe, and type it." in lines_of(b, "Your first three actions")
    assert "gas 0.8 kPa at 8:04" in lines_of(b, "Your first three actions")
    asked = [f.question for f in b.facts]
    assert asked[0].startswith("What did the probe read last")
    assert asked[1].startswith("What does gas stand at")
    later = HandoverState.of(profile, journal.header, journal.entries, 60.0 + 500.0)
    assert later.situation.roast.phase == "development"
    there = brief(profile, [], NOW, state=later)
    due = drop_due(later.situation)
    assert due is not None
    one = f"rop at {clock(due.time)}, about {degrees(due.temperature, profile.unit)}"
    assert one in lines_of(there, "Your first three actions"), "one drop on one page"
    before = HandoverState.of(profile, journal.header, journal.entries, 56.0)
    assert "Not charged yet." in lines_of(brief(profile, [], NOW, state=before), "The roast now")
    assert len(brief(profile, [], NOW, state=before).facts) == 3


def test_takeover_forecasts_with_what_the_running_coach_had_learnt(profile: Profile, tmp_path: Path) -> None:
    for i in range(3):
        header = example().header.model_copy(update={"id": f"r{i}", "started": f"2026-10-0{i + 1}T08:00:00+00:00"})
        (tmp_path / f"r{i}.jsonl").write_text(line_of(header) + "".join(line_of(n.entry) for n in example().entries))
    running = tmp_path / "running.jsonl"
    running.write_text(EXAMPLE.read_text())
    found = running_state(profile, running, "6:30", None, tmp_path).situation.forecast.first_crack
    coach = Coach(profile, example().header, learn_from(tmp_path, profile, but=running))
    for n in example().entries:
        if n.entry.came <= 60.0 + 390.0:
            coach.advance(n.entry.came)
            coach.receive(n.entry, n.line)
    coach.advance(60.0 + 390.0)
    then = coach.situation.forecast.first_crack
    alone = HandoverState.of(profile, example().header, example().entries, 60.0 + 390.0).situation.forecast.first_crack
    assert found is not None
    assert then is not None
    assert alone is not None
    assert found.time.median == pytest.approx(then.time.median)
    assert found.time.spread < alone.time.spread


def test_takeover_sees_nothing_of_what_comes_later(profile: Profile) -> None:
    journal = example()
    cut = [n for n in journal.entries if n.entry.came <= 450.0]
    whole = HandoverState.of(profile, journal.header, journal.entries, 450.0)
    part = HandoverState.of(profile, journal.header, cut, 450.0)
    assert text(brief(profile, [], NOW, state=whole)) == text(brief(profile, [], NOW, state=part))


@pytest.mark.parametrize("width", [60, 80, 100])
def test_text_fits_the_terminal(profile: Profile, width: int) -> None:
    full = past("doubt: " + "x y " * 80)
    row = replace(full.row, colour=58.25, colour_scale="our meter", cup_score=84.25, accepted=True, loss=14.25)
    lines = text(brief(profile, [replace(full, row=row)] * 3, NOW, on_machine=past()), width)
    assert all(len(x) <= width for x in lines)
    last = next(x for x in lines if x.startswith("  2026-11-02"))
    assert last.endswith("accepted")
    assert "84.25" in last
    assert "14.3 %" in last or "14.2 %" in last
    assert ("Ada" in last) == (width >= 80)
    assert "\x1b" not in "".join(text(brief(profile, [past("doubt: \x1b[2J")], NOW)))


def test_columns_in_which_nothing_stands_are_left_out(profile: Profile) -> None:
    section = next(s for s in brief(profile, [past()], NOW).sections if s.title == "Last three roasts")
    assert "colour" not in section.head
    assert "cup" not in section.head
    assert all(len(row) == len(section.head) for row in section.rows)


def test_what_was_noted_in_the_running_roast_is_handed_over(profile: Profile) -> None:
    journal = example()
    notes = [Numbered(900 + i, Note(at=100.0 + 10 * i, text=f"the valve\nsticks {i}")) for i in range(6)]
    entries = sorted([*journal.entries, *notes], key=lambda n: n.entry.came)
    standing = HandoverState.of(profile, journal.header, entries, 60.0 + 390.0)
    now = lines_of(brief(profile, [], NOW, state=standing), "The roast now")
    assert "Noted at 1:30: “the valve sticks 5”" in now
    assert "sticks 1”" not in now
    assert "Noted (2 before these are in the journal):" in now


@needs_browser
@pytest.mark.parametrize("running", [False, True])
def test_the_page_in_a_browser(tmp_path: Path, profile: Profile, running: bool) -> None:
    wordy = [Numbered(900 + i, Note(at=300.0, text="<b>on it goes</b> " * 90)) for i in range(4)]
    entries = sorted([*example().entries, *wordy], key=lambda n: n.entry.came)
    standing = HandoverState.of(profile, example().header, entries, 450.0) if running else None
    nasty = past("doubt: <script>alert(1)</script> & so on", person="<b>A</b>")
    html = brief_page(brief(profile, [nasty] * 4, NOW, on_machine=nasty, state=standing))
    assert fetches(html) == []
    assert "<script" not in html
    paper = "A4" if running else "Letter"
    assert printed(html, paper) == (1, pytest.approx(PAPERS[paper], abs=1))
    if running:
        assert [f["id"] for f in faults(html)] == []


def test_command(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.setenv("COACH_HOME", str(tmp_path))
    monkeypatch.setenv("COACH_CACHE", str(tmp_path / "cache"))
    assert main(["brief", "larch-hill"]) == 0
    assert "None is in the logbook." in capsys.readouterr().out
    folder = tmp_path / "roasts"
    folder.mkdir()
    lines = EXAMPLE.read_text().splitlines(keepends=True)
    (folder / "old.jsonl").write_text("".join(lines))
    header = {**json.loads(lines[0]), "id": "run", "started": (datetime.now(UTC) - timedelta(seconds=400)).isoformat()}
    (folder / "run.jsonl").write_text(json.dumps(header) + "\n" + "".join(lines[1:24]))
    assert main(["brief", "larch-hill", "--roast", "run"]) == 0
    out = capsys.readouterr().out
    assert "Taking over in mid-roast" in out
    assert "Roast time 5:4" in out
    assert "2026-11-02" in out
    assert main(["brief", "larch-hill", "--roast", "old"]) == 2
    assert "not running any more" in capsys.readouterr().err
    assert main(["brief", "larch-hill", "--roast", "old", "--at", "soon"]) == 2
    assert main(["brief", "larch-hill", "--roast", "old", "--at", "5:00", "--html", str(tmp_path / "b.html")]) == 0
    assert "</html>" in (tmp_path / "b.html").read_text()


def test_the_facts_are_asked_until_they_are_right(
    profile: Profile, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    terminal = io.StringIO("200\n222\n1:28\n235\n")
    monkeypatch.setattr(terminal, "isatty", lambda: True)
    monkeypatch.setattr("sys.stdin", terminal)
    assert confirm(brief(profile, [], NOW)) == 0
    assert "look again (222 °C)" in capsys.readouterr().out
    gone = io.StringIO("\n")
    monkeypatch.setattr(gone, "isatty", lambda: True)
    monkeypatch.setattr("sys.stdin", gone)
    assert confirm(brief(profile, [], NOW)) == 1


def test_a_batch_dropped_just_now_brings_a_charge_proposal_and_an_old_one_none(
    profile: Profile, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = past()
    learnt = ChargeProposal(216.0, -6.0, 3.0, 1.0, {"the batch before": 3.0}, 5)
    monkeypatch.setattr(
        "coach.logbook.brief.brief.propose", lambda *_: learnt
    )  # what one roast teaches is not sure enough
    assert before.row.drop_time is not None
    dropped = datetime.fromisoformat(before.row.started) + timedelta(seconds=before.row.drop_time)
    soon = lines_of(
        brief(profile, [before], dropped + timedelta(seconds=60), on_machine=before), "Machine and carry-over"
    )
    assert "Proposal: charge at" in soon
    assert "the batch before" in soon
    late = lines_of(brief(profile, [before], dropped + timedelta(hours=5), on_machine=before), "Machine and carry-over")
    assert "Proposal" not in late


def test_a_brief_speaks_in_the_unit_that_is_typed(
    profile: Profile, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("COACH_HOME", str(tmp_path))
    (tmp_path / "settings.toml").write_text('unit = "F"\n')
    assert main(["brief", "larch-hill"]) == 0
    out = capsys.readouterr().out
    assert "bring the drum to 432 °F (± 5.4 °F)" in out
    assert "°C" not in out
    assert main(["charge", "larch-hill", "--room", "64"]) == 0
    assert main(["plan", "larch-hill", "moss-lane", "--start", "8:00"]) == 0
    out = capsys.readouterr().out
    assert "Charge as the profile says, 432 °F" in out
    assert "431.6 °F" in out
    assert "°C" not in out
    file = tmp_path / "roasts" / "a.jsonl"
    file.parent.mkdir()
    head = example().header.model_copy(update={"unit": "C", "started": "2026-11-02T08:00:00+00:00"})
    file.write_text(line_of(head) + "".join(line_of(n.entry) for n in example().entries[:4]))
    assert main(["brief", "larch-hill", "--roast", "a", "--at", "1:20"]) == 0, "a running roast: its own unit"
    out = capsys.readouterr().out
    assert "°F" not in out
    assert "Last reading" in out
    back, there = in_unit(in_unit(profile, "F"), "C"), profile
    assert back.curve.values == pytest.approx(there.curve.values, abs=0.02)
    assert [back.safety, back.charge_temperature, back.band(300.0, "browning")] == pytest.approx(
        [there.safety, there.charge_temperature, there.band(300.0, "browning")], abs=0.02
    )
