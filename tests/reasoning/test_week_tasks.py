"""No list of a week's tasks contradicts itself, whatever of watering, feeding and harvest is recorded.

All gardens are invented.
"""

from __future__ import annotations

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

TOPICS = ("water-and-feed", "harvest")
OPPOSITE = (
    {"soak-the-pot", "let-it-drain"}, {"water-the-pot", "let-it-drain"}, {"first-feed", "let-it-drain"},
    {"first-feed", "stop-feeding"}, {"first-feed", "soak-the-pot"}, {"under-glass-to-ripen", "take-off-late-figs"},
    {"under-glass-to-ripen", "thin-late-figs"}, {"pick-the-soft-figs", "take-off-late-figs"},
    {"water-the-new-tree", "let-it-drain"}, {"dig-and-see-how-dry", "let-it-drain"},
)  # fmt: skip
"""Tasks that no grower could do both of on one plant in one week."""
PLANTS = {"pot fig": ("fig", "pot"), "bed fig": ("fig", "ground"), "kaki": ("persimmon", "ground"),
          "peach": ("peach", "ground"), "apple": ("apple", "pot"), "cherry": ("sweet-cherry", "ground")}  # fmt: skip
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


@st.composite
def gardens(draw: st.DrawFn) -> tuple[SmallGarden, date]:
    """Draw a day and a garden of one plant or more with works, looks, stages and weather of the months before."""
    today = date(2026, 1, 1) + timedelta(days=draw(st.integers(60, 360)))
    garden = SmallGarden()
    for spot, cover in SPOTS.items():
        garden.spot(spot, under_cover=cover)
    ago = st.integers(0, 90)
    for name in draw(st.sets(st.sampled_from(sorted(PLANTS)), min_size=1, max_size=3)):
        species, growing = PLANTS[name]
        planted = draw(st.sampled_from([{}, {"planted": date(2026, 3, 10)}, {"planted": date(2019, 3, 10)}]))
        spot = draw(st.sampled_from(sorted(SPOTS))) if growing == "pot" else "yard"
        garden.plant(name, spot, species, growing, **planted)
        for n in sorted(draw(st.sets(ago, max_size=3)), reverse=True):
            garden.stage(name, (today - timedelta(days=n)).isoformat(),
                         draw(st.sampled_from([0, 1, 9, 11, 53, 65, 71, 73, 81, 87, 95])))  # fmt: skip
        for n in draw(st.lists(ago, max_size=5)):
            what = draw(st.sampled_from(["watered", "fed", "thinned", "netted", "pinched"]))
            garden.tell("work", plant=name, on=today - timedelta(days=n), what=what)
        for n in draw(st.lists(st.integers(0, 9), max_size=2)):
            garden.tell("inspection", plant=name, on=today - timedelta(days=n),
                        root_ball=draw(st.sampled_from(["dry", "moist", "wet"])))  # fmt: skip
        for n in draw(st.lists(ago, max_size=1)):
            garden.tell("growth", plant=name, on=today - timedelta(days=n), shoot_cm=120.0, leaves=20)
    hot, wet_ago = draw(st.booleans()), draw(st.integers(0, 60))
    for n in range(60, -1, -1):
        low, high = (15.0, 29.0) if hot else (draw(st.sampled_from([-3.0, 4.0])), 12.0)
        garden.tell("weather_day", on=today - timedelta(days=n), min_c=low, max_c=high,
                    rain_mm=9.0 if n == wet_ago else 0.0)  # fmt: skip
    for low in draw(st.lists(st.sampled_from([-2.0, 1.0, 9.0]), max_size=1)):
        garden.tell("forecast_day", issued=today, for_day=today + timedelta(days=1), min_c=low)
    return garden, today


@settings(max_examples=150, deadline=None)
@given(drawn=gardens())
def test_no_two_tasks_of_one_plant_are_opposites(adviser: Adviser, drawn: tuple[SmallGarden, date]) -> None:
    """Water and drought, feed and no feed, keep and take off are never told of one plant in one list."""
    garden, today = drawn
    for plant, told in tasks(reply(adviser, garden, today)).items():
        assert not [pair for pair in OPPOSITE if pair <= told], (plant, told)


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
