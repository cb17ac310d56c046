"""What a plant is at, when its roots last had water, how it was fed, and what ends its year, from small gardens.

All gardens are invented.
"""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from small_garden import SmallGarden

from advisor.calc.calendar import past_midsummer_days
from advisor.config import find_rules
from advisor.facts import Derived, Fact, Recorded
from advisor.reasoning.derive import Scene, derive
from advisor.reasoning.derive.growth_year import phase_of
from advisor.reasoning.derive.stages import reached
from advisor.records.kinds import load_kinds
from advisor.records.species import load_lore

KINDS, LORE = load_kinds(find_rules()), load_lore(find_rules())
TODAY = date(2026, 7, 20)


def facts_of(garden: SmallGarden, kind: str, plant: str = "f", today: date = TODAY) -> list[Fact]:
    facts = derive(Scene(garden, LORE, today, "what-next", plant), [kind], KINDS).of(kind)
    for fact in facts:
        fields = KINDS[kind].fields
        assert all(fields[name].fits(value) for name, value in fact.values.items()), fact
        assert all(name in fact.values for name, field in fields.items() if field.required), fact
        assert fact.text("plant") in ("", plant)
    return facts


def one(garden: SmallGarden, kind: str, *names: str, plant: str = "f", today: date = TODAY) -> Any:
    (fact,) = facts_of(garden, kind, plant, today)
    return tuple(fact.get(name) for name in names) if len(names) > 1 else fact.get(names[0])


def rests_on(fact: Fact) -> set[str]:
    assert isinstance(fact.origin, Derived)
    return {below.origin.kind for below in fact.origin.facts if isinstance(below.origin, Recorded)}


def bed(growing: str = "ground", under_cover: str = "none", species: str = "fig", **more: Any) -> SmallGarden:
    return SmallGarden().spot("bed", under_cover=under_cover).plant("f", "bed", species, growing, **more)


def rain(garden: SmallGarden, fell: dict[int, float], back: int = 40, today: date = TODAY) -> SmallGarden:
    """Tell the days up to today with their rain, dry but for those named by how many days ago they were."""
    for n in range(back, -1, -1):
        day = today - timedelta(days=n)
        garden.tell("weather_day", on=day, min_c=14.0, max_c=27.0, rain_mm=fell.get(n, 0.0))
    return garden


def did(garden: SmallGarden, what: str, ago: int, today: date = TODAY, **whom: str) -> SmallGarden:
    return garden.tell("work", **(whom or {"plant": "f"}), on=today - timedelta(days=ago), what=what)


def felt(garden: SmallGarden, root_ball: str, ago: int) -> SmallGarden:
    return garden.tell("inspection", plant="f", on=TODAY - timedelta(days=ago), root_ball=root_ball)


# ---- what it is at


@pytest.mark.parametrize(
    ("bbch", "phase"),
    [(0, "asleep"), (1, "swelling"), (6, "swelling"), (7, "waking"), (10, "waking"), (11, "leaf"), (49, "leaf"),
     (50, "asleep"), (52, "swelling"), (53, "waking"), (59, "waking"), (60, "flower"), (68, "flower"), (69, "fruit"),
     (79, "fruit"), (80, "ripening"), (89, "ripening"), (90, "leaf fall"), (99, "leaf fall")],
)  # fmt: skip
def test_codes_fall_into_phases(bbch: int, phase: str) -> None:
    """Each code lies in the phase that its decade names."""
    assert phase_of(bbch) == phase


@given(st.integers(0, 89))
def test_a_plant_that_sleeps_or_swells_is_not_awake(bbch: int) -> None:
    """Phases agree with the milestone of waking: what sleeps or swells has not reached it, all else has."""
    assert reached(bbch, "waking") == (phase_of(bbch) not in ("asleep", "swelling"))


def test_the_last_stage_or_picking_counts() -> None:
    """Fruit picked since the last stage makes it ripening, and an earlier year says nothing."""
    garden = bed().stage("f", "2025-08-01", 85)
    assert facts_of(garden, "growth_phase") == []
    garden.stage("f", "2026-07-01", 73)
    assert one(garden, "growth_phase", "phase", "age_days") == ("fruit", 19)
    garden.tell("crop", plant="f", on=date(2026, 7, 18), fruits=2)
    assert one(garden, "growth_phase", "phase", "age_days") == ("ripening", 2)


def test_last_autumns_fruit_is_remembered_until_the_year_is_out() -> None:
    """Fruit seen in October still hangs in November and December; in January it is last year's."""
    garden = bed(species="persimmon").stage("f", "2026-10-10", 85)
    assert one(garden, "growth_phase", "phase", today=date(2026, 12, 20)) == "ripening"
    assert facts_of(garden, "growth_phase", today=date(2027, 1, 5)) == []


