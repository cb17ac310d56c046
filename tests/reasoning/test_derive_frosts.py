"""What a frost does to each plant, tonight, ahead and just gone, and what is known around it. All gardens are invented."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from small_garden import SmallGarden

from advisor.config import find_rules
from advisor.facts import Derived, Fact
from advisor.reasoning.derive import Scene, derive
from advisor.reasoning.derive.meanwhile import stage_to_reckon_with
from advisor.records.kinds import load_kinds
from advisor.records.species import load_lore

KINDS, LORE = load_kinds(find_rules()), load_lore(find_rules())
TODAY = date(2026, 4, 24)
TOMORROW = TODAY + timedelta(days=1)


def facts_of(garden: SmallGarden, kind: str, plant: str = "", today: date = TODAY) -> list[Fact]:
    facts = derive(Scene(garden, LORE, today, "frost-tonight", plant), [kind], KINDS).of(kind)
    for fact in facts:
        fields = KINDS[kind].fields
        assert set(fact.values) <= set(fields), fact
        assert all(fields[name].fits(value) for name, value in fact.values.items()), fact
        assert all(name in fact.values for name, field in fields.items() if field.required), fact
        assert isinstance(fact.origin, Derived) and fact.origin.facts
    return facts


def one(garden: SmallGarden, kind: str, plant: str = "p", today: date = TODAY) -> Fact:
    (fact,) = facts_of(garden, kind, plant, today)
    return fact


def tree(
    species: str = "apricot", bbch: int = 65, seen: str = "2026-04-22", growing: str = "ground", **spot: Any
) -> SmallGarden:
    garden = SmallGarden().spot("bed", under_cover=spot.pop("under_cover", "none"), **spot)
    return garden.plant("p", species=species, growing=growing).stage("p", seen, bbch)


def forecast(garden: SmallGarden, min_c: float, days: int = 1, **more: Any) -> SmallGarden:
    return garden.tell("forecast_day", issued=TODAY, for_day=TODAY + timedelta(days=days), min_c=min_c, **more)


# ---- the stage to reckon with


def reckoned(garden: SmallGarden, today: date = TODAY) -> tuple[int, bool]:
    found = stage_to_reckon_with(Scene(garden, LORE, today, ""), "p")
    assert found is not None
    return found.bbch, found.assumed


@pytest.mark.parametrize(
    ("species", "bbch", "seen", "wanted"),
    [
        ("apricot", 53, "2026-04-17", (53, False)),  # seven days: as it was seen
        ("apricot", 53, "2026-04-16", (57, True)),  # eight: two stages of three days
        ("apricot", 53, "2026-04-12", (65, True)),  # twelve: four stages, full bloom
        ("apricot", 0, "2026-04-17", (0, False)),
        ("apricot", 0, "2026-04-16", (51, True)),  # a week out of rest
        ("apricot", 75, "2026-04-10", (75, False)),  # past what is published
        ("apricot", 11, "2026-04-10", (11, False)),  # leaves tell nothing of flowers
        ("fig", 0, "2026-04-16", (1, True)),
        ("fig", 1, "2026-04-16", (7, True)),
        ("fig", 15, "2026-04-01", (15, False)),
        ("japanese-plum", 53, "2026-04-01", (53, False)),  # no stages of it are told apart
    ],
)
def test_an_old_look_is_taken_on_by_its_kind_s_stages(
    species: str, bbch: int, seen: str, wanted: tuple[int, bool]
) -> None:
    """From eight days on in spring: a week from rest to the first stage, three days from each to the next."""
    assert reckoned(tree(species, bbch, seen)) == wanted


def test_cold_days_hold_an_old_look_where_it_was() -> None:
    """Days that never pass the kind's base move nothing, cool ones half as much as warm ones."""
    for highest, wanted in ((4.0, (53, False)), (12.0, (57, True)), (18.0, (65, True))):
        garden = tree("apricot", 53, "2026-04-12")
        for n in range(1, 13):
            garden.weather((date(2026, 4, 12) + timedelta(days=n)).isoformat(), 0.0, highest)
        assert reckoned(garden) == wanted


def test_outside_spring_a_look_stays_as_it_was() -> None:
    """In winter nothing moves for weeks; days before spring of which nothing is recorded count for nothing."""
    assert reckoned(tree("apricot", 0, "2026-01-10"), date(2026, 2, 20)) == (0, False)
    assert reckoned(tree("apricot", 0, "2026-01-10"), date(2026, 3, 5)) == (0, False)
    assert reckoned(tree("apricot", 0, "2026-01-10"), date(2026, 3, 9)) == (51, True)


