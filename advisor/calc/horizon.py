"""What a spot in the garden sees of the sky: a wall at its back, a slope, and houses, trees or hills farther off."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from math import atan, cos, degrees, isfinite, radians, sin, tan

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

LEAST_WIDTH_DEG = 0.01

BARE_LIGHT_SHARE = 0.5
"""Share of the sunbeam that bare branches let through: house judgement. One study of street trees in Gothenburg
(J. Konarska and others, Theoretical and Applied Climatology 117, 2014; from memory, not opened) measured 40 to 52 %
through bare crowns and under 6 % through crowns in leaf, which here let nothing through."""


@dataclass(frozen=True, slots=True, eq=False)
class Directions:
    """Directions in the sky, each also as a vector of length one to east, north and straight up."""

    azimuth_deg: Floats
    elevation_deg: Floats
    east: Floats
    north: Floats
    up: Floats


def directions(elevation_deg: ArrayLike, azimuth_deg: ArrayLike) -> Directions:
    """Return directions given by elevation over the horizon and azimuth clockwise from north."""
    high, turn = np.asarray(elevation_deg, dtype=float), np.asarray(azimuth_deg, dtype=float)
    level = np.cos(np.radians(high))
    return Directions(
        turn, high, level * np.sin(np.radians(turn)), level * np.cos(np.radians(turn)), np.sin(np.radians(high))
    )


def incidence_cosine(toward: Directions, tilt_deg: float, facing_deg: float) -> Floats:
    """Return the cosine of the angle at which light from those directions meets a tilted plane, negative from behind.

    ``tilt_deg`` is 0 for level ground and 90 for a wall, ``facing_deg`` the bearing it looks to. For zenith z and
    azimuth A: cos z cos tilt + sin z sin tilt cos(A - facing), as in J. A. Duffie and W. A. Beckman, "Solar
    Engineering of Thermal Processes" (from memory; checked against pvlib in the tests).
    """
    tilt, facing = radians(tilt_deg), radians(facing_deg)
    across = toward.east * sin(facing) + toward.north * cos(facing)
    return toward.up * cos(tilt) + across * sin(tilt)


def incidence_deg(elevation_deg: float, azimuth_deg: float, tilt_deg: float, facing_deg: float) -> float:
    """Return the angle between a direction in the sky and the normal of a tilted plane. [°]

    >>> round(incidence_deg(53.317, 178.454, tilt_deg=15, facing_deg=180), 2)
    21.69
    """
    cosine = float(incidence_cosine(directions(elevation_deg, azimuth_deg), tilt_deg, facing_deg))
    return degrees(np.arccos(min(max(cosine, -1.0), 1.0)))


@dataclass(frozen=True, slots=True)
class Obstruction:
    """Something that hides the sky between two bearings, up to a height over the horizon.

    Parameters
    ----------
    bearing_from_deg, bearing_to_deg : float
        Its left and right end seen from the spot, clockwise from north; 0 to 360 is all round. [°]
    elevation_deg : float
        How high its top stands over the horizon, as seen from the plant's leaves. [°]
    straight : bool
        The top is level and runs straight, square to the line of sight at the middle bearing, like the front of a
        house: its elevation is ``elevation_deg`` at the middle and lower to both sides. Otherwise it is the same
        between both ends, as for a hill or a tree.
    from_month, to_month : int, optional
        First and last month in which a tree is in leaf; 10 and 4 run over the turn of the year.  Default: always.
    bare_light_share : float
        Share of the beam let through outside those months.  Default: ``BARE_LIGHT_SHARE``.

    Raises
    ------
    ValueError
        For a value out of its range, both bearings alike, a straight front as wide as half the horizon, or one month
        without the other.
    """

    bearing_from_deg: float
    bearing_to_deg: float
    elevation_deg: float
    straight: bool = False
    from_month: int | None = None
    to_month: int | None = None
    bare_light_share: float = BARE_LIGHT_SHARE

    def __post_init__(self) -> None:
        """Refuse what no obstruction can be."""
        for name, value in (("bearing_from_deg", self.bearing_from_deg), ("bearing_to_deg", self.bearing_to_deg)):
            _bearing(name, value)
        if abs(self.bearing_from_deg - self.bearing_to_deg) < LEAST_WIDTH_DEG:
            raise ValueError(f"both bearings are {self.bearing_from_deg}°; for all round give 0 to 360")
        _within("elevation_deg", self.elevation_deg, 0, 90, "°")
        _within("bare_light_share", self.bare_light_share, 0, 1, "")
        if self.straight and self.width_deg >= 180:
            raise ValueError(f"a straight front cannot fill {self.width_deg:g}° of the horizon; it is less than 180")
        if (self.from_month is None) != (self.to_month is None):
            raise ValueError("of the months in leaf one is given without the other")
        for month in (self.from_month, self.to_month):
            if month is not None and month not in range(1, 13):
                raise ValueError(f"month {month} is not between 1 and 12")

    @property
    def width_deg(self) -> float:
        """Return how much of the horizon it fills, clockwise from its first bearing. [°]"""
        return (self.bearing_to_deg - self.bearing_from_deg) % 360 or 360.0

    def in_leaf(self, month: int) -> bool:
        """Return whether it hides the sun wholly in a month; what has no months of leaf always does."""
        if self.from_month is None or self.to_month is None:
            return True
        return (month - self.from_month) % 12 <= (self.to_month - self.from_month) % 12

    def hides(self, toward: Directions) -> NDArray[np.bool_]:
        """Return which directions lie behind it."""
        within = (toward.azimuth_deg - self.bearing_from_deg) % 360 <= self.width_deg
        if not self.straight:
            return within & (toward.elevation_deg < self.elevation_deg)
        middle = radians(self.bearing_from_deg + self.width_deg / 2)
        ahead = toward.east * sin(middle) + toward.north * cos(middle)
        return within & (toward.up < tan(radians(self.elevation_deg)) * ahead)


def obstruction_of_size(
    height_m: float, distance_m: float, bearing_deg: float, width_m: float, *, straight: bool = True
) -> Obstruction:
    """Return the obstruction that a thing of known size makes: elevation atan(height/distance), width by its ends.

    ``height_m`` counts from the plant's leaves, not from the ground. ``distance_m`` is to the near front, taken to
    stand square to ``bearing_deg`` and ``width_m`` wide, half to each side. Leave ``straight`` for a house, a wall or
    a hedge; switch it off for a tree. Months in leaf are added with ``dataclasses.replace``.

    Raises ValueError for a height below nought, or a width or distance that is not above it.

    >>> barn = obstruction_of_size(height_m=7.5, distance_m=12, bearing_deg=112.5, width_m=8)
    >>> round(barn.elevation_deg, 1), round(barn.bearing_from_deg, 1), round(barn.bearing_to_deg, 1)
    (32.0, 94.1, 130.9)
    """
    _bearing("bearing_deg", bearing_deg)
    _above_nought("width_m", width_m)
    elevation = elevation_of_top_deg(height_m, distance_m)
    half = degrees(atan(width_m / 2 / distance_m))
    return Obstruction((bearing_deg - half) % 360, (bearing_deg + half) % 360, elevation, straight)


def elevation_of_top_deg(height_m: float, distance_m: float) -> float:
    """Return how high the top of a thing stands over the horizon, atan(height/distance). [°]

    Raises ValueError for a height below nought, or a distance that is not above it.

    >>> elevation_of_top_deg(10, 10)
    45.0
    """
    if not (isfinite(height_m) and height_m >= 0):
        raise ValueError(f"height_m {height_m} m is below 0")
    _above_nought("distance_m", distance_m)
    return degrees(atan(height_m / distance_m))


@dataclass(frozen=True, slots=True)
class Outlook:
    """What stands around a spot.

    ``wall_facing_deg`` is the bearing that a wall right at the spot looks to (180 for a south wall): it hides the half
    of the sky behind it, as a wall does that is long and tall beside the plant. ``slope_deg`` and ``aspect_deg`` tilt
    the ground, which hides what lies behind it; ``aspect_deg`` is the bearing the ground falls to.

    Raises ValueError for a value out of its range, or a slope without its aspect.
    """

    obstructions: tuple[Obstruction, ...] = ()
    wall_facing_deg: float | None = None
    slope_deg: float = 0.0
    aspect_deg: float | None = None

    def __post_init__(self) -> None:
        """Refuse what no spot can have."""
        if self.wall_facing_deg is not None:
            _bearing("wall_facing_deg", self.wall_facing_deg)
        if self.aspect_deg is not None:
            _bearing("aspect_deg", self.aspect_deg)
        _within("slope_deg", self.slope_deg, 0, 60, "°")
        if self.slope_deg and self.aspect_deg is None:
            raise ValueError(f"a slope of {self.slope_deg}° without the bearing it faces")

    def turned(self, by_deg: float) -> Outlook:
        """Return the same outlook with every bearing read so much farther clockwise."""

        def turn(bearing_deg: float | None) -> float | None:
            return None if bearing_deg is None else (bearing_deg + by_deg) % 360

        things = tuple(
            thing
            if thing.width_deg == 360
            else replace(
                thing,
                bearing_from_deg=(thing.bearing_from_deg + by_deg) % 360,
                bearing_to_deg=(thing.bearing_to_deg + by_deg) % 360,
            )
            for thing in self.obstructions
        )
        return Outlook(things, turn(self.wall_facing_deg), self.slope_deg, turn(self.aspect_deg))

    def raised(self, by_deg: float) -> Outlook:
        """Return the same outlook with the top of every obstruction so much higher, between 0 and 90°."""
        things = tuple(
            replace(thing, elevation_deg=min(max(thing.elevation_deg + by_deg, 0.0), 90.0))
            for thing in self.obstructions
        )
        return replace(self, obstructions=things)

    def steepened(self, by_deg: float) -> Outlook:
        """Return the same outlook with its slope, where there is one, so much steeper, between 0 and 60°."""
        if not self.slope_deg:
            return self
        return replace(self, slope_deg=min(max(self.slope_deg + by_deg, 0.0), 60.0))


def light_share(outlook: Outlook, toward: Directions, month: ArrayLike) -> Floats:
    """Return what share of the light from directions above the horizon reaches a spot: 1, 0, or what bare trees leave.

    ``month`` is one month or one for each direction. Light through two bare trees is lessened by both.
    """
    share = np.ones_like(toward.up)
    if outlook.wall_facing_deg is not None:
        share *= incidence_cosine(toward, 90.0, outlook.wall_facing_deg) > 0
    if outlook.slope_deg and outlook.aspect_deg is not None:
        share *= incidence_cosine(toward, outlook.slope_deg, outlook.aspect_deg) > 0
    for thing in outlook.obstructions:
        hidden = thing.hides(toward)
        if thing.from_month is None:
            share *= ~hidden
        else:
            by_month = np.array([0.0 if thing.in_leaf(n) else thing.bare_light_share for n in range(1, 13)])
            share *= np.where(hidden, by_month[np.asarray(month) - 1], 1.0)
    return share


def sky_share(outlook: Outlook, month: int, tilt_deg: float = 0.0, facing_deg: float = 0.0) -> float:
    """Return the light of an evenly bright sky on a plane at a spot, as a share of that on open level ground.

    >>> round(sky_share(Outlook(wall_facing_deg=180), month=5), 3)
    0.5
    >>> round(sky_share(Outlook((Obstruction(0, 360, 30),)), month=5), 3)  # 1 - sin²(30°)
    0.75
    """

    def leaf(of_month: int) -> list[bool]:
        return [thing.in_leaf(of_month) for thing in outlook.obstructions]

    first_alike = next(n for n in range(1, 13) if leaf(n) == leaf(month))
    return _sky_share(outlook, first_alike, tilt_deg, facing_deg)


@lru_cache(maxsize=256)
def _sky_share(outlook: Outlook, month: int, tilt_deg: float, facing_deg: float) -> float:
    sky = _sky()
    cell = np.cos(np.radians(sky.elevation_deg))
    falls = np.maximum(incidence_cosine(sky, tilt_deg, facing_deg), 0) * cell
    return float((falls * light_share(outlook, sky, month)).sum() / (sky.up * cell).sum())


@lru_cache(maxsize=1)
def _sky() -> Directions:
    """Return the middles of cells of 2° by 2° that cover the sky."""
    high, turn = np.meshgrid(np.arange(1.0, 90.0, 2.0), np.arange(1.0, 360.0, 2.0))
    return directions(high.ravel(), turn.ravel())


def _bearing(name: str, value: float) -> None:
    _within(name, value, 0, 360, "°")


def _within(name: str, value: float, least: float, most: float, unit: str) -> None:
    if not (isfinite(value) and least <= value <= most):
        raise ValueError(f"{name} {value}{unit} is not between {least} and {most}")


def _above_nought(name: str, value: float) -> None:
    if not (isfinite(value) and value > 0):
        raise ValueError(f"{name} {value} m is not above 0")
