"""Questions as they are asked with wet hands, in the demo garden: the answer is to what was asked."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from tests_shared import NOON

from advisor.conversation import Adviser
from advisor.records.store import NewRow, Said

Ask = Callable[[str], dict[str, Any]]


@pytest.mark.parametrize(
    "text", ["which of the pots wants water first", "must I water the tub", "are the pots thirsty"]
)
def test_who_wants_water_is_told_by_the_watering_alone(ask: Ask, text: str) -> None:
    """The driest pot first, and no other work; nothing of it is taken for a plan."""
    reply = ask(text)
    claims = [one["claim"] for one in reply["conclusions"]]
    assert reply["outcome"] == "answered" and reply["question"] == {"kind": "what-next"}
    assert claims and {claim.split("-")[0] for claim in claims} <= {"soak", "water", "drink", "let"}
    assert reply["conclusions"][0]["about"] == {"plant": "store fig"} and "what next" in reply["reply"]


def test_a_deed_that_nothing_calls_for_is_said_so_with_the_rest(ask: Ask) -> None:
    """Where no task is the deed asked about, the week's work is told after that."""
    reply = ask("should I wrap the figs")
    assert reply["reply"].startswith("Nothing in your records calls for wrapping now.") and reply["conclusions"]


@pytest.mark.parametrize(
    "text", ["is it worth moving the small pots in", "should the small pots go in", "can the small pots go out"]
)
def test_small_pots_are_pots_and_no_slip_of_a_name(ask: Ask, text: str) -> None:
    """Answered for all pots, though one plant is called nearly so."""
    reply = ask(text)
    assert (reply["outcome"], reply["question"]) == ("answered", {"kind": "pots-out"})
    assert len({one["about"]["plant"] for one in reply["conclusions"] if "plant" in one["about"]}) > 2


def test_why_a_bed_is_cold_is_answered_by_what_is_known_and_no_more(ask: Ask) -> None:
    """What lies on it and how it lies is told, what was read too, and that a reading proves no reason."""
    reply = ask("why is the shed bed cold")
    assert reply["question"] == {"kind": "compare-spots", "spots": ["shed bed"]}
    assert "not why" in reply["reply"] and "wood chips on shed bed" in reply["reply"]
    assert ask("is the shed bed cold, which spot is warmest")["outcome"] in ("answered", "asked-back")


def test_what_about_another_plant_asks_the_same_of_it(ask: Ask) -> None:
    """A question goes on from one plant to the next, and from all pots to one."""
    ask("why is the shed fig late?")
    assert ask("what about the lane fig")["question"] == {"kind": "why-late", "plant": "lane fig"}
    ask("can the pots go out yet?")
    assert ask("how about the store fig?")["question"] == {"kind": "pots-out", "plant": "store fig"}


@pytest.mark.parametrize(
    ("text", "spot", "temp_c"), [("no 11 not 9", "shed bed", 11), ("no the south wall was 13", "south wall", 13)]
)
def test_of_two_readings_the_one_that_is_named_or_denied_is_put_right(
    ask: Ask, adviser: Adviser, demo_copy: Path, text: str, spot: str, temp_c: float
) -> None:
    """The figure that was wrong, or the spot, tells which."""
    ask("soil shed bed 9, south wall 12, both 10 cm")
    (row,) = ask(text)["recorded"]
    with adviser.open(demo_copy) as garden:
        values = garden.values_of("soil_reading", row["id"])
    assert (values["spot"], values["temp_c"]) == (spot, temp_c)


@pytest.mark.parametrize(
    ("text", "outcome", "says"),
    [
        ("too late to plant a pear now?", "declined", "no rule"),
        ("how far is the wall fig beside last year", "declined", "records"),
        ("is the wall fig ahead of last year", "declined", "records"), ("12 mm rain", "noted", "Rain"),
        ("humidity at the hollow 80%", "noted", "dew point"), ("dug up the new fig", "noted", "under Records"),
    ],
)  # fmt: skip
def test_what_no_rule_or_record_is_there_for_is_said_with_what_is_nearest(
    ask: Ask, text: str, outcome: str, says: str
) -> None:
    """Nothing is guessed and nothing recorded."""
    reply = ask(text)
    assert (reply["outcome"], reply["recorded"]) == (outcome, []) and says in reply["reply"]


