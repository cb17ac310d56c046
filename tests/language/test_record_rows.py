"""Rows behind an answer as entries: none is lost or told twice, and of very many the last told are sent."""

from __future__ import annotations

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from advisor.language.bounds import MOST_ROWS, MOST_WHOLE
from advisor.language.record_rows import LONG_RUN, entries, kept_rows, runs

IDS = st.dictionaries(st.sampled_from(["stage", "weather_day", "work"]), st.sets(st.integers(1, 400), min_size=1))


def told(kind: str, ids: set[int], every: list[dict[str, object]]) -> list[int]:
    return [
        row
        for one in every
        if one["kind"] == kind
        for row in range(int(str(one["id"])), int(str(one.get("to", one["id"]))) + 1)
    ]


@given(IDS)
def test_all_rows_are_told_or_counted(rows: dict[str, set[int]]) -> None:
    """What is sent are rows behind the answer, each once; the others are counted, and nothing is left of a few."""
    behind = {kind: runs(ids) for kind, ids in sorted(rows.items())}
    kept, left = kept_rows(behind)
    entered = [one for kind, of_kind in behind.items() for run in of_kind for one in entries(kind, run)]
    sent = {kind: told(kind, ids, kept) for kind, ids in rows.items()}
    assert all(len(set(found)) == len(found) and set(found) <= rows[kind] for kind, found in sent.items())
    assert left == sum(map(len, rows.values())) - sum(map(len, sent.values()))
    if len(entered) <= MOST_WHOLE:
        assert kept == entered and left == 0
    else:
        assert len(kept) == MOST_ROWS
        for kind, found in sent.items():  # the last told of each kind
            assert found == sorted(rows[kind])[-len(found) :] if found else True


@given(st.sets(st.integers(1, 60)))
def test_runs_have_gaps_between_them_and_long_ones_are_one_entry(ids: set[int]) -> None:
    """Every row is in one run, no two runs touch, and an entry is a row or a run of ten or more."""
    found = runs(ids)
    assert [row for first, last in found for row in range(first, last + 1)] == sorted(ids)
    assert all(after[0] > before[1] + 1 for before, after in pairwise(found))
    for first, last in found:
        assert len(entries("stage", (first, last))) == (1 if last - first >= LONG_RUN else last - first + 1)
