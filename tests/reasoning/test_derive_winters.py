"""What a winter did to a plant, and the soil at its roots: each from a small garden."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
from small_garden import LORE, SmallGarden, kind_of_tree

from advisor.config import find_rules
from advisor.facts import Fact
from advisor.reasoning.derive import Scene, derive
from advisor.reasoning.rulebase import load_rules
from advisor.records.kinds import load_kinds
from advisor.records.requirements import load_requirements
from advisor.records.species import load_lore

KINDS = load_kinds(find_rules())
WHOLE = replace(LORE, species={**LORE.species, "quince": kind_of_tree("quince")}, needs=load_requirements(find_rules()))
TODAY = date(2026, 4, 24)


def facts_of(garden: SmallGarden, kind: str, plant: str = "f", today: date = TODAY) -> list[Fact]:
    return derive(Scene(garden, WHOLE, today, "why-late", plant), [kind], KINDS).of(kind)


def values(facts: list[Fact], *names: str) -> list[Any]:
    return [tuple(fact.get(name) for name in names) if len(names) > 1 else fact.get(names[0]) for fact in facts]


def days(
    garden: SmallGarden, first: str, last: str, min_c: float, max_c: float, but: dict[str, tuple[float, float]]
) -> SmallGarden:
    """Tell a stretch of like days, but for some of their own."""
    day = date.fromisoformat(first)
    while day <= date.fromisoformat(last):
        low, high = but.get(day.isoformat(), (min_c, max_c))
        garden.weather(day.isoformat(), low, high)
        day += timedelta(days=1)
    return garden


# ---- where it was kept


@pytest.mark.parametrize(
    ("under_cover", "kept"),
    [
        ("none", "outdoors"),
        ("shelter", "store"),
        ("unheated glass", "unheated glass"),
        ("heated glass", "heated glass"),
    ],
)
def test_where_a_plant_spent_the_winter(under_cover: str, kept: str) -> None:
    """A plant that stood one way from the start of rest on was kept that way."""
    garden = SmallGarden().spot("bed", under_cover=under_cover).plant("f")
    assert values(facts_of(garden, "winter_keep"), "kept", "read_days", "mean_c") == [(kept, None, None)]


@pytest.mark.parametrize(
    ("moved_in", "kept"), [("2025-11-20", "store"), ("2025-12-15", "moved about"), ("2026-02-15", "outdoors")]
)
def test_a_move_in_midwinter(moved_in: str, kept: str) -> None:
    """Four fifths of the winter in one place are the winter there; less is moved about."""
    garden = SmallGarden().spot("yard", under_cover="none").spot("store", under_cover="shelter")
    garden.plant("f", "yard", growing="pot").move("f", "store", moved_in).move("f", "yard", "2026-04-01")
    assert values(facts_of(garden, "winter_keep"), "kept") == [kept]


def test_a_winter_elsewhere_is_not_known() -> None:
    """A plant that came in midwinter, or whose spot has no record, has no winter here; in spring that stays so."""
    late = SmallGarden().spot("bed", under_cover="none").plant("f", planted=date(2026, 3, 10))
    assert facts_of(late, "winter_keep") == []
    early = SmallGarden().spot("bed", under_cover="none").plant("f", planted=date(2025, 11, 10))
    assert values(facts_of(early, "winter_keep"), "kept") == ["outdoors"]
    assert facts_of(SmallGarden().plant("f", "nowhere"), "winter_keep") == []


def test_the_air_of_a_store_is_that_read_at_its_spot() -> None:
    """Days read in the store count, days of the station and of spring do not."""
    garden = SmallGarden().spot("store", under_cover="shelter").plant("f", "store", growing="pot")
    for on, low, high in (("2025-12-01", 10.0, 16.0), ("2026-01-10", 12.0, 18.0), ("2026-03-20", 30.0, 40.0)):
        garden.tell("weather_day", spot="store", on=date.fromisoformat(on), min_c=low, max_c=high)
    garden.weather("2025-12-02", -10.0, -5.0)
    assert values(facts_of(garden, "winter_keep"), "read_days", "mean_c") == [(2, 14.0)]


# ---- chill beside the need


def winter(garden: SmallGarden, last: str = "2026-04-24", **but: tuple[float, float]) -> SmallGarden:
    """Tell a winter of 1 to 9 °C, in which each day gives chill."""
    return days(garden, "2025-11-01", last, 1.0, 9.0, {name.replace("_", "-")[1:]: day for name, day in but.items()})


def test_chill_is_set_beside_the_need_of_its_kind() -> None:
    """Portions past the most and short of the least that the kind is published to need; the sum is the season's own."""
    garden = winter(SmallGarden().plant("f", species="apricot"))
    (need,) = facts_of(garden, "chill_need")
    (sums,) = facts_of(garden, "chill_so_far")
    total = sums.number("sum_portions") or 0.0
    assert values([need], "of", "metric", "sum_portions") == [("its kind", "chill portions", total)]
    assert need.number("beyond_portions") == pytest.approx(total - 69.0)
    assert need.number("short_portions") == pytest.approx(30.0 - total)
    assert total > 69.0


