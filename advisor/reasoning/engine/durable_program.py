"""Our rules in the form the compiled core takes: what it is told once, and how each fact is sent.

What the core can be trusted with decides the form; points are those of ``tests/reasoning/test_engine_points.py``.
A block becomes one conjunction: its kind, constant tests, joins, and last an always-true join (point 1). Values that
are compared for equality are sent as tokens, so that 5 is 5.0 and True is not 1 (point 5); numbers to be compared
stand in a field of their own, without exponent (point 6). Membership in a list is decided as a fact is sent, since
alternatives would fire twice (point 8).
"""

from __future__ import annotations

import json
import math
import re
import sys
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from functools import cache, cached_property
from typing import Any

from advisor.errors import BadRules
from advisor.facts import Fact, as_float, typed
from advisor.reasoning.engine.strata import strata
from advisor.reasoning.rulebase import Block, Rule, RuleBase, Test

MOST_TESTS = 60
"""Tests of one kind in one ruleset; the core's stack holds 64 that one fact passes (point 9)."""
MOST_BLOCKS = 240
"""Blocks in one ruleset; the core lists 255 behind one test and writes past the list's end (point 9)."""
MOST_WHEN = 14
"""``when`` blocks of one rule; the core holds 16 facts a firing, one of them the layer's token."""
MOST_FIELDS = 240
"""Fields of one kind as sent; the core refuses a fact of 255 (point 10)."""
BEYOND_FLOATS = sys.float_info.max_10_exp + 1
"""The power of ten that the core reads as infinite."""
MOST_FIRINGS_A_CALL = 200
COMPARISONS = {"at_least": "$gte", "at_most": "$lte", "above": "$gt", "below": "$lt"}
ALWAYS = {"$gte": {"_": {"p0": "_"}}}
"""A join that always holds: every fact carries _ = 1 (point 1)."""
START, LAYER = "/start", "/go"
"""Signals of ours, the second with the layer's number; no file bears such a name, so no kind does."""
PLAIN = re.compile(r"[A-Za-z]\w*", re.ASCII)
NUMBER = re.compile(r'"<(-?[\d.]+)>"')

Pattern = dict[str, Any]
Typed = tuple[str, object]
Tokens = dict[Typed, str]


def plain_number(value: float) -> str | None:
    """Return a number as text without exponent; None for not-a-number, which passes no comparison.

    >>> plain_number(1e-07), plain_number(5), plain_number(-0.0)
    ('0.0000001', '5.0', '0.0')
    """
    number = as_float(value) + 0.0
    text = repr(number)
    if text[-1].isdigit() and "e" not in text:
        return text
    if math.isnan(number):
        return None
    if math.isinf(number):
        return f"{'-' * (number < 0)}1{'0' * BEYOND_FLOATS}.0"
    text = format(Decimal(text), "f")
    return text if "." in text else f"{text}.0"


@cache
def plain_name(name: str) -> str:
    """Return the name of a field, kind or signal as the core is told it: a word as it is, any other spelt out in hex.

    So no name is taken for a number, for something else of that name or for a path into a fact (point 10).

    >>> plain_name("soil_reading"), plain_name("/go0"), plain_name("")
    ('soil_reading', '%2f676f30', '%')
    """
    return name if PLAIN.fullmatch(name) else f"%{name.encode().hex()}"


