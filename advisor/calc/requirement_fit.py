"""A requirement fitted to a grower's own dated years, and how well it foretells each of them from the others."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from math import sqrt
from statistics import fmean, stdev

import numpy as np

from advisor.calc.chill_then_heat import DatedStage, Season, Sums, day_of_the_year_near, heat_sums, just_under
from advisor.calc.distributions import t_quantile
from advisor.calc.figure import Figure
from advisor.calc.requirement import LEAST_SPREAD, Requirement, shrunk_heat

FEWEST_YEARS_ALONE = 3  # house judgement: own years needed where no heat requirement is published
FEWEST_YEARS_TO_COMPARE = 4  # house judgement: below it, model and mean date cannot be told apart
FEWEST_YEARS_FOR_CHILL = 8  # house judgement: below it, chill is held at the published middle
CHILL_GAIN_DAYS = 0.5  # house judgement: what another chill requirement must save to be taken

CHILL_VALUES_TRIED = 9

HeatRange = tuple[float, float]


@dataclass(frozen=True, slots=True)
class RequirementFit:
    """A requirement fitted to own years, and whether it tells the date better than their mean date does.

    ``weight_own`` is the share of the own mean in the fitted heat. The errors are mean absolute ones, in days, each
    year foretold from the others. ``better`` is None where too few years are there to tell. ``chill_doubted`` are the
    years (of the stage) in which it came before the chill was met.
    """

    requirement: Requirement
    years: int
    own_heat: float
    weight_own: float
    chill_fitted: bool
    model_error_days: float | None
    mean_date_error_days: float | None
    better: bool | None
    chill_doubted: tuple[int, ...]
    mean_offset_days: float
    sd_offset_days: float | None
    anchor: date

    @property
    def verdict(self) -> str:
        """One sentence on how the fitted requirement did beside the mean date."""
        if self.better is None or self.model_error_days is None or self.mean_date_error_days is None:
            return f"too few own years ({self.years}) to tell whether it beats their mean date"
        kept = "better than" if self.better else "not better than"
        return (
            f"{kept} the mean date: off by {self.model_error_days:.1f} days where the mean date is off by "
            f"{self.mean_date_error_days:.1f}, each of {self.years} years foretold from the others"
        )

    @property
    def heat_figure(self) -> Figure:
        """The fitted heat requirement; the width is what a single new year may need, ±2 sd."""
        low, middle, _ = self.requirement.heat_range
        return Figure(middle, self.requirement.heat_metric, "chill then heat, fitted", middle - low, self.verdict)

    def usual_dates(self, season: Season) -> tuple[date, date, date] | None:
        """Return the 10 %, mean and 90 % dates of the own years, for this season; None with fewer than two years.

        The width is Student's t with the spread of a single new year, sd·sqrt(1 + 1/n).
        """
        if self.sd_offset_days is None:
            return None
        start = day_of_the_year_near(self.anchor, season.first_day)
        width = t_quantile(self.years - 1, 0.9) * self.sd_offset_days * sqrt(1 + 1 / self.years)
        low, mean, high = (
            start + timedelta(days=round(self.mean_offset_days + shift)) for shift in (-width, 0.0, width)
        )
        return (low, mean, high)


def fit_requirement(dated: Sequence[DatedStage], published: Requirement) -> RequirementFit:
    """Return the requirement that fits a grower's own dated years, drawn toward the published one while they are few.

    Parameters
    ----------
    dated : sequence of DatedStage
        One stage, dated in past years; several plants' dates of one year count as one year, by their mean.
    published : Requirement
        Published ranges in the same metrics. Its chill must be known (0 to 0 lets heat count from the first day); its
        heat may be None, then at least three own years are needed.

    Returns
    -------
    RequirementFit
        ``requirement`` holds the range that a single new year may need: the fitted middle ±2 sd.

    Raises
    ------
    ValueError
        If the metrics differ, the published chill is not known, or too few years are given.

    Notes
    -----
    A year's heat requirement is the sum at its date, taken at the middle of that day. Dates of one stage hardly tell
    chill from heat, so chill is held at the published middle; from eight years on, nine values across the published
    range are tried, and one is taken where it brings the years, each left out in turn, half a day nearer (house
    judgement). The errors given repeat that whole choice for each year left out, so no year helps to foretell itself.

    While chill is held, its published range closes as the own years take over, by the weight of the published heat:
    own heat sums were counted from that middle, so their spread holds the doubt about it already (house judgement).

    The model is called better where its error is below the mean date's over four years or more (house judgement). With
    so few years that is weak evidence: it says which did better here, not which is true.
    """
    for stage in dated:
        published.check_metrics(stage.season)
    chill_low, chill_mid, chill_high = published.chill_range
    prior = None if published.heat_low is None else published.heat_range[::2]
    past = _Past.of(dated)
    years = len(past.by_year)
    fewest = 1 if prior else FEWEST_YEARS_ALONE
    if years < fewest:
        raise ValueError(f"{years} own years are too few to fit a heat requirement; {fewest} are needed here")

    candidates = [chill_mid]
    if years >= FEWEST_YEARS_FOR_CHILL and chill_high > chill_low:
        candidates += [float(chill) for chill in np.linspace(chill_low, chill_high, CHILL_VALUES_TRIED)]
    curves = [past.curves(chill) for chill in candidates]
    chosen = _choose(past, curves, list(past.by_year), prior)
    own = list(curves[chosen].by_year.values())
    middle, sd, weight = shrunk_heat(own, prior)
    low = max(middle - 2 * sd, LEAST_SPREAD * middle)
    chill, chill_width = candidates[chosen], 0.0 if chosen else (1 - weight) * (chill_high - chill_low) / 2
    errors = _errors_days(past, curves, prior) if years > 1 else None
    offsets = list(past.offset_by_year.values())
    return RequirementFit(
        requirement=Requirement(
            chill - chill_width,
            chill + chill_width,
            low,
            middle + (middle - low),
            published.chill_metric,
            published.heat_metric,
            f"fitted to {years} own years" + (f", with {published.source}" if prior else ""),
        ),
        years=years,
        own_heat=fmean(own),
        weight_own=weight,
        chill_fitted=chosen > 0,
        model_error_days=errors and errors[0],
        mean_date_error_days=errors and errors[1],
        better=errors[0] < errors[1] if errors and years >= FEWEST_YEARS_TO_COMPARE else None,
        chill_doubted=tuple(
            sorted({dated[stage].day.year for stage in range(len(dated)) if curves[chosen].doubted(stage)})
        ),
        mean_offset_days=fmean(offsets),
        sd_offset_days=stdev(offsets) if years > 1 else None,
        anchor=past.anchor,
    )


@dataclass(frozen=True, slots=True)
class _Curves:
    """Under one chill requirement: each dated season's running heat, the heat at its date, the day chill was met."""

    running: list[Sums]
    by_year: dict[int, float]
    chill_met: list[int]
    indices: list[int]

    def missed_days(self, stages: Iterable[int], heat_required: float) -> list[int]:
        """Return by how many days the model misses each date; never met counts as the day after the season's end."""
        found: dict[int, int] = {}  # many trees of a year stand in the same season
        missed = []
        for stage in stages:
            sums = self.running[stage]
            if id(sums) not in found:
                found[id(sums)] = int(np.searchsorted(sums, just_under(heat_required)))
            missed.append(abs(found[id(sums)] - self.indices[stage]))
        return missed

    def doubted(self, stage: int) -> bool:
        return self.indices[stage] <= self.chill_met[stage]


