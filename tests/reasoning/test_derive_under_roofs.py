"""What pots and trees under roofs stand, when they came out, how their air and water were: derived from small gardens."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
from small_garden import LORE, SmallGarden

from advisor.facts import Fact
from advisor.reasoning.derive.scene import DERIVATIONS, Scene
from advisor.records.species import Lore

TODAY = date(2026, 4, 24)


def fact(garden: SmallGarden, kind: str, today: date = TODAY, plant: str = "pot fig", lore: Lore = LORE) -> Fact | None:
    """Derive the one fact of a kind about a plant, None where there is none."""
    found = list(DERIVATIONS[kind](Scene(garden, lore, today, "pots-out", plant=plant)))
    assert len(found) <= 1
    return found[0] if found else None


def values(*args: Any, **more: Any) -> dict[str, Any]:
    found = fact(*args, **more)
    assert found is not None
    return dict(found.values)


def pot(species: str = "fig", **more: Any) -> SmallGarden:
    garden = SmallGarden().spot("store", under_cover="shelter").spot("yard", under_cover="none")
    garden.spot("house", under_cover="unheated glass")
    return garden.plant("pot fig", "yard", species, "pot", **more)


# ---- what a plant shows


@pytest.mark.parametrize(
    ("species", "bbch", "shows", "in_leaf"),
    [
        ("fig", 0, "closed buds", False),
        ("fig", 3, "swelling buds", False),
        ("fig", 9, "open buds", False),
        ("fig", 11, "leaves", True),
        ("fig", 65, "leaves", True),
        ("fig", 85, "leaves", True),
        ("fig", 93, "fallen leaves", False),
        ("apricot", 51, "swelling buds", False),
        ("apricot", 55, "open buds", False),
        ("apricot", 65, "flowers", False),
        ("apricot", 69, "leaves", True),
    ],
)
def test_a_stage_is_what_cold_and_sun_can_hurt(species: str, bbch: int, shows: str, in_leaf: bool) -> None:
    """Each stage shows buds, flowers or leaves; a kind that flowers first has flowers before it has leaves."""
    found = values(pot(species).stage("pot fig", "2026-04-20", bbch), "leafing")
    assert (found["shows"], found["in_leaf"], found["age_days"]) == (shows, in_leaf, 4)


def test_a_bud_open_two_weeks_ago_has_leaves_by_now() -> None:
    """Buds seen open 13 days ago are buds, 14 days ago leaves; in winter they stay what they were."""
    assert values(pot().stage("pot fig", "2026-04-11", 9), "leafing")["in_leaf"] is False
    assert values(pot().stage("pot fig", "2026-04-10", 9), "leafing")["in_leaf"] is True
    winter = pot().stage("pot fig", "2026-01-01", 9)
    assert values(winter, "leafing", date(2026, 2, 20))["in_leaf"] is False


def test_an_old_look_says_leaves_in_summer_and_nothing_of_fruit() -> None:
    """What flowered in April is in leaf in October; fruit seen ripening counts for a month."""
    garden = pot("apricot").stage("pot fig", "2026-04-11", 65)
    found = values(garden, "leafing", date(2026, 10, 12))
    assert (found["shows"], found["in_leaf"], found["ripening"]) == ("leaves", True, False)
    ripe = pot().stage("pot fig", "2026-09-20", 85)
    assert values(ripe, "leafing", date(2026, 10, 20))["ripening"] is True
    assert values(ripe, "leafing", date(2026, 10, 21))["ripening"] is False


def test_fallen_leaves_stay_fallen_when_the_growing_year_turns() -> None:
    """Leaf fall told in October holds in December; a leaf told in October says nothing then; nor does last winter's."""
    assert values(pot().stage("pot fig", "2026-10-28", 95), "leafing", date(2026, 12, 5))["shows"] == "fallen leaves"
    assert fact(pot().stage("pot fig", "2026-10-28", 85), "leafing", date(2026, 12, 5)) is None
    assert fact(pot().stage("pot fig", "2025-11-05", 95), "leafing", date(2026, 12, 5)) is None
    assert fact(pot(), "leafing") is None


def test_one_awake_under_glass_is_named_for_one_in_the_open() -> None:
    """The first of its kind to wake under a roof is named; one in the open, another kind, or a plant that stands under
    a roof itself is none."""
    garden = pot().plant("glass fig", "house").plant("store fig", "store", growing="pot").plant("bed fig", "yard")
    garden.plant("glass apricot", "house", "apricot")
    garden.stage("glass fig", "2026-03-22", 9).stage("store fig", "2026-04-10", 7).stage("bed fig", "2026-04-02", 9)
    garden.stage("glass apricot", "2026-03-01", 60)
    found = values(garden, "roof_kin")
    assert (found["other"], found["spot"], found["others"]) == ("glass fig", "house", 2)
    assert fact(garden, "roof_kin", plant="glass fig") is None
    assert fact(garden, "roof_kin", date(2026, 3, 20)) is None


