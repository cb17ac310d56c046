"""Each question in two small gardens: one whose records answer it, and one in which it is honestly not known.

All gardens are invented.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any, cast

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from small_garden import ZONE, SmallGarden

from advisor.conversation import Adviser
from advisor.language.render import Speech
from advisor.language.reply import answer_reply
from advisor.language.understand import Understood
from advisor.records.store import Garden

TODAY = date(2026, 4, 24)
JUNE = date(2026, 6, 12)


def answer(adviser: Adviser, garden: SmallGarden, question: str, today: date = TODAY, **named: Any) -> dict[str, Any]:
    """Answer a question from a small garden, as the reply that would be sent."""
    names = frozenset(fact.text("name") for kind in ("spot", "plant") for fact in garden.of(kind))
    called = {one.id: one.name for one in adviser.lore.species.values()}
    speech = Speech("metric", ZONE, today, adviser.base.kinds, names, called)
    meant = Understood(question, **named)
    return answer_reply(adviser.answer(cast(Garden, garden), meant, today), speech)


def claims(reply: dict[str, Any], kind: str) -> list[tuple[str, str]]:
    return [(one["claim"], one["about"].get("plant") or one["about"].get("spot", ""))
            for one in reply["conclusions"] if one["kind"] == kind]  # fmt: skip


def asked(reply: dict[str, Any]) -> set[str]:
    return {lack["kind"] for lack in reply["lacking"]}


def weather(garden: SmallGarden, first: date, last: date, shift_k: float = 0.0) -> SmallGarden:
    """Tell days on a year's wave, so that springs freeze until May and autumns from October."""
    for n in range((last - first).days + 1):
        day = first + timedelta(days=n)
        mean = 10 - 11 * _wave(day) + shift_k
        garden.weather(day.isoformat(), round(mean - 6, 1), round(mean + 6, 1))
    return garden


def _wave(day: date) -> float:
    """Return 1 in mid January and -1 in mid July, by straight lines between."""
    n = (day.timetuple().tm_yday - 15) % 365
    return 1 - 4 * n / 365 if n < 183 else -1 + 4 * (n - 183) / 365


# ---- frost tonight


def orchard() -> SmallGarden:
    garden = SmallGarden().spot("bed", under_cover="none").spot("yard", under_cover="none")
    garden.plant("gate apricot", species="apricot").plant("pot apricot", "yard", "apricot", "pot")
    return garden.stage("gate apricot", "2026-04-22", 65).stage("pot apricot", "2026-04-22", 65)


def test_an_evening_puts_blossom_in_danger(adviser: Adviser) -> None:
    """The warning leads with the low and what the stage stands, says that it is rough, and how to protect each."""
    garden = orchard().tell("evening", on=TODAY, temp_c=1.0, dew_point_c=-8.0)
    reply = answer(adviser, garden, "frost-tonight")
    warned = claims(reply, "warning")
    assert {plant for _, plant in warned} == {"gate apricot", "pot apricot"}
    assert "tonight" in reply["reply"].split("\n")[0] and "harm starts at" in reply["reply"]
    assert "other places' nights" in reply["reply"]
    assert {what for what, _ in claims(reply, "task")} == {"pot-under-a-roof", "cover-to-the-ground"}
    assert any("fumes" in caution for caution in reply["cautions"]) and "fumes" in reply["reply"]
    assert "evening" not in asked(reply)


def test_a_mild_evening_is_no_alarm(adviser: Adviser) -> None:
    """Where all of the range is milder than the stage stands, each plant is said to stand it."""
    reply = answer(adviser, orchard().tell("evening", on=TODAY, temp_c=14.0, dew_point_c=11.0), "frost-tonight")
    assert claims(reply, "warning") == [] and claims(reply, "task") == []
    assert {claim for claim, _ in claims(reply, "finding")} == {"stands-the-night"}


def test_a_forecast_is_given_as_its_own_word(adviser: Adviser) -> None:
    """Without an evening reading a forecast near what the stage stands is no sure warning, and one is asked for."""
    garden = orchard().tell("forecast_day", issued=TODAY, for_day=TODAY + timedelta(days=1), min_c=-2.0)
    reply = answer(adviser, garden, "frost-tonight", plant="gate apricot")
    (warning,) = [one for one in reply["conclusions"] if one["kind"] == "warning"]
    assert (warning["claim"], warning["grade"]) == ("forecast-near-its-stage", "possible")
    assert "the forecast makes it -2 °C there" in reply["reply"] and "evening" in asked(reply)