@dataclass
class Sending:
    """What the core is sent of one kind's facts: the fields that some rule looks at, and nothing else (point 10).

    ``equal`` go as tokens; ``offered`` as tokens or the word absent, for an ``unless`` that joins to them;
    ``compared`` as plain numbers; ``lists`` as a flag where the value is one of them. Each with its name as sent.
    """

    equal: dict[str, str] = field(default_factory=dict)
    offered: dict[str, str] = field(default_factory=dict)
    compared: dict[str, str] = field(default_factory=dict)
    lists: dict[tuple[str, frozenset[Typed]], str] = field(default_factory=dict)

    def __len__(self) -> int:
        return len(self.equal) + len(self.offered) + len(self.compared) + len(self.lists)

    def as_equal(self, name: str) -> str:
        return self.equal.setdefault(name, f"{plain_name(name)}=")

    def as_offered(self, name: str) -> str:
        return self.offered.setdefault(name, f"{plain_name(name)}~")

    def as_number(self, name: str) -> str:
        return self.compared.setdefault(name, f"{plain_name(name)}#")

    def as_listed(self, name: str, choices: frozenset[Typed]) -> str:
        return self.lists.setdefault((name, choices), f"{plain_name(name)}?{len(self.lists)}")

    def parts(self, fact: Fact, tokens: Tokens) -> Iterator[str]:
        """Yield the members of the JSON object, giving a token to each value not met before."""
        known = dict(fact.key[1])
        for name, sent in self._equal:
            if name in known:  # a value that is not known is absent (point 7)
                yield f'{sent}"{tokens.setdefault(known[name], f"t{len(tokens)}")}"'
        for name, sent in self._offered:
            there = tokens.setdefault(known[name], f"t{len(tokens)}") if name in known else "absent"
            yield f'{sent}"{there}"'
        for name, sent in self._compared:
            kind, value = known.get(name, ("", None))
            if kind == "number" and isinstance(value, float) and (text := plain_number(value)) is not None:
                yield f"{sent}{text}"
        for (name, choices), flag in self.lists.items():
            if known.get(name) in choices:
                yield f'"{flag}": "in"'

    @cached_property
    def _equal(self) -> list[tuple[str, str]]:
        return _named(self.equal)

    @cached_property
    def _offered(self) -> list[tuple[str, str]]:
        return _named(self.offered)

    @cached_property
    def _compared(self) -> list[tuple[str, str]]:
        return _named(self.compared)


def _named(sent: Mapping[str, str]) -> list[tuple[str, str]]:
    """Return each field with the start of its member, once no more fields come."""
    return [(name, f'"{as_sent}": ') for name, as_sent in sent.items()]


@dataclass
class Ruleset:
    """Rules that fit into one ruleset of the core, and how full it is."""

    rules: dict[str, Pattern] = field(default_factory=dict)
    tests: dict[str, set[tuple[str, ...]]] = field(default_factory=dict)
    blocks: int = 0

    @property
    def kinds(self) -> frozenset[str]:
        return frozenset(self.tests)

    @property
    def text(self) -> str:
        """The ruleset as JSON, with a rule that fires on a first fact (point 3)."""
        start = {"start": {"all": [{"p0": {"t": plain_name(START)}}]}}
        return NUMBER.sub(r"\1", json.dumps({**start, **self.rules}))

    def takes(self, other: Ruleset) -> bool:
        """Return whether another's rules still fit in."""
        joint = (self.tests.get(kind, set()) | found for kind, found in other.tests.items())
        return self.blocks + other.blocks <= MOST_BLOCKS and all(len(tests) <= MOST_TESTS for tests in joint)

    def count(self, kind: str, tests: Iterable[str]) -> None:
        """Count a block and its tests as the core does: each by the path that leads to it."""
        known = self.tests.setdefault(kind, set())
        path: tuple[str, ...] = ()
        for test in tests:
            path = (*path, test)
            known.add(path)
        self.blocks += 1

    def add(self, other: Ruleset) -> None:
        self.rules |= other.rules
        self.blocks += other.blocks
        for kind, found in other.tests.items():
            self.tests.setdefault(kind, set()).update(found)


