"""Limbs grafted to one tree, beside each other; a first season in place; what grows again after dieback."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from advisor.calc.calendar import springs_since
from advisor.facts import Fact
from advisor.reasoning.derive.each import each_plant
from advisor.reasoning.derive.plants import stand_of, trunk_of
from advisor.reasoning.derive.scene import Scene, derived

COMPARED_DAYS = 7
"""Looks at two limbs that lie further apart than this do not compare, for shoots grow on meanwhile; a limb that was
pinched stands still, and its last look holds (house judgement)."""
MEASURES = (("length", "shoot_cm"), ("leaves", "leaves"))
"""What limbs are compared by: length where each was measured, else full leaves."""
OWN_ROOTS = re.compile(r"\bown\b|\bnone\b|\bungrafted\b|\bcuttings?\b", re.IGNORECASE)


def this_year(scene: Scene, kind: str, plant: str) -> list[Fact]:
    """Return a plant's rows of a dated kind in this growing year, oldest first."""
    return scene.of_plant_since(kind, plant, scene.year_start)


def pinched_days(scene: Scene, plant: str) -> list[tuple[date, Fact]]:
    """Return the days of this growing year on which a plant was pinched, oldest first."""
    rows = [row for row in this_year(scene, "work", plant) if row.text("what") == "pinched"]
    return [(row.day("on") or scene.today, row) for row in rows]


# ---- limbs beside each other


@dataclass(frozen=True)
class Best:
    """The best shoot of a limb at its last looks: figures by measure, the newest day, and whether it stands still."""

    figures: dict[str, float]
    on: date
    held: bool
    rows: tuple[Fact, ...]


def limbs_of(scene: Scene, plant: Fact) -> list[Fact]:
    """Return the tree that a plant is part of, with the limbs grafted to it; those that died this year left out."""
    trunk = trunk_of(scene, plant) or plant
    limbs = scene.remember(("limbs", "all"), lambda: _limbs(scene)).get(trunk.text("name"), ())
    return [one for one in (trunk, *limbs) if not _died(scene, one.text("name"))]


def _limbs(scene: Scene) -> dict[str, list[Fact]]:
    """Return the limbs of each tree."""
    found: dict[str, list[Fact]] = {}
    for plant in scene.plants.values():
        trunk = trunk_of(scene, plant)
        if trunk is not None:
            found.setdefault(trunk.text("name"), []).append(plant)
    return found


def _died(scene: Scene, plant: str) -> bool:
    if any(row.text("extent") == "killed" for row in this_year(scene, "harm", plant)):
        return True
    barks = [row for row in this_year(scene, "inspection", plant) if row.text("scratch")]
    return bool(barks) and (barks[-1].text("scratch"), barks[-1].text("height")) == ("brown", "all")


def best_shoot(scene: Scene, plant: str) -> Best | None:
    """Return a limb's best shoot of this year, None where nobody looked; side shoots after a pinching are left out."""
    rows = [row for row in this_year(scene, "growth", plant) if row.get("side_shoot") is not True]
    if not rows:
        return None
    on = rows[-1].day("on") or scene.today
    rows = [row for row in rows if on - (row.day("on") or on) <= timedelta(days=COMPARED_DAYS)]
    figures = {}
    for measure, field in MEASURES:
        told = [value for row in rows if (value := row.number(field)) is not None]
        if told:
            figures[measure] = max(told)
    held = [row for day, row in pinched_days(scene, plant) if day >= on]
    return Best(figures, on, bool(held), (*rows, *held))


@each_plant
def limb_strength(scene: Scene, name: str) -> Iterable[Fact]:
    """Derive for each plant with shoots looked at this year how its best shoot stands to those of its tree's limbs."""
    own = best_shoot(scene, name)
    if own is None:
        return
    limbs = limbs_of(scene, scene.plants[name])
    named = {one.text("name"): best_shoot(scene, one.text("name")) for one in limbs}
    looked = {key: best for key, best in named.items() if best is not None}
    newest = max(best.on for best in (own, *looked.values()))
    near = {key: best for key, best in looked.items() if best.held or newest - best.on <= timedelta(days=COMPARED_DAYS)}
    measure = next((one for one, _ in MEASURES if len(near) > 1 and all(one in b.figures for b in near.values())), "")
    sizes = {key: best.figures[measure] for key, best in near.items()} if measure else {}
    strongest = max(sizes, key=lambda key: (sizes[key], key), default="")
    weakest = min(sizes, key=lambda key: (sizes[key], key), default="")
    compared = name in sizes and sizes[strongest] > 0
    alone = len(limbs) < 2
    yield derived(
        "limb_strength",
        "limb_strength",
        (scene.plants[name], *(row for best in (near or {name: own}).values() for row in best.rows)),
        plant=name,
        tree=(trunk_of(scene, scene.plants[name]) or scene.plants[name]).text("name"),
        limbs=max(1, len(limbs)),
        of_strongest_share=round(sizes[name] / sizes[strongest], 2) if compared else 1.0 if alone else None,
        leads=name == strongest if compared else None,
        strongest=strongest if compared else None,
        weakest=weakest if compared else None,
        weakest_share=round(sizes[weakest] / sizes[strongest], 2) if compared else None,
        by=measure if compared else None,
        on=own.on,
        age_days=(scene.today - own.on).days,
    )


