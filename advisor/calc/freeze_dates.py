"""Last spring and first autumn freeze from daily minima: plain dates, and the dates of a given risk."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import partial
from math import isfinite, sqrt
from statistics import NormalDist, fmean, stdev

from advisor.calc.distributions import t_quantile
from advisor.calc.figure import Figure

THRESHOLDS_C = (0.0, -2.2, -4.4)
"""32, 28 and 24 °F: light, moderate and hard freeze of the climate tables."""

PROBABILITIES = (0.9, 0.5, 0.1)

FEWEST_DATES, ENOUGH_DATES = 10, 20
"""Below the first only the plain dates are given, below the second risks are widened (10 and 20 years: from memory
usual in climate tables, where 30 are preferred)."""

MOST_MISSING, MARGIN_DAYS, AT_LEAST_TO_DAY = 3, 10, 120
"""What makes a year complete; see ``spring_freezes``. House judgement."""


@dataclass(frozen=True, slots=True)
class Risk:
    """The day beyond which a freeze comes with a probability: later in spring, earlier in autumn.

    ``day`` counts from the window's first day as 1; ``month_day`` is its date in a common year. Both are None where
    freezes come in no larger a share of years than the probability asked for.
    """

    probability: float
    day: float | None
    month_day: tuple[int, int] | None


@dataclass(frozen=True, slots=True)
class FreezeDates:
    """The last spring or first autumn freezes of a place at one threshold.

    ``by_year`` gives each counted year's date, None for a year without; ``left_out`` are years with days missing
    where a freeze could have been. ``mean_day`` and ``sd_days`` are of the years with a freeze, days counted from the
    window's first as 1 (in a spring of the north the day of the year). ``risks`` is empty below ten dates.
    """

    season: str
    threshold_c: float
    window_from: tuple[int, int]
    by_year: tuple[tuple[int, date | None], ...]
    left_out: tuple[int, ...]
    mean_day: float | None
    sd_days: float | None
    risks: tuple[Risk, ...]
    caution: str

    @property
    def years(self) -> int:
        """Years counted."""
        return len(self.by_year)

    @property
    def with_freeze(self) -> int:
        """Years counted that had a freeze in the window."""
        return sum(on is not None for _, on in self.by_year)

    def figure(self, probability: float = 0.5) -> Figure:
        """Return the day of a risk as a figure, with the 90 % sampling error of that quantile.

        Raises ValueError where that risk was not worked out or has no date.
        """
        risk = next((risk for risk in self.risks if risk.probability == probability), None)
        if risk is None or risk.day is None or self.sd_days is None or self.mean_day is None:
            raise ValueError(
                f"no {self.season} date of risk {probability:g} at {self.threshold_c:g} °C: {self.caution}"
            )
        width = _sampling_error(risk.day, self.mean_day, self.sd_days, self.with_freeze)
        month, day = self.window_from
        unit = f"days, counted from {day} {_MONTHS[month - 1]} as 1"
        edge = "last spring" if self.season == "spring" else "first autumn"
        method = f"{edge} freeze at {self.threshold_c:g} °C, risk {probability:.0%}, normal dates"
        return Figure(risk.day, unit, method, plus_minus=width, caution=self.caution)


@dataclass(frozen=True, slots=True)
class FrostFree:
    """Days between the last spring and the first autumn freeze.

    ``by_year`` has the years with both freezes; ``unbounded`` counts years that lack one, longer than any said.
    ``risks`` pairs a probability with the length that a season falls short of so often.
    """

    threshold_c: float
    by_year: tuple[tuple[int, int], ...]
    unbounded: int
    risks: tuple[tuple[float, float | None], ...]

    def figure(self, probability: float = 0.5) -> Figure:
        """Return the length a season falls short of with a probability, with its 90 % sampling error.

        Raises ValueError where that length was not worked out or is none.
        """
        length = dict(self.risks).get(probability)
        days = [float(days) for _, days in self.by_year]
        said = f"{len(days)} of {len(days) + self.unbounded} years had both freezes"
        if length is None:
            raise ValueError(f"no length of risk {probability:g} at {self.threshold_c:g} °C: {said}")
        width = _sampling_error(length, fmean(days), stdev(days), len(days))
        method = f"frost-free season at {self.threshold_c:g} °C, risk of a shorter one {probability:.0%}"
        return Figure(length, "days", method, plus_minus=width, caution=f"{said}.")


_MONTHS = ("January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
           "November", "December")  # fmt: skip


def spring_freezes(
    minima: Mapping[date, float],
    latitude_deg: float,
    threshold_c: float,
    probabilities: Sequence[float] = PROBABILITIES,
) -> FreezeDates:
    """Return the last spring freezes and the dates after which one comes with the given probabilities.

    Parameters
    ----------
    minima : mapping of date to float
        Daily minima; a day not known is absent. [°C]
    latitude_deg : float
        Latitude, negative in the south. [°]
    threshold_c : float
        A day at or below it has a freeze. [°C]
    probabilities : sequence of float, optional
        Risks to give dates for, each above 0 and below 1.

    Returns
    -------
    FreezeDates
        The dates year by year and the risks.

    Raises
    ------
    ValueError
        If a minimum, the latitude, the threshold or a probability cannot be used, or the place lies within 10° of
        the equator, where months are no seasons.

    Notes
    -----
    The window is 1 January to 31 July in the north, 1 July to 31 January in the south, where a year is named by the
    calendar year in which its spring begins. A leap year's dates count a day more from March on.

    A year counts if at most three days are missing on which a later freeze could have come: days after its last
    freeze found, up to ten days after the latest freeze of any year, and at least up to the window's day 120. So a
    gap in midsummer, or before a freeze that was recorded, costs nothing.

    Two distributions are mixed [1]_: a freeze comes at all in a share q of the years, and its dates are normal. The
    date passed with probability p is mean + sd z(1 - p/q), and there is none if p is not below q. With fewer than 20
    dates z is Student's t times sqrt(1 + 1/n), so that next year's date is held, not only the past years'. Dates are
    not tested for being normal, nor for a trend: old years may be too cold for today's climate. A day that falls out
    of the window is set to its edge.

    References
    ----------
    .. [1] H. C. S. Thom and R. H. Shaw, "Climatological analysis of freeze data for Iowa", Mon. Weather Rev. 86,
       251-257, 1958 (from memory; that freeze tables mix the two was read in a copy of NOAA's description of them)
    """
    return _freezes("spring", minima, latitude_deg, threshold_c, probabilities)


def autumn_freezes(
    minima: Mapping[date, float],
    latitude_deg: float,
    threshold_c: float,
    probabilities: Sequence[float] = PROBABILITIES,
) -> FreezeDates:
    """Return the first autumn freezes and the dates before which one comes with the given probabilities.

    The mirror of ``spring_freezes``: the window is 1 August to 31 December in the north, 1 February to 30 June in the
    south, where the autumn belongs to the year whose spring came before it. Missing days count before the first
    freeze found, from ten days before the earliest of any year, and at least over the window's last 61 days. A first
    freeze after midwinter is none of the autumn. Raises as ``spring_freezes``.
    """
    return _freezes("autumn", minima, latitude_deg, threshold_c, probabilities)


def frost_free_season(
    spring: FreezeDates, autumn: FreezeDates, probabilities: Sequence[float] = PROBABILITIES
) -> FrostFree:
    """Return the lengths of the frost-free season and those it falls short of with the given probabilities. [days]

    A length is the number of whole days between the two freezes of a year counted in both. Lengths are taken as
    normal and mixed with the years that lack a freeze, as the dates are. Raises ValueError where the two are not a
    spring and an autumn of one threshold.
    """
    if (spring.season, autumn.season) != ("spring", "autumn") or spring.threshold_c != autumn.threshold_c:
        raise ValueError("a spring and an autumn of one threshold are wanted, in this order")
    ends = dict(autumn.by_year)
    both = [(year, on, ends[year]) for year, on in spring.by_year if year in ends]
    lengths = tuple((year, (end - on).days - 1) for year, on, end in both if on is not None and end is not None)
    days = [float(length) for _, length in lengths]
    risks: tuple[tuple[float, float | None], ...] = ()
    if len(days) >= FEWEST_DATES:
        risks = tuple((p, mixture_day(days, len(both), p, later=False)) for p in probabilities)
    return FrostFree(spring.threshold_c, lengths, len(both) - len(lengths), risks)


def mixture_day(days: Sequence[float], years: int, probability: float, later: bool) -> float | None:
    """Return the day passed with a probability: later than it in spring, earlier in autumn; None if there is none.

    ``days`` are the dates of the years with a freeze, ``years`` counts those without too. See ``spring_freezes``.
    Raises ValueError for a probability that is not between 0 and 1, fewer than two dates, or more dates than years.
    """
    if not 0 < probability < 1:
        raise ValueError(f"probability {probability} is not between 0 and 1")
    if not 2 <= len(days) <= years:
        raise ValueError(f"{len(days)} dates in {years} years; at least 2, and no more than one a year, are wanted")
    within = probability * years / len(days)
    if within >= 1:
        return None
    n, share = len(days), 1 - within if later else within
    widened = n < ENOUGH_DATES
    z = t_quantile(n - 1, share) * sqrt(1 + 1 / n) if widened else NormalDist().inv_cdf(share)
    return fmean(days) + stdev(days) * z


def _sampling_error(day: float, mean_day: float, sd_days: float, n: int) -> float:
    """Return the 90 % half-width of a quantile of normal dates, for n dates (large-sample formula, from memory)."""
    z = (day - mean_day) / sd_days if sd_days else 0.0
    return 1.645 * sd_days * sqrt((1 + z * z / 2) / n)


def at_least_once(probability: float, years: int) -> float:
    """Return the probability that what has a probability each year comes at least once in so many years.

    Years are taken as independent. Raises ValueError outside 0 to 1 or for a negative number of years.

    >>> round(at_least_once(0.1, 10), 4)
    0.6513
    """
    if not 0 <= probability <= 1 or years < 0:
        raise ValueError(f"probability {probability} in {years} years; 0 to 1, and 0 years or more, wanted")
    return float(1 - (1 - probability) ** years)


def _window(season: str, year: int, southern: bool) -> tuple[date, date]:
    if season == "spring":
        return (date(year, 7, 1), date(year + 1, 1, 31)) if southern else (date(year, 1, 1), date(year, 7, 31))
    return (date(year + 1, 2, 1), date(year + 1, 6, 30)) if southern else (date(year, 8, 1), date(year, 12, 31))


def _freezes(
    season: str,
    minima: Mapping[date, float],
    latitude_deg: float,
    threshold_c: float,
    probabilities: Sequence[float],
) -> FreezeDates:
    _check(minima, latitude_deg, threshold_c)
    southern, spring = latitude_deg < 0, season == "spring"
    known: dict[int, set[int]] = {}
    freezing: dict[int, list[int]] = {}
    starts: dict[int, date] = {}
    for year in range(min(minima).year - 1, max(minima).year + 1) if minima else ():
        first, last = _window(season, year, southern)
        span = [(n + 1, first + timedelta(days=n)) for n in range((last - first).days + 1)]
        days = {n: minima[on] for n, on in span if on in minima}
        if days:
            starts[year], known[year] = first, set(days)
            freezing[year] = [n for n, min_c in days.items() if min_c <= threshold_c]
    pick = max if spring else min
    found = {year: pick(days) if days else None for year, days in freezing.items()}
    lengths = {year: (_window(season, year, southern)[1] - starts[year]).days + 1 for year in found}
    dated = [day for day in found.values() if day is not None]
    counted: list[int] = []
    left_out: list[int] = []
    for year, day in found.items():
        open_days = _open_days(spring, day, dated, lengths[year])
        (left_out if len(open_days - known[year]) > MOST_MISSING else counted).append(year)
    days_with = [float(day) for year in counted if (day := found[year]) is not None]
    origin, shortest = _window(season, 2001, southern)[0], min(lengths.values(), default=1)
    risk = partial(_risk, days_with, len(counted), origin, shortest, spring)
    return FreezeDates(
        season=season,
        threshold_c=threshold_c,
        window_from=(origin.month, origin.day),
        by_year=tuple(
            (year, None if (day := found[year]) is None else starts[year] + timedelta(days=day - 1)) for year in counted
        ),
        left_out=tuple(left_out),
        mean_day=fmean(days_with) if days_with else None,
        sd_days=stdev(days_with) if len(days_with) > 1 else None,
        risks=tuple(risk(p) for p in probabilities) if len(days_with) >= FEWEST_DATES else (),
        caution=_caution(len(counted), len(days_with), len(left_out)),
    )


def _open_days(spring: bool, found: int | None, dated: Sequence[int], length: int) -> set[int]:
    """Return the days of a window on which a freeze beyond the one found could have come."""
    if spring:
        until = min(max([AT_LEAST_TO_DAY, *(day + MARGIN_DAYS for day in dated)]), length)
        return set(range((found or 0) + 1, until + 1))
    since = max(min([length - 60, *(day - MARGIN_DAYS for day in dated)]), 1)
    return set(range(since, found if found is not None else length + 1))


def _risk(days: Sequence[float], years: int, origin: date, length: int, spring: bool, probability: float) -> Risk:
    day = mixture_day(days, years, probability, later=spring)
    if day is None:
        return Risk(probability, None, None)
    day = min(max(day, 1.0), float(length))
    on = origin + timedelta(days=round(day) - 1)
    return Risk(probability, day, (on.month, on.day))


def _caution(years: int, with_freeze: int, left_out: int) -> str:
    said = f"{with_freeze} of {years} years had such a freeze"
    if left_out:
        said += f"; {left_out} more left out for missing days"
    if with_freeze < FEWEST_DATES:
        return f"{said}: too few for risks, the dates stand by themselves."
    return f"{said}: few, so the risks are widened." if with_freeze < ENOUGH_DATES else f"{said}."


def _check(minima: Mapping[date, float], latitude_deg: float, threshold_c: float) -> None:
    if not (isfinite(latitude_deg) and 10 <= abs(latitude_deg) <= 90):
        raise ValueError(f"latitude {latitude_deg}° is not between 10 and 90 north or south")
    if not isfinite(threshold_c):
        raise ValueError(f"threshold {threshold_c} °C is not a number")
    for on, min_c in minima.items():
        if not isfinite(min_c):
            raise ValueError(f"minimum of {on} is {min_c}; a number wanted, and no entry for a day not known")
