"""How near silent rules came is followed from facts to facts as if it were searched anew each time."""

from __future__ import annotations

from random import Random
from unittest import mock

import pytest
from random_rules import random_program
from small_rules import base_of, fact, rule

from advisor.fact_base import FactBase
from advisor.facts import Fact
from advisor.reasoning import last_near
from advisor.reasoning.last_near import LastNear
from advisor.reasoning.near_miss import near_misses

PROGRAMS = 300
OF_PLANT = {"same_as": "p.name"}
GARDEN = base_of(
    rule(
        {"p": {"kind": "plant"}, "s": {"kind": "stage", "plant": OF_PLANT, "bbch": {"above": 7}}},
        "awake", plant="{p.name}",
    ),
)  # fmt: skip


def otherwise(facts: list[Fact], chance: Random) -> FactBase:
    """Return most of some facts, some of them told anew or with other values, some in another order."""
    found: list[Fact] = []
    for one in facts:
        draw = chance.random()
        if draw < 0.1:
            found.append(Fact(one.kind, one.values, one.origin))
        elif draw < 0.2:
            like = chance.choice(facts)
            found.append(Fact(one.kind, like.values if like.kind == one.kind else {}, one.origin))
        elif draw < 0.85:
            found.append(one)
    if chance.random() < 0.2:
        chance.shuffle(found)
    return FactBase(found)


@pytest.mark.parametrize("first", range(0, PROGRAMS, 100))
def test_followed_is_found_as_if_searched_anew(first: int) -> None:
    """By way of facts left out, added, changed and put in another order, each rule of random programs comes as near."""
    misses = 0
    for seed in range(first, first + 100):
        chance = Random(seed)
        program = random_program(seed)
        base, given = program.base(), list(program.given())
        near = LastNear()
        for facts in (otherwise(given, chance), FactBase(given), *(otherwise(given, chance) for _ in range(3))):
            for one in base.rules.values():
                found = near.of(one, facts, base.kinds)
                assert found == near_misses(one, facts, base.kinds, most_wrong=0, most_lacks=1), (seed, one.id)
                misses += len(found)
    assert misses > 500


def test_only_what_a_change_meets_is_searched_again() -> None:
    """One stage more is looked up for its own plant alone."""
    plants = [fact("plant", name=f"p{n}") for n in range(20)]
    stages = [fact("stage", plant=f"p{n}") for n in range(0, 20, 2)]
    near, (one,) = LastNear(), GARDEN.rules.values()
    before = near.of(one, FactBase([*plants, *stages]), GARDEN.kinds)
    with mock.patch.object(last_near.Search, "by_fact", autospec=True, side_effect=last_near.Search.by_fact) as search:
        after = near.of(one, FactBase([*plants, *stages, fact("stage", plant="p3")]), GARDEN.kinds)
    assert len(before) == 10 and len(after) == 11
    assert {call.args[4].get("name") for call in search.call_args_list if call.args[1] == 0} == {"p3"}