# ---- in and out


def test_a_pot_that_came_out_in_leaf_takes_its_steps() -> None:
    """Shade for three days, morning sun until a week, by the last move that changed its roof."""
    garden = pot().move("pot fig", "store", "2025-11-15").stage("pot fig", "2026-04-18", 13)
    garden.move("pot fig", "yard", "2026-04-20")
    steps = [values(garden, "roof_move", date(2026, 4, day))["step"] for day in (20, 22, 23, 26, 27)]
    assert steps == ["shade", "shade", "morning sun", "morning sun", "sun"]
    found = values(garden, "roof_move")
    assert (found["way"], found["from_spot"], found["in_leaf_then"], found["age_days"]) == ("out", "store", True, 4)


def test_a_pot_that_came_out_asleep_was_not_in_leaf_then() -> None:
    """What it was when it came out counts, not what it is now; a look after the move says nothing of it."""
    garden = pot().move("pot fig", "store", "2025-11-15").stage("pot fig", "2026-04-01", 0)
    garden.move("pot fig", "yard", "2026-04-05").stage("pot fig", "2026-04-22", 13)
    assert values(garden, "roof_move")["in_leaf_then"] is False
    unseen = pot().move("pot fig", "store", "2025-11-15").move("pot fig", "yard", "2026-04-20")
    assert "in_leaf_then" not in values(unseen.stage("pot fig", "2026-04-22", 13), "roof_move")


def test_a_move_from_yard_to_yard_changes_no_roof() -> None:
    """A carry from one open spot to another leaves the day it came out; two spots on one day leave nothing known."""
    garden = pot().spot("terrace", under_cover="none").move("pot fig", "store", "2025-11-15")
    garden.move("pot fig", "yard", "2026-04-10").move("pot fig", "terrace", "2026-04-20")
    assert values(garden, "roof_move")["on"] == date(2026, 4, 10)
    garden.move("pot fig", "store", "2026-04-20")
    assert fact(garden, "roof_move") is None
    assert fact(pot(), "roof_move") is None


# ---- what a pot stands


@pytest.mark.parametrize(
    ("bbch", "part", "limit_c", "in_at_c"),
    [(0, "roots", -5.0, -3.0), (3, "swelling buds", -2.0, 0.0), (9, "open buds", 0.0, 2.0), (15, "leaves", 0.0, 2.0)],
)
def test_the_weakest_part_decides(bbch: int, part: str, limit_c: float, in_at_c: float) -> None:
    """Asleep the roots, then the swelling bud, then what is green: each comes in two degrees above what it stands."""
    found = values(pot().stage("pot fig", "2026-04-20", bbch), "pot_stands")
    assert (found["part"], found["limit_c"], found["in_at_c"]) == (part, limit_c, in_at_c)


def test_roots_of_hardy_kinds_stand_more() -> None:
    """A kind that wakes early or wants no heat has hardier roots; of a pot nobody looked at the roots are known."""
    assert values(pot("apricot"), "pot_stands")["limit_c"] == -8.0
    assert values(pot(), "pot_stands")["limit_c"] == -5.0
    late = LORE.species["fig"]
    lore = Lore({**LORE.species, "mulberry": replace(late, id="mulberry", heat_lover=False)}, LORE.materials)
    assert values(pot("mulberry"), "pot_stands", lore=lore)["tender_roots"] is False
    assert fact(SmallGarden().spot("yard").plant("pot fig", "yard"), "pot_stands") is None


def test_flowers_stand_what_is_published_to_the_milder_degree(adviser: Any) -> None:
    """First flowers of apricot lose a tenth at -3.9 °C, so -3 °C is the limit; its closed buds are hardier than roots."""
    flowering = pot("apricot").stage("pot fig", "2026-04-20", 60)
    found = values(flowering, "pot_stands", lore=adviser.lore)
    assert (found["part"], found["limit_c"]) == ("flowers", -3.0)
    swelling = pot("apricot").stage("pot fig", "2026-04-20", 51)
    assert values(swelling, "pot_stands", lore=adviser.lore)["part"] == "roots"