def test_a_forecast_is_taken_to_the_spot(adviser: Adviser) -> None:
    """Where six clear nights showed a spot three degrees colder than the station, the forecast is told that much lower."""
    garden = orchard().tell("forecast_day", issued=TODAY, for_day=TODAY + timedelta(days=1), min_c=1.0)
    assert claims(answer(adviser, garden, "frost-tonight"), "warning") == []
    for n in range(8):
        day = TODAY - timedelta(days=20 - n)
        garden.weather(day.isoformat(), 1.0 + n % 3, 15.0)
        garden.tell("weather_day", on=day, spot="bed", min_c=-2.0 + n % 3, max_c=14.0)
    assert claims(answer(adviser, garden, "frost-tonight"), "warning") == [("forecast-near-its-stage", "gate apricot")]


def test_a_windy_freeze_is_not_covered_against(adviser: Adviser) -> None:
    """In wind a cloth holds nothing: the pot is carried in, the tree is not covered."""
    garden = orchard().tell("evening", on=TODAY, temp_c=1.0, dew_point_c=-8.0)
    garden.tell("forecast_day", issued=TODAY, for_day=TODAY + timedelta(days=1), min_c=-4.0, sky="cloud", wind_m_s=7.0)
    assert claims(answer(adviser, garden, "frost-tonight"), "task") == [("pot-under-a-roof", "pot apricot")]


def test_of_two_forecasts_the_later_counts(adviser: Adviser) -> None:
    """The last one issued for the night is told, whichever was recorded first."""
    garden = orchard()
    for issued, low in ((TODAY, 7.0), (TODAY - timedelta(days=2), -4.0)):
        garden.tell("forecast_day", issued=issued, for_day=TODAY + timedelta(days=1), min_c=low)
    reply = answer(adviser, garden, "frost-tonight")
    assert "makes it 7 °C tonight" in reply["reply"] and claims(reply, "warning") == []


def test_a_night_nothing_is_told_of_is_not_known(adviser: Adviser) -> None:
    """No evening and no forecast: no low is made up, and the evening reading is asked for."""
    reply = answer(adviser, orchard(), "frost-tonight")
    assert reply["conclusions"] == [] and reply["reply"].startswith("I cannot say how cold")
    assert "evening" in asked(reply)


def test_a_plant_under_glass_is_not_warned_of(adviser: Adviser) -> None:
    """What stands under a roof meets another night than the station's."""
    garden = orchard().spot("house", under_cover="unheated glass").move("pot apricot", "house", "2026-04-20")
    garden.tell("evening", on=TODAY, temp_c=1.0, dew_point_c=-8.0)
    assert {plant for _, plant in claims(answer(adviser, garden, "frost-tonight"), "warning")} == {"gate apricot"}


# ---- pots


def store() -> SmallGarden:
    garden = SmallGarden().spot("store", under_cover="shelter").spot("yard", under_cover="none")
    return garden.plant("store fig", "store", growing="pot")


def test_a_sleeping_pot_may_go_out(adviser: Adviser) -> None:
    """Asleep in spring it may go out; one grade weaker and with a question while no forecast is known."""
    garden = store().stage("store fig", "2026-04-22", 0)
    reply = answer(adviser, garden, "pots-out")
    (task,) = [one for one in reply["conclusions"] if one["kind"] == "task"]
    assert (task["claim"], task["grade"]) == ("out-while-asleep", "possible")
    assert "forecast_day" in asked(reply)
    garden.tell("forecast_day", issued=TODAY, for_day=TODAY + timedelta(days=1), min_c=5.0)
    (task,) = [one for one in answer(adviser, garden, "pots-out")["conclusions"] if one["kind"] == "task"]
    assert task["grade"] == "likely"


def test_a_waking_pot_waits_for_the_frosts(adviser: Adviser) -> None:
    """With twelve springs of weather that freeze into May an awake pot goes out by day only, in leaf by steps."""
    garden = weather(store().stage("store fig", "2026-04-22", 9), date(2013, 11, 1), TODAY, -6.0)
    assert claims(answer(adviser, garden, "pots-out"), "task") == [("out-by-day-in-by-night", "store fig")]
    garden.stage("store fig", "2026-04-23", 11)
    assert claims(answer(adviser, garden, "pots-out"), "task") == [("out-by-steps-in-by-night", "store fig")]
    late = answer(adviser, garden, "pots-out", date(2026, 4, 24) + timedelta(days=60))
    assert claims(late, "task") == [("out-for-good-by-steps", "store fig")]


