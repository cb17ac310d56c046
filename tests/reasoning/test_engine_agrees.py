"""Both engines prove the same: random vocabularies, rules and facts, with joins, chains and negation over strata.

hypothesis draws the seed of each program; the program is made from it, so that most have something to prove.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import UTC, date, datetime
from random import Random
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from small_rules import base_of
from small_rules import fact as fact_of
from small_rules import rule as rule_of

from advisor.facts import Concluded, Derived, Fact, Proof
from advisor.reasoning.engine import ReferenceEngine, durable_program
from advisor.reasoning.engine.durable import DurableEngine as Engine
from advisor.reasoning.rulebase import Rule, RuleBase, rule_from
from advisor.records.kinds import Field, Kind

GIVEN = ("spot", "reading")
CHAIN = ("cold", "late", "cause")
"""Concluded kinds; a rule looks at given kinds and at those up to its own, and denies those before its own."""
NAMES = ("a", "b", "n")
COMMON: list[Any] = ["x", 5, 4.9]
VALUES: list[Any] = [
    *COMMON * 20, "5", "true", 'ü "quoted" \\', 5.0, 1, True, False, 0, -0.0, -2.5, 1e-07, 3e20, float("inf"),
    date(2026, 4, 1), datetime(2026, 4, 1, tzinfo=UTC),
]  # fmt: skip
NUMBERS = [-2.5, 0, 1, 4.9, 5, 5.1, 1e-07, 1e18]
BOUNDED = settings(deadline=None, derandomize=True, database=None)

Program = tuple[RuleBase, list[Fact]]


def program(seed: int) -> Program:
    """Return random rules and facts."""
    chance = Random(seed)
    fields = {name: Field(name, "text") for name in (*NAMES, "grade")}
    kinds = {
        name: Kind(name, "", "derived", ("a",), fields, chance.choice(["unknown", "no"])) for name in (*GIVEN, *CHAIN)
    }
    rules = [rule(chance, number) for number in range(chance.randint(3, 8))]
    facts = [fact(chance, chance.choice((*GIVEN * 3, *CHAIN))) for _ in range(chance.randint(12, 24))]
    return RuleBase({one.id: one for one in rules}, kinds), facts


def fact(chance: Random, kind: str) -> Fact:
    known = {name: chance.choice(VALUES) for name in NAMES if chance.random() < 0.85}
    return Fact.of(kind, known, Derived("given", ()))


def rule(chance: Random, number: int) -> Rule:
    top = chance.randrange(len(CHAIN))
    may, may_deny = (*GIVEN, *CHAIN[: top + 1]), (*GIVEN, *CHAIN[:top] * 2)
    when: dict[str, Any] = {}
    for place in range(chance.choice([1, 1, 2, 2, 3, 4])):
        when[f"w{place}"] = block(chance, may if place < 2 else GIVEN, list(when))
    names = ["u0", "w0"][: chance.choice([0, 0, 1, 2])]  # an unless block may bear the name of a when block
    unless = {name: block(chance, may_deny, list(when)) for name in names}
    then: dict[str, Any] = {"conclude": CHAIN[top], "tell": "t", "grade": "likely"}
    for name in chance.sample(NAMES, k=chance.randint(1, 2)):
        then[name] = chance.choice([f"{{{chance.choice(list(when))}.{chance.choice(NAMES)}}}"] * 3 + ["x"])
    raw = {"id": f"r{number}", "says": "s", "how_it_works": "h", "strength": "disputed", "sources": [], "cautions": [],
           "when": when, "unless": unless, "then": then}  # fmt: skip
    return rule_from(raw, "test", "making a random rule")


def block(chance: Random, kinds: tuple[str, ...], earlier: list[str]) -> dict[str, Any]:
    made: dict[str, Any] = {"kind": chance.choice(kinds)}
    for name in chance.sample(NAMES, k=chance.choice([0, 1, 1, 2] if earlier else [0, 0, 1])):
        if earlier and chance.random() < 0.6:
            other = chance.choice(earlier * 20 + ["w3", "u0"])  # at times a block that comes later, or none
            made[name] = {"same_as": f"{other}.{chance.choice(NAMES)}"}
        else:
            made[name] = constant(chance)
    return made


def constant(chance: Random) -> Any:
    operator = chance.choice(["equals", "at_least", "at_most", "above", "below", "not", "one_of"])
    if operator == "equals":
        return chance.choice(COMMON + VALUES)
    if operator == "not":
        return {"not": chance.choice(VALUES)}
    if operator == "one_of":
        return {"one_of": chance.choices(VALUES, k=chance.randint(1, 3))}
    return {operator: chance.choice(NUMBERS)}


programs = st.integers(0, 2**40).map(program)


def in_order(proof: Proof) -> list[Any]:
    """Return a proof's firings, and the facts that it concluded first, in its own order."""
    fired = [(one.rule, [fact.key for fact in one.bound.values()], one.conclusion.key) for one in proof.firings]
    return [fired, [(f.key, f.origin.rule) for f in proof.facts if isinstance(f.origin, Concluded)]]


