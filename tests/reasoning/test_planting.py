"""What could go in a spot, and which tree stands in the wrong one: the same rules as for a new tree, the other way round.

All gardens are invented.
"""

from __future__ import annotations

from datetime import date
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from small_garden import ZONE, SmallGarden

from advisor.answers import Answer
from advisor.conversation import Adviser
from advisor.language.render import Speech
from advisor.language.reply import answer_reply
from advisor.language.understand import Understood

TODAY = date(2026, 4, 24)
SPOT: dict[str, Any] = {"slope_part": "middle", "low_lying": False, "sun_h": 9.0, "drainage_cm_h": 6.0}


def weighed(adviser: Adviser, garden: SmallGarden, question: str, **named: Any) -> Answer:
    return adviser.answer(garden, Understood(question, **named), TODAY)


def told(adviser: Adviser, garden: SmallGarden, answer: Answer) -> dict[str, Any]:
    names = frozenset(fact.text("name") for kind in ("spot", "plant") for fact in garden.of(kind))
    called = {one.id: one.name for one in adviser.lore.species.values()}
    return answer_reply(answer, Speech("metric", ZONE, TODAY, adviser.base.kinds, names, called))


def garden() -> SmallGarden:
    """A wall, a good bed, ground that stays wet, and a low corner."""
    made = SmallGarden().spot("wall", **SPOT, aspect="S", wall_side="S").spot("bed", **SPOT, aspect="flat")
    made.spot("wet", **{**SPOT, "drainage_cm_h": 0.5}).spot("low", **{**SPOT, "slope_part": "foot", "low_lying": True})
    return made


@pytest.mark.parametrize("spot", ["wall", "bed", "wet", "low"])
def test_each_kind_fares_as_where_a_place_for_it_is_sought(adviser: Adviser, spot: str) -> None:
    """Every kind's score, bars and points for a spot are those that where-to-plant gives it there."""
    found = {one.species: one for one in weighed(adviser, garden(), "what-to-plant", spots=(spot,)).verdicts}
    assert set(found) == set(adviser.lore.species)
    for species, one in found.items():
        place = weighed(adviser, garden(), "where-to-plant", species=species)
        same = next(verdict for verdict in place.verdicts if verdict.spot == spot)
        assert (one.score, one.place == 0) == (same.score, same.place == 0)
        assert {(p.kind, p.claim, p.grade) for p in one.points} == {(p.kind, p.claim, p.grade) for p in same.points}


@settings(max_examples=30, deadline=None)
@given(
    spot=st.fixed_dictionaries(
        {},
        optional={
            "sun_h": st.floats(2, 12),
            "drainage_cm_h": st.floats(0.2, 12),
            "low_lying": st.booleans(),
            "room_m": st.floats(1, 12),
            "plantable": st.booleans(),
            "wall_side": st.sampled_from(["N", "S"]),
        },
    ),
    grown=st.lists(st.sampled_from(["apple", "fig", "peach", "quince"]), max_size=3),
)
def test_kinds_stand_in_order_and_equals_share_a_place(
    adviser: Adviser, spot: dict[str, Any], grown: list[str]
) -> None:  # fmt: skip
    """Whatever a spot is like: open kinds before barred ones, none before one that weighs more, ranks without a gap."""
    made = SmallGarden().spot("spot", **spot)
    for number, species in enumerate(grown):
        made.plant(f"tree {number}", "spot", species)
    answer = weighed(adviser, made, "what-to-plant", spots=("spot",))
    open_kinds = [one for one in answer.verdicts if one.place]
    assert [*open_kinds, *(one for one in answer.verdicts if not one.place)] == list(answer.verdicts)
    for one, after in pairwise(open_kinds):
        assert one.score >= after.score and (one.score == after.score) == (one.place == after.place)
    assert [one.rank for one in answer.conclusions] == list(range(1, len(answer.conclusions) + 1))
    reply = told(adviser, made, answer)
    assert len(reply["reply"]) > 20 and "{" not in reply["reply"] and "None" not in reply["reply"]


def test_of_equal_kinds_those_that_grow_here_come_first(adviser: Adviser) -> None:
    """A medlar weighs no more than an apple in the wet bed, and is named first where one grows already."""
    without = [one.species for one in weighed(adviser, garden(), "what-to-plant", spots=("wet",)).verdicts]
    made = garden().plant("old medlar", "bed", "medlar")
    grown = [one.species for one in weighed(adviser, made, "what-to-plant", spots=("wet",)).verdicts]
    assert grown[0] == "medlar" and without[0] != "medlar"


