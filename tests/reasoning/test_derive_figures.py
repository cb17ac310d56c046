"""Figures derived from records: nights, freezes, chill, forecasts, sun, covers, trials, with what each rests on.

All gardens are invented. Where an outside figure is compared with, its source stands beside it.
"""

from __future__ import annotations

from datetime import date, timedelta
from math import pi, sin
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import mannwhitneyu
from small_garden import SmallGarden

from advisor.calc.chill import chill_of_days
from advisor.calc.horizon import Obstruction, Outlook
from advisor.calc.kept_years import KEPT
from advisor.calc.sun import direct_sun_h
from advisor.config import find_rules
from advisor.facts import Derived, Fact, Recorded
from advisor.reasoning.derive import Scene, derive
from advisor.records.kinds import load_kinds
from advisor.records.species import load_lore

KINDS, LORE = load_kinds(find_rules()), load_lore(find_rules())
TODAY = date(2026, 4, 24)


def facts_of(garden: SmallGarden, kind: str, plant: str = "", today: date = TODAY) -> list[Fact]:
    scene = Scene(garden, LORE, today, "why-late" if plant else "where-to-plant", plant)
    facts = derive(scene, [kind], KINDS).of(kind)
    for fact in facts:
        fields = KINDS[kind].fields
        assert all(fields[name].fits(value) for name, value in fact.values.items()), fact
        assert all(name in fact.values for name, field in fields.items() if field.required), fact
    return facts


def rests_on(fact: Fact) -> set[str]:
    assert isinstance(fact.origin, Derived)
    return {below.origin.kind for below in fact.origin.facts if isinstance(below.origin, Recorded)}


def weather(garden: SmallGarden, first: date, last: date, shift_k: float = 0.0) -> SmallGarden:
    """Tell days from first to last: a year's wave, a nine-day wave on it, and a wide day."""
    for n in range((last - first).days + 1):
        day = first + timedelta(days=n)
        mean = 10 - 11 * sin(2 * pi * (day.timetuple().tm_yday + 75) / 365) + 3 * sin(n * 2 * pi / 9) + shift_k
        garden.weather(day.isoformat(), round(mean - 6, 1), round(mean + 6, 1))
    return garden


# ---- nights


def with_nights(count: int, today: date = TODAY) -> SmallGarden:
    """Return a garden with clear evenings before today, each night's low on a line of its evening and dew point."""
    garden = SmallGarden().spot("yard", under_cover="none")
    for n in range(count):
        on = today - timedelta(days=3 * (count - n))
        air, dew = 2.0 + 0.5 * n, -6.0 + (n * 7) % 5
        garden.tell("evening", on=on, temp_c=air, dew_point_c=dew)
        garden.weather(on.isoformat(), air - 4, air + 9)
        garden.weather((on + timedelta(days=1)).isoformat(), round(0.5 * air + 0.1 * dew - 4, 3), air + 8)
    return garden.tell("evening", on=today, temp_c=4.5, dew_point_c=-3.0)


def test_tonight_s_low_follows_this_place_s_own_nights() -> None:
    """On an exact line the low is the line's and the range narrow; it rests on the evenings and the lows."""
    (fact,) = facts_of(with_nights(12), "night_low")
    assert fact.number("expected_c") == pytest.approx(0.5 * 4.5 + 0.1 * -3.0 - 4, abs=0.1)
    assert (fact.number("high_c") or 0) - (fact.number("low_c") or 0) < 0.3
    assert (fact.get("nights"), fact.get("rough"), fact.get("beyond"), fact.text("sky")) == (
        12,
        False,
        False,
        "unknown",
    )
    assert rests_on(fact) == {"evening", "weather_day"}
    assert 0 < (fact.number("frost_after_h") or 0) < 10


@pytest.mark.parametrize(("count", "rough"), [(7, True), (8, False)])
def test_few_nights_give_rough_bounds_that_say_so(count: int, rough: bool) -> None:
    """Seven nights are too few to fit; the bounds are then from other places, and wide."""
    (fact,) = facts_of(with_nights(count), "night_low")
    assert fact.get("rough") is rough
    assert ((fact.number("high_c") or 0) - (fact.number("low_c") or 0) > 10) is rough


def test_an_evening_beyond_those_fitted_is_named() -> None:
    """Nothing is promised outside experience."""
    garden = with_nights(12)
    garden.rows["evening"].pop()
    garden.tell("evening", on=TODAY, temp_c=15.0, dew_point_c=-3.0)
    assert facts_of(garden, "night_low")[0].get("beyond") is True


