"""How a message is taken apart: sentences and questions, whom it speaks of, what is not to be recorded, corrections."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.config import find_rules
from advisor.language.said.corrected import changed_values, read_correction
from advisor.language.said.hear import hear
from advisor.language.said.pieces import sentences
from advisor.language.said.subjects import find_subjects
from advisor.language.said.unit import Ears
from advisor.language.said.yard import Yard, YardPlant, YardSpot
from advisor.records.kinds import load_kinds
from advisor.records.stage_words import load_stage_words
from advisor.records.talk_words import load_talk_words

RULES = find_rules()
TALK, STAGES, KINDS = load_talk_words(RULES), load_stage_words(RULES), load_kinds(RULES)
NOW = datetime(2026, 4, 24, 18, tzinfo=ZoneInfo("Europe/Vienna"))
PLANTS = [
    YardPlant("wall fig", "fig", "south wall", "Verdino"), YardPlant("porch fig", "fig", "porch bed"),
    YardPlant("porch fig two", "fig", "shed", in_pot=True, under_cover=True, outdoor_spot="terrace"),
    YardPlant("tall pot", "fig", "shed", in_pot=True, under_cover=True),
    YardPlant("small pot 1", "fig", "terrace", in_pot=True), YardPlant("small pot 3", "fig", "terrace", in_pot=True),
    YardPlant("gate peach", "peach", "gate"), YardPlant("old pear", "pear", "orchard"),
    YardPlant("family apple", "apple", "orchard"), YardPlant("family apple red limb", "apple", "orchard"),
]  # fmt: skip
SPOTS = [
    YardSpot("south wall"), YardSpot("porch bed", material="wood chips", cover_row=4), YardSpot("shed", shelter=True),
    YardSpot("shed bed"), YardSpot("gate"), YardSpot("orchard"), YardSpot("terrace"),
]  # fmt: skip
SPECIES = [
    ("fig", ("fig", "figs")),
    ("peach", ("peach", "peaches")),
    ("pear", ("pear", "pears")),
    ("apple", ("apple", "apples")),
]
MATERIALS = [("wood chips", ("chips", "wood chip")), ("straw", ()), ("leaves", ()), ("bare", ("bare soil",))]


def ears(us: bool = False, spoken: tuple[str, ...] = ()) -> Ears:
    yard = Yard(PLANTS, SPOTS, SPECIES, MATERIALS, us=us, spoken_plants=spoken)
    return Ears(yard, TALK, STAGES, NOW, not us)


def heard(text: str, **more: Any) -> list[tuple[str, dict[str, Any]]]:
    return [(draft.kind, dict(draft.values)) for draft in hear(text, ears(**more)).drafts]


@pytest.mark.parametrize(
    ("text", "asked"),
    [
        ("why is the wall fig late", ["why is the wall fig late"]),
        ("12 C at the porch bed why is the fig asleep", ["why is the fig asleep"]),
        ("wall fig swelling. is it late?", ["is it late"]),
        ("the shed fig is late, why?", ["the shed fig is late, why"]),
        ("watered tall pot, what next", ["what next"]),
        ("the tall pot, in the shed, is still asleep", []),
        ("was going to water the tall pot", []),
        ("did I water the tall pot?", ["did I water the tall pot"]),
        ("soil 4 in. down: south wall 60", []),
    ],
)
def test_questions_are_told_from_statements(text: str, asked: list[str]) -> None:
    """By how they begin, by their mark, or where they begin in mid-sentence; an abbreviation ends no sentence."""
    assert [piece.text for piece in sentences(text, TALK) if piece.asks] == asked


@pytest.mark.parametrize(
    ("text", "names"),
    [
        ("porch fig two swelling", ["porch fig two"]),
        ("wall fig and porch fig swelling", ["wall fig", "porch fig"]),
        ("wal fig, prch fig two", ["wall fig", "porch fig two"]),
        ("the peach by the gate", ["gate peach"]),
        ("the Verdino", ["wall fig"]),
        ("red limb", ["family apple red limb"]),
        ("small pots 1 and 3", ["small pot 1", "small pot 3"]),
        ("blk pot", []),
        ("tll pot", ["tall pot"]),
        ("fig in the orchard", []),
        ("apple mint", []),
    ],
)
def test_names_are_found(text: str, names: list[str]) -> None:
    """Whole, listed, misspelt by a slip, described by place or cultivar, by their last words, by numbers."""
    found = find_subjects(text, ears().yard)
    assert [name for one in found.plants if one.sure for name in one.names] == names


@pytest.mark.parametrize(
    ("text", "names"),
    [
        ("all figs except the wall fig", {"porch fig", "porch fig two", "tall pot", "small pot 1", "small pot 3"}),
        ("all pots but small pot 3", {"porch fig two", "tall pot", "small pot 1"}),
        ("both apples", {"family apple", "family apple red limb"}),
        ("the small ones", {"small pot 1", "small pot 3"}),
    ],
)
def test_groups_and_exceptions(text: str, names: set[str]) -> None:
    """All of a kind, or of the pots, less what is excepted."""
    (one,) = [one for one in find_subjects(text, ears().yard).plants if one.sure]
    assert set(one.names) == names


@pytest.mark.parametrize("text", ["the fig", "both figs", "wall fig or porch fig", "the three small pots"])
def test_what_may_mean_several_is_not_sure(text: str) -> None:
    """One fig of six, both of six, one or the other, three of two: nothing is taken."""
    assert not any(one.sure for one in find_subjects(text, ears().yard).plants)


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("going to prune the old pear", "intends"), ("my neighbour's fig is out", "heard"), ("didn't water the tall pot", "not_done"),
        ("I wish the gate peach were in full bloom", "wishes"), ("I think the wall fig is dead", "doubts"), ("tomorrow the pots go out", "intends"),
    ],
)  # fmt: skip
def test_what_is_not_so_is_noted_and_not_recorded(text: str, why: str) -> None:
    """Plans, hearsay, what was left undone, wishes and doubts."""
    found = hear(text, ears())
    assert found.drafts == [] and found.noted == [why]


def test_one_left_undone_does_not_hide_what_was_done() -> None:
    """Each part of a sentence stands for itself."""
    assert heard("watered tall pot, didn't water the small pots") == [
        ("work", {"plant": "tall pot", "on": date(2026, 4, 24), "what": "watered"})
    ]


@pytest.mark.parametrize(
    "text",
    ["12 at the south wall", "soil 70 at the gate", "soil 12 at 4 in the gate", "soil 12 to 14 at the gate", "moved wall fig to the shed",
     "moved tall pot to the cellar", "wall fig swelling tomorrow", "watered the big fig"],
)  # fmt: skip
def test_what_is_not_clear_is_asked_and_not_recorded(text: str) -> None:
    """Soil or air, a figure that cannot be, a figure that may be a depth or an hour, a range, a tree in the ground that
    was moved, an unknown place, a day to come, a plant that is not there."""
    found = hear(text, ears())
    assert found.drafts == [] and found.open


def test_a_unit_is_the_place_s_unless_told() -> None:
    """54 in a US garden is °F, 12C there is °C; in a metric one 54 is asked about."""
    assert heard("soil 54 at the gate", us=True)[0][1]["temp_c"] == pytest.approx(12.22, abs=0.01)
    assert heard("soil 12C at the gate", us=True)[0][1]["temp_c"] == 12
    assert hear("soil 54 at the gate", ears()).open


def test_a_cover_taken_off_ends_the_one_that_lay_there() -> None:
    """The old row gets its last day, and the soil is bare from then on."""
    found = hear("raked the chips off the porch bed yesterday", ears()).drafts
    assert [(d.replaces, d.values.get("taken_off"), d.values.get("material")) for d in found] == [
        (4, date(2026, 4, 23), None), (0, None, "bare"),
    ]  # fmt: skip


def test_a_head_holds_for_all_that_follows() -> None:
    """ "Soil at 10 cm:" is said of each spot after it."""
    rows = heard("soil at 10 cm, sun: south wall 14.8, gate 11")
    assert [(v["spot"], v["temp_c"], v["depth_cm"], v["sky"]) for _, v in rows] == [
        ("south wall", 14.8, 10, "sun"),
        ("gate", 11, 10, "sun"),
    ]


def test_it_is_what_was_spoken_of() -> None:
    """In the same message or the one before."""
    assert heard("watered it", spoken=("tall pot",))[0][1]["plant"] == "tall pot"
    assert heard("wall fig swelling. pinched it")[-1][1] == {
        "plant": "wall fig",
        "on": date(2026, 4, 24),
        "what": "pinched",
    }
    assert hear("watered it", ears(spoken=("tall pot", "wall fig"))).drafts == []


@pytest.mark.parametrize(
    ("text", "changes"),
    [
        ("that was Tuesday", {"at": datetime(2026, 4, 21, 18, tzinfo=NOW.tzinfo)}), ("I meant the gate", {"spot": "gate"}),
        ("14", {"temp_c": 14.0}), ("14 not 12", {"temp_c": 14.0}), ("15 cm", {"depth_cm": 15.0}), ("in the shade", {"sky": "shade"}),
    ],
)  # fmt: skip
def test_a_correction_changes_what_it_names(text: str, changes: dict[str, Any]) -> None:
    """Day, spot, figure, depth or sky; the rest of the record stays."""
    row = {"spot": "south wall", "temp_c": 12.0, "depth_cm": 10.0, "at": NOW, "sky": "sun"}
    done = changed_values(KINDS["soil_reading"], row, read_correction(text, ears()), ears())
    assert done == {**row, **changes}


@pytest.mark.parametrize("text", ["that was tomorrow", "I meant porch fig or wall fig", "12 and 14"])
def test_a_correction_that_is_not_clear_changes_nothing(text: str) -> None:
    """A day to come, two plants, two figures."""
    changes = read_correction(text, ears())
    row = {"spot": "south wall", "temp_c": 12.0, "at": NOW}
    assert changes.ask or isinstance(changed_values(KINDS["soil_reading"], row, changes, ears()), str)


@settings(max_examples=150, deadline=None)
@given(st.lists(st.sampled_from(
    ["wall", "fig", "porch", "two", "tall", "pot", "small", "1", "3", "gate", "peach", "swelling", "12", "C", "-2", "10", "cm", "soil", "air", "sun", ",", ".", "and", "or", "not", "except", "all", "moved", "to", "the", "shed", "chips", "off", "watered", "pinched", "tonight", "clear", "evening", "dew", "point", "leaves", "buds", "nodes", "cut", "brown", "yesterday", "at", "new", "plant", "call", "it"]
), max_size=25))  # fmt: skip
def test_any_words_in_any_order_are_heard(words: list[str]) -> None:
    """Nothing raises, and what is logged names plants and spots that are there."""
    found = hear(" ".join(words), ears())
    names = {plant.name for plant in PLANTS} | {spot.name for spot in SPOTS}
    for draft in found.drafts:
        assert draft.kind in KINDS
        if draft.kind not in ("plant", "spot"):
            assert {draft.values[key] for key in ("plant", "spot", "to_spot") if key in draft.values} <= names


@pytest.mark.parametrize(
    "text",
    ["fig " * 2500, "1 2 3 " * 1700, "and or , " * 1200, "(((((" * 2000, "\U0001f33f" * 10000, "\u202ewall fig" * 900],
)
def test_a_flood_of_words_comes_back(text: str) -> None:
    """Ten thousand letters are read, of which the first four thousand count; a pattern that ran away would hang here."""
    assert len(hear(text, ears()).drafts) < 50


@pytest.mark.parametrize(
    ("text", "missing"),
    [
        ("watered the old pear and the quince", "quince"),
        ("the medlar and the old pear in full bloom", "medlar"),
        ("pruned the old pear, my olive and the gate peach", "olive"),
    ],
)
def test_what_a_list_names_that_is_not_in_the_garden_is_named(text: str, missing: str) -> None:
    """The rest is recorded, and nothing is dropped without a word."""
    found = hear(text, ears())
    assert found.drafts[0].values["plant"] == "old pear"
    assert [missing in one.ask for one in found.open] == [True]


@pytest.mark.parametrize(
    "text",
    [
        "at Anna's place the old pear is in full bloom", "her old pear is in full bloom", "no mice damage on the old pear",
        "pruned the old pear on 40 March", "pruned the old pear 12.3.", "pruned the old pear or the gate peach",
        "one of the small pots is awake", "neither the old pear nor the gate peach has been pruned",
        "full bloom, said the neighbour about her old pear", "I need straw for the shed bed, 8 cm",
    ],
)  # fmt: skip
def test_what_is_not_the_grower_s_own_or_not_so_is_not_recorded(text: str) -> None:
    assert heard(text) == []


@pytest.mark.parametrize(
    ("text", "at"),
    [
        ("24 Apr, 14:10. Soil, orchard, 10 cm: 14.6 °C.", "2026-04-24T14:10"),
        ("soil at 10 cm, all at 15:00 today: orchard 12.9", "2026-04-24T15:00"),
        ("yesterday at 14 o'clock the soil of the orchard had 13,5 °C in 10 cm", "2026-04-23T14:00"),
    ],
)
def test_a_time_told_anywhere_holds(text: str, at: str) -> None:
    [(kind, values)] = heard(text)
    assert (kind, values["spot"], values["depth_cm"]) == ("soil_reading", "orchard", 10)
    assert values["at"].isoformat()[:16] == at


def test_a_length_said_of_both_is_of_both() -> None:
    rows = heard("soil orchard 9.7 gate 12.1 both 10cm")
    assert [(v["spot"], v["temp_c"], v["depth_cm"]) for _, v in rows] == [("orchard", 9.7, 10), ("gate", 12.1, 10)]


def test_a_new_plant_at_a_place_that_is_not_known_is_asked_about() -> None:
    """Its spot is not dropped without a word."""
    found = hear("planted an Asian pear by the west fence, call it Hana", ears())
    assert not found.drafts and "west fence" in found.open[0].ask
    [(kind, values)] = heard("planted an Asian pear at the orchard, call it Hana")
    assert (kind, values["spot"]) == ("plant", "orchard") and "cultivar" not in values


def test_all_pots_in_tonight_is_all_of_them() -> None:
    rows = heard("all pots in tonight")
    assert {values["plant"] for _, values in rows} >= {"small pot 1", "small pot 3"}
    assert {values["to_spot"] for _, values in rows} == {"shed"}


@pytest.mark.parametrize(
    ("text", "side"),
    [
        ("side shoots on the wall fig have 3 leaves", True),
        ("wall fig side-shoot 12 cm, 3 leaves", True),
        ("wall fig shoot 12 cm, 3 leaves", None),
        ("shoots on the sunny side of the wall fig have 3 leaves", None),
    ],
)
def test_a_side_shoot_is_kept_apart_from_a_shoot(text: str, side: bool | None) -> None:
    """What grew below a pinched tip is recorded as that, so that it is not taken for a young first shoot."""
    ((kind, values),) = heard(text)
    assert (kind, values["leaves"], values.get("side_shoot")) == ("growth", 3, side)


@pytest.mark.parametrize("text", ["leaves off the porch fig too", "small pot 1 has still got green leaves"])
def test_leaves_on_a_plant_or_fallen_from_it_are_no_mulch(text: str) -> None:
    """A tree's own leaves make no cover of the soil under it, nor does their fall bare it."""
    assert not heard(text)


