"""Rules run over facts in passes: a matcher says what matched, the conclusions are drawn, and they are told in turn.

Every fast engine is run by this; a matcher is what is of its own. So engines whose matchers agree prove the same, in
the same order.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Protocol

from advisor.facts import Fact, FactBase, Proof
from advisor.reasoning.engine.conclude import MOST_FACTS, fire, too_many_facts
from advisor.reasoning.rulebase import Rule, RuleBase

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


def proof_of(base: RuleBase, layers: int, kinds: frozenset[str], matcher: Matcher, facts: Iterable[Fact]) -> Proof:
    """Return everything that follows from the facts, with every firing in a fixed order.

    ``kinds`` are those that some rule looks at; no other facts are told. Raise EngineFailed for too many facts.
    """
    proof = Proof(FactBase(facts))
    told = 0

    def wanted(some: Iterable[Fact]) -> list[Fact]:
        nonlocal told
        fresh = [fact for fact in some if fact.kind in kinds]
        told += len(fresh)
        if told > MOST_FACTS:
            raise too_many_facts()
        return fresh

    fresh = wanted(proof.facts)
    for layer in range(layers):
        fresh = wanted(_conclusions(base, matcher.close_layer(layer, fresh), proof))
        while fresh:
            fresh = wanted(_conclusions(base, matcher.tell(fresh), proof))
    return proof


def _conclusions(base: RuleBase, matches: list[Match], proof: Proof) -> list[Fact]:
    """Draw the conclusions of matches in a fixed order and return the facts that are new."""
    new = []
    for rule, bound in sorted(matches, key=_order):  # no library promises an order of its own
        firing = fire(rule, bound, proof.facts, base.kinds)
        proof.firings.append(firing)
        if proof.facts.add(firing.conclusion):
            new.append(firing.conclusion)
    return new


def _order(match: Match) -> Any:
    rule, bound = match
    return rule.id, [fact.key for fact in bound.values()]
