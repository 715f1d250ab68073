"""What typing costs in the real program, in a pseudo-terminal, by the keystroke-level model.

Card, Moran and Newell 1980, CACM 23:396; operators as in tests/app/screens/test_klm.py, where a whole roast is typed.
Here every key goes through the terminal, and each entry is looked for in the journal on disk.
"""

from __future__ import annotations

from pathlib import Path

from test_terminal import PROFILE, begin, journal, leave, wait_for_lines

from coach.roast.entries import Mark, Move, Pop, Reading
from coach.session.profile_files import load_profile

SINGLE, NUMBER, HOME, PREPARE = 0.20, 0.28, 0.40, 1.35


def cost(keys: str) -> float:
    """From the machine to the keyboard, deciding, the keys, and back, s."""
    return HOME + PREPARE + len(keys) * (SINGLE if len(keys) == 1 else NUMBER) + HOME


def test_keys_of_the_real_program(tmp_path: Path) -> None:
    child, shown = begin(tmp_path)
    typed: list[tuple[str, type, int]] = [
        ("o", Move, 2),  # gas and air, planned together
        ("115\r", Reading, 1),
        ("y", Mark, 1),
        (" ", Pop, 1),
        ("f", Mark, 1),
        ("198\r", Reading, 1),
        ("d", Mark, 1),
    ]
    for keys, kind, entries in typed:
        before = len(journal(tmp_path).entries)
        for key in keys:
            child.send(key)
            shown.read(0.2)  # an own key press each, not a paste
        wait_for_lines(shown, tmp_path, before + entries)
        added = [n.entry for n in journal(tmp_path).entries[before:]]
        assert [type(e) for e in added] == [kind] * entries, keys
        assert cost(keys) <= (2.4 if len(keys) == 1 else 3.3), keys
    leave(child)

    profile = load_profile(PROFILE)
    every, t, readings = profile.document.cadence, profile.curve.turning_point[0], 0
    while t < profile.drop_time:
        readings += 1
        t += getattr(every, profile.planned_phase(t))
    moves = len({s.time for s in profile.steps})
    total = readings * cost("198\r") + (moves + 4) * cost("c")
    print(f"{readings} readings, {moves} moves, 4 marks: {total:.1f} s of keying, {total / 600:.1%} of ten minutes")
    assert total <= 0.125 * 600