@pytest.mark.parametrize("text", ["raked the leaves off the porch fig", "put leaves round the wall fig"])
def test_leaves_that_somebody_moved_are_a_cover(text: str) -> None:
    """Raked off, or put round a plant, they are a mulch of the spot it stands at."""
    assert {kind for kind, _ in heard(text)} == {"cover"}


def test_a_soil_reading_of_an_hour_to_come_is_no_forecast() -> None:
    """Told at six in the evening: soil at eight is a slip in the hour, so it is asked and not kept as a forecast."""
    for text in (
        "soil orchard 7.2, about 8 in the evening",
        "soil orchard 7.2, gate 5.1, both 10 cm deep, at 8 in the evening",
    ):
        found = hear(text, ears())
        assert "forecast_day" not in {draft.kind for draft in found.drafts} and found.open


def test_an_hour_told_roughly_is_no_reading() -> None:
    """The figure of "around 3 in the afternoon" is the hour, and not a second temperature."""
    ((kind, values),) = heard("soil orchard 7.2, around 3 in the afternoon")
    assert (kind, values["temp_c"], values["at"].hour) == ("soil_reading", 7.2, 15)


@pytest.mark.parametrize(
    "text",
    [
        "did the frost hurt the gate peach", "has the frost hurt the gate peach", "was the gate peach pruned",
        "were the pots watered yesterday", "has the wall fig been fed", "was the wall fig at bud break on Monday",
    ],
)  # fmt: skip
def test_a_question_without_its_mark_records_nothing(text: str) -> None:
    """Wet hands leave out the question mark."""
    assert not heard(text)


