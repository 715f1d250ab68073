"""What a profile made from roasts says: from evidence at charge, from the profile that was followed, or asked for."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from helpers import EXAMPLE, example
from pydantic import ValidationError

from coach.advice.charge_temperature import days as charge_days
from coach.advice.charge_temperature import early_off
from coach.advice.first_gas import days as gas_days
from coach.app.cli import main
from coach.forecast.learning import from_profile
from coach.logbook.adopt import AdoptOptions, adopt
from coach.logbook.index.summary import summarise
from coach.logbook.learning.cache import ResultCache
from coach.logbook.learning.lessons import teachers
from coach.logbook.learning.replays import Replays
from coach.logbook.profiles.proposal import proposal
from coach.logbook.profiles.versions import merge, odd_ones
from coach.roast.errors import EntryError
from coach.roast.profile import Profile, ProfileDocument
from coach.roast.roast import Roast, effective, fold
from coach.roast.units import from_celsius
from coach.session.journal import read_journal
from coach.session.journal_folder import roasts
from coach.session.profile_files import load_profile, read_document


@pytest.fixture(scope="module")
def parent() -> Profile:
    return load_profile("larch-hill")


def as_typed() -> Roast:
    return fold(example().header, effective(example().entries))


def late(base: Roast | None = None) -> Roast:
    """The example as typed without a reading before charge, the first one 83 °C at 1:10."""
    base = base or as_typed()
    first = replace(base.readings[0], t=70.0, came=70.0, celsius=83.0, shown=83.0)
    return replace(base, preheat=(), readings=(first, *(r for r in base.readings if r.t > 75)))


def test_a_first_reading_is_no_charge_temperature(parent: Profile) -> None:
    made = adopt(late(), "late", followed=parent.document)
    assert made.document.charge_temperature == 222.0
    assert made.sources["charge temperature"] == "followed profile"
    assert made.document.reference[0] == (0.0, 222.0)
    line = Profile(made.document).curve
    assert line.turning_point[0] == pytest.approx(parent.curve.turning_point[0], abs=8)
    assert line.value(30.0) == pytest.approx(parent.curve.value(30.0), abs=3), "the followed one's shape until 1:10"
    assert merge(parent, [late()] * 5).document.charge_temperature == 222.0


def test_a_reading_counts_for_the_charge_within_twenty_seconds(parent: Profile) -> None:
    base = as_typed()
    read = base.preheat[-1]
    for before, charge in ((5.0, 218.0), (20.0, 218.0), (45.0, 222.0)):
        roast = replace(base, preheat=(replace(read, t=-before, celsius=218.0, shown=218.0),))
        assert adopt(roast, "x", followed=parent.document).document.charge_temperature == charge
        assert merge(parent, [roast]).document.charge_temperature == charge
        assert summarise(roast, "x").charge_temperature == (218.0 if before <= 20 else None)
    falling = replace(late(), readings=(replace(read, t=12.0, celsius=150.0), *late().readings))
    assert adopt(falling, "x", followed=parent.document).document.charge_temperature == 222.0, "it fell since charge"
    few = [replace(base, preheat=(replace(read, celsius=218.0),)), late(), late()]
    assert merge(parent, few).document.charge_temperature == 222.0, "one of three shows it"


def test_a_safety_limit_is_never_made_of_readings(parent: Profile) -> None:
    base = as_typed()
    hotter = replace(base, readings=tuple(replace(r, celsius=r.celsius + 15) for r in base.readings))
    made = adopt(hotter, "x", followed=parent.document).document
    assert made.limits == parent.document.limits
    over = replace(base, readings=tuple(replace(r, celsius=r.celsius + 0.06 * max(r.t - 90, 0)) for r in base.readings))
    with pytest.raises(EntryError, match="limit is 235"):
        adopt(over, "x", followed=parent.document)
    with pytest.raises(EntryError, match="invented-larch-hill: The roast reached 237 °C"):
        merge(parent, [base, over])


def test_what_the_followed_profile_says_is_kept(parent: Profile) -> None:
    made = adopt(as_typed(), "x", followed=parent.document).document
    for what in ("limits", "checklist", "calls", "taps", "cadence", "band", "charge_tolerance", "coffee", "machine"):
        assert getattr(made, what) == getattr(parent.document, what), what
    assert made.drop.by == parent.document.drop.by
    assert made.drop.time_tolerance == parent.document.drop.time_tolerance


def test_the_batch_is_the_one_that_was_weighed(parent: Profile) -> None:
    journal = example()
    roast = as_typed()
    assert adopt(roast, "x", followed=parent.document).document.batch_kg == 0.8
    from coach.roast.entries import Result

    weighed = replace(roast, result=Result(at=700.0, weight_in=0.84))
    assert adopt(weighed, "x", followed=parent.document).document.batch_kg == 0.84
    other = replace(weighed, header=journal.header.model_copy(update={"batch_kg": None}), result=None)
    assert adopt(other, "x", followed=parent.document).document.batch_kg == parent.document.batch_kg
    assert any("0.9 kg" in x for x in odd_ones(parent, [replace(roast, result=Result(at=700.0, weight_in=0.9))], ["a"]))


def test_all_that_is_missing_is_asked_for_with_its_options() -> None:
    bare = replace(late(), header=late().header.model_copy(update={"batch_kg": None}))
    with pytest.raises(EntryError) as error:
        adopt(bare, "x")
    for option in ("--charge DEGREES", "--safety DEGREES", "--batch KG"):
        assert option in error.value.hint
    made = adopt(bare, "x", given=AdoptOptions(charge=220.0, safety=233.0, batch_kg=0.7)).document
    assert (made.charge_temperature, made.limits.safety, made.batch_kg) == (220.0, 233.0, 0.7)


def test_other_units_are_converted(parent: Profile) -> None:
    base = as_typed()
    header = base.header.model_copy(update={"unit": "F", "pressure_unit": "mbar"})
    typed = replace(
        base, header=header,
        readings=tuple(replace(r, shown=from_celsius(r.celsius, "F")) for r in base.readings),
        moves=tuple(replace(m, shown=m.shown * 10) if m.control == "gas" else m for m in base.moves),
    )  # fmt: skip
    for document in (adopt(typed, "x", followed=parent.document).document, merge(parent, [typed]).document):
        gas = [m.value for m in document.moves if m.control == "gas"]
        assert gas == [m.value for m in parent.document.moves if m.control == "gas"]
        assert (document.unit, document.charge_temperature, document.limits.safety) == ("C", 222.0, 235.0)
    alone = adopt(typed, "x", given=AdoptOptions(safety=455.0)).document
    assert (alone.unit, alone.charge_temperature) == ("F", pytest.approx(431.6))
    assert [m.value for m in alone.moves if m.control == "gas"] == [16.0, 12.0, 8.0]


def test_what_was_typed_after_the_drop_does_not_count(parent: Profile) -> None:
    base = as_typed()
    cooling = [
        replace(base.readings[-1], t=base.marks["drop"] + s, celsius=c) for s, c in ((60.0, 190.0), (120.0, 90.0))
    ]
    after = replace(base, readings=(*base.readings, *cooling))
    assert adopt(after, "x", followed=parent.document) == adopt(base, "x", followed=parent.document)


def test_a_drop_that_nobody_read_is_not_made_up(parent: Profile) -> None:
    base = as_typed()
    with pytest.raises(EntryError, match="no drop mark"):
        adopt(replace(base, marks={"charge": 0.0}), "x", followed=parent.document)
    early = replace(base, readings=tuple(r for r in base.readings if r.t < 480))
    for make in (lambda: adopt(early, "x", followed=parent.document), lambda: merge(parent, [early])):
        with pytest.raises(EntryError, match="before its drop"):
            make()


def test_an_odd_roast_among_several_is_named(parent: Profile) -> None:
    base = as_typed()
    odd = replace(
        base, header=base.header.model_copy(update={"id": "odd"}),
        readings=tuple(replace(r, celsius=r.celsius + (0.05 * max(r.t - 300, 0))) for r in base.readings),
    )  # fmt: skip
    (said,) = odd_ones(parent, [base, base, odd], ["a", "b", "odd"])
    assert said.startswith("odd is unlike the others: dropped 14 °C hotter")
    assert odd_ones(parent, [base, base, late()], ["a", "b", "c"]) == []


@pytest.fixture
def logbook(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., None]:
    monkeypatch.setenv("COACH_HOME", str(tmp_path))
    monkeypatch.setenv("COACH_CACHE", str(tmp_path / "cache"))
    (tmp_path / "roasts").mkdir()

    def put(name: str, *, charge: float | None = 222.0, **header: object) -> None:
        lines = [json.loads(line) for line in EXAMPLE.read_text().splitlines()]
        lines[0] = {**lines[0], "id": name, **header}
        kept = [x for x in lines if x["kind"] != "reading" or x["at"] > 60]
        if charge is not None:
            kept.insert(1, {"at": 55.0, "kind": "reading", "temperature": charge})
        kept.append({"at": 700.0, "kind": "result", "accepted": True})
        text = "\n".join(json.dumps(x) for x in kept) + "\n"
        (tmp_path / "roasts" / f"{name}.jsonl").write_text(text)

    return put


def test_both_commands_show_first_and_ask_for_a_word(
    tmp_path: Path, logbook: Callable[..., None], capsys: pytest.CaptureFixture[str]
) -> None:
    logbook("a", charge=180.0)
    out = tmp_path / "out.toml"
    for command in (["adopt", "a", "--name", "Cold"], ["merge", "larch-hill", "a"]):
        argv = [*command, "--output", str(out)]
        assert main(argv) == 2
        shown = capsys.readouterr()
        assert "charge temperature  222 °C" in shown.out
        assert "180 °C" in shown.out
        assert "Nothing is written. charge temperature: 222 °C -> 180 °C." in shown.err
        assert "--change charge" in shown.err
        assert not out.exists()
        assert main([*argv, "--charge", "222", "--show"]) == 0
        assert not out.exists()
        assert main([*argv, "--charge", "222"]) == 0
        assert read_document(out).charge_temperature == 222.0
        out.unlink()
        for stated in (["--safety", "240"], ["--limit", "gas=0.2-2.4"]):
            assert main([*argv, "--charge", "222", *stated]) == 2
            assert "--change limits" in capsys.readouterr().err
            assert main([*argv, "--charge", "222", *stated, "--change", "charge"]) == 2, "another word"
            assert not out.exists()
        assert main([*argv, "--change", "charge", "--change", "limits", "--safety", "240"]) == 0
        made = read_document(out)
        assert (made.charge_temperature, made.limits.safety, made.limits.gas) == (180.0, 240.0, (0.0, 3.0))
        out.unlink()
    assert main(["adopt", "a", "--name", "x", "--limit", "gas=lots"]) == 2
    assert "--limit gas=0.4-2.4" in capsys.readouterr().err


def test_a_roast_of_a_profile_that_is_not_here_is_asked_about(
    tmp_path: Path, logbook: Callable[..., None], capsys: pytest.CaptureFixture[str]
) -> None:
    logbook("a", charge=None, profile="Moved away")
    out = tmp_path / "out.toml"
    argv = ["adopt", "a", "--name", "x", "--output", str(out)]
    assert main(argv) == 2
    assert "--charge DEGREES (°C) --safety DEGREES (°C)" in capsys.readouterr().err
    assert main([*argv, "--follows", "larch-hill", "--show"]) == 0
    assert "beside Larch Hill everyday" in capsys.readouterr().out
    assert main([*argv, "--charge", "222", "--safety", "235"]) == 0
    assert read_document(out).limits.safety == 235.0


def test_slips_do_not_reach_the_advice_for_tomorrow(parent: Profile) -> None:
    base = as_typed()
    slip = replace(base.readings[0], t=150.0, celsius=600.0)
    near = [r for r in base.readings if not 100 < r.t < 240]
    two = [r for r in base.readings if 120 <= r.t <= 180][:2]
    some = replace(base, readings=tuple(sorted([*near, *two, slip], key=lambda r: r.t)))
    off = early_off(parent, some)
    assert off is not None
    assert abs(off) < 3
    read = base.preheat[-1]
    wrong = replace(base, preheat=(replace(read, celsius=122.0),))
    assert charge_days(parent, [wrong]) == []
    assert len(charge_days(parent, [base, replace(base, preheat=())])) == 2
    marked = replace(base, marks={**base.marks, "first crack": 190.0})
    assert gas_days(parent, [marked]) == []
    assert len(gas_days(parent, [base])) == 1
    assert "change nothing by this roast" in proposal(parent, marked, from_profile(parent))


def test_a_profile_charged_no_hotter_than_it_turns_is_refused(parent: Profile) -> None:
    table = parent.document.model_dump()
    with pytest.raises(ValidationError, match="82 °C is not above the reference's turning point, 81 °C"):
        ProfileDocument.model_validate({**table, "charge_temperature": 82.0})


def rows(capsys: pytest.CaptureFixture[str], *argv: str) -> list[dict[str, object]]:
    assert main(["log", "--json", *argv]) == 0
    return [json.loads(line) for line in capsys.readouterr().out.splitlines()]


def test_a_roast_without_a_profile_counts_for_the_one_made_of_it(
    tmp_path: Path, logbook: Callable[..., None], capsys: pytest.CaptureFixture[str]
) -> None:
    for name in ("a", "b"):
        logbook(name, profile="", profile_version=None)
        file = tmp_path / "roasts" / f"{name}.jsonl"
        file.write_text("".join(x for x in file.read_text().splitlines(True) if '"result"' not in x))
    before = (tmp_path / "roasts" / "a.jsonl").read_text()
    stated = ["--safety", "235", "--name", "House lot"]
    assert main(["adopt", "a", *stated, "--show"]) == 0
    assert (tmp_path / "roasts" / "a.jsonl").read_text() == before
    assert main(["adopt", "a", *stated]) == 0
    assert "a counts as an accepted roast of it" in capsys.readouterr().out
    assert (tmp_path / "roasts" / "a.jsonl").read_text().startswith(before), "lines are only added"
    assert {r["file"]: (r["profile"], r["accepted"]) for r in rows(capsys)} == {
        "a.jsonl": ("House lot", True), "b.jsonl": ("", None),
    }  # fmt: skip
    assert main(["result", "b", "profile", "house-lot", "accepted", "yes"]) == 0, "another one is said to be of it"
    capsys.readouterr()
    assert main(["merge", "house-lot", "--show"]) == 0
    assert "from 2 roasts" in capsys.readouterr().out
    assert main(["trend", "house-lot"]) == 0
    assert "House lot: 2 roasts" in capsys.readouterr().out
    found = roasts(tmp_path / "roasts", profile="House lot")
    assert [(j.path.name, j.header.profile_version) for j in found] == [("a.jsonl", 1), ("b.jsonl", 1)]
    profile = load_profile("house-lot")
    assert [j.path.name for j in teachers(profile, found)] == ["b.jsonl"], "a profile learns nothing from its own roast"
    with ResultCache(None) as cache:
        replays, places = Replays.of(cache, profile, tmp_path / "roasts")
        assert [replays.roasts[i].path.name for i in places] == ["b.jsonl"], "nor is judged by it"
    assert main(["adopt", "a", *stated[:2], "--name", "Right name"]) == 0, "and a second time, as if it were the first"
    assert "which names no profile" in capsys.readouterr().out
    assert {r["file"]: r["profile"] for r in rows(capsys)}["a.jsonl"] == "Right name"


def test_a_roast_that_followed_a_profile_stays_one_of_it(
    tmp_path: Path, logbook: Callable[..., None], capsys: pytest.CaptureFixture[str]
) -> None:
    logbook("a")
    before = (tmp_path / "roasts" / "a.jsonl").read_text()
    assert main(["adopt", "a", "--name", "House lot"]) == 0
    assert main(["result", "a", "profile", "house-lot"]) == 2
    assert "The roast followed 'Larch Hill everyday (invented)'" in capsys.readouterr().err
    assert (tmp_path / "roasts" / "a.jsonl").read_text() == before


def test_a_drop_stated_while_adopting_is_in_the_journal(tmp_path: Path, logbook: Callable[..., None]) -> None:
    logbook("a", profile="", profile_version=None)
    file = tmp_path / "roasts" / "a.jsonl"
    file.write_text("".join(x for x in file.read_text().splitlines(True) if '"drop"' not in x))
    assert main(["adopt", "a", "--safety", "235", "--name", "House lot", "--drop", "9:35"]) == 0
    journal = read_journal(file)
    assert (journal.roast.marks["drop"], journal.header.profile) == (575.0, "House lot")
