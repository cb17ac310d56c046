"""What was worked out for a garden, kept until a record that it rests on changes.

A question holds on to what is remembered by a ``Memory``; ``Memories`` keep it from question to question. Records of a
kind are the same for as long as they are the same list, so that no value outlives what it was worked out from, in
whichever thread or process that changed.

A settled value stands between many rows and what rests on them, as the day on which a plant woke stands between its
looks and its kin. Where rows behind it change, it is worked out again first, and what rests on it goes only where it is
no longer equal to what it was.
"""

from __future__ import annotations

import threading
from collections import Counter, OrderedDict
from collections.abc import Callable, Iterator, Mapping
from datetime import date, datetime
from functools import partial
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

from advisor.facts import Fact
from advisor.reasoning.derive.store import (
    BASE,
    BETWEEN,
    BY,
    Earlier,
    Entry,
    Key,
    Reads,
    Settles,
    Store,
    mark_before_today,
    mark_of,
)
from advisor.reasoning.derive.told import Moments, Told, differences

T = TypeVar("T")
MOST_GARDENS = 8
MOST_VALUES = 60_000
"""Values kept of all gardens together, the oldest garden given up first: some fifty megabytes."""


class Memory:
    """One question's hold on what is remembered, also by earlier questions of the same records on the same day.

    Where records change while the question runs, it goes on with a hold of its own, without what rests on them.
    """

    def __init__(
        self,
        records: Reads,
        store: Store | None = None,
        unsettled: Mapping[Key, Entry] | None = None,
        publish: Callable[[Store], None] | None = None,
    ) -> None:
        """Begin with a store, and the settled values taken out of it that are to be made again.

        ``publish`` gives the store to other questions once that is done.
        """
        self._records = records
        self._store = Store() if store is None else store
        self._sure = len(self._store.rows)
        self._open: list[set[frozenset[str]]] = []
        self._singles: dict[str, frozenset[str]] = {}
        self._lists: dict[tuple[str, str, str], tuple[frozenset[str], list[Fact]]] = {}
        self._publish = publish
        self._unsettled: dict[Key, Entry] = {}
        self._doubted: Counter[str] = Counter()
        self._settling: object = None
        self._doubt(unsettled or {})

    # ---- rows

    def rows(self, kind: str) -> list[Fact]:
        """Return the rows of a kind, and note that they are read for what is being worked out."""
        rows = self._see(kind)
        if kind not in BASE:
            self.note(kind)
        return rows

    def _see(self, kind: str) -> list[Fact]:
        """Return the rows of a kind as this question finds them, and give up what rests on others."""
        rows = self._records.of(kind)
        if self._store.rows.setdefault(kind, rows) is not rows:
            kinds = {
                kind,
                mark_before_today(kind),
                *(_kind_of(settles[1]) for _, _, settles in self._unsettled.values() if settles),
            }
            self._unsettled, self._publish = {}, None
            self._doubted.clear()
            self._store = self._store.without(kinds)
            self._store.rows[kind] = rows
            self._lists.clear()
        return rows

    def told(self, kind: str, zone: ZoneInfo) -> Told:
        """Return the rows of a kind in the order in which they hold. What is read of them is to be noted."""
        rows = self._see(kind)
        found = self._store.told.get(kind)
        if found is None or found.rows is not rows:
            found = found.grown(rows) if found else Told(rows, self.moments(zone))
            self._store.told[kind] = found
        return found

    def named(self, kind: str, field: str, name: str, zone: ZoneInfo, end: datetime) -> list[Fact]:
        """Return the rows of a kind that name a plant or a spot and hold by a moment, the same for all of a question;
        note that they are read."""
        found = self._lists.get((kind, field, name))
        if found is None:
            rows = self.told(kind, zone).named(field, name, end)
            found = self._lists[kind, field, name] = frozenset((mark_of(kind, name, field),)), rows
        if self._open:
            self._open[-1].add(found[0])
        return found[1]

    def moments(self, zone: ZoneInfo) -> Moments:
        if self._store.moments is None:
            self._store.moments = Moments(zone)
        return self._store.moments

    def note(self, mark: str) -> None:
        """Note that the rows of a mark are read for what is being worked out."""
        if self._open:
            single = self._singles.get(mark)
            if single is None:
                single = self._singles[mark] = frozenset((mark,))
            self._open[-1].add(single)

    # ---- values

    def remember(self, key: Key, make: Callable[[], T], rests_on: str = "") -> T:
        """Return what was made under a key, making it once for as long as what was read for it stays the same.

        With ``rests_on`` only that mark is noted as read for what is being worked out.
        """
        store = self._store
        easy = not self._doubted and len(store.rows) == self._sure
        entry = (store.values.get(key) if easy else self._entry(key)) or self._made(key, make, None)
        if rests_on:
            self.note(rests_on)
        elif self._open:
            self._open[-1].add(entry[1].names)
        return entry[0]  # type: ignore[no-any-return]  # a key always holds one type

    def settled(self, key: Key, make: Callable[[Any], T], scene: Callable[[], object], mark: str) -> T:
        """Return what is made of a scene under a key; what is made of it rests on ``mark`` alone, a kind of its own.

        ``make`` holds nothing that the key does not name, and ``scene`` returns one that asks for nothing.
        """
        entry = self._entry(key)
        if entry is None and key in self._unsettled:
            entry = self._settle(key, scene())
        if entry is None:
            entry = self._made(key, lambda: make(scene()), (make, mark))
        self.note(mark)
        return entry[0]  # type: ignore[no-any-return]

    def _entry(self, key: Key) -> Entry | None:
        """Return what is kept under a key where it rests on the rows as this question finds them."""
        store = self._store
        if len(store.rows) != self._sure:  # other questions read more kinds since
            for kind in list(store.rows):
                self._see(kind)
            store = self._store
            self._sure = len(store.rows)
        entry = store.values.get(key)
        if self._doubted and entry is not None and not entry[1].names.isdisjoint(self._doubted):
            return self._undoubted(key, entry[1].names)
        return entry

    def _undoubted(self, key: Key, names: frozenset[str]) -> Entry | None:
        """Return what is kept under a key that rests on these marks, if it still is once they are settled."""
        for other, (_, _, settles) in list(self._unsettled.items()):
            mark = settles[1] if settles else ""
            if self._settling is not None and (mark in names or _kind_of(mark) in names) and other in self._unsettled:
                self._settle(other, self._settling)
        entry = self._store.values.get(key)
        return entry if entry is not None and entry[1].names.isdisjoint(self._doubted) else None

    def _made(self, key: Key, make: Callable[[], object], settles: Settles | None) -> Entry:
        self._open.append(set())
        try:
            made = make()
        finally:
            parts = self._open.pop()
        return self._store.keep(key, made, parts, settles)

    def from_same(self, key: Key, given: tuple[object, ...], make: Callable[[], T]) -> T:
        """Return what was made last under a key if it was made of the same; it is made of what is given alone."""
        same = self._store.same
        found = same.get(key)
        if found is None or found[0] != given:
            found = same[key] = given, make()
        return found[1]

    @property
    def earlier(self) -> Earlier:
        """What was made last, to go on from; it may rest on records that changed since."""
        return self._store.earlier

    # ---- values to be settled

    @property
    def unsettled(self) -> bool:
        return bool(self._unsettled)

    def settle(self, scene: object) -> None:
        """Make again the settled values whose rows changed, of a scene that asks for nothing, and take out what rests
        on those that are others now. Where one cannot be made all is forgotten, and who asks for it is told."""
        publish, store, self._settling = self._publish, self._store, scene
        try:
            while self._unsettled:
                self._settle(next(iter(self._unsettled)), scene)
        except Exception:
            self._store, self._unsettled = store.next_day(), {}
            self._doubted.clear()
        self._settling = None
        if publish is not None and self._store is store:
            publish(store)

    def _settle(self, key: Key, scene: object) -> Entry:
        old = self._unsettled.pop(key)
        assert old[2] is not None
        make, mark = old[2]
        names = (mark, _kind_of(mark))
        entry = self._made(key, lambda: make(scene), old[2])
        if entry[0] == old[0]:
            entry = self._store.values[key] = (old[0], *entry[1:])
        else:
            self._doubt(self._store.take_out(names))
        self._doubted -= Counter(names)
        return entry

    def _doubt(self, settled: Mapping[Key, Entry]) -> None:
        """Note which settled values are to be made again: what rests on them is not to be used before."""
        self._unsettled |= settled
        for _, _, settles in settled.values():
            assert settles is not None
            self._doubted.update((settles[1], _kind_of(settles[1])))


