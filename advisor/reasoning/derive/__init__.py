"""Facts worked out from records: only the kinds that a question's rules look at, each with what it rests on."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta
from importlib import import_module
from pkgutil import iter_modules

from advisor.facts import Fact, FactBase
from advisor.reasoning.derive.scene import DERIVATIONS, Records, Scene
from advisor.records.kinds import Kind, Vocabulary

LATEST_OF_EACH = {"inspection": (("scratch", "height"), ("root_ball",), ("gnawed",), ("buds_cut", "buds_dead"))}
"""Kinds of which the latest word on each thing counts: a look at the bark is overtaken by the next look at the bark."""


def derive(scene: Scene, wanted: Iterable[str], kinds: Vocabulary) -> FactBase:
    """Return the facts of the wanted kinds for one question: recorded ones about its subject, and derived ones."""
    facts = FactBase()
    for name in sorted(wanted):
        kind = kinds[name]
        if kind.origin == "derived":
            found: Iterable[Fact] = _derived(scene, kind)
        elif kind.origin == "recorded":
            found = _about_subject(scene, name, kinds)
        else:
            found = ()
        for fact in found:
            facts.add(fact)
    return facts


def derive_each(scene: Scene, plants: Sequence[str], wanted: Iterable[str], kinds: Vocabulary) -> Iterator[Fact]:
    """Yield the facts of derived kinds about each of these plants, plant by plant."""
    asked = [kinds[name] for name in sorted(wanted)]
    for plant in plants:
        of_plant = replace(scene, plant=plant)
        for kind in asked:
            yield from _derived(of_plant, kind)


def _derived(scene: Scene, kind: Kind) -> list[Fact]:
    key = (kind.name, scene.plant, scene.species, scene.sort)
    return scene.remember(("derived", key), lambda: list(DERIVATIONS[kind.derived_by](scene)))


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

__all__ = ["DERIVATIONS", "Records", "Scene", "derive", "derive_each", "unmatched"]
