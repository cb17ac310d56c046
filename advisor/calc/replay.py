"""A kind of tree put through a garden's own weather years at a spot: its bloom, what frost does to it, its fruit.

Each recorded year is replayed many times over the ranges of what the kind needs and of how the spot differs from the
station, by the same draws for every spot and kind, so that two of them are compared like with like.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from advisor.calc.chill_then_heat import Season
from advisor.calc.distributions import normal_quantile
from advisor.calc.freeze_dates import MOST_MISSING
from advisor.calc.kind_course import (
    FIRST_FLOWER,
    FIRST_SWELLING,
    FRUIT_SET,
    FULL_BLOOM,
    HEAT_SHARES,
    Course,
    Tender,
    killed_share,
)
from advisor.calc.replay_years import REPLAYS, Array, Between, KeptReplays, ReplayYear, between_nodes
from advisor.calc.spot_climate import ENDS_SD, Offset, Range, SpotClimate

DRAWS, SEED = 64, 20261125
CHILL_NEED, HEAT_NEED, NIGHTS, DAYS, STAGES, RIPE = range(6)
"""What each row of the draws stands for."""

Indices = NDArray[np.int64]


@lru_cache(maxsize=1)
def deviates() -> Array:
    """Return the draws: six rows of standard normal deviates, seeded, each row evenly spread over its distribution."""
    chance = np.random.default_rng(SEED)
    rows = [normal_quantile((chance.permutation(DRAWS) + 0.5) / DRAWS) for _ in range(6)]
    drawn: Array = np.array(rows)
    drawn.flags.writeable = False
    return drawn


def _drawn(low: float, high: float, which: int) -> Array:
    """Return a range's values by draw, its ends read as ±2 standard deviations and never passed."""
    share = np.clip(deviates()[which], -ENDS_SD, ENDS_SD) / ENDS_SD
    values: Array = (low + high) / 2 + share * (high - low) / 2
    return values


@lru_cache(maxsize=256)
def _spot_draws(colder_k: Range, warmer_k: Range) -> tuple[Array, Between]:
    """Return how much colder the spot's nights are by draw, and where its draws lie between the nodes of heat."""
    colder = Offset(*colder_k, "").at(deviates()[NIGHTS])
    return colder, between_nodes(colder, Offset(*warmer_k, "").at(deviates()[DAYS]))


@lru_cache(maxsize=64)
def heat_shares(codes: tuple[float, ...]) -> Array:
    """Return the share of the heat to first flower at which each code is reached, shape (draws, codes)."""
    knots, middles, halves = (np.array(column) for column in zip(*HEAT_SHARES, strict=True))
    deviate = np.clip(deviates()[STAGES], -ENDS_SD, ENDS_SD)[:, None] / ENDS_SD
    wanted = np.asarray(codes, dtype=np.float64)
    shares: Array = np.interp(wanted, knots, middles) + deviate * np.interp(wanted, knots, halves)
    return shares


@dataclass(frozen=True, slots=True)
class YearDraws:
    """One year at one spot for one kind, a value a draw; days are counted from the growing year's first as 0.

    A day that is the number of days replayed stands for "not reached". ``killed`` is the least share of buds that the
    worst night killed for certain, ``at_most`` the most it may have; ``worst`` the span of ``Tender`` it fell in and
    ``night`` its day, -1 for none. ``ripe`` is None where that cannot be told.
    """

    year: int
    chill_met: NDArray[np.int16]
    swelling: NDArray[np.int16]
    first_flower: NDArray[np.int16]
    full_bloom: NDArray[np.int16]
    fruit: NDArray[np.int16]
    killed: NDArray[np.float32] | None
    at_most: NDArray[np.float32] | None
    worst: NDArray[np.int8] | None
    night: NDArray[np.int16] | None
    ripe: NDArray[np.bool_] | None


