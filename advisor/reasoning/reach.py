"""From a question backward to the rules and kinds that could answer it, so that only those are derived and run."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from advisor.reasoning.rulebase import Rule, RuleBase
from advisor.records.questions import AnsweredBy


@dataclass(frozen=True, slots=True)
class Reach:
    """The rules that can take part in an answer, and every kind of fact they look at."""

    rules: frozenset[str]
    kinds: frozenset[str]


def answers(rule: Rule, wanted: AnsweredBy) -> bool:
    """Return whether a rule's conclusion is of the wanted kind, and for the wanted question where one is named."""
    if rule.conclude != wanted.kind:
        return False
    return not wanted.question or rule.gives.get("question") == wanted.question


def reach(base: RuleBase, answered_by: Iterable[AnsweredBy]) -> Reach:
    """Return what a question can reach."""
    wanted = list(answered_by)
    return _closed(base, {rule.id for rule in base.rules.values() if any(answers(rule, one) for one in wanted)})


def behind(base: RuleBase, rule_id: str) -> Reach:
    """Return one rule with those that feed it, and every kind of fact that they look at."""
    return _closed(base, {rule_id})


def _closed(base: RuleBase, rules: set[str]) -> Reach:
    kinds: set[str] = set()
    while True:
        looked_at = {
            block.kind
            for key in rules
            for rule in (base.rules[key], base.set_aside.get(key, base.rules[key]))
            for block in (*rule.when, *rule.unless)
        }
        more = {rule.id for rule in base.rules.values() if rule.conclude in looked_at}
        if looked_at <= kinds and more <= rules:
            return Reach(frozenset(rules), frozenset(kinds))
        kinds |= looked_at
        rules |= more