# ---- water


def test_dry_days_are_counted_from_the_last_soaking() -> None:
    """Rain of 5 mm soaks, 4.9 mm does not; a watering since then counts anew."""
    garden = rain(bed(), {12: 5.0, 6: 4.9})
    assert one(garden, "water_now", "dry_days", "last") == (12, "rain")
    assert one(did(garden, "watered", 3), "water_now", "dry_days", "last") == (3, "watered")
    assert one(did(garden, "watered", 1, spot="bed"), "water_now", "dry_days") == 1
    assert one(did(garden, "watered", 0, spot="hollow"), "water_now", "dry_days") == 1
    (fact,) = facts_of(garden, "water_now")
    assert {"plant", "work", "weather_day"} <= rests_on(fact)


def test_where_rain_is_not_recorded_nothing_is_dry() -> None:
    """Days with temperatures alone say nothing of rain; a gap ends what is known."""
    garden = bed()
    for n in range(40):
        garden.weather((TODAY - timedelta(days=n)).isoformat(), 14.0, 29.0)
    assert facts_of(garden, "water_now") == []
    told = bed()
    for n in range(30, -1, -1):
        more = {} if n == 9 else {"rain_mm": 0.0}
        told.tell("weather_day", on=TODAY - timedelta(days=n), min_c=14.0, max_c=29.0, **more)
    assert one(told, "water_now", "dry_days", "last") == (8, None)


def test_today_and_yesterday_may_not_be_in_yet() -> None:
    """A file that ends two days ago still tells the dry spell; one that ends three days ago does not."""
    assert one(rain(bed(), {10: 8.0}, today=TODAY), "water_now", "dry_days") == 10
    late = rain(bed(), {8: 8.0}, today=TODAY - timedelta(days=2))
    assert one(late, "water_now", "dry_days") == 10
    assert facts_of(rain(bed(), {7: 8.0}, today=TODAY - timedelta(days=3)), "water_now") == []


def test_a_pot_is_dry_only_where_waterings_are_noted() -> None:
    """A pot outdoors or under glass that nobody notes a watering of may have had one this morning."""
    outdoors = rain(bed("pot"), {12: 9.0})
    assert facts_of(outdoors, "water_now") == []
    assert one(did(outdoors, "watered", 15), "water_now", "dry_days", "last") == (12, "rain")
    glass = rain(bed("pot", "unheated glass"), {2: 30.0})
    assert facts_of(glass, "water_now") == []
    assert one(did(glass, "watered", 4), "water_now", "dry_days", "last") == (4, "watered")


def test_roots_felt_moist_count_as_watered() -> None:
    """Moist roots five days ago were wet then; dry roots are dry until water comes."""
    garden = did(bed("pot", "shelter"), "watered", 20)
    assert one(felt(garden, "moist", 5), "water_now", "dry_days", "last", "felt") == (5, "found moist", "moist")
    assert one(felt(garden, "dry", 2), "water_now", "felt", "felt_on", "felt_age_days") == (
        "dry",
        TODAY - timedelta(days=2),
        2,
    )
    assert one(did(garden, "watered", 2), "water_now", "felt", "dry_days") == (None, 2)


@pytest.mark.parametrize(("ago", "told"), [(7, "wet"), (8, None)])
def test_a_feel_of_the_roots_speaks_for_a_week(ago: int, told: str | None) -> None:
    """After more than seven days it says nothing of today."""
    garden = felt(did(bed("pot", "shelter"), "watered", 20), "wet", ago)
    assert one(garden, "water_now", "felt") == told


def test_a_soaking_that_breaks_a_drought_is_told_with_its_length() -> None:
    """Two wet days after twelve dry ones are one soaking, that began two days ago; daily watering is no drought."""
    garden = rain(bed(), {14: 9.0, 2: 12.0, 1: 8.0})
    assert one(garden, "water_now", "dry_days", "before_days", "broken_days") == (1, 12, 2)
    pot = rain(bed("pot"), {})
    for ago in range(20):
        did(pot, "watered", ago)
    days = one(pot, "water_now", "dry_days", "broken_days")
    assert days[0] == 0 and (days[1] is None or days[1] >= 19)


@pytest.mark.parametrize(("low", "under_cover", "near"),
                         [(0.0, "none", True), (0.1, "none", False), (-3.0, "shelter", False)])  # fmt: skip
