"""No list of a week's tasks contradicts itself, whatever of watering, feeding and harvest is recorded.

All gardens are invented.
"""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any, cast

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from small_garden import ZONE, SmallGarden

from advisor.conversation import Adviser
from advisor.language.render import Speech
from advisor.language.reply import answer_reply
from advisor.language.understand import Understood
from advisor.records.store import Garden

TOPICS = ("water-and-feed", "harvest")
OPPOSITE = (
    {"soak-the-pot", "let-it-drain"}, {"water-the-pot", "let-it-drain"}, {"first-feed", "let-it-drain"},
    {"first-feed", "stop-feeding"}, {"first-feed", "soak-the-pot"}, {"under-glass-to-ripen", "take-off-late-figs"},
    {"under-glass-to-ripen", "thin-late-figs"}, {"pick-the-soft-figs", "take-off-late-figs"},
    {"water-the-new-tree", "let-it-drain"}, {"dig-and-see-how-dry", "let-it-drain"},
)  # fmt: skip
"""Tasks that no grower could do both of on one plant in one week."""
PLANTS = {"pot fig": ("fig", "pot"), "bed fig": ("fig", "ground"), "kaki": ("persimmon", "ground"),
          "pot peach": ("peach", "pot"), "cherry": ("sweet-cherry", "ground")}  # fmt: skip
SPOTS = {"yard": "none", "shed": "shelter", "glass": "unheated glass"}


def reply(adviser: Adviser, garden: SmallGarden, today: date) -> dict[str, Any]:
    names = frozenset(fact.text("name") for kind in ("spot", "plant") for fact in garden.of(kind))
    speech = Speech("metric", ZONE, today, adviser.base.kinds, names, {})
    return answer_reply(adviser.answer(cast(Garden, garden), Understood("what-next"), today), speech)


def tasks(made: dict[str, Any]) -> dict[str, set[str]]:
    """Return the tasks of each plant."""
    found: dict[str, set[str]] = {}
    for one in made["conclusions"]:
        if one["kind"] == "task":
            found.setdefault(one["about"].get("plant", ""), set()).add(one["claim"])
    return found


Row = tuple[str, dict[str, Any]]
STAGES = {4: [0, 1, 9, 11, 53, 65], 7: [11, 15, 71, 73, 81], 10: [73, 81, 85, 87, 95]}
"""What is seen about each month."""


@st.composite
def records(draw: st.DrawFn) -> tuple[date, list[Row]]:
    """Draw a day and what is recorded of two plants, and of the weather, in the months before."""
    month = draw(st.sampled_from(sorted(STAGES)))
    today = date(2026, month, 1) + timedelta(days=draw(st.integers(0, 40)))
    rows: list[Row] = []
    ago = st.integers(0, 30)
    for name in draw(st.sets(st.sampled_from(sorted(PLANTS)), min_size=1, max_size=2)):
        species, growing = PLANTS[name]
        spot = draw(st.sampled_from(sorted(SPOTS))) if growing == "pot" else "yard"
        planted = draw(st.sampled_from([date(2026, 3, 10), date(2019, 3, 10)]))
        rows.append(("plant", {"name": name, "species": species, "growing": growing, "spot": spot, "planted": planted}))
        for n in draw(st.sets(ago, max_size=2)):
            code = draw(st.sampled_from(STAGES[month]))
            rows.append(("stage", {"plant": name, "on": today - timedelta(days=n), "bbch": code}))
        if month == 10:
            rows.append(("stage", {"plant": name, "on": today - timedelta(days=100), "bbch": 71}))
        for n, what in draw(st.lists(st.tuples(ago, st.sampled_from(["watered", "fed", "thinned"])), max_size=4)):
            rows.append(("work", {"plant": name, "on": today - timedelta(days=n), "what": what}))
        for n, felt in draw(
            st.lists(st.tuples(st.integers(0, 9), st.sampled_from(["dry", "moist", "wet"])), max_size=2)
        ):
            rows.append(("inspection", {"plant": name, "on": today - timedelta(days=n), "root_ball": felt}))
        if draw(st.booleans()):
            rows.append(("growth", {"plant": name, "on": today, "shoot_cm": 120.0, "leaves": 20}))
    hot, wet_ago, cold_ago = draw(st.booleans()), draw(ago), draw(ago)
    for n in range(60, -1, -1):
        low = -3.0 if n == cold_ago and month != 7 else 12.0
        weather = {"min_c": low, "max_c": 29.0 if hot else 14.0, "rain_mm": 9.0 if n == wet_ago else 0.0}
        rows.append(("weather_day", {"on": today - timedelta(days=n), **weather}))
    for low in draw(st.lists(st.sampled_from([-2.0, 1.0, 9.0]), max_size=1)):
        rows.append(("forecast_day", {"issued": today, "for_day": today + timedelta(days=1), "min_c": low}))
    return today, rows


def garden_of(rows: list[Row], autumns: bool = False) -> SmallGarden:
    """Return a garden of such rows; with ``autumns`` of twelve years behind it, in which it froze in October."""
    garden = SmallGarden()
    for spot, cover in SPOTS.items():
        garden.spot(spot, under_cover=cover)
    for year in range(2013, 2026 if autumns else 2013):
        for n in range(365):
            day = date(year, 1, 1) + timedelta(days=n)
            garden.weather(day.isoformat(), -3.0 if day >= date(year, 10, 5 + year % 9) else 6.0, 15.0)
    for kind, row in rows:
        garden.tell(kind, **row)
    return garden


