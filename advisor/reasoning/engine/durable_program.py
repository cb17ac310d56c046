"""Our rules in the form the compiled core takes: what it is told once, and how each fact is sent.

What the core can be trusted with decides the form; the numbers are those of ``tests/reasoning/test_engine_points.py``.
A block becomes one conjunction: its kind, constant tests, joins, and last an always-true join (point 1). Values that
are compared for equality are sent as tokens, so that 5 is 5.0 and True is not 1 (point 5); numbers to be compared
stand in a field of their own, without exponent (point 6). Membership in a list is decided as a fact is sent, since
alternatives would fire twice (point 8).
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from advisor.errors import BadRules
from advisor.facts import Fact, Value, typed
from advisor.reasoning.engine.strata import strata
from advisor.reasoning.rulebase import Block, Rule, RuleBase, Test

MOST_TESTS = 40
"""Tests that one fact may meet in one ruleset; the core's stack holds 64 (point 9)."""
MOST_FIRINGS_A_CALL = 200
LARGEST = 1e15
COMPARISONS = {"at_least": "$gte", "at_most": "$lte", "above": "$gt", "below": "$lt"}
ALWAYS = {"$gte": {"_": {"p0": "_"}}}
"""A join that always holds: every fact carries _ = 1 (point 1)."""

Membership = tuple[str, str, tuple[tuple[str, object], ...]]


def plain_number(value: float) -> str | None:
    """Return a number as text without exponent, held within what the core reads; None for not-a-number."""
    if math.isnan(value):
        return None
    text = format(Decimal(repr(max(-LARGEST, min(LARGEST, float(value))) + 0.0)), "f")
    return text if "." in text else f"{text}.0"


