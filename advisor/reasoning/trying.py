"""A rule tried on facts set by hand: what it concludes, and where it stays silent, which condition stands in the way.

``near_misses`` keeps to ways in which one thing alone is wrong; here the nearest way is told whatever is wrong with it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from advisor.answers import Told
from advisor.fact_base import FactBase
from advisor.facts import Derived, Fact, Firing, Value
from advisor.reasoning.asking import question_for
from advisor.reasoning.engine import ReferenceEngine
from advisor.reasoning.engine.conclude import holds, matches, names_which, settling
from advisor.reasoning.rulebase import REFERENCE, Block, Case, Rule, RuleBase, Test
from advisor.records.kinds import Vocabulary

BEAM = 24
"""Ways kept after each block; the nearest of a garden's is found with far fewer."""
UNKNOWN, FAILED, NO_FACT = 4, 10, 13
"""What stands in a way, the lightest first: a field not known, a test not passed, no fact at all (house judgement)."""
BY_HAND = "set by hand"


@dataclass(frozen=True)
class TestSeen:
    """One test and what it found: ``passed`` is None where the value is not known."""

    __test__ = False  # not a test of pytest's

    test: Test
    value: Value | None
    passed: bool | None


@dataclass(frozen=True)
class BlockSeen:
    """One ``when`` block on the nearest way; ``fact`` is None where there is none about what it asks."""

    block: Block
    fact: Fact | None
    tests: tuple[TestSeen, ...] = ()
    ask: Told | None = None

    @property
    def state(self) -> str:
        """Return met, failed, or not known."""
        if any(one.passed is False for one in self.tests):
            return "failed"
        return "met" if self.fact is not None and all(one.passed for one in self.tests) else "not known"


@dataclass(frozen=True)
class UnlessSeen:
    """One ``unless`` block on the nearest way.

    ``state`` is "stands against", "clear" (a record settles it), "counts as no" or "not settled".
    """

    block: Block
    state: str
    facts: tuple[Fact, ...] = ()
    ask: Told | None = None


@dataclass(frozen=True)
class Nearest:
    """How near a rule came to firing on some facts, block by block."""

    when: tuple[BlockSeen, ...]
    unless: tuple[UnlessSeen, ...]
    bound: Mapping[str, Fact] = field(default_factory=dict)


@dataclass(frozen=True)
class Tried:
    """What a rule does with facts: its firings, and how near it came; where it fires, the way of the first firing."""

    firings: tuple[Firing, ...]
    nearest: Nearest


def by_hand(kind: str, values: Mapping[str, Value | None]) -> Fact:
    """Return a fact that somebody set by hand."""
    return Fact.of(kind, values, Derived(BY_HAND, ()))


def try_rule(rule: Rule, facts: Iterable[Fact], base: RuleBase) -> Tried:
    """Run one rule alone on facts, those that it feeds itself included."""
    given = FactBase(facts)
    firings = tuple(ReferenceEngine(base.only({rule.id})).run(given).firings)
    if firings:
        return Tried(firings, seen_along(rule, firings[0].bound, given, base.kinds))
    return Tried((), nearest(rule, given, base.kinds))


def nearest(rule: Rule, facts: FactBase, kinds: Vocabulary) -> Nearest:
    """Return the way through a rule's blocks on which least stands against it."""
    ways: list[tuple[int, dict[str, Fact]]] = [(0, {})]
    for block in rule.when:
        ways = sorted(_extended(ways, block, facts, kinds), key=lambda way: way[0])[:BEAM]
    best = min(ways, key=lambda way: (way[0], _blocks(rule, facts, way[1])))
    return seen_along(rule, best[1], facts, kinds)


def seen_along(rule: Rule, bound: Mapping[str, Fact], facts: FactBase, kinds: Vocabulary) -> Nearest:
    """Return what each block finds where these facts are bound to the rule's blocks."""
    when = []
    for block in rule.when:
        fact = bound.get(block.name)
        tests = () if fact is None else tuple(_seen(block, fact, bound))
        unknown = next((one.test.field for one in tests if one.passed is None), "")
        failed = any(one.passed is False for one in tests)
        wants = (fact is None or unknown) and not failed
        when.append(BlockSeen(block, fact, tests, question_for(block, unknown, bound, kinds) if wants else None))
    return Nearest(tuple(when), tuple(_unless(block, bound, facts, kinds) for block in rule.unless), bound)


def _extended(
    ways: Sequence[tuple[int, dict[str, Fact]]], block: Block, facts: FactBase, kinds: Vocabulary
) -> Iterator[tuple[int, dict[str, Fact]]]:
    about = [test for test in block.tests if names_which(test, block, kinds)]
    for cost, bound in ways:
        meant = [
            fact
            for fact in facts.of(block.kind)
            if fact not in bound.values()  # no fact matches two blocks
            and all(holds(test, fact.get(test.field), bound) is not False for test in about)
        ]
        if not meant:
            yield cost + NO_FACT, bound
        for fact in meant:
            passed = [one.passed for one in _seen(block, fact, bound)]
            yield cost + FAILED * passed.count(False) + UNKNOWN * passed.count(None), {**bound, block.name: fact}


def _seen(block: Block, fact: Fact, bound: Mapping[str, Fact]) -> Iterator[TestSeen]:
    for test in block.tests:
        value = fact.get(test.field)
        yield TestSeen(test, value, holds(test, value, bound))


def _blocks(rule: Rule, facts: FactBase, bound: Mapping[str, Fact]) -> int:
    return sum(any(matches(block, fact, bound) for fact in facts.of(block.kind)) for block in rule.unless)


def _unless(block: Block, bound: Mapping[str, Fact], facts: FactBase, kinds: Vocabulary) -> UnlessSeen:
    against = tuple(fact for fact in facts.of(block.kind) if matches(block, fact, bound))
    if against:
        return UnlessSeen(block, "stands against", against[:1])
    settled = tuple(settling(block, bound, facts, kinds))
    if settled:
        return UnlessSeen(block, "clear", settled[:1])
    if kinds[block.kind].absent_means == "no":
        return UnlessSeen(block, "counts as no")
    return UnlessSeen(block, "not settled", ask=question_for(block, "", bound, kinds))


# ---- what can be set


def fields_looked_at(rule: Rule, kinds: Vocabulary) -> dict[str, tuple[str, ...]]:
    """Return, for each kind that a rule's blocks match, the fields it looks at or tells, in the kind's own order."""
    wanted: dict[str, set[str]] = {}
    kind_of = {block.name: block.kind for block in (*rule.when, *rule.unless)}
    for block in (*rule.when, *rule.unless):
        named = wanted.setdefault(block.kind, set())
        named |= {test.field for test in block.tests} | set(kinds[block.kind].about)
        for test in block.joins():
            wanted.setdefault(kind_of[test.operand[0]], set()).add(test.operand[1])
    for text in (rule.tell, *(value for value in rule.gives.values() if isinstance(value, str))):
        for name, told in REFERENCE.findall(text):
            wanted[kind_of[name]].add(told)
    return {kind: tuple(name for name in kinds[kind].fields if name in named) for kind, named in wanted.items()}


def first_firing(rule: Rule) -> int:
    """Return which of a rule's cases, from 0, is the first in which it fires; 0 where none is said to."""
    return next((place for place, case in enumerate(rule.cases) if case.expect), 0)


def facts_of(case: Case) -> list[Fact]:
    """Return the facts that a case gives."""
    return [by_hand(raw["kind"], {name: value for name, value in raw.items() if name != "kind"}) for raw in case.given]