def test_three_pots_get_three_answers(adviser: Adviser) -> None:
    """Asleep, swelling and in leaf, three pots of one store are told three things, each by its name."""
    garden = store().plant("tall fig", "store", growing="pot").plant("small fig", "store", growing="pot")
    garden.stage("store fig", "2026-04-22", 0).stage("tall fig", "2026-04-22", 3).stage("small fig", "2026-04-22", 13)
    garden.tell("forecast_day", issued=TODAY, for_day=TODAY + timedelta(days=1), min_c=5.0)
    reply = answer(adviser, garden, "pots-out")
    assert set(claims(reply, "task")) == {
        ("out-while-asleep", "store fig"),
        ("out-but-for-frost-nights", "tall fig"),
        ("out-by-day-in-by-night", "small fig"),
    }
    lines = reply["reply"].split("\n")
    told = {name: next(line for line in lines if line.startswith(f"The {name}") or f"the {name}" in line)
            for name in ("store fig", "tall fig", "small fig")}  # fmt: skip
    assert "no shade first" not in told["small fig"] and "in shade for the first three days" in told["small fig"]
    assert "no leaf yet to scorch" in told["tall fig"] and "-3 °C or colder" in told["store fig"]


def test_one_frosty_night_calls_in_what_it_would_hurt(adviser: Adviser) -> None:
    """At one degree of frost the pot in leaf comes in and the sleeping one stays out; at four degrees both come in."""
    garden = store().plant("yard fig", "yard", growing="pot").plant("leafy fig", "yard", growing="pot")
    garden.stage("yard fig", "2026-04-22", 0).stage("leafy fig", "2026-04-22", 13)
    night = TODAY + timedelta(days=1)
    garden.tell("forecast_day", issued=TODAY - timedelta(days=1), for_day=night, min_c=-1.0)
    assert claims(answer(adviser, garden, "pots-out"), "task") == [("pot-under-a-roof", "leafy fig")]
    garden.tell("forecast_day", issued=TODAY, for_day=night, min_c=-4.0)
    reply = answer(adviser, garden, "pots-out")
    assert {plant for what, plant in claims(reply, "task") if what == "pot-under-a-roof"} == {"yard fig", "leafy fig"}
    assert any(line.startswith("Bring") and "The same for" in line for line in reply["reply"].split("\n"))


def test_a_frosty_forecast_keeps_a_waking_pot_in(adviser: Adviser) -> None:
    """A forecast near frost is a warning for a pot in leaf."""
    garden = store().stage("store fig", "2026-04-22", 11)
    garden.tell("forecast_day", issued=TODAY, for_day=TODAY + timedelta(days=1), min_c=0.5)
    assert claims(answer(adviser, garden, "pots-out"), "warning") == [("keep-in-tonight", "store fig")]


def test_a_pot_nobody_looked_at_is_not_sent_out(adviser: Adviser) -> None:
    """Without a stage there is no task, and the stage is asked for; where no pot is covered, that is said."""
    reply = answer(adviser, store(), "pots-out")
    assert claims(reply, "task") == [] and "stage" in asked(reply)
    garden = SmallGarden().spot("bed", under_cover="none").plant("old fig")
    assert answer(adviser, garden, "pots-out")["reply"].startswith("I cannot say whether pots may go out")


# ---- pinching


def shoots(**growth: Any) -> SmallGarden:
    garden = SmallGarden().spot("bed", under_cover="none").plant("old fig").stage("old fig", "2026-05-20", 15)
    return garden.tell("growth", plant="old fig", **{"on": JUNE - timedelta(days=1), "shoot_cm": 34.0, **growth})


@pytest.mark.parametrize(
    ("growth", "kind", "claim"),
    [
        ({"leaves": 6, "node_buds": 2}, "task", "pinch-the-shoot"),
        ({"leaves": 6, "node_buds": 1}, "keep_tip", "only-a-shoot-would-come"),
        ({"leaves": 4, "node_buds": 2}, "keep_tip", "too-few-leaves"),
        ({"leaves": 7, "node_buds": 2, "shoot_cm": 12.0}, "keep_tip", "too-short-to-pinch"),
    ],
)
def test_a_shoot_is_ready_or_not(adviser: Adviser, growth: dict[str, Any], kind: str, claim: str) -> None:
    """Six leaves and two buds: pinch; one bud: only a shoot; few leaves or a short shoot: not."""
    reply = answer(adviser, shoots(**growth), "what-to-pinch", JUNE)
    assert (claim, "old fig") in claims(reply, kind)
    assert (kind == "task") == bool(claims(reply, "task"))
    assert "Fig sap burns skin" in reply["reply"]