def test_a_freeze_forecast_for_tonight_is_told_of_plants_outdoors(low: float, under_cover: str, near: bool) -> None:
    """At 0 °C or below; under a roof it does not count."""
    garden = did(bed("pot", under_cover), "watered", 0)
    garden.tell("forecast_day", issued=TODAY, for_day=TODAY + timedelta(days=1), min_c=low)
    rain(garden, {})
    assert one(garden, "water_now", "frost_near") is near


@given(st.dictionaries(st.integers(0, 40), st.floats(0, 40), max_size=12), st.sets(st.integers(0, 40), max_size=4))
def test_no_day_of_a_dry_spell_was_wet(fell: dict[int, float], watered: set[int]) -> None:
    """Whatever rain fell and whenever it was watered, none of it lies within the dry days, and the day before does."""
    garden = rain(bed(), fell)
    for ago in watered:
        did(garden, "watered", ago)
    dry, last = one(garden, "water_now", "dry_days", "last")
    soaked = {n for n, mm in fell.items() if mm >= 5} | watered
    assert not any(n < dry for n in soaked)
    assert (last is not None) == bool(soaked) and (not soaked or dry == min(soaked))


# ---- feed


def test_feeds_are_counted_by_growing_year() -> None:
    """This year's feeds are counted, last year's last one is told with how late it was."""
    garden = bed("pot").tell("work", plant="f", on=date(2025, 5, 2), what="fed")
    garden.tell("work", plant="f", on=date(2025, 8, 20), what="fed")
    assert one(garden, "feeding", "times", "age_days", "fed_before", "last_year_past_days") == (0, None, True, 60)
    did(garden, "fed", 30)
    assert one(did(garden, "fed", 9), "feeding", "times", "age_days") == (2, 9)
    assert one(bed("pot"), "feeding", "times", "fed_before", "last_year_on") == (0, False, None)


@pytest.mark.parametrize(
    ("growing", "latitude_deg", "today", "stop"),
    [("ground", 47.0, date(2026, 5, 1), date(2026, 7, 1)), ("pot", 47.0, date(2026, 9, 1), date(2026, 8, 2)),
     ("ground", -34.0, date(2026, 11, 1), date(2026, 12, 31)), ("pot", -34.0, date(2027, 3, 1), date(2027, 2, 1))],
)  # fmt: skip
def test_feeding_ends_after_midsummer(growing: str, latitude_deg: float, today: date, stop: date) -> None:
    """Ten days past it in the ground, six weeks past it in a pot, in both hemispheres."""
    garden = SmallGarden(latitude_deg).spot("bed").plant("f", "bed", growing=growing)
    assert one(garden, "feeding", "stop_on", "stop_in_days", today=today) == (stop, (stop - today).days)
    assert past_midsummer_days(stop, latitude_deg) == (10 if growing == "ground" else 42)


def test_a_plant_neither_in_pot_nor_ground_has_no_time_to_feed() -> None:
    """Where it grows is not told, so nothing is said."""
    garden = SmallGarden().spot("bed").tell("plant", name="f", species="fig", spot="bed")
    assert facts_of(garden, "feeding") == []


@pytest.mark.parametrize(("growing", "planted", "fresh"),
                         [("ground", date(2026, 4, 2), True), ("ground", date(2025, 4, 2), False),
                          ("ground", None, False), ("pot", date(2026, 6, 9), True),
                          ("pot", date(2026, 6, 8), False)])  # fmt: skip
def test_a_new_tree_and_fresh_compost_are_told(growing: str, planted: date | None, fresh: bool) -> None:
    """The first spring in the ground, or six weeks in new compost; where no date is told neither is claimed."""
    assert one(bed(growing, **({"planted": planted} if planted else {})), "feeding", "fresh") is fresh


def test_harm_to_half_of_it_is_told() -> None:
    """Slight harm does not count, nor that of last year."""
    garden = bed().tell("harm", plant="f", on=date(2026, 5, 2), cause="frost", extent="slight")
    garden.tell("harm", plant="f", on=date(2025, 5, 2), cause="frost", extent="most")
    assert one(garden, "feeding", "hurt") is False
    assert one(garden.tell("harm", plant="f", on=date(2026, 5, 3), cause="wind", extent="half"), "feeding", "hurt")


@pytest.mark.parametrize(
    ("growing", "felt_as", "dry", "unfit"),
    [("pot", "dry", 0, True), ("pot", "wet", 0, True), ("pot", "moist", 0, False), ("pot", "", 30, False),
     ("ground", "", 21, True), ("ground", "", 20, False)],
)  # fmt: skip
def test_dry_and_drowned_roots_take_no_feed(growing: str, felt_as: str, dry: int, unfit: bool) -> None:
    """As felt, or three weeks without a soaking in the ground."""
    garden = rain(bed(growing), {dry: 9.0})
    if felt_as:
        felt(garden, felt_as, 0)
    assert one(garden, "feeding", "roots_unfit") is unfit


