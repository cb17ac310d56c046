"""Facts worked out from records: each from a small garden, with what it rests on."""

from __future__ import annotations

from datetime import date, timedelta
from math import pi, sin
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from small_garden import LORE, SmallGarden

from advisor.config import find_rules
from advisor.facts import Derived, Fact, Recorded
from advisor.reasoning.derive import Scene, derive
from advisor.records.kinds import load_kinds

KINDS = load_kinds(find_rules())
TODAY = date(2026, 4, 24)


def facts_of(garden: SmallGarden, kind: str, plant: str = "", species: str = "", today: date = TODAY) -> list[Fact]:
    scene = Scene(garden, LORE, today, "why-late" if plant else "where-to-plant", plant, species)
    return derive(scene, [kind], KINDS).of(kind)


def values(facts: list[Fact], *names: str) -> list[Any]:
    return [tuple(fact.get(name) for name in names) if len(names) > 1 else fact.get(names[0]) for fact in facts]


def rests_on(fact: Fact) -> set[tuple[str, tuple[int, ...]]]:
    assert isinstance(fact.origin, Derived)
    return {(below.kind, below.origin.row_ids) for below in fact.origin.facts if isinstance(below.origin, Recorded)}


# ---- where a plant stands


def test_moves_count_up_to_the_day() -> None:
    """A pot stands where it was last moved to by the day, and the fact rests on that move."""
    garden = (
        SmallGarden()
        .spot("yard", under_cover="none")
        .spot("store", under_cover="shelter")
        .plant("f", "yard", growing="pot")
    )
    garden.move("f", "store", "2025-11-08").move("f", "yard", "2026-04-25")
    (fact,) = facts_of(garden, "standing", "f")
    assert values([fact], "spot", "growing", "under_cover") == [("store", "pot", "shelter")]
    assert ("move", (1,)) in rests_on(fact)
    assert values(facts_of(garden, "standing", "f", today=date(2026, 4, 25)), "spot") == ["yard"]


def test_two_moves_of_one_day_that_disagree_leave_the_spot_open() -> None:
    """A contradiction is not averaged and not guessed: the spot is not known, and both rows stand behind that."""
    garden = SmallGarden().spot("a").spot("b").plant("f", "a", growing="pot")
    garden.move("f", "a", "2026-04-10").move("f", "b", "2026-04-10")
    (fact,) = facts_of(garden, "standing", "f")
    assert fact.get("spot") is None
    assert {("move", (1,)), ("move", (2,))} <= rests_on(fact)


def test_a_limb_stands_where_its_tree_stands() -> None:
    """A grafted limb goes with its trunk, also when that moves."""
    garden = SmallGarden().spot("a").spot("b").plant("tree", "a", growing="pot").plant("limb", "", grafted_on="tree")
    garden.move("tree", "b", "2026-04-01")
    assert values(facts_of(garden, "standing", "limb"), "spot", "growing") == [("b", "pot")]


@pytest.mark.parametrize(
    ("planted", "springs", "age_days"),
    [("2026-03-14", 1, 41), ("2025-06-01", 1, 327), ("2025-05-31", 2, 328), ("2026-04-24", 1, 0)],
)
def test_time_since_planting(planted: str, springs: int, age_days: int) -> None:
    """A spring counts if the plant was in place before it ended."""
    garden = SmallGarden().plant("f", planted=date.fromisoformat(planted))
    assert values(facts_of(garden, "planting_age", "f"), "springs", "age_days") == [(springs, age_days)]


def test_an_unknown_planting_date_is_not_guessed() -> None:
    """Without a date, or with one still to come, there is no age."""
    garden = SmallGarden().plant("f").plant("g", planted=date(2026, 5, 1))
    assert facts_of(garden, "planting_age", "f") == facts_of(garden, "planting_age", "g") == []


# ---- soil


