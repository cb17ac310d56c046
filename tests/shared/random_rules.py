"""Random programs for the engines, each made from a seed: ``random_program(7)`` is the same on every machine.

Rules are made from facts: a block is written so that some fact already there passes it, mostly, and what the rule
would then conclude is there for the rules after it. So most rules fire, and chains grow; the rest is left to chance.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from random import Random
from typing import Any

from engine_programs import Program, Raw, given
from random_shapes import SHAPES, SHARES, is_word
from random_words import (
    IDS,
    NUMBERS,
    ODD_BLOCKS,
    ODD_FIELDS,
    ODD_KINDS,
    PLAIN_FIELDS,
    PLAIN_KINDS,
    USUAL,
    is_threshold,
    like,
    odd_value,
    some_names,
)

from advisor.facts import Fact, typed
from advisor.reasoning.engine.conclude import COMPARES, fill

GRADES = {"grade": ("likely", "possible", "weak", "ruled out"), "size": ("strong", "fair", "slight")}
Bound = dict[str, Fact]


def random_program(seed: int) -> Program:
    return Making(Random(seed)).program()


@dataclass
class Making:
    """A program as far as it is made, and the facts known of each kind: given, or such as a rule would conclude."""

    chance: Random
    facts: list[Raw] = field(default_factory=list)
    rules: list[Raw] = field(default_factory=list)
    pool: dict[str, list[Fact]] = field(default_factory=dict)

    def program(self) -> Program:
        chance = self.chance
        self.shape = chance.choice(SHARES)
        odd = chance.choice([0, 0, 0.2, 0.6])
        self.fields = some_names(chance, PLAIN_FIELDS, ODD_FIELDS, chance.choice([2, 3, 3, 4, 6]), odd)
        told, concluded = chance.randint(1, 5), chance.randint(1, 6)
        kinds = some_names(chance, PLAIN_KINDS, ODD_KINDS, told + concluded + 1, odd)
        self.told, self.aside = kinds[:told], kinds[-1]
        self.level = {kind: chance.choice([place, place, max(0, place - 1)])
                      for place, kind in enumerate(kinds[told:-1])}  # fmt: skip
        self.odd_values = chance.choice([0.05, 0.1, 0.4])
        self.usual = [*chance.sample(USUAL, k=chance.randint(2, 5)), odd_value(chance)][: chance.choice([3, 5, 6])]
        vocabulary = {
            kind: {
                "about": chance.sample(self.fields, k=chance.choice([0, 1, 1, 2])),
                "fields": [*dict.fromkeys([*self.fields, *GRADES])],
                "absent_means": chance.choice(["unknown", "no"]),
            }
            for kind in kinds
        }
        self._tell()
        self._write_rules()
        chance.shuffle(self.rules)
        chance.shuffle(self.facts)
        return Program(vocabulary, tuple(self.rules), tuple(self.facts))

    # ---- facts

    def _tell(self) -> None:
        chance = self.chance
        most = chance.choice([2, 4, 6])
        for kind in self.told:
            for _ in range(chance.randint(0 if len(self.told) > 1 else 1, most)):
                self._add(kind, self._values(0.85))
        for kind in self.level:
            for _ in range(chance.choice([0, 0, 0, 1, 2])):
                self._add(kind, self._values(0.6))
        if chance.random() < 0.3:
            for raw in chance.choices(self.facts, k=2) if self.facts else ():
                self._add(raw["kind"], {name: self._again(value) for name, value in raw["values"].items()})
        if chance.random() < 0.3:
            self._add(self.aside, self._values(0.5))

    def _values(self, share: float) -> dict[str, Any]:
        return {name: self._value() for name in self.fields if self.chance.random() < share}

    def _value(self) -> Any:
        return odd_value(self.chance) if self.chance.random() < self.odd_values else self.chance.choice(self.usual)

    def _again(self, value: Any) -> Any:
        """Return the same value once more, at times written otherwise."""
        other = like(self.chance, value)
        return other if self.chance.random() < 0.5 and _same(other, value) else value

    def _add(self, kind: str, values: dict[str, Any]) -> None:
        self.facts.append({"kind": kind, "values": values})
        self.pool.setdefault(kind, []).append(given(kind, values))

    # ---- rules

    def _write_rules(self) -> None:
        chance = self.chance
        if self.shape == "silent":
            kept = [raw for raw in self.facts if raw["kind"] == self.aside]
            self.facts = kept if chance.random() < 0.5 else []
        for kind in sorted(self.level, key=lambda one: self.level[one]):
            for _ in range(chance.choice([0, 1, 1, 2, 3])):
                self._rule(kind)
        if not self.rules:
            self._rule(chance.choice(list(self.level)))
        if self.shape in SHAPES:
            SHAPES[self.shape](self)

    def keep(self, when: Raw, unless: Raw, then: Raw) -> None:
        name = f"{self.chance.choice(IDS)}{len(self.rules)}"
        self.rules.append({"id": name, "when": when, "unless": unless, "then": then})

    def _rule(self, kind: str) -> None:
        chance = self.chance
        may = [*self.told, *(one for one in self.level if self.level[one] <= self.level[kind])]
        size = chance.choice([1, 1, 1, 2, 2, 2, 2, 3, 3, 4, 5])
        names = some_names(chance, [f"w{place}" for place in range(6)], ODD_BLOCKS, size, chance.choice([0, 0, 0.3]))
        when: Raw = {}
        bound: Bound = {}
        for place, name in enumerate(names):
            allowed = may if place < 2 else self.told
            again = bound and chance.random() < 0.35
            of = chance.choice([fact.kind for fact in bound.values()]) if again else self.lively(allowed)
            when[name] = self.block(of if of in allowed else self.lively(allowed), bound, name, join=size > 2)
        unless = self._unless(kind, bound, names) if chance.random() < 0.45 else {}
        then = self._then(kind, when, feeds_itself=any(self.level.get(raw["kind"], -1) == self.level[kind]
                                                       for raw in when.values()))  # fmt: skip
        self.keep(when, unless, then)
        self._conclude(then, bound, len(names))

    def lively(self, kinds: list[str]) -> str:
        """Return one of these kinds, mostly one of which there are facts."""
        known = [kind for kind in kinds if self.pool.get(kind)]
        return self.chance.choice(known if known and self.chance.random() < 0.95 else kinds)

    def block(self, kind: str, bound: Bound, name: str = "", *, join: bool = False) -> Raw:
        """Return a block that one of the facts known passes, mostly; where it is named that fact is bound to it."""
        chance = self.chance
        free = [fact for fact in self.pool.get(kind, ()) if fact not in bound.values()]
        kin = [fact for fact in free if any(self._joins(value, bound) for value in fact.values.values())]
        witness = chance.choice(kin if join and kin else free) if free else None
        known = list(witness.values) if witness else []
        asked = [one for one in known if one in self.fields and chance.random() < (0.5 if bound else 0.35)]
        asked += [one for one in self.fields if one not in asked and chance.random() < 0.04]
        raw: Raw = {"kind": kind}
        for one in asked:
            joins = self._joins(witness.get(one) if witness else None, bound)
            joined = joins and chance.random() < 0.65
            raw[one] = (
                {"same_as": chance.choice(joins)} if joined else self._test(witness.get(one) if witness else None)
            )
        if join and bound and not any("same_as" in test for test in raw.values() if isinstance(test, dict)):
            fit = [one for one in known if self._joins(witness.get(one), bound)] if witness else []
            if fit:
                one = chance.choice(fit)
                raw[one] = {"same_as": chance.choice(self._joins(witness.get(one), bound))}
            else:
                self._join_anyhow(raw, bound)
        if witness and name:
            bound[name] = witness
        return raw

    def _joins(self, value: Any, bound: Bound) -> list[str]:
        """Return the fields of bound facts that have this value, as a join names them."""
        return [
            f"{block}.{field}"
            for block, fact in bound.items()
            if "." not in block
            for field, other in fact.values.items()
            if "." not in field and value is not None and _same(other, value)
        ]

    def _join_anyhow(self, raw: Raw, bound: Bound) -> None:
        """Join a block of a large rule to an earlier one, so that what it fires stays within bounds."""
        fit = [one for one in bound if "." not in one]
        fields = [one for one in self.fields if "." not in one]
        if fit and fields:
            raw[self.chance.choice(self.fields)] = {
                "same_as": f"{self.chance.choice(fit)}.{self.chance.choice(fields)}"
            }

    def _test(self, value: Any) -> Any:
        """Return a test that this value passes, mostly, or any where it is None."""
        chance = self.chance
        if value is None or chance.random() < 0.1:
            value = self._value()
        number = isinstance(value, int | float) and not isinstance(value, bool)
        if number and chance.random() < 0.6:
            near = [value - 1, value + 1] if abs(value) < 2**53 else []
            near += [one for one in (value, *(like(chance, value) for _ in "ab")) if is_threshold(one)]
            name = chance.choice(list(COMPARES))
            fit = [one for one in (*near, *NUMBERS) if COMPARES[name](value, one)]
            return {name: chance.choice(fit if fit and chance.random() < 0.8 else [*near, *NUMBERS])}
        if number or chance.random() < 0.05:
            return chance.choice([value, {chance.choice(list(COMPARES)): chance.choice(NUMBERS)}])
        match chance.choice(["equals", "equals", "not", "one_of"]):
            case "not":
                return {"not": like(chance, value) if chance.random() < 0.7 else self._value()}
            case "one_of":
                choices = [self._again(value), *(self._value() for _ in range(chance.randint(0, 3)))]
                return {"one_of": chance.sample(choices, k=len(choices))}
        return self._again(value) if chance.random() < 0.9 else like(chance, value)

    def _unless(self, kind: str, bound: Bound, names: list[str]) -> Raw:
        chance = self.chance
        below = [one for one in self.level if self.level[one] < self.level[kind]]
        unless: Raw = {}
        for place in range(chance.choice([1, 1, 2])):
            name = chance.choice([*names, *ODD_BLOCKS]) if chance.random() < 0.15 else f"u{place}"
            of = self.lively(below * 2 + self.told)
            raw = self.block(of, bound, join=chance.random() < 0.7)
            if chance.random() < 0.5:  # asks for something that most facts of the kind do not say
                raw[chance.choice(self.fields)] = self._test(None)
            unless[name] = raw
        return unless

    def _then(self, kind: str, when: Raw, *, feeds_itself: bool) -> Raw:
        chance = self.chance
        then: Raw = {"conclude": kind, "tell": "t"}
        sayable = [name for name in when if is_word(name)]
        words = [name for name in self.fields if is_word(name)]
        for name in chance.sample(self.fields, k=min(len(self.fields), chance.choice([1, 1, 2, 2, 3]))):
            refer = (
                [f"{{{chance.choice(sayable)}.{chance.choice(words)}}}" for _ in (1, 2)] if sayable and words else []
            )
            if refer and chance.random() < 0.7:
                then[name] = refer[0]
            elif refer and not feeds_itself and chance.random() < 0.5:
                then[name] = chance.choice(["{0}+", "of {0} and {1}", "{0}{1}", "({0})\n", '"{0}" {{x}}']).format(
                    *refer
                )
            else:
                value = self._value()
                then[name] = value if "{" not in str(value) else "x"  # else it would be a template
        if chance.random() < 0.4:
            name = chance.choice(list(GRADES))
            copied = [f"{{{block}.{name}}}" for block in sayable]
            then[name] = chance.choice(copied if copied and chance.random() < 0.3 else GRADES[name])
        return then

    def _conclude(self, then: Raw, bound: Bound, size: int) -> None:
        if len(bound) == size:
            values = {name: fill(value, bound) for name, value in then.items() if name not in ("conclude", "tell")}
            known = {name: value for name, value in values.items() if value is not None}
            self.pool.setdefault(then["conclude"], []).append(given(then["conclude"], known))


def _same(one: Any, other: Any) -> bool:
    return typed(one) == typed(other)
