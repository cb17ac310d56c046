"""Every rule's conditions as plain sentences: nothing raw in them, nothing left out, each operator told apart."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from zoneinfo import ZoneInfo

import pytest

from advisor.answers import Told
from advisor.conversation import Adviser
from advisor.language.render import Speech
from advisor.language.sentences import with_article
from advisor.reasoning.condition_words import ConditionWords, load_condition_words
from advisor.reasoning.in_words import clause_in_words, in_words, pattern_in_words
from advisor.reasoning.rulebase import OPERATORS, Block, Rule, Test

MIRRORED = {"at_least": "at_most", "at_most": "at_least", "above": "below", "below": "above"}


@pytest.fixture(scope="module")
def words(adviser: Adviser) -> ConditionWords:
    """The clauses of the rule base."""
    called = {one.id: with_article(one.name) for one in adviser.lore.species.values()}
    return load_condition_words(adviser.settings.rules, adviser.base.kinds, called)


def speech(adviser: Adviser, units: str = "metric") -> Speech:
    return Speech(units, ZoneInfo("UTC"), date(2026, 4, 24), adviser.base.kinds)


def sentences(rule: Rule, adviser: Adviser, words: ConditionWords, units: str = "metric") -> dict[str, str]:
    """Return each block of a rule as the sentence a grower reads."""
    told = in_words(rule, adviser.base.kinds, words)
    own = speech(adviser, units)
    return {one.block: own.tell(Told(one.text, {})) for one in (*told.when, *told.unless)}


def every_test(adviser: Adviser) -> Iterator[tuple[Rule, Block, Test]]:
    """Yield every test of every rule."""
    for rule in adviser.base.rules.values():
        for block in (*rule.when, *rule.unless):
            for test in block.tests:
                yield rule, block, test


def changed(rule: Rule, block: Block, test: Test, other: Test | None) -> Rule:
    """Return a rule with one test of it replaced, or dropped."""
    tests = tuple(other if one is test else one for one in block.tests if one is not test or other is not None)
    made = replace(block, tests=tests)  # type: ignore[arg-type]
    return replace(
        rule,
        when=tuple(made if one is block else one for one in rule.when),
        unless=tuple(made if one is block else one for one in rule.unless),
    )


@pytest.mark.parametrize("units", ["metric", "us"])
def test_every_rule_is_told_without_a_raw_word(adviser: Adviser, words: ConditionWords, units: str) -> None:
    """No sentence of any rule holds a field name, a brace, an operator, or an id of a kind; each starts and ends well."""
    raw = re.compile(rf"[{{}}_]|\b({'|'.join(OPERATORS[:2])}|one_of|same_as)\b|\bTrue\b|\bFalse\b|\bNone\b")
    dashed = {one.id for one in adviser.lore.species.values() if "-" in one.id}
    wrong = []
    for rule in adviser.base.rules.values():
        for block, text in sentences(rule, adviser, words, units).items():
            ids = any(one in text for one in dashed)
            plain = text[:1].isupper() or text[:1].isdigit()
            if raw.search(text) or ids or not plain or not text.endswith(".") or "  " in text or ".." in text:
                wrong.append((rule.id, block, text))
    assert wrong == []


@pytest.mark.parametrize("units", ["metric", "us"])
def test_every_threshold_is_told(adviser: Adviser, words: ConditionWords, units: str) -> None:
    """The figure that a test compares with stands in its sentence, in the grower's units; nought and one may be words."""
    own, missing = speech(adviser, units), []
    for rule, block, test in every_test(adviser):
        operand = test.operand
        if test.operator in MIRRORED and operand not in (0, 1):
            field = adviser.base.kinds[block.kind].fields[test.field]
            signed = words.clauses[block.kind][test.field].part("more")
            figure = own.number(abs(operand) if signed else operand, field.unit)
            if figure not in sentences(rule, adviser, words, units)[block.name]:
                missing.append((rule.id, block.name, figure))
    assert missing == []


