"""Chill then heat in sequence, and dates for a season under way."""

from __future__ import annotations

from datetime import date, timedelta
from functools import reduce
from operator import add

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.calc.chill_then_heat import (
    DatedStage,
    Season,
    SeasonDay,
    day_of_the_year_near,
    heat_sums,
    season_from_days,
    stage_day,
)
from advisor.calc.forecast import forecast_from_fit, forecast_stage, what_would_change
from advisor.calc.requirement import Requirement
from advisor.calc.requirement_fit import fit_requirement

METRICS = ("chill days", "degree-days above 5 °C")
START = date(2024, 11, 1)
AMOUNTS = st.lists(st.floats(0, 20), min_size=5, max_size=60)


def season(chill: list[float], heat: list[float], first: date = START) -> Season:
    return Season(first, tuple(chill), tuple(heat), *METRICS)


def steady(first: date, days: int, heat: float, chill: float = 1.0) -> Season:
    return season([chill] * days, [heat] * days, first)


def wanted(chill: tuple[float, float], heat: tuple[float, float]) -> Requirement:
    return Requirement(*chill, *heat, *METRICS, "invented")


def walk(chill: list[float], heat: list[float], chill_required: float, heat_required: float) -> int | None:
    """Return the stage's day by a plain walk through the days, the heat counted from the day after the chill."""
    chill_sum = heat_sum = 0.0
    met = chill_required <= 0
    for index, (cold, warm) in enumerate(zip(chill, heat, strict=True)):
        if met:
            heat_sum += warm
            if heat_sum >= heat_required - 1e-9 * max(1, heat_required):
                return index
        else:
            chill_sum += cold
            met = chill_sum >= chill_required - 1e-9 * max(1, chill_required)
    return None


def test_a_stage_worked_by_hand() -> None:
    """Ten chill days end on 10 November; 12 degree-days at 2 a day from the 11th are reached on the 16th."""
    assert stage_day(steady(START, 30, 2.0), 10, 12) == date(2024, 11, 16)


def test_heat_on_the_day_the_chill_is_met_does_not_count() -> None:
    """Heat counts from the next day."""
    assert stage_day(season([1, 1, 0, 0], [50, 50, 0, 9]), 2, 9) == START + timedelta(days=3)


def test_without_chill_heat_counts_from_the_first_day() -> None:
    """A chill requirement of 0 is met before the season starts."""
    assert stage_day(season([0, 0], [9, 0]), 0, 9) == START


def test_sums_of_tenths_are_not_a_day_late() -> None:
    """Ten times 0.1 reaches 1 although the sum in floating point is just under it."""
    assert reduce(add, [0.1] * 10) < 1  # as a running sum is; Python's own is exact from 3.12 on
    assert stage_day(season([0.1] * 10 + [0] * 10, [0] * 10 + [0.1] * 10), 1.0, 1.0) == START + timedelta(days=19)


def test_a_season_that_ends_before_has_no_date() -> None:
    """Chill or heat never met gives None."""
    assert stage_day(steady(START, 9, 2.0), 10, 1) is None
    assert stage_day(steady(START, 30, 2.0), 10, 41) is None
    assert stage_day(steady(START, 30, 2.0), 10, 40) == date(2024, 11, 30)


def test_chill_that_falls_again_stays_met() -> None:
    """With units that can be negative the first day that reaches the requirement counts."""
    assert stage_day(season([2, 2, -3, 0, 0], [0, 0, 1, 1, 1]), 4, 3) == START + timedelta(days=4)


@given(
    st.lists(st.tuples(st.floats(-1, 3), st.floats(0, 20)), min_size=1, max_size=80),
    st.floats(0, 60),
    st.floats(0.5, 300),
)
def test_a_stage_agrees_with_a_plain_walk(days: list[tuple[float, float]], chill: float, heat: float) -> None:
    """The date by running sums is that of a walk through the days."""
    cold, warm = [day[0] for day in days], [day[1] for day in days]
    index = walk(cold, warm, chill, heat)
    found = stage_day(season(cold, warm), chill, heat)
    assert found == (None if index is None else START + timedelta(days=index))


