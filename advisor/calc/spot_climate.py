"""How a spot's nights and days differ from the station's: offsets with their range, their origin, what settles them.

Two offsets describe a spot: how much colder its calm clear nights are, and how much warmer its air is at the buds on
sunny days of spring. Both are at their full size on clear days only, and shrink to nothing under cloud.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, isfinite

import numpy as np
from numpy.typing import ArrayLike, NDArray

from advisor.calc.cold_spots import CLEAR_RANGE_K, SpotOffset

CLOUDY_RANGE_K = 4.0
"""Days whose range is no wider have no sun or no still night to speak of (house judgement). Between it and
``cold_spots.CLEAR_RANGE_K`` an offset grows in proportion. [K]"""
ENDS_SD = 2.0
"""Standard deviations at which the ends of a range are read, as published requirements are."""
LEAST_SUN_H = 6.0
"""Hours of sun below which a wall is no sunny wall and a bed lies in part shade (house judgement). [h]"""

Range = tuple[float, float, float]
"""Low, middle and high. [K]"""

NIGHTS_LOW_LYING: Range = (1.0, 2.5, 5.0)
NIGHTS_FOOT: Range = (0.0, 1.0, 3.0)
NIGHTS_SLOPE: Range = (-2.0, -0.5, 0.5)
NIGHTS_TOP: Range = (-1.5, 0.0, 1.0)
NIGHTS_LEVEL: Range = (-1.0, 0.0, 1.0)
NIGHTS_UNTOLD: Range = (-1.5, 0.0, 3.0)
NIGHTS_WALL: Range = (-1.5, -0.5, 0.5)
NIGHTS_GLASS: Range = (-3.0, -1.0, 0.5)
DAYS_WALL: Range = (1.0, 2.5, 5.0)
DAYS_SHADED_WALL: Range = (0.0, 1.0, 3.0)
DAYS_COOL: Range = (-3.0, -1.5, 0.0)
DAYS_COOL_AND_SHADED: Range = (-3.5, -2.0, -0.5)
DAYS_SHADED: Range = (-2.5, -1.0, 0.0)
DAYS_OPEN: Range = (-0.5, 0.0, 0.5)
DAYS_UNTOLD: Range = (-1.5, 0.0, 1.5)
DAYS_GLASS: Range = (2.0, 5.0, 9.0)
"""What a spot's lie is taken to do where nobody measured: how much colder calm clear nights are, how much warmer sunny
days. House judgement throughout, with ranges meant to be wide. Their order and sign follow what was read: low ground
is the coldest on still nights, by up to 15 K below a place 70 m higher, open slopes above it are the mildest, and a
hill's top is colder than its side (Young, frost seasons 1918-20, read in an abstract); walls to the sun bring bloom
forward and faces turned from it hold it back (an association's page on sites, read in excerpt); a house of film brought
cherry bloom about eleven days forward, and single nights under covers were colder than outside (an abstract and an
excerpt). [K]"""


@dataclass(frozen=True, slots=True)
class Offset:
    """One offset with its range, low and high read as ±2 standard deviations; ``origin`` says where it is from.

    ``pinned_by`` says in words which reading would pin it down, "" where it is measured already. Raises ValueError for
    a range that is not one. [K]
    """

    low_k: float
    middle_k: float
    high_k: float
    origin: str
    measured: bool = False
    pinned_by: str = ""

    def __post_init__(self) -> None:
        ends = (self.low_k, self.middle_k, self.high_k)
        if not (all(map(isfinite, ends)) and self.low_k <= self.middle_k <= self.high_k):
            raise ValueError(f"offset {ends}: wanted low, middle and high, each a number and not above the next")

    @property
    def range_k(self) -> Range:
        return (self.low_k, self.middle_k, self.high_k)

    def at(self, deviates: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the offset at so many standard deviations from the middle, never outside the range. [K]

        Each side of the middle has a scale of its own, so that a lopsided range stays so.

        >>> Offset(0.0, 1.0, 3.0, "house judgement").at(np.array([-2.0, -1.0, 0.0, 1.0, 5.0])).tolist()
        [0.0, 0.5, 1.0, 2.0, 3.0]
        """
        share = np.clip(deviates, -ENDS_SD, ENDS_SD) / ENDS_SD
        below, above = self.middle_k - self.low_k, self.high_k - self.middle_k
        found: NDArray[np.float64] = self.middle_k + share * np.where(share < 0, below, above)
        return found


@dataclass(frozen=True, slots=True)
class Lie:
    """What is told of a spot; None and "" stand for what nobody told.

    ``cool_facing`` is whether it faces away from the sun, ``warm_wall`` whether a wall faces the sun behind it.
    ``sun_h`` are hours of sun on a clear day, in spring where that is known. ``nights`` and ``days`` are offsets
    measured against the station: of minima on calm clear nights, and of maxima on sunny days of spring, both as how
    much *colder* the spot was.
    """

    low_lying: bool | None = None
    slope_part: str = ""
    warm_wall: bool = False
    cool_facing: bool | None = None
    sun_h: float | None = None
    glass: bool = False
    nights: SpotOffset | None = None
    days: SpotOffset | None = None


@dataclass(frozen=True, slots=True)
class SpotClimate:
    """How much colder a spot's clear nights are than the station's, and how much warmer its sunny days. [K]"""

    colder: Offset
    warmer: Offset

    @property
    def key(self) -> tuple[Range, Range]:
        """What a replay depends on; two spots that are alike share it."""
        return (self.colder.range_k, self.warmer.range_k)


LIKE_THE_STATION = SpotClimate(Offset(0.0, 0.0, 0.0, "the station itself"), Offset(0.0, 0.0, 0.0, "the station itself"))


def spot_climate(lie: Lie) -> SpotClimate:
    """Return a spot's climate beside the station's, from what was measured or, failing that, from how it lies.

    Parameters
    ----------
    lie : Lie
        What is told of the spot.

    Returns
    -------
    SpotClimate
        Offsets with their ranges; how a wall or glass changes a lie is added, the widths by the root of their squares.

    Notes
    -----
    A measured offset's range is the interval of its median, not of single nights. A spot measured for nights only has
    its days judged, and the other way round. Where the station itself stands is not known: "level ground" is taken to
    be like it.

    Examples
    --------
    >>> found = spot_climate(Lie(low_lying=True))
    >>> found.colder.range_k, found.colder.origin
    ((1.0, 2.5, 5.0), 'house judgement: cold air gathers there')
    >>> spot_climate(Lie(low_lying=False, warm_wall=True, sun_h=9.0)).warmer.range_k
    (1.0, 2.5, 5.0)
    """
    return SpotClimate(_nights(lie), _days(lie))


def _nights(lie: Lie) -> Offset:
    if lie.nights is not None:
        found = lie.nights
        origin = f"measured here over {found.nights} {found.of_nights}"
        return Offset(found.low_k, found.colder_by_k, found.high_k, origin, measured=True)
    if lie.low_lying:
        base, why = NIGHTS_LOW_LYING, "cold air gathers there"
    elif lie.slope_part in ("middle", "upper"):
        base, why = NIGHTS_SLOPE, f"{lie.slope_part} part of a slope"
    elif lie.slope_part == "foot" and lie.low_lying is None:
        base, why = NIGHTS_FOOT, "foot of a slope"
    elif lie.slope_part == "top":
        base, why = NIGHTS_TOP, "top of a slope"
    elif lie.low_lying is False:
        base, why = NIGHTS_LEVEL, "no cold air gathers there"
    else:
        base, why = NIGHTS_UNTOLD, "nobody told how it lies"
    if lie.glass:
        base, why = _joined(base, NIGHTS_GLASS), f"{why}, under unheated glass"
    elif lie.warm_wall:
        base, why = _joined(base, NIGHTS_WALL), f"{why}, by a sunny wall"
    return Offset(*base, f"house judgement: {why}", pinned_by="lows of five calm clear nights at the spot")


def _days(lie: Lie) -> Offset:
    if lie.days is not None:
        found = lie.days
        origin = f"measured here over {found.nights} {found.of_nights}"
        return Offset(-found.high_k, -found.colder_by_k, -found.low_k, origin, measured=True)
    shaded = lie.sun_h is not None and lie.sun_h < LEAST_SUN_H
    if lie.glass:
        base, why = DAYS_GLASS, "under unheated glass"
    elif lie.warm_wall:
        base, why = (DAYS_SHADED_WALL, "a wall with little sun") if shaded else (DAYS_WALL, "a sunny wall")
    elif lie.cool_facing:
        base = DAYS_COOL_AND_SHADED if shaded else DAYS_COOL
        why = "turned from the sun" + (", with little of it" if shaded else "")
    elif shaded:
        base, why = DAYS_SHADED, "little sun"
    elif lie.cool_facing is None and lie.sun_h is None:
        base, why = DAYS_UNTOLD, "nobody told how much sun it has"
    else:
        base, why = DAYS_OPEN, "open to the sun"
    return Offset(*base, f"house judgement: {why}", pinned_by="highs of five sunny spring days at the spot")


def _joined(one: Range, other: Range) -> Range:
    middle = one[1] + other[1]
    return (middle - hypot(one[1] - one[0], other[1] - other[0]), middle,
            middle + hypot(one[2] - one[1], other[2] - other[1]))  # fmt: skip


def clearness(range_k: ArrayLike) -> NDArray[np.float64]:
    """Return how much of an offset shows on days of so wide a range from minimum to maximum, 0 to 1.

    How clear and calm it was is not in daily extremes, so the range stands for it: nothing of the offset up to 4 K,
    all of it from 10 K, in proportion between (house judgement; 10 K is the range from which ``cold_spots`` takes a
    night for clear). By the sea clear nights have narrow ranges, and offsets come out too small.

    >>> clearness([3.0, 7.0, 15.0]).tolist()
    [0.0, 0.5, 1.0]
    """
    wide = (np.asarray(range_k, dtype=np.float64) - CLOUDY_RANGE_K) / (CLEAR_RANGE_K - CLOUDY_RANGE_K)
    clear: NDArray[np.float64] = np.clip(wide, 0.0, 1.0)
    return clear
