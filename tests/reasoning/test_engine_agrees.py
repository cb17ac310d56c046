"""Both engines prove the same: random vocabularies, rules and facts, with joins, chains and negation over strata."""

from __future__ import annotations

from datetime import date
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from advisor.errors import BadRules
from advisor.facts import Derived, Fact, Proof
from advisor.reasoning.engine import Engine, ReferenceEngine
from advisor.reasoning.rulebase import Rule, RuleBase, rule_from
from advisor.records.kinds import Field, Kind

GIVEN = ("spot", "plant", "reading")
CHAIN = ("cold", "late", "cause")
NAMES = ("a", "b", "n")
VALUES: list[Any] = ["x", "y", "5", 5, 5.0, 1, True, False, 4.9, -2.5, 0, 1e-07, 3e20, date(2026, 4, 1), "true"]
NUMBERS = [-2.5, 0, 1, 4.9, 5, 5.1]


def kind(name: str, absent_means: str) -> Kind:
    return Kind(name, "", "derived", ("a",), {n: Field(n, "text") for n in (*NAMES, "grade")}, absent_means)


value = st.sampled_from(["x"] * 9 + [5] * 6 + VALUES)
constant = st.one_of(
    value,
    st.builds(
        lambda op, n: {op: n}, st.sampled_from(["at_least", "at_most", "above", "below"]), st.sampled_from(NUMBERS)
    ),
    st.builds(lambda v: {"not": v}, value),
    st.builds(lambda v: {"one_of": v}, st.lists(value, min_size=1, max_size=3)),
)


@st.composite
def block(draw: st.DrawFn, kinds: tuple[str, ...], earlier: list[str]) -> dict[str, Any]:
    made: dict[str, Any] = {"kind": draw(st.sampled_from(kinds))}
    for name in draw(st.sets(st.sampled_from(NAMES), max_size=draw(st.sampled_from([0, 0, 1, 1, 2])))):
        join = constant
        if earlier:
            refer = st.tuples(st.sampled_from(earlier), st.sampled_from(NAMES))
            join = refer.map(lambda at: {"same_as": ".".join(at)})
        made[name] = draw(st.one_of(constant, join, join))
    return made


@st.composite
def rule(draw: st.DrawFn, number: int) -> Rule:
    top = draw(st.integers(0, 2))
    positive, negative = (*GIVEN, *CHAIN[: top + 1] * 3), (*GIVEN, *CHAIN[:top] * 2)
    when: dict[str, Any] = {}
    for place in range(draw(st.sampled_from([1, 1, 2, 2, 3, 4]))):
        when[f"w{place}"] = draw(block(positive, list(when)))
    unless = {f"u{n}": draw(block(negative, list(when))) for n in range(draw(st.sampled_from([0, 1, 1, 2])))}
    field = st.builds(lambda b, f: f"{{{b}.{f}}}", st.sampled_from(list(when)), st.sampled_from(NAMES))
    then: dict[str, Any] = {"conclude": CHAIN[top], "tell": "t", "grade": "likely", "a": draw(field)}
    if draw(st.booleans()):
        then["n"] = draw(st.one_of(field, st.sampled_from(NUMBERS)))
    raw = {"id": f"r{number}", "says": "s", "how_it_works": "h", "strength": "disputed", "sources": [], "cautions": [],
           "when": when, "unless": unless, "then": then}  # fmt: skip
    return rule_from(raw, "test", "making a random rule")


@st.composite
def program(draw: st.DrawFn) -> tuple[RuleBase, list[Fact]]:
    rules = [draw(rule(number)) for number in range(draw(st.integers(2, 6)))]
    kinds = {name: kind(name, draw(st.sampled_from(["unknown", "no"]))) for name in GIVEN} | {
        name: kind(name, "no") for name in CHAIN
    }
    rows = draw(
        st.lists(
            st.tuples(st.sampled_from(GIVEN), st.dictionaries(st.sampled_from(NAMES), value, min_size=2, max_size=3)),
            min_size=4,
            max_size=9,
        )
    )
    facts = [Fact.of(name, values, Derived("given", ())) for name, values in rows]
    return RuleBase({one.id: one for one in rules}, kinds), facts


def proved(base: RuleBase, facts: list[Fact], engine: type[Engine] | type[ReferenceEngine]) -> Proof:
    return engine(base).run(facts)


@settings(max_examples=250, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(program(), st.randoms(use_true_random=False))
def test_engines_agree(made: tuple[RuleBase, list[Fact]], chance: Any) -> None:
    """The same firings, with the same facts, the same conclusions and the same unknowns, in any order of the facts."""
    base, facts = made
    try:
        plain = proved(base, facts, ReferenceEngine)
    except BadRules:
        return
    mixed = list(facts)
    chance.shuffle(mixed)
    fast = proved(base, mixed, Engine)
    assert fast.signature() == plain.signature()
    assert {fact.key for fact in fast.facts} == {fact.key for fact in plain.facts}


def test_the_random_programs_are_not_idle() -> None:
    """Most programs fire, many chain, some are blocked and some leave an unknown: the comparison is not empty."""
    seen = {"fired": 0, "chained": 0, "unknown": 0, "negated": 0}

    @settings(max_examples=400, deadline=None, derandomize=True, database=None, suppress_health_check=list(HealthCheck))
    @given(program())
    def count(made: tuple[RuleBase, list[Fact]]) -> None:
        base, facts = made
        try:
            proof = proved(base, facts, ReferenceEngine)
        except BadRules:
            return
        seen["fired"] += bool(proof.firings)
        seen["chained"] += any(f.kind in CHAIN for firing in proof.firings for f in firing.bound.values())
        seen["unknown"] += any(firing.unknown for firing in proof.firings)
        seen["negated"] += any(base.rules[firing.rule].unless for firing in proof.firings)

    count()
    assert min(seen.values()) >= 8, seen