def test_the_cover_of_a_day() -> None:
    """A cover counts from the day it is put on to the day before it is taken off."""
    garden = SmallGarden().spot("bed").plant("f")
    garden.cover("bed", "wood chips", "2025-10-25", "2026-04-20", depth_cm=10.0).cover("bed", "bare", "2026-04-20")
    assert values(facts_of(garden, "spot_cover", "f", today=date(2026, 4, 19)), "group", "depth_cm", "on_days") == [
        ("organic", 10.0, 176)
    ]
    assert values(facts_of(garden, "spot_cover", "f", today=date(2026, 4, 20)), "group") == ["bare"]


def test_no_cover_told_is_not_bare() -> None:
    """What nobody told of is not known."""
    assert facts_of(SmallGarden().spot("bed").plant("f"), "spot_cover", "f") == []


def two_beds() -> SmallGarden:
    garden = SmallGarden().spot("bed").spot("wall").plant("f", "bed")
    return garden.cover("bed", "wood chips", "2025-10-25").cover("wall", "stones", "2020-01-01")


def test_only_fair_pairs_are_compared() -> None:
    """Another sky, another depth, another hour make no pair; what is left gives difference, pairs and days."""
    garden = two_beds()
    for day, cold, warm in (("2026-04-11", 9.0, 12.0), ("2026-04-14", 8.0, 12.0)):
        garden.soil("bed", f"{day} 13:00", cold).soil("wall", f"{day} 13:20", warm)
    garden.soil("bed", "2026-04-18 13:00", 1.0, sky="shade").soil("wall", "2026-04-18 13:00", 20.0)
    garden.soil("bed", "2026-04-19 08:00", 1.0).soil("wall", "2026-04-19 15:00", 20.0)
    garden.soil("bed", "2026-04-20 13:00", 1.0, depth_cm=5).soil("wall", "2026-04-20 13:00", 20.0)
    (fact,) = facts_of(garden, "soil_contrast", "f")
    assert values(
        [fact], "where", "than", "warmer_by_k", "pairs", "on_days", "where_group", "than_group", "same_cover"
    ) == [("bed", "wall", -3.5, 2, 2, "organic", "stone", False)]
    assert {(kind, rows) for kind, rows in rests_on(fact) if kind == "soil_reading"} == {
        ("soil_reading", (n,)) for n in (1, 2, 3, 4)
    }


def test_readings_belong_to_the_cover_they_were_made_under() -> None:
    """Chips laid after the readings did not make them cold; readings under chips stay so when the chips are gone."""
    bare_then = SmallGarden().spot("bed").spot("wall").plant("f", "bed").cover("wall", "bare", "2020-01-01")
    bare_then.cover("bed", "bare", "2020-01-01", "2026-04-20").cover("bed", "wood chips", "2026-04-20")
    chips_then = SmallGarden().spot("bed").spot("wall").plant("f", "bed").cover("wall", "bare", "2020-01-01")
    chips_then.cover("bed", "wood chips", "2025-10-01", "2026-04-20").cover("bed", "bare", "2026-04-20")
    for garden, group in ((bare_then, "bare"), (chips_then, "organic")):
        garden.soil("bed", "2026-04-11 13:00", 9.0).soil("wall", "2026-04-11 13:10", 12.0)
        assert values(facts_of(garden, "soil_contrast", "f"), "where_group", "than_group") == [(group, "bare")]


def test_readings_before_and_after_a_cover_are_not_mixed() -> None:
    """Once there are pairs under the new cover, those under the old one are another comparison."""
    garden = SmallGarden().spot("bed").spot("wall").plant("f", "bed").cover("wall", "bare", "2020-01-01")
    garden.cover("bed", "wood chips", "2025-10-01", "2026-04-12").cover("bed", "bare", "2026-04-12")
    for day, cold in (("2026-04-08", 8.0), ("2026-04-10", 8.0), ("2026-04-14", 11.5)):
        garden.soil("bed", f"{day} 13:00", cold).soil("wall", f"{day} 13:10", 12.0)
    assert values(facts_of(garden, "soil_contrast", "f"), "warmer_by_k", "on_days", "where_group") == [
        (-0.5, 1, "bare")
    ]