def test_in_the_south_spring_is_in_september() -> None:
    """A look of 1 September is old on the 13th where it is spring, and not in the north."""
    for latitude_deg, assumed in ((-40.0, True), (47.0, False)):
        garden = SmallGarden(latitude_deg).spot("bed").plant("p", species="apricot").stage("p", "2026-09-01", 53)
        assert reckoned(garden, date(2026, 9, 13))[1] is assumed


def test_a_plant_whose_leaves_fell_has_no_stage_for_a_frost() -> None:
    """After a look at falling leaves, and in the next growing year before any look, nothing is reckoned."""
    garden = tree("fig", 85, "2026-09-20").stage("p", "2026-10-20", 93)
    assert stage_to_reckon_with(Scene(garden, LORE, date(2026, 10, 25), ""), "p") is None
    assert stage_to_reckon_with(Scene(tree("fig", 85, "2025-09-20"), LORE, TODAY, ""), "p") is None


def test_what_it_stands_says_that_the_stage_is_assumed() -> None:
    """The values are those of the stage reckoned with; the day is that of the look."""
    fact = one(tree("apricot", 53, "2026-04-12"), "critical_now")
    assert (fact.text("stage"), fact.get("assumed"), fact.get("age_days"), fact.day("on")) == (
        "full bloom", True, 12, date(2026, 4, 12))  # fmt: skip
    assert fact.number("kill10_c") == -2.8


@pytest.mark.parametrize(
    ("species", "bbch", "stage", "name", "value"),
    [
        ("fig", 0, "buds closed", "stands_c", -3.9),  # 25 °F, house judgement
        ("fig", 1, "buds swelling", "damage_c", -2.2),  # 28 °F, common practice for green growth
        ("persimmon", 11, "green growth", "alert_c", 0.0),
        ("mulberry", 9, "green growth", "damage_c", -2.2),
        ("apricot", 0, "buds closed", "stands_c", -9.4),  # 15 °F at first swelling (table after WSU EB1240)
    ],
)
def test_new_growth_and_closed_buds(species: str, bbch: int, stage: str, name: str, value: float) -> None:
    """Late kinds have levels to act on; a closed bud stands at least what a swelling one does."""
    fact = one(tree(species, bbch), "critical_now")
    assert (fact.text("stage"), fact.number(name), fact.text("unknown")) == (stage, value, "")


# ---- tonight


@pytest.mark.parametrize(
    ("species", "bbch", "min_c", "sky", "risk"),
    [
        ("apricot", 65, -2.8, "cloud", "likely"),  # 27 °F at full bloom
        ("apricot", 65, -2.7, "cloud", "possible"),
        ("apricot", 65, -0.8, "cloud", "possible"),
        ("apricot", 65, -0.7, "cloud", "unlikely"),
        ("apricot", 65, 1.0, "clear", "possible"),  # a still clear night falls further
        ("apricot", 65, 1.3, "clear", "unlikely"),
        ("apricot", 51, -2.5, "clear", "unlikely"),  # 15 °F at first swelling
        ("persimmon", 0, -3.0, "clear", "closed"),
        ("persimmon", 0, -5.0, "clear", "closed and colder"),
        ("persimmon", 1, -3.0, "clear", "likely"),
        ("fig", 11, 0.0, "cloud", "watch"),
        ("fig", 11, 0.1, "cloud", "unlikely"),
        ("japanese-plum", 65, -2.0, "clear", "not known"),
    ],
)
def test_a_forecast_against_what_a_stage_stands(species: str, bbch: int, min_c: float, sky: str, risk: str) -> None:
    """A forecast as cold as harm takes is a danger; it may be two degrees too mild, four on a still clear night."""
    fact = one(forecast(tree(species, bbch), min_c, sky=sky, wind_m_s=1.0), "frost_risk")
    assert (fact.text("risk"), fact.text("by"), fact.number("expected_c")) == (risk, "forecast", min_c)
    assert (fact.text("why") != "") is (risk == "not known")


