"""Recorded rows as a reply names them: in runs, and of very many the last told ones."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from advisor.language.bounds import MOST_ROWS, MOST_WHOLE

LONG_RUN = 9
"""A run whose last row is at least so far from its first is told by these two."""
Run = tuple[int, int]
"""The first and the last of rows with no gap between them."""


def runs(ids: Iterable[int]) -> list[Run]:
    """Return row numbers as runs, each by its first and last.

    >>> runs([9, 3, 4, 5])
    [(3, 5), (9, 9)]
    """
    found: list[Run] = []
    first = last = None
    for row in sorted(ids):
        if last is None or first is None or row != last + 1:
            if first is not None and last is not None:
                found.append((first, last))
            first = row
        last = row
    return [*found, (first, last)] if first is not None and last is not None else found


def entries_in(run: Run) -> int:
    """Return how many entries tell a run: one a row, or one for a long run as a whole."""
    return 1 if _is_long(run) else run[1] - run[0] + 1


def entries(kind: str, run: Run) -> list[dict[str, Any]]:
    """Return the entries that tell a run of rows of a kind; of a long one its first and last."""
    first, last = run
    if _is_long(run):
        return [{"kind": kind, "id": first, "to": last}]
    return [{"kind": kind, "id": row} for row in range(first, last + 1)]


def _is_long(run: Run) -> bool:
    return run[1] - run[0] >= LONG_RUN


def kept_rows(rows: Mapping[str, Sequence[Run]]) -> tuple[list[dict[str, Any]], int]:
    """Return records by kind as the entries that are sent, and how many rows are left out: of each kind the last told
    ones are sent."""
    counts = {kind: sum(map(entries_in, of_kind)) for kind, of_kind in rows.items()}
    if sum(counts.values()) <= MOST_WHOLE:
        return [entry for kind, of_kind in rows.items() for run in of_kind for entry in entries(kind, run)], 0
    room, kept = MOST_ROWS, dict[str, list[dict[str, Any]]]()
    for left, kind in enumerate(sorted(rows, key=lambda kind: counts[kind])):  # what the few leave is for the many
        share = room // (len(rows) - left)
        taken: list[dict[str, Any]] = []
        for run in reversed(rows[kind]):
            if len(taken) >= share:
                break
            taken = [*entries(kind, run), *taken]
        kept[kind] = taken[max(0, len(taken) - share) :] if share else []
        room -= len(kept[kind])
    told = [entry for kind in rows for entry in kept[kind]]
    every = sum(last - first + 1 for of_kind in rows.values() for first, last in of_kind)
    return told, every - sum(map(_count, told))


def _count(row: Mapping[str, Any]) -> int:
    return int(row.get("to", row["id"])) - int(row["id"]) + 1