def test_a_word_within_a_name_says_nothing_of_the_reading() -> None:
    """Soil read at the low bed is soil, and no low of the air."""
    with_low = Yard([], [*SPOTS, YardSpot("low bed")], SPECIES, MATERIALS)
    (draft,) = hear("soil at the low bed 4 at 10 cm", Ears(with_low, TALK, STAGES, NOW, day_first=True)).drafts
    assert (draft.kind, draft.values["spot"]) == ("soil_reading", "low bed")


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("soil back bed 4.9 yesterday at 10 cm, south wall 6.8", [("south wall", 6.8, 23)]),
        ("soil 4.9, south wall 6.8", [("south wall", 6.8, 24)]),
        ("soil shed bed 4.9 yesterday, south wall 6.8", [("shed bed", 4.9, 23), ("south wall", 6.8, 23)]),
        ("soil shed bed 4.9 yesterday, south wall 6.8 today", [("shed bed", 4.9, 23), ("south wall", 6.8, 24)]),
        ("soil 8 at 5 cm, 7.1 at 20 cm at the south wall", [("south wall", 8.0, 24), ("south wall", 7.1, 24)]),
    ],
)
def test_two_readings_are_of_two_places_and_of_one_time(text: str, told: list[tuple[str, float, int]]) -> None:
    """A figure never goes to the place of the next one, but at another depth; a time that begins a row holds for it."""
    found = [(values["spot"], values["temp_c"], values["at"].day) for _, values in heard(text)]
    assert found == told


