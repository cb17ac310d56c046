"""What a change of the facts touches of one rule's firings, and those drawn again.

A firing is touched where it rests on a fact that came or went, or where such a fact could block or settle it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace

from advisor.fact_base import FactBase, OfKind
from advisor.facts import Fact, Firing, Value, typed
from advisor.reasoning.engine.conclude import fire, holds, joined, matches, names_which
from advisor.reasoning.engine.pass_order import Mark, mark_of
from advisor.reasoning.rulebase import Block, Rule
from advisor.records.kinds import Vocabulary

Bound = dict[str, Fact]
Wanted = dict[str, list[tuple[str, Value]]]
"""By the name of a block the fields that its fact must have, each with the value."""
Redrawn = tuple[dict[Mark, Firing], list[Firing], list[Firing]]
"""The firings of a rule as they are now, and those of before that are gone, and those that are new."""


@dataclass
class Changes:
    """The facts that came and went, by kind, and the kinds of which those that stayed stand in another order."""

    came: dict[str, list[Fact]] = field(default_factory=dict)
    went: dict[str, list[Fact]] = field(default_factory=dict)
    gone: set[int] = field(default_factory=set)
    reordered: set[str] = field(default_factory=set)

    def note(self, kind: str, before: OfKind, now: OfKind) -> int:
        """Note what is not the same fact on both sides, and return how many those are."""
        went, came, in_order = before.differences(now)
        if not in_order:
            self.reordered.add(kind)
        for some, into in ((went, self.went), (came, self.came)):
            if some:
                into[kind] = some
        self.gone.update(map(id, went))
        return len(went) + len(came)

    def touch(self, kinds: Iterable[str]) -> bool:
        return any(kind in self.came or kind in self.went for kind in kinds)

    def of(self, kind: str) -> list[Fact]:
        return [*self.came.get(kind, ()), *self.went.get(kind, ())]


def drawn_again(
    rule: Rule, marks: Mapping[Mark, Firing], now: FactBase, changes: Changes, kinds: Vocabulary
) -> Redrawn:
    """Return the firings of a rule: those that nothing touches as they were, the others drawn again."""
    after = dict(marks)
    gone: list[Firing] = []
    new: list[Firing] = []
    if any(block.kind in changes.went for block in rule.when):
        for mark in [mark for mark in marks if not changes.gone.isdisjoint(mark)]:
            gone.append(after.pop(mark))
    for mark, bound in _Touched(rule, now, changes, kinds).bindings().items():
        known = after.pop(mark, None)
        again = None if _is_blocked(rule, bound, now) else fire(rule, bound, now, kinds)
        if known is not None and again is not None and _says_the_same(known, again):
            after[mark] = known
            continue
        if known is not None:
            gone.append(known)
        if again is not None:
            after[mark] = again
            new.append(again)
    return after, gone, new


def in_order_again(
    rule: Rule,
    marks: Mapping[Mark, Firing],
    gone: list[Firing],
    new: list[Firing],
    now: FactBase,
    kinds: Vocabulary,
) -> Redrawn:
    """Return the same once what was weighed stands in the order of the facts, which is another one than before."""
    after = dict(marks)
    fresh = set(map(id, new))
    for mark, firing in marks.items():
        if len(firing.settled) < 2 or id(firing) in fresh:
            continue
        again = fire(rule, firing.bound, now, kinds).settled
        if [id(fact) for fact in again] != [id(fact) for fact in firing.settled]:
            after[mark] = replace(firing, settled=again)
            gone, new = [*gone, firing], [*new, after[mark]]
    return after, gone, new


def _is_blocked(rule: Rule, bound: Bound, now: FactBase) -> bool:
    return any(matches(block, fact, bound) for block in rule.unless for fact in joined(block, bound, now))


@dataclass
class _Touched:
    """Which ways in which facts match a rule a change touches."""

    rule: Rule
    now: FactBase
    changes: Changes
    kinds: Vocabulary

    def bindings(self) -> dict[Mark, Bound]:
        """Return each way in which facts match all ``when`` blocks that a fact that came or went touches."""
        found: dict[Mark, Bound] = {}
        for block in self.rule.when:
            for fact in self.changes.came.get(block.kind, ()):
                for bound in self._bindings({block.name: fact}, {}):
                    found[mark_of(bound)] = bound
        for block in self.rule.unless:
            for fact in self.changes.of(block.kind):
                wanted = self._wanted_by(block, fact)
                for bound in self._bindings({}, wanted) if wanted is not None else ():
                    found[mark_of(bound)] = bound
        return found

    def _wanted_by(self, block: Block, fact: Fact) -> Wanted | None:
        """Return what facts must have for this one to block or settle a firing of theirs; None where it never can."""
        wanted: Wanted = {}
        earlier = {other.name for other in self.rule.when}
        for test in block.tests:
            if test.operator == "same_as":
                name, field_name = test.operand
                value = fact.get(test.field)
                if value is None or name not in earlier:
                    return None
                wanted.setdefault(name, []).append((field_name, value))
            elif names_which(test, block, self.kinds) and holds(test, fact.get(test.field), {}) is not True:
                return None
        return wanted

    def _bindings(self, fixed: Mapping[str, Fact], wanted: Wanted) -> Iterator[Bound]:
        """Yield each way in which facts match all ``when`` blocks, some of them fixed, some with fields given."""
        wanted = {name: list(fields) for name, fields in wanted.items()}
        for block in self.rule.when:
            if block.name in fixed:
                for test in block.joins():
                    value = fixed[block.name].get(test.field)
                    if value is None:
                        return
                    wanted.setdefault(test.operand[0], []).append((test.operand[1], value))
        yield from self._extend(0, {}, fixed, wanted)

    def _extend(self, place: int, bound: Bound, fixed: Mapping[str, Fact], wanted: Wanted) -> Iterator[Bound]:
        if place == len(self.rule.when):
            yield dict(bound)
            return
        block = self.rule.when[place]
        fields = wanted.get(block.name, ())
        if block.name in fixed:
            candidates = [fixed[block.name]]
        elif fields:
            candidates = self.now.having(block.kind, *fields[0])
        else:
            candidates = joined(block, bound, self.now)
        for fact in candidates:
            if (
                all(fact is not other for other in bound.values())
                and all(_has(fact, *one) for one in fields)
                and matches(block, fact, bound)
            ):
                yield from self._extend(place + 1, {**bound, block.name: fact}, fixed, wanted)


def _has(fact: Fact, name: str, value: Value) -> bool:
    found = fact.get(name)
    return found is not None and typed(found) == typed(value)


def _says_the_same(known: Firing, again: Firing) -> bool:
    """Return whether two firings on the same facts conclude the same, and weighed the same facts."""
    return (
        known.conclusion.key == again.conclusion.key
        and known.unknown == again.unknown
        and [id(fact) for fact in known.settled] == [id(fact) for fact in again.settled]
    )