def test_readings_before_a_tree_stood_there_are_not_about_its_roots() -> None:
    """A fig moved to the bed last week was not kept cold by it before; and it is in its first spring there."""
    garden = two_beds().plant("g", "wall").move("g", "bed", "2026-04-18")
    garden.soil("bed", "2026-04-11 13:00", 9.0).soil("wall", "2026-04-11 13:10", 12.0)
    assert len(facts_of(garden, "soil_contrast", "f")) == 1
    assert facts_of(garden, "soil_contrast", "g") == []
    assert values(facts_of(garden, "planting_age", "g"), "age_days", "springs") == [(6, 1)]


def test_bare_soil_at_a_sunny_wall_is_no_like_ground() -> None:
    """Beside a wall the difference is the mulch's and the wall's together, and is told as that."""
    garden = SmallGarden().spot("bed").spot("wall", wall_side="S").spot("open").plant("f", "bed")
    for name, material in (("bed", "wood chips"), ("wall", "bare"), ("open", "bare")):
        garden.cover(name, material, "2020-01-01")
    garden.soil("bed", "2026-04-11 13:00", 9).soil("wall", "2026-04-11 13:10", 14).soil("open", "2026-04-11 13:15", 12)
    assert values(facts_of(garden, "soil_contrast", "f"), "than", "beside") == [("wall", "stone"), ("open", "bare")]


def test_a_hair_s_breadth_makes_no_warmest_soil() -> None:
    """Half a degree over each other is the least that is called warmest or coldest."""
    for lead, place in ((0.4, "between"), (0.5, "warmest")):
        garden = two_beds().soil("bed", "2026-04-11 13:00", 9.0).soil("wall", "2026-04-11 13:10", 9.0 + lead)
        ranks = dict(values(facts_of(garden, "soil_rank", species="fig"), "where", "place"))
        assert ranks["wall"] == place


def test_sunny_sides_turn_round_in_the_south() -> None:
    """A north wall is the warm one at 34 degrees south."""
    garden = SmallGarden(-34).spot("a", wall_side="N").spot("b", wall_side="S").spot("c", wall_side="W")
    found = facts_of(garden, "site", species="fig", today=date(2026, 10, 5))
    assert values(found, "spot", "warm_wall", "cool_facing") == [
        ("a", True, False),
        ("b", False, True),
        ("c", True, False),
    ]


def test_readings_of_another_season_say_nothing() -> None:
    """A pair of two months ago or more does not speak for now."""
    garden = two_beds().soil("bed", "2026-02-20 13:00", 3.0).soil("wall", "2026-02-20 13:00", 5.0)
    assert facts_of(garden, "soil_contrast", "f") == []


def test_a_pot_is_compared_by_its_own_soil() -> None:
    """The root zone of a pot is the pot, not the spot it stands on."""
    garden = two_beds().plant("p", "wall", growing="pot")
    garden.soil("", "2026-04-11 13:00", 16.0, plant="p").soil("bed", "2026-04-11 13:05", 12.0)
    assert values(facts_of(garden, "soil_contrast", "p"), "where", "than", "warmer_by_k", "where_group") == [
        ("p", "bed", 4.0, "pot")
    ]


def test_rank_of_soils_leaves_pots_out() -> None:
    """Warmest and coldest are told of spots only, with the fewest days behind any comparison."""
    garden = two_beds().spot("bank").plant("p", "wall", growing="pot")
    for day in ("2026-04-11", "2026-04-14"):
        garden.soil("bed", f"{day} 13:00", 9).soil("wall", f"{day} 13:10", 14).soil("", f"{day} 13:15", 19, plant="p")
    garden.soil("bank", "2026-04-14 13:20", 11)
    found = facts_of(garden, "soil_rank", species="fig")
    assert sorted(values(found, "where", "place", "of", "on_days", "lead_k")) == [
        ("bank", "between", 3, 1, -0.5),
        ("bed", "coldest", 3, 1, -3.5),
        ("wall", "warmest", 3, 1, 4.0),
    ]