@pytest.mark.parametrize("lacks", ["evening", "dew_point_c"])
def test_without_an_evening_reading_nothing_is_said_of_the_night(lacks: str) -> None:
    """No reading this evening, or none of the dew point: the fact is absent and the reading asked for."""
    garden = with_nights(12)
    garden.rows["evening"].pop()
    if lacks != "evening":
        garden.tell("evening", on=TODAY, temp_c=4.5)
    assert facts_of(garden, "night_low") == []


def test_cloudy_nights_are_not_fitted() -> None:
    """A night of which the forecast said cloud is none of the calm clear ones."""
    garden = with_nights(12)
    for row in garden.of("evening")[:6]:
        garden.tell("forecast_day", issued=row.get("on"), for_day=row.get("on"), sky="cloud", wind_m_s=1.0)
    assert facts_of(garden, "night_low")[0].get("nights") == 6


def test_a_low_spot_is_colder_by_what_its_own_nights_showed() -> None:
    """Six clear nights 2.0 to 2.5 colder: the median, its interval, and tonight's low there."""
    garden = with_nights(12).spot("hollow")
    rows = garden.of("weather_day")[1::2]  # the mornings after
    for n, row in enumerate(rows[-6:]):
        low = (row.number("min_c") or 0) - 2.0 - 0.1 * n
        garden.tell("weather_day", on=row.get("on"), spot="hollow", min_c=low, max_c=row.number("max_c"))
    (offset,) = facts_of(garden, "cold_offset")
    assert (offset.text("spot"), offset.get("nights"), offset.get("differs")) == ("hollow", 6, True)
    assert offset.number("colder_by_k") == pytest.approx(2.25, abs=0.06)
    station, hollow = facts_of(garden, "night_low")
    assert hollow.text("spot") == "hollow"
    assert (station.number("expected_c") or 0) - (hollow.number("expected_c") or 0) == pytest.approx(2.25, abs=0.1)


# ---- frost and stages


@pytest.mark.parametrize(
    ("species", "bbch", "hurts_c"),
    [
        ("apricot", 65, -2.8),  # 27 °F at full bloom (table of Michigan State University after WSU EB1240)
        ("apricot", 51, -9.4),  # 15 °F at first swelling (the same)
        ("apple", 65, -2.2),  # 28 °F (Penn State Extension, Orchard Frost)
        ("fig", 11, -2.2),  # 28 °F for new growth, common practice
    ],
)
def test_what_a_stage_stands(species: str, bbch: int, hurts_c: float) -> None:
    """Published kill temperatures by stage, or the level for new growth where no table exists."""
    garden = SmallGarden().spot("bed", under_cover="none").plant("p", species=species).stage("p", "2026-04-22", bbch)
    (fact,) = facts_of(garden, "critical_now", "p")
    found = fact.number("kill10_c") if fact.number("kill10_c") is not None else fact.number("damage_c")
    assert found == pytest.approx(hurts_c, abs=0.06)
    assert fact.text("source") and rests_on(fact) == {"stage"}


@pytest.mark.parametrize(("species", "bbch"), [("apricot", 11), ("apricot", 79), ("japanese-plum", 65)])
def test_what_is_not_published_is_not_known(species: str, bbch: int) -> None:
    """A look at leaves, fruit past the last published stage, a kind without a table: a reason and no figure."""
    garden = SmallGarden().spot("bed").plant("p", species=species).stage("p", "2026-04-22", bbch)
    (fact,) = facts_of(garden, "critical_now", "p")
    assert fact.text("unknown") and fact.get("kill10_c") is None and fact.get("damage_c") is None


def risk_at(evening_c: float, under_cover: str = "none") -> list[Fact]:
    garden = with_nights(12).spot("bed", under_cover=under_cover).plant("a", species="apricot")
    garden.stage("a", "2026-04-22", 65).rows["evening"].pop()
    garden.tell("evening", on=TODAY, temp_c=evening_c, dew_point_c=-3.0)
    return facts_of(garden, "frost_risk")


def test_the_risk_of_a_night_to_open_blossom() -> None:
    """Low of 0.5 T - 4.3 without any spread, against -2.8: it turns from unlikely to likely at an evening of 3."""
    risks = [risk_at(evening)[0].text("risk") for evening in (6.0, 3.05, 2.95, 2.0)]
    assert risks == ["unlikely", "unlikely", "likely", "likely"]
    assert risk_at(2.0)[0].text("killed") not in ("", "not known")
    assert risk_at(2.0)[0].number("reached_after_h") is not None


def test_a_plant_under_cover_is_not_at_the_station_s_risk() -> None:
    """What the station measures says nothing of a store."""
    assert risk_at(2.0, under_cover="shelter") == []