@dataclass
class Program:
    """A rule base made ready for the core."""

    layers: list[list[Rule]]
    rules: list[Rule] = field(default_factory=list)
    sets: list[Ruleset] = field(default_factory=list)
    sending: dict[str, Sending] = field(default_factory=dict)
    tokens: Tokens = field(default_factory=dict)

    @classmethod
    def of(cls, base: RuleBase) -> Program:
        """Make the program of a rule base. Raise BadRules where the rules deny their own consequences."""
        program = cls(strata(base.rules.values()))
        for layer, rules in enumerate(program.layers):
            for rule in rules:
                alone = program._alone(rule, layer)
                if not Ruleset().takes(alone):
                    raise BadRules(f"compiling rule {rule.id}", f"more than {MOST_TESTS} tests", "Split the rule")
                if not program.sets or not program.sets[-1].takes(alone):
                    program.sets.append(Ruleset())
                program.sets[-1].add(alone)
        for kind, sending in program.sending.items():
            if len(sending) > MOST_FIELDS:
                found = f"{len(sending)} fields and lists of {kind} are asked for"
                raise BadRules("compiling the rules", found, f"Keep to {MOST_FIELDS}: let rules share their lists")
        return program

    def wire(self, number: int, sid: str, fact: Fact, tokens: Tokens) -> str:
        """Return a fact as the core is sent it. ``tokens`` grows with the values of this run."""
        sending = self.sending.get(fact.kind)
        more = sending.parts(fact, tokens) if sending is not None else ()
        return _message(number, sid, fact.kind, more)

    @staticmethod
    def sign(number: int, sid: str, name: str) -> str:
        """Return a signal of ours to the core: the start, or that a layer's facts are complete."""
        return _message(number, sid, name, ())

    # ---- rules

    def _alone(self, rule: Rule, layer: int) -> Ruleset:
        """Return a rule in a ruleset of its own, an empty one where it can never fire."""
        if len(rule.when) > MOST_WHEN:
            raise BadRules(f"compiling rule {rule.id}", f"{len(rule.when)} when blocks", f"Use at most {MOST_WHEN}")
        alone = Ruleset()
        patterns: list[Pattern] = []
        places: dict[str, int] = {}
        for place, block in enumerate(rule.when):
            pattern = self._block(rule, block, places, alone, denied=False)
            if pattern is None:
                return Ruleset()
            patterns.append({f"p{place}": pattern})
            places[block.name] = place
        if rule.unless or not rule.when:  # looked at only once the layer's token is there (point 2)
            alone.count(f"{LAYER}{layer}", ())
            patterns.append({"go": {"t": plain_name(f"{LAYER}{layer}")}})
        for place, block in enumerate(rule.unless):
            pattern = self._block(rule, block, places, alone, denied=True)
            if pattern is not None:
                patterns.append({f"u{place}$not": pattern})
        alone.rules[f"r{len(self.rules)}"] = {"all": patterns, "cap": MOST_FIRINGS_A_CALL}
        self.rules.append(rule)
        return alone

    def _block(
        self, rule: Rule, block: Block, places: Mapping[str, int], alone: Ruleset, *, denied: bool
    ) -> Pattern | None:
        """Return a block as the core takes it, or None where it joins to no earlier ``when`` block: nothing matches."""
        if any(test.operand[0] not in places for test in block.joins()):
            return None
        tests = [self._constant(rule, block, test) for test in block.tests if test.operator != "same_as"]
        if not denied:  # a field that later blocks join to must be there (point 7)
            joining = [test for other in rule.when for test in other.joins() if test.operand[0] == block.name]
            for name in dict.fromkeys(test.operand[1] for test in joining):
                tests.append({"$ex": {self._sends(block.kind).as_equal(name): 1}})
        joins = [self._join(rule, block, test, places, denied) for test in block.joins()]
        if joins:
            joins.append(ALWAYS)
        apart = f"{rule.id}, block {alone.blocks}: "  # the core shares tests between rules, but no joins
        alone.count(block.kind, (*map(json.dumps, tests), *(apart + json.dumps(join) for join in joins)))
        every = [{"t": plain_name(block.kind)}, *tests, *joins]
        return {"$and": every} if len(every) > 1 else every[0]

    def _join(self, rule: Rule, block: Block, test: Test, places: Mapping[str, int], denied: bool) -> Pattern:
        other, name = test.operand
        place = places[other]
        there = self._sends(rule.when[place].kind)  # an absent field blocks nothing, yet must be read (point 7)
        return {
            self._sends(block.kind).as_equal(test.field): {
                f"p{place}": there.as_offered(name) if denied else there.as_equal(name)
            }
        }

    def _constant(self, rule: Rule, block: Block, test: Test) -> Pattern:
        sends = self._sends(block.kind)
        if test.operator in COMPARISONS:
            wanted = test.operand
            text = plain_number(wanted) if isinstance(wanted, int | float) and not isinstance(wanted, bool) else None
            if text is None:
                found = f"{block.name}, {test.field}: {test.operator} {wanted!r}"
                raise BadRules(f"compiling rule {rule.id}", found, "Give a number")
            return {COMPARISONS[test.operator]: {sends.as_number(test.field): f"<{text}>"}}
        if test.operator == "one_of":
            return {sends.as_listed(test.field, frozenset(typed(choice) for choice in test.operand)): "in"}
        equal = {sends.as_equal(test.field): self.tokens.setdefault(typed(test.operand), f"c{len(self.tokens)}")}
        return {"$neq": equal} if test.operator == "not" else equal

    def _sends(self, kind: str) -> Sending:
        return self.sending.setdefault(kind, Sending())


def _message(number: int, sid: str, kind: str, more: Iterable[str]) -> str:
    head = f'{{"id": "{number}", "sid": "{sid}", "_": 1.0, "t": "{plain_name(kind)}"'
    return f"{', '.join((head, *more))}}}"