# ---- the first season in place


@each_plant
def first_season(scene: Scene, name: str) -> Iterable[Fact]:
    """Derive which plants stand in their first season since planting, grafting or a move in the ground.

    Potting on leaves the roots as they are and does not count; a limb is as new as its graft or its tree.
    """
    plant = scene.plants[name]
    trunk = trunk_of(scene, plant)
    settings = [one for part in (plant, trunk) if part for one in _settings(scene, part)]
    last = max(settings, key=lambda entry: entry[0], default=None)
    if last and springs_since(last[0], scene.today, scene.latitude_deg) <= 1:
        yield derived(
            "first_season", "first_season", (plant, last[2]), plant=name, on=last[0], what=last[1],
            age_days=(scene.today - last[0]).days,
        )  # fmt: skip


def _settings(scene: Scene, plant: Fact) -> list[tuple[date, str, Fact]]:
    found = []
    planted = plant.day("planted")
    if planted and planted <= scene.today:
        found.append((planted, "grafted" if plant.text("grafted_on") else "planted", plant))
    if stand_of(scene, plant, scene.today).growing == "ground":
        moves = scene.of_plant("move", plant.text("name"))
        found += [(day, "moved", row) for row in moves if (day := row.day("on"))]
    return found


# ---- after dieback


def union_of(plant: Fact) -> str:
    """Return whether a plant stands on its own roots or on a graft, as far as it was told."""
    stock = plant.text("rootstock")
    if plant.text("grafted_on"):
        return "grafted"
    return "not told" if not stock else "own roots" if OWN_ROOTS.search(stock) else "grafted"


@each_plant
def dieback(scene: Scene, name: str) -> Iterable[Fact]:
    """Derive which plants lost most or all of their top this growing year, and what stands below their graft."""
    plant = scene.plants[name]
    lost = _lost(scene, name)
    if lost is None:
        return
    what, row = lost
    trunk = trunk_of(scene, plant)
    union = union_of(plant)
    stock = plant.text("rootstock") or "its rootstock"
    yield derived(
        "dieback",
        "dieback",
        (plant, row),
        plant=name,
        on=row.day("on"),
        lost=what,
        union=union,
        below=None if union != "grafted" else trunk.text("name") if trunk else stock,
    )


def _lost(scene: Scene, plant: str) -> tuple[str, Fact] | None:
    """Return how much of a top was lost, by the last word on it: a look at the bark counts over an earlier harm."""
    words: list[tuple[date, str, Fact]] = []
    for row in this_year(scene, "harm", plant):
        extent = {"most": "most of its top", "killed": "all of its top"}.get(row.text("extent"), "")
        words += [(row.day("on") or scene.today, extent, row)] if extent else []
    for row in this_year(scene, "inspection", plant):
        if row.text("scratch"):
            dead = row.text("scratch") == "brown" and row.text("height") in ("base", "all")
            alive = row.text("scratch") == "green" and row.text("height") != "base"
            words += [(row.day("on") or scene.today, "all of its top" if dead else "", row)] if dead or alive else []
    lost = max(words, key=lambda entry: entry[0], default=None)
    return (lost[1], lost[2]) if lost and lost[1] else None


@each_plant
def low_shoots(scene: Scene, name: str) -> Iterable[Fact]:
    """Derive where the low shoots of a plant were last seen to start, and whether anything was cut since."""
    seen: Sequence[Fact] = [row for row in this_year(scene, "inspection", name) if row.text("shoots_from")]
    if not seen:
        return
    row = seen[-1]
    on = row.day("on") or scene.today
    cut = [
        work
        for work in this_year(scene, "work", name)
        if work.text("what") in ("pruned", "other") and (work.day("on") or on) >= on
    ]
    yield derived(
        "low_shoots", "low_shoots", (scene.plants[name], row, *cut), plant=name, on=on,
        age_days=(scene.today - on).days, start=row.text("shoots_from"), cleared=bool(cut),
    )  # fmt: skip
