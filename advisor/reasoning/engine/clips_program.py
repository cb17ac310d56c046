"""Our rules as CLIPS takes them: a template for each kind, a rule for each of ours, and each fact's slots.

A block becomes one pattern. Values that are compared for equality go as symbols that stand for them, so that 5 is 5.0
and True is not 1; numbers to be compared stand in a slot of their own as floats. What is not known is the symbol nil. A
rule has nothing to do but to be found on the agenda, so it has no right-hand side.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from advisor.errors import BadRules
from advisor.facts import as_float, typed
from advisor.reasoning.engine.strata import strata
from advisor.reasoning.rulebase import Block, Rule, RuleBase, Test

COMPARISONS = {"at_least": ">=", "at_most": "<=", "above": ">", "below": "<"}
BEYOND_FLOATS = "1e999"
"""A number that CLIPS reads as infinite."""
LAYER = "layer"
"""The template that says that a layer's facts are all there."""

Typed = tuple[str, object]


def comparable(value: float) -> float | None:
    """Return a number as a float; None for not-a-number, which passes no comparison."""
    number = as_float(value) + 0.0
    return None if math.isnan(number) else number


@dataclass
class Template:
    """The slots of a kind: only the fields that some rule looks at, by the name in the fact and the name as sent."""

    name: str
    equal: dict[str, str] = field(default_factory=dict)
    compared: dict[str, str] = field(default_factory=dict)

    def as_equal(self, name: str) -> str:
        return self.equal.setdefault(name, f"e{len(self.equal)}")

    def as_number(self, name: str) -> str:
        return self.compared.setdefault(name, f"n{len(self.compared)}")

    @property
    def text(self) -> str:
        slots = "".join(f" (slot {name})" for name in ("", *self.equal.values(), *self.compared.values()) if name)
        return f"(deftemplate {self.name} (slot id){slots})"


@dataclass
class ClipsProgram:
    """A rule base made ready for CLIPS."""

    layers: list[list[Rule]]
    rules: list[Rule] = field(default_factory=list)
    constructs: list[str] = field(default_factory=list)
    templates: dict[str, Template] = field(default_factory=dict)
    symbols: dict[Typed, str] = field(default_factory=dict)

    @classmethod
    def of(cls, base: RuleBase) -> ClipsProgram:
        """Make the program of a rule base. Raise BadRules where the rules deny their own consequences."""
        program = cls(strata(base.rules.values()))
        written = [
            text
            for layer, rules in enumerate(program.layers)
            for rule in rules
            if (text := program._rule(rule, layer)) is not None
        ]
        templates = [template.text for template in program.templates.values()]
        program.constructs = [f"(deftemplate {LAYER} (slot number))", *templates, *written]
        return program

    def symbol(self, value: Typed) -> str:
        """Return the symbol that stands for a value in rules."""
        return self.symbols.setdefault(value, f"c{len(self.symbols)}")

    # ---- rules

    def _rule(self, rule: Rule, layer: int) -> str | None:
        """Return a rule of ours, or None where it can never fire: a block joins to none before it."""
        places: dict[str, int] = {}
        patterns = []
        for place, block in enumerate(rule.when):
            if any(test.operand[0] not in places for test in block.joins()):
                return None
            patterns.append(self._pattern(rule, place, block, places))
            places[block.name] = place
        if rule.unless or not rule.when:
            patterns.append(f"({LAYER} (number {layer}))")
        for at, block in enumerate(rule.unless, start=len(rule.when)):
            if all(test.operand[0] in places for test in block.joins()):
                patterns.append(f"(not ({self._of(block.kind).name}{self._slots(rule, at, block, places, {})}))")
        self.rules.append(rule)
        return f"(defrule r{len(self.rules) - 1} {' '.join(patterns)} =>)"

    def _pattern(self, rule: Rule, place: int, block: Block, places: dict[str, int]) -> str:
        """Return a ``when`` block: it names the fields that later blocks join to, and matches no fact twice."""
        kind = self._of(block.kind)
        later = (*rule.when[place + 1 :], *rule.unless)
        joined_to = [test.operand[1] for other in later for test in other.joins() if test.operand[0] == block.name]
        names = {field: f"?{kind.as_equal(field)}-{place}" for field in joined_to}
        for name in names:
            if _is_known(rule, block, name) and not _is_asked(block, name):
                names[name] += "&~nil"
        twins = [f"~?id-{places[other.name]}" for other in rule.when[:place] if other.kind == block.kind]
        own = "&".join([f"?id-{place}", *twins])
        return f"({kind.name} (id {own}){self._slots(rule, place, block, places, names)})"

    def _slots(self, rule: Rule, at: int, block: Block, places: dict[str, int], names: dict[str, str]) -> str:
        """Return the tests of a block as slots; ``at`` is its place in the rule, for variables of its own."""
        kind = self._of(block.kind)
        wanted: dict[str, list[str]] = {}
        for field_name, variable in names.items():
            wanted.setdefault(kind.as_equal(field_name), []).append(variable)
        for test in block.tests:
            slot, constraint = self._test(rule, at, block, test, places)
            wanted.setdefault(slot, []).append(constraint)
        return "".join(f" ({slot} {'&'.join(constraints)})" for slot, constraints in wanted.items())

    def _test(self, rule: Rule, at: int, block: Block, test: Test, places: dict[str, int]) -> tuple[str, str]:
        kind = self._of(block.kind)
        if test.operator in COMPARISONS:
            number = None
            if isinstance(test.operand, int | float) and not isinstance(test.operand, bool):
                number = comparable(test.operand)
            if number is None:
                found = f"{block.name}, {test.field}: {test.operator} {test.operand!r}"
                raise BadRules(f"compiling rule {rule.id}", found, "Give a number")
            slot = kind.as_number(test.field)
            name = f"?{slot}-{at}"  # the pattern's own: it joins to nothing
            written = f"{'-' * (number < 0)}{BEYOND_FLOATS}" if math.isinf(number) else repr(number)
            return slot, f"{name}&:(numberp {name})&:({COMPARISONS[test.operator]} {name} {written})"
        slot = kind.as_equal(test.field)
        match test.operator:
            case "same_as":
                other, name = test.operand
                earlier = rule.when[places[other]]
                named = f"?{self._of(earlier.kind).as_equal(name)}-{places[other]}"
                return slot, named if _is_known(rule, earlier, name) else f"{named}&~nil"
            case "one_of":
                return slot, "|".join(self.symbol(typed(choice)) for choice in test.operand) or "~?*"
            case "not":
                return slot, f"~{self.symbol(typed(test.operand))}&~nil"
        return slot, self.symbol(typed(test.operand))

    def _of(self, kind: str) -> Template:
        return self.templates.setdefault(kind, Template(f"k{len(self.templates)}"))


def _is_asked(block: Block, name: str) -> bool:
    """Return whether a block itself matches no fact that leaves a field open."""
    return any(test.field == name and test.operator not in COMPARISONS for test in block.tests)


def _is_known(rule: Rule, block: Block, name: str) -> bool:
    """Return whether a field of what a ``when`` block matched is always known: it or a later one asks for it.

    nil is kept out once only, since CLIPS holds it for a contradiction beside a constant.
    """
    joins = (test for other in rule.when for test in other.joins())
    return _is_asked(block, name) or any(test.operand == (block.name, name) for test in joins)
