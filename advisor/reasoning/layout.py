"""Where spots lie on a plan: by the direction that was told, else by what is known of how they lie.

Lengths are units of the drawing, y runs south. The house stands at the middle; no two spots overlap.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from advisor.facts import Fact

WIDTH, HEIGHT, GAP = 94.0, 80.0, 10.0
"""Size of a spot's tile and the least space between two."""
REACH = 140.0
"""Where the farthest spot of which a distance is told would stand, before it gives way to others."""
STEP = 8.0
DIRECTIONS = {"N": 0, "NE": 45, "E": 90, "SE": 135, "S": 180, "SW": 225, "W": 270, "NW": 315}
ASTRAY = 4.0
"""How much dearer a place on the wrong side of the house is than one as far off on the right side."""
COLUMNS = ((15, 3), (45, 5))
MOST_COLUMNS = 7
"""Columns for so many spots at most: three are as wide as a phone."""


@dataclass(frozen=True, slots=True)
class Lie:
    """What is known of where a spot lies: its bearing from the house door [°], its distance [m], how it faces.

    ``faces`` is one of DIRECTIONS or ""; ``near`` for one under a roof, which stands near the house.
    """

    name: str
    bearing_deg: float | None = None
    distance_m: float | None = None
    faces: str = ""
    near: bool = False


@dataclass(frozen=True, slots=True)
class Place:
    """The middle of a spot's tile. ``told`` where its direction was told, else it is placed by how it lies."""

    x: float
    y: float
    told: bool

    def overlaps(self, x: float, y: float) -> bool:
        """Return whether a tile at x and y would come nearer than the gap."""
        return abs(self.x - x) < WIDTH + GAP - 1e-6 and abs(self.y - y) < HEIGHT + GAP - 1e-6


@dataclass(frozen=True, slots=True)
class Layout:
    """Where each spot stands, and the box around all of them and the house: left, top, width, height."""

    places: Mapping[str, Place]
    left: float
    top: float
    width: float
    height: float


HOUSE = Place(0.0, 0.0, told=True)


def lie_of(spot: Fact) -> Lie:
    """Return what a spot's row tells of where it lies; the side of a wall goes before the way the ground faces."""
    faces = spot.text("wall_side") or spot.text("aspect")
    return Lie(
        spot.text("name"),
        spot.number("bearing_deg"),
        spot.number("distance_m"),
        faces if faces in DIRECTIONS else "",
        spot.text("under_cover") not in ("", "none"),
    )


def lay_out(lies: Iterable[Lie]) -> Layout:
    """Return where spots stand on a plan; the same spots always give the same plan, in whatever order they come."""
    return _laid_out(tuple(sorted(lies, key=lambda one: one.name)))


@lru_cache(maxsize=64)
def _laid_out(ordered: tuple[Lie, ...]) -> Layout:
    places = _by_bearing([one for one in ordered if one.bearing_deg is not None])
    guessed = [one for one in ordered if one.bearing_deg is None]
    places |= _by_lie(guessed, list(places.values()))
    across = [place.x for place in (HOUSE, *places.values())]
    down = [place.y for place in (HOUSE, *places.values())]
    left, top = min(across) - WIDTH / 2, min(down) - HEIGHT / 2
    return Layout(places, left, top, max(across) + WIDTH / 2 - left, max(down) + HEIGHT / 2 - top)


def _by_bearing(told: Iterable[Lie]) -> dict[str, Place]:
    """Place each spot exactly in its direction, the nearer ones first, and as far out as leaves the others free."""
    told = list(told)
    known = sorted(one.distance_m for one in told if one.distance_m is not None)
    middle = known[len(known) // 2] if known else 1.0
    scale = REACH / known[-1] if known and known[-1] > 0 else 0.0
    places: dict[str, Place] = {}
    for one in sorted(told, key=lambda one: (middle if one.distance_m is None else one.distance_m, one.name)):
        turn = math.radians(one.bearing_deg or 0.0)
        away = scale * (middle if one.distance_m is None else one.distance_m)
        taken = [HOUSE, *places.values()]
        while any(place.overlaps(away * math.sin(turn), -away * math.cos(turn)) for place in taken):
            away += STEP
        places[one.name] = Place(away * math.sin(turn), -away * math.cos(turn), told=True)
    return places


def _by_lie(guessed: Sequence[Lie], taken: Sequence[Place]) -> dict[str, Place]:
    """Place spots in the cells of a grid round the house, those that face somewhere first."""
    count = len(guessed) + len(taken)
    columns = next((wide for most, wide in COLUMNS if count <= most), MOST_COLUMNS)
    if taken:  # a column more than they reach on either side, so that a side that they fill is not closed to others
        columns = max(columns, 3 + 2 * math.ceil(max(abs(one.x) for one in taken) / (WIDTH + GAP)))
    rows = math.ceil((len(guessed) + 4 * len(taken) + 1) / columns) + 1  # a tile between cells takes four of them
    cells = [
        (column, row)
        for column in range(-(columns // 2), columns // 2 + 1)
        for row in range(-rows, rows + 1)
        if not any(one.overlaps(column * (WIDTH + GAP), row * (HEIGHT + GAP)) for one in (HOUSE, *taken))
    ]
    by_side = {side: sorted(cells, key=lambda cell: _cost(cell, side)) for side in {one.faces for one in guessed}}
    used: set[tuple[int, int]] = set()
    places: dict[str, Place] = {}
    for one in sorted(guessed, key=lambda one: (not one.near, not one.faces, one.name)):
        column, row = next(cell for cell in by_side[one.faces] if cell not in used)
        used.add((column, row))
        places[one.name] = Place(column * (WIDTH + GAP), row * (HEIGHT + GAP), told=False)
    return places


def _cost(cell: tuple[int, int], side: str) -> tuple[float, tuple[int, int]]:
    """Return how ill a cell suits a spot on a side of the house; one that faces nowhere only stays near."""
    column, row = cell
    away = math.hypot(column, row)
    if not side:
        return away, cell
    turn = math.radians(DIRECTIONS[side])
    along = (column * math.sin(turn) - row * math.cos(turn)) / away
    return away * (1 + ASTRAY * (1 - along)), cell
