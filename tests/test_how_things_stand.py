"""How things stand is answered from the records alone, in the demo garden, and no other question is taken for that."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

Ask = Callable[[str], dict[str, Any]]


@pytest.mark.parametrize(
    ("text", "head", "plants"),
    [
        ("which figs are still asleep?", "4 of 15 plants", {"store fig", "shed fig", "new fig", "lane fig"}),
        ("how many figs are asleep", "4 of 15 plants", {"store fig", "shed fig", "new fig", "lane fig"}),
        ("which apricots are in flower now?", "0 of 2 plants", set()),
        ("what's in bloom", "6 of 37 plants",
         {"young cherry", "long pear", "kitchen cherry", "house plum", "big cherry", "bank peach"}),
    ],
)  # fmt: skip
def test_plants_in_a_state_are_listed_as_last_seen(ask: Ask, text: str, head: str, plants: set[str]) -> None:
    """Each with the look that says so; those nobody looked at are named, since nothing is known of them."""
    reply = ask(text)
    assert reply["outcome"] == "answered" and reply["reply"].startswith(head) and not reply["conclusions"]
    assert all(plant in reply["reply"] for plant in plants) and len(reply["records"]) == len(plants)
    assert {one["kind"] for one in reply["records"]} <= {"stage"}
    if head.endswith("37 plants"):
        assert "Not looked at in this growing year: the old plum." in reply["reply"]


def test_the_least_far_and_the_furthest_are_told(ask: Ask) -> None:
    """By the last stage of this year, with a word on those that stood warm."""
    assert "lane fig" in ask("which of my figs is the slowest?")["reply"].splitlines()[1]
    furthest = ask("which tree is furthest along")["reply"]
    assert "wall apricot" in furthest.splitlines()[1] and "under glass run ahead" in furthest


def test_where_a_plant_is_and_how_old(ask: Ask) -> None:
    """Moves are counted; what is not recorded is said, with how to tell it."""
    assert ask("where's the shed fig")["reply"] == "The shed fig stands in the ground at the shed bed."
    assert "not recorded" in ask("where is the black pot fig")["reply"]
    ask("moved the store fig to the porch")
    assert "at the porch, since 24 April" in ask("where is the store fig now?")["reply"]
    assert ask("how old is the wall fig")["reply"] == "The wall fig was planted on 21 April 2018, 8 years ago."


def test_what_lies_at_a_spot_and_its_last_reading(ask: Ask) -> None:
    """The cover and who stands there; the last soil reading with its depth and day."""
    there = ask("what's on the shed bed")
    assert "wood chips" in there["reply"] and "yellow plum" in there["reply"]
    ask("soil shed bed 11.3 10cm")
    assert "11.3 °C, 10 cm deep" in ask("what's the soil at the shed bed")["reply"]
    assert "No soil was read" in ask("last soil reading at the lane edge")["reply"]


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("where is the best place for a fig", "where-to-plant"), ("where is the warmest spot", "compare-spots"),
        ("which tree is in the wrong spot", "wrong-spot"), ("which pots want water first", "what-next"),
        ("why are the figs asleep", "why-late"),
    ],
)  # fmt: skip
def test_other_questions_stay_what_they_are(ask: Ask, text: str, kind: str) -> None:
    """What asks for a place or a reason is weighed by rules."""
    reply = ask(text)
    assert reply["question"].get("kind", kind) == kind and "as last seen" not in reply["reply"]


@pytest.mark.parametrize("text", ["will sunday night be cold", "will it freeze on sunday night?"])
def test_another_night_is_not_answered_as_if_it_were_tonight(ask: Ask, text: str) -> None:
    """The coming night alone is weighed, and that is said first."""
    assert ask(text)["reply"].startswith("I weigh the coming night only; for Sunday ask again that afternoon.")
    assert ask("will it freeze tonight?")["reply"].startswith("I cannot say how cold tonight")


def test_warm_and_cold_asked_together_are_both_told(ask: Ask) -> None:
    """The coldest alone is told where nothing warm is asked about."""
    claims = {one["claim"] for one in ask("which spot is warm and which is cold?")["conclusions"]}
    assert {"warmest-soil", "coldest-soil"} <= claims
    assert "warmest-soil" not in {one["claim"] for one in ask("which spot is the coldest")["conclusions"]}


def test_a_question_with_an_and_in_it_is_answered_once(ask: Ask) -> None:
    """What follows the "and" alone is no question, and is not said to be unread."""
    reply = ask("which shoot to pinch now and which to let catch up?")
    assert reply["outcome"] == "answered" and "could not read" not in reply["reply"]


def test_which_pots_are_out_and_which_in_the_store(ask: Ask) -> None:
    """By their last move; where one stands that nobody told is said to be not known."""
    ask("moved the store fig to the store")
    ask("moved the small pot fig to the pot yard")
    out, there = ask("what's still outside?")["reply"], ask("which pots are in the store")["reply"]
    assert "the small pot fig at the pot yard" in out and "store fig" not in out.splitlines()[0]
    assert "the store fig" in there and "small pot fig" not in there
    assert "the store fig at the store" in ask("which pots are inside")["reply"]


def test_a_new_mulch_says_what_it_lies_in_place_of(ask: Ask) -> None:
    """What was there is taken off in the records, and the reply says so."""
    told = ask("leaves 20 cm on the shed bed")["reply"]
    assert "leaves on shed bed, 20 cm" in told and "What lay there before, wood chips, counts as off" in told