@given(AMOUNTS, st.lists(st.floats(0, 5), min_size=60, max_size=60), st.floats(0, 30), st.floats(1, 200))
def test_more_heat_never_delays(heat: list[float], more: list[float], chill: float, required: float) -> None:
    """Raising any day's heat leaves the date or brings it forward."""
    cold = [1.0] * len(heat)
    before = stage_day(season(cold, heat), chill, required) or date.max
    warmer = [each + extra for each, extra in zip(heat, more, strict=False)]
    assert (stage_day(season(cold, warmer), chill, required) or date.max) <= before


@given(AMOUNTS, st.floats(0, 30), st.floats(0, 10), st.floats(1, 200), st.floats(0, 50))
def test_a_higher_requirement_never_comes_earlier(
    heat: list[float], chill: float, more_chill: float, required: float, more_heat: float
) -> None:
    """More chill or more heat required leaves the date or puts it off."""
    year = season([1.0] * len(heat), heat)
    before = stage_day(year, chill, required) or date.max
    assert (stage_day(year, chill + more_chill, required + more_heat) or date.max) >= before


def test_sums_start_after_the_chill() -> None:
    """Running heat is 0 up to the day that meets the chill, and all through where it is never met."""
    met, sums = heat_sums([1, 1, 1, 1], [5, 5, 5, 5], 2)
    assert (met, list(sums)) == (1, [0, 0, 5, 10])
    met, sums = heat_sums([1, 1], [5, 5], 3)
    assert (met, list(sums)) == (2, [0, 0])


@pytest.mark.parametrize(
    ("chill", "heat", "said"),
    [
        ((1.0,), (1.0, 2.0), "1 days of chill and 2 of heat"),
        ((), (), "give both for each of 1 to 366 days"),
        ((1.0,) * 367, (1.0,) * 367, "season of 367 days"),
        ((1.0,), (-0.1,), "heat never below 0"),
        ((float("nan"),), (1.0,), "must be numbers"),
    ],
)
def test_a_season_that_cannot_be_is_refused(chill: tuple[float, ...], heat: tuple[float, ...], said: str) -> None:
    """Lengths that differ, more than a year, negative heat and no number are named."""
    with pytest.raises(ValueError, match=said):
        Season(START, chill, heat, *METRICS)


def test_requirements_that_cannot_be_are_refused() -> None:
    """Chill below 0 and heat of 0 are named."""
    for chill, heat in ((-1, 5), (1, 0), (float("nan"), 5)):
        with pytest.raises(ValueError, match="chill from 0, heat above 0"):
            stage_day(steady(START, 5, 1.0), chill, heat)


def days(values: list[float | None]) -> list[SeasonDay]:
    return [
        SeasonDay(START + timedelta(days=n), value, None if value is None else 2 * value)
        for n, value in enumerate(values)
    ]


def test_missing_days_are_filled_from_their_neighbours() -> None:
    """A gap takes the mean of the known days on each side, told as None or left out; trailing gaps are cut off."""
    told = [1.0] * 10 + [3.0, None, None, 5.0] + [1.0] * 10 + [None]
    filled = season_from_days(days(told), *METRICS)
    assert filled.chill[10:14] == (3.0, 4.0, 4.0, 5.0)
    assert filled.heat[10:14] == (6.0, 8.0, 8.0, 10.0)
    assert (filled.filled_days, filled.last_day) == (2, START + timedelta(days=23))
    left_out = [day for day in days(told) if day.chill is not None]
    assert season_from_days(left_out, *METRICS) == filled


def test_nothing_missing_changes_nothing() -> None:
    """Whole days pass through as they are."""
    assert season_from_days(days([0.0, 1.5, 2.0]), *METRICS) == season([0.0, 1.5, 2.0], [0.0, 3.0, 4.0])


def test_missing_up_to_the_stated_share_is_tolerated() -> None:
    """Two of twenty are a tenth; three are refused."""
    assert season_from_days(days([1.0] * 17 + [None, None, 1.0]), *METRICS).filled_days == 2
    with pytest.raises(ValueError, match="3 of 20 days are missing, 2 of them in a row; at most 10% may be"):
        season_from_days(days([1.0] * 10 + [None] + [1.0] * 6 + [None, None, 1.0]), *METRICS)


