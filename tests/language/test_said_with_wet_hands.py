"""Messages of the yard that are easily taken for something else: nothing wrong is recorded, and what is open is asked."""

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
PLANTS = [
    YardPlant("wall fig", "fig", "south wall"), YardPlant("porch fig", "fig", "porch"),
    YardPlant("porch fig two", "fig", "porch", in_pot=True, outdoor_spot="porch"), YardPlant("bench fig", "fig", "porch"),
    YardPlant("tall pot", "fig", "terrace", in_pot=True, outdoor_spot="terrace"), YardPlant("new fig", "fig", "bank"),
    YardPlant("family apple", "apple", "bank"), YardPlant("family apple low limb", "apple", "bank"),
    YardPlant("family apple top limb", "apple", "bank"), YardPlant("gate peach", "peach", "gate"),
    YardPlant("bank peach", "peach", "bank"),
]  # fmt: skip
SPOTS = [YardSpot(name) for name in ("south wall", "porch", "terrace", "bank", "gate")]
SPOTS += [YardSpot("shed bed", material="wood chips", cover_row=4), YardSpot("store", shelter=True)]
SPECIES = [
    ("fig", ("fig", "figs")),
    ("apple", ("apple", "apples")),
    ("peach", ("peach", "peaches")),
    ("pear", ("pear", "pears")),
]
MATERIALS = [("wood chips", ("chips",)), ("straw", ()), ("leaves", ())]
EARS = Ears(
    Yard(PLANTS, SPOTS, SPECIES, MATERIALS), load_talk_words(RULES), load_stage_words(RULES), NOW, day_first=True
)


def heard(text: str) -> list[tuple[str, dict[str, Any]]]:
    return [(draft.kind, dict(draft.values)) for draft in hear(text, EARS).drafts]


@pytest.mark.parametrize(
    "text",
    [
        "porch figs both awake", "two new figs at the porch", "got 12 figs today", "12 figs on the wall fig",
        "raked the chips back on the shed bed to half", "mulched the gate with straw 10", "wall fig dead above 30 cm",
        "air at the gate 3.1 2130",
    ],
)  # fmt: skip
def test_what_may_be_read_in_more_than_one_way_is_asked(text: str) -> None:
    """Not all figs of the garden, no crop of each, no bare bed, no reading of the soil, no tree killed, no other hour."""
    found = hear(text, EARS)
    assert not found.drafts and found.open


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("porch fig awake, porch fig two not yet", {"porch fig": "awake", "porch fig two": "not awake"}),
        ("wall fig awake but the bench fig isn't", {"wall fig": "awake", "bench fig": "not awake"}),
        ("gate peach pink bud, bank peach not yet", {"gate peach": "pink bud"}),
        ("family apple low limb pink bud, the rest green cluster", {"family apple low limb": "pink bud"}),
    ],
)
def test_of_two_in_one_message_each_gets_its_own_stage(text: str, told: dict[str, str]) -> None:
    """What is not yet so of one is not denied of the other, and "the rest" is not the one named before."""
    assert {values["plant"]: values["words"] for _, values in heard(text)} == told


def test_in_again_goes_to_the_shelter_and_not_where_it_went_out_to() -> None:
    """Two moves in one message, each with its own way."""
    rows = heard("tall pot out to the porch yesterday, in again tonight")
    assert [(values["to_spot"], values["on"].day) for _, values in rows] == [("porch", 23), ("store", 24)]


def test_where_a_pot_is_tells_where_it_stands() -> None:
    """Asked where a pot stands, a grower says it so."""
    ((kind, values),) = heard("the tall pot is at the gate")
    assert (kind, values["plant"], values["to_spot"]) == ("move", "tall pot", "gate")


def test_who_is_left_out_by_a_name_is_known() -> None:
    """The exception of a group is no plant that the garden lacks."""
    found = hear("fed all figs but the wall fig", EARS)
    assert not found.open and "wall fig" not in {draft.values["plant"] for draft in found.drafts}


def test_the_low_of_a_day_past_is_of_its_morning() -> None:
    """A night is coldest at its end."""
    ((_, values),) = heard("low of -2 at the gate on Tuesday")
    assert values["at"].isoformat()[:16] == "2026-04-21T06:00"


def test_bark_told_in_one_run_is_kept_by_height() -> None:
    """One look a height, though no comma parts them."""
    rows = heard("scratched the wall fig brown at top green at base")
    assert [(values["scratch"], values["height"]) for _, values in rows] == [("brown", "tip"), ("green", "base")]


def test_a_depth_said_of_both_makes_two_bare_figures_readings() -> None:
    """Figures at two spots with one depth for both are soil."""
    rows = heard("south wall 12.4 gate 9.1 both 10 cm")
    assert [(k, v["spot"], v["temp_c"], v["depth_cm"]) for k, v in rows] == [
        ("soil_reading", "south wall", 12.4, 10), ("soil_reading", "gate", 9.1, 10),
    ]  # fmt: skip


