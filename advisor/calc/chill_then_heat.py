"""Chill and then heat, in sequence: a season's daily amounts, and the date of a stage that needs so much of each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise
from math import isfinite

import numpy as np
import numpy.typing as npt

Sums = npt.NDArray[np.float64]

LONGEST_SEASON = 366
MOST_MISSING_SHARE = 0.1  # house judgement
LONGEST_GAP_DAYS = 5  # house judgement: beyond it, the days around say little of the days between


@dataclass(frozen=True, slots=True)
class SeasonDay:
    """One day's chill and heat; None for what is missing."""

    day: date
    chill: float | None
    heat: float | None


@dataclass(frozen=True, slots=True)
class Season:
    """Chill and heat of each day, without gaps, from the start of rest in autumn; at most a year.

    The metrics name what the amounts are ("chill portions", "degree-days above 5 °C"), because sums of one method
    cannot be held against a requirement in another. Raises ValueError for amounts that do not fit together, negative
    heat, or a season of more than a year.
    """

    first_day: date
    chill: tuple[float, ...]
    heat: tuple[float, ...]
    chill_metric: str
    heat_metric: str
    filled_days: int = 0

    def __post_init__(self) -> None:
        if len(self.chill) != len(self.heat) or not 0 < len(self.chill) <= LONGEST_SEASON:
            raise ValueError(
                f"a season of {len(self.chill)} days of chill and {len(self.heat)} of heat; "
                f"give both for each of 1 to {LONGEST_SEASON} days"
            )
        if not all(map(isfinite, self.chill + self.heat)) or min(self.heat) < 0:
            raise ValueError("chill and heat must be numbers, and heat never below 0; give missing days as None")

    @property
    def last_day(self) -> date:
        return self.first_day + timedelta(days=len(self.heat) - 1)

    def index_of(self, day: date) -> int | None:
        """Return the place of this calendar day (of whatever year) in the season, None where it is not in it."""
        index = (day_of_the_year_near(day, self.first_day + timedelta(days=182)) - self.first_day).days
        return index if 0 <= index < len(self.heat) else None


def season_from_days(
    days: Sequence[SeasonDay],
    chill_metric: str,
    heat_metric: str,
    most_missing_share: float = MOST_MISSING_SHARE,
) -> Season:
    """Return a season without gaps, missing days taken as the mean of the nearest known day on each side.

    Days left out count as missing like those given as None. It ends with the last day of which both are known.
    Raises ValueError for days out of order, more missing than the stated share, a gap of more than five days, or a
    first day that is missing.

    >>> days = [SeasonDay(date(2024, 11, 1), 1.0, 0.0), SeasonDay(date(2024, 11, 3), 0.5, 4.0)]
    >>> season_from_days(days, "chill days", "degree-days above 5 °C", most_missing_share=0.4).chill
    (1.0, 0.75, 0.5)
    """
    if any(later.day <= earlier.day for earlier, later in pairwise(days)):
        raise ValueError("the days of a season are out of order or told twice; give each once, oldest first")
    known = [day for day in days if day.chill is not None and day.heat is not None]
    if not known or known[0].day != days[0].day:
        raise ValueError("the first day of the season has no chill or heat; start it on a day that has both")
    first, count = known[0].day, (known[-1].day - known[0].day).days + 1
    gap = max(((later.day - earlier.day).days - 1 for earlier, later in pairwise(known)), default=0)
    missing = count - len(known)
    if missing > most_missing_share * count or gap > LONGEST_GAP_DAYS:
        raise ValueError(
            f"{missing} of {count} days are missing, {gap} of them in a row; "
            f"at most {most_missing_share:.0%} may be, and {LONGEST_GAP_DAYS} in a row"
        )
    places = np.array([(day.day - first).days for day in known])
    before = np.searchsorted(places, np.arange(count), side="right") - 1
    after = np.searchsorted(places, np.arange(count), side="left")

    def filled(values: list[float]) -> tuple[float, ...]:
        array = np.array(values, dtype=np.float64)
        return tuple(float(value) for value in (array[before] + array[after]) / 2)

    return Season(
        first,
        filled([day.chill for day in known if day.chill is not None]),
        filled([day.heat for day in known if day.heat is not None]),
        chill_metric,
        heat_metric,
        filled_days=missing,
    )