@dataclass(frozen=True, slots=True)
class _Past:
    """The dated stages by number: day of the season, and days from the common anchor.

    What is the mean of a year's stages is kept by the year, oldest first.
    """

    dated: Sequence[DatedStage]
    anchor: date
    indices: list[int]
    offsets: list[float]
    by_year: dict[int, list[int]]
    offset_by_year: dict[int, float]

    @classmethod
    def of(cls, dated: Sequence[DatedStage]) -> _Past:
        if not dated:
            raise ValueError("no dated stage to fit to; give at least one")
        anchor = min(stage.season.first_day for stage in dated)
        near = {day: day_of_the_year_near(anchor, day) for day in {stage.season.first_day for stage in dated}}
        starts = [near[stage.season.first_day] for stage in dated]
        years = [start.year for start in starts]
        indices = [(stage.day - stage.season.first_day).days for stage in dated]
        offsets = [float((stage.day - start).days) for stage, start in zip(dated, starts, strict=True)]
        by_year: dict[int, list[int]] = {year: [] for year in sorted(set(years))}
        for stage, year in enumerate(years):
            by_year[year].append(stage)
        return cls(dated, anchor, indices, offsets, by_year, _means(offsets, by_year))

    def curves(self, chill_required: float) -> _Curves:
        running, at_stage, met = [], [], []
        of_season: dict[int, tuple[int, Sums, list[float]]] = {}  # many trees of a year stand in the same one
        for stage, index in zip(self.dated, self.indices, strict=True):
            season = stage.season
            if id(season) not in of_season:
                found = heat_sums(season.chill, season.heat, chill_required)
                of_season[id(season)] = (*found, found[1].tolist())
            chill_met, sums, told = of_season[id(season)]
            running.append(sums)
            at_stage.append((told[index] + (told[index - 1] if index else 0.0)) / 2)
            met.append(chill_met)
        return _Curves(running, _means(at_stage, self.by_year), met, self.indices)

    def error_days(self, curves: _Curves, years: Sequence[int], published: HeatRange | None) -> float:
        """Return the mean absolute error, each of these years foretold from the others."""
        errors: list[int] = []
        for year in years:
            heat = shrunk_heat([curves.by_year[other] for other in years if other != year], published)[0]
            errors += curves.missed_days(self.by_year[year], heat)
        return fmean(errors)


def _means(values: Sequence[float], by_year: Mapping[int, Sequence[int]]) -> dict[int, float]:
    return {year: fmean([values[stage] for stage in stages]) for year, stages in by_year.items()}


def _choose(past: _Past, curves: Sequence[_Curves], years: Sequence[int], published: HeatRange | None) -> int:
    """Return which chill requirement to use: the first unless another saves half a day."""
    if len(curves) == 1:
        return 0
    errors = [past.error_days(each, years, published) for each in curves]
    best = min(range(len(errors)), key=errors.__getitem__)
    return best if errors[best] <= errors[0] - CHILL_GAIN_DAYS else 0


def _errors_days(past: _Past, curves: Sequence[_Curves], published: HeatRange | None) -> tuple[float, float]:
    """Return the mean absolute errors of fit and mean date; chill is chosen anew without the year left out."""
    model, mean_date = [], []
    for year, stages in past.by_year.items():
        others = [other for other in past.by_year if other != year]
        chosen = curves[_choose(past, curves, others, published)]
        heat = shrunk_heat([chosen.by_year[other] for other in others], published)[0]
        model += chosen.missed_days(stages, heat)
        usual = fmean([past.offset_by_year[other] for other in others])
        mean_date += [abs(usual - past.offsets[stage]) for stage in stages]
    return fmean(model), fmean(mean_date)