def test_an_autumn_leaf_does_not_count_but_ripening_fruit_does() -> None:
    """In October a leafy pot stands what its roots stand, a hardy kind's soft wood less; fruit near ripe stands none."""
    october = date(2026, 10, 16)
    assert values(pot().stage("pot fig", "2026-10-14", 91), "pot_stands", october)["limit_c"] == -5.0
    hardy = values(pot("apricot").stage("pot fig", "2026-10-14", 91), "pot_stands", october)
    assert (hardy["part"], hardy["limit_c"]) == ("soft wood", -5.0)
    ripe = values(pot().stage("pot fig", "2026-10-14", 85), "pot_stands", october)
    assert (ripe["part"], ripe["limit_c"]) == ("fruit", 0.0)
    assert values(pot().stage("pot fig", "2026-11-05", 91), "pot_stands", date(2026, 11, 8))["part"] == "roots"


def test_a_tub_of_a_hundred_litres_is_not_carried() -> None:
    """From 100 litres on a pot is heavy; a size that nobody told is one to carry."""
    heavy = [values(pot(pot_litres=litres), "pot_stands")["heavy"] for litres in (99.0, 100.0)]
    assert heavy == [False, True] and values(pot(), "pot_stands")["heavy"] is False


# ---- the night


def forecast(garden: SmallGarden, min_c: float) -> SmallGarden:
    return garden.tell("forecast_day", issued=TODAY, for_day=TODAY + timedelta(days=1), min_c=min_c)


def test_a_forecast_may_miss_by_two_degrees() -> None:
    """-2 °C forecast may be -4 °C, one degree above what sleeping roots stand; without a forecast nothing is said."""
    found = values(forecast(pot(), -2.0), "pot_cold")
    assert (found["told_c"], found["may_fall_to_c"], found["margin_k"], found["by"]) == (
        -2.0,
        -4.0,
        1.0,
        "the forecast",
    )
    assert fact(pot(), "pot_cold") is None and fact(pot(), "night_outside") is None
    night = values(forecast(pot(), -2.0), "night_outside")
    assert (night["told_c"], night["may_fall_to_c"]) == (-2.0, -4.0)


def test_the_evening_s_reading_goes_before_the_forecast() -> None:
    """With a reading of the evening the forecast is not asked, and the low end of its range is what it may fall to."""
    garden = forecast(pot(), 8.0).tell("evening", on=TODAY, temp_c=1.0, dew_point_c=-8.0)
    found = values(garden, "pot_cold")
    assert found["by"] == "this evening's reading" and found["may_fall_to_c"] < found["told_c"] < 1.0


def test_a_cold_yard_is_told_colder_but_not_a_store() -> None:
    """Where six clear nights showed the yard three degrees colder, a pot there meets that; a stored one is told of the
    station's night."""
    garden = forecast(pot(), 1.0)
    for n in range(6):
        day = TODAY - timedelta(days=20 - n)
        garden.weather(day.isoformat(), 1.0 + n % 3, 15.0)
        garden.tell("weather_day", on=day, spot="yard", min_c=-2.0 + n % 3, max_c=14.0)
    assert values(garden, "pot_cold")["told_c"] == -2.0
    garden.move("pot fig", "store", "2026-04-20")
    assert values(garden, "pot_cold")["told_c"] == 1.0


def test_the_end_of_frost_is_the_weather_s_or_the_grower_s() -> None:
    """Ten springs of weather give the day; with fewer the grower's own day counts; with neither nothing."""
    assert fact(pot(), "frost_end") is None
    told = SmallGarden()
    told.rows["place"] = [
        Fact.of("place", {**told.rows["place"][0].values, "usual_last_frost": "05-10"}, told.rows["place"][0].origin)
    ]
    found = values(told, "frost_end")
    assert (found["day"], found["ahead_days"], found["by"]) == (date(2026, 5, 10), 16, "told")
    for year in range(2012, 2026):
        for n in range(150):
            day = date(year, 1, 1) + timedelta(days=n)
            told.weather(day.isoformat(), -3.0 if day < date(year, 4, 20 + year % 5) else 4.0, 15.0)
    found = values(told, "frost_end")
    assert found["by"] == "weather" and date(2026, 4, 20) <= found["day"] <= date(2026, 5, 5)
    assert "14 springs" in found["why"]


# ---- autumn, air and water


def test_the_coldest_night_counts_from_the_first_of_autumn() -> None:
    """A frost of August is none of autumn's; in spring nothing is said; the age is that of the last day recorded."""
    garden = pot().weather("2026-08-28", -4.0, 10.0).weather("2026-10-10", -1.5, 12.0).weather("2026-10-12", 3.0, 12.0)
    found = values(garden, "autumn_cold", date(2026, 10, 16))
    assert (found["lowest_c"], found["on"], found["age_days"]) == (-1.5, date(2026, 10, 10), 4)
    assert fact(garden, "autumn_cold") is None
    assert values(garden, "autumn_cold", date(2027, 1, 20))["lowest_c"] == -1.5