@pytest.mark.parametrize(
    "text",
    [
        "air at the orchard 3.1 at 9 pm", "orchard air 3.1 21:00", "orchard 3.1 at 9pm", "air temp at the gate 6 C at 22:00",
        "min at the gate -1.2 at 10 pm", "max at the terrace 19 at 9 pm", "orchard air 38F at 9 pm", "air 3.1 at 9 pm",
        "it was 3.1 at 21:00", "tonight at 9 it was 3.1 at the orchard", "tonight at 9 it was 3.1",
        "measured 3.1 at the orchard tonight", "thermometer says -1 at the gate tonight", "got down to -2 at the gate tonight",
        "small pot 1 soil 9.5 at 9 pm", "tall pot 9.5 at 9 pm", "at the orchard, 3.1 at 9 pm", "air at the orchard 3.1 tomorrow",
        "-2 at the gate tonight", "at 9 pm air orchard 3.1, gate 2.2",
    ],
)  # fmt: skip
def test_what_is_read_at_a_spot_is_no_forecast(text: str) -> None:
    """Told at six in the evening: a thermometer tells what was, so an hour to come is asked about and never foretells."""
    found = hear(text, ears())
    assert not found.drafts and found.open
    ways = [way for one in found.open for way in one.ways if "foretold" not in way.text]
    assert "forecast_day" not in {draft.kind for way in ways for draft in way.drafts}


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("-2 tonight, clear", {"min_c": -2, "sky": "clear"}),
        ("forecast -2 at the orchard tonight", {"min_c": -2}),
        ("the app says -1 tonight at the gate", {"min_c": -1}),
        ("-1 at 11 tonight", {"min_c": -1}),
        ("they give a low of 1 for the orchard tonight", {"min_c": 1}),
    ],
)
def test_what_is_foretold_stays_a_forecast(text: str, values: dict[str, Any]) -> None:
    """A night to come with no place, or words that foretell."""
    ((kind, told),) = heard(text)
    assert kind == "forecast_day" and told.items() >= values.items()