def test_a_question_after_a_forecast_is_read_with_it(ask: Ask) -> None:
    """ "Is it ok" means tonight, where a night was told in the same message."""
    reply = ask("-4 tonight clear no wind. is the gate apricot ok")
    assert reply["question"] == {"kind": "frost-tonight", "plant": "gate apricot"} and len(reply["recorded"]) == 1


@pytest.mark.parametrize(
    "text", ["how cold has it been this winter?", "how cold was the winter", "what was the coldest night this winter"]
)
def test_how_cold_a_winter_was_is_told_beside_earlier_ones(
    ask: Ask, adviser: Adviser, demo_copy: Path, text: str
) -> None:
    """The lowest minimum of the station since autumn, as the weather rows have it."""
    reply = ask(text)
    with adviser.open(demo_copy) as garden:
        days = [row for row in garden.of("weather_day") if row.get("on") and str(row.get("on")) >= "2025-11"]
    least = min(low for row in days if (low := row.number("min_c")) is not None)
    assert reply["question"] == {"kind": "winter-cold"} and f"{least:.1f}" in reply["reply"]


def test_one_plant_is_not_told_as_moving_and_at_rest_in_one_message(ask: Ask) -> None:
    """What names no plant goes on with those before it, so a clash is asked about and nothing recorded."""
    reply = ask("tall pot fig, black pot fig swelling; small asleep")
    assert (reply["outcome"], reply["recorded"]) == ("asked-back", []) and "by its own name" in reply["reply"]


def test_of_the_sun_only_the_sun_is_told(ask: Ask) -> None:
    """Who asks how much sun a spot gets is not told of soils."""
    reply = ask("how much sun does the porch get")
    assert {one["claim"] for one in reply["conclusions"]} == {"sun-counted"}
    assert reply["reply"].startswith("At the porch 7 hours of sun")


def test_the_coldest_is_told_to_who_asks_for_it(ask: Ask) -> None:
    """The coldest soil leads, and the warmest is not told in its place."""
    reply = ask("whats the coldest spot")
    assert "the shed bed measured coldest" in reply["reply"].split(". ")[0]
    assert "warmest-soil" in {one["claim"] for one in ask("which is the warmest spot")["conclusions"]}


@pytest.mark.parametrize(
    ("text", "outcome", "kind", "said"),
    [
        ("is the mulch or the shade keeping the shed bed cold", "answered", "compare-spots", "wood chips on shed bed"),
        ("what keeps the hollow cold", "answered", "compare-spots", "low-lying"),
        ("could i grow a persimmon at the hollow", "answered", "where-to-plant", "Rather not the hollow"),
        ("what blooms before the last frost", "declined", "", "where would an apricot do best"),
        ("what if i moved the lane fig to the south wall", "asked-back", "", "Of which question?"),
        ("can i plant an apricot now", "declined", "", "ask the nursery"),
        ("are the pots safe out tonight", "answered", "frost-tonight", "how cold tonight"),
        ("are the pots safe outside", "answered", "pots-out", "porch fig two"),
        ("dead or alive, the bench fig?", "answered", "why-late", "The bench fig was awake"),
    ],
)
def test_asked_in_other_words(ask: Ask, text: str, outcome: str, kind: str, said: str) -> None:
    """What a grower may well ask is answered, or told what it can be asked instead."""
    reply = ask(text)
    assert (reply["outcome"], reply.get("question", {}).get("kind", "")) == (outcome, kind)
    assert said in reply["reply"]


@pytest.mark.parametrize(
    ("text", "then", "codes"),
    [
        ("porch fig two in leaf now, black pot fig too", "half in leaf", [15, 15]),
        ("leaves out on the pot peach", "first leaves out", [11]),
    ],
)
def test_leaves_in_other_words_complete_the_message_before(
    adviser: Adviser, demo_copy: Path, text: str, then: str, codes: list[int]
) -> None:
    """A stage that may be one of three is asked back with the three, and one of them alone is enough of an answer."""
    asked = adviser.message({"text": text}, NOON, demo_copy)
    told = adviser.message({"text": then}, NOON, demo_copy)
    assert asked["outcome"] == "asked-back" and "half in leaf" in asked["reply"]
    with adviser.open(demo_copy) as garden:
        found = [garden.values_of(one["kind"], one["id"])["bbch"] for one in told["recorded"]]
    assert found == codes


@pytest.mark.parametrize("text", ["do I need to cover the apricot tonight", "is the apricot safe tonight?"])
def test_the_apricot_is_no_misspelt_name_of_one_of_two(ask: Ask, text: str) -> None:
    """A kind of which there are two is answered for both, and not taken for the one whose name is a little like it."""
    reply = ask(text)
    assert reply["question"] == {"kind": "frost-tonight", "species": "apricot"}


