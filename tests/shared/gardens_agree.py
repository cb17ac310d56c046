"""All engines over random gardens: every question of the real rule base, and which rules ever fired."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

from engine_agreement import Maker, compare, engines
from engine_programs import Program
from random_gardens import random_garden

from advisor.config import Settings, find_rules
from advisor.conversation import Adviser
from advisor.facts import Fact
from advisor.reasoning.engine import Engine, ReferenceEngine
from advisor.reasoning.rulebase import Block, Rule, RuleBase, Test


@dataclass
class Grown:
    """What came of some gardens. ``differ`` has the garden and the question, and how engines differ over its facts."""

    gardens: int = 0
    facts: int = 0
    firings: int = 0
    fired: set[str] = field(default_factory=set)
    differ: dict[tuple[int, str], str] = field(default_factory=dict)

    def add(self, other: Grown) -> None:
        self.gardens += other.gardens
        self.facts += other.facts
        self.firings += other.firings
        self.fired |= other.fired
        self.differ |= other.differ


@cache
def the_adviser() -> Adviser:
    return Adviser.load(Settings(Path("unset.db"), find_rules()))


@cache
def made_for(question: str) -> tuple[RuleBase, dict[str, Maker]]:
    """Return a question's rules, and engines of them that are made once."""
    base = the_adviser().engine_of(question)[1].base
    return base, {name: _kept(make(base)) for name, make in engines(spread=False).items()}


def _kept(engine: Engine) -> Maker:
    return lambda base: engine


def grown(first: int, last: int) -> Grown:
    """Ask every question of the gardens of these seeds, of every engine."""
    found = Grown()
    for seed in range(first, last):
        with tempfile.TemporaryDirectory() as folder:
            asked = random_garden(the_adviser(), seed, Path(folder))
        found.gardens += 1
        for question, facts in asked.items():
            base, makers = made_for(question)
            found.facts += len(facts)
            firings = ReferenceEngine(base).run(facts).firings
            found.firings += len(firings)
            found.fired |= {firing.rule for firing in firings}
            if apart := compare(base, facts, makers, seed):
                found.differ[seed, question] = "; ".join(f"{sort}: {text[:200]}" for sort, text in apart.items())
    return found


def as_program(base: RuleBase, facts: list[Fact]) -> Program:
    """Return a question's rules and a garden's facts as a program, to be cut down where engines differ over it."""
    kinds = {
        name: {"about": list(kind.about), "fields": list(kind.fields), "absent_means": kind.absent_means}
        for name, kind in base.kinds.items()
    }
    rules = tuple(_raw(rule) for rule in base.rules.values())
    return Program(kinds, rules, tuple({"kind": fact.kind, "values": dict(fact.values)} for fact in facts))


def _raw(rule: Rule) -> dict[str, object]:
    then = {"conclude": rule.conclude, "tell": "t", **rule.gives}
    return {"id": rule.id, "when": _blocks(rule.when), "unless": _blocks(rule.unless), "then": then}


def _blocks(blocks: tuple[Block, ...]) -> dict[str, object]:
    return {one.name: {"kind": one.kind, **{test.field: _test(test) for test in one.tests}} for one in blocks}


def _test(test: Test) -> object:
    match test.operator:
        case "equals":
            return test.operand
        case "same_as":
            return {"same_as": ".".join(test.operand)}
        case "one_of":
            return {"one_of": list(test.operand)}
    return {test.operator: test.operand}
