"""The plain evaluator: the rules' meaning in as little Python as it takes. Slow, and the judge of the fast one."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from advisor.fact_base import FactBase, Proof
from advisor.facts import Fact
from advisor.reasoning.engine.conclude import MOST_FACTS, matches, too_many_facts
from advisor.reasoning.engine.passes import Match, draw
from advisor.reasoning.engine.strata import strata
from advisor.reasoning.rulebase import Rule, RuleBase


class ReferenceEngine:
    """Runs rules by trying every fact in every block, layer by layer, until nothing new is concluded."""

    def __init__(self, base: RuleBase) -> None:
        self.base = base
        self.layers = strata(base.rules.values())

    def run(self, facts: Iterable[Fact]) -> Proof:
        """Return everything that follows from the facts, with every firing in a fixed order."""
        proof = Proof(FactBase(facts))
        for layer in self.layers:
            seen: set[object] = set()
            while self._pass(layer, proof, seen):
                pass
        return proof

    def _pass(self, layer: list[Rule], proof: Proof, seen: set[object]) -> bool:
        fresh: list[Match] = []
        for rule in layer:
            for bound in bindings(rule, proof.facts):
                mark = (rule.id, tuple(fact.key for fact in bound.values()))
                if mark not in seen:
                    seen.add(mark)
                    fresh.append((rule, bound))
        draw(fresh, proof, self.base.kinds)
        if len(proof.facts) > MOST_FACTS:
            raise too_many_facts()
        return bool(fresh)


def bindings(rule: Rule, facts: FactBase) -> Iterator[dict[str, Fact]]:
    """Yield each way in which facts match all ``when`` blocks of a rule and none of its ``unless`` blocks.

    Two ``when`` blocks of one rule never match the same fact: a rule that compares two readings means two.
    """

    def extend(place: int, bound: dict[str, Fact]) -> Iterator[dict[str, Fact]]:
        if place == len(rule.when):
            if not any(matches(block, fact, bound) for block in rule.unless for fact in facts.of(block.kind)):
                yield dict(bound)
            return
        block = rule.when[place]
        for fact in facts.of(block.kind):
            if fact not in bound.values() and matches(block, fact, bound):
                yield from extend(place + 1, {**bound, block.name: fact})

    yield from extend(0, {})
