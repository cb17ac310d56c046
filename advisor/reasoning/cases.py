"""A rule's own cases: run against an engine, with what the rule says it lacks."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Protocol

from advisor.fact_base import Proof
from advisor.facts import Derived, Fact, typed
from advisor.reasoning.near_miss import near_misses
from advisor.reasoning.rulebase import Case, Rule, RuleBase


class Runs(Protocol):
    """Anything that runs facts to a proof."""

    def run(self, facts: list[Fact]) -> Proof: ...


def fact_from(raw: Mapping[str, Any]) -> Fact:
    """Make a given fact of a case."""
    values = {name: value for name, value in raw.items() if name != "kind"}
    return Fact.of(raw["kind"], values, Derived("given in a case", ()))


def _agrees(expected: Mapping[str, Any], fact: Fact) -> bool:
    if expected.get("kind", fact.kind) != fact.kind:
        return False
    return all(
        name in fact.values and typed(fact.values[name]) == typed(value)
        for name, value in expected.items()
        if name != "kind"
    )


def run_case(
    rule: Rule, case: Case, base: RuleBase, engine: Callable[[RuleBase], Runs], *, reverse: bool = False
) -> list[str]:
    """Run one case of a rule with that rule alone and return what is wrong with the outcome; nothing if all is well.

    ``expect`` must name every conclusion and nothing else; ``lacks`` every record the rule wants for, and nothing
    else, counting an ``unless`` block that no record settles.
    """
    facts = [fact_from(raw) for raw in case.given]
    proof = engine(base.only({rule.id})).run(facts[::-1] if reverse else facts)
    concluded = list({firing.conclusion.key: firing.conclusion for firing in proof.firings}.values())
    wrong = []
    left = list(concluded)
    for expected in case.expect:
        hit = next((fact for fact in left if _agrees(expected, fact)), None)
        if hit is None:
            wrong.append(f"expected {dict(expected)}, concluded {concluded or 'nothing'}")
        else:
            left.remove(hit)
    wrong += [f"concluded {fact}, which the case does not expect" for fact in left]
    lacks = {str(lack) for miss in near_misses(rule, proof.facts, base.kinds) for lack in miss.lacks}
    lacks |= {name for firing in proof.firings for name in firing.unknown}
    if case.expect and not case.lacks:
        return wrong
    if lacks != set(case.lacks):
        wrong.append(f"lacks {sorted(lacks)}, the case says {sorted(case.lacks)}")
    return wrong