def test_a_long_gap_is_refused_whatever_the_share() -> None:
    """Five days in a row are filled, six are not."""
    assert season_from_days(days([1.0] * 99 + [None] * 5 + [1.0]), *METRICS).filled_days == 5
    with pytest.raises(ValueError, match="6 of them in a row"):
        season_from_days(days([1.0] * 99 + [None] * 6 + [1.0]), *METRICS)


def test_days_out_of_order_or_a_missing_first_day_are_refused() -> None:
    """A season starts on a known day and runs forward."""
    with pytest.raises(ValueError, match="out of order or told twice"):
        season_from_days(days([1.0, 2.0])[::-1], *METRICS)
    with pytest.raises(ValueError, match="out of order or told twice"):
        season_from_days(days([1.0]) * 2, *METRICS)
    for nothing in (days([None, 1.0]), []):
        with pytest.raises(ValueError, match="first day of the season has no chill"):
            season_from_days(nothing, *METRICS)


def test_the_same_day_of_another_year() -> None:
    """Calendar days are matched, over the new year and on 29 February."""
    year = steady(date(2022, 11, 1), 365, 1.0)
    assert year.index_of(date(2025, 1, 1)) == (date(2023, 1, 1) - date(2022, 11, 1)).days
    assert year.index_of(date(2024, 2, 29)) == (date(2023, 2, 28) - date(2022, 11, 1)).days
    assert year.index_of(date(2024, 10, 31)) == 364
    assert steady(date(2022, 11, 1), 300, 1.0).index_of(date(2024, 10, 31)) is None
    assert day_of_the_year_near(date(2025, 1, 2), date(2019, 12, 30)) == date(2020, 1, 2)


def test_a_forecast_worked_by_hand() -> None:
    """Chill met on 10 November, half the heat by the 20th; 1, 2 and 5 degree-days a day give 30, 25 and 22 November."""
    so_far = steady(START, 20, 1.0)
    earlier = [steady(date(year, 11, 1), 365, heat) for year, heat in ((2021, 1.0), (2022, 2.0), (2023, 5.0))]
    found = forecast_stage(so_far, wanted((10, 10), (20, 20)), earlier)
    assert (found.chill_share, found.heat_share, found.chill_met_on) == (1.0, 0.5, date(2024, 11, 10))
    assert (found.low, found.median, found.high) == (date(2024, 11, 22), date(2024, 11, 25), date(2024, 11, 30))
    assert found.earlier_years == 3
    assert "3 earlier years only" in found.caution
    to_go = found.days_to_go
    assert to_go is not None
    assert (to_go.value, to_go.plus_minus, to_go.unit) == (5.0, 4.0, "days")


def test_before_the_chill_is_met_no_heat_counts() -> None:
    """Eight of 8 to 12 chill days are 80 %, between 67 and 100 %; heat is 0 whatever fell."""
    found = forecast_stage(steady(START, 8, 9.0), wanted((8, 12), (20, 20)), [])
    assert found.chill_share == pytest.approx(0.8)
    assert found.chill_share_plus_minus == pytest.approx((1 - 8 / 12) / 2)
    assert (found.heat_share, found.chill_met_on) == (0.0, None)
    assert found.chill_figure.told(digits=0) == "80 ± 17 % of the chill (chill then heat)"
    assert found.heat_figure.value == 0.0


def test_chill_once_met_stays_met() -> None:
    """Warm days that take units away again do not undo what was met."""
    found = forecast_stage(season([2.0] * 5 + [-1.0] * 5, [0.0] * 10), wanted((8, 10), (20, 20)), [])
    assert (found.chill_share, found.chill_share_plus_minus) == (1.0, 0.0)
    assert found.chill_met_on == START + timedelta(days=4)


def test_without_earlier_years_no_date_is_known() -> None:
    """Shares are still given; a stage reached already has its date."""
    found = forecast_stage(steady(START, 20, 1.0), wanted((10, 10), (20, 20)), [])
    assert (found.heat_share, found.low, found.median, found.high) == (0.5, None, None, None)
    assert found.days_to_go is None
    assert "no date known" in found.caution
    partly = forecast_stage(steady(START, 20, 1.0), wanted((10, 10), (4, 40)), [])
    assert (partly.low, partly.median, partly.high) == (None, None, None)
    reached = forecast_stage(steady(START, 20, 1.0), wanted((10, 10), (10, 10)), [])
    assert reached.low == reached.high == date(2024, 11, 20)
    assert reached.caution == ""


