"""Spots put through a garden's own years: what the facts tell, what they rest on, and what is said where they cannot be.

All gardens and their weather are invented.
"""

from __future__ import annotations

from datetime import date, timedelta
from functools import lru_cache
from math import pi, sin
from random import Random
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from small_garden import SmallGarden

from advisor.calc.calendar import growing_year_start
from advisor.calc.replay import season_at
from advisor.calc.spot_climate import Lie, spot_climate
from advisor.config import find_rules
from advisor.facts import Derived, Fact, Recorded
from advisor.reasoning.derive import Scene, derive
from advisor.reasoning.derive.replay_needs import Known, climate_of, course_of, recorded_years
from advisor.records.kinds import load_kinds
from advisor.records.species import load_lore

KINDS, LORE = load_kinds(find_rules()), load_lore(find_rules())
TODAY = date(2026, 9, 20)
SPOTS: dict[str, dict[str, Any]] = {
    "wall bed": {"wall_side": "S", "aspect": "S", "low_lying": False, "sun_h": 9.0},
    "open bed": {"aspect": "flat", "low_lying": False, "sun_h": 8.0},
    "hollow": {"aspect": "flat", "low_lying": True, "sun_h": 8.0},
    "bank": {"aspect": "N", "slope_part": "upper", "low_lying": False, "sun_h": 8.0},
}


@lru_cache(maxsize=8)
def days_of(first_year: int, years: int, latitude_deg: float = 47.0) -> tuple[tuple[date, float, float], ...]:
    chance = np.random.default_rng(5)
    first, end = growing_year_start(first_year, latitude_deg), growing_year_start(first_year + years, latitude_deg)
    spell, found = 0.0, []
    for n in range((end - first).days):
        day = first + timedelta(days=n)
        coldest = 20 if latitude_deg >= 0 else 202
        spell = 0.8 * spell + chance.normal(0, 2.8)
        mean = 8 - 11 * sin(2 * pi * (day.timetuple().tm_yday - coldest) / 365 + pi / 2) + spell
        half = chance.uniform(1.0, 8.0)
        found.append((day, round(mean - half, 1), round(mean + half, 1)))
    return tuple(found)


def garden(first_year: int = 2019, years: int = 8, latitude_deg: float = 47.0, **spots: dict[str, Any]) -> SmallGarden:
    """Return a garden with some years of weather up to the day of the question and the spots named, else all."""
    told = SmallGarden(latitude_deg)
    for name, more in (spots or SPOTS).items():
        told.spot(name.replace("_", " "), under_cover=more.get("under_cover", "none"),
                  **{key: value for key, value in more.items() if key != "under_cover"})  # fmt: skip
    for day, low, high in days_of(first_year, years, latitude_deg):
        told.weather(day.isoformat(), low, high)
    return told


def facts(told: SmallGarden, kind: str, species: str = "apricot", today: date = TODAY) -> list[Fact]:
    scene = Scene(told, LORE, today, "where-to-plant", species=species)
    found = derive(scene, [kind], KINDS).of(kind)
    for fact in found:
        fields = KINDS[kind].fields
        assert all(name in fields and fields[name].fits(value) for name, value in fact.values.items()), fact
        assert all(name in fact.values for name, field in fields.items() if field.required), fact
    return found


def by_spot(told: SmallGarden, species: str = "apricot", today: date = TODAY) -> dict[str, Fact]:
    return {fact.text("spot"): fact for fact in facts(told, "spot_replay", species, today)}


def recorded(fact: Fact) -> dict[str, set[int]]:
    """Return the rows a fact rests on in the end, by kind."""
    rows: dict[str, set[int]] = {}
    todo = [fact]
    while todo:
        one = todo.pop()
        if isinstance(one.origin, Recorded):
            rows.setdefault(one.origin.kind, set()).update(one.origin.row_ids)
        elif isinstance(one.origin, Derived):
            todo += one.origin.facts
    return rows


def pairs(told: SmallGarden, spot: str, colder_k: float, warmer_k: float, last: date, count: int) -> SmallGarden:
    """Tell lows and highs at a spot beside the station's, for the days up to one."""
    station = {day: (low, high) for day, low, high in days_of(2019, 8)}
    for n in range(count):
        day = last - timedelta(days=n)
        low, high = station[day]
        told.tell("weather_day", on=day, spot=spot, min_c=low - colder_k, max_c=high + warmer_k)
    return told