@settings(max_examples=250, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(drawn=records())
def test_no_two_tasks_of_one_plant_are_opposites(adviser: Adviser, drawn: tuple[date, list[Row]]) -> None:
    """Water and drought, feed and no feed, keep and take off are never told of one plant in one list."""
    today, rows = drawn
    for plant, told in tasks(reply(adviser, garden_of(rows), today)).items():
        assert not [pair for pair in OPPOSITE if pair <= told], (plant, told)


@pytest.mark.parametrize("growing", ["pot", "ground"])
@pytest.mark.parametrize("frosted", [False, True])
@pytest.mark.parametrize("late", [False, True])
def test_in_autumn_figs_are_ripened_or_taken_off(adviser: Adviser, growing: str, frosted: bool, late: bool) -> None:
    """Until frost takes the leaves late figs are brought on, then they come off; never both."""
    today = date(2026, 10, 2) if growing == "pot" or late else date(2026, 9, 1)
    fig = {"name": "fig", "species": "fig", "growing": growing, "spot": "yard"}
    rows: list[Row] = [("plant", fig), ("stage", {"plant": "fig", "on": date(2026, 7, 20), "bbch": 71})]
    if late:
        rows.append(("stage", {"plant": "fig", "on": date(2026, 9, 25), "bbch": 85}))
        rows.append(("forecast_day", {"issued": today, "for_day": today + timedelta(days=1), "min_c": 1.0}))
    if frosted:
        rows.append(("weather_day", {"on": today - timedelta(days=1), "min_c": -2.5, "max_c": 9.0}))
    told = tasks(reply(adviser, garden_of(rows, autumns=True), today)).get("fig", set())
    kept = {"under-glass-to-ripen", "thin-late-figs", "pick-the-soft-figs"} & told
    assert bool(kept) is not frosted and ("take-off-late-figs" in told) is frosted
    assert ("pick-the-soft-figs" in told) is (late and not frosted)


def test_the_pairs_are_tasks_that_there_are(adviser: Adviser) -> None:
    """A task that is renamed would make its pair hold for nothing."""
    ours = {
        rule.gives["what"] for rule in adviser.base.rules.values() if rule.topic in TOPICS and rule.conclude == "task"
    }
    assert {what for pair in OPPOSITE for what in pair} <= ours


@pytest.mark.parametrize(("fed_first", "task"), [(False, "first-feed"), (True, "stop-feeding")])
def test_the_list_follows_the_records(adviser: Adviser, fed_first: bool, task: str) -> None:
    """One record turns one task into its opposite, so the pairs above could be met."""
    today = date(2026, 7, 10 if not fed_first else 28)
    garden = SmallGarden().spot("yard", under_cover="none").plant("pot fig", "yard", "fig", "pot")
    garden.stage("pot fig", "2026-06-30" if not fed_first else "2026-07-20", 15)
    if fed_first:
        garden.tell("work", plant="pot fig", on=date(2026, 7, 20), what="fed")
    told = tasks(reply(adviser, garden, today))["pot fig"]
    assert task in told and len(told & {"first-feed", "stop-feeding"}) == 1


@pytest.mark.parametrize(("days", "expected"), [(3, "soak-the-pot"), (10, "soak-the-pot"), (15, "first-feed")])
def test_a_dry_pot_is_soaked_before_it_is_fed(adviser: Adviser, days: int, expected: str) -> None:
    """Salts burn dry roots: while the list says to soak a pot, it says nothing of feed."""
    today = date(2026, 5, 10)
    garden = SmallGarden().spot("glass", under_cover="unheated glass").plant("pot fig", "glass", "fig", "pot")
    garden.stage("pot fig", "2026-05-08", 15)
    garden.tell("inspection", plant="pot fig", on=today - timedelta(days=days), root_ball="dry")
    told = tasks(reply(adviser, garden, today))["pot fig"]
    assert told & {"first-feed", "soak-the-pot"} == {expected}


def test_the_data_stand_in_the_order_of_the_list(adviser: Adviser) -> None:
    """Tasks are ranked by what a miss costs, then by their day, and the data say both."""
    today = date(2026, 7, 10)
    garden = SmallGarden().spot("yard", under_cover="none").plant("pot fig", "yard", "fig", "pot")
    garden.plant("peach", "yard", "peach", planted=date(2026, 3, 10)).stage("peach", "2026-07-01", 15)
    garden.stage("pot fig", "2026-07-01", 73).tell("work", plant="pot fig", on=date(2026, 7, 2), what="watered")
    for n in range(30, -1, -1):
        garden.tell("weather_day", on=today - timedelta(days=n), min_c=15.0, max_c=29.0, rain_mm=0.0)
    told = [one for one in reply(adviser, garden, today)["conclusions"] if one["kind"] == "task"]
    assert [(one["claim"], one["loss"], one["within_days"]) for one in told] == [
        ("water-the-new-tree", "tree", 1), ("water-the-pot", "crop", 0), ("first-feed", "growth", 7),
    ]  # fmt: skip
    assert all(one["minutes"] > 0 for one in told)
