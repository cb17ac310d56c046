"""Do a rule's own cases hold it where it stands? Change one thing of a rule at a time and see whether a case notices.

Each threshold is moved by a tenth, up and down; each condition is dropped; each ``unless`` block is removed. A change
that no case notices is a survivor: either a case is missing, or the condition does nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from advisor.errors import BadRules
from advisor.reasoning.cases import run_case
from advisor.reasoning.engine.reference import ReferenceEngine
from advisor.reasoning.lint import THRESHOLDS
from advisor.reasoning.rulebase import REFERENCE, Block, Rule, RuleBase, Test
from advisor.records.kinds import Field, read_toml

TENTH = 0.1
STATED = "survivors.toml"
"""Survivors that are let stand, each with its reason, in the rule base's folder."""


@dataclass(frozen=True)
class Mutant:
    """One rule with one thing changed, and what that is in words."""

    rule: Rule
    change: str


def mutants(rule: Rule, base: RuleBase) -> Iterator[Mutant]:
    """Yield every rule that differs from this one by one threshold, one condition or one ``unless``."""
    for block in (*rule.when, *rule.unless):
        for test in block.tests:
            if test.operator in THRESHOLDS:
                for moved in _moved(test, base.kinds[block.kind].fields[test.field]):
                    change = f"{block.name}.{test.field} {test.operator} {test.operand} moved to {moved.operand}"
                    yield Mutant(
                        _with(rule, block, tuple(moved if one is test else one for one in block.tests)), change
                    )
            rest = tuple(one for one in block.tests if one is not test)
            yield Mutant(_with(rule, block, rest), f"{block.name}.{test.field} {test.operator} dropped")
    for block in rule.when:
        if len(rule.when) > 1 and not _spoken_of(block, rule):
            rest_of = tuple(one for one in rule.when if one is not block)
            yield Mutant(replace(rule, when=rest_of), f"block {block.name} dropped")
    for block in rule.unless:
        kept = tuple(one for one in rule.unless if one is not block)
        yield Mutant(replace(rule, unless=kept), f"unless {block.name} removed")


def _moved(test: Test, field: Field) -> Iterator[Test]:
    """Yield a threshold test moved up and down by a tenth; whole numbers by one at least, nought by a tenth of one."""
    step = abs(test.operand) * TENTH or (1 if field.type == "whole" else TENTH)
    if field.type == "whole":
        step = max(1, round(step))
    for way in (step, -step):
        yield replace(test, operand=round(test.operand + way, 6))


def _with(rule: Rule, block: Block, tests: tuple[Test, ...]) -> Rule:
    changed = replace(block, tests=tests)
    return replace(
        rule,
        when=tuple(changed if one is block else one for one in rule.when),
        unless=tuple(changed if one is block else one for one in rule.unless),
    )


def _spoken_of(block: Block, rule: Rule) -> bool:
    """Return whether the conclusion or another block speaks of this one, so that it cannot be dropped."""
    texts = [value for value in rule.gives.values() if isinstance(value, str)] + [rule.tell]
    named = {name for text in texts for name, _ in REFERENCE.findall(text)}
    joined = {test.operand[0] for other in (*rule.when, *rule.unless) for test in other.joins()}
    return block.name in named | joined


def survivors(rule: Rule, base: RuleBase) -> list[str]:
    """Return what may be changed of a rule without any of its cases failing."""
    return [mutant.change for mutant in mutants(rule, base) if not is_noticed(mutant.rule, base)]


def is_noticed(changed: Rule, base: RuleBase) -> bool:
    """Return whether a case of a changed rule fails."""
    alone = RuleBase({changed.id: changed}, base.kinds)
    return any(run_case(changed, case, alone, ReferenceEngine) for case in changed.cases)


def stated(rules: Path) -> Mapping[tuple[str, str], str]:
    """Return the survivors that are let stand with the reason of each. Raise BadRules where one has no reason."""
    path = rules / STATED
    found: dict[tuple[str, str], str] = {}
    for entry in read_toml(path)["survivor"] if path.exists() else ():
        if not entry.get("reason"):
            raise BadRules(f"reading {STATED}", f"{entry.get('rule')}: no reason", "Say why no case can notice it")
        found[entry["rule"], entry["change"]] = entry["reason"]
    return found


def count_mutants(base: RuleBase) -> int:
    """Return how many changes there are to try in a rule base."""
    return sum(1 for rule in base.rules.values() for _ in mutants(rule, base))