@dataclass
class Program:
    """A rule base made ready for the core: rulesets of JSON, the kinds each one wants, and how to send a fact."""

    layers: list[list[Rule]]
    rules: list[Rule] = field(default_factory=list)
    sets: list[tuple[str, frozenset[str]]] = field(default_factory=list)
    joined: dict[str, set[str]] = field(default_factory=dict)
    offered: dict[str, set[str]] = field(default_factory=dict)
    compared: dict[str, set[str]] = field(default_factory=dict)
    members: dict[Membership, str] = field(default_factory=dict)
    tokens: dict[tuple[str, object], str] = field(default_factory=dict)

    @classmethod
    def of(cls, base: RuleBase) -> Program:
        """Make the program of a rule base.

        Raises BadRules where rules deny their own consequences, or a threshold is too fine or too large to compare.
        """
        program = cls(strata(base.rules.values()))
        chunk: dict[str, Any] = {}
        load: dict[str, set[str]] = {}
        for layer, rules in enumerate(program.layers):
            for rule in rules:
                patterns, tests = program._rule(rule, layer)
                joint = {kind: load.get(kind, set()) | found for kind, found in tests.items()}
                if chunk and any(len(found) > MOST_TESTS for found in joint.values()):
                    program._close(chunk, load)
                    chunk, load, joint = {}, {}, tests
                load |= joint
                chunk[f"r{len(program.rules)}"] = {"all": patterns, "cap": MOST_FIRINGS_A_CALL}
                program.rules.append(rule)
        program._close(chunk, load)
        return program

    def _close(self, chunk: dict[str, Any], load: Mapping[str, set[str]]) -> None:
        if chunk:
            start = {"start": {"all": [{"p0": {"t": "$start"}}]}}  # fires on a first fact (point 3)
            self.sets.append((json.dumps({**start, **chunk}), frozenset(load)))

    # ---- rules

    def _rule(self, rule: Rule, layer: int) -> tuple[list[dict[str, Any]], dict[str, set[str]]]:
        places = {block.name: place for place, block in enumerate(rule.when)}
        wanted: dict[str, set[str]] = {block.name: set() for block in rule.when}
        for block in rule.when:
            for test in block.joins():
                if test.operand[0] in wanted:
                    wanted[test.operand[0]].add(test.operand[1])
        tests: dict[str, set[str]] = {}
        patterns: list[dict[str, Any]] = []
        for place, block in enumerate(rule.when):
            earlier = {name: at for name, at in places.items() if at < place}
            patterns.append({f"p{place}": self._block(rule, block, earlier, wanted[block.name], tests)})
        if rule.unless:  # looked at only once the layer's token is there (point 2)
            patterns.append({"go": {"t": f"$go{layer}"}})
            tests.setdefault(f"$go{layer}", set())
            for place, block in enumerate(rule.unless):
                patterns.append({f"u{place}$not": self._block(rule, block, places, set(), tests)})
        return patterns, tests

    def _block(
        self, rule: Rule, block: Block, earlier: Mapping[str, int], wanted: Iterable[str], tests: dict[str, set[str]]
    ) -> dict[str, Any]:
        parts: list[dict[str, Any]] = [{"t": block.kind}]
        joins: list[dict[str, Any]] = []
        for test in block.tests:
            if test.operator == "same_as":
                joins.append(self._join(block, test, earlier, rule))
            else:
                parts.append(self._constant(block, test, rule))
        for name in sorted(wanted):  # a field that others join to must be there (point 7)
            self.joined.setdefault(block.kind, set()).add(name)
            parts.append({"$ex": {f"{name}=": 1}})
        known = tests.setdefault(block.kind, set())
        known.update(json.dumps(part) for part in parts[1:])
        if joins:  # joins are not shared between rules, so each counts (point 9)
            known.update(f"{rule.id} {block.name} {json.dumps(join)}" for join in joins)
            joins.append(ALWAYS)
        every = parts + joins
        return {"$and": every} if len(every) > 1 else parts[0]

    def _join(self, block: Block, test: Test, earlier: Mapping[str, int], rule: Rule) -> dict[str, Any]:
        other, name = test.operand
        denied = block in rule.unless
        if other not in earlier:
            raise BadRules(
                f"compiling rule {rule.id}", f"{block.name} joins to {other!r}", "Join to an earlier when block"
            )
        self.joined.setdefault(block.kind, set()).add(test.field)
        if denied:  # a field that is absent blocks nothing, and must still be there to be read (point 7)
            self.offered.setdefault(rule.block(other).kind, set()).add(name)
        return {f"{test.field}=": {f"p{earlier[other]}": f"{name}{'~' if denied else '='}"}}

    def _constant(self, block: Block, test: Test, rule: Rule) -> dict[str, Any]:
        if test.operator in COMPARISONS:
            threshold = float(test.operand)
            if abs(threshold) >= LARGEST or 0 < abs(threshold) < 1e-4:
                found = f"{block.name}, {test.field}: threshold {threshold}"
                raise BadRules(f"compiling rule {rule.id}", found, "Use a figure between 0.0001 and 1e15")
            self.compared.setdefault(block.kind, set()).add(test.field)
            return {COMPARISONS[test.operator]: {f"{test.field}#": threshold}}
        if test.operator == "one_of":
            choices = tuple(dict.fromkeys(typed(choice) for choice in test.operand))
            name = self.members.setdefault((block.kind, test.field, choices), f"{test.field}?{len(self.members)}")
            return {name: "in"}
        self.joined.setdefault(block.kind, set()).add(test.field)
        token = self.tokens.setdefault(typed(test.operand), f"c{len(self.tokens)}")
        return {"$neq": {f"{test.field}=": token}} if test.operator == "not" else {f"{test.field}=": token}

    # ---- facts

    def wire(self, number: int, sid: str, fact: Fact, tokens: dict[tuple[str, object], str]) -> str:
        """Return a fact as the core is sent it, with the fields that some rule looks at (point 10)."""
        sent: dict[str, Any] = {"id": str(number), "sid": sid, "_": 1.0, "t": fact.kind}
        for name in self.joined.get(fact.kind, ()):
            if name in fact.values:
                key = typed(fact.values[name])
                sent[f"{name}="] = tokens.setdefault(key, f"t{len(tokens)}")
        for name in self.offered.get(fact.kind, ()):
            there = name in fact.values
            sent[f"{name}~"] = tokens.setdefault(typed(fact.values[name]), f"t{len(tokens)}") if there else "absent"
        for kind, name, choices in self.members:
            if kind == fact.kind and name in fact.values and typed(fact.values[name]) in choices:
                sent[self.members[kind, name, choices]] = "in"
        text = json.dumps(sent)[:-1]
        for name in self.compared.get(fact.kind, ()):
            number_text = _comparable(fact.values.get(name))
            if number_text is not None:
                text += f', "{name}#": {number_text}'
        return text + "}"

    @staticmethod
    def sign(number: int, sid: str, name: str) -> str:
        """Return a signal of ours to the core: the start, or that a layer's facts are complete."""
        return json.dumps({"id": str(number), "sid": sid, "_": 1.0, "t": name})


def _comparable(value: Value | None) -> str | None:
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    return plain_number(value)
