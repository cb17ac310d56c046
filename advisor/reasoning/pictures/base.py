"""What a picture is asked for, and what stands in its place where there is nothing to show."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from advisor.calc.calendar import growing_year_start, set_in_year
from advisor.reasoning.derive.plants import stand_of
from advisor.reasoning.derive.scene import Scene

COMMON_YEAR = {True: 2022, False: 2021}
"""A growing year without 29 February, in the north and in the south, in which dates of several years are compared."""


@dataclass(frozen=True, slots=True)
class Choice:
    """What a picture is to be of: spots, a plant, a kind of tree, a growing year; empty where the picture chooses."""

    spots: tuple[str, ...] = ()
    plant: str = ""
    species: str = ""
    year: int | None = None


@dataclass(frozen=True, slots=True)
class Nothing:
    """Why there is nothing to show, and the kind of record that would change it."""

    reason: str
    record: str


def in_common_year(scene: Scene, day: date) -> int:
    """Return the place of a day in its growing year, counted from 0, in a year without 29 February."""
    start = growing_year_start(COMMON_YEAR[scene.latitude_deg >= 0], scene.latitude_deg)
    return (set_in_year(day, start) - start).days


def day_of_common_year(scene: Scene, index: int) -> date:
    """Return the day that stands at a place of the common growing year."""
    start = growing_year_start(COMMON_YEAR[scene.latitude_deg >= 0], scene.latitude_deg)
    return start + timedelta(days=index)


def species_asked(scene: Scene, choice: Choice, candidates: Sequence[str]) -> str:
    """Return the kind of tree that a picture is of: the one chosen, the chosen plant's, else the most planted one.

    ``candidates`` are the kinds that the picture can show, the preferred first among equals; "" where there are none.
    """
    if choice.species:
        return choice.species
    if choice.plant in scene.plants:
        return scene.plants[choice.plant].text("species")
    counts = dict.fromkeys(candidates, 0)
    for plant in scene.plants.values():
        kind = plant.text("species")
        if kind in counts:
            counts[kind] += 1
    planted = [kind for kind in candidates if counts[kind]]
    return max(planted, key=lambda kind: counts[kind]) if planted else ""


def spot_of(scene: Scene, plant: str) -> str:
    """Return where a plant stands today, "" where that is not known."""
    return stand_of(scene, scene.plants[plant], scene.today).spot if plant in scene.plants else ""
