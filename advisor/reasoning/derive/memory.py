"""What was worked out for a garden, kept until a record that it rests on changes.

Every value is kept with the kinds of record that were read for it. Records of a kind are the same for as long as they
are the same list, so that no value outlives what it was worked out from, in whichever thread or process that changed.
"""

from __future__ import annotations

import threading
from collections import Counter, OrderedDict
from collections.abc import Callable
from datetime import date
from typing import Protocol, TypeVar

from advisor.facts import Fact

T = TypeVar("T")
Key = tuple[str, object]
MOST_GARDENS = 8
MOST_VALUES = 60_000
"""Values kept of all gardens together, the oldest garden given up first: some fifty megabytes."""
BASE = ("place", "spot", "plant")
"""Kinds that nearly everything rests on: where one of them changes, all is worked out anew."""


class Reads(Protocol):
    """Recorded facts by kind, the same list for as long as nothing of the kind changed."""

    def of(self, kind: str) -> list[Fact]: ...


Values = dict[Key, tuple[object, frozenset[str]]]
"""What was worked out, each with marks of the rows that were read for it: of a kind, or of a kind and one plant."""
Rows = dict[str, list[Fact]]
BETWEEN = "\t"
FEW_PLANTS = 8
"""Of more plants than these the kind as a whole is noted."""


def mark_of(kind: str, plant: str) -> str:
    """Return the mark of one plant's rows of a kind; a kind's name marks all of its rows."""
    return f"{kind}{BETWEEN}{plant}"


def mark_before_today(kind: str) -> str:
    """Return the mark of those rows of a kind that are dated before today: what is told of today leaves them alone."""
    return f"{kind}{BETWEEN}{BETWEEN}before today"


class Memory:
    """One question's hold on what is remembered, also by earlier questions of the same records on the same day.

    Where records change while the question runs, it goes on with a hold of its own, without what rests on them.
    """

    def __init__(self, records: Reads, values: Values | None = None, rows: Rows | None = None) -> None:
        self._records = records
        self._values: Values = {} if values is None else values
        self._rows: Rows = {} if rows is None else rows
        self._seen: set[str] = set()
        self._open: list[set[str]] = []

    def rows(self, kind: str) -> list[Fact]:
        """Return the rows of a kind, and note that they are read for what is being worked out."""
        rows = self._see(kind)
        if self._open:
            self._open[-1].add(kind)
        return rows

    def _see(self, mark: str) -> list[Fact]:
        """Return the rows of a mark's kind as this question finds them, and give up what rests on others."""
        kind, _, _ = mark.partition(BETWEEN)
        rows = self._records.of(kind)
        if self._rows.setdefault(kind, rows) is not rows:
            self._values = {
                key: entry
                for key, entry in self._values.copy().items()
                if not any(one.partition(BETWEEN)[0] == kind for one in entry[1])
            }
            self._rows = {**self._rows, kind: rows}
        self._seen.add(mark)
        return rows

    def remember(self, key: Key, make: Callable[[], T], rests_on: str = "") -> T:
        """Return what was made under a key, making it once for as long as the rows read for it stay the same.

        With ``rests_on`` only the rows of that mark are noted as read for what is being worked out.
        """
        entry = self._values.get(key)
        if entry is not None and not entry[1] <= self._seen:
            for mark in entry[1] - self._seen:
                self._see(mark)
            entry = self._values.get(key)
        if entry is None:
            self._open.append(set())
            try:
                made = make()
            finally:
                marks = self._open.pop()
            entry = self._values[key] = made, _gathered(marks)
        if self._open:
            if rests_on:
                self._open[-1].add(rests_on)
            elif entry[1]:
                self._open[-1].update(entry[1])
        return entry[0]  # type: ignore[return-value]  # a key always holds one type


class Memories:
    """What is remembered of the gardens asked about last, shared between threads."""

    def __init__(self, gardens: int = MOST_GARDENS, values: int = MOST_VALUES) -> None:
        self._most_gardens, self._most_values = gardens, values
        self._lock = threading.Lock()
        self._kept: OrderedDict[int, tuple[date, Values, Rows]] = OrderedDict()

    def of(self, records: Reads, today: date) -> Memory:
        """Return what is remembered of these records on a day, without what rests on records that changed since."""
        place = records.of("place")
        with self._lock:
            kept = self._kept.get(id(place))  # the list is kept with the rest, so that no other has its id
        values: Values = {}
        rows: Rows = {"place": place}
        if kept is not None and kept[0] == today:
            _, values, rows = kept
            known = rows.copy()
            now = {kind: records.of(kind) for kind in known}
            changed = {kind for kind in known if now[kind] is not known[kind]}
            if changed:
                marks = {mark for kind in changed for mark in _marks_of_changes(kind, known[kind], now[kind], today)}
                anew = bool(changed & set(BASE))
                values = {} if anew else {k: e for k, e in values.copy().items() if marks.isdisjoint(e[1])}
                rows = now
        for kind in BASE:
            rows.setdefault(kind, records.of(kind))
        with self._lock:
            self._kept[id(place)] = today, values, rows
            self._kept.move_to_end(id(place))
            held = sum(len(of) for _, of, _ in self._kept.values())
            while len(self._kept) > 1 and (len(self._kept) > self._most_gardens or held > self._most_values):
                _, (_, given_up, _) = self._kept.popitem(last=False)
                held -= len(given_up)
        return Memory(records, values, rows)


def _gathered(marks: set[str]) -> frozenset[str]:
    """Return marks, those of one kind for many plants as the kind's own: whoever sets a plant beside all others would
    else drag as many marks along as there are plants."""
    if len(marks) <= FEW_PLANTS:
        return frozenset(marks)
    plants = Counter(kind for kind, between, _ in (mark.partition(BETWEEN) for mark in marks) if between)
    many = {kind for kind, count in plants.items() if count > FEW_PLANTS}
    if many:
        marks = {mark for mark in marks if mark.partition(BETWEEN)[0] not in many} | many
    return frozenset(marks)


def _marks_of_changes(kind: str, before: list[Fact], now: list[Fact], today: date) -> set[str]:
    """Return the marks of the rows that are in one of two lists only."""
    there, then = {id(row) for row in now}, {id(row) for row in before}
    changed = [*(row for row in before if id(row) not in there), *(row for row in now if id(row) not in then)]
    earlier = {mark_before_today(kind)} if any(row.day("on") != today for row in changed) else set()
    return {kind, *earlier, *(mark_of(kind, row.text("plant")) for row in changed)}