# ---- the end of the year


def nights(garden: SmallGarden, lows: dict[str, float]) -> SmallGarden:
    for day, low in lows.items():
        garden.weather(day, low, 12.0)
    return garden


def test_the_first_killing_night_or_the_fall_of_leaves_ends_the_year() -> None:
    """At -2 °C, not above it; the earlier of both counts, and what was picked since is told."""
    garden = nights(bed(), {"2026-10-10": -1.9, "2026-10-20": -2.0, "2026-10-21": -6.0})
    when = date(2026, 11, 9)
    assert facts_of(garden, "season_end", today=date(2026, 10, 19)) == []
    told = one(garden, "season_end", "ended_by", "on", "age_days", "picked", today=when)
    assert told == ("frost", date(2026, 10, 20), 20, False)
    garden.tell("crop", plant="f", on=date(2026, 10, 22), fruits=9)
    assert one(garden, "season_end", "picked", today=when) is True
    garden.stage("f", "2026-10-15", 95)
    assert one(garden, "season_end", "ended_by", "on", today=when) == ("leaf fall", date(2026, 10, 15))


def test_spring_frost_and_a_roof_end_nothing() -> None:
    """A night in May is no autumn; under glass the station's frost kills no leaf; in a new year it is forgotten."""
    assert facts_of(nights(bed(), {"2026-05-02": -5.0}), "season_end") == []
    cold = {"2026-10-20": -4.0}
    assert facts_of(nights(bed(under_cover="unheated glass"), cold), "season_end", today=date(2026, 11, 1)) == []
    assert facts_of(nights(bed(), cold), "season_end", today=date(2027, 1, 20)) == []


def test_the_day_of_autumn_frost_is_counted_down() -> None:
    """Ten autumns give a date; the days to it fall by one a day, and nine autumns give none."""
    garden = SmallGarden()
    for year in range(2013, 2026):
        for n in range(365):
            day = date(year, 1, 1) + timedelta(days=n)
            garden.weather(day.isoformat(), -3.0 if day >= date(year, 10, 5 + year % 9) else 6.0, 15.0)
    (first,) = facts_of(garden, "autumn_frost", "", date(2026, 9, 1))
    (later,) = facts_of(garden, "autumn_frost", "", date(2026, 9, 11))
    assert first.get("one_in_ten") == later.get("one_in_ten") and first.get("years") == 13
    assert (first.number("ahead_days") or 0) - (later.number("ahead_days") or 0) == 10
    assert 30 <= (first.number("ahead_days") or 0) <= 45
    few = SmallGarden()
    few.rows["weather_day"] = [row for row in garden.of("weather_day") if (row.day("on") or TODAY).year > 2017]
    assert facts_of(few, "autumn_frost", "", date(2026, 9, 1)) == []


def test_bloom_is_counted_from_its_fullness() -> None:
    """Full bloom goes before first flowers; a hard frost or half the cut buds dead have thinned the fruit already."""
    garden = bed(species="peach").stage("f", "2026-04-20", 60).stage("f", "2026-04-26", 65)
    assert one(garden, "fruit_load", "bloom_on", "since_bloom_days", "frosted") == (date(2026, 4, 26), 85, False)
    assert one(bed(species="peach").stage("f", "2026-04-20", 61), "fruit_load", "since_bloom_days") == 91
    assert facts_of(bed(species="peach").stage("f", "2026-06-20", 73), "fruit_load") == []
    look = {"plant": "f", "on": date(2026, 4, 30), "buds_cut": 20}
    assert one(garden.tell("inspection", **look, buds_dead=9), "fruit_load", "frosted") is False
    assert one(garden.tell("inspection", **look, buds_dead=10), "fruit_load", "frosted") is True
    other = bed(species="peach").stage("f", "2026-04-26", 65)
    other.tell("harm", plant="f", on=date(2026, 4, 28), cause="wind", extent="most")
    assert one(other, "fruit_load", "frosted") is False
    other.tell("harm", plant="f", on=date(2026, 4, 28), cause="frost", extent="half")
    assert one(other, "fruit_load", "frosted") is True


@pytest.mark.parametrize("kind", ["growth_phase", "water_now", "feeding", "season_end", "fruit_load", "own_ripe"])
def test_of_no_plant_nothing_is_told(kind: str) -> None:
    """A question about the whole garden asks for each plant in turn."""
    garden = rain(bed(), {3: 9.0}).stage("f", "2026-07-01", 73)
    assert derive(Scene(garden, LORE, TODAY, "what-next"), [kind], KINDS).of(kind) == []
