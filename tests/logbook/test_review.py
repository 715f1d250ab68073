"""Looking back on a roast: alignment, differences, forecasts as made, proposal, and the page in a real browser."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from browser import PAPERS, faults, fetches, needs_browser, printed, spills
from helpers import EXAMPLE, example
from markupsafe import escape

from coach.app.cli import main
from coach.forecast.learning import from_profile
from coach.logbook.learning.lessons import learn_from
from coach.logbook.learning.reviewed import gather
from coach.logbook.profiles.kept_versions import profile_of
from coach.logbook.profiles.proposal import SHARE, crack_shift, proposal
from coach.logbook.review.review import Review, differences, review, warp
from coach.logbook.review.review_page import review_page
from coach.logbook.review.review_plots import PAD, axis_end, bar, heard_cues, placed, plots
from coach.logbook.review.review_text import page
from coach.roast.entries import Header, Note
from coach.roast.profile import Profile
from coach.roast.roast import Roast, effective, fold
from coach.roast.units import clock, number
from coach.session.coach import Coach
from coach.session.journal import line_of, read_journal
from coach.session.profile_files import dump_document, load_profile
from coach.verification.hindcast import cases


@pytest.fixture(scope="module")
def profile() -> Profile:
    return load_profile("larch-hill")


@cache
def bundled() -> Review:
    return gather(EXAMPLE, None, Path("nowhere"))


@pytest.fixture(scope="module")
def found() -> Review:
    return bundled()


def shifted(seconds: float) -> Roast:
    """The example with everything after yellow later by up to so many seconds, in proportion."""
    roast = fold(example().header, effective(example().entries))

    def move(t: float) -> float:
        return t if t < 244 else t + seconds * min((t - 244) / (487 - 244), 1.0)

    return replace(
        roast,
        marks={e: move(t) for e, t in roast.marks.items()},
        readings=tuple(replace(r, t=move(r.t)) for r in roast.readings),
    )


def test_warp_takes_event_to_event_and_is_the_identity_without_any() -> None:
    a = {"charge": 0.0, "yellow": 200.0, "first crack": 500.0}
    b = {"charge": 0.0, "yellow": 240.0, "first crack": 480.0}
    t = np.array([0.0, 100.0, 200.0, 350.0, 500.0, 560.0])
    assert warp(t, a, b) == pytest.approx([0, 120, 240, 360, 480, 540])  # type: ignore[arg-type]
    assert warp(t, {}, b) == pytest.approx(t)  # type: ignore[arg-type]
    assert warp(warp(t, a, b), b, a) == pytest.approx(t)  # type: ignore[arg-type]


def test_a_roast_stretched_between_its_events_lies_on_the_reference_by_events(profile: Profile) -> None:
    r = review(profile, shifted(40.0))
    late = r.t > 300
    assert np.abs(r.off_by_clock[late]).max() > 4
    assert np.abs(r.off_by_events[late]).max() < 2.0
    crack = next(m for m in r.milestones if m.event == "first crack")
    assert crack.late == pytest.approx(40.0)
    assert r.differences[0].startswith(("First crack came 0:40 later", "At ", "Drop came 0:40 later"))
    assert any(d == "First crack came 0:40 later than planned (8:47, plan 8:07)." for d in r.differences)
    assert len(r.differences) == 3
    by_phase = {p.name: (p.actual or 0) - (p.planned or 0) for p in r.phases}
    assert by_phase == pytest.approx({"drying": 0.0, "browning": 40.0, "development": 0.0})


def test_moves_that_were_not_made_are_said(profile: Profile) -> None:
    roast = fold(example().header, effective(example().entries))
    without = replace(roast, moves=tuple(m for m in roast.moves if not (m.control == "gas" and m.t > 300)))
    said = differences(profile, without, (), np.zeros(0), np.zeros(0))
    assert said == [
        "Gas 1.2 kPa, planned for 5:35, was not set.",
        "Gas 0.8 kPa, planned for 8:04, was not set.",
    ]


def test_forecasts_use_only_what_had_been_typed(profile: Profile) -> None:
    journal = example()
    roast = fold(journal.header, effective(journal.entries))
    whole = cases(profile, from_profile(profile), journal.header, journal.entries, drop_leads=())
    assert [f.lead for f in whole] == [180, 150, 120, 90, 60, 30]
    cut = [n for n in journal.entries if n.entry.came <= roast.charge_at + 487 - 60]  # type: ignore[operator]
    mark = next(n for n in journal.entries if getattr(n.entry, "event", "") == "first crack")
    again = cases(profile, from_profile(profile), journal.header, [*cut, mark], drop_leads=())
    assert [f.said for f in again[:5]] == [f.said for f in whole[:5]]
    assert all(f.error is not None and abs(f.error) < 30 for f in whole)


def test_the_report_says_what_the_coach_said(profile: Profile, tmp_path: Path) -> None:
    """The forecasts of the review are those that stood on the screen of a coach that was told the same entries, with
    what its logbook had taught it when the roast began."""
    for i in range(3):
        started = f"2026-10-0{i + 1}T08:00:00+00:00"
        header = example().header.model_copy(update={"id": f"r{i}", "started": started})
        text = line_of(header) + "".join(line_of(n.entry) for n in example().entries)
        (tmp_path / f"r{i}.jsonl").write_text(text)
    later = example().header.model_copy(update={"id": "later", "started": "2027-01-01T08:00:00+00:00"})
    (tmp_path / "later.jsonl").write_text(line_of(later) + "".join(line_of(n.entry) for n in example().entries))
    r = gather(EXAMPLE, None, tmp_path, episodes=())
    assert r.learnt_from == 3
    assert r.basis == "learnt from 3 earlier roasts"
    before = tmp_path / "before"
    before.mkdir()
    for i in range(3):
        (tmp_path / f"r{i}.jsonl").rename(before / f"r{i}.jsonl")
    coach = Coach(profile, example().header, learn_from(before, profile))
    charge = r.roast.charge_at or 0.0
    todo = sorted(r.forecasts, key=lambda f: f.happened - f.lead)
    entries = list(example().entries)
    for f in todo:
        at = charge + f.happened - f.lead
        while entries and entries[0].entry.came <= at:
            coach.advance(entries[0].entry.came)
            coach.receive(entries[0].entry, entries[0].line)
            entries.pop(0)
        coach.advance(at)
        now = coach.situation.forecast
        said = now.first_crack if f.event == "first crack" else now.drop
        assert said is not None
        assert f.said is not None
        assert f.said.median == pytest.approx(said.time.median, abs=1e-6)
        assert (f.said.q10, f.said.q90) == pytest.approx((said.time.q10, said.time.q90), abs=1e-6)


def test_a_roast_is_not_held_against_a_profile_that_was_made_from_it(
    profile: Profile, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COACH_HOME", str(tmp_path))
    (tmp_path / "profiles").mkdir()
    for version, sources in ((2, ["r1"]), (3, ["r1", "r2"])):
        document = profile.document.model_copy(update={"version": version, "sources": sources})
        (tmp_path / "profiles" / f"p-v{version}.toml").write_text(dump_document(document))

    def followed(roast: str, version: int | None = None) -> int:
        header = Header(id=roast, profile=profile.name, profile_version=version, started="2026-11-02T08:00:00+00:00")
        return profile_of(header, Path("r.jsonl")).document.version

    assert [followed("r3"), followed("r2"), followed("r1")] == [3, 2, 1]
    assert followed("r1", 3) == 3, "as the journal says"


def test_the_report_puts_learning_aside_where_the_coach_did(
    profile: Profile, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COACH_CACHE", str(tmp_path / "cache"))
    header = example().header.model_copy(update={"id": "r0", "started": "2026-10-01T08:00:00+00:00"})
    (tmp_path / "r0.jsonl").write_text(line_of(header) + "".join(line_of(n.entry) for n in example().entries))
    monkeypatch.setattr("coach.logbook.learning.lessons.pays", lambda *_: False)
    r = gather(EXAMPLE, None, tmp_path, episodes=())
    assert (r.learnt_from, r.put_aside) == (0, 1)
    assert [f.said for f in r.forecasts] == [f.said for f in gather(EXAMPLE, None, Path("nowhere")).forecasts]
    assert "not used" in review_page(r)


def test_the_proposal_closes_at_most_a_fifth_of_the_gap(profile: Profile) -> None:
    knowledge = from_profile(profile)
    form = re.compile(r"try gas ([\d.]+) instead of ([\d.]+) kPa at 5:35: .* about (\d+) s (earlier|later), (\d+) %")
    for seconds in (-60.0, -35.0, 35.0, 60.0, 90.0):
        roast = shifted(seconds)
        roast = replace(roast, moves=tuple(replace(m, t=m.t if m.t < 400 else 484.0) for m in roast.moves))
        match = form.search(proposal(profile, roast, knowledge))
        assert match is not None
        value, planned, shift, share = (float(match[i]) for i in (1, 2, 3, 5))
        assert 0 < share <= 100 * SHARE
        assert shift == pytest.approx(share / 100 * abs(seconds), abs=1)
        assert (value > planned) == (seconds > 0) == (match[4] == "earlier")
    small = proposal(profile, shifted(15.0), knowledge)
    assert small.endswith("a fifth of that is less than one step of gas: change nothing yet."), "chance, by and large"
    short = shifted(3.0)
    short = replace(short, marks={**short.marks, "drop": short.marks["drop"] - 40})
    assert "development was 0:40 shorter than its rule: drop 1:28 after crack" in proposal(profile, short, knowledge)
    assert "change nothing" in proposal(profile, shifted(3.0), knowledge)
    more = crack_shift(profile, knowledge, profile.steps[0], 1.05)
    assert more is not None
    assert more < 0, "more gas, earlier crack"


def test_moves_first_when_the_plan_was_not_followed(profile: Profile) -> None:
    roast = shifted(60.0)
    late = replace(roast, moves=tuple(replace(m, t=m.t + (50 if m.t > 300 else 0)) for m in roast.moves))
    assert "Make the plan's moves first" in proposal(profile, late, from_profile(profile))


def test_the_text_and_the_page_say_the_same(found: Review) -> None:
    said = "\n".join(page(found, 100))
    html = review_page(found)
    for d in found.differences:
        assert d in said
        assert escape(d) in html
    assert "3:00 before first crack: " in html
    assert "yellow near" in html
    assert "useful" in html
    assert html == review_page(found), "the same page each time"
    taught = "It teaches: first crack at 197.3 ±1.2 °C (196.9 ±1.9 before it)."
    told = replace(found, taught=taught)
    assert taught in "\n".join(page(told, 100))
    assert escape(taught) in review_page(told)
    late = replace(found, roast=replace(found.roast, notes=((310.0, "smells of toast"), (90_000.0, "too dark"))))
    assert "<li>5:10 smells of toast</li><li>later too dark</li>" in review_page(late)


def test_the_curve_is_drawn_in_the_terminal(found: Review) -> None:
    lines = plots(found, 80)
    assert sum(line.count("o") for line in lines) >= 20
    assert all(len(line) <= 80 for line in lines)
    assert any("Y" in line and "F" in line and "D" in line for line in lines), "the events are marked"
    assert any(line.startswith("OFF PLAN (°C)") for line in lines)
    axis = [line.index("0:00") for line in lines if line.lstrip().startswith("0:00")]
    assert len(axis) == 2, "one axis of time"
    assert axis[0] == axis[1]


def test_a_roast_that_was_left_open_does_not_squeeze_its_picture(found: Review) -> None:
    """A reading an hour later moves the axis nowhere, with and without a drop."""
    late = replace(
        found, t=np.append(found.t, 4200.0), celsius=np.append(found.celsius, 60.0),
        off_by_clock=np.append(found.off_by_clock, -150.0),
    )  # fmt: skip
    assert plots(late, 80) == plots(found, 80)
    marks = {e: t for e, t in found.roast.marks.items() if e != "drop"}
    undropped = replace(late, roast=replace(found.roast, marks=marks))
    assert axis_end(undropped) <= max(found.profile.curve.end, float(found.t[-1])) + 10.0


def test_a_wide_page_has_its_pictures_beside_the_words(found: Review) -> None:
    wide, small = page(found, 200), page(found, 100)
    assert len(wide) < len(small)
    assert any("0:00" in line and "plan" in line for line in wide) or any(
        "OFF PLAN" in x and "today" in x for x in wide
    )
    assert all(len(line) <= 200 for line in wide)


def test_moves_and_cues_stand_under_the_curve_at_their_times(found: Review) -> None:
    lines = plots(found, 90)
    right = next(line for line in lines if line.lstrip().startswith("0:00")).rstrip()
    end, start, cells = axis_end(found), PAD + 2, 90 - PAD - 2
    assert len(right) == start + cells
    gas = next(line for line in lines if line.lstrip().startswith("gas"))
    for m in found.roast.moves:
        if m.control == "gas":
            at = start + min(round(max(m.t, 0.0) / end * (cells - 1)), cells - len(str(m.shown)))
            assert gas[at:].startswith(number(m.shown, 3))
    signs = heard_cues(found)
    assert len(signs) == sum(c.counts and c.when >= 0 for c in found.cues) > 3
    drawn = "".join(line[start:] for line in lines if line.lstrip().startswith("cues") or line.startswith(" " * start))
    said = "\n".join(page(found, 90))
    for sign, when in signs:
        assert sign in drawn
        assert f"\n{sign} {clock(when):>6}  " in said


def test_short_texts_that_would_cover_each_other_get_lines_of_their_own() -> None:
    rows = placed("gas", [(0.0, "1.6"), (5.0, "1.2"), (100.0, "0.9")], 50, 100.0)
    assert [r.split() for r in rows] == [["gas", "1.6", "0.9"], ["1.2"]]
    assert rows[0].rstrip().endswith("0.9")
    assert len(rows[0]) == PAD + 2 + 50


def test_bars_tell_inside_from_outside() -> None:
    assert bar(None, 10.0).strip() == ""
    for value, tolerance in ((0.0, 10.0), (9.0, 10.0), (-9.0, 10.0), (12.0, 10.0), (-25.0, 10.0), (1e9, 1.0)):
        row = bar(value, tolerance)
        at = next(row.index(x) for x in "X<>" if x in row)
        left, right = (row.find(x) for x in "[]")
        assert len(row) == 25
        assert (value > 0) == (at > 12) or value == 0
        if abs(value) > tolerance and "[" in row and "]" in row:
            assert not left < at < right
        elif abs(value) <= 0.9 * tolerance:
            assert left < at < right or value == 9.0 or value == -9.0


@pytest.mark.parametrize("width", [60, 80, 110])
def test_the_page_fits_and_has_all_its_parts(found: Review, width: int) -> None:
    lines = page(found, width)
    assert max(map(len, lines)) <= width
    whole = "\n".join(lines)
    for part in ("o readings", "drying", "LARGEST DIFFERENCES", "FORECASTS AS SHOWN", "CUES, RECOMPUTED", "Next time:",
                 "Only a proposal", "in all:"):  # fmt: skip
        assert part in whole
    assert len(found.differences) == 3
    flat = " ".join(whole.split())
    assert all(" ".join(d.split()) in flat for d in found.differences)
    assert not any(c in line for line in page(found, width, plain=True) for c in "│·⠂⡇⣀")


def test_cues_worked_out_once_are_kept(found: Review, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COACH_CACHE", str(tmp_path / "cache"))
    first = gather(EXAMPLE, None, Path("nowhere"))
    monkeypatch.setattr("coach.verification.replay.walk", lambda *_: pytest.fail("worked out again"))
    assert gather(EXAMPLE, None, Path("nowhere")).cues == first.cues
    noted = gather(EXAMPLE, None, Path("nowhere"), episodes=())
    assert (noted.cues, noted.heard) == ((), True)


def test_the_page_is_small_runs_nothing_and_fetches_nothing(found: Review) -> None:
    html = review_page(found)
    assert len(html.encode()) < 500_000
    assert fetches(html) == []
    assert "default-src 'none'" in html


def test_only_cues_noted_at_the_time_are_called_heard(found: Review) -> None:
    assert "Cues, recomputed from the journal" in review_page(found)
    assert "Cues heard" in review_page(replace(found, heard=True))


NASTY = '<script>alert(1)</script><img src=x onerror=alert(1)> & "quotes" \x1b[31m\u202e =1+1'


def worst() -> Review:
    """As full as a page gets, and full of what must be escaped."""
    journal = example()
    roast = fold(journal.header, effective(journal.entries))
    header = Header.model_validate(
        {**journal.header.model_dump(), "id": NASTY[:100], "person": NASTY, "coffee": NASTY, "machine": NASTY}
    )
    notes = tuple((600.0 + i, f"{NASTY} {'and on it goes ' * 60}") for i in range(30))
    base = bundled()
    cues = tuple(replace(base.cues[i % len(base.cues)], text=NASTY, why=NASTY, heard=2) for i in range(30))
    roast = replace(roast, header=header, notes=notes)
    document = base.profile.document.model_copy(update={"name": NASTY[:110]})
    full = replace(
        base, roast=roast, cues=cues, differences=tuple(f"{NASTY} {d}" for d in base.differences),
        profile=replace(base.profile, document=document),
    )  # fmt: skip
    taught = "It teaches: first crack at 389.8 ±1.5 °F (389.8 ±1.6 before it). " + "And on it goes. " * 20
    return replace(full, summary=replace(full.summary, colour_scale=NASTY, colour=58.0), taught=taught)


def test_everything_is_escaped() -> None:
    html = review_page(worst())
    assert "<script" not in html
    assert "<img" not in html
    assert "\x1b" not in html
    assert fetches(html) == []
    assert "&lt;script&gt;" in html


@needs_browser
@pytest.mark.parametrize("paper", sorted(PAPERS))
@pytest.mark.parametrize("full", [False, True])
def test_the_page_prints_on_one_sheet(tmp_path: Path, found: Review, paper: str, full: bool) -> None:
    count, size = printed(review_page(worst() if full else found), paper)
    assert size == pytest.approx(PAPERS[paper], abs=1)
    assert count == 1


@needs_browser
def test_the_page_has_no_serious_accessibility_fault(tmp_path: Path, found: Review) -> None:
    for html in (review_page(found), review_page(found).replace("(prefers-color-scheme: dark)", "(min-width: 1px)")):
        assert [(f["id"], f["nodes"][0]["html"]) for f in faults(html)] == []


@needs_browser
@pytest.mark.parametrize(("width", "paper"), [(700, False), (1000, False), (1400, False), (726, True)])
def test_nothing_spills_out_of_its_column(tmp_path: Path, found: Review, width: int, paper: bool) -> None:
    """At usual widths of a window, and as printed on A4 within its margins (192 mm at 96 px to the inch: 726 px)."""
    assert spills(review_page(found), width, paper) == []


@needs_browser
@pytest.mark.long
def test_the_check_for_spills_can_fail(tmp_path: Path, found: Review) -> None:
    wide = review_page(found).replace("<td", "<td style='min-width: 40rem'", 30)
    assert spills(wide, 1000) != []


@needs_browser
@pytest.mark.long
def test_the_accessibility_check_can_fail(tmp_path: Path) -> None:
    page = "<!DOCTYPE html><html><head></head><body><main><h1>x</h1><img src='data:,'></main></body></html>"
    assert {f["id"] for f in faults(page)} >= {"html-has-lang", "image-alt"}


def test_command(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.setenv("COACH_HOME", str(tmp_path))
    out = tmp_path / "r.html"
    assert main(["review", str(EXAMPLE), "--html", str(out)]) == 0
    assert "</html>" in out.read_text()
    assert main(["review", str(EXAMPLE), "--html", str(out)]) == 2
    assert main(["review", str(EXAMPLE)]) == 0
    assert "Next time:" in capsys.readouterr().out
    lines = EXAMPLE.read_text().splitlines()
    broken = tmp_path / "b.jsonl"
    broken.write_text("\n".join(lines[:2]) + "\n")
    assert main(["review", str(broken)]) == 2
    assert "no charge" in capsys.readouterr().err
    stranger = tmp_path / "s.jsonl"
    stranger.write_text(json.dumps({**json.loads(lines[0]), "profile": "gone"}) + "\n" + "\n".join(lines[1:]) + "\n")
    assert main(["review", str(stranger)]) == 2
    assert "--profile FILE" in capsys.readouterr().err


def test_a_broken_off_roast_can_be_looked_back_on(tmp_path: Path) -> None:
    lines = EXAMPLE.read_text().splitlines(keepends=True)
    cut = tmp_path / "cut.jsonl"
    cut.write_text("".join(lines[:25]))
    r = gather(cut, None, Path("nowhere"))
    assert r.summary.ended == "unfinished"
    assert "</html>" in review_page(r)
    assert page(r, 80)[0] == "No first crack, no drop"
    assert "NOT DROPPED" in " ".join(page(r, 80))
    assert max(map(len, page(r, 60))) <= 60
    assert read_journal(cut).header.id == "invented-larch-hill"
    assert Note(at=1.0, text="x").text == "x"