def test_an_evening_reading_of_an_hour_to_come_may_be_yesterday_s_or_of_just_now() -> None:
    """The ways put back are readings at the spot, the evening before or now."""
    ways = hear("air at the orchard 3.1 at 9 pm", ears()).open[0].ways
    assert [(d.kind, d.values["spot"], str(d.values["at"])[:16]) for way in ways for d in way.drafts] == [
        ("weather_hour", "orchard", "2026-04-23 21:00"),
        ("weather_hour", "orchard", "2026-04-24 18:00"),
    ]


def test_a_forecast_of_an_evening_hour_is_neither_high_nor_low_by_itself() -> None:
    """Which of both it is, is asked; either way it is a forecast."""
    found = hear("forecast 3.1 at 9 pm", ears())
    kinds = [(draft.kind, "min_c" in draft.values) for way in found.open[0].ways for draft in way.drafts]
    assert not found.drafts and kinds == [("forecast_day", True), ("forecast_day", False)]


@pytest.mark.parametrize(
    "text",
    [
        "the red limb of the family apple is swelling", "red limb on the family apple swelling",
        "the family apple's red limb is swelling", "family apple: red limb swelling", "on the family apple the red limb is swelling",
    ],
)  # fmt: skip
def test_a_limb_of_a_tree_is_not_the_whole_tree(text: str) -> None:
    """A tree named only to say whose limb it is gets no stage of its own."""
    assert [values["plant"] for _, values in heard(text)] == ["family apple red limb"]