def test_which_fig_names_no_fig(ask: Ask) -> None:
    """ "Which fig ... the shed" asks of all, though one is called the shed fig."""
    assert ask("which fig first out of the shed")["question"] == {"kind": "pots-out", "species": "fig"}


def test_why_nights_are_cold_is_no_matter_of_soil(ask: Ask) -> None:
    """Cold air and the lie of the land are told, and how to measure it, once by figures that were measured."""
    told = ask("why is the hollow so cold at night")["reply"]
    assert "cold air" in told and "low-lying" in told and "hang a thermometer" in told and "soil at" not in told


def test_measured_nights_are_told(ask: Ask, adviser: Adviser, demo_copy: Path) -> None:
    """Lows at the spot beside the station's: the median of clear nights, here 3 K colder on each of twelve."""
    with adviser.open(demo_copy) as garden:
        station = [fact for fact in garden.of("weather_day") if not fact.text("spot")][-12:]
        rows = [
            NewRow("weather_day", {**fact.values, "spot": "hollow", "min_c": (fact.number("min_c") or 0.0) - 3})
            for fact in station
        ]
        garden.add([(Said("test", "a thermometer in the hollow", NOON), rows)])
    told = ask("why is the hollow so cold at night")["reply"]
    assert "3 °C colder than the station" in told and "hang a thermometer" not in told


def test_what_was_told_today_is_listed(ask: Ask) -> None:
    """The last first, without what was taken back; nothing of other days."""
    ask("soil shed bed 11.3 10cm")
    ask("pinched the wall fig")
    ask("soil south wall 12.3 10cm")
    ask("undo")
    reply = ask("list everything I told you today")
    assert [one["kind"] for one in reply["records"]] == ["work", "soil_reading"]
    assert "11.3" in reply["reply"] and "12.3" not in reply["reply"]
    assert "nothing" in ask("what did I tell you yesterday")["reply"]


def test_what_is_left_open_after_a_choice_is_said(ask: Ask) -> None:
    """Of two figures that were asked back the second is not forgotten in silence."""
    first = ask("black pot 13, tall pot 12.5")
    assert first["outcome"] == "asked-back" and "And then: Is 12.5" in first["reply"]
    second = ask("1")
    assert [one["kind"] for one in second["recorded"]] == ["soil_reading"]
    assert "Still open: Is 12.5" in second["reply"]


def test_records_of_other_years_are_offered_of_the_tree_that_was_named(ask: Ask) -> None:
    """Not of an example."""
    assert "records of the shed fig" in ask("is the shed fig later than last year")["reply"]


@pytest.mark.parametrize(
    "text", ["why is the shed fig slower than the wall fig", "why is the shed fig asleep while the wall fig leafs out"]
)
def test_of_two_set_beside_each_other_the_first_is_asked_about(ask: Ask, text: str) -> None:
    """The other is what it is measured by."""
    assert ask(text)["question"] == {"kind": "why-late", "plant": "shed fig"}


def test_is_it_the_chips_goes_on_from_why(ask: Ask) -> None:
    """After an answer why, its causes are asked about again; else soils are."""
    ask("why is the shed fig late?")
    assert ask("is it the chips or the cold wall")["question"] == {"kind": "why-late", "plant": "shed fig"}
    ask("thanks")
    assert ask("is it the mulch or the wall")["question"]["kind"] == "compare-spots"


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("how cold can figs take", "nursery"), ("can you text me when frost comes", "only when I am asked"),
        ("delete everything about the lane fig", "undo"), ("ice on the water butt", "Tell me the low"),
    ],
)  # fmt: skip
def test_what_there_is_no_rule_or_record_for_is_said(ask: Ask, text: str, word: str) -> None:
    """With what is nearest, and no answer to another question."""
    reply = ask(text)
    assert reply["outcome"] in ("declined", "noted") and word in reply["reply"] and not reply["conclusions"]


def test_mulch_asked_about_is_told_alone(ask: Ask) -> None:
    """ "Should I rake them off" is of the mulch."""
    reply = ask("so should I rake them off")
    assert {one["claim"] for one in reply["conclusions"]} == {"open-the-mulch"}


def test_who_is_new_is_told_what_can_be_said(ask: Ask) -> None:
    """A greeting before it is no hindrance."""
    assert ask("hi, new here, where do I start")["reply"] == ask("help")["reply"]
