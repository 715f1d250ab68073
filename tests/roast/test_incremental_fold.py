"""One entry after another gives the same roast as folding all of them: checked against ``roast.fold`` itself."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.roast.entries import Correction, Header, Mark, Move, Note, Pop, Reading, Reply, Result
from coach.roast.errors import EntryError
from coach.roast.roast import Folded, Numbered, effective, fold

HEADER = Header(id="x", started="2026-11-02T08:00:00+00:00", unit="F", pressure_unit="mbar")
times = st.sampled_from([5.0, 12.0, 12.5, 30.0, 31.7, 31.8, 60.0, 99.9, 240.3, 500.0])
anytime = times | st.just(1e5)
values = st.sampled_from([150.0, 201.0, 201.5, 380.0])
line = st.integers(2, 14)
fields: dict[str, st.SearchStrategy[Any]] = {
    "at": anytime, "temperature": values, "value": values, "typed": st.just(700.0), "kind": st.just("note"),
    "text": st.just("a word"), "event": st.just("yellow"),
}  # fmt: skip
entry = st.one_of(
    st.builds(Reading, at=anytime, temperature=values),
    st.builds(Move, at=anytime, control=st.sampled_from(["gas", "air"]), value=values),
    st.builds(Mark, at=anytime, event=st.sampled_from(["charge", "yellow", "first crack", "drop"])),
    st.builds(Pop, at=anytime),
    st.builds(Note, at=times, text=st.just("so")),
    st.builds(Reply, at=times, typed=st.just(600.0), cue=st.just("too hot"), answer=st.just("seen")),
    st.builds(Result, at=times, colour=values),
    st.builds(Correction, at=st.just(600.0), of=line, replace=st.none()),
    st.builds(Correction, at=st.just(600.0), of=line, replace=st.fixed_dictionaries({}, optional=fields)),
)


@given(st.lists(st.tuples(entry, st.integers(0, 9)), min_size=1, max_size=24))
def test_entry_by_entry_is_the_fold_of_all(given_entries: list[tuple[Any, int]]) -> None:
    folded, line = Folded.of(HEADER), 1
    for e, odd in given_entries:
        line += 1
        numbered = Numbered(line if odd else max(line - 3, 2), e)  # lines out of order, or twice, too
        entries = (*folded.entries, numbered)
        try:
            whole = fold(HEADER, effective(entries))
        except EntryError as error:
            refused = str(error)
        else:
            refused = ""
        if refused:
            with pytest.raises(EntryError) as raised:
                folded.with_entry(numbered)
            assert str(raised.value) == refused
            continue
        folded = folded.with_entry(numbered)
        assert folded.entries == entries
        assert list(folded.ordered) == effective(entries)
        assert folded.roast == whole