def test_a_cultivar_that_is_published_counts_before_its_kind() -> None:
    """The need of a named cultivar is narrower than that of its kind."""
    garden = winter(SmallGarden().plant("f", species="apricot", cultivar="Bergeron"))
    assert values(facts_of(garden, "chill_need"), "of", "low_portions", "high_portions") == [
        ("its cultivar", 62.0, 65.0)
    ]


def test_where_only_hours_are_published_hours_are_compared() -> None:
    """A fig is published in hours only, and hours are told as a share of the most, never as portions."""
    (need,) = facts_of(winter(SmallGarden().plant("f")), "chill_need")
    assert need.get("beyond_portions") is None
    assert need.number("high_share") == pytest.approx((need.number("sum_h") or 0.0) / 500.0, abs=0.01)


def test_no_need_no_weather_no_comparison() -> None:
    """A kind of which nothing is published, or a winter without a weather file, is not judged."""
    assert facts_of(winter(SmallGarden().plant("f", species="quince")), "chill_need") == []
    assert facts_of(SmallGarden().plant("f"), "chill_need") == []


def test_rest_is_over_when_the_need_is_met_or_by_the_calendar() -> None:
    """The published need decides; where there is none, a month after midwinter in either hemisphere."""
    garden = winter(SmallGarden().plant("f"))
    (rest,) = facts_of(garden, "winter_rest")
    over = rest.day("over_on")
    assert rest.text("by") == "its published need of chill"
    assert over is not None and date(2025, 11, 20) < over < date(2026, 1, 31)
    assert facts_of(winter(SmallGarden().plant("f"), last="2025-11-15"), "winter_rest", today=date(2025, 11, 15)) == []
    quince = SmallGarden().plant("f", species="quince")
    assert values(facts_of(quince, "winter_rest", today=date(2026, 1, 21)), "over_on", "by") == [
        (date(2026, 1, 21), "the calendar")
    ]
    assert facts_of(quince, "winter_rest", today=date(2026, 1, 20)) == []
    south = SmallGarden(-34.0).plant("f", species="quince")
    assert values(facts_of(south, "winter_rest", today=date(2026, 9, 1)), "over_on") == [date(2026, 7, 21)]


WARM = {f"_2026_03_{n:02}": (5.0, 16.0) for n in range(1, 6)}


def frozen(**more: tuple[float, float]) -> SmallGarden:
    """Tell five warm days in March and -6 °C a week later."""
    garden = SmallGarden().spot("bed", under_cover="none").plant("f")
    return winter(garden, **{**WARM, "_2026_03_12": (-6.0, 3.0), **more})


def test_the_coldest_night_after_a_warm_spell() -> None:
    """Five warm days in the two weeks before count; the coldest such night is told with them."""
    garden = frozen(_2026_03_13=(-4.5, 3.0), _2026_01_05=(-14.0, -3.0))
    assert values(facts_of(garden, "freeze_after_warmth"), "low_c", "on", "warm_days") == [(-6.0, date(2026, 3, 12), 5)]


def test_no_freeze_after_warmth() -> None:
    """Four warm days, a freeze two weeks on, or a plant in a store or awake by then, is none."""
    assert facts_of(frozen(_2026_03_05=(5.0, 14.9)), "freeze_after_warmth") == []
    late = frozen(_2026_03_12=(1.0, 9.0), _2026_03_16=(-6.0, 3.0))
    assert facts_of(late, "freeze_after_warmth") == []
    assert facts_of(frozen().stage("f", "2026-03-12", 9), "freeze_after_warmth") == []
    assert values(facts_of(frozen().stage("f", "2026-03-13", 9), "freeze_after_warmth"), "low_c") == [-6.0]
    stored = frozen().spot("store", under_cover="shelter").move("f", "store", "2025-11-05")
    assert facts_of(stored, "freeze_after_warmth") == []


def test_a_freeze_before_it_was_planted_is_none_of_its_own() -> None:
    """What froze before it came froze another plant."""
    garden = SmallGarden().spot("bed", under_cover="none").plant("f", planted=date(2026, 3, 13))
    assert facts_of(winter(garden, **WARM, _2026_03_12=(-6.0, 3.0)), "freeze_after_warmth") == []


