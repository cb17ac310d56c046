"""The order in which a run of all facts would come to firings that are known otherwise."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from advisor.facts import FactBase, Firing


class Passes:
    """Which pass of a run comes to each firing: that in which the last of its facts is told, or its layer is closed."""

    def __init__(self, now: FactBase, given: FactBase, looked_at: set[str]) -> None:
        self._now, self._looked_at = now, looked_at
        self._told = {id(fact): 0 for fact in given}
        self._told_again: dict[int, int] = {}
        self._closed = 0
        self._passes: dict[tuple[int, str], list[Firing]] = {}

    def place(self, firings: Iterable[Firing]) -> None:
        """Place the firings of a rule of the layer that is open, after those that they rest on."""
        for firing in firings:
            at = max([self._closed, *(self._told[id(fact)] for fact in firing.bound.values())])
            self._passes.setdefault((at, firing.rule), []).append(firing)
            known = self._now.known(firing.conclusion)
            self._told[id(known)] = told = min(self._told.get(id(known), at + 1), at + 1)
            if known.kind in self._looked_at and told:
                self._told_again[id(known)] = told

    def close_layer(self) -> None:
        """Go on to the next layer: it is closed in the pass after the last in which anything was told."""
        self._closed = max([self._closed, *self._told_again.values()]) + 1

    def firings(self) -> list[Firing]:
        """Return all firings in order."""
        return [one for key in sorted(self._passes) for one in sorted(self._passes[key], key=_by_facts)]


def _by_facts(firing: Firing) -> Any:
    return [fact.key for fact in firing.bound.values()]
