"""New plants and spots told without the words for them, as people tell them at the start; nothing else becomes one."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from advisor.config import find_rules
from advisor.language.said.hear import hear
from advisor.language.said.unit import Ears
from advisor.language.said.yard import Yard, YardPlant, YardSpot
from advisor.records.stage_words import load_stage_words
from advisor.records.talk_words import load_talk_words

RULES = find_rules()
NOW = datetime(2026, 4, 24, 18, tzinfo=ZoneInfo("Europe/Vienna"))
SPOTS = [YardSpot(name, row=n) for n, name in enumerate(("south wall", "porch", "garage", "hoop house", "low bed"), 1)]
SPECIES = [("fig", ("fig", "figs")), ("peach", ("peach", "peaches")), ("apricot", ("apricot", "apricots"))]
PLANTS = [YardPlant("wall fig", "fig", "south wall")]
EARS = Ears(Yard(PLANTS, SPOTS, SPECIES, [("wood chips", ("chips",))]), load_talk_words(RULES), load_stage_words(RULES), NOW,
            day_first=True)  # fmt: skip


def heard(text: str, ears: Ears = EARS) -> list[tuple[str, dict[str, Any]]]:
    return [(draft.kind, dict(draft.values)) for draft in hear(text, ears).drafts]


def test_several_plants_are_told_in_one_line() -> None:
    """Each has its name, and what is told of all of them."""
    rows = heard("2 figs in 40 l pots at the porch: celeste and ronde")
    assert [(k, v["name"], v["species"], v["pot_litres"], v["spot"], v.get("cultivar")) for k, v in rows] == [
        ("plant", "celeste", "fig", 40, "porch", None), ("plant", "ronde", "fig", 40, "porch", None),
    ]  # fmt: skip


def test_a_plant_may_be_named_first() -> None:
    """What is said to be a fig in a pot, and is no plant of the garden, is a new one."""
    ((kind, values),) = heard("celeste is a fig in a 40 l pot at the porch")
    assert (kind, values["name"], values["species"], values["growing"]) == ("plant", "celeste", "fig", "pot")
    assert "cultivar" not in values
    assert heard("the wall fig is a fig in a pot at the porch") == []


def test_a_name_given_last_makes_it_new() -> None:
    """A kind with a cultivar, where it stands, and what it is to be called."""
    ((kind, values),) = heard("ronde de bordeaux fig in a 40 l pot at the porch, call it ronde")
    assert (kind, values["name"], values["cultivar"]) == ("plant", "ronde", "Ronde De Bordeaux")


@pytest.mark.parametrize(
    ("text", "asked"),
    [
        ("planted violette fig in the hoop house spring 2022", "What shall it be called?"),
        ("got a peach reliance at the low bed planted 2019 and an apricot at the porch", "each new plant by itself"),
    ],
)
def test_what_lacks_a_name_or_is_two_is_asked(text: str, asked: str) -> None:
    """Nothing is recorded of it till then."""
    found = hear(text, EARS)
    assert not found.drafts and asked in found.open[0].ask


@pytest.mark.parametrize("text", ["picked 2 figs: one ripe and one split", "2 figs on the wall fig: 3 cm and 4 cm"])
def test_fruit_makes_no_new_tree(text: str) -> None:
    """Two figs in the hand are no two trees."""
    assert not [values for kind, values in heard(text) if kind == "plant"]


@pytest.mark.parametrize(
    ("text", "roof"),
    [
        ("garage is where the pots winter, dark, no heat", "shelter"), ("the garage is a dark shelter", "shelter"),
        ("hoop house is unheated plastic", "unheated glass"), ("the hoop house is a heated greenhouse", "heated glass"),
    ],
)  # fmt: skip
def test_a_roof_is_told_as_what_the_spot_is(text: str, roof: str) -> None:
    """Beside a shed is under none."""
    ((kind, values),) = heard(text)
    assert (kind, values["under_cover"]) == ("spot", roof)
    assert "under_cover" not in dict(heard("low bed is low-lying, beside the shed"))["spot"]


def test_a_wall_is_of_what_it_is_said_to_be() -> None:
    """Brick is the wall's, and it faces as the spot does; a bed of stone is none."""
    ((_, values),) = heard("south wall is brick, faces south")
    assert (values["wall_material"], values["wall_side"]) == ("brick", "S")
    assert heard("low bed is wood chips") == []


def test_a_depth_told_first_is_of_all_readings() -> None:
    """It stands before the first place."""
    rows = heard("soil 10cm south wall 14 porch 11 low bed 9")
    assert [(v["spot"], v["depth_cm"]) for _, v in rows] == [("south wall", 10), ("porch", 10), ("low bed", 10)]


def test_inches_of_chips_are_inches() -> None:
    """Where inches are meant, "4 in wood chips" is a depth."""
    us = replace(EARS, yard=replace(EARS.yard, us=True))
    ((kind, values),) = heard("put 4 in wood chips on the low bed yesterday", us)
    assert (kind, values["spot"], values["depth_cm"]) == ("cover", "low bed", 10.2)


def test_a_forecast_behind_a_question_is_recorded() -> None:
    """The night is asked about with the figure that is told for it."""
    for text in ("is the wall fig ok tonight, -3 forecast and clear", "will it freeze tonight? calling for -3"):
        found = hear(text, EARS)
        assert [(draft.kind, draft.values["min_c"]) for draft in found.drafts] == [("forecast_day", -3)] and found.asks