# ---- stages


def three_figs() -> SmallGarden:
    garden = SmallGarden().spot("bed").spot("glass", under_cover="unheated glass")
    for name in ("f", "g", "h"):
        garden.plant(name)
    return garden.plant("hot", "glass").plant("potted", growing="pot").plant("apricot", species="apricot")


def test_lag_behind_kin_is_to_the_last_look() -> None:
    """A plant still asleep at its last look is late by at least the days up to it, not up to today."""
    garden = three_figs().stage("g", "2026-04-05", 7).stage("h", "2026-04-09", 9).stage("f", "2026-04-20", 1)
    garden.stage("hot", "2026-03-01", 9).stage("potted", "2026-03-20", 9).stage("apricot", "2026-03-20", 60)
    found = [fact for fact in facts_of(garden, "stage_lag", "f") if fact.get("against") == "kin"]
    assert values(found, "milestone", "late_days", "waiting", "count") == [("waking", 13, True, 2)]


def test_lag_needs_two_of_its_kind_grown_the_same_way() -> None:
    """One other fig, a fig under glass, a potted one and an apricot are no kin to compare with."""
    garden = three_figs().stage("g", "2026-04-05", 7).stage("f", "2026-04-20", 1)
    garden.stage("hot", "2026-03-01", 9).stage("potted", "2026-03-20", 9).stage("apricot", "2026-03-20", 60)
    assert facts_of(garden, "stage_lag", "f") == []


def test_no_lag_while_most_of_the_kin_sleep() -> None:
    """Where the middle one is still asleep there is no date to be behind of."""
    garden = three_figs().plant("i").stage("g", "2026-04-05", 7).stage("h", "2026-04-22", 1).stage("i", "2026-04-22", 0)
    assert facts_of(garden.stage("f", "2026-04-22", 1), "stage_lag", "f") == []
    assert values(facts_of(garden, "kin_awake", "f"), "kin", "awake", "state") == [(3, 1, "some")]


def test_kin_last_seen_asleep_long_ago_do_not_count() -> None:
    """A plant last seen asleep three weeks ago may have woken since."""
    garden = three_figs().stage("g", "2026-04-05", 7).stage("h", "2026-04-01", 1).stage("f", "2026-04-22", 1)
    assert values(facts_of(garden, "kin_awake", "f"), "kin", "awake", "state") == [(1, 1, "all")]


def test_swelling_flower_buds_are_not_awake_but_open_ones_are() -> None:
    """BBCH 51 and 52 swell, 53 has burst, 60 has its first flower."""
    garden = three_figs()
    for code, awake, flowering in (
        (51, False, False),
        (52, False, False),
        (53, True, False),
        (60, True, True),
        (7, True, False),
    ):
        garden.rows["stage"] = []
        garden.stage("apricot", "2026-04-20", code)
        assert values(facts_of(garden, "stage_now", "apricot"), "awake", "flowering") == [(awake, flowering)]


@pytest.mark.parametrize(
    ("latitude", "autumn", "spring"), [(47.0, "2025-11-05", "2026-04"), (-34.0, "2026-05-12", "2026-10")]
)
def test_leaf_fall_is_no_waking(latitude: float, autumn: str, spring: str) -> None:
    """Colouring and falling leaves, logged after the growing year has turned, wake nobody for the next one."""
    garden = SmallGarden(latitude).spot("bed").plant("f").plant("g").plant("h")
    for name, code in (("f", 93), ("g", 95), ("h", 97)):
        garden.stage(name, autumn, code)
    today = date.fromisoformat(f"{spring}-24")
    assert facts_of(garden, "stage_now", "f", today=today) == facts_of(garden, "kin_awake", "f", today=today) == []
    garden.stage("g", f"{spring}-05", 9).stage("h", f"{spring}-09", 9).stage("f", f"{spring}-20", 1)
    lag = [f for f in facts_of(garden, "stage_lag", "f", today=today) if f.get("against") == "kin"]
    assert values(lag, "late_days", "milestone") == [(13, "waking")]


