"""A proof followed from some facts to others is the proof of a run, and leaves what nothing touched as it was."""

from __future__ import annotations

from graphlib import CycleError, TopologicalSorter

import pytest
from engine_agreement import Followed, compare
from random_rules import random_program
from small_rules import base_of, fact, in_order, rule

from advisor.fact_base import FactBase
from advisor.facts import Fact
from advisor.reasoning.engine import ReferenceEngine, make_engine
from advisor.reasoning.engine.following import Following
from advisor.reasoning.rulebase import RuleBase

PROGRAMS = 300
SAME = {"same_as": "p.name"}
GARDEN = base_of(
    rule({"p": {"kind": "plant"}, "s": {"kind": "stage", "plant": SAME, "bbch": {"above": 7}}}, "awake", plant="{p.name}"),
    rule(
        {"p": {"kind": "plant"}},
        "asleep", unless={"a": {"kind": "awake", "plant": SAME}}, plant="{p.name}", grade="likely",
    ),
    rule({"a": {"kind": "asleep"}, "w": {"kind": "warm"}}, "late", plant="{a.plant}"),
)  # fmt: skip


def without_rounds(base: RuleBase) -> RuleBase:
    """Return a rule base without the rules by which kinds come to rest on themselves."""
    rests_on: dict[str, set[str]] = {}
    kept = set()
    for rule_ in base.rules.values():
        wanted = {block.kind for block in (*rule_.when, *rule_.unless)}
        tried = {**rests_on, rule_.conclude: rests_on.get(rule_.conclude, set()) | wanted}
        try:
            TopologicalSorter(tried).prepare()
        except CycleError:
            continue
        rests_on = tried
        kept.add(rule_.id)
    return base.only(kept)


@pytest.mark.parametrize("first", range(0, PROGRAMS, 100))
def test_a_proof_followed_is_the_proof_of_a_run(first: int) -> None:
    """By way of facts left out, added and changed, random programs come to the same firings in the same order."""
    before = Followed.followed
    for seed in range(first, first + 100):
        program = random_program(seed)
        assert compare(without_rounds(program.base()), program.given(), {"followed": Followed}, seed) == {}, seed
    assert Followed.followed > before + 60


def garden(**bbch: float) -> list[Fact]:
    plants = [fact("plant", name=f"p{n}") for n in range(20)]
    return [*plants, *(fact("stage", plant=name, bbch=value) for name, value in bbch.items()), fact("warm")]


def test_only_what_a_change_touches_is_drawn_again() -> None:
    """One plant more that is awake draws that plant's firings again; those of the others are the very same."""
    following = Following(make_engine(GARDEN))
    given = garden(p1=9, p2=3)
    before = following.run(FactBase(given))
    after = following.run(FactBase([*given, fact("stage", plant="p2", bbch=11)]), before)
    kept = {id(one) for one in before.firings}
    fresh = [(one.rule, one.conclusion.get("plant")) for one in after.firings if id(one) not in kept]
    assert fresh == [("r0", "p2")]
    gone = {(one.rule, one.conclusion.get("plant")) for one in before.firings} - {
        (one.rule, one.conclusion.get("plant")) for one in after.firings
    }
    assert gone == {("r1", "p2"), ("r2", "p2")}


def test_what_was_proved_before_is_not_changed() -> None:
    """The earlier proof stays as it was, for whoever still holds it."""
    following = Following(make_engine(GARDEN))
    given = garden(p1=9)
    before = following.run(FactBase(given))
    firings, facts = in_order(before), list(before.facts)
    following.run(FactBase([*given[1:], fact("stage", plant="p3", bbch=11)]), before)
    assert in_order(before) == firings and list(before.facts) == facts


@pytest.mark.parametrize(
    ("base", "given", "then"),
    [
        (GARDEN, garden(p1=9), garden(p2=9)),  # every fact another one
        (GARDEN, [*(kept := garden(p1=9))], [*kept, fact("late", plant="p1")]),  # a fact of a kind that rules conclude
        (base_of(rule({"a": {"kind": "a"}}, "b"), rule({"b": {"kind": "b"}}, "a", n=1)), [fact("a")], [fact("b")]),
    ],
)
def test_what_is_better_run_anew_is(base: RuleBase, given: list[Fact], then: list[Fact]) -> None:
    """Where nearly all facts changed, or rules feed themselves, or a conclusion is given, the outcome is right too."""
    following = Following(make_engine(base))
    after = following.run(FactBase(then), following.run(FactBase(given)))
    assert in_order(after) == in_order(ReferenceEngine(base).run(then))
    assert not {id(one) for one in after.firings} & {id(one) for one in following.run(FactBase(given)).firings}