@pytest.mark.parametrize(
    ("species", "bbch", "min_c", "risk"),
    [
        ("fig", 11, -1.0, "possible"),
        ("apricot", 51, -2.9, "unlikely"),
        ("apricot", 51, -3.0, ""),  # two colder than forecast is five below
        ("apricot", 0, -1.0, ""),
        ("fig", 0, -1.0, ""),
        ("japanese-plum", 65, -2.0, ""),
    ],
)
def test_a_sleeping_pot_is_a_matter_of_its_roots(species: str, bbch: int, min_c: float, risk: str) -> None:
    """What is awake in a pot has its stage's risk; where its roots would go first nothing is said of its buds."""
    facts = facts_of(forecast(tree(species, bbch, growing="pot"), min_c), "frost_risk", "p")
    assert [fact.text("risk") for fact in facts] == ([risk] if risk else [])


def test_a_limb_is_covered_with_its_tree() -> None:
    """A limb's tree is the one at the end of its grafts; a tree is its own."""
    garden = tree().plant("limb", species="peach", grafted_on="p").plant("spur", species="apricot", grafted_on="limb")
    assert {fact.text("plant"): fact.text("tree") for fact in facts_of(garden, "whole_tree")} == {
        "p": "p", "limb": "p", "spur": "p"}  # fmt: skip


def hollow(low_lying: bool = True, nights: int = 0) -> SmallGarden:
    """Return a garden with an apricot in bloom in a hollow, measured four degrees colder on some clear nights."""
    garden = tree(low_lying=low_lying)
    for n in range(nights):
        on = (TODAY - timedelta(days=20 - n)).isoformat()
        garden.weather(on, 1.0 + n % 3, 15.0)
        garden.tell("weather_day", on=date.fromisoformat(on), spot="bed", min_c=-3.0 + n % 3, max_c=14.0)
    return garden


@pytest.mark.parametrize(
    ("low_lying", "nights", "wind_m_s", "there_c", "offset"),
    [
        (True, 0, 1.0, -1.0, "supposed"),
        (False, 0, 1.0, 1.0, "none"),
        (True, 8, 1.0, -3.0, "measured"),
        (True, 0, 4.0, 1.0, "none"),  # in wind no cold air gathers
        (True, 8, 4.0, 1.0, "none"),
    ],
)
def test_a_spot_s_own_low(low_lying: bool, nights: int, wind_m_s: float, there_c: float, offset: str) -> None:
    """A forecast of one above is three below in a hollow measured four colder, and one below in one never measured."""
    fact = one(forecast(hollow(low_lying, nights), 1.0, sky="clear", wind_m_s=wind_m_s), "frost_risk")
    assert (fact.number("expected_c"), fact.text("offset")) == (there_c, offset)


def test_an_evening_in_a_hollow_nobody_measured() -> None:
    """The station's low less two degrees, with two more of doubt."""
    lows = {}
    for low_lying in (False, True):
        garden = tree(low_lying=low_lying).tell("evening", on=TODAY, temp_c=2.0, dew_point_c=-6.0)
        fact = one(garden, "frost_risk")
        lows[low_lying] = (fact.number("expected_c"), fact.number("low_c"), fact.number("high_c"))
        assert fact.text("by") == "evening" and fact.get("rough") is True
        assert fact.number("dew_below_k") == pytest.approx(3.2)
    assert lows == {False: (-4.0, -10.0, 2.0), True: (-6.0, -14.0, 2.0)}


def test_a_forecast_goes_before_an_evening_that_tells_little() -> None:
    """With too few nights of the place the evening leaves twelve degrees open; so it does where wind brings the cold."""
    garden = tree().tell("evening", on=TODAY, temp_c=2.0, dew_point_c=-6.0)
    assert one(garden, "frost_risk").text("by") == "evening"
    assert one(forecast(garden, -1.0), "frost_risk").text("by") == "forecast"


def test_an_evening_that_fits_its_nights_goes_before_the_forecast_but_not_in_wind() -> None:
    """Twelve clear evenings make the figure the place's own; a freezing wind takes that away."""
    for wind_m_s, by in ((1.0, "evening"), (7.0, "forecast")):
        garden = tree()
        for n in range(12):
            on = TODAY - timedelta(days=3 * (12 - n))
            air, dew = 2.0 + 0.5 * n, -6.0 + (n * 7) % 5
            garden.tell("evening", on=on, temp_c=air, dew_point_c=dew)
            garden.weather(on.isoformat(), air - 4, air + 9)
            garden.weather((on + timedelta(days=1)).isoformat(), round(0.5 * air + 0.1 * dew - 4, 3), air + 8)
        garden.tell("evening", on=TODAY, temp_c=4.5, dew_point_c=-3.0)
        assert one(forecast(garden, -4.0, sky="clear", wind_m_s=wind_m_s), "frost_risk").text("by") == by


