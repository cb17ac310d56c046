"""What a random program holds, so that a run of the fuzzer can tell what it has tried and a test can ask for all of it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from importlib.util import find_spec

from engine_programs import Program
from random_words import ALIKE, ODD_BLOCKS, ODD_FIELDS, ODD_KINDS, USUAL

from advisor.fact_base import Proof
from advisor.facts import Concluded, Fact
from advisor.reasoning.engine.conclude import WEAKER, matches
from advisor.reasoning.engine.reference import bindings
from advisor.reasoning.engine.strata import strata
from advisor.reasoning.rulebase import OPERATORS, REFERENCE, WHOLE_REFERENCE, Rule, RuleBase

ODD_VALUES = {repr(value) for alike in ALIKE for value in alike} - {repr(value) for value in USUAL}
ALL = {
    "fired", "silent", "chain of 2", "chain of 3 or more", "fed itself", "blocked by unless", "blocked by a conclusion",
    "unknown", "settled", "one grade weaker", "several of one kind", "text template", "whole template",
    "layers: 2", "layers: 3 or more", "odd value in a firing", "odd kind in a firing", "odd field in a firing",
    "odd block in a firing", "absent field in a firing", "facts told twice", "facts of no rule's kind", "no facts",
    "more than 100 firings", "more than 60 rules",
    *(f"when {name}" for name in ("equals", *OPERATORS)), *(f"unless {name}" for name in ("equals", *OPERATORS)),
    *(f"{size} facts in a firing" for size in (1, 2, 3, 4, 5)),
    *(["several rulesets"] if find_spec("durable_rules_engine") else []),
}  # fmt: skip
"""Everything that ``held`` can say of a program."""


def held(program: Program, proof: Proof) -> set[str]:
    """Return what is in a program, mostly of the rules that fire in it; ``proof`` is what it proves."""
    base, facts = program.base(), program.given()
    found = {"fired" if proof.firings else "silent", *_facts(base, facts), *_firings(base, proof)}
    found |= {f"when {test.operator}" for rule in _fired(base, proof) for block in rule.when for test in block.tests}
    for rule in base.rules.values():
        found |= set(_denied(rule, base, proof))
    layers = len(strata(base.rules.values()))
    if layers > 1:
        found.add("layers: 2" if layers == 2 else "layers: 3 or more")
    if len(base.rules) > 60:
        found.add("more than 60 rules")
    if find_spec("durable_rules_engine"):
        from advisor.reasoning.engine.durable_program import Program as Compiled

        if len(Compiled.of(base).sets) > 1:
            found.add("several rulesets")
    return found


def _facts(base: RuleBase, facts: list[Fact]) -> Iterator[str]:
    looked_at = {block.kind for rule in base.rules.values() for block in (*rule.when, *rule.unless)}
    if not facts:
        yield "no facts"
    if len({fact.key for fact in facts}) < len(facts):
        yield "facts told twice"
    if any(fact.kind not in looked_at for fact in facts):
        yield "facts of no rule's kind"


def _fired(base: RuleBase, proof: Proof) -> list[Rule]:
    return [base.rules[name] for name in {firing.rule for firing in proof.firings}]


def _firings(base: RuleBase, proof: Proof) -> Iterator[str]:
    deep: dict[str, int] = {}
    if len(proof.firings) > 100:
        yield "more than 100 firings"
    for firing in proof.firings:
        rule, bound = base.rules[firing.rule], list(firing.bound.values())
        if bound:
            yield f"{len(bound)} facts in a firing"
        depth = 1 + max((deep.get(repr(fact.key), 0) for fact in bound), default=0)
        deep.setdefault(repr(firing.conclusion.key), depth)
        if depth > 1:
            yield "chain of 2" if depth == 2 else "chain of 3 or more"
        if any(isinstance(fact.origin, Concluded) and fact.kind == rule.conclude for fact in bound):
            yield "fed itself"
        if len({fact.kind for fact in bound}) < len(bound):
            yield "several of one kind"
        if firing.unknown:
            yield "unknown"
            if any(rule.gives.get(name) in steps for name, steps in WEAKER.items()):
                yield "one grade weaker"
        if firing.settled:
            yield "settled"
        if set(firing.bound) & set(ODD_BLOCKS):
            yield "odd block in a firing"
        for fact in (*bound, firing.conclusion):
            yield from _odd(fact)
    for rule in _fired(base, proof):
        for value in rule.gives.values():
            if isinstance(value, str) and REFERENCE.search(value):
                yield "whole template" if WHOLE_REFERENCE.match(value) else "text template"
        fields = {block.kind: set(base.kinds[block.kind].fields) - set(WEAKER) for block in rule.when}
        if any(fields[fact.kind] - set(fact.values) for one in proof.firings if one.rule == rule.id
               for fact in one.bound.values()):  # fmt: skip
            yield "absent field in a firing"


def _odd(fact: Fact) -> Iterator[str]:
    if fact.kind in ODD_KINDS:
        yield "odd kind in a firing"
    if set(fact.values) & set(ODD_FIELDS):
        yield "odd field in a firing"
    if any(repr(value) in ODD_VALUES for value in fact.values.values()):
        yield "odd value in a firing"


def _denied(rule: Rule, base: RuleBase, proof: Proof) -> Iterator[str]:
    """Yield which tests of a rule's ``unless`` blocks kept it from firing, and whether a conclusion did."""
    if not rule.unless:
        return
    for place, bound in enumerate(bindings(replace(rule, unless=()), proof.facts)):
        if place == 200:  # enough to know
            return
        for block in rule.unless:
            for fact in proof.facts.of(block.kind):
                if matches(block, fact, bound):
                    yield "blocked by unless"
                    yield from (f"unless {test.operator}" for test in block.tests)
                    if isinstance(fact.origin, Concluded):
                        yield "blocked by a conclusion"
