"""Rows of a garden file that were read before, so that a question reads only what was told since.

Rows are never changed, and everything that is told or ruled out counts up, so that a kind's rows in use are still the
same while its last row and the last ruling are. The saying that was last when they were read is looked up again each
time: a file put back from a backup has another one there, or none.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from advisor.facts import Fact, Recorded

if TYPE_CHECKING:
    from advisor.records.reading import GardenReader

MOST_GARDENS = 8
MOST_ROWS = 150_000
"""Rows kept of all gardens together, the garden asked about longest ago given up first: some hundred megabytes."""
MOST_ANEW = 500
"""Rows whose rulings are looked at one by one; for more all rows of the kind are read again."""


@dataclass(frozen=True)
class Marks:
    """How far a garden has been told: the last row of each kind, the last ruling and the last saying."""

    last_ids: Mapping[str, int]
    last_ruling: int
    said_id: int


@dataclass(frozen=True)
class _Names:
    """What things are called, and all that it was read from: their rows' names as one text, and the last ruling."""

    names: dict[int, str]
    told: str
    last_ruling: int
    said_id: int
    said: str | None


@dataclass(frozen=True)
class _Kept:
    """The rows of a kind in use, with the last row and ruling of then, and the last saying by number and content."""

    rows: list[Fact]
    last_id: int
    last_ruling: int
    said_id: int
    said: str | None
    names: Mapping[int, str]


class KeptRows:
    """The rows of the gardens read last, shared between threads. A list that it hands out is never changed."""

    def __init__(self, gardens: int = MOST_GARDENS, rows: int = MOST_ROWS) -> None:
        self._most_gardens, self._most_rows = gardens, rows
        self._lock = threading.Lock()
        self._gardens: OrderedDict[object, dict[str, _Kept]] = OrderedDict()
        self._names: OrderedDict[object, _Names] = OrderedDict()

    def names(self, garden: GardenReader) -> dict[int, str]:
        """Return what each place, spot and plant is called, by its thing's number: the very mapping of last time where
        nothing was ruled out and no thing was told of since. Not to be changed.
        """
        with self._lock:
            known = self._names.get(garden.identity)
        marks, told = garden.marks, garden.names_told()
        same = known is not None and (told, marks.last_ruling) == (known.told, known.last_ruling)
        if known is not None and same and garden.said_text(known.said_id) == known.said:
            return known.names
        names = garden.read_names()
        if garden.identity is not None and not garden.db.conn.in_transaction:
            said = garden.said_text(marks.said_id)
            with self._lock:
                self._names[garden.identity] = _Names(names, told, marks.last_ruling, marks.said_id, said)
                self._names.move_to_end(garden.identity)
                while len(self._names) > self._most_gardens:
                    self._names.popitem(last=False)
        return names

    def of(self, garden: GardenReader, kind: str) -> list[Fact]:
        """Return the rows of a kind in use, the very list of last time where nothing of the kind was told since.

        What a write holds that is not finished yet is read, and not kept; nor is a garden in memory, or more rows of a
        kind than are kept of all.
        """
        with self._lock:
            known = self._gardens.get(garden.identity, {}).get(kind)
        now = self._read(garden, kind, known)
        lasting = garden.identity is not None and not garden.db.conn.in_transaction
        if now is not known and lasting and len(now.rows) <= self._most_rows:
            with self._lock:
                self._keep(garden.identity, kind, now)
        return now.rows

    def _keep(self, identity: object, kind: str, now: _Kept) -> None:
        self._gardens.setdefault(identity, {})[kind] = now
        self._gardens.move_to_end(identity)
        held = sum(len(one.rows) for kinds in self._gardens.values() for one in kinds.values())
        while len(self._gardens) > 1 and (len(self._gardens) > self._most_gardens or held > self._most_rows):
            _, given_up = self._gardens.popitem(last=False)
            held -= sum(len(one.rows) for one in given_up.values())

    def _read(self, garden: GardenReader, kind: str, known: _Kept | None) -> _Kept:
        marks = garden.marks
        last_id, last_ruling, said_id = marks.last_ids[kind], marks.last_ruling, marks.said_id
        said = garden.said_text(known.said_id) if known is not None else None
        if known is not None and said == known.said and _still(known, last_id, last_ruling, garden.names_by_thing):
            if (last_id, last_ruling) == (known.last_id, known.last_ruling):
                return known
            ruled = garden.db.conn.execute(
                "SELECT DISTINCT row_id FROM ruling WHERE id > ? AND kind = ?", [known.last_ruling, kind]
            ).fetchall()
            if len(ruled) <= MOST_ANEW:
                rows = self._with_new(garden, kind, known, [row_id for (row_id,) in ruled], last_id)
                return _now(garden, rows, last_id, last_ruling, said_id)
        rows = list(garden.rows_in_use(kind, "id <= ? AND ", [last_id]))
        return _now(garden, rows, last_id, last_ruling, said_id)

    @staticmethod
    def _with_new(garden: GardenReader, kind: str, known: _Kept, ruled: list[int], last_id: int) -> list[Fact]:
        """Return the rows known with those told since, and those ruled on since as they are now."""
        if last_id == known.last_id and not ruled:
            return known.rows
        again = f" UNION VALUES {', '.join('(?)' for _ in ruled)}" if ruled else ""
        new_ids = f"SELECT id FROM {kind} WHERE id > ? AND id <= ?{again}"  # found without going through all rows
        new = list(garden.rows_in_use(kind, f"id IN ({new_ids}) AND ", [known.last_id, last_id, *ruled]))
        if not ruled:
            return [*known.rows, *new]
        out = set(ruled)
        return sorted([*(row for row in known.rows if _row_id(row) not in out), *new], key=_row_id)


def _still(known: _Kept, last_id: int, last_ruling: int, names: Mapping[int, str]) -> bool:
    """Return whether what is known can be built on: nothing counts less than it did, and no name was changed."""
    return (
        last_id >= known.last_id
        and last_ruling >= known.last_ruling
        and (names is known.names or known.names.items() <= names.items())
    )


def _now(garden: GardenReader, rows: list[Fact], last_id: int, last_ruling: int, said_id: int) -> _Kept:
    return _Kept(rows, last_id, last_ruling, said_id, garden.said_text(said_id), garden.names_by_thing)


def _row_id(row: Fact) -> int:
    assert isinstance(row.origin, Recorded)
    return row.origin.row_ids[0]
