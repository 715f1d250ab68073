"""One odd ``typed`` in a journal: the clock goes on by the lines after it, and the cost stays that of the entries."""

from __future__ import annotations

import time
from pathlib import Path

import pytest
from helpers import example

from coach.roast.entries import Reading
from coach.roast.roast import Numbered, as_fed
from coach.session.coach import Coach
from coach.session.profile_files import load_profile
from coach.verification.replay import walk


def odd(late: float = 7200.0) -> list[Numbered]:
    """The bundled roast, one reading in the middle of it typed two hours ``late`` (s), by what it says."""
    found = list(example().entries)
    i = next(i for i, n in enumerate(found) if i > 8 and isinstance(n.entry, Reading))
    found[i] = Numbered(found[i].line, found[i].entry.model_copy(update={"typed": found[i].entry.at + late}))
    return found


def test_no_line_came_in_later_than_one_after_it() -> None:
    fed = as_fed(odd())
    assert [n.entry.came for n in fed] == sorted(n.entry.came for n in fed)
    assert [a == b for a, b in zip(fed, odd(), strict=True)].count(False) == 1, "the rest is as it was"
    assert as_fed(example().entries) == list(example().entries)


def test_a_replay_costs_what_it_costs_without() -> None:
    profile, journal = load_profile("larch-hill"), example()
    began = time.process_time()
    usual = walk(Coach(profile, journal.header), journal.entries)
    spent = time.process_time() - began
    began = time.process_time()
    found = walk(Coach(profile, journal.header), odd())
    assert time.process_time() - began < 2.0 * spent + 0.5
    assert found.roast.marks == usual.roast.marks
    assert [e.cue for e in found.record.episodes] == [e.cue for e in usual.record.episodes]


@pytest.mark.long
def test_a_replay_of_many_odd_times_from_a_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    from coach.app.cli import main
    from coach.session.journal import line_of

    lines = [line_of(example().header)]
    for n in example().entries:
        late = isinstance(n.entry, Reading) and n.line % 2
        lines.append(line_of(n.entry.model_copy(update={"typed": n.entry.at + 7200.0}) if late else n.entry))
    file = tmp_path / "odd.jsonl"
    file.write_text("".join(lines))
    began = time.process_time()
    assert main(["replay", str(file), "--profile", "larch-hill", "--json"]) == 0
    assert time.process_time() - began < 15.0, "it took minutes"
    assert len(capsys.readouterr().out.splitlines()) == len(lines) - 1


def test_the_clock_is_set_back_by_the_next_line() -> None:
    journal = example()
    coach = Coach(load_profile("larch-hill"), journal.header)
    last = 0.0
    for n in odd(late=600.0)[:14]:
        coach.advance(min(n.entry.came, n.entry.at + 60.0))  # a jump of a minute is enough to tell
        coach.receive(n.entry, n.line)
        last = n.entry.at
    assert coach.at == pytest.approx(last)
    assert coach.situation.t == pytest.approx(last - (coach.roast.charge_at or 0.0))
