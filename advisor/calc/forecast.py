"""When a stage will come, in a season under way: what is met so far, and dates from this place's earlier years."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import accumulate

from advisor.calc.chill_then_heat import Season, heat_sums, stage_index
from advisor.calc.figure import Figure
from advisor.calc.requirement import Requirement
from advisor.calc.requirement_fit import RequirementFit

# Low, middle and high of a range read as ±2 sd. These weights give the three points its mean and its variance.
RANGE_WEIGHTS = (1 / 8, 3 / 4, 1 / 8)
EARLY_SHARE, LATE_SHARE = 0.1, 0.9  # house judgement: eight years in ten fall between
FEW_YEARS = 5  # house judgement: below it, the width says little
WARM_WEEK_DAYS = 7
HEAT_CHANGE = 0.1


@dataclass(frozen=True, slots=True)
class StageForecast:
    """How much of a requirement is met on the season's last day, and when the stage comes.

    Shares lie between 0 and 1, of the middle of the required range, with their half-width from its ends.
    ``low``, ``median`` and ``high`` are the 10 %, 50 % and 90 % dates; None is "no date known", or for a late one
    "later than the earlier years' records reach". ``caution`` is "" for none.
    """

    as_of: date
    chill_share: float
    chill_share_plus_minus: float
    heat_share: float
    heat_share_plus_minus: float
    chill_met_on: date | None
    low: date | None
    median: date | None
    high: date | None
    earlier_years: int
    method: str
    caution: str

    @property
    def chill_figure(self) -> Figure:
        """Chill met, in per cent of what is required."""
        return Figure(
            100 * self.chill_share, "% of the chill", "chill then heat", 100 * self.chill_share_plus_minus, self.caution
        )

    @property
    def heat_figure(self) -> Figure:
        """Heat met, in per cent of what is required after the chill."""
        return Figure(
            100 * self.heat_share, "% of the heat", "chill then heat", 100 * self.heat_share_plus_minus, self.caution
        )

    @property
    def days_to_go(self) -> Figure | None:
        """Days from the season's last day to the median date, half the span of low to high as width; None if unknown.

        Negative where the median lies behind.
        """
        if self.low is None or self.median is None:
            return None
        width = None if self.high is None else (self.high - self.low).days / 2
        return Figure(float((self.median - self.as_of).days), "days", self.method, width, self.caution)


def forecast_stage(season: Season, requirement: Requirement, earlier: Sequence[Season]) -> StageForecast:
    """Return what is met so far and the range of dates, the days to come taken from each earlier year in turn.

    Parameters
    ----------
    season : Season
        The season under way, up to the last known day.
    requirement : Requirement
        Chill and heat required, both known, in the season's metrics.
    earlier : sequence of Season
        This place's earlier seasons, whole. One that does not hold the day after ``season`` ends is left out.

    Returns
    -------
    StageForecast
        Dates are None where nothing is left to fill the days to come with and the stage is not reached.

    Raises
    ------
    ValueError
        If metrics differ or the requirement is not known.

    Notes
    -----
    Each earlier year's days, from the same calendar day on, give nine dates: low, middle and high of the chill and of
    the heat, weighted 1:6:1 each, the three-point rule with the mean and variance of a range read as ±2 sd (house
    judgement). The dates are percentiles of the whole weighted set: the first date that at least 10, 50 and 90 % do
    not exceed. Earlier years are taken as equally likely; a trend in the climate or a weather forecast is not used. A
    few years understate the width.

    Examples
    --------
    >>> metrics = ("chill days", "degree-days above 5 °C")
    >>> now = Season(date(2024, 11, 1), (1.0,) * 20, (1.0,) * 20, *metrics)
    >>> past = Season(date(2023, 11, 1), (1.0,) * 100, (1.0,) * 100, *metrics)
    >>> found = forecast_stage(now, Requirement(10, 10, 40, 40, *metrics, "invented"), [past])
    >>> found.chill_share, found.heat_share, found.median
    (1.0, 0.25, datetime.date(2024, 12, 20))
    """
    requirement.check_metrics(season)
    tails = _tails(season, earlier)
    low, median, high = _range(_members(season, requirement, tails))
    if not tails and (low is None or median is None or high is None):
        low = median = high = None
    chill_low, chill_mid, chill_high = requirement.chill_range
    heat_low, heat_mid, heat_high = requirement.heat_range
    met, running = heat_sums(season.chill, season.heat, chill_mid)
    unmet = met >= len(season.chill)
    chill_sum = sum(season.chill) if unmet else max(accumulate(season.chill))  # once met, warm days undo nothing
    heat_sum = float(running[-1])
    chill_width = (_share(chill_sum, chill_low) - _share(chill_sum, chill_high)) / 2
    return StageForecast(
        as_of=season.last_day,
        chill_share=_share(chill_sum, chill_mid) if unmet else 1.0,
        chill_share_plus_minus=chill_width,
        heat_share=_share(heat_sum, heat_mid),
        heat_share_plus_minus=(_share(heat_sum, heat_low) - _share(heat_sum, heat_high)) / 2,
        chill_met_on=None if unmet or met < 0 else season.first_day + timedelta(days=met),
        low=low,
        median=median,
        high=high,
        earlier_years=len(tails),
        method="chill then heat",
        caution=_caution(len(tails), median, high),
    )


def forecast_from_fit(season: Season, fit: RequirementFit, earlier: Sequence[Season]) -> StageForecast:
    """Return the forecast by the fitted requirement, or by the mean date of own years where that foretold them better.

    By the mean date, the shares met are still those of the fitted requirement, and the width is that of a new year.
    A mean date that has passed cannot come true any more, so that the fitted requirement is gone by all the same.
    Raises ValueError as ``forecast_stage`` does.
    """
    found = forecast_stage(season, fit.requirement, earlier)
    usual = fit.usual_dates(season)
    if fit.better is not False or usual is None:
        return found
    if usual[1] < season.last_day:
        return replace(found, caution=f"the fitted requirement is {fit.verdict}, but the mean date has passed already")
    caution = f"the fitted requirement is {fit.verdict}, so the mean date is given"
    return StageForecast(
        found.as_of,
        found.chill_share,
        found.chill_share_plus_minus,
        found.heat_share,
        found.heat_share_plus_minus,
        found.chill_met_on,
        *usual,
        earlier_years=fit.years,
        method="mean date of own years",
        caution=caution,
    )


@dataclass(frozen=True, slots=True)
class WhatWouldChange:
    """Days by which the dates shift on average; negative is earlier, None where no date is known either way."""

    more_heat_days: float | None
    less_heat_days: float | None
    warm_week_days: float | None


def what_would_change(
    season: Season, requirement: Requirement, earlier: Sequence[Season], warmer: Sequence[Season] | None = None
) -> WhatWouldChange:
    """Return the shift for a tenth more or less heat in the days to come, and for a week 3 K warmer, all re-evaluated.

    ``warmer`` holds the same earlier seasons, chill and heat worked out by the caller from temperatures 3 K higher;
    its next seven days are used, then the earlier year goes on. A warm week can delay, where it costs chill. Raises
    ValueError where ``warmer`` are not the same seasons, or as ``forecast_stage`` does.
    """
    requirement.check_metrics(season)
    tails = _tails(season, earlier)
    base = _members(season, requirement, tails)

    def shift(changed: Sequence[_Tail]) -> float | None:
        both = [
            (after - before, weight)
            for (before, weight), (after, _) in zip(base, _members(season, requirement, changed), strict=True)
            if before is not None and after is not None
        ]
        total = sum(weight for _, weight in both)
        return sum(days * weight for days, weight in both) / total if tails and both else None

    warm_week = None
    if warmer is not None:
        spans = [(each.first_day, len(each.heat)) for each in earlier]
        if [(each.first_day, len(each.heat)) for each in warmer] != spans:
            raise ValueError("the warmer seasons are not the earlier ones; give each with the same days, in order")
        warm_week = shift(
            [
                (warm[0][:WARM_WEEK_DAYS] + chill[WARM_WEEK_DAYS:], warm[1][:WARM_WEEK_DAYS] + heat[WARM_WEEK_DAYS:])
                for warm, (chill, heat) in zip(_tails(season, warmer), tails, strict=True)
            ]
        )
    more, less = (
        shift([(chill, tuple(factor * day for day in heat)) for chill, heat in tails])
        for factor in (1 + HEAT_CHANGE, 1 - HEAT_CHANGE)
    )
    return WhatWouldChange(more, less, warm_week)


_Tail = tuple[tuple[float, ...], tuple[float, ...]]  # chill and heat of the days to come


def _tails(season: Season, earlier: Sequence[Season]) -> list[_Tail]:
    """Return the days after ``season`` from each earlier one, where it holds them."""
    found = []
    for year in earlier:
        if (year.chill_metric, year.heat_metric) != (season.chill_metric, season.heat_metric):
            raise ValueError(f"an earlier season counts {year.chill_metric} and {year.heat_metric}, this one does not")
        start = year.index_of(season.last_day + timedelta(days=1))
        if start is not None:
            found.append((year.chill[start:], year.heat[start:]))
    return found


def _members(season: Season, requirement: Requirement, tails: Sequence[_Tail]) -> list[tuple[int | None, float]]:
    """Return, for each earlier year and each end and middle of the ranges, the date as an ordinal and its weight.

    Without earlier years the season so far is the only one.
    """
    found: list[tuple[int | None, float]] = []
    for chill_tail, heat_tail in tails or [((), ())]:
        chill, heat = season.chill + chill_tail, season.heat + heat_tail
        for chill_required, chill_weight in zip(requirement.chill_range, RANGE_WEIGHTS, strict=True):
            for heat_required, heat_weight in zip(requirement.heat_range, RANGE_WEIGHTS, strict=True):
                index = stage_index(chill, heat, chill_required, heat_required)
                day = season.first_day.toordinal() + index if index < len(heat) else None
                found.append((day, chill_weight * heat_weight))
    return found


def _range(members: Sequence[tuple[int | None, float]]) -> tuple[date | None, date | None, date | None]:
    """Return the early, middle and late date by weight; None where that one is not reached."""
    ordered = sorted(members, key=lambda member: (member[0] is None, member[0] or 0))
    gathered = list(accumulate(weight for _, weight in ordered))

    def at(share: float) -> date | None:
        day = ordered[bisect_left(gathered, share * gathered[-1] - 1e-9)][0]
        return None if day is None else date.fromordinal(day)

    return (at(EARLY_SHARE), at(0.5), at(LATE_SHARE))


def _share(gathered: float, required: float) -> float:
    return 1.0 if required <= 0 else min(1.0, max(0.0, gathered / required))


def _caution(years: int, median: date | None, high: date | None) -> str:
    if median is None and years == 0:
        return "no date known: there is no earlier year to take the days to come from"
    if median is None or high is None:
        return f"in some of {years} earlier years the record ends before the stage is reached"
    if 0 < years < FEW_YEARS:
        return f"rests on {years} earlier {'year' if years == 1 else 'years'} only, so the range is too narrow"
    return ""
