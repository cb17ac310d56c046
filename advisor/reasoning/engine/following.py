"""What one more record changes in what was proved: a proof followed from one set of facts to the next.

A grower tells one thing between two questions, and most of what was proved still holds. Only firings that rest on a
fact that came or went, or that such a fact could block or settle, are drawn again; the outcome is the proof that a run
of all the facts gives, firing by firing and in the same order (``tests/reasoning/test_following.py``).

Kinds are taken in the order in which they rest on each other, so that each is settled before anything is concluded
from it. Rules that feed themselves have no such order: they are run anew each time.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from graphlib import CycleError, TopologicalSorter
from itertools import groupby
from typing import Any

from advisor.facts import Fact, FactBase, Firing, Proof, Value, typed
from advisor.reasoning.engine.conclude import MOST_FACTS, fire, holds, joined, matches, names_which
from advisor.reasoning.engine.makers import Engine
from advisor.reasoning.engine.pass_order import Passes
from advisor.reasoning.engine.strata import strata
from advisor.reasoning.rulebase import Block, Rule, RuleBase

MOST_CHANGED = 0.3
"""The share of the facts that may come or go; with more of them a run is quicker."""

Bound = dict[str, Fact]
Wanted = dict[str, list[tuple[str, Value]]]
"""By the name of a block the fields that its fact must have, each with the value."""


class Following:
    """An engine, and the way from its last proof of some facts to that of others; safe to share between threads."""

    def __init__(self, engine: Engine) -> None:
        self.engine = engine
        self.base = engine.base
        self._kinds = _in_order(self.base)
        layer_of = {rule.id: at for at, rules in enumerate(strata(self.base.rules.values())) for rule in rules}
        turns = sorted((rule for rules in self._kinds or () for rule in rules), key=lambda one: layer_of[one.id])
        self._layers = [list(rules) for _, rules in groupby(turns, key=lambda one: layer_of[one.id])]
        self._looked_at = {block.kind for rule in self.base.rules.values() for block in (*rule.when, *rule.unless)}

    def run(self, facts: Iterable[Fact], before: Proof | None = None) -> Proof:
        """Return everything that follows from the facts. ``before`` is a proof of this engine, not to be changed."""
        facts = facts if isinstance(facts, FactBase) else FactBase(facts)
        if before is not None and self._kinds is not None:
            followed = _Step(self.base, before, facts, self._looked_at).followed(self._kinds, self._layers)
            if followed is not None:
                return followed
        return self.engine.run(facts)


def _in_order(base: RuleBase) -> list[list[Rule]] | None:
    """Return the rules by the kind that they conclude, each kind after those it rests on; None where there is none."""
    rests_on: dict[str, set[str]] = {}
    by_kind: dict[str, list[Rule]] = {}
    for rule in base.rules.values():
        by_kind.setdefault(rule.conclude, []).append(rule)
        rests_on.setdefault(rule.conclude, set()).update(block.kind for block in (*rule.when, *rule.unless))
    try:
        return [by_kind[kind] for kind in TopologicalSorter(rests_on).static_order() if kind in by_kind]
    except CycleError:
        return None


@dataclass
class _Changes:
    """The facts that came and went, by kind."""

    came: dict[str, list[Fact]] = field(default_factory=dict)
    went: dict[str, list[Fact]] = field(default_factory=dict)
    gone: set[int] = field(default_factory=set)

    def note(self, before: Iterable[Fact], now: Iterable[Fact]) -> int:
        """Note what is not the same fact on both sides, and return how many those are."""
        earlier, later = {id(fact): fact for fact in before}, {id(fact): fact for fact in now}
        went = [fact for key, fact in earlier.items() if key not in later]
        came = [fact for key, fact in later.items() if key not in earlier]
        for some, into in ((went, self.went), (came, self.came)):
            for fact in some:
                into.setdefault(fact.kind, []).append(fact)
        self.gone.update(map(id, went))
        return len(went) + len(came)

    def touch(self, blocks: Iterable[Block]) -> bool:
        return any(block.kind in self.came or block.kind in self.went for block in blocks)

    def of(self, kind: str) -> list[Fact]:
        return [*self.came.get(kind, ()), *self.went.get(kind, ())]


class _Step:
    """One way from a proof to the next."""

    def __init__(self, base: RuleBase, before: Proof, facts: FactBase, looked_at: set[str]) -> None:
        self.base, self.facts, self.looked_at = base, facts, looked_at
        self.before = before
        self.concluded = {id(firing.conclusion) for firing in before.firings}
        self.given = [fact for fact in before.facts if id(fact) not in self.concluded]
        self.fired: dict[str, list[Firing]] = {}
        for firing in before.firings:
            self.fired.setdefault(firing.rule, []).append(firing)
        self.now = FactBase(facts)
        self.changes = _Changes()

    def followed(self, kinds: list[list[Rule]], layers: list[list[Rule]]) -> Proof | None:
        """Return the proof of the facts as they are now, or None where a run is called for."""
        changed = self.changes.note(self.given, self.facts)
        concluded = {rules[0].conclude for rules in kinds}
        if changed > MOST_CHANGED * len(self.facts) or concluded & {*self.changes.came, *self.changes.went}:
            return None
        self.now.take_indexes(self.before.facts)
        for rules in kinds:
            self._settle(rules)
        return self._in_order(layers)

    def _settle(self, rules: list[Rule]) -> None:
        """Bring the firings of all rules that conclude one kind up to date, and its facts."""
        kind = rules[0].conclude
        touched = [rule for rule in rules if self.changes.touch((*rule.when, *rule.unless))]
        for rule in touched:
            self.fired[rule.id] = self._fired(rule)
        kept = [fact for fact in self.before.facts.of(kind) if id(fact) in self.concluded]
        now = self._concluded(rules, kept) if touched else kept
        now = [fact for fact in now if self.now.add(fact)]
        if touched:
            self.changes.note(kept, now)
        self.now.take_indexes(self.before.facts, [kind])

    def _concluded(self, rules: list[Rule], kept: list[Fact]) -> list[Fact]:
        """Return the facts that rules conclude now; of those that say the same the one known before, if it still is."""
        known = set(map(id, kept))
        first: dict[Any, Fact] = {}
        for rule in rules:
            for firing in self.fired.get(rule.id, ()):
                fact = firing.conclusion
                if id(fact) in known:
                    first[fact.key] = fact
                else:
                    first.setdefault(fact.key, fact)
        there = {id(fact) for fact in first.values()}
        return [*(fact for fact in kept if id(fact) in there), *(one for one in first.values() if id(one) not in known)]

    def _fired(self, rule: Rule) -> list[Firing]:
        """Return the firings of a rule now: those that nothing touches as they were, the others drawn again."""
        by_facts = {_mark(one.bound): one for one in self.fired.get(rule.id, ()) if not self._rests_on_gone(one)}
        for bound in self._touched(rule):
            mark = _mark(bound)
            known = by_facts.pop(mark, None)
            if self._is_blocked(rule, bound):
                continue
            again = fire(rule, bound, self.now, self.base.kinds)
            by_facts[mark] = known if known is not None and _says_the_same(known, again) else again
        return list(by_facts.values())

    def _rests_on_gone(self, firing: Firing) -> bool:
        return any(id(fact) in self.changes.gone for fact in firing.bound.values())

    def _is_blocked(self, rule: Rule, bound: Bound) -> bool:
        return any(matches(block, fact, bound) for block in rule.unless for fact in joined(block, bound, self.now))

    # ---- which bindings a change touches

    def _touched(self, rule: Rule) -> list[Bound]:
        """Return each way in which facts match all ``when`` blocks of a rule that a fact that came or went touches."""
        found: dict[tuple[int, ...], Bound] = {}
        for block in rule.when:
            for fact in self.changes.came.get(block.kind, ()):
                for bound in self._bindings(rule, {block.name: fact}, {}):
                    found[_mark(bound)] = bound
        for block in rule.unless:
            for fact in self.changes.of(block.kind):
                wanted = self._wanted_by(rule, block, fact)
                for bound in self._bindings(rule, {}, wanted) if wanted is not None else ():
                    found[_mark(bound)] = bound
        return list(found.values())

    def _wanted_by(self, rule: Rule, block: Block, fact: Fact) -> Wanted | None:
        """Return what facts must have for this one to block or settle a firing of theirs; None where it never can."""
        wanted: Wanted = {}
        earlier = {other.name for other in rule.when}
        for test in block.tests:
            if test.operator == "same_as":
                name, field_name = test.operand
                value = fact.get(test.field)
                if value is None or name not in earlier:
                    return None
                wanted.setdefault(name, []).append((field_name, value))
            elif names_which(test, block, self.base.kinds) and holds(test, fact.get(test.field), {}) is not True:
                return None
        return wanted

    def _bindings(self, rule: Rule, fixed: Mapping[str, Fact], wanted: Wanted) -> Iterator[Bound]:
        """Yield each way in which facts match all ``when`` blocks, some of them fixed, some with fields given."""
        wanted = {name: list(fields) for name, fields in wanted.items()}
        for block in rule.when:
            if block.name in fixed:
                for test in block.joins():
                    value = fixed[block.name].get(test.field)
                    if value is None:
                        return
                    wanted.setdefault(test.operand[0], []).append((test.operand[1], value))
        yield from self._extend(rule, 0, {}, fixed, wanted)

    def _extend(
        self, rule: Rule, place: int, bound: Bound, fixed: Mapping[str, Fact], wanted: Wanted
    ) -> Iterator[Bound]:
        if place == len(rule.when):
            yield dict(bound)
            return
        block = rule.when[place]
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
                yield from self._extend(rule, place + 1, {**bound, block.name: fact}, fixed, wanted)

    # ---- the order of a run

    def _in_order(self, layers: list[list[Rule]]) -> Proof | None:
        """Return the proof with its firings in the order in which a run comes to them.

        None where another firing would conclude a fact first than the one that it is known from.
        """
        order = Passes(self.now, self.facts, self.looked_at)
        for layer in layers:
            for rule in layer:
                order.place(self.fired.get(rule.id, ()))
            order.close_layer()
        proof = Proof(FactBase(self.facts), order.firings())
        for firing in proof.firings:
            if proof.facts.add(firing.conclusion) and firing.conclusion is not self.now.known(firing.conclusion):
                return None
        if len(proof.facts) > MOST_FACTS:
            return None
        if any(len(firing.settled) > 1 for firing in proof.firings):
            place = {id(fact): place for place, fact in enumerate(proof.facts)}
            proof.firings = [self._weighed_in_order(firing, place, proof.facts) for firing in proof.firings]
        proof.facts.take_indexes(self.now)
        return proof

    def _weighed_in_order(self, firing: Firing, place: Mapping[int, int], facts: FactBase) -> Firing:
        """Return a firing with what was weighed in the order of the facts, which was not known when it was drawn."""
        places = [place[id(fact)] for fact in firing.settled]
        if places == sorted(places):
            return firing
        again = fire(self.base.rules[firing.rule], firing.bound, facts, self.base.kinds)
        return replace(firing, settled=again.settled)


def _mark(bound: Mapping[str, Fact]) -> tuple[int, ...]:
    return tuple(map(id, bound.values()))


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
