"""The entry line as a state machine: keys in, entries and words out; no screen, no disk."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest
from helpers import ROOT

from coach.app.screens import entryline
from coach.app.screens.entryline import BREATH, EntryLine, Outcome
from coach.app.screens.keys import KeyMap
from coach.roast.entries import Correction, Header, Move, Note, Pop, Reading
from coach.session.coach import Coach
from coach.session.profile_files import load_profile
from coach.session.settings import Settings


class Typist:
    """Presses keys, a second apart unless said otherwise, and enters what they come to, as a screen does."""

    def __init__(self) -> None:
        profile = load_profile(str(ROOT / "profiles" / "larch-hill.toml"))
        self.coach = Coach(profile, Header(id="x", profile=profile.name, started="2026-11-02T08:00:00+00:00"))
        self.line = EntryLine(KeyMap(Settings()), self.coach)
        self.now = 0.0

    def follow(self, step: Outcome) -> Outcome:
        for entry in step.log:
            self.coach.receive(entry)
        return step

    def press(self, *keys: str, apart: float = 1.0) -> Outcome:
        step = Outcome()
        for key in keys:
            sign = " " if key == "space" else key if len(key) == 1 else ""
            self.now += apart
            step = self.follow(self.line.press(key, sign, self.now, self.now))
        return step

    def paste(self, text: str) -> None:
        for step in self.line.paste(text, self.now):
            self.follow(step)

    def at(self, now: float) -> None:
        self.now = now
        self.coach.advance(now)

    def type(self, text: str) -> Outcome:
        return self.press(*text, "enter", apart=0.2)

    @property
    def kinds(self) -> list[str]:
        return [n.entry.kind for n in self.coach.entries]  # type: ignore[attr-defined]


@pytest.fixture
def typist() -> Typist:
    t = Typist()
    t.press("c")
    return t


def test_with_caps_lock_on_keys_and_lines_mean_the_same() -> None:
    t = Typist()
    t.press("C")
    for line in ("205", "G 1,6", "Y@0:01", "/Smells of Toast"):
        t.type(line)
    t.press("D")
    for line in ("MOISTURE 11.2", "OUT 690G"):
        t.type(line)
    assert t.kinds == ["mark", "reading", "move", "mark", "correction", "note", "mark", "result", "result"]
    assert t.coach.roast.notes[-1][1] == "Smells of Toast"
    assert t.coach.roast.result is not None
    assert (t.coach.roast.result.moisture, t.coach.roast.result.weight_out) == (11.2, 0.69)


def test_the_machine_knows_no_screen_disk_or_clock() -> None:
    tree = ast.parse(Path(entryline.__file__).read_text(encoding="utf-8"))
    names = {n.module or "" for n in ast.walk(tree) if isinstance(n, ast.ImportFrom)}
    names |= {a.name for n in ast.walk(tree) if isinstance(n, ast.Import) for a in n.names}
    assert not [
        n for n in names if n.split(".")[0] in {"textual", "rich", "os", "time", "pathlib", "random", "asyncio"}
    ]


def test_one_backspace_after_a_refused_key_clears_and_withdraws_nothing(typist: Typist) -> None:
    typist.type("g 1.3")
    typist.press("s")
    assert "second crack can't come before" in typist.line.message
    assert typist.line.field.shown == "s"
    typist.press("backspace")
    assert typist.line.field.shown == ""
    assert typist.kinds == ["mark", "move"]
    typist.press("backspace", "backspace", apart=0.3)
    assert typist.kinds == ["mark", "move"], "nor do the Backspaces that come in the same breath"


def test_a_withdrawal_names_what_it_will_withdraw_and_any_other_key_lets_it_be(typist: Typist) -> None:
    typist.at(272.0)
    typist.type("g 1.2")
    typist.press("backspace")
    assert typist.line.message == "Backspace again withdraws: gas 1.2 at 4:32"
    assert typist.kinds == ["mark", "move"]
    typist.press("1", "escape", "backspace")
    assert typist.kinds == ["mark", "move"]
    step = typist.press("backspace")
    assert isinstance(step.log[0], Correction)
    assert step.words.startswith("withdrawn: gas 1.2 at 4:32")
    typist.press(*["backspace"] * 20, apart=0.03)
    assert typist.kinds == ["mark", "move", "correction"], "a held key withdraws one entry at most"


def test_other_words_beside_the_line_take_back_what_was_named(typist: Typist) -> None:
    typist.type("g 1.2")
    typist.press("backspace")
    typist.line.message = "PAUSED"
    typist.press("backspace")
    assert typist.kinds == ["mark", "move"]
    assert typist.line.message.startswith("Backspace again withdraws")


def test_exactly_the_entry_that_was_named_is_withdrawn_whatever_came_since(typist: Typist) -> None:
    typist.type("g 1.2")
    typist.press("backspace")
    typist.coach.receive(Reading(at=typist.now, temperature=150.0))
    typist.press("backspace")
    assert not typist.coach.roast.moves
    assert [r.shown for r in typist.coach.roast.readings] == [150.0]


def test_a_held_backspace_on_typed_text_never_withdraws(typist: Typist) -> None:
    typist.type("g 1.2")
    typist.press("1", "9")
    typist.press("backspace")
    typist.press("backspace", apart=0.66)  # the longest first repeat
    typist.press(*["backspace"] * 100, apart=0.03)
    assert typist.kinds == ["mark", "move"]
    typist.press("backspace", "backspace", apart=BREATH + 0.1)
    assert typist.kinds[-1] == "correction", "after a pause it names, and then withdraws"


def test_redo_brings_back_what_was_withdrawn_last_first(typist: Typist) -> None:
    typist.type("g 1.2")
    typist.type("/a note")
    before = typist.coach.roast
    for _ in range(2):
        typist.press("escape", "backspace", "backspace")
    assert not typist.coach.roast.moves
    assert not typist.coach.roast.notes
    assert typist.type("redo").words.startswith("brought back: gas 1.2")
    assert typist.type("redo").words.startswith("brought back: note 'a note'")
    assert [(m.t, m.value) for m in typist.coach.roast.moves] == [(m.t, m.value) for m in before.moves]
    assert typist.coach.roast.notes == before.notes
    typist.type("redo")
    assert typist.line.message.startswith("Nothing was withdrawn")


def test_redo_of_a_mark_that_was_made_anew_is_refused_in_words(typist: Typist) -> None:
    typist.at(280.0)
    typist.press("y")
    typist.press("backspace", "backspace")
    typist.press("y")
    typist.type("redo")
    assert "already marked" in typist.line.message


def test_after_a_refused_line_the_next_key_begins_anew_and_up_brings_it_back(typist: Typist) -> None:
    typist.type("gsa 1.2")
    assert "not understood" in typist.line.message
    typist.type("198")
    assert typist.coach.roast.readings[-1].shown == 198
    typist.type("gs such")
    typist.at(480.0)
    typist.press("f")
    assert "first crack" in typist.coach.roast.marks
    typist.press("up")
    assert typist.line.text == "gs such"
    typist.press(*["backspace"] * 7)
    typist.type("/or so")
    assert typist.coach.roast.notes[-1][1] == "or so"


def test_taps_after_a_refused_mark_are_pops(typist: Typist) -> None:
    typist.press("s", "space", "space")
    assert typist.kinds == ["mark", "pop", "pop"]


def test_a_question_never_logs_and_a_key_of_its_own_does(typist: Typist) -> None:
    typist.type("w 1.2")
    assert typist.kinds == ["mark"]
    assert typist.line.field.shown == "w 1.2"
    question = typist.line.question()
    assert question is not None
    assert question.value == 1.2
    typist.press("enter", "enter")
    assert typist.kinds == ["mark"]
    typist.type("150")
    assert typist.kinds == ["mark", "reading"], "what is typed after it begins anew"
    typist.type("w 1.2")
    step = typist.press("=")
    assert [(x.control, x.value) for x in step.log if isinstance(x, Move)] == [("gas", 1.2)]
    typist.press(*"w1.1=")
    assert typist.coach.roast.moves[-1].shown == 1.1
    typist.type("w")
    assert "Ask  w 1.2" in typist.line.message


@pytest.mark.parametrize(
    "line", ["1981985", "r 100001", "198,198", "g 1e9", "198@999:59", "a 99999999999", "5000000 -10"]
)
def test_what_the_journal_refuses_is_refused_in_words(typist: Typist, line: str) -> None:
    typist.at(200.0)
    typist.type(line)
    assert typist.kinds == ["mark"]
    assert typist.line.message
    assert typist.line.field.shown == line
    assert "Input should" not in typist.line.message


def test_lines_of_a_paste_are_logged_in_their_order_and_the_rest_goes_on(typist: Typist) -> None:
    typist.press("/", "o")
    typist.paste("ne\r\n/two\n\n/thr")
    typist.press("e", "e", "enter", "space")
    entries = [n.entry for n in typist.coach.entries[1:]]
    assert [e.text for e in entries if isinstance(e, Note)] == ["one", "two", "three"]
    assert isinstance(entries[-1], Pop)


def test_a_tower_of_marks_is_bounded_typed_and_pasted(typist: Typist) -> None:
    typist.press("/", "a", *"\u0335" * 40)
    typist.paste("\u0336" * 40)
    assert typist.line.field.shown == "/a" + "\u0335" * 4
    typist.press("enter")
    assert typist.coach.roast.notes[0][1] == "a" + "\u0335" * 4


@pytest.mark.parametrize("pasted", ["/one\nw 1.2\n", "/one\nw 1.2\n/two\n"])
def test_a_question_among_pasted_lines_does_not_hide_what_was_logged(typist: Typist, pasted: str) -> None:
    typist.paste(pasted)
    assert typist.kinds == ["mark", "note"]
    assert typist.line.question() is None
    assert typist.line.message.startswith("1 line logged, line 2 of the paste not")


def test_a_question_that_is_left_of_a_paste_does_not_hide_what_was_logged(typist: Typist) -> None:
    typist.paste("/one\nw 1.2")
    assert typist.kinds == ["mark", "note"]
    assert typist.line.question() is None
    typist.press("up")
    assert typist.line.text == "w 1.2", "Up brings it back"


def test_a_missed_move_stays_missed_until_it_is_made(typist: Typist) -> None:
    typist.press("o")
    due = next(s for s in typist.coach.profile.steps if s.time > 60)
    typist.at(due.time + 120.0)
    missed = typist.coach.situation.missed
    assert [m.step for m in missed] == [due]
    typist.press("o")
    assert typist.coach.roast.moves[-1].value == due.value
    assert typist.coach.situation.missed == ()


def test_a_missed_move_is_left_out_by_a_key_and_that_can_be_withdrawn(typist: Typist) -> None:
    typist.press("o")
    due = next(s for s in typist.coach.profile.steps if s.time > 60)
    typist.at(due.time + 120.0)
    step = typist.press("l")
    assert step.words.startswith(f"left out: {due.control}")
    assert typist.coach.situation.missed == ()
    typist.press("backspace", "backspace")
    assert [m.step for m in typist.coach.situation.missed] == [due]


# -- Tab: a reading at the moment at which the dial turns -----------------------------------------------------------


def offered(typist: Typist) -> float:
    """Readings until a number is offered; that number."""
    curve, charge = typist.coach.profile.curve, typist.coach.roast.charge_at or 0.0
    for t in (150, 180, 210):
        typist.at(charge + t)
        typist.type(f"{curve.value(t):.0f}")
    while typist.coach.situation.turn is None and typist.now < charge + 300:
        typist.at(typist.now + 1.0)
    assert typist.coach.situation.turn is not None
    return typist.coach.situation.turn.shown


def test_tab_logs_the_offered_number_as_it_turns(typist: Typist) -> None:
    shown = offered(typist)
    step = typist.press("tab", apart=2.0)
    assert step.log == (Reading(at=typist.now, temperature=shown, turned=True),)
    assert step.words == f"{shown:g} as it turned"
    assert typist.press("tab", apart=0.05).log == ()  # a held key


def test_a_press_too_late_for_a_number_does_not_log_the_one_that_took_its_place(typist: Typist) -> None:
    before = offered(typist)
    while typist.coach.situation.turn is None or typist.coach.situation.turn.shown == before:
        typist.at(typist.now + 1.0)
    now = typist.coach.situation.turn.shown
    assert typist.press("tab", apart=0.5).log == ()
    assert f"{now:g} has only just come up" in typist.line.message
    assert typist.press("tab", apart=2.0).log == (Reading(at=typist.now, temperature=now, turned=True),)


def test_tab_ends_another_number_as_it_turns_and_enter_stays_a_reading_now(typist: Typist) -> None:
    shown = offered(typist)
    other = f"{shown + 3:.0f}"
    assert typist.press(*other, "tab", apart=0.2).log == (Reading(at=typist.now, temperature=shown + 3, turned=True),)
    typist.at(typist.now + 20)
    assert typist.type("160").log == (Reading(at=typist.now, temperature=160.0),)


def test_tab_without_a_number_or_with_anything_else_logs_nothing(typist: Typist) -> None:
    typist.press("tab")
    assert "No number is offered" in typist.line.message
    for line in ("183@0:01", "g 1.3", "183 -1"):
        typist.press("escape", *line, "tab", apart=0.2)
        assert "Tab logs a number" in typist.line.message
    assert typist.kinds == ["mark"]