def replay_year(year: ReplayYear, climate: SpotClimate, course: Course, kept: KeptReplays = REPLAYS) -> YearDraws:
    """Return one year's replay at a spot, reckoned once.

    Parameters
    ----------
    year : ReplayYear
        A whole year.
    climate : SpotClimate
        How the spot differs from the station.
    course : Course
        What the kind needs and stands; the requirement's chill and heat must be known.
    kept : KeptReplays, optional
        Where results are kept.

    Returns
    -------
    YearDraws
        Values for 64 draws over the ranges of chill, heat, both offsets, heat shares of stages and days to ripe.

    Raises
    ------
    ValueError
        If a requirement is not known.

    Notes
    -----
    Chill, then heat, as ``chill_then_heat.stage_day`` has it. A night counts for the stage reached by the evening
    before it. The share killed is interpolated as in ``critical_temperature.share_killed`` and never outside the
    published points: above the 10 % point none is claimed, below the 90 % point 0.9. Where no 90 % point is published
    no more than 0.1 is claimed, and ``at_most`` takes the next stage's points, since buds only grow tenderer.

    The year's damage is that of its worst night. The buds that one night kills are largely those that another would
    have killed, so nights are not multiplied; that is the least that may be dead at the end.
    """
    return kept.result((year.serial, climate.key, course), lambda: _replay(year, climate, course, kept))


def _replay(year: ReplayYear, climate: SpotClimate, course: Course, kept: KeptReplays) -> YearDraws:
    need = course.requirement
    chill_low, _, chill_high = need.chill_range
    heat_low, _, heat_high = need.heat_range
    colder, between = _spot_draws(climate.colder.range_k, climate.warmer.range_k)
    sums = kept.heat_at(year, need.heat_metric, climate.key, between)
    met = _chill_met(year.chill(need.chill_metric), _drawn(chill_low, chill_high, CHILL_NEED))
    stages = (FIRST_SWELLING, FIRST_FLOWER, FULL_BLOOM, FRUIT_SET)
    tender = course.tender
    shares = heat_shares((*stages, *(tender.codes if tender else ()))).copy()
    if course.fruit_share is not None:
        shares[:, 3] = course.fruit_share
    reached = _reached(sums, met, shares * _drawn(heat_low, heat_high, HEAT_NEED)[:, None])
    swelling, first, full, fruit = reached[:, :4].T.astype(np.int16)
    found: dict[str, NDArray[np.generic] | None] = dict.fromkeys(("killed", "at_most", "worst", "night"))
    if tender is not None:
        found = _frost(year, colder, tender, reached[:, 4:])
    ripe = None
    if course.ripe_days is not None and not (course.waking and course.fruit_share is None):
        ripe = _ripe(year, colder, fruit, _drawn(*course.ripe_days, RIPE))
    # arg-type: the four arrays of a frost are there together or not at all, which a dict's type cannot say
    return YearDraws(year.year, met.astype(np.int16), swelling, first, full, fruit, ripe=ripe, **found)  # type: ignore[arg-type]


def _chill_met(chill: Array, needed: Array) -> Indices:
    """Return the day that meets the chill by draw, -1 where none is needed, the number of days where it is not met."""
    met = np.searchsorted(chill, _just_under(needed))
    found: Indices = np.where(needed > 0, met, -1)
    return found


def _just_under(needed: Array) -> Array:
    """Return needs less what rounding can take from a sum of their parts, as ``chill_then_heat.just_under``."""
    found: Array = needed - 1e-9 * np.maximum(1.0, needed)
    return found


def _reached(sums: Array, met: Indices, heat: Array) -> Indices:
    """Return the day on which each heat is gathered after the chill was met, shape (draws, stages)."""
    draws, days = sums.shape
    rows = np.arange(draws)
    unmet = met >= days
    start = np.where(met < 0, 0.0, sums[rows, np.clip(met, 0, days - 1)])
    wanted = start[:, None] + _just_under(heat)
    apart = max(float(sums[:, -1].max()), float(wanted.max())) + 1.0  # rows laid end to end, so one search serves all
    flat = (sums + apart * rows[:, None]).ravel()
    found = np.searchsorted(flat, wanted + apart * rows[:, None]) - days * rows[:, None]
    reached: Indices = np.where(unmet[:, None], days, np.minimum(found, days))
    return reached


