"""What a tree needs before a stage, chill and then heat, as published; and how own years draw the heat their way."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite, sqrt
from statistics import fmean

from advisor.calc.chill_then_heat import Season

PUBLISHED_SPREAD_YEARS = 2  # house judgement: the published spread counts as two years in the year-to-year spread
LEAST_SPREAD = 0.05  # house judgement: a published range is never read as narrower than an sd of 5 %


@dataclass(frozen=True, slots=True)
class Requirement:
    """The chill and then the heat a stage needs, as ranges read as ±2 standard deviations round their middle.

    A pair of None stands for "not known". Raises ValueError for a range that is upside down, half given, or where
    chill is negative or heat not above 0.
    """

    chill_low: float | None
    chill_high: float | None
    heat_low: float | None
    heat_high: float | None
    chill_metric: str
    heat_metric: str
    source: str

    def __post_init__(self) -> None:
        for what, low, high in (
            ("chill", self.chill_low, self.chill_high),
            ("heat", self.heat_low, self.heat_high),
        ):
            if (low is None) != (high is None):
                raise ValueError(f"{what} requirement {low} to {high}: give both ends, or neither")
            if low is None or high is None:
                continue
            if not (isfinite(low) and isfinite(high) and 0 <= low <= high) or (what == "heat" and low == 0):
                least = "above 0" if what == "heat" else "0 or more"
                raise ValueError(f"{what} requirement {low} to {high}: wanted a low end {least} and not above the high")

    @property
    def chill_range(self) -> tuple[float, float, float]:
        """Low, middle and high of the chill required; ValueError where it is not known."""
        return _range("chill", self.chill_low, self.chill_high, self.source)

    @property
    def heat_range(self) -> tuple[float, float, float]:
        """Low, middle and high of the heat required; ValueError where it is not known."""
        return _range("heat", self.heat_low, self.heat_high, self.source)

    def check_metrics(self, season: Season) -> None:
        """Raise ValueError where a season's sums are of another method than this requirement."""
        theirs, ours = (season.chill_metric, season.heat_metric), (self.chill_metric, self.heat_metric)
        if theirs != ours:
            raise ValueError(f"the season counts {' and '.join(theirs)}, the requirement {' and '.join(ours)}")


def _range(what: str, low: float | None, high: float | None, source: str) -> tuple[float, float, float]:
    if low is None or high is None:
        raise ValueError(f"no {what} requirement is known ({source}); give one, or fit it to own dated years")
    return (low, (low + high) / 2, high)


def shrunk_heat(own: Sequence[float], published: tuple[float, float] | None) -> tuple[float, float, float]:
    """Return the fitted heat requirement, the sd of a single new year round it, and the weight of the own mean.

    Parameters
    ----------
    own : sequence of float
        Heat sum at the stage, one for each own year.
    published : (float, float) or None
        Published low and high, read as ±2 standard deviations (house judgement); None where there is none.

    Raises
    ------
    ValueError
        If there is no own year at all.

    Notes
    -----
    A precision-weighted mean: n own years of year-to-year variance s² weigh n/s², the published middle 1/s0². The
    variance s² is itself drawn toward the published one, which counts as two years: (2 s0² + SS) / (2 + n - 1). So one
    own year weighs as much as the published range, and with many the own mean is what is left.

    Examples
    --------
    >>> shrunk_heat([110.0], (80.0, 120.0))[0]
    105.0
    """
    if not own:
        raise ValueError("no own year to fit to; give at least one dated stage")
    count, mean = len(own), fmean(own)
    squares = sum((value - mean) ** 2 for value in own)
    if published is None:
        variance = squares / (count - 1) if count > 1 else 0.0
        return mean, sqrt(variance * (1 + 1 / count)), 1.0
    middle = (published[0] + published[1]) / 2
    prior = max((published[1] - published[0]) / 4, LEAST_SPREAD * middle) ** 2
    variance = (PUBLISHED_SPREAD_YEARS * prior + squares) / (PUBLISHED_SPREAD_YEARS + count - 1)
    precision = count / variance + 1 / prior
    weight = count / variance / precision
    return weight * mean + (1 - weight) * middle, sqrt(variance + 1 / precision), weight