def day_of_the_year_near(day: date, near: date) -> date:
    """Return the date with this month and day that lies nearest to ``near``; 29 February may become the 28th.

    >>> day_of_the_year_near(date(2024, 2, 29), date(2011, 4, 1))
    datetime.date(2011, 2, 28)
    """
    found = []
    for year in (near.year - 1, near.year, near.year + 1):
        try:
            found.append(day.replace(year=year))
        except ValueError:
            found.append(date(year, 2, 28))
    return min(found, key=lambda other: abs((other - near).days))


def heat_sums(chill: Sequence[float], heat: Sequence[float], chill_required: float) -> tuple[int, Sums]:
    """Return the index of the day that meets the chill (-1: none needed), and each day's heat summed from the next.

    Where the chill is never met the index is the number of days and all sums are 0.
    """
    sums = np.array(heat, dtype=np.float64)
    met = -1
    if chill_required > 0:
        reached = np.cumsum(np.asarray(chill, dtype=np.float64)) >= just_under(chill_required)
        met = int(reached.argmax()) if reached.any() else len(sums)
    sums[: met + 1] = 0.0
    return met, np.cumsum(sums)


def stage_index(chill: Sequence[float], heat: Sequence[float], chill_required: float, heat_required: float) -> int:
    """Return the index of the day on which chill and then heat are met, or the number of days where they are not."""
    return int(np.searchsorted(heat_sums(chill, heat, chill_required)[1], just_under(heat_required)))


def just_under(required: float) -> float:
    """Return the requirement less what rounding can take from a sum of its parts."""
    return required - 1e-9 * max(1.0, required)


def stage_day(season: Season, chill_required: float, heat_required: float) -> date | None:
    """Return the date of a stage by chill and then heat, in sequence.

    Parameters
    ----------
    season : Season
        Daily chill and heat from the start of rest.
    chill_required, heat_required : float
        Sums required, in the season's own metrics.

    Returns
    -------
    date or None
        First day on which the heat gathered since the day after the chill was met reaches ``heat_required``; None
        where the season ends before.

    Raises
    ------
    ValueError
        If ``chill_required`` is negative or ``heat_required`` not above 0.

    Notes
    -----
    The sequential model: heat counts for nothing until the chill is met [1]_. Real buds trade one for the other
    within limits, so a winter far colder or milder than those of the fit can mislead it. With a metric that can fall
    (Utah units), the chill counts as met from the first day the sum reaches it.

    References
    ----------
    .. [1] E. Fadón, S. Herrera, B. I. Guerrero, M. E. Guerra, J. Rodrigo, "Chilling and heat requirements of
       temperate stone fruit trees (Prunus sp.)", Agronomy 10(3), 409, 2020 (title and abstract read, tables not;
       the authors' names from memory)

    Examples
    --------
    >>> season = Season(date(2024, 11, 1), (1.0,) * 30, (2.0,) * 30, "chill days", "degree-days above 5 °C")
    >>> stage_day(season, chill_required=10, heat_required=12)
    datetime.date(2024, 11, 16)
    """
    if not (chill_required >= 0 and heat_required > 0):
        raise ValueError(f"chill {chill_required} and heat {heat_required} required; chill from 0, heat above 0")
    index = stage_index(season.chill, season.heat, chill_required, heat_required)
    return season.first_day + timedelta(days=index) if index < len(season.heat) else None


@dataclass(frozen=True, slots=True)
class DatedStage:
    """A stage seen on a day of a past season; raises ValueError for a day outside it."""

    season: Season
    day: date

    def __post_init__(self) -> None:
        if not self.season.first_day <= self.day <= self.season.last_day:
            raise ValueError(f"{self.day} is not in the season {self.season.first_day} to {self.season.last_day}")