def test_whether_season_is_left_is_counted(adviser: Adviser) -> None:
    """Ten autumns that freeze in October leave no time in mid August; without weather the advice is only possible."""
    ready = {"leaves": 6, "node_buds": 2}
    (task,) = [c for c in answer(adviser, shoots(**ready), "what-to-pinch", JUNE)["conclusions"] if c["kind"] == "task"]
    assert task["grade"] == "possible"
    august = date(2026, 8, 15)
    garden = weather(shoots(on=august, **ready), date(2013, 11, 1), august)
    reply = answer(adviser, garden, "what-to-pinch", august)
    assert claims(reply, "task") == [] and claims(reply, "keep_tips") == [("too-late-to-pinch", "old fig")]


def test_the_latest_look_at_a_shoot_counts(adviser: Adviser) -> None:
    """A look of May does not hold back a shoot that was ready in June, nor is one pinched since named again."""
    garden = shoots(leaves=6, node_buds=2, thickness_rank=1)
    garden.tell("growth", plant="old fig", on=date(2026, 5, 20), leaves=2, shoot_cm=8.0, thickness_rank=1)
    reply = answer(adviser, garden, "what-to-pinch", JUNE)
    assert claims(reply, "task") and claims(reply, "keep_tip") == []
    garden.tell("work", plant="old fig", on=JUNE, what="pinched")
    reply = answer(adviser, garden, "what-to-pinch", JUNE)
    assert [one["claim"] for one in reply["conclusions"]] == ["fruitlets-after-pinching"]
    assert "from 22 June to 26 June" in reply["reply"]


def test_the_thinnest_of_three_is_left(adviser: Adviser) -> None:
    """Of three ranked shoots the last keeps its tip."""
    garden = shoots(leaves=6, node_buds=2, thickness_rank=1)
    for rank in (2, 3):
        garden.tell("growth", plant="old fig", on=JUNE, leaves=6, node_buds=2, shoot_cm=30.0, thickness_rank=rank)
    reply = answer(adviser, garden, "what-to-pinch", JUNE)
    assert claims(reply, "keep_tip") == [("the-thinnest", "old fig")]
    assert "no. 3 by thickness" in reply["reply"]


def test_shoots_nobody_looked_at_are_asked_for(adviser: Adviser) -> None:
    """An awake fig without a look at its shoots: nothing is advised, the look is asked for."""
    garden = SmallGarden().spot("bed", under_cover="none").plant("old fig").stage("old fig", "2026-05-20", 15)
    reply = answer(adviser, garden, "what-to-pinch", JUNE)
    assert reply["reply"].startswith("I cannot name a shoot to pinch") and asked(reply) == {"growth"}


def test_every_ready_shoot_is_named_and_the_rest_left(adviser: Adviser) -> None:
    """Two shoots ready: both are named, the strongest first and how to do it once; a shoot left for two reasons, once."""
    garden = shoots(leaves=6, node_buds=2, thickness_rank=2)
    garden.tell("growth", plant="old fig", on=JUNE, leaves=7, node_buds=2, shoot_cm=50.0, thickness_rank=1)
    garden.tell("growth", plant="old fig", on=JUNE, leaves=4, node_buds=1, shoot_cm=20.0, thickness_rank=3)
    reply = answer(adviser, garden, "what-to-pinch", JUNE)["reply"]
    assert 0 < reply.index("no. 1 by thickness") < reply.index("no. 2 by thickness") < reply.index("no. 3 by thickness")
    assert reply.count("Nip the growing tip") == 1 and reply.count("no. 3 by thickness") == 1


def test_what_is_said_of_many_figs_is_said_once(adviser: Adviser) -> None:
    """In autumn six figs have one answer: three are named with the first, and two others counted; nothing is asked."""
    garden = SmallGarden().spot("bed", under_cover="none")
    for name in ("one", "two", "three", "four", "five", "six"):
        garden.plant(f"{name} fig")
    reply = answer(adviser, garden, "what-to-pinch", date(2026, 10, 2))
    assert reply["reply"].count("Nothing to pinch on") == 1 and "and 2 others" in reply["reply"]
    assert len(claims(reply, "keep_tips")) == 6 and asked(reply) == set()