# ---- what the facts tell


def test_every_spot_is_put_through_every_whole_year() -> None:
    """Eight years of weather, the last up to September: eight springs at each spot, with dates and counts in order."""
    found = by_spot(garden())
    assert set(found) == set(SPOTS)
    for fact in found.values():
        assert (fact.number("years"), fact.number("first_year"), fact.number("last_year")) == (8, 2019, 2026)
        early, middle, late = (fact.day(name) for name in ("earliest", "middle", "latest"))
        assert early is not None and middle is not None and late is not None
        assert early <= middle <= late and {early.year, late.year} == {2026}
        counts = [fact.number(name) for name in ("frost_low", "frost_years", "frost_high")]
        assert counts == sorted(counts, key=lambda count: count or 0) and (counts[2] or 0) <= 8
        assert fact.number("frost_share") == pytest.approx((counts[1] or 0) / 8, abs=0.001)
        assert fact.text("harm").startswith("kills half of its buds")
        assert fact.text("source").startswith("UC ANR Fruit and Nut Center")


def test_the_wall_hastens_the_bank_delays_and_the_hollow_freezes() -> None:
    """Bloom is earliest at the wall and latest on the bank; wall and hollow have more frost years, the bank fewer."""
    found = by_spot(garden())
    middles = [found[name].day("middle") for name in ("wall bed", "open bed", "bank")]
    assert middles == sorted(middles, key=lambda day: day or TODAY) and len(set(middles)) == 3
    frosts = {name: found[name].number("frost_years") or 0 for name in SPOTS}
    assert frosts["bank"] < frosts["open bed"] < min(frosts["hollow"], frosts["wall bed"])


def test_it_rests_on_the_weather_the_spot_and_the_place() -> None:
    """The origin names each day of the years replayed, the spot's own row and the place, and nothing of other spots."""
    told = garden()
    rows = recorded(by_spot(told)["hollow"])
    assert rows["weather_day"] == set(range(1, len(days_of(2019, 8)) + 1)) - {
        n for n, (day, _, _) in enumerate(days_of(2019, 8), start=1) if day > TODAY
    }
    assert rows["spot"] == {3} and rows["place"] == {1}


def test_spots_told_alike_have_the_same_figures() -> None:
    """Two spots that differ in name only differ in name only."""
    one, other = by_spot(garden(left=SPOTS["hollow"], right=SPOTS["hollow"])).values()
    assert {**one.values, "spot": ""} == {**other.values, "spot": ""}


@settings(max_examples=5, deadline=None)
@given(st.integers(0, 10_000))
def test_the_order_of_telling_changes_nothing(seed: int) -> None:
    """Rows told in any order give the same facts."""
    plain, mixed = garden(), garden()
    for kind in ("weather_day", "spot"):
        Random(seed).shuffle(mixed.rows[kind])
    one, other = by_spot(plain), by_spot(mixed)
    assert {spot: dict(fact.values) for spot, fact in one.items()} == {
        spot: dict(fact.values) for spot, fact in other.items()
    }


def test_only_what_was_told_by_the_day_counts() -> None:
    """Asked in June two years earlier, the year under way and all later ones are left out."""
    found = by_spot(garden(), today=date(2024, 6, 1))
    assert {fact.number("years") for fact in found.values()} == {5}
    assert {fact.number("last_year") for fact in found.values()} == {2023}


def test_in_the_south_bloom_is_in_its_own_spring() -> None:
    """Below the equator the apricot blooms in the southern spring, earlier where the wall faces north."""
    turned = {"wall": {**SPOTS["wall bed"], "wall_side": "N", "aspect": "N"}, "bed": SPOTS["open bed"]}
    found = by_spot(garden(2019, 8, -47.0, **turned), today=date(2027, 3, 1))
    middles = {spot: fact.day("middle") for spot, fact in found.items()}
    assert all(day and day.month in (8, 9, 10, 11) for day in middles.values())
    assert (middles["wall"] or TODAY) < (middles["bed"] or TODAY)