@settings(BOUNDED, max_examples=500)
@given(programs, st.integers(0, 2**32))
def test_engines_agree(made: Program, seed: int) -> None:
    """The same firings, once each, with the same facts, conclusions and unknowns, whatever the order of the facts."""
    base, facts = made
    plain = ReferenceEngine(base).run(facts)
    mixed = list(facts)
    Random(seed).shuffle(mixed)
    engine = Engine(base)
    fast, again = engine.run(facts), engine.run(mixed)
    assert fast.signature() == plain.signature()
    assert len(fast.firings) == len(plain.firings) == len(plain.signature())
    assert {fact.key for fact in fast.facts} == {fact.key for fact in plain.facts}
    assert in_order(fast) == in_order(again)


@settings(BOUNDED, max_examples=100)
@given(programs)
def test_split_over_rulesets_they_agree(made: Program) -> None:
    """Rules spread over several rulesets of the core, and chained between them, prove what they prove in one."""
    base, facts = made
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(durable_program, "MOST_BLOCKS", 7)
        engine = Engine(base)
    assert len(engine.program.sets) > 1 or len(engine.program.rules) < 7
    assert engine.run(facts).signature() == ReferenceEngine(base).run(facts).signature()


def test_the_random_programs_are_not_idle() -> None:
    """Most programs fire, many chain and join, some are blocked and some leave an unknown; every operator passes."""
    seen: Counter[str] = Counter()
    for seed in range(200):
        base, facts = program(seed)
        proof = ReferenceEngine(base).run(facts)
        bare = RuleBase({one.id: replace(one, unless=()) for one in base.rules.values()}, base.kinds)
        seen["fired"] += bool(proof.firings)
        seen["blocked"] += len(ReferenceEngine(bare).run(facts).firings) > len(proof.firings)
        seen["unknown"] += any(firing.unknown for firing in proof.firings)
        seen["chained"] += any(isinstance(f.origin, Concluded) for one in proof.firings for f in one.bound.values())
        for size in {len(firing.bound) for firing in proof.firings}:
            seen[f"over {size} facts"] += 1
        fired = [base.rules[name] for name in {firing.rule for firing in proof.firings}]
        for operator in {test.operator for one in fired for block in one.when for test in block.tests}:
            seen[operator] += 1
    assert len(seen) == 16 and min(seen.values()) >= 5, seen


def test_a_conclusion_carries_values_and_words() -> None:
    """A whole reference keeps its value's type, words around one take its text, and what is not known says nothing."""
    base = base_of(
        rule_of({"a": {"kind": "a"}}, n="{a.n}", on="{a.on}", gone="{a.gone}", said="{a.n} of {a.k} on {a.on}{a.gone}")
    )
    for engine in (Engine(base), ReferenceEngine(base)):
        (found,) = engine.run([fact_of("a", n=0, k=False, on=date(2026, 4, 1))]).of("found")
        assert dict(found.values) == {"n": 0, "on": date(2026, 4, 1), "said": "0 of False on 2026-04-01"}