def test_a_file_that_two_figs_want_is_asked_for_once(adviser: Adviser) -> None:
    """The season of two ready shoots is not known: the same weather file settles both."""
    garden = shoots(leaves=6, node_buds=2).plant("young fig")
    garden.tell("growth", plant="young fig", on=JUNE, leaves=6, node_buds=2, shoot_cm=30.0)
    reply = answer(adviser, garden, "what-to-pinch", JUNE)
    assert [lack["kind"] for lack in reply["lacking"]].count("weather_day") == 1


def test_a_warning_of_like_words_names_its_plants_once(adviser: Adviser) -> None:
    """Three figs that bear early figs are named in one warning before the winter pruning."""
    garden = SmallGarden().spot("bed", under_cover="none")
    for name in ("one", "two", "three"):
        garden.plant(f"{name} fig", cultivar="Brunswick")
    reply = answer(adviser, garden, "what-next", date(2026, 3, 1))["reply"]
    assert reply.count("Do not shorten") == 1 and "The same for the three fig and the two fig." in reply


def test_pairs_of_like_shoots_are_worth_a_trial(adviser: Adviser) -> None:
    """Twelve like shoots make six pairs, which is offered last; eleven make five, and are not."""
    garden = shoots(leaves=6, node_buds=2)
    for n in range(10):
        garden.tell(
            "growth", plant="old fig", on=JUNE - timedelta(days=1), leaves=6, node_buds=2, shoot_cm=35.0 + n / 10
        )
    assert ("a-trial-of-pinching", "") not in claims(answer(adviser, garden, "what-to-pinch", JUNE), "finding")
    garden.tell("growth", plant="old fig", on=JUNE - timedelta(days=1), leaves=6, node_buds=2, shoot_cm=33.0)
    reply = answer(adviser, garden, "what-to-pinch", JUNE)["reply"]
    assert "you have 6 pairs" in reply and reply.count("inch the old fig") == 7 and "And 5 more of the like." in reply


# ---- spots


def test_two_spots_are_told_apart_by_fair_pairs(adviser: Adviser) -> None:
    """Pairs of three days say which soil is warmer, once; a third spot that was not named stays out."""
    garden = SmallGarden().spot("wall bed", sun_h=8.0).spot("hollow", sun_h=6.0).spot("lane")
    for day in ("2026-04-20", "2026-04-21", "2026-04-22"):
        for spot, temp in (("wall bed", 14.0), ("hollow", 11.0), ("lane", 16.0)):
            garden.soil(spot, f"{day}T10:00", temp)
    reply = answer(adviser, garden, "compare-spots", spots=("wall bed", "hollow"))
    assert ("soil-warmer", "wall bed") in claims(reply, "finding")
    assert reply["reply"].startswith("The soil at the wall bed measured 3 °C warmer than at the hollow")
    assert "lane" not in reply["reply"] and reply["question"]["spots"] == ["wall bed", "hollow"]
    assert ("sun-counted", "hollow") in claims(reply, "finding")


def test_the_warmest_of_all_leads_where_none_is_named(adviser: Adviser) -> None:
    """Asked of no spot in particular, the rank of all is told and not each pair."""
    garden = SmallGarden().spot("wall bed").spot("hollow").spot("lane")
    for day in ("2026-04-20", "2026-04-21", "2026-04-22"):
        for spot, temp in (("wall bed", 14.0), ("hollow", 11.0), ("lane", 16.0)):
            garden.soil(spot, f"{day}T10:00", temp)
    reply = answer(adviser, garden, "compare-spots")
    assert reply["reply"].startswith("Of 3 soils compared the one at the lane measured warmest")
    assert "warmer than at" not in reply["reply"]


def test_soils_within_the_error_are_level_and_told_once(adviser: Adviser) -> None:
    """A fifth of a degree over three days is no difference."""
    garden = SmallGarden().spot("wall bed").spot("hollow")
    for day in ("2026-04-20", "2026-04-21", "2026-04-22"):
        garden.soil("wall bed", f"{day}T10:00", 12.2).soil("hollow", f"{day}T10:00", 12.0)
    reply = answer(adviser, garden, "compare-spots", spots=("wall bed", "hollow"))
    assert claims(reply, "finding") == [("soils-level", "wall bed")]


def test_spots_never_read_together_are_not_compared(adviser: Adviser) -> None:
    """Without a fair pair nothing is claimed of the soils, and the pair is asked for."""
    garden = SmallGarden().spot("wall bed").spot("hollow").soil("wall bed", "2026-04-20T10:00", 14.0)
    reply = answer(adviser, garden, "compare-spots", spots=("wall bed", "hollow"))
    assert reply["conclusions"] == [] and reply["reply"].startswith("I cannot tell these spots apart")
    assert asked(reply) == {"soil_reading"}