class Memories:
    """What is remembered of the gardens asked about last, shared between threads."""

    def __init__(self, gardens: int = MOST_GARDENS, values: int = MOST_VALUES) -> None:
        self._most_gardens, self._most_values = gardens, values
        self._lock = threading.Lock()
        self._kept: OrderedDict[int, tuple[date, Store]] = OrderedDict()

    def of(self, records: Reads, today: date) -> Memory:
        """Return what is remembered of these records on a day, without what rests on records that changed since."""
        place = records.of("place")
        with self._lock:
            day, store = self._kept.get(id(place), (today, Store()))  # the list is kept with the rest: no other's id
        unsettled: Mapping[Key, Entry] = {}
        if day != today:
            store = store.next_day()
        else:
            store, unsettled = _changed(store, records, today)
        for kind in BASE:
            store.rows.setdefault(kind, records.of(kind))
        publish = partial(self._keep, id(place), today)
        if not unsettled:
            publish(store)
        return Memory(records, store, unsettled, publish)

    def _keep(self, garden: int, today: date, store: Store) -> None:
        with self._lock:
            self._kept[garden] = today, store
            self._kept.move_to_end(garden)
            held = sum(of.held for _, of in self._kept.values())
            while len(self._kept) > 1 and (len(self._kept) > self._most_gardens or held > self._most_values):
                _, (_, given_up) = self._kept.popitem(last=False)
                held -= given_up.held


def _changed(store: Store, records: Reads, today: date) -> tuple[Store, Mapping[Key, Entry]]:
    """Return a store without what rests on rows that changed since, and the settled values among that."""
    known = store.rows.copy()
    now = {kind: records.of(kind) for kind in known}
    changed = [kind for kind in known if now[kind] is not known[kind]]
    if not changed:
        return store, {}
    after = store.next_day() if set(BASE) & set(changed) else store.copy()
    after.rows = now
    names = {
        mark
        for kind in changed
        for rows in differences(known[kind], now[kind])
        for row in rows
        for mark in _marks_of(row, today)
    }
    return after, after.take_out(names)


def _marks_of(row: Fact, today: date) -> Iterator[str]:
    """Yield the marks of a row: of its kind, what it names, and whether it is of a day before this."""
    for mark in (row.kind, *(mark_of(row.kind, row.text(field), field) for field in BY)):
        yield mark
        if row.day("on") != today:
            yield mark_before_today(mark)


def _kind_of(mark: str) -> str:
    return mark.partition(BETWEEN)[0]
