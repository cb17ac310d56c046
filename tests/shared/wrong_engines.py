"""Engines with a planted fault each, so that what is to find faults can be seen to find them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from typing import Any
from unittest import mock

from advisor.fact_base import Proof
from advisor.facts import Concluded, Fact, typed
from advisor.reasoning.engine import ReferenceEngine, conclude, passes, reference
from advisor.reasoning.rulebase import Block, Rule, RuleBase, Test

Matches = Callable[[Block, Fact, Mapping[str, Fact]], bool]


def base_like(base: RuleBase, change: Callable[[Rule], Rule]) -> RuleBase:
    return RuleBase({rule.id: change(rule) for rule in base.rules.values()}, base.kinds)


class NoUnless(ReferenceEngine):
    """Never looks at the last unless of a rule."""

    def __init__(self, base: RuleBase) -> None:
        super().__init__(base_like(base, lambda rule: replace(rule, unless=rule.unless[:-1])))


class Loose(ReferenceEngine):
    """Takes one value for another where their words are the same: joins 5 with "5"."""

    def run(self, facts: Iterable[Fact]) -> Proof:
        def alike(value: Any) -> tuple[str, object]:
            _, plain = typed(value)
            return ("text", f"{plain:g}" if isinstance(plain, float) else str(plain))

        with mock.patch.object(conclude, "typed", alike):
            return super().run(facts)


class Deaf(ReferenceEngine):
    """Loses the last firing of a run that has more than one."""

    def run(self, facts: Iterable[Fact]) -> Proof:
        proof = super().run(facts)
        del proof.firings[1:][-1:], proof.firings[max(1, len(proof.firings) - 1) :]
        return proof


class Twice(ReferenceEngine):
    """Fires once more for a rule over two facts."""

    def run(self, facts: Iterable[Fact]) -> Proof:
        proof = super().run(facts)
        proof.firings += [firing for firing in proof.firings if len(firing.bound) == 2][:1]
        return proof


def patched(change: Callable[[Matches], Matches]) -> type[ReferenceEngine]:
    """Return an engine that matches otherwise."""

    class Patched(ReferenceEngine):
        def run(self, facts: Iterable[Fact]) -> Proof:
            with mock.patch.object(reference, "matches", change(conclude.matches)):
                return super().run(facts)

    return Patched


def strictly(matches: Matches) -> Matches:
    """Take at_least for above."""

    def strict(block: Block, fact: Fact, bound: Mapping[str, Fact]) -> bool:
        tests = tuple(
            Test(test.field, {"at_least": "above"}.get(test.operator, test.operator), test.operand)
            for test in block.tests
        )
        return matches(replace(block, tests=tests), fact, bound)

    return strict


def absent_passes(matches: Matches) -> Matches:
    """Let an absent field pass a test that asks for another value."""

    def lenient(block: Block, fact: Fact, bound: Mapping[str, Fact]) -> bool:
        tests = tuple(test for test in block.tests if test.operator != "not" or fact.get(test.field) is not None)
        return matches(replace(block, tests=tests), fact, bound)

    return lenient


class SameFactTwice(ReferenceEngine):
    """Lets one fact match two blocks of a rule: it takes each block's fact for another one."""

    def run(self, facts: Iterable[Fact]) -> Proof:
        told = list(facts)
        proof = super().run(told)
        for rule in self.base.rules.values():
            if len(rule.when) == 2 and not rule.unless and rule.when[0].kind == rule.when[1].kind:
                one, other = rule.when
                for fact in proof.facts.of(one.kind):
                    bound = {one.name: fact}
                    if conclude.matches(one, fact, {}) and conclude.matches(other, fact, bound):
                        firing = conclude.fire(rule, {**bound, other.name: fact}, proof.facts, self.base.kinds)
                        proof.firings.append(firing)
        return proof


class TooEarly(ReferenceEngine):
    """Asks for what is not so before all is concluded: runs all rules in one layer."""

    def __init__(self, base: RuleBase) -> None:
        super().__init__(base)
        self.layers = [[rule for layer in self.layers[::-1] for rule in layer]]


class Sure(ReferenceEngine):
    """Takes what no record settles for settled."""

    def run(self, facts: Iterable[Fact]) -> Proof:
        proof = super().run(facts)
        proof.firings = [replace(firing, unknown=()) for firing in proof.firings]
        return proof


class LastConcluder(ReferenceEngine):
    """Holds that the last rule to conclude a fact is where it comes from."""

    def run(self, facts: Iterable[Fact]) -> Proof:
        proof = super().run(facts)
        last = {firing.conclusion.key: firing.conclusion.origin for firing in proof.firings}
        for fact in proof.facts:
            if isinstance(fact.origin, Concluded):
                object.__setattr__(fact, "origin", last[fact.key])
        return proof


class InOrderOfFacts(ReferenceEngine):
    """Fires in the order in which the facts were told."""

    def run(self, facts: Iterable[Fact]) -> Proof:
        with mock.patch.object(passes, "_turn", lambda match: match[0].id):
            return super().run(facts)


class Breaks(ReferenceEngine):
    """Fails where a text holds a quote."""

    def run(self, facts: Iterable[Fact]) -> Proof:
        told = list(facts)
        if any(isinstance(value, str) and '"' in value for fact in told for value in fact.values.values()):
            raise IndexError("a quote")
        return super().run(told)


FAULTS: dict[str, type[ReferenceEngine]] = {
    "ignores an unless": NoUnless,
    "joins 5 with the text 5": Loose,
    "drops a firing": Deaf,
    "fires twice": Twice,
    "takes at_least for above": patched(strictly),
    "lets an absent field pass": patched(absent_passes),
    "matches one fact twice": SameFactTwice,
    "asks for absence too early": TooEarly,
    "knows no unknown": Sure,
    "names the last concluder": LastConcluder,
    "fires in the order of the facts": InOrderOfFacts,
    "breaks at a quote": Breaks,
}
