"""A kind's replayed years at a spot summed up: when it blooms, in how many years frost takes it or it ripens."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from advisor.calc.kind_course import Course
from advisor.calc.replay import YearDraws, deviates, replay_year
from advisor.calc.replay_years import REPLAYS, Array, KeptReplays, ReplayYear
from advisor.calc.spot_climate import SpotClimate

EARLY, LATE = 0.1, 0.9
"""Shares of years and draws between which a date or a count is told: eight in ten lie inside."""
A_TENTH = 0.1
"""The least share killed that is published, at which a night begins to count."""
NEVER = 400
"""A day beyond any growing year: not reached."""


@dataclass(frozen=True, eq=False)
class Replay:
    """All years of a kind at a spot. Counts and dates are low, middle and high: 10, 50 and 90 % over the draws.

    ``bloom`` are days of a common growing year over years and draws, None where a tenth or more never got there.
    ``frost_by_draw`` counts the years in which the worst night killed the share that counts; ``frost_years`` sums it
    up, its high end taken at most, and ``hurt_years`` those in which it killed a tenth; None where nothing is
    published. ``ripe_years`` are of ``ripe_of`` years.
    """

    years: tuple[int, ...]
    bloom: tuple[int, int, int] | None
    bloom_by_draw: Array
    frost_years: tuple[int, int, int] | None
    frost_by_draw: NDArray[np.int64] | None
    hurt_years: tuple[int, int, int] | None
    worst: str
    chill_met_share: float
    ripe_years: tuple[int, int, int] | None
    ripe_of: int

    @property
    def frost_mean(self) -> float:
        """Frost years on average over the draws; 0 where nothing is published."""
        return 0.0 if self.frost_by_draw is None else float(self.frost_by_draw.mean())

    def moved_by(self, which: int) -> float:
        """Return by how many frost years the highest quarter of one range's draws differs from the lowest."""
        high, low = self.frost_ends(which)
        return abs(high - low)

    def frost_ends(self, which: int) -> tuple[float, float]:
        """Return the mean count of frost years in the highest and in the lowest quarter of one range's draws."""
        if self.frost_by_draw is None:
            return 0.0, 0.0
        ordered = self.frost_by_draw[np.argsort(deviates()[which])]
        quarter = len(ordered) // 4
        return float(ordered[-quarter:].mean()), float(ordered[:quarter].mean())


def replay(
    years: Sequence[ReplayYear], climate: SpotClimate, course: Course, kept: KeptReplays = REPLAYS
) -> Replay:  # fmt: skip
    """Return what all whole years did at a spot. Raises ValueError where there is none, or as ``replay_year`` does."""
    whole = [year for year in years if year.whole]
    if not whole:
        raise ValueError("no growing year is recorded from its first day to the height of summer")
    key = (tuple(year.serial for year in whole), climate.key, course)
    return kept.result(key, lambda: _all(whole, [replay_year(year, climate, course, kept) for year in whole], course))


def _all(years: Sequence[ReplayYear], each: Sequence[YearDraws], course: Course) -> Replay:
    first = np.array([_common(year, one.first_flower) for year, one in zip(years, each, strict=True)])
    bloom = tuple(int(np.quantile(first, share, method="inverted_cdf")) for share in (EARLY, 0.5, LATE))
    lost = None
    frost_years = hurt_years = None
    worst = ""
    tender = course.tender
    if tender is not None:
        enough = tender.lost_share - 1e-6
        killed = np.array([one.killed for one in each])
        lost = killed >= enough
        hurt_years = _counts((killed >= A_TENTH - 1e-6).sum(axis=0))
        most = (np.array([one.at_most for one in each]) >= enough).sum(axis=0)
        frost_years = (*_counts(lost.sum(axis=0))[:2], _counts(most)[2])
        spans = np.array([one.worst for one in each])[lost]
        worst = tender.words[int(np.bincount(spans).argmax())] if len(spans) else ""
    ripe = [one.ripe for one in each if one.ripe is not None]
    return Replay(
        years=tuple(one.year for one in each),
        bloom=None if bloom[2] >= NEVER else (bloom[0], bloom[1], bloom[2]),
        bloom_by_draw=np.median(first, axis=0),
        frost_years=frost_years,
        frost_by_draw=None if lost is None else lost.sum(axis=0),
        hurt_years=hurt_years,
        worst=worst,
        chill_met_share=float(np.mean([one.chill_met < year.days for year, one in zip(years, each, strict=True)])),
        ripe_years=_counts(np.array(ripe).sum(axis=0)) if ripe else None,
        ripe_of=len(ripe),
    )


def _common(year: ReplayYear, days: NDArray[np.int16]) -> NDArray[np.int64]:
    return np.where(days >= year.days, NEVER, year.common(days.astype(np.int64)))


def _counts(counts: NDArray[np.int64]) -> tuple[int, int, int]:
    low, middle, high = (int(np.quantile(counts, share, method="inverted_cdf")) for share in (EARLY, 0.5, LATE))
    return low, middle, high