# ---- waking, ripening


def test_earlier_years_give_a_usual_date(adviser: Adviser) -> None:
    """Two earlier years give a date as possible; once it is past, the plant is due."""
    garden = SmallGarden().spot("bed").plant("old fig")
    garden.stage("old fig", "2024-05-02", 9).stage("old fig", "2025-05-06", 9).stage("old fig", "2026-04-20", 1)
    reply = answer(adviser, garden, "when-wake", plant="old fig")
    assert claims(reply, "expect") == [("usual-date", "old fig")]
    assert reply["reply"].startswith("Possible: the old fig usually wakes about 4 May")
    late = answer(adviser, garden, "when-wake", date(2026, 5, 14), plant="old fig")
    assert claims(late, "finding") == [("due-by-its-usual-date", "old fig")] and "10 days ago" in late["reply"]


def test_weather_and_published_needs_give_a_range(adviser: Adviser) -> None:
    """An apricot with six winters of weather gets a range of bloom, marked as other places' needs."""
    garden = weather(SmallGarden().spot("bed").plant("gate apricot", species="apricot"), date(2019, 11, 1), TODAY, -4.0)
    reply = answer(adviser, garden, "when-wake", date(2026, 2, 20), plant="gate apricot")
    assert {claim for claim, _ in claims(reply, "expect")} == {"date-by-published-needs"}
    assert "published of its kind in other places" in reply["reply"] and "The figures:" in reply["reply"]


def test_a_plant_that_woke_needs_no_forecast(adviser: Adviser) -> None:
    """Seen awake this year, that is the answer."""
    garden = SmallGarden().spot("bed").plant("old fig").stage("old fig", "2026-04-20", 9)
    assert claims(answer(adviser, garden, "when-wake", plant="old fig"), "finding") == [("awake-already", "old fig")]


def test_no_dates_and_no_weather_give_no_date(adviser: Adviser) -> None:
    """Nothing is foretold; earlier dates and the weather are asked for."""
    reply = answer(adviser, SmallGarden().spot("bed").plant("old fig"), "when-wake", plant="old fig")
    assert reply["conclusions"] == [] and reply["reply"].startswith("I cannot give a date")
    assert asked(reply) == {"stage", "weather_day"}


def test_fruitlets_give_a_range_of_ripe_dates(adviser: Adviser) -> None:
    """From fruit set a range of months; whether it beats the frost is open without ten autumns of weather."""
    garden = SmallGarden().spot("bed").plant("old fig").stage("old fig", "2026-06-10", 71)
    reply = answer(adviser, garden, "when-ripe", JUNE, plant="old fig")
    assert claims(reply, "expect") == [("ripe-by-days", "old fig")] and reply["reply"].startswith("Possible:")
    assert "weather_day" in asked(reply)
    late = weather(SmallGarden().spot("bed").plant("old fig"), date(2013, 11, 1), JUNE).stage(
        "old fig", "2026-09-01", 71
    )
    told = answer(adviser, late, "when-ripe", date(2026, 9, 2), plant="old fig")
    assert claims(told, "warning") == [("ripens-after-the-frost", "old fig")]


def test_ripe_fruit_is_the_answer(adviser: Adviser) -> None:
    """A first ripe fruit of this year leads, before any range."""
    garden = SmallGarden().spot("bed").plant("old fig").stage("old fig", "2026-06-10", 71)
    garden.tell("crop", plant="old fig", on=date(2026, 9, 1), first_ripe=True)
    reply = answer(adviser, garden, "when-ripe", date(2026, 9, 2), plant="old fig")
    assert reply["reply"].startswith("The old fig has its first ripe fruit already")


@pytest.mark.parametrize(("species", "kind"), [("fig", "stage"), ("apricot", "crop")])
def test_nothing_to_count_from_is_said(adviser: Adviser, species: str, kind: str) -> None:
    """Without fruitlets, pinching or days to ripe no date is given, and what would bring one is asked for."""
    garden = SmallGarden().spot("bed").plant("old tree", species=species)
    reply = answer(adviser, garden, "when-ripe", JUNE, plant="old tree")
    assert reply["conclusions"] == [] and asked(reply) == {kind}


# ---- the season, trials, what to measure, what next