def test_freeze_dates_agree_with_a_walk_over_the_days() -> None:
    """Twelve springs and autumns: earliest and latest as counted here; one in ten is later than the middle in spring."""
    garden = SmallGarden()
    for year in range(2014, 2026):
        weather(garden, date(year, 1, 1), date(year, 12, 31), shift_k=((year * 7) % 5 - 2) * 0.8)
    days = {row.day("on"): row.number("min_c") or 0.0 for row in garden.of("weather_day")}
    last = {
        y: max(d for d, low in days.items() if d and d.year == y and d.month < 8 and low <= 0)
        for y in range(2014, 2026)
    }
    facts = {(f.text("season"), f.number("threshold_c")): f for f in facts_of(garden, "freeze_date")}
    spring = facts["spring", 0.0]
    assert (spring.get("years"), spring.get("with_freeze")) == (12, 12)
    wanted = max(day.replace(year=2026) for day in last.values())
    assert spring.day("latest") == wanted
    assert (spring.day("middle") or TODAY) < (spring.day("one_in_ten") or TODAY)
    autumn = facts["autumn", 0.0]
    assert (autumn.day("one_in_ten") or TODAY) < (autumn.day("middle") or TODAY)
    assert all(day and day.year == 2026 and day.month >= 9 for day in (autumn.day("earliest"), autumn.day("middle")))
    assert rests_on(spring) == {"weather_day"}


# ---- chill and forecasts


def test_chill_so_far_is_the_model_s_over_the_same_days() -> None:
    """This winter's portions, the median of the earlier ones, and their width."""
    garden = SmallGarden()
    for year in (2023, 2024, 2025):
        weather(garden, date(year, 11, 1), date(year + 1, 4, 24), shift_k=year - 2024)
    (fact,) = facts_of(garden, "chill_so_far")
    days = [(r.day("on"), r.number("min_c"), r.number("max_c")) for r in garden.of("weather_day")]
    this = [day for day in days if day[0] and day[0] >= date(2025, 11, 1)]
    assert fact.number("sum_portions") == pytest.approx(chill_of_days(this, 47.0).portions.value, abs=0.06)  # type: ignore[arg-type]
    assert (fact.get("years"), fact.number("plus_minus_portions")) == (2, 7.0)
    assert fact.number("usual_portions") != fact.number("sum_portions")


def test_a_new_day_is_reckoned_alone() -> None:
    """Ten years of weather are reckoned once; the next day costs two days, and the same question nothing."""
    garden = SmallGarden(latitude_deg=47.013)
    weather(garden, date(2016, 11, 1), date(2026, 4, 23))
    facts_of(garden, "chill_so_far", today=date(2026, 4, 23))
    before = KEPT.days_reckoned
    garden.weather("2026-04-24", 3.0, 15.0)
    facts_of(garden, "chill_so_far")
    assert KEPT.days_reckoned - before == 2
    facts_of(garden, "chill_so_far")
    assert KEPT.days_reckoned - before == 2


def bloomer(years: int) -> SmallGarden:
    """Return a garden in which an apricot bloomed each spring on the day that a sum of warmth was reached."""
    garden = SmallGarden(latitude_deg=47.021).spot("bed", under_cover="none").plant("a", species="apricot")
    for year in range(2026 - years, 2026):
        weather(garden, date(year - 1, 11, 1), date(year, 10, 31), shift_k=((year * 3) % 4 - 1.5))
        rows = {row.day("on"): row for row in garden.of("weather_day")}
        total, day = 0.0, date(year, 1, 1)
        while total < 90:
            row = rows[day]
            total += max(0.0, ((row.number("min_c") or 0) + (row.number("max_c") or 0)) / 2 - 4)
            day += timedelta(days=1)
        garden.stage("a", day.isoformat(), 60)
    return weather(garden, date(2025, 11, 1), date(2026, 3, 1), shift_k=0.4)


def test_bloom_is_foretold_from_own_dates() -> None:
    """Eight dated springs: the range holds the day on which this spring's weather, told later, brings the bloom."""
    (fact,) = facts_of(bloomer(8), "wake_forecast", "a", today=date(2026, 3, 1))
    assert (fact.text("milestone"), fact.get("own_years"), fact.get("years")) == ("bloom", 8, 8)
    assert fact.text("rests_on") in ("own dates", "mean of own dates")
    early, likely, late = (fact.day(name) or TODAY for name in ("earliest", "likely", "latest"))
    assert date(2026, 3, 1) < early <= likely <= late < date(2026, 5, 20)
    assert {"stage", "weather_day", "plant"} <= rests_on(fact)


