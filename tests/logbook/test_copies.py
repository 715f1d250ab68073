"""Several files of one roast, results added to each: brought together in the one that counts."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from helpers import EXAMPLE
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.app.cli import main
from coach.logbook.index.copies import bring, brought
from coach.logbook.index.index import load_summary
from coach.logbook.index.results import add_results
from coach.roast.entries import Header, Mark, Note, Reading, Result
from coach.roast.errors import CoachError, FileError
from coach.roast.roast import Numbered, effective, fold
from coach.session.journal import read_journal
from coach.session.journal_folder import same_roast

NOW = datetime(2026, 11, 3, 8, tzinfo=UTC)
LATER = NOW + timedelta(days=2)
HEADER = Header(id="a", started="2026-11-02T08:00:00+00:00")


def two(folder: Path) -> tuple[Path, Path]:
    """A roast and a copy of it."""
    folder.mkdir()
    first, rest = EXAMPLE.read_text().split("\n", 1)
    text = json.dumps({**json.loads(first), "id": "a"}) + "\n" + rest
    paths = folder / "a.jsonl", folder / "a.conflict.jsonl"
    for path in paths:
        path.write_text(text)
    return paths


def result_of(path: Path) -> Result:
    journal = read_journal(path)
    found = fold(journal.header, effective(journal.entries)).result
    assert found is not None
    return found


def test_what_each_machine_added_is_in_the_file_that_counts_and_none_loses_a_line(tmp_path: Path) -> None:
    here, copy = two(tmp_path / "book")
    add_results(here, {"weight_in": 0.8, "weight_out": 0.69}, ["the gauge sticks"], NOW)
    add_results(copy, {"cup_score": 85.0, "cup_notes": "plum"}, ["cupped too early"], LATER)
    before, there = here.read_text(), copy.read_text()
    found = bring(here, [copy])
    assert here.read_text().startswith(before)
    assert copy.read_text() == there
    assert (len(found.entries), found.older, found.else_there) == (2, (), 0)
    result = result_of(here)
    assert (result.weight_out, result.cup_score, result.cup_notes) == (0.69, 85.0, "plum")
    journal = read_journal(here)
    notes = [text for _, text in fold(journal.header, effective(journal.entries)).notes]
    assert notes[-2:] == ["doubt: the gauge sticks", "doubt: cupped too early"]
    once = here.read_text()
    assert bring(here, [copy]).entries == ()
    assert here.read_text() == once
    assert len(bring(copy, [here]).entries) == 2, "and the other way about"
    assert result_of(copy).weight_out == 0.69
    assert bring(here, [copy]).entries == bring(copy, [here]).entries == ()


@pytest.mark.parametrize(("here_first", "stands"), [(True, 86.0), (False, 84.0)])
def test_of_two_values_the_one_entered_later_stands(tmp_path: Path, here_first: bool, stands: float) -> None:
    here, copy = two(tmp_path / "book")
    add_results(here, {"cup_score": 84.0}, [], NOW if here_first else LATER)
    add_results(copy, {"cup_score": 86.0, "weight_out": 0.69}, [], LATER if here_first else NOW)
    found = bring(here, [copy])
    assert (result_of(here).cup_score, result_of(here).weight_out) == (stands, 0.69)
    assert found.older == (() if here_first else (("cup_score", 84.0, 86.0),))
    assert bring(here, [copy]).entries == ()
    bring(copy, [here])
    assert result_of(copy).cup_score == stands


def test_entries_of_the_roast_itself_stay_where_they_are_and_are_counted() -> None:
    start = [Mark(at=60, event="charge"), Reading(at=100, temperature=150.0)]
    more = [Reading(at=130, temperature=140.0), Mark(at=660, event="drop"), Result(at=700, weight_out=0.69)]
    kept = [Numbered(i + 2, e) for i, e in enumerate(start)]
    found = brought(HEADER, kept, [[Numbered(i + 2, e) for i, e in enumerate([*start, *more])]])
    assert [type(e) for e in found.entries] == [Result]
    assert found.else_there == 2


def test_weights_that_do_not_fit_each_other_are_refused_and_nothing_is_written(tmp_path: Path) -> None:
    here, copy = two(tmp_path / "book")
    add_results(here, {"weight_in": 0.6}, [], LATER)
    add_results(copy, {"weight_out": 0.69}, [], NOW)
    before = here.read_text()
    with pytest.raises(CoachError, match=r"0\.69 kg can't come out of 0\.6 kg"):
        bring(here, [copy])
    assert here.read_text() == before


def test_weights_of_two_copies_are_judged_together(tmp_path: Path) -> None:
    here, copy = two(tmp_path / "book")
    third = copy.with_name("a.third.jsonl")
    third.write_text(copy.read_text())
    add_results(copy, {"weight_in": 0.6}, [], NOW)
    add_results(third, {"weight_out": 0.69}, [], LATER)
    with pytest.raises(CoachError, match=r"0\.69 kg can't come out of 0\.6 kg"):
        bring(here, [copy, third])


def test_another_roast_is_no_copy(tmp_path: Path) -> None:
    here, copy = two(tmp_path / "book")
    copy.write_text(copy.read_text().replace('"id": "a"', '"id": "b"', 1))
    with pytest.raises(FileError, match="is another roast"):
        bring(here, [copy])


def test_the_command_names_what_it_did(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    here, copy = two(tmp_path / "book")
    add_results(here, {"weight_in": 0.8, "weight_out": 0.69}, ["a long enough doubt to be the longer file"], LATER)
    add_results(copy, {"cup_score": 85.0, "weight_in": 0.81}, [], NOW)
    folder = ["--logbook", str(here.parent)]
    assert same_roast(copy, here.parent) == [here, copy]
    assert main(["result", "a.conflict", "copies", *folder]) == 0
    out = capsys.readouterr().out
    assert "a counts; 1 entry brought from a.conflict (which stay as they are)" in out
    assert "weight in: 0.8 stays, entered later than 0.81" in out
    assert "85" in out
    row = load_summary(here, "a.jsonl")
    assert row.cup_score == 85.0
    assert row.loss == pytest.approx(13.75)
    assert main(["result", str(here), *folder, "colour=58", "scale=ours", "copies"]) == 0
    assert "nothing brought" in capsys.readouterr().out
    assert result_of(here).colour == 58.0
    copy.unlink()
    assert main(["result", "a", "copies", *folder]) == 0
    assert "only file" in capsys.readouterr().out


MOMENTS = st.integers(0, 5).map(lambda n: (NOW + timedelta(hours=n)).isoformat(timespec="seconds"))
ADDED = st.builds(
    lambda at, when, field, value: Result.model_validate({"at": at, "entered": when, field: value}),
    st.integers(700, 800),
    MOMENTS,
    st.sampled_from(["colour", "cup_score", "moisture"]),
    st.integers(1, 5).map(float),
) | st.builds(
    lambda at, when, text: Note.model_validate({"at": at, "entered": when, "text": text}),
    st.integers(700, 800),
    MOMENTS,
    st.sampled_from(["a", "b"]),
)


@settings(max_examples=150, deadline=None)
@given(st.lists(ADDED, max_size=4), st.lists(st.lists(ADDED, max_size=4), max_size=3))
def test_nothing_is_lost_and_a_second_time_brings_nothing(here: list[Result], copies: list[list[Result]]) -> None:
    def journal(added: list[Result]) -> list[Numbered]:
        added = sorted(added, key=lambda e: e.entered)  # type: ignore[attr-defined]
        entries = [Mark(at=60, event="charge"), Mark(at=660, event="drop")]
        at = 700.0
        for n, e in enumerate(added):
            entries.append(e.model_copy(update={"at": at + n}))  # type: ignore[arg-type]
        return [Numbered(i + 2, e) for i, e in enumerate(entries)]

    kept, others = journal(here), [journal(c) for c in copies]
    found = brought(HEADER, kept, others)
    joined = [*kept, *(Numbered(len(kept) + 2 + i, e) for i, e in enumerate(found.entries))]
    assert brought(HEADER, joined, others).entries == ()
    result = fold(HEADER, effective(joined)).result
    everything = [e for part in ([n.entry for n in kept], *([n.entry for n in o] for o in others)) for e in part]
    texts = {(e.entered, e.text) for e in everything if isinstance(e, Note)}  # type: ignore[attr-defined]
    assert texts == {(n.entry.entered, n.entry.text) for n in joined if isinstance(n.entry, Note)}  # type: ignore[attr-defined]
    for field in ("colour", "cup_score", "moisture"):
        said = [(e.entered, getattr(e, field)) for e in everything if isinstance(e, Result)]  # type: ignore[attr-defined]
        said = [(when, v) for when, v in said if v is not None]
        if said:
            last = max(when for when, _ in said)
            assert getattr(result, field) in {v for when, v in said if when == last}
        else:
            assert result is None or getattr(result, field) is None