def test_nothing_is_said_of_what_stands_under_a_roof_or_was_never_looked_at() -> None:
    """The station's night is not the store's, and no stage is no risk."""
    assert facts_of(forecast(tree(under_cover="shelter"), -5.0), "frost_risk", "p") == []
    bare = SmallGarden().spot("bed").plant("p", species="apricot")
    assert facts_of(forecast(bare, -5.0), "frost_risk", "p") == []


def test_an_assumed_stage_is_told_with_the_age_of_the_look() -> None:
    """Nobody is to take it for something seen."""
    fact = one(forecast(tree("apricot", 53, "2026-04-12"), -3.0), "frost_risk")
    assert fact.text("stage") == "perhaps full bloom by now, 12 days after the last look"
    assert fact.get("assumed") is True


# ---- the nights ahead


def test_the_first_night_near_what_it_stands_is_the_coming_frost() -> None:
    """Tonight is not counted; of the later nights the first within two degrees, by the last forecast for each."""
    garden = forecast(tree(), -5.0)
    assert facts_of(garden, "coming_frost", "p") == []
    forecast(garden, -0.7, days=2)
    assert facts_of(garden, "coming_frost", "p") == []
    forecast(garden, -0.8, days=3, sky="clear", wind_m_s=1.0)
    forecast(garden, -6.0, days=4)
    fact = one(garden, "coming_frost")
    assert (fact.get("ahead_days"), fact.day("evening")) == (2, TODAY + timedelta(days=2))
    assert (fact.number("min_c"), fact.number("margin_k"), fact.text("sky")) == (-0.8, 2.0, "radiation")
    forecast(garden, 5.0, days=3)
    assert one(garden, "coming_frost").get("ahead_days") == 3


def test_the_coming_frost_of_a_hollow_is_its_own() -> None:
    """Two degrees colder while nobody measured it, but not in wind; nothing under a roof or for closed buds."""
    assert one(forecast(hollow(), 0.5, days=2), "coming_frost").number("min_c") == -1.5
    assert facts_of(forecast(hollow(), 0.5, days=2, wind_m_s=5.0), "coming_frost", "p") == []
    assert facts_of(forecast(tree(under_cover="shelter"), -9.0, days=2), "coming_frost", "p") == []
    assert facts_of(forecast(tree("fig", 0), -9.0, days=2), "coming_frost", "p") == []


# ---- a night just gone


@pytest.mark.parametrize(
    ("min_c", "days", "found"), [(-2.8, 0, True), (-2.7, 0, False), (-5.0, 3, True), (-5.0, 4, False)]
)
def test_a_night_just_gone_is_measured_against_the_stage(min_c: float, days: int, found: bool) -> None:
    """At full bloom harm starts at 27 °F; four nights back are looked at."""
    garden = tree(seen="2026-04-19").weather((TODAY - timedelta(days=days)).isoformat(), min_c, 9.0)
    facts = facts_of(garden, "frost_past", "p")
    assert [(fact.get("age_days"), fact.number("low_c")) for fact in facts] == ([(days, min_c)] if found else [])


def test_the_spot_s_own_thermometer_goes_before_the_station() -> None:
    """A low read at the spot is its low; else the station's less what is measured or supposed of the spot."""
    garden = hollow().weather("2026-04-24", -1.0, 9.0)
    fact = one(garden, "frost_past")
    assert (fact.number("low_c"), fact.text("known")) == (-3.0, "reckoned from the station")
    garden.tell("weather_day", on=TODAY, spot="bed", min_c=-4.5, max_c=9.0)
    fact = one(garden, "frost_past")
    assert (fact.number("low_c"), fact.text("known")) == (-4.5, "at the spot")
    level = tree().weather("2026-04-24", -3.0, 9.0)
    assert one(level, "frost_past").text("known") == "at the station"


def test_a_look_after_the_frost_is_known() -> None:
    """Buds cut on the day or later, or harm by frost told, is a look; buds cut before it are none."""
    for on, looked in ((TODAY - timedelta(days=1), False), (TODAY, True)):
        garden = tree().weather("2026-04-24", -4.0, 9.0).tell("inspection", plant="p", on=on, buds_cut=20, buds_dead=3)
        assert one(garden, "frost_past").get("looked") is looked
    garden = tree().weather("2026-04-24", -4.0, 9.0).tell("harm", plant="p", on=TODAY, cause="frost")
    assert one(garden, "frost_past").get("looked") is True
    garden = tree().weather("2026-04-24", -4.0, 9.0).tell("harm", plant="p", on=TODAY, cause="wind")
    assert one(garden, "frost_past").get("looked") is False


