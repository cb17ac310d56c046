"""Rules run over facts in passes: a matcher says what matched, the conclusions are drawn, and they are told in turn.

Every fast engine is run by this; a matcher is what is of its own. So engines whose matchers agree prove the same, in
the same order.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Protocol

from advisor.fact_base import FactBase, Proof
from advisor.facts import Fact, Key
from advisor.reasoning.engine.conclude import MOST_FACTS, fire, too_many_facts
from advisor.reasoning.rulebase import Rule, RuleBase
from advisor.records.kinds import Vocabulary

Match = tuple[Rule, Mapping[str, Fact]]
"""A rule and the fact that each of its ``when`` blocks matched."""


class Matcher(Protocol):
    """One question put to a library: facts go in, what they newly match comes out, in any order."""

    def tell(self, facts: Sequence[Fact]) -> list[Match]:
        """Take facts and return each match that they complete."""
        ...

    def close_layer(self, layer: int, facts: Sequence[Fact]) -> list[Match]:
        """Take facts, the last given to a layer that no rule below can add to, and return what is matched now.

        From here on a rule of the layer may find that nothing stands against it.
        """
        ...


def proof_of(
    base: RuleBase, layers: list[list[Rule]], kinds: frozenset[str], matcher: Matcher, facts: Iterable[Fact]
) -> Proof:
    """Return everything that follows from the facts, with every firing in a fixed order.

    What a rule of a later layer matched waits for its layer, so that nothing is concluded out of turn. ``kinds`` are
    those that some rule looks at; no other facts are told. Raise EngineFailed for too many facts.
    """
    proof = Proof(FactBase(facts))
    layer_of = {rule.id: layer for layer, rules in enumerate(layers) for rule in rules}
    waiting: list[list[Match]] = [[] for _ in layers]
    told = 0

    def wanted(some: Iterable[Fact]) -> list[Fact]:
        nonlocal told
        fresh = [fact for fact in some if fact.kind in kinds]
        told += len(fresh)
        if told > MOST_FACTS:
            raise too_many_facts()
        return fresh

    def concluded(matches: list[Match], layer: int) -> list[Fact]:
        for match in matches:
            waiting[layer_of[match[0].id]].append(match)
        due, waiting[layer] = waiting[layer], []
        return wanted(draw(due, proof, base.kinds))

    fresh = wanted(proof.facts)
    for layer in range(len(layers)):
        fresh = concluded(matcher.close_layer(layer, fresh), layer)
        while fresh:
            fresh = concluded(matcher.tell(fresh), layer)
    return proof


def draw(matches: Iterable[Match], proof: Proof, kinds: Vocabulary) -> list[Fact]:
    """Add to a proof the conclusions of all that matched in one pass, and return the facts that are new.

    They are drawn by rule and facts, whatever order a library gives. The first to conclude a fact is where that fact
    comes from, so engines that match alike, pass by pass, give the same proof to the last detail.
    """
    new = []
    for rule, bound in sorted(matches, key=_turn):
        firing = fire(rule, bound, proof.facts, kinds)
        proof.firings.append(firing)
        if len(proof.firings) > MOST_FACTS:
            raise too_many_facts()
        if proof.facts.add(firing.conclusion):
            new.append(firing.conclusion)
    return new


def _turn(match: Match) -> tuple[str, list[Key]]:
    rule, bound = match
    return rule.id, [fact.key for fact in bound.values()]
