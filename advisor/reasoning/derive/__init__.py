"""Facts worked out from records: only the kinds that a question's rules look at, each with what it rests on."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import date, timedelta
from functools import partial
from importlib import import_module
from pkgutil import iter_modules

from advisor.fact_base import FactBase
from advisor.facts import Fact
from advisor.reasoning.derive.each import OF_PLANT, handfuls, of_all
from advisor.reasoning.derive.scene import DERIVATIONS, Records, Scene
from advisor.records.kinds import Vocabulary

LATEST_OF_EACH = {"inspection": (("scratch", "height"), ("root_ball",), ("gnawed",), ("buds_cut", "buds_dead"))}
"""Kinds of which the latest word on each thing counts: a look at the bark is overtaken by the next look at the bark."""


def derive(scene: Scene, wanted: Iterable[str], kinds: Vocabulary) -> FactBase:
    """Return the facts of the wanted kinds for one question: recorded ones about its subject, and derived ones."""
    return FactBase.joined(derive_kinds(scene, wanted, kinds))


def derive_kinds(scene: Scene, wanted: Iterable[str], kinds: Vocabulary) -> Iterator[FactBase]:
    """Yield the same kind by kind, each the very base of an earlier question where nothing changed."""
    for name in sorted(wanted):
        kind = kinds[name]
        key = (name, scene.plant, scene.species, scene.sort)
        if kind.origin == "derived":
            yield scene.remember(("facts", key), partial(_derived, scene, kind.derived_by))
        elif kind.origin == "recorded":
            yield scene.remember(("facts", key), partial(_recorded, scene, name, kinds))


def derive_each(scene: Scene, plants: tuple[str, ...], wanted: Iterable[str], kinds: Vocabulary) -> Iterator[FactBase]:
    """Yield the facts of derived kinds about each of these plants, plant by plant, a handful of them at a time."""
    names = tuple(kinds[name].derived_by for name in sorted(wanted))
    names = scene.remember(("names", names), lambda: names)  # the same each time, which is soon compared
    for few in handfuls(plants):
        yield scene.remember(("about these", (names, few)), partial(_about_these, scene, names, few))


def _derived(scene: Scene, name: str) -> FactBase:
    return of_all(scene, name) if name in OF_PLANT and scene.focus is None else FactBase(scene.derived(name))


def _recorded(scene: Scene, name: str, kinds: Vocabulary) -> FactBase:
    return FactBase(_about_subject(scene, name, kinds))


def _about_these(scene: Scene, names: tuple[str, ...], plants: Iterable[str]) -> FactBase:
    return FactBase.joined(
        scene.remember(("about", (names, plant)), partial(_about, scene, names, plant)) for plant in plants
    )


def _about(scene: Scene, names: Iterable[str], plant: str) -> FactBase:
    of_plant = scene.about(plant)
    return FactBase(fact for name in names for fact in of_plant.derived(name))


def _about_subject(scene: Scene, name: str, kinds: Vocabulary) -> list[Fact]:
    """Return a recorded kind's rows as rules may see them: about the plant asked, and of this growing year if dated."""
    kind = kinds[name]
    dated = kind.holds_on and name != "plant"
    rows = scene.told_since(name, scene.year_start) if dated else scene.rows(name)
    if "plant" in kind.fields and scene.plant:
        rows = [row for row in rows if row.text("plant") == scene.plant]
    if name == "plant" and scene.plant:
        rows = [row for row in rows if row.text("name") == scene.plant]
    return _latest_of_each(scene, rows, LATEST_OF_EACH[name]) if name in LATEST_OF_EACH else rows


def _latest_of_each(scene: Scene, rows: list[Fact], things: Iterable[tuple[str, ...]]) -> list[Fact]:
    """Return the rows cut down to what no later row says anew; looks of two days running are one look."""
    last: dict[str, date] = {}
    for row in rows:
        for names in things:
            if names[0] in row.values:
                last |= dict.fromkeys(names, scene.when(row).date())
    kept = []
    for row in rows:
        day = scene.when(row).date()
        told = {name for name in last if name in row.values and day >= last[name] - timedelta(days=1)}
        if told:
            values = {name: value for name, value in row.values.items() if name in told or name not in last}
            kept.append(Fact.of(row.kind, values, row.origin))
    return kept


def unmatched(kinds: Vocabulary) -> list[str]:
    """Return a sentence for each derived kind without a function, and each function without a kind."""
    named: Mapping[str, str] = {kind.derived_by: kind.name for kind in kinds.values() if kind.origin == "derived"}
    missing = [f"kind {kind}: no function {by!r} in advisor/reasoning/derive" for by, kind in named.items()
               if by not in DERIVATIONS]  # fmt: skip
    spare = [f"function {by!r} derives no kind; add rules/kinds/{by}.toml" for by in DERIVATIONS if by not in named]
    return [*missing, *spare]


for _module in iter_modules(__path__):
    import_module(f"{__name__}.{_module.name}")  # each registers what it derives

__all__ = ["DERIVATIONS", "OF_PLANT", "Records", "Scene", "derive", "derive_each", "derive_kinds", "unmatched"]