def _frost(year: ReplayYear, colder: Array, tender: Tender, reached: Indices) -> dict[str, NDArray[np.generic] | None]:
    """Return the worst night of each draw: share killed at least and at most, the span it fell in, its day."""
    draws = len(colder)
    warmest_c = (max(tender.kill10_f) - 32) / 1.8
    coldest_c = year.min_c - np.maximum(float(colder.max()), 0.0) * year.clear_nights
    coldest_c = np.minimum(coldest_c, year.min_c - float(colder.min()) * year.clear_nights)
    nights = np.flatnonzero((coldest_c <= warmest_c + 1e-6) & (np.arange(year.days) > reached.min()))
    if not len(nights):
        return {"killed": np.zeros(draws, np.float32), "at_most": np.zeros(draws, np.float32),
                "worst": np.full(draws, -1, np.int8), "night": np.full(draws, -1, np.int16)}  # fmt: skip
    spot_c = year.min_c[nights] - colder[:, None] * year.clear_nights[nights]
    span = (reached[:, :, None] < nights).sum(axis=1) - 1  # -1: nothing published yet
    least, most = killed_share(tender, span, spot_c)
    at = np.argmax(least, axis=1)
    rows = np.arange(draws)
    any_killed = least[rows, at] > 0
    return {
        "killed": least[rows, at].astype(np.float32),
        "at_most": most.max(axis=1).astype(np.float32),
        "worst": np.where(any_killed, span[rows, at], -1).astype(np.int8),
        "night": np.where(any_killed, nights[at], -1).astype(np.int16),
    }


def _ripe(year: ReplayYear, colder: Array, fruit: NDArray[np.int16], days: Array) -> NDArray[np.bool_] | None:
    """Return whether small fruit ripens before the spot's first autumn freeze; None where the autumn is not known."""
    autumn = year.autumn
    if autumn is None or autumn.missing > MOST_MISSING:
        return None
    freezing = autumn.min_c - colder[:, None] * autumn.clear <= 0.0
    ends = np.where(freezing.any(axis=1), autumn.ordinals[freezing.argmax(axis=1)], autumn.ordinals[-1])
    ripe = year.first_day.toordinal() + fruit.astype(np.int64) + np.ceil(days)
    found: NDArray[np.bool_] = (fruit < year.days) & (ripe <= ends)
    return found


def season_at(year: ReplayYear, climate: SpotClimate, chill_metric: str, heat_metric: str) -> Season:
    """Return a year as a season of chill and heat at the middle of a spot's climate, to fit a requirement to."""
    between = between_nodes(*(np.array([offset.middle_k]) for offset in (climate.colder, climate.warmer)))
    heat = np.diff(between.of(year.heat(heat_metric))[0], prepend=0.0)
    chill = np.diff(year.chill(chill_metric), prepend=0.0)
    return Season(
        year.first_day, tuple(chill.tolist()), tuple(np.maximum(heat, 0.0).tolist()), chill_metric, heat_metric
    )


@dataclass(frozen=True, slots=True)
class YearFigures:
    """One year's middle dates, None for a stage not reached, and its worst night: share killed, day, stage."""

    year: int
    chill_met: date | None
    swelling: date | None
    first_flower: date | None
    full_bloom: date | None
    fruit: date | None
    killed: float | None
    night: date | None
    stage: str


def year_figures(year: ReplayYear, climate: SpotClimate, course: Course, kept: KeptReplays = REPLAYS) -> YearFigures:
    """Return one year at a spot in plain dates, each the middle of the draws."""
    one = replay_year(year, climate, course, kept)

    def middle(days: NDArray[np.int16]) -> date | None:
        index = int(np.quantile(days, 0.5, method="inverted_cdf"))
        return year.first_day + timedelta(days=index) if index < year.days else None

    killed, night, stage = None, None, ""
    if one.killed is not None and one.night is not None and one.worst is not None and course.tender is not None:
        at = int(np.argsort(one.killed, kind="stable")[(len(one.killed) - 1) // 2])
        killed = round(float(one.killed[at]), 3)
        if one.night[at] >= 0:
            night, stage = year.day(int(one.night[at])), course.tender.words[int(one.worst[at])]
    return YearFigures(
        one.year, middle(one.chill_met), middle(one.swelling), middle(one.first_flower), middle(one.full_bloom),
        middle(one.fruit), killed, night, stage,
    )  # fmt: skip
