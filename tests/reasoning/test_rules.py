"""Every rule's own cases, in both orders of the facts, on both engines; and the rule base as a whole."""

from __future__ import annotations

import pytest

from advisor.config import find_rules
from advisor.conversation import Adviser
from advisor.language.understand import check_questions
from advisor.reasoning.cases import run_case
from advisor.reasoning.derive import unmatched
from advisor.reasoning.engine import ReferenceEngine, make_engine
from advisor.reasoning.lint import lint
from advisor.reasoning.rulebase import Case, Rule, load_rules

BASE = load_rules(find_rules())
CASES = [
    pytest.param(rule, case, id=f"{rule.topic}/{rule.id}::{case.name}")
    for rule in BASE.rules.values()
    for case in rule.cases
]


@pytest.mark.parametrize(("rule", "case"), CASES)
def test_case(rule: Rule, case: Case) -> None:
    """The rule concludes what its case says and nothing else, and lacks what its case says and nothing else."""
    for engine in (make_engine, ReferenceEngine):
        for reverse in (False, True):
            assert run_case(rule, case, BASE, engine, reverse=reverse) == []


def test_the_rule_base_is_sound(adviser: Adviser) -> None:
    """Nothing is wrong with the words, the evidence, the questions or the derived kinds."""
    assert lint(adviser.base, adviser.questions) == []
    assert check_questions(adviser.questions) == []
    assert unmatched(adviser.base.kinds) == []


def test_a_wrong_case_is_found() -> None:
    """The runner of cases is no rubber stamp: a case with its outcome turned round fails."""
    rule = next(iter(BASE.rules.values()))
    firing = next(case for case in rule.cases if case.expect)
    silent = next(case for case in rule.cases if not case.expect)
    assert run_case(rule, Case("turned", firing.given, ()), BASE, make_engine) != []
    assert run_case(rule, Case("turned", silent.given, firing.expect), BASE, make_engine) != []