def with_years() -> SmallGarden:
    garden = three_figs()
    for year, kin, own in ((2024, "04-04", "04-17"), (2025, "04-10", "04-24")):
        garden.stage("g", f"{year}-{kin}", 9).stage("h", f"{year}-{kin}", 9).stage("f", f"{year}-{own}", 9)
    return garden


def test_habit_is_the_lag_of_earlier_years() -> None:
    """Two earlier years of 13 and 14 days make a habit of 13.5; this year's lag is set against it."""
    garden = with_years().stage("g", "2026-04-05", 9).stage("h", "2026-04-05", 9).stage("f", "2026-04-20", 1)
    assert values(facts_of(garden, "habit", "f"), "years", "late_days", "spread_days", "beyond_days") == [
        (2, 13.5, 1, 1.5)
    ]


def test_the_usual_date_is_set_in_this_year() -> None:
    """The median of own years, and of the kind's years, and how far off it is."""
    found = facts_of(with_years(), "usual_date", "f", today=date(2026, 4, 10))
    assert values(found, "of", "usual", "ahead_days", "years") == [
        ("this plant", date(2026, 4, 20), 10, 2),
        ("its kind", date(2026, 4, 10), 0, 2),
    ]


def test_own_years_count_only_once_the_usual_date_is_past() -> None:
    """A plant asleep before its usual date is not late against itself."""
    early = with_years().stage("f", "2026-04-18", 1)
    assert [f for f in facts_of(early, "stage_lag", "f") if f.get("against") == "own years"] == []
    late = with_years().stage("f", "2026-04-23", 1)
    found = [f for f in facts_of(late, "stage_lag", "f") if f.get("against") == "own years"]
    assert values(found, "late_days", "waiting", "count") == [(3, True, 2)]


@given(st.permutations(range(8)))
def test_the_order_of_telling_changes_nothing(order: list[int]) -> None:
    """Rows told in any order derive the same facts."""
    rows = [("g", "2026-04-05", 7), ("g", "2026-03-20", 1), ("h", "2026-04-09", 9), ("h", "2026-03-20", 0),
            ("f", "2026-04-20", 1), ("f", "2026-03-20", 0), ("f", "2025-04-24", 9), ("g", "2025-04-10", 9)]  # fmt: skip
    told, plain = three_figs(), three_figs()
    for place in order:
        told.stage(*rows[place])
    for row in rows:
        plain.stage(*row)
    for kind in ("stage_lag", "stage_now", "kin_awake", "usual_date"):
        assert [f.key for f in facts_of(told, kind, "f")] == [f.key for f in facts_of(plain, kind, "f")]


# ---- weather and seasons


def test_season_turns_round_in_the_south() -> None:
    """The same day is spring in the north and autumn in the south."""
    assert values(facts_of(SmallGarden(47), "season", "f"), "name", "soil_warming") == [("spring", True)]
    assert values(facts_of(SmallGarden(-34), "season", "f"), "name", "soil_warming") == [("autumn", False)]


def weathered(years: range, warmth: dict[int, float]) -> SmallGarden:
    garden = three_figs()
    for year in years:
        for n in range(114):
            day = date(year, 1, 1) + timedelta(days=n)
            garden.weather(day.isoformat(), 10 + warmth[year], 14 + warmth[year])
    return garden


def test_heat_beside_earlier_years() -> None:
    """Days wholly above the base give their mean less the base, 2 a day; a cooler one the area above the base."""
    garden = weathered(range(2023, 2027), {2023: 0, 2024: 0, 2025: 1, 2026: -1})
    (fact,) = facts_of(garden, "heat_so_far", "f")
    cool_day = sum(max(1 + 2 * sin(2 * pi * (n + 0.5) / 9999), 0) for n in range(9999)) / 9999  # 9 to 13 °C over 10
    assert fact.number("usual_dd") == pytest.approx(2 * 114)
    assert fact.number("sum_dd") == pytest.approx(cool_day * 114, rel=1e-3)
    assert values([fact], "base_c", "years", "missing_days") == [(10.0, 3, 0)]
    assert fact.number("usual_share") == pytest.approx(cool_day / 2, abs=1e-3)


