"""Where values are kept that were worked out of a garden's records, each with marks of what it rests on.

A mark stands for the rows of a kind, for those of a kind that name one plant or one spot, or for a settled value.
"""

from __future__ import annotations

import threading
from collections import Counter, OrderedDict
from collections.abc import Callable, Collection, Iterable
from typing import Any, Protocol

from advisor.facts import Fact
from advisor.reasoning.derive.layers import Layers
from advisor.reasoning.derive.told import Moments, Told

Key = tuple[str, object]
BASE = ("place", "spot", "plant")
"""Kinds that everything is taken to rest on: where one of them changes, all is worked out anew."""
BETWEEN = "\t"
FEW_NAMES = 8
"""Of more plants or spots than these the kind as a whole is noted."""
BY = ("plant", "spot")
"""Fields that rows are marked by."""
MANY_PARTS = 16
"""Of what is made of so many parts it is kept which marks they have together: a garden's plants have thousands."""
SPARE = 1000
"""Marks that may be named in vain beside those in use, before the names are made anew."""
MOST_EARLIER = 6
"""What was made last, such as the proof of a question, is kept of so many in a garden."""
BEFORE_TODAY = " before today"


class Reads(Protocol):
    """Recorded facts by kind, the same list for as long as nothing of the kind changed."""

    def of(self, kind: str) -> list[Fact]: ...


def mark_of(kind: str, name: str, field: str = "plant") -> str:
    """Return the mark of the rows of a kind that name a plant, or a spot; a kind's name marks all of its rows."""
    return f"{kind}{BETWEEN}{name}" if field == "plant" else f"{kind}{BETWEEN}{field}{BETWEEN}{name}"


def mark_before_today(mark: str) -> str:
    """Return the mark of those rows of a mark that are dated before today: what is told of today leaves them alone."""
    kind, _, name = mark.partition(BETWEEN)
    return f"{kind}{BEFORE_TODAY}{BETWEEN}{name}" if name else f"{kind}{BEFORE_TODAY}"


class Earlier:
    """What was made last under some keys, whatever changed since; shared between threads, the oldest given up first."""

    def __init__(self, most: int = MOST_EARLIER) -> None:
        self._most, self._lock = most, threading.Lock()
        self._kept: OrderedDict[Key, Any] = OrderedDict()

    def get(self, key: Key) -> Any:
        with self._lock:
            return self._kept.get(key)

    def keep(self, key: Key, made: object) -> None:
        with self._lock:
            self._kept[key] = made
            self._kept.move_to_end(key)
            while len(self._kept) > self._most:
                self._kept.popitem(last=False)


class Marks:
    """What values rest on, and the keys of the values that rest on just this."""

    __slots__ = ("keys", "names")

    def __init__(self, names: frozenset[str]) -> None:
        self.names = names
        self.keys: list[Key] = []


class Index:
    """Which sets of marks hold a mark, as far as values ever rested on them: added to by all stores that share it."""

    def __init__(self) -> None:
        self._holding: dict[str, list[frozenset[str]]] = {}
        self._known: dict[frozenset[str], frozenset[str]] = {}

    def add(self, names: frozenset[str]) -> frozenset[str]:
        """Note a set of marks, and return it, the very same each time."""
        known = self._known.get(names)
        if known is None:
            for name in names:
                self._holding.setdefault(name, []).append(names)
            known = self._known.setdefault(names, names)  # last, so that whoever finds it here finds it by its marks
        return known

    def holding(self, name: str) -> list[frozenset[str]]:
        return self._holding.get(name, [])

    def of_kind(self, kind: str) -> list[str]:
        """Return the marks of a kind, and of those of its rows that name a plant or a spot."""
        return [name for name in list(self._holding) if name.partition(BETWEEN)[0] == kind]

    def __len__(self) -> int:
        return len(self._known)


Settles = tuple[Callable[[Any], object], str]
"""How a settled value is made of a scene, and the mark under which others rest on it."""
Entry = tuple[Any, Marks, Settles | None]