def test_no_test_is_left_out(adviser: Adviser, words: ConditionWords) -> None:
    """A rule without one of its tests reads otherwise: no condition goes untold, joins that name no subject included."""
    same = []
    for rule, block, test in every_test(adviser):
        if test.operator == "same_as" and test.field not in ("material", "base_c"):
            continue
        before = sentences(rule, adviser, words)[block.name]
        if sentences(changed(rule, block, test, None), adviser, words)[block.name] == before:
            same.append((rule.id, block.name, test.field))
    assert same == []


def test_every_operator_is_told_apart(adviser: Adviser, words: ConditionWords) -> None:
    """A comparison turned round, a yes for a no, and equal for not equal each read otherwise."""
    same = []
    for rule, block, test in every_test(adviser):
        if test.operator in MIRRORED:
            other = replace(test, operator=MIRRORED[test.operator])
        elif isinstance(test.operand, bool):
            other = replace(test, operand=not test.operand)
        elif test.operator == "equals" and isinstance(test.operand, str):
            other = replace(test, operator="not")
        else:
            continue
        turned = sentences(changed(rule, block, test, other), adviser, words)[block.name]
        if turned == sentences(rule, adviser, words)[block.name]:
            same.append((rule.id, block.name, test.field, test.operator))
    assert same == []


def test_every_failed_test_can_be_told_alone(adviser: Adviser, words: ConditionWords) -> None:
    """Each test is a clause of its own, without a brace for wording to trip over."""
    own = speech(adviser)
    for rule, block, test in every_test(adviser):
        told = in_words(rule, adviser.base.kinds, words)
        clause = own.tell(Told(clause_in_words(test, block, told, adviser.base.kinds, words), {}))
        assert clause and not re.search(r"[{}_]|not known\)", clause), (rule.id, clause)


def test_records_that_show_what_came_of_advice_are_told(adviser: Adviser, words: ConditionWords) -> None:
    """Each pattern of a later record is a plain clause about the plant or the spot."""
    for one in adviser.outcomes.values():
        for pattern in one.patterns.values():
            said = speech(adviser).tell(Told(pattern_in_words(pattern.block, adviser.base.kinds, words), {}))
            assert re.search(r"the (plant|spot)", said, re.I) and not re.search(r"[{}_]", said), said


@pytest.mark.parametrize(
    ("rule", "units", "sentence"),
    [
        ("soil-measured-colder-under-mulch", "metric",
         "The soil of the plant's spot was measured at least 1.5 °C colder than that of another spot, the plant's spot is "
         "under organic mulch, another spot is bare or under stone, and they were read on at least 3 days."),
        ("a-fig-is-wrapped-after-the-first-real-cold", "metric",
         "The plant grows in the ground, stands in the open, and is a fig."),
        ("a-hot-pot-cooks-the-roots-at-its-wall", "us",
         "The soil in the pot of the plant was read at 100.4 °F or warmer, and that was at most 3 days ago."),
        ("a-cool-spring-holds-all-back", "metric",
         "Earlier years tell when the plant wakes, its usual waking date is still to come, and it rests on at least 2 years."),
        ("a-night-too-cold-for-it-keeps-a-pot-in", "metric",
         "The night in the open may reach what the pot of the plant stands."),
    ],
)  # fmt: skip
def test_sentences_read_as_a_grower_speaks(
    adviser: Adviser, words: ConditionWords, rule: str, units: str, sentence: str
) -> None:
    """Some sentences whole: a size with its side, a list of tests on one subject, US units, a date by its sign."""
    assert sentence in sentences(adviser.base.rules[rule], adviser, words, units).values()


def test_a_kind_without_clauses_is_told_by_its_names(adviser: Adviser) -> None:
    """A rule base without the file of clauses is still told in words, if plainer ones."""
    rule = adviser.base.rules["a-cool-spring-holds-all-back"]
    said = sentences(rule, adviser, ConditionWords({}, {}))
    assert "its usual share is at most 85 %" in said["heat"]
