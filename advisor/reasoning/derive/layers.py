"""A mapping of many entries that is copied by the few that came or went, for what is kept from question to question."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Generic, TypeVar

K = TypeVar("K")
V = TypeVar("V")
MOST_ABOVE = 8
"""Where more than one entry of so many came or went, a copy is made whole again."""


class Layers(Generic[K, V]):
    """Entries, none of them None: those put in lie above a whole that copies share, and that is never changed.

    Threads may read and put in at the same time. What is taken out stays in the whole below until a copy is made whole
    again; only who made a copy and gave it to no other yet may take out.
    """

    __slots__ = ("_above", "_below", "_out")

    def __init__(self) -> None:
        self._below: dict[K, V] = {}
        self._above: dict[K, V] = {}
        self._out: set[K] = set()

    def get(self, key: K) -> V | None:
        found = self._above.get(key)
        return self._below.get(key) if found is None and key not in self._out else found

    def __setitem__(self, key: K, value: V) -> None:
        self._above[key] = value

    def setdefault(self, key: K, value: V) -> V:
        found = self.get(key)
        return self._above.setdefault(key, value) if found is None else found

    def pop(self, key: K) -> V | None:
        """Take an entry out and return it, None where there is none."""
        found = self.get(key)
        self._above.pop(key, None)
        if key in self._below:
            self._out.add(key)
        return found

    def copy(self) -> Layers[K, V]:
        after: Layers[K, V] = Layers()
        above = self._above.copy()
        if MOST_ABOVE * (len(above) + len(self._out)) <= len(self._below):
            after._below, after._above, after._out = self._below, above, self._out.copy()
            return after
        after._below = self._below.copy()
        for key in self._out:
            del after._below[key]
        after._below.update(above)
        return after

    def items(self) -> Iterator[tuple[K, V]]:
        """Yield the entries, those of before first."""
        above = self._above.copy()
        yield from ((key, value) for key, value in self._below.items() if key not in self._out and key not in above)
        yield from above.items()

    def __iter__(self) -> Iterator[K]:
        return (key for key, _ in self.items())

    def __len__(self) -> int:
        """Return how many entries are held, also of those that were taken out or put in anew."""
        return len(self._below) + len(self._above)
