"""What is derived of each plant in turn, and by the handful: what is told of one plant leaves the others' alone.

A handful is of so few plants that what rests on them rests on each of them, and not on the kind of a row as a whole. So
after one more row of a plant one handful is put together again, of the very facts of before but for that plant's.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import partial

from advisor.fact_base import FactBase
from advisor.facts import Fact
from advisor.reasoning.derive.scene import DERIVATIONS, Scene
from advisor.reasoning.derive.store import FEW_NAMES

OfPlant = Callable[[Scene, str], Fact | Iterable[Fact] | None]
OF_PLANT: dict[str, OfPlant] = {}
"""Every function that derives facts of one plant, by the name of what it derives; it looks at no more of the scene than
its records and its day."""


def each_plant(function: OfPlant) -> OfPlant:
    """Register a function under its name as deriving facts of the plant asked about, or of each plant."""
    name = function.__name__
    OF_PLANT[name] = function
    DERIVATIONS[name] = partial(_of_asked, name)
    return function


def _of_asked(name: str, scene: Scene) -> Iterable[Fact]:
    for plant in [scene.plant] if scene.focus else scene.plants:
        yield from of_plant(scene, name, plant)


def of_plant(scene: Scene, name: str, plant: str) -> tuple[Fact, ...]:
    """Return what a function of ``OF_PLANT`` derives of one plant."""
    return scene.remember((name, plant), partial(_made_of, scene, name, plant))


def _made_of(scene: Scene, name: str, plant: str) -> tuple[Fact, ...]:
    found = OF_PLANT[name](scene, plant)
    return () if found is None else (found,) if isinstance(found, Fact) else tuple(found)


def of_all(scene: Scene, name: str) -> FactBase:
    """Return what a function of ``OF_PLANT`` derives of all plants."""
    each = scene.remember(("rows", "handfuls"), lambda: tuple(handfuls(tuple(scene.plants))))
    return FactBase.joined(
        scene.remember(("handful of", (name, number)), partial(_of_handful, scene, name, plants))
        for number, plants in enumerate(each)
    )


def handfuls(plants: tuple[str, ...]) -> list[tuple[str, ...]]:
    """Return plants in their order, a few at a time."""
    return [plants[first : first + FEW_NAMES] for first in range(0, len(plants), FEW_NAMES)]


def _of_handful(scene: Scene, name: str, plants: Iterable[str]) -> FactBase:
    return FactBase(fact for plant in plants for fact in of_plant(scene, name, plant))
