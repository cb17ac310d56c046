"""The cases of each rule hold it where it stands."""

from __future__ import annotations

from dataclasses import replace

from advisor.config import find_rules
from advisor.reasoning.mutants import is_noticed, mutants, stated, survivors
from advisor.reasoning.rulebase import load_rules

BASE = load_rules(find_rules())


def test_every_change_of_a_rule_is_noticed_by_a_case_or_has_a_stated_reason() -> None:
    """A threshold moved by a tenth, a condition dropped or an unless removed makes some case fail."""
    reasons = stated(find_rules())
    left = {(rule.id, change) for rule in BASE.rules.values() for change in survivors(rule, BASE)}

    assert sorted(left - set(reasons)) == []
    assert sorted(set(reasons) - left) == []


def test_a_rule_without_cases_notices_nothing() -> None:
    """The check is no rubber stamp: with no case every change survives."""
    rule = next(iter(BASE.rules.values()))

    assert not any(is_noticed(replace(one.rule, cases=()), BASE) for one in mutants(rule, BASE))


def test_each_threshold_condition_and_unless_is_tried() -> None:
    """One rule's changes, counted by hand: two moves a threshold, one drop a condition, one removal an unless."""
    rule = BASE.rules["a-hard-winter-raises-the-question-of-damage"]
    thresholds, conditions, unlesses = 2, 9, 1

    tried = [one.change for one in mutants(rule, BASE)]

    assert len([change for change in tried if "moved to" in change]) == 2 * thresholds
    assert (
        len([change for change in tried if change.endswith("dropped") and not change.startswith("block")])
        == conditions + 2
    )
    assert len([change for change in tried if change.startswith("unless")]) == unlesses