def test_what_stood_under_a_roof_that_night_was_not_frosted() -> None:
    """And new growth is told from flower buds."""
    assert facts_of(tree(under_cover="shelter").weather("2026-04-24", -6.0, 9.0), "frost_past", "p") == []
    assert one(tree("fig", 11).weather("2026-04-24", -3.0, 9.0), "frost_past").text("organ") == "new growth"


# ---- around it


def test_a_wrap_is_on_until_it_is_told_off() -> None:
    """The last word counts; a wrap of last year's winter has come off whether told or not."""
    garden = tree("fig", 0).tell("work", plant="p", on=date(2025, 12, 2), what="wrapped")
    assert one(garden, "wrapped_now").get("age_days") == 143
    assert facts_of(garden, "wrapped_now", "p", date(2026, 8, 20)) == []
    garden.tell("work", plant="p", on=date(2026, 4, 20), what="unwrapped")
    assert one(garden, "wrapped_now").get("wrapped") is False
    assert facts_of(tree("fig", 0).tell("work", plant="p", on=TODAY, what="pruned"), "wrapped_now", "p") == []


def winters(lows: dict[int, float], latitude_deg: float = 47.0) -> SmallGarden:
    """Return a garden whose winters, named by their spring, had these lows in their midst."""
    garden = SmallGarden(latitude_deg)
    for year, low in lows.items():
        first = date(year - 1, 11, 1) if latitude_deg > 0 else date(year, 5, 1)
        for n in range(151):
            garden.weather((first + timedelta(days=n)).isoformat(), low if n == 70 else 1.0, 8.0)
    return garden


def test_the_usual_low_of_winters_and_this_season_s_so_far() -> None:
    """The middle of three earlier winters; cold is counted from two months before the growing year began."""
    garden = winters({2024: -14.0, 2025: -9.0, 2023: -11.0}).weather("2025-10-20", -3.5, 9.0)
    garden.weather("2025-08-20", -9.0, 9.0)
    (fact,) = facts_of(garden, "winter_low", today=date(2025, 11, 20))
    assert (fact.number("usual_c"), fact.get("years"), fact.number("so_far_c")) == (-11.0, 3, -3.5)
    assert fact.get("left_days") == 101
    (october,) = facts_of(garden, "winter_low", today=date(2025, 10, 21))
    assert (october.number("so_far_c"), october.get("years"), october.get("left_days")) == (-3.5, 3, 131)


def test_a_winter_with_gaps_is_not_counted_and_the_south_has_its_own() -> None:
    """Under a hundred days say too little; in the south winter is in the middle of the year."""
    garden = winters({2024: -14.0})
    for n in range(99):
        garden.weather((date(2024, 11, 1) + timedelta(days=n)).isoformat(), -20.0, 5.0)
    (fact,) = facts_of(garden, "winter_low", today=date(2025, 11, 20))
    assert (fact.number("usual_c"), fact.get("years")) == (-14.0, 1)
    south = winters({2024: -6.0, 2025: -8.0}, -40.0)
    (fact,) = facts_of(south, "winter_low", today=date(2026, 5, 20))
    assert (fact.number("usual_c"), fact.get("years"), fact.get("left_days")) == (-7.0, 2, 104)
    assert facts_of(SmallGarden(), "winter_low") == []


def test_how_far_off_hard_frost_is() -> None:
    """The one-in-ten day of the last minimum of 28 °F or less; nothing with fewer than ten springs."""
    garden = SmallGarden()
    for year in range(2014, 2026):
        hard, light_until = date(year, 4, 10 + year % 5), date(year, 4, 25 + year % 5)
        for n in range(211):
            day = date(year, 1, 1) + timedelta(days=n)
            garden.weather(day.isoformat(), -2.2 if day < hard else -1.0 if day < light_until else 3.0, 9.0)
    (fact,) = facts_of(garden, "hard_frost_ahead")
    (light,) = facts_of(garden, "frost_end")
    assert fact.get("years") == 12 and date(2026, 4, 11) < (fact.day("one_in_ten") or TODAY) < date(2026, 4, 18)
    assert fact.get("ahead_days") == ((fact.day("one_in_ten") or TODAY) - TODAY).days
    assert (light.day("day") or TODAY) > (fact.day("one_in_ten") or TODAY)
    assert facts_of(SmallGarden().weather("2026-04-01", -5.0, 8.0), "hard_frost_ahead") == []


