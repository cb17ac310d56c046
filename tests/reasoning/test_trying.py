"""A rule tried on facts set by hand: which condition stands in the way, and what would be asked."""

from __future__ import annotations

from typing import Any

import pytest

from advisor.conversation import Adviser
from advisor.facts import Fact
from advisor.reasoning.engine import ReferenceEngine
from advisor.reasoning.near_miss import near_misses
from advisor.reasoning.reach import behind
from advisor.reasoning.rulebase import Rule
from advisor.reasoning.trying import by_hand, facts_of, fields_looked_at, first_firing, try_rule

COOL = "a-cool-spring-holds-all-back"
AWAKE = {"plant": "old fig", "awake": False, "bbch": 1, "age_days": 2}
STANDS = {"plant": "old fig", "under_cover": "none", "species": "fig", "growing": "ground"}
HEAT = {"base_c": 10.0, "sum_dd": 30.0, "usual_dd": 40.0, "usual_share": 0.75, "years": 5}
NO_KIN = {"plant": "old fig", "kin": 2, "awake": 0, "state": "none"}


@pytest.fixture
def cool(adviser: Adviser) -> Rule:
    return adviser.base.rules[COOL]


def given(**kinds: dict[str, Any]) -> list[Fact]:
    return [by_hand(kind, values) for kind, values in kinds.items()]


def test_a_rule_that_fires_meets_every_block(adviser: Adviser, cool: Rule) -> None:
    """Where it fires, each block is met and each unless is clear or counts as no."""
    facts = given(stage_now=AWAKE, standing=STANDS, heat_so_far=HEAT, kin_awake=NO_KIN)
    tried = try_rule(cool, facts, adviser.base)
    assert [one.conclusion.text("grade") for one in tried.firings] == ["likely"]
    assert [one.state for one in tried.nearest.when] == ["met"] * 3
    assert [one.state for one in tried.nearest.unless] == ["clear", "counts as no"]


def test_every_test_that_fails_is_found(adviser: Adviser, cool: Rule) -> None:
    """Two tests of one block that fail are both told, with what they found; a near miss would tell of neither."""
    heat = {**HEAT, "usual_share": 0.9, "years": 2}
    tried = try_rule(cool, given(stage_now=AWAKE, standing=STANDS, heat_so_far=heat), adviser.base)
    failed = {(one.test.field, one.value) for block in tried.nearest.when for one in block.tests if one.passed is False}
    assert tried.firings == () and failed == {("usual_share", 0.9), ("years", 2)}


def test_a_record_about_another_plant_is_none_about_this_one(adviser: Adviser, cool: Rule) -> None:
    """A fact about another plant is not taken for the missing one: nothing is told of it, and it is asked for."""
    elsewhere = {**STANDS, "plant": "young fig"}
    tried = try_rule(cool, given(stage_now=AWAKE, standing=elsewhere, heat_so_far=HEAT), adviser.base)
    seen = tried.nearest.when[1]
    assert (seen.state, seen.fact) == ("not known", None)
    assert seen.ask is not None and seen.ask.bound["it"].text("plant") == "old fig"


def test_what_stands_against_it_is_found(adviser: Adviser, cool: Rule) -> None:
    """An unless block that is met is told with the fact that meets it; what is open weakens, and is asked for."""
    facts = given(stage_now=AWAKE, standing=STANDS, heat_so_far=HEAT)
    met = by_hand("kin_awake", {**NO_KIN, "awake": 1, "state": "some"})
    against = try_rule(cool, [*facts, met], adviser.base).nearest.unless[0]
    assert (against.state, against.facts) == ("stands against", (met,))
    tried = try_rule(cool, facts, adviser.base)
    assert tried.firings[0].conclusion.text("grade") == "possible"
    assert tried.nearest.unless[0].state == "not settled" and tried.nearest.unless[0].ask is not None


def test_the_nearest_of_several_ways_is_told(adviser: Adviser, cool: Rule) -> None:
    """Of two plants, the one on which less stands against the rule is told."""
    far = by_hand("stage_now", {**AWAKE, "plant": "far fig", "awake": True})
    facts = given(stage_now=AWAKE, standing=STANDS, heat_so_far={**HEAT, "usual_share": 0.86})
    tried = try_rule(cool, [far, *facts], adviser.base)
    assert tried.nearest.bound["now"].text("plant") == "old fig"


def test_it_agrees_with_the_near_misses(adviser: Adviser) -> None:
    """In every silent case with one near miss, the nearest way fails just there (``near_miss`` searches otherwise)."""
    checked = 0
    for rule in adviser.base.rules.values():
        for case in rule.cases:
            proof = ReferenceEngine(adviser.base.only({rule.id})).run(facts_of(case))
            misses = [one for one in near_misses(rule, proof.facts, adviser.base.kinds) if one.failed]
            if proof.firings or len(misses) != 1 or misses[0].failed is None or misses[0].failed[1] is None:
                continue
            block, test, _ = misses[0].failed
            way = try_rule(rule, facts_of(case), adviser.base).nearest
            wrong = [(seen.block.name, one.test) for seen in way.when for one in seen.tests if one.passed is False]
            unknown = [seen for seen in way.when if seen.state == "not known"]
            assert wrong == [(block, test)] or unknown, (rule.id, case.name, wrong)
            checked += wrong == [(block, test)]
    assert checked > 800


def test_all_that_a_rule_looks_at_can_be_set(adviser: Adviser) -> None:
    """Without a field that is not among those looked at, the first firing case of every rule still fires alike."""
    for rule in adviser.base.rules.values():
        wanted = fields_looked_at(rule, adviser.base.kinds)
        facts = facts_of(rule.cases[first_firing(rule)])
        cut = [
            by_hand(fact.kind, {name: fact.get(name) for name in wanted[fact.kind]})
            for fact in facts
            if fact.kind in wanted
        ]
        whole, less = try_rule(rule, facts, adviser.base), try_rule(rule, cut, adviser.base)
        assert {one.conclusion.key for one in less.firings} == {one.conclusion.key for one in whole.firings} != set()


def test_what_feeds_a_rule_is_behind_it(adviser: Adviser) -> None:
    """The rules behind a rule hold those that conclude what it looks at, and all kinds that those look at in turn."""
    rule = next(one for one in adviser.base.rules.values() if any(b.kind == "keep_tips" for b in one.unless))
    found = behind(adviser.base, rule.id)
    assert {one.id for one in adviser.base.rules.values() if one.conclude == "keep_tips"} <= found.rules
    assert {block.kind for key in found.rules for block in adviser.base.rules[key].when} <= found.kinds
