"""How near a rule came: what it lacks to fire, and which single test stood in its way."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

from advisor.fact_base import FactBase
from advisor.facts import Fact, Value
from advisor.reasoning.engine.conclude import holds, joined, matches, names_which
from advisor.reasoning.rulebase import Block, Rule, Test
from advisor.records.kinds import Vocabulary

ANY_LACKS = 99


@dataclass(frozen=True, slots=True)
class Lack:
    """What is not known: a block without any fact (``field`` is ""), or a field absent from the block's fact."""

    block: str
    field: str = ""

    def __str__(self) -> str:
        return f"{self.block}.{self.field}" if self.field else self.block


@dataclass(frozen=True)
class NearMiss:
    """A rule that did not fire for one set of facts.

    ``lacks`` is what no record says; ``failed`` the one test that a fact does not pass, or the ``unless`` block
    that a fact met. Exactly one of the two is given.
    """

    rule: str
    bound: Mapping[str, Fact]
    lacks: tuple[Lack, ...] = ()
    failed: tuple[str, Test | None, Fact] | None = None


def near_misses(
    rule: Rule, facts: FactBase, kinds: Vocabulary, most_wrong: int = 1, most_lacks: int = ANY_LACKS
) -> list[NearMiss]:
    """Return the ways in which a rule nearly fired.

    A way counts where nothing but missing records stands against it, or where nothing is missing and a single
    test fails or a single ``unless`` block is met. Ways that rest on no fact at all are left out. With a larger
    ``most_wrong`` the one fact in the way may fail so many tests; the first of them is given. Where more than
    ``most_lacks`` records are missing a way is left out.
    """
    return list(_extend(rule, facts, kinds, 0, {}, (), None, most_wrong, most_lacks))


class LastNear:
    """How near silent rules came to firing at last; while the facts that they look at are the same, they still do."""

    def __init__(self) -> None:
        self._by_rule: dict[str, tuple[list[list[Fact]], list[NearMiss]]] = {}

    def of(self, rule: Rule, facts: FactBase, kinds: Vocabulary) -> list[NearMiss]:
        """Return the ways in which nothing but one missing record stands against a rule."""
        looked_at = [facts.of(block.kind) for block in (*rule.when, *rule.unless)]
        known = self._by_rule.get(rule.id)
        if known is None or known[0] != looked_at:  # facts are equal to themselves alone
            misses = near_misses(rule, facts, kinds, most_wrong=0, most_lacks=1)
            known = self._by_rule[rule.id] = looked_at, misses
        return known[1]


def _extend(
    rule: Rule,
    facts: FactBase,
    kinds: Vocabulary,
    place: int,
    bound: dict[str, Fact],
    lacks: tuple[Lack, ...],
    failed: tuple[str, Test | None, Fact] | None,
    most_wrong: int,
    most_lacks: int,
) -> Iterator[NearMiss]:
    if (lacks and failed) or len(lacks) > most_lacks:
        return
    if place == len(rule.when):
        blocked = _blocked(rule, facts, bound)
        if lacks and bound and not blocked:
            yield NearMiss(rule.id, bound, lacks)
        elif failed and not blocked:
            yield NearMiss(rule.id, bound, failed=failed)
        elif len(blocked) == 1 and not lacks and not failed:
            yield NearMiss(rule.id, bound, failed=(blocked[0][0], None, blocked[0][1]))
        return
    block = rule.when[place]
    about = [test for test in block.tests if names_which(test, block, kinds)]
    meant = joined(block, bound, facts, or_open=True)
    if about:
        meant = [f for f in meant if all(holds(t, f.get(t.field), bound) is not False for t in about)]
    asked = [test for test in block.tests if test not in about]
    same = _Same(meant, kinds[block.kind].about)
    for fact in meant:
        wrong = [test for test in asked if holds(test, fact.get(test.field), bound) is False]
        if len(wrong) > most_wrong or fact in bound.values():  # no fact matches two blocks
            continue
        now = {**bound, block.name: fact}
        absent = _absent(block, fact)
        if absent and same.told_elsewhere(absent, fact):
            continue
        if not wrong:
            yield from _extend(rule, facts, kinds, place + 1, now, lacks + absent, failed, most_wrong, most_lacks)
        elif len(wrong) <= most_wrong and not absent and failed is None:
            met = (block.name, wrong[0], fact)
            yield from _extend(rule, facts, kinds, place + 1, now, lacks, met, most_wrong, most_lacks)
    if not meant and kinds[block.kind].absent_means == "unknown":
        lacks = (*lacks, Lack(block.name))
        yield from _extend(rule, facts, kinds, place + 1, bound, lacks, failed, most_wrong, most_lacks)


def _absent(block: Block, fact: Fact) -> tuple[Lack, ...]:
    fields = dict.fromkeys(test.field for test in block.tests if fact.get(test.field) is None)
    return tuple(Lack(block.name, field) for field in fields)


class _Same:
    """Facts of one kind by what they are about."""

    def __init__(self, facts: list[Fact], about: tuple[str, ...]) -> None:
        self._facts, self._about = facts, about

    @cached_property
    def _by_about(self) -> dict[tuple[Value | None, ...], list[Fact]]:
        found: dict[tuple[Value | None, ...], list[Fact]] = {}
        for fact in self._facts:
            found.setdefault(self._key(fact), []).append(fact)
        return found

    def _key(self, fact: Fact) -> tuple[Value | None, ...]:
        return tuple(fact.get(name) for name in self._about)

    def told_elsewhere(self, absent: tuple[Lack, ...], fact: Fact) -> bool:
        """Return whether another fact about the same thing has what this one leaves open, so that it is not missing."""
        return any(
            other is not fact and all(other.get(lack.field) is not None for lack in absent)
            for other in self._by_about[self._key(fact)]
        )


def _blocked(rule: Rule, facts: FactBase, bound: Mapping[str, Fact]) -> list[tuple[str, Fact]]:
    found = []
    for block in rule.unless:
        hit = next((fact for fact in joined(block, bound, facts) if matches(block, fact, bound)), None)
        if hit is not None:
            found.append((block.name, hit))
    return found
