"""When each plant reached bud break or bloom, year by year, so that early and late ones show."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from statistics import median

from advisor.facts import Fact
from advisor.reasoning.derive.scene import Scene
from advisor.reasoning.derive.stages import reach_of
from advisor.reasoning.pictures.base import Choice, Nothing, day_of_common_year, in_common_year, spot_of

MOST_DRAWN = 24
"""Plants in one group that a phone shows without endless scrolling; the others stand in the table."""


@dataclass(frozen=True, slots=True)
class PlantDates:
    """One plant's way: the day of each growing year on which its milestone was first seen.

    ``places`` are the same days as places in the common growing year, ``middle`` the middle of them, or of the last
    look where there are none. ``waiting`` is the last look of this year that found it not there yet, ``waiting_at``
    its place.
    """

    plant: str
    species: str
    milestone: str
    days: tuple[tuple[int, date], ...]
    places: tuple[tuple[int, int], ...]
    middle: float
    waiting: date | None
    waiting_at: int | None


@dataclass(frozen=True, slots=True)
class StagesShown:
    """The plants in two groups, each earliest first: those that flower first by bloom, the others by bud break.

    ``drawn`` are the names drawn, in the same order; the rest stands in the table. Places count from ``first_day``.
    """

    year: int
    first_day: date
    groups: tuple[tuple[str, tuple[PlantDates, ...]], ...]
    drawn: tuple[str, ...]

    @property
    def plants(self) -> list[PlantDates]:
        return [one for _, group in self.groups for one in group]

    @property
    def years(self) -> list[int]:
        return sorted({year for one in self.plants for year, _ in one.days})


def stages_shown(scene: Scene, choice: Choice) -> StagesShown | Nothing:
    """Return the dates of all plants, or of those chosen by kind, spot or name."""
    days = {day for row in scene.rows("stage") if (day := row.day("on")) and day <= scene.today}
    years = sorted({scene.year_of(day) for day in days})
    groups: dict[str, list[PlantDates]] = {"waking": [], "bloom": []}
    for name, plant in scene.plants.items():
        if not _chosen(scene, choice, name, plant):
            continue
        one = _dates(scene, name, plant, years)
        if one is not None:
            groups[one.milestone].append(one)
    if not any(groups.values()):
        of = choice.plant or (f"any {scene.lore.species[choice.species].name}" if choice.species else "any plant")
        where = f" at {' or '.join(choice.spots)}" if choice.spots else ""
        return Nothing(f"no bud break or bloom of {of}{where} is recorded", "stage")
    told, drawn = [], []
    for milestone, found in groups.items():
        if found:
            found.sort(key=lambda one: (one.middle, one.plant))
            most = set(sorted(found, key=lambda one: (-len(one.days), one.plant))[:MOST_DRAWN])
            drawn += [one.plant for one in found if one in most]
            told.append((milestone, tuple(found)))
    return StagesShown(scene.year, day_of_common_year(scene, 0), tuple(told), tuple(drawn))


def _chosen(scene: Scene, choice: Choice, name: str, plant: Fact) -> bool:
    if choice.plant and name != choice.plant:
        return False
    if choice.species and plant.text("species") != choice.species:
        return False
    return not choice.spots or spot_of(scene, name) in choice.spots


def _dates(scene: Scene, name: str, plant: Fact, years: list[int]) -> PlantDates | None:
    species = scene.lore_of(plant)
    flowers = species is not None and bool(species.trait(plant.text("cultivar"), "flowers_first"))
    milestone = "bloom" if flowers else "waking"
    days, waiting = [], None
    for year in years:
        way = reach_of(scene, name, year, milestone)
        if way is not None and way.day is not None:
            days.append((year, way.day))
        elif way is not None and year == scene.year:
            waiting = way.last.day("on")
    if not days and waiting is None:
        return None
    places = tuple((year, in_common_year(scene, day)) for year, day in days)
    waiting_at = in_common_year(scene, waiting) if waiting else None
    middle = median([place for _, place in places] or [waiting_at or 0])
    return PlantDates(name, plant.text("species"), milestone, tuple(days), places, middle, waiting, waiting_at)