def test_a_spot_of_which_nothing_is_told_is_not_judged(adviser: Adviser) -> None:
    """No kind is named for a bed that is a name alone, and what to tell of it is said."""
    made = SmallGarden().spot("bed")
    answer = weighed(adviser, made, "what-to-plant", spots=("bed",))
    assert not answer.verdicts and "which way it faces" in told(adviser, made, answer)["reply"]


# ---- the wrong spot


def test_a_tree_takes_no_room_from_itself(adviser: Adviser) -> None:
    """A lone pear that fills its row stands right; two pears in the same row crowd each other."""
    row = {**SPOT, "room_m": 4.5}
    lone = SmallGarden().spot("row", **row).plant("old pear", "row", "pear")
    assert not weighed(adviser, lone, "wrong-spot").verdicts[0].strong
    pair = SmallGarden().spot("row", **row).plant("old pear", "row", "pear").plant("new pear", "row", "pear")
    answer = weighed(adviser, pair, "wrong-spot")
    assert {one.plant for one in answer.verdicts if one.strong} == {"old pear", "new pear"}


def test_trees_in_pots_under_glass_and_limbs_are_not_weighed(adviser: Adviser) -> None:
    """Only what is rooted in the open can stand in a wrong spot."""
    made = garden().spot("house", under_cover="unheated glass", sun_h=9.0)
    made.plant("tub peach", "low", "peach", "pot").plant("glass peach", "house", "peach")
    made.plant("low peach", "low", "peach").plant("limb", "low", "peach", grafted_on="low peach")
    assert {one.plant for one in weighed(adviser, made, "wrong-spot").verdicts} == {"low peach"}


def test_the_worst_comes_first_with_its_better_spot_behind(adviser: Adviser) -> None:
    """A peach in the frost hollow and a cherry in the wet are named with the bed; the apple in the bed is not."""
    made = garden().plant("low peach", "low", "peach").plant("wet cherry", "wet", "sweet-cherry")
    made.plant("bed apple", "bed", "apple")
    answer = weighed(adviser, made, "wrong-spot")
    order = [(one.plant, one.spot, one.place == 0) for one in answer.verdicts]
    assert {order[0][0], order[2][0]} == {"low peach", "wet cherry"} and order[-1] == ("bed apple", "bed", False)
    assert order[0][2] and order[2][2] and order[1][1:] == ("bed", False) == order[3][1:]
    assert {one.about.get("plant") for one in answer.conclusions} == {"low peach", "wet cherry", "bed apple"}
    reply = told(adviser, made, answer)
    assert "Of 3 trees I can weigh" in reply["reply"] and "bed apple is" not in reply["reply"]
    assert reply["reply"].count("If it is no young tree:") == 1
    assert {(one["plant"], one["ruled_out"]) for one in reply["spots"][:1]} == {(order[0][0], True)}
    assert all(one["because"] for one in reply["conclusions"]) and reply["records"]


def test_a_better_spot_weighs_more_and_is_in_the_open(adviser: Adviser) -> None:
    """Where every other spot is as bad, or is glass, no better one is named."""
    low = {**SPOT, "slope_part": "foot", "low_lying": True}
    made = SmallGarden().spot("one", **low).spot("two", **low).spot("house", **SPOT, under_cover="unheated glass")
    made.plant("peach", "one", "peach")
    answer = weighed(adviser, made, "wrong-spot")
    assert [one.spot for one in answer.verdicts] == ["one"]
    assert "No spot outdoors that is recorded would suit it better" in told(adviser, made, answer)["reply"]


@pytest.mark.parametrize(("planted", "claim"), [(2023, "can-still-be-moved"), (2022, "not-moved-lightly")])
def test_only_a_young_tree_is_moved(adviser: Adviser, planted: int, claim: str) -> None:
    """Planted in autumn 2023 a tree is in its third spring and can be moved; a year older it is settled."""
    made = garden().plant("peach", "low", "peach", planted=date(planted, 11, 5))
    answer = weighed(adviser, made, "wrong-spot")
    assert [one.claim for one in answer.conclusions if one.kind == "finding"] == [claim]
    assert "If it is no young tree" not in told(adviser, made, answer)["reply"]


def test_one_tree_or_one_kind_may_be_asked_about(adviser: Adviser) -> None:
    """A named tree, or the trees of a named kind, are weighed alone."""
    made = garden().plant("low peach", "low", "peach").plant("bed peach", "bed", "peach").plant("fig", "wall")
    assert {one.plant for one in weighed(adviser, made, "wrong-spot", plant="bed peach").verdicts} == {"bed peach"}
    peaches = weighed(adviser, made, "wrong-spot", species="peach").verdicts
    assert {one.plant for one in peaches} == {"low peach", "bed peach"}
