"""What was weighed without carrying the answer: facts that might have spoken against it, or for another one."""

from __future__ import annotations

from advisor.fact_base import Proof
from advisor.facts import Fact
from advisor.reasoning.near_miss import near_misses
from advisor.reasoning.rulebase import RuleBase

ANY = 99
MOST_FACTS = 400
"""Of more facts than this only what settled the conclusions is told: a whole garden's near misses are no answer."""


def weighed(proof: Proof, base: RuleBase) -> tuple[Fact, ...]:
    """Return the facts that settled an ``unless``, and those that alone kept a silent rule from firing.

    A fact keeps a rule silent by a value that does not fit, or by a field that nobody told.
    """
    settled = {id(fact): fact for firing in proof.firings for fact in firing.settled}
    found = {fact.key: fact for fact in settled.values()}
    if len(proof.facts) <= MOST_FACTS:
        for rule in base.rules.values():
            for miss in near_misses(rule, proof.facts, base.kinds, most_wrong=ANY):
                if miss.failed:
                    found[miss.failed[2].key] = miss.failed[2]
                for lack in miss.lacks:
                    if lack.field and lack.block in miss.bound:
                        found[miss.bound[lack.block].key] = miss.bound[lack.block]
    return tuple(found.values())
