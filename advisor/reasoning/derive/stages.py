"""How far plants have come: the way of each to a milestone in each growing year, and its latest stage."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from functools import partial

from advisor.facts import Fact
from advisor.reasoning.derive.scene import Scene, derivation, derived
from advisor.reasoning.derive.store import mark_of

MILESTONES = ("waking", "bloom")
RECENT_DAYS = 14
"""A plant last seen asleep longer ago than this may have woken since (house judgement)."""
REST = 90
"""From this BBCH code on leaves colour and fall: the end of one year's growth, and no part of the next one's."""


def reached(bbch: int, milestone: str) -> bool:
    """Return whether a stage lies at or past a milestone.

    Waking is bud break, BBCH 07, or 53 for the flower buds of fruit trees (51 and 52 only swell); bloom is the first
    open flower, 60. Codes: Meier (ed.), BBCH Monograph, 2nd ed., 2001; the milestones are house judgement.
    """
    if milestone == "bloom":
        return 60 <= bbch < REST
    return 7 <= bbch < 50 or 53 <= bbch < REST


@dataclass(frozen=True)
class Reach:
    """One plant's way to a milestone in one growing year: the day it was first seen there, or last seen not there."""

    there: Fact | None
    last: Fact

    @property
    def day(self) -> date | None:
        return self.there.day("on") if self.there else None

    @property
    def fact(self) -> Fact:
        return self.there or self.last


def reach_of(scene: Scene, plant: str, year: int, milestone: str) -> Reach | None:
    """Return a plant's way to a milestone, or None where no stage is recorded in that year."""
    return scene.remember(("reach", (plant, year, milestone)), lambda: _reach(scene, plant, year, milestone))


def way_of(scene: Scene, plant: str, year: int, milestone: str) -> Reach | None:
    """Return the same as far as others look at it: of one who is there, not how it came on since.

    So what sets plants beside each other rests on the days of the milestone, not on every look at every plant.
    """
    if year < scene.year:
        return past_ways(scene, plant, milestone).get(year)
    make = partial(_settled_way, plant=plant, year=year, milestone=milestone)
    return scene.settled(("way", (plant, year, milestone)), make, mark_of(f"way {year} {milestone}", plant))


def past_ways(scene: Scene, plant: str, milestone: str) -> dict[int, Reach]:
    """Return a plant's ways to a milestone in earlier growing years, as far as others look at them, oldest first."""
    make = partial(_past_ways, plant=plant, milestone=milestone)
    return scene.settled(("past ways", (plant, milestone)), make, mark_of(f"past ways {milestone}", plant))


def _past_ways(scene: Scene, plant: str, milestone: str) -> dict[int, Reach]:
    years = _past_stages(scene, plant)
    return scene.from_same(("past ways", (plant, milestone)), (years,), partial(_ways_in, years, milestone))


def _ways_in(years: Mapping[int, list[Fact]], milestone: str) -> dict[int, Reach]:
    there = ((year, _first_there(rows, milestone), rows[-1]) for year, rows in years.items())
    return {year: Reach(first, first or last) for year, first, last in there}


def _first_there(rows: Iterable[Fact], milestone: str) -> Fact | None:
    return next((row for row in rows if reached(int(row.number("bbch") or 0), milestone)), None)


def _settled_way(scene: Scene, plant: str, year: int, milestone: str) -> Reach | None:
    way = _reach(scene, plant, year, milestone)
    return Reach(way.there, way.there) if way and way.there else way


def _reach(scene: Scene, plant: str, year: int, milestone: str) -> Reach | None:
    rows = stage_years(scene, plant).get(year, [])
    if not rows:
        return None
    if milestone == "waking" and year == scene.year and not reached(int(rows[-1].number("bbch") or 0), milestone):
        return Reach(None, rows[-1])  # what was seen before was another plant, or was lost: the last look counts
    return Reach(_first_there(rows, milestone), rows[-1])


def stage_years(scene: Scene, plant: str) -> dict[int, list[Fact]]:
    """Return a plant's stages by growing year; a look of this year from before it was planted is of another place."""
    return scene.remember(("stage years", plant), lambda: _by_year(scene, plant))


def _by_year(scene: Scene, plant: str) -> dict[int, list[Fact]]:
    planted = scene.plants[plant].day("planted") if plant in scene.plants else None
    since = planted if planted and scene.year_start <= planted <= scene.today else scene.year_start
    this = _grown(scene, scene.of_plant_since("stage", plant, since))
    return {**_past_stages(scene, plant), **this}


def _past_stages(scene: Scene, plant: str) -> dict[int, list[Fact]]:
    """Return a plant's stages of earlier growing years."""
    rows = scene.of_plant_before("stage", plant, scene.year_start)
    return scene.from_same(("past stages", plant), (rows, scene.place), partial(_grown, scene, rows))


def _grown(scene: Scene, rows: Iterable[Fact]) -> dict[int, list[Fact]]:
    """Return those of a plant's stages that are of its growth by growing year, oldest first."""
    years: dict[int, list[Fact]] = {}
    for row in rows:
        day = row.day("on")
        if day is not None and (row.number("bbch") or 0) < REST:
            years.setdefault(scene.year_of(day), []).append(row)
    return years


@derivation
def stage_now(scene: Scene) -> Iterable[Fact]:
    """Derive the latest stage of the plant asked about in this growing year."""
    way = reach_of(scene, scene.plant, scene.year, "waking") if scene.focus else None
    if way is None:
        return
    day = way.last.day("on") or scene.today
    bbch = int(way.last.number("bbch") or 0)
    yield derived(
        "stage_now",
        "stage_now",
        (scene.plants[scene.plant], way.last),
        plant=scene.plant,
        bbch=bbch,
        on=day,
        age_days=(scene.today - day).days,
        awake=reached(bbch, "waking"),
        flowering=reached(bbch, "bloom"),
    )