@pytest.mark.parametrize(
    ("shift_k", "claim"), [(-2.0, "season-behind"), (0.0, "season-as-usual"), (2.0, "season-ahead")]
)
def test_a_season_is_set_beside_others(adviser: Adviser, shift_k: float, claim: str) -> None:
    """A spring two degrees cooler or warmer than five others is behind or ahead."""
    garden = weather(
        SmallGarden().spot("bed").plant("old apricot", species="apricot"), date(2020, 11, 1), date(2025, 12, 31)
    )
    weather(garden, date(2026, 1, 1), TODAY, shift_k)
    reply = answer(adviser, garden, "season-so-far")
    assert claim in {name for name, _ in claims(reply, "finding")}
    assert {"season-behind", "season-as-usual", "season-ahead"} & {name for name, _ in claims(reply, "finding")} == {
        claim
    }


def test_one_year_of_weather_calls_no_season(adviser: Adviser) -> None:
    """The sum is told, and that nothing can be said of it; without any weather it is asked for."""
    garden = SmallGarden().spot("bed").plant("old apricot", species="apricot")
    reply = answer(adviser, garden, "season-so-far")
    assert reply["conclusions"] == [] and asked(reply) == {"weather_day"}
    told = answer(adviser, weather(garden, date(2025, 11, 1), TODAY), "season-so-far")
    assert "too-few-years" in {name for name, _ in claims(told, "finding")}


def trial(sides: dict[str, list[str]]) -> SmallGarden:
    garden = SmallGarden().spot("bed")
    garden.tell("trial", name="open mulch", question="sooner?", differs="raked", outcome="date of bud break",
                from_day=date(2026, 3, 1))  # fmt: skip
    for side, days in sides.items():
        for n, day in enumerate(days):
            name = f"fig {side}{n}"
            garden.plant(name).tell("trial_member", trial="open mulch", side=side, plant=name)
            garden.stage(name, "2026-03-20", 1).stage(name, day, 9)
    return garden


def test_a_trial_is_read_by_count(adviser: Adviser) -> None:
    """Six against six that never overlap are shown; three against three never can be."""
    early, late = [f"2026-04-0{n}" for n in range(1, 7)], [f"2026-04-1{n}" for n in range(1, 7)]
    shown = answer(adviser, trial({"a": early, "b": late}), "trial-result")
    assert [name for name, _ in claims(shown, "finding")] == ["shown"]
    few = answer(adviser, trial({"a": early[:3], "b": late[:3]}), "trial-result")
    assert {name for name, _ in claims(few, "finding")} == {"too-few-a-side"}
    assert "can never settle it" in few["reply"] and "10 days later" in few["reply"]


def test_a_trial_without_values_shows_nothing(adviser: Adviser) -> None:
    """One plant a side is too few and values are wanted; where no trial was set up, nothing was tested."""
    reply = answer(adviser, trial({"a": ["2026-04-01"], "b": ["2026-04-11"]}), "trial-result")
    assert [name for name, _ in claims(reply, "finding")] == ["too-few-a-side"]
    assert asked(reply) == set() and "open mulch" in reply["reply"]
    sleepy = trial({"a": [], "b": []})
    for name in ("a1", "a2", "b1", "b2"):
        sleepy.plant(name).tell("trial_member", trial="open mulch", side=name[0], plant=name)
    assert asked(answer(adviser, sleepy, "trial-result")) == {"stage"}
    assert asked(answer(adviser, trial({"a": [], "b": []}), "trial-result")) == {"trial_member"}
    none = answer(adviser, SmallGarden(), "trial-result")
    assert [name for name, _ in claims(none, "finding")] == ["not-tested"]
    assert none["reply"].startswith("That was not tested") and "To test it next time" in none["reply"]


def test_two_trials_are_told_apart(adviser: Adviser) -> None:
    """What is found of each trial is a conclusion of its own, told by its name."""
    garden = trial({"a": ["2026-04-01", "2026-04-02"], "b": ["2026-04-11", "2026-04-12"]})
    garden.tell("trial", name="early feeding", question="?", differs="fed in March", outcome="date of bud break",
                from_day=date(2026, 3, 1))  # fmt: skip
    for side in ("a", "b"):
        garden.tell("trial_member", trial="early feeding", side=side, plant=f"fig {side}0")
    reply = answer(adviser, garden, "trial-result")
    found = {one["about"]["trial"] for one in reply["conclusions"] if one["claim"] == "too-few-a-side"}
    assert found == {"open mulch", "early feeding"}