@pytest.mark.parametrize("text", ["bench fig looks dead", "the bench fig seems quite dead"])
def test_what_looks_dead_is_not_killed(text: str) -> None:
    """A late fig looks so every spring, so a scratch of the bark is asked for."""
    found = hear(text, EARS)
    assert not found.drafts and "Scratch" in found.open[0].ask


@pytest.mark.parametrize("text", ["bench fig not dead, green under bark", "bench fig isn't dead, green under the bark"])
def test_what_is_not_dead_is_not_killed(text: str) -> None:
    """What was seen under the bark is kept, and no harm."""
    assert [(kind, values["scratch"]) for kind, values in heard(text)] == [("inspection", "green")]


def test_a_feed_for_three_trees_is_no_crop_of_three_fruits() -> None:
    """The count is of trees."""
    assert {(kind, values["what"]) for kind, values in heard("gave both peaches a feed")} == {("work", "fed")}


@pytest.mark.parametrize("text", ["brought in tall pot, porch fig two", "carried in the tall pot and porch fig two"])
def test_in_may_stand_before_who_came_in(text: str) -> None:
    """All that were brought in are at the shelter."""
    told = {(values["plant"], values["to_spot"]) for _, values in heard(text)}
    assert told == {("tall pot", "store"), ("porch fig two", "store")}


def test_covered_is_asked_with_what() -> None:
    """Told at dusk a cloth is meant, in autumn a mulch may be."""
    found = hear("covered the gate peach", EARS)
    assert not found.drafts and [w.drafts[0].values["what"] for w in found.open[0].ways] == ["wrapped"]


@pytest.mark.parametrize(
    "text",
    ["frost on the windscreen this morning, tall pot was out", "ice on the water butt", "white frost on the lawn"],
)
def test_frost_seen_on_what_is_no_plant_hurts_none(text: str) -> None:
    """That it froze is no harm to a plant named beside it."""
    assert heard(text) == []


@pytest.mark.parametrize(
    "text", ["hard frost on the lawn, gate peach blossom is brown", "frost on the roof, gate peach leaves gone black"]
)
def test_what_frost_did_beside_is_harm(text: str) -> None:
    """Where something turned brown or black, that is harm, whatever else was white."""
    assert [(kind, values["plant"], values["cause"]) for kind, values in heard(text)] == [
        ("harm", "gate peach", "frost")
    ]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("tall pot: root ball dry, gave it 5 litres", [("inspection", "dry"), ("work", "watered")]),
        ("gave the tall pot two buckets", [("work", "watered")]),
        ("gave the tall pot 3 litres of tomato feed", [("work", "fed")]),
    ],
)
def test_litres_given_are_water_unless_they_are_feed(text: str, told: list[tuple[str, str]]) -> None:
    """What was given after a look is recorded beside the look."""
    assert [(kind, values.get("root_ball") or values["what"]) for kind, values in heard(text)] == told


def test_the_unit_of_one_figure_of_a_row_is_that_of_all() -> None:
    """Read with one thermometer; a depth at one of them makes all of them soil."""
    rows = heard("gate reads 38F at 4 inch, bank 47")
    assert [(kind, v["spot"], round(v["temp_c"], 1), "depth_cm" in v) for kind, v in rows] == [
        ("soil_reading", "gate", 3.3, True), ("soil_reading", "bank", 8.3, False),
    ]  # fmt: skip


def test_hour_and_sky_said_of_both_are_of_both() -> None:
    """What ends a row of readings holds for each of them."""
    rows = heard("south wall 14.2 gate 12.0 both 10cm 3pm sunny")
    assert [(v["spot"], v["at"].hour, v["sky"], v["depth_cm"]) for _, v in rows] == [
        ("south wall", 15, "sun", 10), ("gate", 15, "sun", 10),
    ]  # fmt: skip


@pytest.mark.parametrize("text", ["soil in the tall pot 13", "tall pot's pot 13 in the soil", "tall pot 13, soil"])
def test_a_figure_after_a_pot_s_name_is_a_temperature(text: str) -> None:
    """No plant here is called by a number, so it is not the thirteenth pot."""
    ((kind, values),) = heard(text)
    assert (kind, values["plant"], values["temp_c"]) == ("soil_reading", "tall pot", 13)


@pytest.mark.parametrize("text", ["the gate peach dropped its petals", "gate peach has lost all its petals"])
def test_petals_that_are_gone_end_the_bloom(text: str) -> None:
    """BBCH 69, the end of flowering (Meier (ed.), BBCH Monograph, 2nd ed., 2001)."""
    ((kind, values),) = heard(text)
    assert (kind, values["bbch"]) == ("stage", 69)


def test_a_frozen_night_is_of_the_air() -> None:
    """So cold is hardly the soil, and a night is coldest at its end."""
    ((kind, values),) = heard("it was minus 3 at the gate last night")
    assert (kind, values["spot"], values["temp_c"], values["at"].hour) == ("weather_hour", "gate", -3, 6)
    found = hear("it was 3 at the gate last night", EARS)
    assert not found.drafts and found.open