def test_heat_with_too_many_days_missing_is_not_known() -> None:
    """A tenth of the days may be missing, and is made up; more may not."""
    garden = weathered(range(2026, 2027), {2026: 0})
    full = facts_of(garden, "heat_so_far", "f")[0].number("sum_dd")
    garden.rows["weather_day"] = garden.rows["weather_day"][11:]
    assert values(facts_of(garden, "heat_so_far", "f"), "sum_dd", "missing_days") == [(full, 11)]
    garden.rows["weather_day"] = garden.rows["weather_day"][1:]
    assert facts_of(garden, "heat_so_far", "f") == []


def test_the_coldest_day_since_rest() -> None:
    """Only this winter counts, and the fact rests on that one day."""
    garden = SmallGarden().weather("2025-10-31", -20, 0).weather("2026-01-11", -14.2, -5).weather("2026-02-01", -9, 1)
    (fact,) = facts_of(garden, "hard_winter", "f")
    assert values([fact], "min_c", "on") == [(-14.2, date(2026, 1, 11))]
    assert rests_on(fact) == {("weather_day", (2,))}


def test_frost_after_bloom_is_counted_by_year() -> None:
    """A year counts if its six weeks after the usual first bloom are recorded; a frost the day before does not."""
    garden = three_figs().stage("apricot", "2025-04-01", 60).stage("apricot", "2026-04-01", 61)
    for year, frost_on in ((2023, "03-31"), (2024, "04-10"), (2025, "05-13")):
        for n in range(80):
            day = date(year, 3, 20) + timedelta(days=n)
            garden.weather(day.isoformat(), -2.2 if day.isoformat() == f"{year}-{frost_on}" else 1.0, 12)
    (fact,) = facts_of(garden, "bloom_frost", species="apricot")
    assert values([fact], "first_bloom", "bloom_years", "years", "frost_years") == [(date(2026, 4, 1), 2, 3, 2)]


# ---- spots as places to plant


def test_a_site_keeps_what_is_not_told_open() -> None:
    """A bare spot row gives a site of which hardly anything is known; a store is no place to plant."""
    garden = SmallGarden().spot("lane").spot("store", under_cover="shelter").spot("yard", plantable=False)
    (fact,) = facts_of(garden, "site", species="fig")
    untold = {"sun_told": False, "drainage_told": False}
    assert dict(fact.values) == {"spot": "lane", "outdoors": True, "warm_wall": False, **untold}


def test_a_wall_decides_before_the_slope() -> None:
    """At a north wall a south slope is a cool place."""
    garden = (
        SmallGarden().spot("a", aspect="S", wall_side="N").spot("b", aspect="N", wall_side="S").spot("c", aspect="N")
    )
    found = facts_of(garden, "site", species="fig")
    assert values(found, "spot", "warm_wall", "cool_facing") == [
        ("a", False, True),
        ("b", True, False),
        ("c", False, True),
    ]


def test_only_the_newest_look_counts() -> None:
    """A scratch of January is overtaken by one of April, not by a look at something else; one of last year is old."""
    garden = three_figs().tell("inspection", plant="f", on=date(2026, 1, 5), scratch="green")
    garden.tell("inspection", plant="f", on=date(2026, 4, 18), scratch="brown")
    garden.tell("inspection", plant="g", on=date(2026, 4, 20), scratch="green")
    assert values(facts_of(garden, "inspection", "f"), "scratch") == ["brown"]
    garden.tell("inspection", plant="f", on=date(2026, 4, 23), gnawed=False)
    assert values(facts_of(garden, "inspection", "f"), "scratch", "gnawed") == [("brown", None), (None, False)]
    old = three_figs().tell("inspection", plant="f", on=date(2025, 4, 18), scratch="brown")
    assert facts_of(old, "inspection", "f") == []