def test_without_own_dates_or_published_heat_there_is_no_date() -> None:
    """A fig's heat is not published: the chill met is told, the date is not known here, and why."""
    garden = weather(SmallGarden().spot("bed").plant("f", species="fig"), date(2025, 11, 1), date(2026, 3, 1))
    (fact,) = facts_of(garden, "wake_forecast", "f", today=date(2026, 3, 1))
    assert (fact.text("rests_on"), fact.day("likely")) == ("chill alone", None)
    assert (fact.number("chill_share") or 0) > 0 and "three dated years" in fact.text("caution")


def test_what_has_come_is_not_foretold() -> None:
    """Once the bloom is recorded the forecast falls silent."""
    garden = bloomer(5).stage("a", "2026-02-27", 60)
    assert facts_of(garden, "wake_forecast", "a", today=date(2026, 3, 1)) == []


def test_a_winter_with_holes_gives_no_forecast() -> None:
    """With a fortnight missing in January nothing is said of chill met."""
    garden = SmallGarden().spot("bed").plant("a", species="apricot")
    weather(garden, date(2025, 11, 1), date(2026, 1, 5))
    weather(garden, date(2026, 1, 20), date(2026, 3, 1))
    assert facts_of(garden, "wake_forecast", "a", today=date(2026, 3, 1)) == []


def test_figs_from_pinching_to_ripe() -> None:
    """Two weeks to fruitlets, then 90 to 120 days (common practice, no source); fruit set counts at once."""
    garden = SmallGarden().spot("bed").plant("f").plant("g")
    garden.tell("work", plant="f", on=date(2026, 6, 10), what="pinched").stage("g", "2026-06-24", 71)
    f, g = facts_of(garden, "ripe_forecast", today=date(2026, 7, 1))
    assert (f.day("earliest"), f.day("latest")) == (date(2026, 9, 22), date(2026, 10, 22))
    assert (g.day("earliest"), g.text("start")) == (date(2026, 9, 22), "fruit set")
    assert f.text("before_freeze") == "not known here" and f.day("last_pinch") is None


# ---- sun, covers, single readings


def test_sun_at_a_spot_is_reckoned_from_what_hides_it() -> None:
    """A barn of 7 m at 7 m to the south-east, as the sun's path gives it; a spot of which nobody told is not known."""
    garden = SmallGarden().spot("yard", plantable=True).spot("lane")
    garden.tell("obstruction", spot="yard", bearing_from_deg=100.0, bearing_to_deg=160.0, height_m=7.0, distance_m=7.0)
    (fact,) = facts_of(garden, "sun_hours")
    outlook = Outlook((Obstruction(100.0, 160.0, 45.0, straight=True),))
    assert fact.number("midsummer_h") == pytest.approx(
        direct_sun_h(outlook, date(2025, 6, 21), 47.0, 15.0).value, abs=0.06
    )
    assert (fact.number("spring_h") or 24) < (fact.number("midsummer_h") or 0)
    assert rests_on(fact) == {"place", "spot", "obstruction"}
    yard, lane = facts_of(garden, "site")
    assert (yard.number("sun_h"), yard.get("sun_told")) == (fact.number("midsummer_h"), True)
    assert (lane.number("sun_h"), lane.get("sun_told")) == (None, False)


def test_hours_that_the_grower_counted_outrank_the_reckoned() -> None:
    """What was counted there stands."""
    garden = SmallGarden().spot("yard", sun_h=5.0)
    garden.tell("obstruction", spot="yard", bearing_from_deg=0.0, bearing_to_deg=360.0, elevation_deg=10.0)
    assert facts_of(garden, "site")[0].number("sun_h") == 5.0


@settings(max_examples=15, deadline=None)
@given(st.floats(1, 60), st.floats(1, 29))
def test_a_taller_thing_never_adds_sun(elevation: float, more: float) -> None:
    """Raising what stands around only takes hours away."""

    def hours(deg: float) -> Any:
        garden = SmallGarden().spot("yard")
        garden.tell("obstruction", spot="yard", bearing_from_deg=90.0, bearing_to_deg=200.0, elevation_deg=deg)
        return facts_of(garden, "sun_hours")[0].number("spring_h")

    assert hours(elevation + more) <= hours(elevation)


def test_a_cover_s_published_effect_is_not_stretched_to_spring() -> None:
    """Wood chips were measured on summer afternoons: for a spring day nothing fits, and what is near is counted."""
    garden = SmallGarden().spot("bed").cover("bed", "wood chips", "2026-01-01")
    (fact,) = facts_of(garden, "cover_effect")
    assert fact.number("low_k") is None and (fact.get("near") or 0) > 0  # type: ignore[operator]