def test_pots_that_came_in_go_out_again_to_where_they_stood() -> None:
    """Told in one breath; where one stood is not known, so it is asked of that one alone."""
    found = hear("brought the tall pot and porch fig two in last night, out again this morning", EARS)
    told = [(d.values["plant"], d.values["to_spot"], d.values["on"].day) for d in found.drafts]
    assert told == [
        ("tall pot", "store", 23), ("porch fig two", "store", 23), ("tall pot", "terrace", 24), ("porch fig two", "porch", 24),
    ]  # fmt: skip
    nowhere = YardPlant("old tub", "fig", "", in_pot=True)
    ears = replace(EARS, yard=replace(EARS.yard, plants=[*PLANTS, nowhere]))
    found = hear("brought the tall pot and the old tub in last night, out again this morning", ears)
    assert [d.values["plant"] for d in found.drafts if d.values["to_spot"] == "terrace"] == ["tall pot"]
    assert [one.ask for one in found.open] == ["To which spot went the old tub?"]


@pytest.mark.parametrize("text", ["wall fig shoots 12 15 and 9 cm", "shoots of the wall fig: 12, 15, 9 cm"])
def test_several_shoots_are_told_one_by_one(text: str) -> None:
    """A record holds one shoot, and no figure is taken for a temperature."""
    found = hear(text, EARS)
    assert not found.drafts and "one by one" in found.open[0].ask


def test_everything_is_asked_back_with_what_it_may_be() -> None:
    """All the pots, or every plant."""
    ways = hear("watered everything", EARS).open[0].ways
    assert [(way.text, len(way.drafts)) for way in ways] == [("all the pots", 2), ("every plant", len(PLANTS))]


def test_fruit_that_split_is_no_other_count() -> None:
    """Three were picked, one of them split."""
    ((kind, values),) = heard("3 figs off the wall fig, 1 split")
    assert (kind, values["fruits"]) == ("crop", 3)


def test_pots_brought_in_the_store_went_there() -> None:
    """Said with a verb that carries, "in the store" is where all of them went, and not which of them are meant."""
    rows = heard("brought all pots in the store")
    assert {(values["plant"], values["to_spot"]) for _, values in rows} == {
        ("tall pot", "store"), ("porch fig two", "store"),
    }  # fmt: skip


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("wall fig 5 lvs bench fig 7 lvs porch fig 6", [("wall fig", "leaves", 5), ("bench fig", "leaves", 7), ("porch fig", "leaves", 6)]),
        ("wall fig 5 leaves, bench fig 7", [("wall fig", "leaves", 5), ("bench fig", "leaves", 7)]),
        ("bench fig shoots 40 cm porch fig 25 cm", [("bench fig", "shoot_cm", 40), ("porch fig", "shoot_cm", 25)]),
        ("wall fig 5 leaves 14 cm shoots", [("wall fig", "leaves", 5)]),
    ],
)  # fmt: skip
def test_each_fig_has_the_leaves_and_shoots_told_after_it(text: str, told: list[tuple[str, str, float]]) -> None:
    """A row of figs and figures without a comma is no one figure for all of them."""
    assert [
        (values["plant"], field, values[field]) for (_, values), (_, field, _) in zip(heard(text), told, strict=True)
    ] == told


@pytest.mark.parametrize(
    ("text", "plants"),
    [
        ("watered the pots not the porch fig two", {"tall pot"}),
        ("pinched the wall fig not the bench fig", {"wall fig"}),
        ("fed all peaches but not the bank peach", {"gate peach"}),
    ],
)
def test_who_stands_after_a_not_is_left_out(text: str, plants: set[str]) -> None:
    """Of a group, or of two that are named."""
    assert {values["plant"] for _, values in heard(text)} == plants


@pytest.mark.parametrize(
    ("text", "kinds"),
    [
        ("thinned 60 fruits off the gate peach", {"work"}), ("thinned the gate peach to 40 fruit", {"work"}),
        ("a bird got 6 peaches off the gate peach", {"harm"}), ("hail knocked 20 peaches off the gate peach", set()),
        ("picked 20 peaches off the gate peach", {"crop"}),
    ],
)  # fmt: skip
def test_fruit_that_was_thinned_or_lost_is_no_crop(text: str, kinds: set[str]) -> None:
    """Only what was picked is."""
    assert {kind for kind, _ in heard(text)} == kinds


def test_what_was_done_to_something_else_is_not_done_to_the_next() -> None:
    """A rose is nothing of this garden: it is asked what was fed, and the fig was watered."""
    found = hear("fed the rose and watered the wall fig", EARS)
    assert [(d.values["plant"], d.values["what"]) for d in found.drafts] == [("wall fig", "watered")]
    assert found.open[0].ask == "Which plant was fed?"
    both = heard("raked the chips off the shed bed and watered the wall fig")
    assert ("work", "wall fig") in [(kind, values.get("plant")) for kind, values in both]


def test_flowers_cut_open_are_a_look_and_no_crop() -> None:
    """Twenty were cut and eight were brown."""
    ((kind, values),) = heard("gate peach: cut 20 flowers, 8 brown")
    assert (kind, values["buds_cut"], values["buds_dead"]) == ("inspection", 20, 8)
    assert not [values for kind, values in heard("cut open 20 peach flowers, 8 brown") if kind == "crop"]
