"""The settings file: defaults, keys given to others or switched off, and what is said of a wrong one."""

from __future__ import annotations

import asyncio
from pathlib import Path

import pytest
from helpers import ROOT, Hand, live
from pydantic import ValidationError

from coach.app.screens.app import RoastApp
from coach.app.screens.keys import KeyMap, help_lines
from coach.roast.errors import FileError
from coach.session.journal import read_journal
from coach.session.profile_files import load_profile
from coach.session.settings import Keys, Settings, load_settings


def write(folder: Path, text: str) -> Path:
    path = folder / "settings.toml"
    path.write_text(text)
    return path


def test_no_file_is_all_defaults(tmp_path: Path) -> None:
    assert load_settings(tmp_path / "none.toml") == Settings()


def test_a_whole_file(tmp_path: Path) -> None:
    found = load_settings(
        write(
            tmp_path,
            'unit = "F"\nsound = false\nspeech = true\nglance = true\nsigns = "ascii"\n'
            "[cadence]\ndrying = 45\nbrowning = 30\ndevelopment = 15\n"
            "[keys]\nfirst_crack = 'b'\npop = 'k'\nlook = ''\n",
        )
    )
    assert found.unit == "F"
    assert not found.sound
    assert found.keys.first_crack == "b"
    profile = load_profile(str(ROOT / "profiles" / "larch-hill.toml"))
    assert found.applied(profile).document.cadence.drying == 45
    assert Settings().applied(profile) is profile


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("[keys]\nyellow = 'c'\n", "'c' is given to both charge and yellow"),
        ("[keys]\nyellow = '7'\n", "begins a typed line"),
        ("[keys]\nyellow = 'g'\n", "begins a typed line"),
        ("[keys]\nyellow = 'yy'\n", "no single key"),
        ("[keys]\nyelow = 'y'\n", "keys.yelow"),
        ("speech = 'loud'\n", "speech"),
        ("[cadence]\ndrying = 1\nbrowning = 30\ndevelopment = 20\n", "oftener than every 5 s"),
        ("unit = 'K'\n", "unit"),
        ("colour\n", "not TOML"),
        ("keys = 3\n", "keys"),
    ],
)
def test_a_wrong_file_is_named_with_its_field(tmp_path: Path, text: str, word: str) -> None:
    path = write(tmp_path, text)
    with pytest.raises(FileError) as caught:
        load_settings(path)
    said = str(caught.value)
    assert word in said
    assert "settings.toml" in said
    assert "\n" not in said


def test_a_folder_in_its_place(tmp_path: Path) -> None:
    with pytest.raises(FileError, match="is a folder"):
        load_settings(tmp_path)


def test_every_action_is_on_the_help_page_under_its_own_key() -> None:
    page = "\n".join(help_lines(KeyMap(Settings(keys=Keys(first_crack="b")))))
    assert "  b  " in page
    off = "\n".join(help_lines(KeyMap(Settings(single_keys=False))))
    assert "switched off" in off
    assert "first crack Enter" in off


def test_single_keys_switched_off(tmp_path: Path) -> None:
    """WCAG 2.2, 2.1.4: single-character shortcuts can be turned off; everything is then done by words and Enter."""
    hand = Hand()
    app = RoastApp(live(tmp_path, hand), tick=1000, settings=Settings(single_keys=False))

    async def drive() -> None:
        async with app.run_test(size=(80, 24)) as pilot:
            await pilot.press("enter")
            hand.now = 5.0
            await pilot.press("c")
            assert app.roast.line.text == "c"
            assert app.roast.live.coach.roast.charge_at is None
            await pilot.press("enter")
            assert app.roast.live.coach.roast.charge_at == 5.0
            hand.now = 60.0
            await pilot.press(*"pop", "enter")
            await pilot.press(*"glance", "enter")
            assert app.top.view == "glance"
            await pilot.press(*"glance", "enter", "question_mark", "enter")
            assert app.top.view == "page"

    asyncio.run(drive())
    assert [n.entry.kind for n in read_journal(app.roast.live.path).entries] == ["mark", "pop"]  # type: ignore[attr-defined]


def test_keys_given_to_others(tmp_path: Path) -> None:
    hand = Hand()
    keys = Keys(charge="b", pop="k", second_crack="")
    app = RoastApp(live(tmp_path, hand), tick=1000, settings=Settings(keys=keys))

    async def drive() -> None:
        async with app.run_test(size=(80, 24)) as pilot:
            await pilot.press("enter", "b")
            assert app.roast.live.coach.roast.charge_at == 0.0
            hand.now = 60.0
            await pilot.press("k", "c")
            assert app.roast.line.text == "c"
            await pilot.press("escape", "s")
            assert app.roast.line.text == "s"

    asyncio.run(drive())


def test_what_is_printed_is_a_settings_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from coach.app.cli import main

    monkeypatch.setenv("COACH_HOME", str(tmp_path))
    assert main(["settings"]) == 0
    printed = capsys.readouterr().out
    assert "settings.toml (not there yet" in printed
    write(tmp_path, printed)
    assert load_settings() == Settings()
    assert main(["settings"]) == 0
    assert "not there yet" not in capsys.readouterr().out


def test_keys_chosen_before_an_action_came_stay_with_what_they_were_given_to() -> None:
    keys = Keys(pop="l", charge="b")
    assert (keys.pop, keys.charge, keys.leave_out, keys.review) == ("l", "b", "", "")
    assert Keys(pop="l", review="k").review == "k"
    assert Keys.model_validate({"pulses": "k"}) == Keys(), "an action of earlier versions"
    with pytest.raises(ValidationError, match="given to both"):
        Keys(pop="k", review="k")


def test_a_setting_of_earlier_versions_is_passed_over(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COACH_HOME", str(tmp_path))
    write(tmp_path, "rising = true\nglance = true\n")
    assert load_settings() == Settings(glance=True)
