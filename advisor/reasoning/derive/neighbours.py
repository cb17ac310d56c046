"""What grows beside the place that a tree is sought for: room for its crown, and others of its kind for its flowers."""

from __future__ import annotations

from collections.abc import Iterable

from advisor.facts import Fact
from advisor.reasoning.derive.plants import stand_of
from advisor.reasoning.derive.scene import Scene, derivation, derived

CLOSEST_SHARE = 0.8
"""Neighbours may stand as near as this share of the sum of their half spreads: grown crowns then touch and are kept
apart by the saw (house judgement)."""
DWARF = "dwarf"
GLASS = ("unheated glass", "heated glass")


@derivation
def crown_room(scene: Scene) -> Iterable[Fact]:
    """Derive for each spot what room the crown of the sought kind would find beside the trees that stand there.

    A spot is taken as one row. A tree for which a place is sought anew takes no room from itself. Trees in pots can be
    carried away and are not counted; a roofed shelter is no place to plant and is left out.
    """
    species = scene.lore.species.get(scene.species)
    if species is None:
        return
    needs_m = CLOSEST_SHARE * species.mature_spread_m
    dwarf_m = species.spread_on_m.get(DWARF)
    for name, row in scene.spots.items():
        if row.text("under_cover") == "shelter":
            continue
        trees = [tree for tree in trees_at(scene, name) if tree.text("name") != scene.plant]
        room_m, wall_m = row.number("room_m"), row.number("wall_distance_m")
        left_m = None
        if room_m is not None:
            left_m = max(room_m - CLOSEST_SHARE * sum(_spread_m(scene, tree) for tree in trees), 0.0)
        yield derived(
            "crown_room",
            "crown_room",
            (row, *trees),
            spot=name,
            species=species.id,
            open_soil=row.get("plantable") is not False,
            trees=len(trees),
            spread_m=species.mature_spread_m,
            needs_m=round(needs_m, 1),
            room_told=room_m is not None,
            room_m=room_m,
            left_m=None if left_m is None else round(left_m, 1),
            short_m=None if left_m is None else round(needs_m - left_m, 2),
            dwarf_fits=None if left_m is None else dwarf_m is not None and CLOSEST_SHARE * dwarf_m <= left_m,
            wall_distance_m=wall_m,
            wall_short_m=None if wall_m is None else round(species.mature_spread_m / 2 - wall_m, 2),
        )


def trees_at(scene: Scene, spot: str) -> list[Fact]:
    """Return the rows of the trees that stand in the ground at a spot today; a limb is part of its tree."""
    return scene.remember(("trees", "by spot"), lambda: _trees(scene)).get(spot, [])


def _trees(scene: Scene) -> dict[str, list[Fact]]:
    found: dict[str, list[Fact]] = {}
    for plant in scene.plants.values():
        stand, planted = stand_of(scene, plant, scene.today), plant.day("planted")
        grown = stand.growing != "pot" and not (planted and planted > scene.today)
        if grown and plant.text("grafted_on") not in scene.plants:
            found.setdefault(stand.spot, []).append(plant)
    return found


def _spread_m(scene: Scene, tree: Fact) -> float:
    species = scene.lore_of(tree)
    return species.spread_m(tree.text("rootstock")) if species else 0.0


@derivation
def partners(scene: Scene) -> Iterable[Fact]:
    """Derive how many others of the sought kind the garden has, limbs counted; those under glass flower apart."""
    if scene.species not in scene.lore.species:
        return
    found = _partners(scene)
    yield derived(
        "partners",
        "partners",
        tuple(found),
        species=scene.species,
        trees=len(found),
        plant=found[0].text("name") if found else None,
    )


@derivation
def partner_near(scene: Scene) -> Iterable[Fact]:
    """Derive at which spots one of the sought kind stands in the ground already."""
    first: dict[str, Fact] = {}
    for plant in _partners(scene):
        stand = stand_of(scene, plant, scene.today)
        if stand.spot and stand.growing == "ground":
            first.setdefault(stand.spot, plant)
    for spot, plant in first.items():
        yield derived(
            "partner_near", "partner_near", (plant, scene.spots[spot]) if spot in scene.spots else (plant,),
            spot=spot, species=scene.species, plant=plant.text("name"),
        )  # fmt: skip


def _partners(scene: Scene) -> list[Fact]:
    return [
        plant
        for plant in scene.plants.values()
        if plant.text("species") == scene.species
        and plant.text("name") != scene.plant
        and stand_of(scene, plant, scene.today).under_cover not in GLASS
    ]
