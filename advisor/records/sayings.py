"""Rows as they were told: their own words, who told them and how, and whether they are still in use."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from advisor.facts import Value
from advisor.records.store import Garden

MOST_AT_ONCE = 500
"""Rows asked for in one query; a file takes a limited number of values."""


@dataclass(frozen=True, slots=True)
class ToldRow:
    """A recorded row with how it was told. ``replaced_by`` is the row that stands for it now, where there is one."""

    kind: str
    id: int
    values: dict[str, Value]
    words: str
    said_by: str
    via: str
    ref: str
    in_use: bool
    replaced_by: int | None


def told_rows(garden: Garden, kind: str, ids: Collection[int]) -> dict[int, ToldRow]:
    """Return rows of a kind by their number, in use or not; those that are not there are left out.

    Raises GardenUnavailable where the file cannot be read.
    """
    found: dict[int, ToldRow] = {}
    todo = sorted(set(ids))
    for start in range(0, len(todo), MOST_AT_ONCE):
        some = todo[start : start + MOST_AT_ONCE]
        marks = ", ".join("?" for _ in some)
        last = "SELECT MAX(id) FROM ruling WHERE kind = ? AND row_id = k.id"
        with garden.trouble("reading"):
            rows = list(
                garden.db.query(
                    f"SELECT k.*, s.said_by AS _by, s.via AS _via, s.ref AS _ref, r.in_use AS _in_use,"
                    f" r.replaced_by AS _replaced_by FROM {kind} k JOIN said s ON s.id = k.said_id"
                    f" LEFT JOIN ruling r ON r.id = ({last}) WHERE k.id IN ({marks})",
                    [kind, *some],
                )
            )
        for row in rows:
            found[row["id"]] = ToldRow(
                kind,
                row["id"],
                garden.values_in(kind, row),
                row["words"] or "",
                row["_by"],
                row["_via"],
                row["_ref"],
                row["_in_use"] != 0,
                row["_replaced_by"],
            )
    return found