def test_cold_ahead_is_what_was_forecast() -> None:
    """Without a forecast none is known to come."""
    garden = SmallGarden().plant("f")
    assert facts_of(garden, "cold_ahead") == []
    garden.tell("forecast_day", issued=date(2026, 4, 24), for_day=date(2026, 4, 26), min_c=-7.5, max_c=2.0)
    assert values(facts_of(garden, "cold_ahead"), "lowest_c") == [-7.5]


# ---- how it opened, what it bore, how its kind stands elsewhere


def test_how_long_flowers_took_to_open() -> None:
    """From the first flower to full bloom, or to the last look before it; a tree first seen in full bloom says nothing."""
    garden = SmallGarden().plant("f", species="apricot").stage("f", "2026-04-01", 60).stage("f", "2026-04-09", 63)
    assert values(facts_of(garden, "opening_spread"), "spread_days", "full") == [(8, False)]
    garden.stage("f", "2026-04-17", 65).stage("f", "2026-04-22", 67)
    assert values(facts_of(garden, "opening_spread"), "spread_days", "full") == [(16, True)]
    assert facts_of(SmallGarden().plant("f").stage("f", "2026-04-20", 65), "opening_spread") == []
    assert (
        facts_of(SmallGarden().plant("f").stage("f", "2025-04-01", 60).stage("f", "2025-04-20", 65), "opening_spread")
        == []
    )


def crops(*kilos: tuple[str, float]) -> SmallGarden:
    garden = SmallGarden().plant("f")
    for on, weight in kilos:
        garden.tell("crop", plant="f", on=date.fromisoformat(on), weight_kg=weight)
    return garden


def test_last_year_s_crop_beside_the_others() -> None:
    """Pickings of one year are summed, a November picking with the year it grew in, and the middle year is the usual."""
    garden = crops(("2023-09-20", 20.0), ("2024-09-20", 30.0), ("2025-09-20", 40.0), ("2025-11-20", 10.0))
    assert values(facts_of(garden, "crop_before"), "by", "usual_share", "years") == [("weight", 2.0, 2)]
    assert facts_of(crops(("2023-09-20", 20.0), ("2024-09-20", 30.0)), "crop_before") == []
    assert facts_of(crops(("2025-09-20", 20.0)), "crop_before") == []


def test_plants_grown_another_way_are_told_apart() -> None:
    """Others of its kind under glass are counted as such; its own way, other kinds and old looks are left out."""
    garden = SmallGarden().spot("bed", under_cover="none").spot("house", under_cover="unheated glass")
    garden.plant("f").plant("g", "house").plant("h", "house").plant("k").plant("a", "house", species="apricot")
    garden.stage("g", "2026-04-01", 11).stage("h", "2026-04-20", 1).stage("k", "2026-04-20", 9).stage(
        "a", "2026-03-01", 9
    )
    assert values(facts_of(garden, "grown_otherwise"), "like", "others", "awake") == [("glass", 2, 1)]
    assert values(facts_of(garden, "grown_otherwise", today=date(2026, 5, 20)), "others", "awake") == [(1, 1)]


# ---- like with like


def yard(moved_out: str) -> SmallGarden:
    """Tell a pot outdoors, and two that woke under glass and were carried out on a day."""
    garden = SmallGarden().spot("yard", under_cover="none").spot("house", under_cover="unheated glass")
    garden.plant("f", "yard", growing="pot").stage("f", "2026-04-23", 1)
    for name in ("g", "h"):
        garden.plant(name, "house", growing="pot").move(name, "yard", moved_out).stage(name, "2026-04-10", 9)
    return garden


@pytest.mark.parametrize(("moved_out", "kin"), [("2026-04-18", []), ("2026-03-20", []), ("2026-03-13", [2])])
def test_a_pot_that_woke_under_glass_is_no_kin_of_one_outdoors(moved_out: str, kin: list[int]) -> None:
    """Only plants that stood alike when they woke, and four weeks before, are set beside each other."""
    garden = yard(moved_out)
    assert values(facts_of(garden, "kin_awake"), "awake") == kin
    assert values(facts_of(garden, "stage_lag"), "count") == kin


@pytest.mark.parametrize("under_cover", ["shelter", "unheated glass", "heated glass"])
def test_a_plant_under_a_roof_is_no_kin_of_one_outdoors(under_cover: str) -> None:
    """Under any roof, store or glass, a plant is not compared with one in the open."""
    garden = SmallGarden().spot("bed", under_cover="none").spot("roof", under_cover=under_cover).plant("f")
    garden.plant("g", "roof").plant("h", "roof").stage("f", "2026-04-23", 1)
    garden.stage("g", "2026-04-01", 9).stage("h", "2026-04-02", 9)
    assert facts_of(garden, "kin_awake") == facts_of(garden, "stage_lag") == []


# ---- the soil at its roots


