"""The plan as a drawing: tiles, walls, roofs and marks with their places, for the template to write as SVG."""

from __future__ import annotations

import unicodedata
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import quote

from advisor.facts import Fact
from advisor.language.render import Speech, counted, listed
from advisor.reasoning.layout import DIRECTIONS, HEIGHT, WIDTH, Place, lay_out, lie_of

FONT = 13
MARGIN, TOP = 6, 34
"""Space about the drawing, and above it for the mark of north."""
MARKS, PITCH = 6, 14
"""Plants drawn one by one at a spot, and how far apart; of more the number is written beside each mark."""
CONDITIONS = ("asleep", "awake", "in bloom", "not looked at")
WIDE, NARROW = "mwMW@%&", "ijlftrI.,:;'|!()[] "
SLOPING_DEG = 2.0
"""A slope from which on an arrow says which way it falls (house judgement)."""
ROOFS = {"shelter": "under a shelter", "unheated glass": "under unheated glass", "heated glass": "under heated glass"}


@dataclass(frozen=True, slots=True)
class Mark:
    """A plant's mark, or that of several: where it stands, what it shows, and how many where they are counted."""

    x: float
    condition: str
    count: str = ""


@dataclass(frozen=True, slots=True)
class Tile:
    """One spot as it is drawn, ``x`` and ``y`` its middle; ``says`` tells the same in words."""

    name: str
    link: str
    says: str
    x: float
    y: float
    told: bool
    lines: tuple[tuple[float, str], ...]
    marks: tuple[Mark, ...]
    roof: str
    walls: tuple[str, ...]
    slope_deg: float | None
    low: bool


@dataclass(frozen=True, slots=True)
class Plan:
    """The whole drawing: its view box and its tiles; ``guessed`` and ``told`` count how the spots were placed."""

    left: float
    top: float
    width: float
    height: float
    tiles: tuple[Tile, ...]
    told: int
    guessed: int


def spot_link(name: str) -> str:
    return f"/garden/spot/{quote(name, safe='')}"


def plant_link(name: str) -> str:
    return f"/garden/plant/{quote(name, safe='')}"


def plan_of(spots: Sequence[Fact], plants: Sequence[Mapping[str, Any]], speech: Speech) -> Plan:
    """Return the plan of a garden: its spots' rows, and its plants as they are now (``state.Now.plants``)."""
    layout = lay_out(lie_of(spot) for spot in spots)
    there: dict[str, list[str]] = {}
    for plant in plants:
        there.setdefault(str(plant["spot"]), []).append(str(plant["condition"]))
    tiles = tuple(
        _tile(spot, layout.places[spot.text("name")], there.get(spot.text("name"), []), speech) for spot in spots
    )
    told = sum(place.told for place in layout.places.values())
    return Plan(
        round(layout.left - MARGIN), round(layout.top - TOP), round(layout.width + 2 * MARGIN),
        round(layout.height + MARGIN + TOP), tiles, told, len(tiles) - told,
    )  # fmt: skip


def _tile(spot: Fact, place: Place, conditions: Sequence[str], speech: Speech) -> Tile:
    name = spot.text("name")
    wall = spot.text("wall_side")
    falls = DIRECTIONS.get(spot.text("aspect")) if (spot.number("slope_deg") or 0.0) >= SLOPING_DEG else None
    return Tile(
        name,
        spot_link(name),
        described(spot, conditions, place.told, speech),
        round(place.x, 1),
        round(place.y, 1),
        place.told,
        _lines(name),
        _marks(conditions),
        spot.text("under_cover") if spot.text("under_cover") in ROOFS else "",
        _walls(wall),
        falls,
        spot.get("low_lying") is True,
    )


def described(spot: Fact, conditions: Sequence[str], told: bool, speech: Speech) -> str:
    """Return in words what a spot's tile shows."""
    parts = [spot.text("name")]
    under = ROOFS.get(spot.text("under_cover"))
    parts += [under] if under else []
    parts += [f"on the {spot.text('wall_side')} side of a wall"] if spot.text("wall_side") else []
    if spot.text("aspect") in DIRECTIONS and (spot.number("slope_deg") or 0.0) >= SLOPING_DEG:
        parts.append(f"falls to the {spot.text('aspect')}")
    parts += ["cold air gathers there"] if spot.get("low_lying") is True else []
    seen = Counter(conditions)
    plants = listed([f"{seen[one]} {one}" for one in CONDITIONS if seen[one]])
    parts.append(f"{counted(len(conditions), 'plant')}: {plants}" if conditions else "no plants")
    bearing = spot.number("bearing_deg")
    parts.append(f"placed at {bearing:.0f} degrees from the house door" if told and bearing is not None
                 else "placed by how it lies")  # fmt: skip
    return "; ".join(parts)


def _walls(side: str) -> tuple[str, ...]:
    """Return the edges of a tile on which its wall stands: across from the side of the wall that the spot is on."""
    across = {"N": "S", "S": "N", "E": "W", "W": "E"}
    return tuple(across[letter] for letter in side) if side in DIRECTIONS else ()


def _marks(conditions: Sequence[str]) -> tuple[Mark, ...]:
    ordered = sorted(conditions, key=CONDITIONS.index)
    if len(ordered) <= MARKS:
        first = -PITCH * (len(ordered) - 1) / 2
        return tuple(Mark(first + n * PITCH, one) for n, one in enumerate(ordered))
    seen = Counter(ordered)
    kinds = [one for one in CONDITIONS if seen[one]]
    room = WIDTH / len(kinds)
    return tuple(
        Mark(round((n + 0.5) * room - WIDTH / 2 - 8, 1), one, str(seen[one]) if seen[one] < 1000 else "999+")
        for n, one in enumerate(kinds)
    )


# ---- names that fit


def width_em(text: str) -> float:
    """Return about how wide a text is in a plain typeface, rather too wide than too narrow. [em]"""
    return sum(map(_letter_em, text))


def _letter_em(letter: str) -> float:
    if unicodedata.combining(letter):
        return 0.0
    if letter in NARROW:
        return 0.4
    if letter in WIDE or unicodedata.east_asian_width(letter) in "WF":
        return 1.0
    if not letter.isascii() and not letter.isalpha():  # signs and pictures, of which nothing is known
        return 1.0
    return 0.72 if letter.isupper() else 0.6


def _lines(name: str) -> tuple[tuple[float, str], ...]:
    """Return a name on a line or two, each with its height in the tile; what does not fit ends in dots."""
    room = (WIDTH - 6) / FONT
    words, lines = name.split() or [name], [""]
    for word in words:
        joined = f"{lines[-1]} {word}".strip()
        if width_em(joined) <= room or not lines[-1]:
            lines[-1] = joined
        else:
            lines.append(word)
    if len(lines) == 1 and width_em(lines[0]) > room:  # one long word goes over two lines
        cut = len(_fitting(lines[0], room))
        lines = [lines[0][:cut], lines[0][cut:]]
    if len(lines) > 2:
        lines = [lines[0], " ".join(lines[1:])]
    shown = [line if width_em(line) <= room else _fitting(line, room - 1.0) + "…" for line in lines]
    heights = (-10.0,) if len(shown) == 1 else (-16.0, -2.0)
    return tuple(zip(heights, shown, strict=True))


def _fitting(text: str, room: float) -> str:
    while width_em(text) > room:
        text = text[:-1]
    return text


TILE = {"width": WIDTH, "height": HEIGHT, "left": -WIDTH / 2, "top": -HEIGHT / 2}