def test_a_limb_of_no_such_name_is_asked_about() -> None:
    """The limbs that there are, are put back; nothing is recorded of the whole tree."""
    found = hear("the green limb on the family tree has buds swelling", ears())
    assert not found.drafts and [way.text for way in found.open[0].ways] == ["family apple red limb"]


@pytest.mark.parametrize(
    ("text", "felt"),
    [
        ("tall pot feels light and the top is dry", "dry"), ("small pot 1 is light as anything", "dry"),
        ("tall pot bone dry", "dry"), ("small pot 3 is dry", "dry"), ("tall pot: dry on top, damp below", "moist"),
        ("small pot 1 dry on top but moist a finger down", "moist"),
    ],
)  # fmt: skip
def test_the_weight_of_a_pot_and_what_lies_below_its_top_tell_its_root_ball(text: str, felt: str) -> None:
    """A light pot is dry through; of a dry top and a damp ball the ball counts."""
    ((kind, values),) = heard(text)
    assert (kind, values["root_ball"]) == ("inspection", felt)


@pytest.mark.parametrize(
    "text", ["tall pot top is dry", "the top of the tall pot compost is dry", "small pot 1 dry on top"]
)
def test_a_dry_top_alone_is_no_dry_root_ball(text: str) -> None:
    """The top dries in a day of wind, so how the ball feels below is asked."""
    found = hear(text, ears())
    assert not found.drafts and {w.drafts[0].values["root_ball"] for w in found.open[0].ways} == {"dry", "moist"}


@pytest.mark.parametrize("text", ["took the lower leaves off the wall fig", "stripped the leaves off the porch fig"])
def test_leaves_taken_off_a_plant_do_not_bare_its_spot(text: str) -> None:
    """They may be the plant's own, so it is asked which."""
    found = hear(text, ears())
    assert not found.drafts and found.open


@pytest.mark.parametrize(
    "text",
    ["leaves off the wall fig", "the porch fig dropped its leaves last week", "leaf drop on the wall fig", "wall fig lost all its leaves"],
)  # fmt: skip
def test_leaf_fall_is_asked_about_with_what_can_be_told(text: str) -> None:
    """No stage of leaf fall is kept, and the reply says what may be told in its place."""
    found = hear(text, ears())
    assert not found.drafts and "leaf fall" in found.open[0].ask
