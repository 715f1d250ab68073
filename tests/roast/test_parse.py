"""Typed lines: what they mean, and that nothing anybody can type breaks the parser or the roast."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.app.screens.entryline import LONGEST, EntryLine
from coach.app.screens.keys import KeyMap
from coach.app.screens.results_form import result_of
from coach.roast.entries import Header, Mark, Reading, Result
from coach.roast.errors import EntryError
from coach.roast.typed_line import Typed, parse
from coach.roast.units import clock
from coach.session.coach import Coach
from coach.session.profile_files import load_profile
from coach.session.settings import Settings
from coach.session.typed_entries import entry_from, retimed

ODD = "0123456789 @:-.,/abcdfginosuty\n\r\t\x00\x1b\x7f\x85\u2028\u202e\ufeff\u0661é°\U0001f600\ud800"
"""Signs of typed lines, and ones that terminals, files or numbers trip over."""


@pytest.mark.parametrize(
    ("line", "meant"),
    [
        ("198", Typed(temperature=198.0)),
        ("198,5", Typed(temperature=198.5)),
        (" 198.5 ", Typed(temperature=198.5)),
        ("164@6:20", Typed(temperature=164.0, roast_time=380.0)),
        ("164 @ 6:20", Typed(temperature=164.0, roast_time=380.0)),
        ("164 -10", Typed(temperature=164.0, ago=10.0)),
        ("164-10s", Typed(temperature=164.0, ago=10.0)),
        ("164@-10", Typed(temperature=164.0, ago=10.0)),
        ("FC", Typed(event="first crack")),
        ("first  crack @ 8:05", Typed(event="first crack", roast_time=485.0)),
        ("y -5", Typed(event="yellow", ago=5.0)),
        ("g.7", Typed(control="gas", value=0.7)),
        ("air 3@2:00", Typed(control="air", value=3.0, roast_time=120.0)),
        ("/smells of  toast", Typed(note="smells of  toast")),
        ("@6:20", Typed(roast_time=380.0)),
        ("@ -10", Typed(ago=10.0)),
    ],
)
def test_meanings(line: str, meant: Typed) -> None:
    assert parse(line) == meant


@pytest.mark.parametrize(
    ("line", "word"),
    [
        ("", "Nothing typed"),
        ("-40", "below zero"),
        ("g -1", "can't be below zero"),
        ("g", "gas to what"),
        ("1a2", "not understood"),
        ("198@", "not understood"),
        ("198@5:75", "not a time"),
        ("198@x", "not a time"),
        ("164 -9999", "more than an hour"),
        ("9" * 40, "too long"),
        ("١٩٨", "not understood"),
        ("/", "empty note"),
        ("198 199", "not understood"),
    ],
)
def test_refusals_say_what_is_wrong(line: str, word: str) -> None:
    with pytest.raises(EntryError) as caught:
        parse(line)
    assert word in str(caught.value)


@given(st.text(max_size=120) | st.text(alphabet="0123456789@:-., gyfcsd/", max_size=30))
def test_any_line_is_an_entry_or_a_refusal(line: str) -> None:
    try:
        typed = parse(line)
    except EntryError:
        return
    said = [typed.temperature is not None, typed.event is not None, typed.control is not None, typed.note is not None]
    assert sum(said) == (0 if typed.only_time else 1)
    assert (typed.control is None) == (typed.value is None)
    for number in (typed.temperature, typed.value, typed.roast_time, typed.ago):
        assert number is None or (math.isfinite(number) and number >= 0)


@given(st.text(alphabet=ODD, max_size=60))
def test_any_result_line_is_a_result_or_a_refusal(line: str) -> None:
    try:
        entry = result_of(line, 600.0)
    except EntryError:
        return
    assert entry is None or entry.at == 600.0


def test_a_typed_result_goes_by_the_rules_of_the_logbook() -> None:
    assert result_of("out 690g", 1.0, None, 0.8) == Result(at=1.0, weight_out=0.69)
    assert result_of("out 0,69", 1.0, Result(at=0.0, weight_in=0.8), None) == Result(at=1.0, weight_out=0.69)
    assert result_of("colour 58 our meter", 1.0) == Result(at=1.0, colour=58.0, colour_scale="our meter")
    assert result_of("colour 58", 1.0) == Result(at=1.0, colour=58.0)
    assert result_of("learn no", 1.0) == Result(at=1.0, learn=False)
    assert result_of("Accepted yes", 1.0) == Result(at=1.0, accepted=True)
    for line, says in (
        ("learn perhaps", "learn perhaps is not understood"),
        ("out 9", "9 kg can't come out of 0.8 kg"), ("out 690", "out 690 would be 690 kg"),
        ("out 0.2", "a loss of more than half"), ("score 101", "a cup score goes from 0 to 100"),
        ("in many", "in many is not a weight"), ("in 0", "would be 0 kg"), ("colour x y", "colour x is not a number"),
    ):  # fmt: skip
        with pytest.raises(EntryError, match=says) as error:
            result_of(line, 1.0, None, 0.8)
        assert error.value.hint.startswith("For example: ")


@given(st.integers(0, 3599), st.integers(0, 400), st.integers(0, 9))
def test_what_is_written_is_read(seconds: int, whole: int, tenth: int) -> None:
    value = whole + tenth / 10
    assert parse(f"{value}@{clock(seconds)}") == Typed(temperature=value, roast_time=float(seconds))
    assert parse(f"{value} -{seconds}") == Typed(temperature=value, ago=float(seconds))


@given(st.lists(st.text(alphabet=ODD, max_size=400), max_size=8), st.text(alphabet=ODD, max_size=50))
def test_any_paste_is_lines_and_a_rest(pieces: list[str], before: str) -> None:
    coach = Coach(load_profile("larch-hill"), Header(id="x", started="2026-11-02T08:00:00+00:00"))
    line = EntryLine(KeyMap(Settings(single_keys=False)), coach)
    for sign in before:
        line.press(sign, sign, 1.0, 1.0)
    words = [step.words for step in line.paste("\n".join(pieces), 1.0)]
    for text in [*words, line.text, line.field.refused, line.message]:
        assert len(text) <= 2 * LONGEST
        assert not any(c in text for c in "\n\r\x1b\x00")
    assert len(line.text) <= LONGEST


def test_the_entry_made_last_gets_another_time() -> None:
    coach = Coach(load_profile("larch-hill"), Header(id="x", started="2026-11-02T08:00:00+00:00"))
    with pytest.raises(EntryError, match="no entry"):
        retimed(coach, parse("@-10"), 5.0)
    coach.receive(Mark(at=10.0, event="charge"))
    coach.receive(Reading(at=130.0, temperature=95.0))
    coach.receive(retimed(coach, parse("@1:50"), 140.0))
    (reading,) = coach.roast.readings
    assert (reading.t, reading.came) == (110.0, 120.0)
    coach.receive(retimed(coach, parse("@-5"), 140.0))
    assert coach.roast.readings[0].t == 125.0
    with pytest.raises(EntryError, match="not come yet"):
        retimed(coach, parse("@9:00"), 140.0)
    with pytest.raises(EntryError, match="before this roast"):
        retimed(coach, parse("@-3000"), 140.0)


def test_beans_that_were_in_the_drum_before_the_coach_was_opened_get_their_charge() -> None:
    coach = Coach(load_profile("larch-hill"), Header(id="x", started="2026-11-02T08:00:00+00:00"))
    coach.receive(Mark(at=5.0, event="charge"))
    coach.receive(retimed(coach, parse("@-120"), 8.0))
    coach.receive(entry_from(coach, parse("95@1:40"), 9.0))
    coach.advance(10.0)
    assert coach.roast.charge_at == -112.0
    assert [r.t for r in coach.roast.readings] == [100.0]
    assert coach.situation.t == 122.0
    assert coach.situation.estimate is not None
