"""The order in which a run of all facts would come to firings that are known otherwise.

A run takes layer after layer, in each pass after pass, in a pass rule by rule, and the firings of a rule by the facts.
In which pass of its layer a firing comes hangs on its own facts alone: on the last of them that the same layer
concluded. So where it stands among others is known whatever else was proved, and stays while its facts do.
"""

from __future__ import annotations

from bisect import insort
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from advisor.facts import Fact, Firing
from advisor.reasoning.engine.strata import strata
from advisor.reasoning.rulebase import Rule, RuleBase

Mark = tuple[int, ...]
"""The identities of the facts that a firing rests on, in the order of its blocks."""
Rows = Mapping[int, Sequence[Firing]]
"""The firings of one rule in order, by the pass of its layer in which they come."""
ToldIn = Mapping[int, tuple[int, int]]
"""By the identity of a concluded fact the layer and the pass in it from which on it is told."""
Place = tuple[int, int, str]
"""Layer, pass and rule: where firings come in a run."""


def mark_of(bound: Mapping[str, Fact]) -> Mark:
    return tuple(map(id, bound.values()))


@dataclass
class Course:
    """Where the firings of a proof stand: by rule, with the facts that they rest on, and when each kind was told.

    What is held here is not changed: the proof that follows shares it where nothing moved.
    """

    marks: dict[str, dict[Mark, Firing]] = field(default_factory=dict)
    rows: dict[str, Rows] = field(default_factory=dict)
    told_in: dict[str, ToldIn] = field(default_factory=dict)


class Layers:
    """In which layer each rule of a base runs, and which of its facts may be told in that layer."""

    def __init__(self, base: RuleBase) -> None:
        layers = strata(base.rules.values())
        self.of = {rule.id: at for at, rules in enumerate(layers) for rule in rules}
        told = [{rule.conclude for rule in rules} for rules in layers]
        self._inner = {
            rule.id: [block for block in rule.when if block.kind in told[self.of[rule.id]]]
            for rule in base.rules.values()
        }

    def pass_of(self, rule: Rule, firing: Firing, told_in: Mapping[str, ToldIn]) -> int:
        """Return the pass of its layer in which a firing comes."""
        layer, last = self.of[rule.id], 0
        for block in self._inner[rule.id]:
            when = told_in.get(block.kind, {}).get(id(firing.bound[block.name]))
            if when is not None and when[0] == layer and when[1] > last:
                last = when[1]
        return last

    def moves(self, rule: Rule, moved: Iterable[str]) -> bool:
        """Return whether firings of a rule may stand elsewhere where facts of these kinds are told at another time."""
        return any(block.kind in moved for block in self._inner[rule.id])

    def rows(self, rule: Rule, firings: Iterable[Firing], told_in: Mapping[str, ToldIn]) -> Rows:
        """Return firings of a rule in order."""
        rows: dict[int, list[Firing]] = {}
        for firing in firings:
            rows.setdefault(self.pass_of(rule, firing, told_in), []).append(firing)
        return {at: sorted(row, key=_by_facts) for at, row in rows.items()}

    def rows_after(
        self, rule: Rule, rows: Rows, gone: Sequence[Firing], new: Sequence[Firing], told_in: Mapping[str, ToldIn]
    ) -> Rows:
        """Return the rows of a rule without some firings and with others, where nothing else moved."""
        out = set(map(id, gone))
        after = {at: [one for one in row if id(one) not in out] if out else list(row) for at, row in rows.items()}
        for firing in new:
            insort(after.setdefault(self.pass_of(rule, firing, told_in), []), firing, key=_by_facts)
        return {at: row for at, row in after.items() if row}

    def places(self, rules: Iterable[Rule], rows: Mapping[str, Rows]) -> list[Place]:
        """Return where rules have firings, in the order of a run."""
        return sorted((self.of[rule.id], at, rule.id) for rule in rules for at in rows.get(rule.id, ()))


def _by_facts(firing: Firing) -> Any:
    return [fact.key for fact in firing.bound.values()]