def test_the_soil_of_a_pot_and_of_a_bed() -> None:
    """A pot's own readings count for a pot, its spot's for a plant in the ground; days count alike."""
    garden = SmallGarden().spot("bed").plant("f", growing="pot").plant("g")
    garden.soil("bed", "2026-04-20 11:00", 12.0).soil("", "2026-04-20 11:00", 8.0, plant="f")
    garden.soil("", "2026-04-22 08:00", 9.0, plant="f").soil("", "2026-04-22 16:00", 11.0, plant="f")
    assert values(facts_of(garden, "root_soil"), "mean_c", "on_days", "last_on") == [(9.0, 2, date(2026, 4, 22))]
    assert values(facts_of(garden, "root_soil", "g"), "mean_c", "on_days") == [(12.0, 1)]


@pytest.mark.parametrize(
    ("at", "depth_cm", "counts"),
    [("2026-04-11 11:00", 10, True), ("2026-04-10 11:00", 10, False), ("2026-04-20 11:00", 5, True),
     ("2026-04-20 11:00", 4, False), ("2026-04-20 11:00", 20, True), ("2026-04-20 11:00", 21, False)],
)  # fmt: skip
def test_readings_that_count_for_roots(at: str, depth_cm: float, counts: bool) -> None:
    """Two weeks back and 5 to 20 cm deep."""
    garden = SmallGarden().spot("bed").plant("f").soil("bed", at, 12.0, depth_cm=depth_cm)
    assert bool(facts_of(garden, "root_soil")) == counts


def opened(taken_off: str, material: str = "wood chips") -> SmallGarden:
    return SmallGarden().spot("bed").plant("f").cover("bed", material, "2025-10-20", taken_off)


def test_mulch_that_was_opened_this_spring() -> None:
    """Taken off since February and nothing or bare soil there since; chips put back, or straw in their place, end it."""
    garden = opened("2026-04-01")
    assert values(facts_of(garden, "opened_mulch"), "spot", "material", "open_days") == [("bed", "wood chips", 23)]
    assert values(facts_of(garden.cover("bed", "bare", "2026-04-01"), "opened_mulch"), "spot") == ["bed"]
    assert facts_of(garden.cover("bed", "wood chips", "2026-04-20"), "opened_mulch") == []
    assert facts_of(opened("2026-01-31"), "opened_mulch") == []
    assert facts_of(opened("2026-02-01"), "opened_mulch") != []
    assert facts_of(opened("2026-04-25"), "opened_mulch") == []
    assert facts_of(opened("2026-04-01", "stones"), "opened_mulch") == []


@pytest.mark.parametrize(
    ("hours", "said"),
    [(["15:00"], "afternoon only"), (["07:00"], "morning only"), (["07:00", "16:00"], "both"), (["11:00"], "neither"),
     (["05:00"], "morning only"), (["09:50"], "morning only"), (["10:00"], "neither"), (["13:00"], "afternoon only"),
     (["12:50"], "neither"), (["17:50"], "afternoon only"), (["18:00"], "neither")],
)  # fmt: skip
def test_at_what_hours_two_soils_were_compared(hours: list[str], said: str) -> None:
    """Only the hours of fair pairs count, by the clock of the place."""
    garden = SmallGarden().spot("bed").spot("wall").plant("f").cover("bed", "stones", "2020-01-01")
    garden.cover("wall", "bare", "2020-01-01").soil("bed", "2026-04-19 06:00", 5.0)
    for hour in hours:
        garden.soil("bed", f"2026-04-20 {hour}", 12.0).soil("wall", f"2026-04-20 {hour}", 13.0)
    assert values(facts_of(garden, "contrast_hours"), "where", "where_group", "than_group", "hours") == [
        ("bed", "stone", "bare", said)
    ]


# ---- what is said of a plant speaks of its own kind


def test_cautions_of_a_cause_name_no_other_kind_of_tree() -> None:
    """A rule that can answer why a fig is late does not warn of persimmons or apricots; the trial was of apple."""
    base = load_rules(find_rules())
    others = {
        name for one in load_lore(find_rules()).species.values() if one.id not in ("fig", "apple") for name in one.names
    }
    others |= {"mulberries", "cherries", "cherry", "plum", "plums"}
    found = []
    for rule in base.rules.values():
        for_one_kind = any(test.field in ("species", "flowers_first") for block in rule.when for test in block.tests
                           if "fig" not in str(test.operand))  # fmt: skip
        if for_one_kind or not (rule.conclude == "cause" or rule.gives.get("question") == "why-late"):
            continue
        found += [f"{rule.id}: {text}" for text in rule.cautions
                  if {word.strip(".,:;'").casefold() for word in text.split()} & others]  # fmt: skip
    assert found == []
