"""What the journal's reader must do and nothing else showed: found by changing its code one place at a time."""

from __future__ import annotations

from pathlib import Path

import pytest
from inputs import LINES

from coach.roast.errors import FileError
from coach.session.journal import read_journal


def test_a_character_torn_at_the_very_end_costs_that_line_alone(tmp_path: Path) -> None:
    path = tmp_path / "torn.jsonl"
    path.write_bytes("\n".join(LINES[:4]).encode() + '\n{"kind": "note", "at": 90.0, "text": "é'.encode()[:-1])
    journal = read_journal(path)
    assert journal.torn
    assert [n.line for n in journal.entries] == [2, 3, 4]


def test_a_journal_that_is_no_roast_is_refused_where_it_is_checked(tmp_path: Path) -> None:
    path = tmp_path / "twice.jsonl"
    mark = '{"kind": "mark", "at": %d, "event": "charge"}'
    path.write_text("\n".join([LINES[0], mark % 10, mark % 20]) + "\n")
    assert len(read_journal(path, check=False).entries) == 2
    with pytest.raises(FileError, match="already marked"):
        read_journal(path)