def test_the_requirements_own_range_widens_the_dates() -> None:
    """With one earlier year the range of dates is that of the requirement's low and high heat."""
    found = forecast_stage(steady(START, 20, 1.0), wanted((10, 10), (20, 40)), [steady(date(2023, 11, 1), 365, 1.0)])
    assert [found.low, found.median, found.high] == [date(2024, 11, 10) + timedelta(days=n) for n in (20, 30, 40)]


def test_an_earlier_year_too_short_counts_as_late() -> None:
    """A record that ends before the stage leaves the late date unknown; one without the next day is left out."""
    whole, short = steady(date(2022, 11, 1), 365, 1.0), steady(date(2023, 11, 1), 25, 1.0)
    found = forecast_stage(steady(START, 20, 1.0), wanted((10, 10), (20, 20)), [whole, short])
    assert (found.median, found.high) == (date(2024, 11, 30), None)
    assert "record ends before" in found.caution
    ended = steady(date(2023, 11, 1), 20, 1.0)
    assert forecast_stage(steady(START, 20, 1.0), wanted((10, 10), (20, 20)), [whole, ended]).earlier_years == 1


@settings(deadline=None, max_examples=40)
@given(
    st.lists(st.lists(st.floats(0.5, 20), min_size=60, max_size=60), min_size=1, max_size=6),
    st.floats(2, 10),
    st.floats(0, 8),
    st.floats(20, 100),
    st.floats(0, 80),
)
def test_the_range_agrees_with_a_weighted_quantile(
    years: list[list[float]], chill: float, chill_more: float, heat: float, heat_more: float
) -> None:
    """The three dates are numpy's weighted inverted-CDF quantiles of a plain walk over years and requirement ends."""
    so_far = steady(START, 12, 1.0)
    earlier = [season([1.0] * 60, each, date(2010 + n, 11, 1)) for n, each in enumerate(years)]
    need = wanted((chill, chill + chill_more), (heat, heat + heat_more))
    dates, weights = [], []
    for year in years:
        for cold, cold_weight in zip(need.chill_range, (1, 6, 1), strict=True):
            for warm, warm_weight in zip(need.heat_range, (1, 6, 1), strict=True):
                index = walk([1.0] * 60, [1.0] * 12 + year[12:], cold, warm)
                dates.append(10_000 if index is None else index)
                weights.append(cold_weight * warm_weight)
    theirs = np.quantile(dates, [0.1, 0.5, 0.9], weights=weights, method="inverted_cdf")
    found = forecast_stage(so_far, need, earlier)
    for ours, index in zip((found.low, found.median, found.high), theirs, strict=True):
        assert ours == (None if index == 10_000 else START + timedelta(days=int(index)))


def test_sums_of_another_method_are_refused() -> None:
    """A season in portions is not held against a requirement in days, nor filled from years in another metric."""
    portions = Season(START, (1.0,), (1.0,), "chill portions", METRICS[1])
    with pytest.raises(ValueError, match=r"the season counts chill portions .* the requirement chill days"):
        forecast_stage(portions, wanted((1, 1), (1, 1)), [])
    with pytest.raises(ValueError, match="an earlier season counts chill portions"):
        forecast_stage(steady(START, 2, 1.0), wanted((1, 1), (1, 1)), [portions])


def test_what_would_change_worked_by_hand() -> None:
    """20 degree-days to go at 2 a day: 10 days; at 2.2 ten still, at 1.8 twelve; a week at 4 a day makes it five."""
    so_far, earlier = steady(START, 20, 2.0), [steady(date(2023, 11, 1), 365, 2.0)]
    warmer = [steady(date(2023, 11, 1), 365, 4.0)]
    found = what_would_change(so_far, wanted((10, 10), (40, 40)), earlier, warmer)
    # 1.1 × 2 = 2.2: ten days hold 22, nine 19.8; 0.9 × 2 = 1.8: twelve hold 21.6, eleven 19.8; a week at 4 holds 20 on day 5
    assert (found.more_heat_days, found.less_heat_days, found.warm_week_days) == (0.0, 2.0, -5.0)


