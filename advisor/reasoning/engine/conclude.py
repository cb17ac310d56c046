"""What every engine shares: when a test holds, what a rule concludes, and what it could not know.

An engine only finds which facts match; the conclusion is drawn here, so two engines that match alike prove alike.
"""

from __future__ import annotations

import operator
from collections.abc import Callable, Mapping

from advisor.errors import TooManyFacts
from advisor.fact_base import FactBase
from advisor.facts import Concluded, Fact, Firing, Value, as_float, typed
from advisor.reasoning.rulebase import REFERENCE, WHOLE_REFERENCE, Block, Rule, Test
from advisor.records.kinds import Vocabulary

WEAKER = {
    "grade": {"likely": "possible", "possible": "weak", "weak": "weak"},
    "size": {"strong": "fair", "fair": "slight", "slight": "slight"},
}
"""One grade down, by the conclusion's field that carries a grade."""

MOST_FACTS = 100_000
"""Facts of one run, given and concluded, and firings: a rule that goes on feeding itself comes to it, and one that sets
each fact of a kind beside each other one."""

COMPARES: Mapping[str, Callable[[float, float], bool]] = {
    "at_least": operator.ge,
    "at_most": operator.le,
    "above": operator.gt,
    "below": operator.lt,
}


def holds(test: Test, value: Value | None, bound: Mapping[str, Fact]) -> bool | None:
    """Return whether a test holds for a value, or None where the value, or what it is compared with, is absent."""
    if value is None:
        return None
    operand = test.operand
    match test.operator:
        case "equals":
            return typed(value) == typed(operand)
        case "not":
            return typed(value) != typed(operand)
        case "one_of":
            return any(typed(value) == typed(choice) for choice in operand)
        case "same_as":
            block, field = operand
            other = bound[block].get(field) if block in bound else None
            return None if other is None else typed(value) == typed(other)
    if isinstance(value, bool) or not isinstance(value, int | float):
        return False
    return COMPARES[test.operator](as_float(value), as_float(operand))


def matches(block: Block, fact: Fact, bound: Mapping[str, Fact]) -> bool:
    """Return whether a fact of the block's kind passes all its tests."""
    return all(holds(test, fact.get(test.field), bound) is True for test in block.tests)


def names_which(test: Test, block: Block, kinds: Vocabulary) -> bool:
    """Return whether a test says which fact is meant (about whom) rather than asks something of it."""
    return test.operator == "same_as" or (test.operator == "equals" and test.field in kinds[block.kind].about)


def joined(block: Block, bound: Mapping[str, Fact], facts: FactBase, *, or_open: bool = False) -> list[Fact]:
    """Return the facts of a block's kind that may pass its joins to bound facts, in their order; not to be changed.

    Without ``or_open`` a fact that leaves the joined field open is no such fact.
    """
    for test in block.tests:
        if test.operator == "same_as" and test.operand[0] in bound:
            value = bound[test.operand[0]].get(test.operand[1])
            if value is not None:
                return facts.having(block.kind, test.field, value, or_open=or_open)
            if not or_open:
                return []
    return facts.of(block.kind)


def settling(block: Block, bound: Mapping[str, Fact], facts: FactBase, kinds: Vocabulary) -> list[Fact]:
    """Return the facts that settle an ``unless`` block that did not match.

    It is settled where some fact about the same thing has every field that the block asks about.
    """
    asked = [test.field for test in block.tests if not names_which(test, block, kinds)]
    about = [test for test in block.tests if names_which(test, block, kinds)]
    return [
        fact
        for fact in joined(block, bound, facts)
        if all(holds(test, fact.get(test.field), bound) is True for test in about)
        and all(fact.get(field) is not None for field in asked)
    ]


def fill(template: Value, bound: Mapping[str, Fact]) -> Value | None:
    """Return a conclusion's field: a constant as it is, "{block.field}" as that value with its type."""
    if not isinstance(template, str):
        return template
    whole = WHOLE_REFERENCE.match(template)
    if whole:
        return bound[whole[1]].get(whole[2])

    def said(block: str, field: str) -> str:
        value = bound[block].get(field)
        return "" if value is None else str(value)

    return REFERENCE.sub(lambda found: said(found[1], found[2]), template)


def fire(rule: Rule, bound: Mapping[str, Fact], facts: FactBase, kinds: Vocabulary) -> Firing:
    """Draw a rule's conclusion from the facts bound to its ``when`` blocks.

    The conclusion is one grade weaker where an ``unless`` block is not settled by any record; where the kind is
    complete, a missing fact means no.
    """
    settled = {block.name: settling(block, bound, facts, kinds) for block in rule.unless}
    unknown = tuple(
        block.name for block in rule.unless if not settled[block.name] and kinds[block.kind].absent_means == "unknown"
    )
    values = {name: fill(template, bound) for name, template in rule.gives.items()}
    if unknown:
        for name, steps in WEAKER.items():
            value = values.get(name)
            if isinstance(value, str):
                values[name] = steps.get(value, value)
    origin = Concluded(rule.id, tuple(bound.values()))
    weighed = tuple({fact.key: fact for found in settled.values() for fact in found}.values())
    return Firing(rule.id, dict(bound), Fact.of(rule.conclude, values, origin), unknown, weighed)


def too_many_facts() -> TooManyFacts:
    found = f"more than {MOST_FACTS} facts, or conclusions drawn from them"
    return TooManyFacts("running the rules", found, "Ask about one plant or one kind of tree")