def test_glass_is_replayed_and_a_heated_house_is_not() -> None:
    """Under unheated glass bloom comes early, over a wide range; how a heated house is kept is not known."""
    found = by_spot(garden(
        house={"under_cover": "unheated glass", "sun_h": 9.0}, stove={"under_cover": "heated glass"},
        shed={"under_cover": "shelter"}, bed=SPOTS["open bed"],
    ))  # fmt: skip
    assert set(found) == {"house", "bed"}
    assert (found["house"].day("middle") or TODAY) < (found["bed"].day("middle") or TODAY)
    assert found["house"].get("outdoors") is False


# ---- what was measured


def test_paired_lows_stand_for_the_nights() -> None:
    """Lows of clear nights at the hollow, 0.8 K above the station's, replace what is judged of hollows, and are cited."""
    judged = by_spot(garden())["hollow"]
    told = pairs(garden(), "hollow", -0.8, 0.0, date(2026, 5, 20), 40)
    fact = by_spot(told)["hollow"]
    assert (judged.number("colder_by_k"), judged.get("nights_measured")) == (2.5, False)
    assert (fact.number("colder_by_k"), fact.get("nights_measured")) == (-0.8, True)
    assert fact.text("nights_from").startswith("measured here over ")
    assert (fact.number("frost_years") or 0) < (judged.number("frost_years") or 0)
    assert recorded(fact)["weather_day"] > recorded(judged)["weather_day"]


def test_paired_highs_of_sunny_spring_days_stand_for_the_days() -> None:
    """Highs at the wall, 4 K above the station's on sunny days of spring, count; those of summer do not."""
    summer = by_spot(pairs(garden(), "wall bed", 0.0, 4.0, date(2026, 8, 20), 40))["wall bed"]
    spring = by_spot(pairs(garden(), "wall bed", 0.0, 4.0, date(2026, 5, 20), 40))["wall bed"]
    judged = by_spot(garden())["wall bed"]
    assert summer.get("days_measured") is False and summer.number("warmer_by_k") == 2.5
    assert spring.get("days_measured") is True and spring.number("warmer_by_k") == 4.0
    assert (spring.day("middle") or TODAY) < (judged.day("middle") or TODAY)


# ---- what its kind needs: published, or read off this garden's dates


def test_three_dated_years_stand_where_no_heat_is_published() -> None:
    """Apple: not replayed with two dated years, and said why; with three, replayed, and its dates are cited."""
    told = garden().plant("old apple", "open bed", "apple")
    for year, day in ((2023, "2023-04-29"), (2024, "2024-04-24")):
        told.stage("old apple", day, 60)
        assert by_spot(told, "apple") == {}, year
    (gap,) = facts(told, "replay_gap", "apple")
    assert gap.text("reading") == "stage"
    assert gap.text("reason") == (
        "what heat apple needs is not published, and it was dated in flower here in 2 years only; 3 would do"
    )
    told.stage("old apple", "2025-05-02", 61)
    found = by_spot(told, "apple")
    assert facts(told, "replay_gap", "apple") == []
    assert {fact.number("own_years") for fact in found.values()} == {3}
    assert recorded(found["bank"])["stage"] == {1, 2, 3} and recorded(found["bank"])["plant"] == {1}