class Store:
    """What was worked out of the records of a garden as they are on a day; questions in several threads add to it.

    Nothing is taken out of a store that others may read: a copy is made first. A list of keys or of marks may name too
    much, and never too little, since it is added to before the value is there. So copies share the index of marks.
    """

    def __init__(self) -> None:
        self.rows: dict[str, list[Fact]] = {}
        self.values: Layers[Key, Entry] = Layers()
        self.told: dict[str, Told] = {}
        self.moments: Moments | None = None
        self.earlier = Earlier()
        self._marks: Layers[frozenset[str], Marks] = Layers()
        self.same: dict[Key, tuple[tuple[object, ...], Any]] = {}
        self._index = Index()
        self._joined: dict[Key, tuple[Collection[frozenset[str]], frozenset[str]]] = {}

    def next_day(self) -> Store:
        """Return a store of what does not depend on the day."""
        store = Store()
        store.told, store.moments, store.earlier = self.told.copy(), self.moments, self.earlier
        store.same = self.same
        return store

    @property
    def held(self) -> int:
        """How many values are kept."""
        return len(self.values) + len(self.same)

    def copy(self) -> Store:
        store = self.next_day()
        store.rows = self.rows.copy()
        store.values = self.values.copy()  # before the marks, so that none is without its own
        store._marks = self._marks.copy()
        store._joined = self._joined
        if len(self._index) <= 2 * len(self._marks) + SPARE:
            store._index = self._index
        else:  # most of what is named there is not in use any more
            for names, _ in store._marks.items():
                store._index.add(names)
        return store

    def keep(self, key: Key, made: object, parts: Collection[frozenset[str]], settles: Settles | None) -> Entry:
        """Keep a value with what it rests on."""
        names = self._names_of(key, parts)
        marks = self._marks.get(names)
        if marks is None:
            names = self._index.add(names)
            marks = self._marks.setdefault(names, Marks(names))
        marks.keys.append(key)
        entry = self.values[key] = made, marks, settles
        return entry

    def _names_of(self, key: Key, parts: Collection[frozenset[str]]) -> frozenset[str]:
        """Return the marks of what a value is made of together: of many parts those of last time, if the same."""
        if len(parts) == 1:
            return next(iter(parts))
        if len(parts) < MANY_PARTS:
            return _together(parts)
        known = self._joined.get(key)
        if known is None or known[0] != parts:
            known = self._joined[key] = parts, _together(parts)
        return known[1]

    def take_out(self, out: Iterable[str]) -> dict[Key, Entry]:
        """Take out what rests on any of these marks, and return the settled values among it."""
        settled = {}
        for name in out:
            for names in self._index.holding(name):
                marks = self._marks.pop(names)
                for key in marks.keys if marks else ():
                    entry = self.values.pop(key)
                    if entry is not None and entry[2] is not None:
                        settled[key] = entry
        return settled

    def without(self, kinds: Collection[str]) -> Store:
        """Return another store, without what rests on some kinds in whatever way."""
        if set(kinds) & set(BASE):
            return self.next_day()
        store, out = self.copy(), list(kinds)
        while out:
            kind = out.pop()
            for _, _, settles in store.take_out(store._index.of_kind(kind)).values():
                assert settles is not None
                out.append(settles[1].partition(BETWEEN)[0])
        return store


def _together(parts: Iterable[frozenset[str]]) -> frozenset[str]:
    """Return marks together, those of one kind for many names as the kind's own: whoever sets a plant beside all
    others would else drag as many marks along as there are plants."""
    names: frozenset[str] = frozenset().union(*parts)
    if len(names) <= FEW_NAMES:
        return names
    counts = Counter(kind for kind, between, _ in (name.partition(BETWEEN) for name in names) if between)
    many = {kind for kind, count in counts.items() if count > FEW_NAMES}
    return frozenset(name for name in names if name.partition(BETWEEN)[0] not in many) | many if many else names