def test_one_reading_tells_a_day_s_mean_with_its_width() -> None:
    """10 °C at eight at 10 cm lies below the mean; under a cover nothing is said."""
    garden = SmallGarden().spot("bed", soil_texture="loam").spot("path").cover("path", "wood chips", "2026-01-01")
    garden.soil("bed", "2026-04-23T08:00", 10.0).soil("path", "2026-04-23T08:00", 10.0)
    (fact,) = facts_of(garden, "soil_day_mean")
    assert fact.text("spot") == "bed"
    assert (fact.number("mean_c") or 0) > 10.5 and (fact.number("plus_minus_k") or 0) > 1.0


def test_the_reading_that_would_make_a_comparison_fair() -> None:
    """One spot read at 10 cm in the sun at one, the other at 15 cm at eight in the shade: what is lacking is named."""
    garden = SmallGarden().spot("bed").spot("wall")
    garden.soil("bed", "2026-04-23T13:00", 14.0).soil("wall", "2026-04-23T08:00", 9.0, sky="shade", depth_cm=15)
    (fact,) = facts_of(garden, "fair_reading")
    assert {fact.text("spot"), fact.text("beside")} == {"bed", "wall"}
    assert fact.text("lacks") == "hour, depth and sky"
    garden.soil("wall", "2026-04-23T13:20", 11.0)
    assert facts_of(garden, "fair_reading") == []


# ---- trials


def trial(side_a: list[str], side_b: list[str]) -> SmallGarden:
    """Return a trial of opened mulch, each plant waking on the day given."""
    garden = SmallGarden().spot("bed")
    garden.tell("trial", name="open mulch", question="does it help?", differs="mulch raked back on side a",
                outcome="date of bud break", from_day=date(2026, 3, 1))  # fmt: skip
    for side, days in (("a", side_a), ("b", side_b)):
        for n, day in enumerate(days):
            garden.plant(f"{side}{n}").stage(f"{side}{n}", day, 7)
            garden.tell("trial_member", trial="Open Mulch", side=side, plant=f"{side}{n}")
    return garden


def test_a_trial_is_counted_exactly() -> None:
    """Four a side without overlap: luck does as much in 2 of 70 ways, as scipy's exact rank test says too."""
    a, b = (
        ["2026-04-04", "2026-04-06", "2026-04-07", "2026-04-09"],
        ["2026-04-12", "2026-04-13", "2026-04-15", "2026-04-18"],
    )
    (fact,) = facts_of(trial(a, b), "trial_outcome")
    days = [[date.fromisoformat(day).toordinal() for day in side] for side in (a, b)]
    assert fact.number("luck_share") == pytest.approx(mannwhitneyu(*days, method="exact").pvalue, abs=1e-4)
    assert (fact.get("count_a"), fact.get("count_b"), fact.get("settled")) == (4, 4, True)
    assert "8" in fact.text("shift") and "later than side a" in fact.text("words")
    assert rests_on(fact) == {"trial", "trial_member", "stage"}


def test_three_a_side_can_never_settle_it() -> None:
    """However clear it looks, the fact says so."""
    (fact,) = facts_of(trial(["2026-04-01"] * 3, ["2026-04-20"] * 3), "trial_outcome")
    assert fact.get("settled") is False and fact.number("least_luck_share") == pytest.approx(0.1)
    assert "can never settle it" in fact.text("words")


def test_looks_at_one_plant_are_one_plant() -> None:
    """Two plants on a side, one of them seen three times, are two."""
    garden = trial(["2026-04-04", "2026-04-06"], ["2026-04-12", "2026-04-13"]).stage("a0", "2026-04-05", 9)
    assert facts_of(garden, "trial_outcome")[0].get("count_a") == 2
    assert facts_of(trial(["2026-04-04"], ["2026-04-12", "2026-04-13"]), "trial_outcome") == []


def test_a_trial_of_soil_reads_the_soil() -> None:
    """The outcome's own words say what is compared; with no such record nothing is said."""
    garden = SmallGarden()
    garden.tell("trial", name="stones", question="?", differs="stones", outcome="soil temperature at 10 cm",
                from_day=date(2026, 4, 1))  # fmt: skip
    for side, temp_c in (("a", 10.0), ("b", 12.0)):
        for n in range(2):
            garden.spot(f"{side}{n}").soil(f"{side}{n}", "2026-04-10T13:00", temp_c + n)
            garden.tell("trial_member", trial="stones", side=side, spot=f"{side}{n}")
    (fact,) = facts_of(garden, "trial_outcome")
    assert fact.text("measured") == "soil temperature, °C" and "warmer" in fact.text("words")