def test_dates_are_read_where_the_tree_stood() -> None:
    """An apple dated at the wall, by the wall's own warmth: replayed there on those dates, and later in the open bed."""
    told = garden()
    scene = Scene(told, LORE, TODAY, "where-to-plant", species="apple")
    wall, _ = climate_of(scene, "wall bed")
    told.plant("wall apple", "wall bed", "apple")
    for year in recorded_years(scene):
        season = season_at(year, wall, "chill portions", "growing degree hours, base 4 °C")
        gathered = np.cumsum(np.where(np.cumsum(season.chill) > 50, season.heat, 0.0))
        bloom = year.day(int(np.searchsorted(gathered, 5000.0)))
        told.stage("wall apple", bloom.isoformat(), 60)
    dates = sorted((row.day("on") or TODAY).timetuple().tm_yday for row in told.of("stage"))
    found = by_spot(told, "apple")
    at_wall, in_bed = (found[spot].day("middle") or TODAY for spot in ("wall bed", "open bed"))
    assert abs(at_wall.timetuple().tm_yday - dates[len(dates) // 2]) <= 4
    assert 3 <= (in_bed - at_wall).days <= 20


def test_a_pot_or_a_tree_under_glass_dates_nothing() -> None:
    """What bloomed in a pot, or under glass, says nothing of a tree in the ground."""
    told = garden(**{"open bed": SPOTS["open bed"], "house": {"under_cover": "unheated glass"}})
    told.plant("pot apple", "open bed", "apple", growing="pot").plant("house apple", "house", "apple")
    for name in ("pot apple", "house apple"):
        for day in ("2023-04-02", "2024-04-05", "2025-04-09"):
            told.stage(name, day, 60)
    assert by_spot(told, "apple") == {}


def test_chill_that_own_dates_belie_is_left_out() -> None:
    """A cherry that flowered before its published chill was met is read by heat from midwinter, and its source says so."""
    told = garden(2019, 8).plant("cherry", "open bed", "sweet-cherry")
    for day in ("2023-01-20", "2024-01-14", "2025-01-25"):
        told.stage("cherry", day, 60)
    scene = Scene(told, LORE, TODAY, "where-to-plant", species="sweet-cherry")
    known = course_of(scene, "sweet-cherry")
    assert isinstance(known, Known)
    assert known.course.requirement.chill_metric == "days from the start of rest"
    for day in ("2023-04-20", "2024-04-14", "2025-04-25"):
        told.stage("cherry", day, 60)
    told.rows["stage"] = told.rows["stage"][3:]
    known = course_of(Scene(told, LORE, TODAY, "where-to-plant", species="sweet-cherry"), "sweet-cherry")
    assert isinstance(known, Known)
    assert known.course.requirement.chill_metric == "chill portions"


def test_without_portions_heat_counts_from_midwinter() -> None:
    """Pear, of which only a nursery's hours of chill are known: heat from 1 January, so a warm November changes nothing."""
    told = garden(2019, 8).plant("pear", "open bed", "pear")
    for day in ("2023-04-20", "2024-04-14", "2025-04-25"):
        told.stage("pear", day, 60)
    middle = by_spot(told, "pear")["open bed"].day("middle")
    for n, row in enumerate(told.rows["weather_day"]):
        day = row.day("on")
        if day is not None and day.month in (11, 12):
            values = {**row.values, "max_c": (row.number("max_c") or 0.0) + 9.0}
            told.rows["weather_day"][n] = Fact.of("weather_day", values, row.origin)
    assert by_spot(told, "pear")["open bed"].day("middle") == middle


def test_no_need_is_read_as_wider_than_a_third() -> None:
    """Three dates that agree badly with heat leave a range of at most three tenths to each side."""
    told = garden().plant("old apple", "open bed", "apple")
    for day in ("2023-04-02", "2024-05-20", "2025-04-20"):
        told.stage("old apple", day, 60)
    scene = Scene(told, LORE, TODAY, "where-to-plant", species="apple")
    known = course_of(scene, "apple")
    assert isinstance(known, Known)
    low, middle, high = known.course.requirement.heat_range
    assert low == pytest.approx(0.7 * middle) and high == pytest.approx(1.3 * middle)


def test_portions_are_taken_before_other_measures_and_cultivars_before_kinds() -> None:
    """Apricot: chill portions though Utah units stand first; a named cultivar's own; heat as published for the kind."""
    scene = Scene(garden(), LORE, TODAY, "where-to-plant", species="apricot")
    kind, own = course_of(scene, "apricot"), course_of(scene, "apricot", "Bergeron")
    assert isinstance(kind, Known) and isinstance(own, Known)
    assert kind.course.requirement.chill_range == (30, 49.5, 69)
    assert own.course.requirement.chill_range == (62, 63.5, 65)
    assert kind.course.requirement.heat_range[::2] == own.course.requirement.heat_range[::2] == (2624, 3469)


def test_a_fig_s_shoots_and_its_fruit() -> None:
    """A fig dated awake in three years is replayed by its new shoots; with small fruit dated too, by its ripening."""
    told = garden().plant("fig", "wall bed", "fig")
    for day in ("2023-04-20", "2024-04-16", "2025-04-24"):
        told.stage("fig", day, 9)
    first = by_spot(told, "fig")["open bed"]
    assert (first.text("milestone"), first.text("harm")) == ("waking", "freezes its new shoots")
    assert first.number("frost_years") is not None and first.number("ripe_share") is None
    for day in ("2023-06-25", "2024-06-20", "2025-06-28"):
        told.stage("fig", day, 71)
    found = by_spot(told, "fig")
    share = {spot: fact.number("ripe_share") or 0.0 for spot, fact in found.items()}
    assert all(fact.number("ripe_of") == 7 for fact in found.values())  # this year's autumn is still to come
    assert share["wall bed"] >= share["open bed"] >= share["hollow"]


def test_where_nothing_is_published_of_frost_only_dates_are_told() -> None:
    """Japanese plum has no table of its own: bloom is replayed, frost is not counted, and no spots are set in order."""
    told = garden().plant("plum", "open bed", "japanese-plum")
    for day in ("2023-04-02", "2024-03-28", "2025-04-05"):
        told.stage("plum", day, 60)
    fact = by_spot(told, "japanese-plum")["bank"]
    assert fact.day("middle") is not None
    assert not {"frost_years", "harm", "at_stage", "frost_share"} & set(fact.values)
    for kind in ("replay_contrast", "replay_order"):
        assert facts(told, kind, "japanese-plum") == []


# ---- with little


@pytest.mark.parametrize(
    ("years", "today", "reason"),
    [
        (0, TODAY, "no weather is recorded here"),
        (1, date(2019, 5, 1), "no growing year is recorded from its start to the height of summer"),
    ],
)
def test_without_a_whole_year_it_is_said(years: int, today: date, reason: str) -> None:
    """No weather, or half a year of it: no figures, and the record that would bring them."""
    told = garden(2019, years)
    assert by_spot(told, today=today) == {}
    (gap,) = facts(told, "replay_gap", today=today)
    assert (gap.text("reason"), gap.text("reading")) == (reason, "weather_day")


def test_one_year_gives_one_year_s_figures() -> None:
    """With one spring on record, counts are of one."""
    found = by_spot(garden(2019, 1), today=date(2019, 10, 1))
    assert {fact.number("years") for fact in found.values()} == {1}
    assert {fact.number("frost_years") for fact in found.values()} <= {0.0, 1.0}


def test_asked_of_no_kind_there_is_nothing() -> None:
    """A question that names no kind of tree derives nothing."""
    for kind in ("spot_replay", "replay_gap", "replay_contrast", "replay_order"):
        assert facts(garden(), kind, "") == []


# ---- spots beside each other


def test_best_and_worst_are_set_side_by_side() -> None:
    """The contrast names the spot with fewest and the one with most frost years, as their own facts tell them."""
    told = garden()
    found, (pair,) = by_spot(told), facts(told, "replay_contrast")
    best, worst = found[pair.text("spot")], found[pair.text("than")]
    counts = [fact.number("frost_years") or 0 for fact in found.values()]
    assert (best.number("frost_years"), worst.number("frost_years")) == (min(counts), max(counts))
    assert pair.text("spot") == "bank" and pair.get("apart") is True
    assert pair.number("than_frost_years") == worst.number("frost_years")
    assert pair.day("than_latest") == worst.day("latest")


def test_an_order_that_nights_could_turn_asks_for_them() -> None:
    """Two spots, one judged milder than the other: open until the nights at both were read, then settled."""
    two = {"slope bed": {"slope_part": "middle", "low_lying": False, "aspect": "flat", "sun_h": 8.0},
           "level bed": {"low_lying": False, "aspect": "flat", "sun_h": 8.0}}  # fmt: skip
    told = garden(**two)
    (order,) = facts(told, "replay_order")
    assert (order.get("settled"), order.text("reading")) == (False, "nights")
    assert order.text("read_at") in two
    for spot, colder_k in (("slope bed", 2.0), ("level bed", 0.0)):
        pairs(told, spot, colder_k, 0.0, date(2026, 5, 20), 60)
    (order,) = facts(told, "replay_order")
    assert (order.text("spot"), order.get("settled")) == ("level bed", True)


def test_one_spot_has_no_order() -> None:
    """With a single spot there is nothing to set beside it."""
    told = garden(**{"open bed": SPOTS["open bed"]})
    assert len(by_spot(told)) == 1
    assert facts(told, "replay_contrast") == facts(told, "replay_order") == []


def test_a_tree_at_no_known_spot_is_taken_to_lie_anyhow() -> None:
    """Where a tree's spot is not recorded, its climate is the widest."""
    scene = Scene(garden(), LORE, TODAY, "where-to-plant", species="apple")
    climate, rows = climate_of(scene, "nowhere")
    assert climate.key == spot_climate(Lie()).key and rows == ()