def test_a_warm_week_that_costs_chill_delays() -> None:
    """Where the week gives no chill, the stage comes seven days later."""
    so_far, earlier = steady(START, 5, 0.0), [steady(date(2023, 11, 1), 365, 1.0)]
    warmer = [steady(date(2023, 11, 1), 365, 1.0, chill=0.0)]
    assert what_would_change(so_far, wanted((10, 10), (20, 20)), earlier, warmer).warm_week_days == 7.0


def test_what_would_change_is_not_known_without_earlier_years() -> None:
    """No years, no shift; warmer seasons that are not the earlier ones are refused."""
    so_far, need = steady(START, 20, 1.0), wanted((10, 10), (20, 20))
    found = what_would_change(so_far, need, [])
    assert (found.more_heat_days, found.less_heat_days, found.warm_week_days) == (None, None, None)
    with pytest.raises(ValueError, match="warmer seasons are not the earlier ones"):
        what_would_change(so_far, need, [steady(date(2023, 11, 1), 365, 1.0)], [])


@settings(deadline=None, max_examples=30)
@given(st.lists(st.floats(0.5, 10), min_size=1, max_size=5), st.floats(15, 60))
def test_more_heat_never_shifts_later(heats: list[float], required: float) -> None:
    """The shift is never positive for more heat nor negative for less."""
    earlier = [steady(date(2010 + n, 11, 1), 365, heat) for n, heat in enumerate(heats)]
    found = what_would_change(steady(START, 20, 1.0), wanted((10, 12), (required, required + 5)), earlier)
    assert found.more_heat_days is not None
    assert found.less_heat_days is not None
    assert found.more_heat_days <= 0 <= found.less_heat_days


def test_a_fit_that_is_no_better_gives_the_mean_date() -> None:
    """Where own years stand on one date whatever the heat, the mean date is given, with the reason."""
    years = [steady(date(2015 + n, 11, 1), 365, heat) for n, heat in enumerate((1.0, 2.0, 4.0, 1.5, 3.0))]
    same_day = [DatedStage(each, each.first_day + timedelta(days=60)) for each in years]
    fit = fit_requirement(same_day, Requirement(10, 10, None, None, *METRICS, "invented"))
    found = forecast_from_fit(steady(START, 20, 1.0), fit, years)
    assert fit.better is False
    assert found.low == found.median == found.high == START + timedelta(days=60)
    assert (found.method, found.earlier_years) == ("mean date of own years", 5)
    assert "not better than the mean date" in found.caution
    assert found.heat_share == forecast_stage(steady(START, 20, 1.0), fit.requirement, years).heat_share


def test_a_mean_date_that_has_passed_is_not_foretold() -> None:
    """Past the mean date the fitted requirement is gone by, although it foretold no better."""
    years = [steady(date(2015 + n, 11, 1), 365, heat) for n, heat in enumerate((1.0, 2.0, 4.0, 1.5, 3.0))]
    same_day = [DatedStage(each, each.first_day + timedelta(days=60)) for each in years]
    fit = fit_requirement(same_day, Requirement(10, 10, None, None, *METRICS, "invented"))
    season = steady(START, 90, 0.1)
    late, fitted = forecast_from_fit(season, fit, years), forecast_stage(season, fit.requirement, years)
    assert "mean date has passed already" in late.caution
    assert (late.low, late.median, late.high) == (fitted.low, fitted.median, fitted.high)
    assert late.method == "chill then heat"
    assert late.median is not None
    assert late.median > season.last_day


def test_a_fit_that_is_better_gives_its_own_dates() -> None:
    """Where own years follow the heat, the requirement's dates are given."""
    years = [steady(date(2015 + n, 11, 1), 365, heat) for n, heat in enumerate((1.0, 2.0, 4.0, 1.5, 3.0))]
    dated = [DatedStage(each, stage_day(each, 10, 120) or date.max) for each in years]
    fit = fit_requirement(dated, Requirement(10, 10, None, None, *METRICS, "invented"))
    found = forecast_from_fit(steady(START, 20, 1.0), fit, years)
    assert fit.better is True
    assert found == forecast_stage(steady(START, 20, 1.0), fit.requirement, years)
    assert found.method == "chill then heat"