def test_the_last_freeze_on_record() -> None:
    """At or below nought at the station; a spot's own thermometer is another matter."""
    garden = SmallGarden().spot("bed").weather("2026-04-14", 0.0, 9.0).weather("2026-04-20", 0.1, 9.0)
    garden.tell("weather_day", on=date(2026, 4, 21), spot="bed", min_c=-3.0, max_c=9.0)
    (fact,) = facts_of(garden, "last_freeze")
    assert (fact.day("on"), fact.number("min_c"), fact.get("age_days"), fact.day("newest")) == (
        date(2026, 4, 14), 0.0, 10, date(2026, 4, 20))  # fmt: skip
    assert facts_of(SmallGarden().weather("2026-04-20", 0.1, 9.0), "last_freeze") == []


def rainless(days: int, **last: float) -> SmallGarden:
    garden = tree()
    for n in range(1, days + 1):
        garden.tell("weather_day", on=TODAY - timedelta(days=n), min_c=1.0, max_c=15.0, rain_mm=0.2)
    return garden.tell("weather_day", on=TODAY - timedelta(days=days + 1), min_c=1.0, max_c=15.0, **last)


def test_how_long_a_soil_has_had_no_water() -> None:
    """Back to the day on which five millimetres had fallen, or as far as rain is recorded; watering ends it too."""
    assert one(rainless(8, rain_mm=3.4), "dry_spell").get("dry_days") == 8
    assert one(rainless(8), "dry_spell").get("dry_days") == 8
    assert one(rainless(8, rain_mm=3.2), "dry_spell").get("dry_days") == 9
    watered = rainless(8, rain_mm=9.0).tell("work", plant="p", on=TODAY - timedelta(days=3), what="watered")
    assert one(watered, "dry_spell").get("dry_days") == 3
    at_spot = rainless(8, rain_mm=9.0).tell("work", spot="bed", on=TODAY - timedelta(days=2), what="watered")
    assert one(at_spot, "dry_spell").get("dry_days") == 2
    assert facts_of(tree().weather("2026-04-23", 1.0, 9.0), "dry_spell", "p") == []
    rain_today = rainless(8, rain_mm=9.0)
    rain_today.tell("weather_day", on=TODAY, min_c=1.0, max_c=9.0, rain_mm=6.0)
    assert facts_of(rain_today, "dry_spell", "p") == []


def test_the_last_count_of_buds_with_its_bounds() -> None:
    """Exact bounds of a share (scipy's binomtest gives 0.071 and 0.401 for 4 of 20); a wrong count is left alone."""
    garden = tree("apple", 59).tell("inspection", plant="p", on=date(2026, 4, 20), buds_cut=30, buds_dead=30)
    garden.tell("inspection", plant="p", on=date(2026, 4, 23), buds_cut=20, buds_dead=16)
    fact = one(garden, "buds_alive")
    assert (fact.text("species"), fact.get("cut"), fact.get("dead"), fact.number("alive_share")) == (
        "apple",
        20,
        16,
        0.2,
    )
    assert (fact.number("least_share"), fact.number("most_share")) == (0.071, 0.401)
    for values in ({"buds_cut": 20}, {"buds_cut": 20, "buds_dead": 21}, {"scratch": "green"}):
        assert facts_of(tree("apple").tell("inspection", plant="p", on=TODAY, **values), "buds_alive", "p") == []
    last_year = tree("apple").tell("inspection", plant="p", on=date(2025, 4, 20), buds_cut=20, buds_dead=5)
    assert facts_of(last_year, "buds_alive", "p") == []


def test_the_last_harm_by_frost_of_this_year() -> None:
    """Other harm, and a frost of last year, are no frost of this one."""
    garden = tree().tell("harm", plant="p", on=date(2026, 4, 20), cause="frost", extent="half")
    fact = one(garden, "frost_harm")
    assert (fact.get("age_days"), fact.text("extent")) == (4, "half")
    for on, cause in ((date(2025, 4, 20), "frost"), (date(2026, 4, 20), "wind")):
        assert facts_of(tree().tell("harm", plant="p", on=on, cause=cause), "frost_harm", "p") == []


def test_a_question_about_all_plants_gets_each_of_them() -> None:
    """Without a plant named, every plant with its records has its fact."""
    garden = forecast(tree(), -4.0).plant("q", species="fig").stage("q", "2026-04-22", 11).stage("p", "2026-04-22", 65)
    assert {fact.text("plant") for fact in facts_of(garden, "frost_risk")} == {"p", "q"}