def test_the_reading_that_settles_most_is_named(adviser: Adviser) -> None:
    """A pair that missed by its depth, and the plant that nobody looked at; at most two."""
    garden = SmallGarden().spot("bed").spot("hollow").plant("old fig")
    garden.soil("bed", "2026-04-20T10:00", 12.0).soil("hollow", "2026-04-20T10:10", 11.0, depth_cm=25)
    weather(garden, date(2025, 11, 1), TODAY)
    reply = answer(adviser, garden, "what-to-measure")
    assert "soil_reading" in asked(reply) and 1 <= len(reply["lacking"]) <= 2
    assert reply["reply"].startswith(reply["lacking"][0]["ask"]) and "To know more" not in reply["reply"]


def test_nothing_lacking_is_said(adviser: Adviser) -> None:
    """In winter, with weather told and no plants, no reading is made up."""
    winter = date(2026, 1, 20)
    reply = answer(adviser, weather(SmallGarden(), date(2025, 11, 1), winter), "what-to-measure", winter)
    assert reply["lacking"] == [] and reply["reply"].startswith("I find no reading")


def test_what_next_gathers_tasks(adviser: Adviser) -> None:
    """A plant last looked at three weeks ago is due for a look; with nothing to do that is said."""
    garden = SmallGarden().spot("bed", under_cover="none").plant("old fig").stage("old fig", "2026-04-02", 1)
    assert ("look-again", "old fig") in claims(answer(adviser, garden, "what-next"), "task")
    reply = answer(adviser, SmallGarden(), "what-next")
    assert reply["conclusions"] == [] and reply["reply"].startswith("Your records call for nothing")


def test_a_kind_of_tree_narrows_the_question(adviser: Adviser) -> None:
    """Asked of the figs, the apricots stay out."""
    garden = orchard().plant("old fig").stage("old fig", "2026-04-22", 0)
    garden.tell("evening", on=TODAY, temp_c=1.0, dew_point_c=-8.0)
    reply = answer(adviser, garden, "frost-tonight", species="fig")
    assert claims(reply, "warning") == [] and "apricot" not in reply["reply"]


# ---- any question, any garden

ROWS: tuple[Callable[[SmallGarden], SmallGarden], ...] = (
    lambda g: g.tell("evening", on=TODAY, temp_c=2.0, dew_point_c=-6.0),
    lambda g: g.tell("evening", on=TODAY, temp_c=2.0),
    lambda g: g.tell("forecast_day", issued=TODAY, for_day=TODAY, min_c=-3.0, sky="clear", wind_m_s=1.0),
    lambda g: g.tell("forecast_day", issued=TODAY, for_day=TODAY + timedelta(days=1), max_c=10.0),
    lambda g: g.stage("old fig", "2026-04-20", 9),
    lambda g: g.stage("pot apricot", "2026-04-10", 65),
    lambda g: g.stage("old fig", "2025-05-01", 9),
    lambda g: g.tell("growth", plant="old fig", on=TODAY),
    lambda g: g.tell("growth", plant="old fig", on=TODAY, leaves=7, node_buds=2),
    lambda g: g.soil("bed", "2026-04-23T10:00", 11.0).soil("yard", "2026-04-23T10:20", 13.0),
    lambda g: g.move("pot apricot", "store", "2026-04-01"),
    lambda g: g.tell("crop", plant="old fig", on=date(2025, 9, 1), first_ripe=True),
    lambda g: weather(g, date(2025, 11, 1), TODAY),
)


@settings(max_examples=40, deadline=None)
@given(rows=st.sets(st.sampled_from(range(len(ROWS)))), data=st.data())
def test_every_question_has_an_answer(adviser: Adviser, rows: set[int], data: st.DataObject) -> None:
    """Whatever is recorded, a reply is never empty, nothing in it is unfilled, and it asks for two things at most."""
    garden = SmallGarden().spot("bed").spot("yard", under_cover="none").spot("store", under_cover="shelter")
    garden.plant("old fig").plant("pot apricot", "yard", "apricot", "pot")
    for row in sorted(rows):
        ROWS[row](garden)
    question = data.draw(st.sampled_from(sorted(set(adviser.questions) - {"where-to-plant", "why-late"})))
    named = data.draw(st.sampled_from([{}, {"plant": "old fig"}, {"plant": "pot apricot"}, {"species": "apricot"}]))
    reply = answer(adviser, garden, question, **named)
    assert len(reply["reply"]) > 20 and len(reply["lacking"]) <= 2
    assert "(not known)" not in reply["reply"] and "{" not in reply["reply"] and "None" not in reply["reply"]
    assert [one["rank"] for one in reply["conclusions"]] == list(range(1, len(reply["conclusions"]) + 1))
