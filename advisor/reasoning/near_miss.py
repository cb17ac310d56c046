"""How near a rule came: what it lacks to fire, and which single test stood in its way."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

from advisor.fact_base import FactBase
from advisor.facts import Fact, typed
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
    return list(Search(rule, facts, kinds, most_wrong, most_lacks).from_block(0, Way()))


@dataclass(frozen=True, slots=True)
class Way:
    """A way through some of a rule's blocks: the facts so far, what is missing, and the one fact that does not pass."""

    bound: Mapping[str, Fact] = field(default_factory=dict)
    lacks: tuple[Lack, ...] = ()
    failed: tuple[str, Test | None, Fact] | None = None


@dataclass
class Meant:
    """The facts that a block may mean on a way, and the tests that ask something of them."""

    block: Block
    facts: Sequence[Fact]
    asked: Sequence[Test]
    same: _Same


@dataclass
class Search:
    """The search for near misses of one rule."""

    rule: Rule
    facts: FactBase
    kinds: Vocabulary
    most_wrong: int
    most_lacks: int

    def from_block(self, place: int, way: Way) -> Iterator[NearMiss]:
        """Yield what a way comes to from a block on."""
        if (way.lacks and way.failed) or len(way.lacks) > self.most_lacks:
            return
        if place == len(self.rule.when):
            yield from self._at_the_end(way)
            return
        meant = self.meant(place, way)
        for fact in meant.facts:
            yield from self.by_fact(place, way, meant, fact)
        if not meant.facts and self.kinds[meant.block.kind].absent_means == "unknown":
            yield from self.from_block(place + 1, replace(way, lacks=(*way.lacks, Lack(meant.block.name))))

    def meant(self, place: int, way: Way) -> Meant:
        block, bound = self.rule.when[place], way.bound
        about = [test for test in block.tests if names_which(test, block, self.kinds)]
        facts = joined(block, bound, self.facts, or_open=True)
        if about:
            facts = [f for f in facts if all(holds(t, f.get(t.field), bound) is not False for t in about)]
        asked = [test for test in block.tests if test not in about]
        return Meant(block, facts, asked, _Same(facts, self.kinds[block.kind].about))

    def by_fact(self, place: int, way: Way, meant: Meant, fact: Fact) -> Iterator[NearMiss]:
        """Yield what a way comes to where a block means this fact."""
        block, bound = meant.block, way.bound
        wrong = [test for test in meant.asked if holds(test, fact.get(test.field), bound) is False]
        if len(wrong) > self.most_wrong or fact in bound.values():  # no fact matches two blocks
            return
        open_fields = absent(block, fact)
        if open_fields and meant.same.told_elsewhere(open_fields, fact):
            return
        now = {**bound, block.name: fact}
        if not wrong:
            yield from self.from_block(place + 1, Way(now, way.lacks + open_fields, way.failed))
        elif not open_fields and way.failed is None:
            yield from self.from_block(place + 1, Way(now, way.lacks, (block.name, wrong[0], fact)))

    def _at_the_end(self, way: Way) -> Iterator[NearMiss]:
        blocked = self._blocked(way.bound)
        if way.lacks and way.bound and not blocked:
            yield NearMiss(self.rule.id, way.bound, way.lacks)
        elif way.failed and not blocked:
            yield NearMiss(self.rule.id, way.bound, failed=way.failed)
        elif len(blocked) == 1 and not way.lacks and not way.failed:
            yield NearMiss(self.rule.id, way.bound, failed=(blocked[0][0], None, blocked[0][1]))

    def _blocked(self, bound: Mapping[str, Fact]) -> list[tuple[str, Fact]]:
        found = []
        for block in self.rule.unless:
            hit = next((fact for fact in joined(block, bound, self.facts) if matches(block, fact, bound)), None)
            if hit is not None:
                found.append((block.name, hit))
        return found


def absent(block: Block, fact: Fact) -> tuple[Lack, ...]:
    """Return the fields that a block tests and a fact leaves open."""
    fields = dict.fromkeys(test.field for test in block.tests if fact.get(test.field) is None)
    return tuple(Lack(block.name, field) for field in fields)


class _Same:
    """Facts of one kind by what they are about."""

    def __init__(self, facts: list[Fact], about: tuple[str, ...]) -> None:
        self._facts, self._about = facts, about

    @cached_property
    def _by_about(self) -> dict[tuple[object, ...], list[Fact]]:
        found: dict[tuple[object, ...], list[Fact]] = {}
        for fact in self._facts:
            found.setdefault(self._key(fact), []).append(fact)
        return found

    def _key(self, fact: Fact) -> tuple[object, ...]:
        return tuple(None if (value := fact.get(name)) is None else typed(value) for name in self._about)

    def told_elsewhere(self, absent: tuple[Lack, ...], fact: Fact) -> bool:
        """Return whether another fact about the same thing has what this one leaves open, so that it is not missing."""
        return any(
            other is not fact and all(other.get(lack.field) is not None for lack in absent)
            for other in self._by_about[self._key(fact)]
        )