def test_autumn_is_turned_round_in_the_south() -> None:
    """South of the equator it counts from the first of March."""
    garden = SmallGarden(-36.0).weather("2026-02-20", -4.0, 10.0).weather("2026-05-10", -1.5, 12.0)
    assert values(garden, "autumn_cold", date(2026, 5, 11))["lowest_c"] == -1.5
    assert values(garden, "autumn_cold", date(2026, 7, 11))["lowest_c"] == -1.5
    assert fact(garden, "autumn_cold", date(2026, 10, 11)) is None


def test_a_store_is_known_by_its_own_thermometer() -> None:
    """Three days of the last seven give its air and what it gains on the station; two are too few, an open spot none."""
    garden = pot()
    for n, (low, high) in enumerate(((8.0, 12.0), (9.0, 13.0), (6.0, 12.0))):
        day = TODAY - timedelta(days=n)
        assert fact(garden, "roof_air") is None
        garden.tell("weather_day", on=day, spot="store", min_c=low, max_c=high)
        garden.tell("weather_day", on=day, spot="yard", min_c=low, max_c=high)
        garden.weather(day.isoformat(), 2.0 + n, 15.0)
    found = values(garden, "roof_air")
    assert (found["spot"], found["days"], found["mean_c"]) == ("store", 3, 10.0)
    assert (found["lowest_c"], found["highest_c"], found["gain_k"]) == (6.0, 13.0, 2.0)
    assert fact(garden, "roof_air", TODAY + timedelta(days=5)) is None


def test_water_is_the_plant_s_own_or_that_of_its_spot() -> None:
    """Watering all in the store counts while the pot stood there; another pot's water and another work do not."""
    garden = pot().plant("tall fig", "yard", growing="pot").move("pot fig", "store", "2025-11-15")
    assert fact(garden, "pot_moisture") is None
    garden.tell("work", plant="pot fig", on=date(2026, 1, 10), what="watered")
    garden.tell("work", plant="tall fig", on=date(2026, 3, 10), what="watered")
    garden.tell("work", plant="pot fig", on=date(2026, 3, 12), what="pruned")
    assert values(garden, "pot_moisture")["watered_on"] == date(2026, 1, 10)
    garden.tell("work", spot="store", on=date(2026, 2, 15), what="watered")
    found = values(garden, "pot_moisture")
    assert (found["watered_on"], found["watered_days"]) == (date(2026, 2, 15), 68) and "felt" not in found
    garden.tell("work", spot="yard", on=date(2026, 4, 1), what="watered")
    assert values(garden, "pot_moisture")["watered_on"] == date(2026, 2, 15)


def test_a_dry_ball_watered_since_is_known_to_be() -> None:
    """A look at the ball stands until the pot is watered, on that day or after it."""
    garden = pot().tell("inspection", plant="pot fig", on=date(2026, 4, 17), root_ball="dry")
    assert values(garden, "pot_moisture")["watered_since"] is False
    garden.tell("work", plant="pot fig", on=date(2026, 4, 17), what="watered")
    found = values(garden, "pot_moisture")
    assert (found["felt"], found["felt_days"], found["watered_since"]) == ("dry", 7, True)


@pytest.mark.parametrize(
    ("spot", "rain_mm", "day", "wetted"),
    [("yard", 5.0, "2026-04-17", True), ("yard", 4.9, "2026-04-20", False), ("yard", 30.0, "2026-04-16", False),
     ("store", 30.0, "2026-04-20", False)],
)  # fmt: skip
def test_rain_wets_a_dry_ball_in_the_open(spot: str, rain_mm: float, day: str, wetted: bool) -> None:
    """A good rain on the day of the look or after it counts as water, but not under a roof."""
    garden = pot().move("pot fig", spot, "2025-11-15")
    garden.tell("inspection", plant="pot fig", on=date(2026, 4, 17), root_ball="dry")
    garden.tell("weather_day", on=date.fromisoformat(day), min_c=4.0, max_c=15.0, rain_mm=rain_mm)
    assert values(garden, "pot_moisture")["watered_since"] is wetted


def test_the_last_reading_in_a_pot_counts() -> None:
    """A reading in the pot is told with its age; one of a spot's soil is none."""
    garden = pot().soil("yard", "2026-04-23T14:00", 20.0)
    assert fact(garden, "pot_reading") is None
    garden.soil("", "2026-04-20T14:00", 15.0, plant="pot fig").soil("", "2026-04-22T15:00", 39.5, plant="pot fig")
    found = values(garden, "pot_reading")
    assert (found["temp_c"], found["age_days"]) == (39.5, 2)
