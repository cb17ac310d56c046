"""Requirements, and their fit to own dated years."""

from __future__ import annotations

from datetime import date, timedelta
from statistics import fmean, stdev

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from advisor.calc.chill_then_heat import DatedStage, Season, stage_day
from advisor.calc.requirement import Requirement, shrunk_heat
from advisor.calc.requirement_fit import fit_requirement

METRICS = ("chill days", "degree-days above 5 °C")
RANDOM = np.random.default_rng(20)


def need(
    chill: tuple[float | None, float | None] = (10, 10), heat: tuple[float | None, float | None] = (None, None)
) -> Requirement:
    return Requirement(*chill, *heat, *METRICS, "invented")


def weather(year: int, seed: int, chill: float = 1.0) -> Season:
    """Return an invented season whose heat rises towards summer, more or less so by year."""
    random = np.random.default_rng(seed)
    rise = random.uniform(0.6, 1.6) * np.linspace(0, 12, 240) + random.normal(0, 2, 240)
    cold = np.where(random.uniform(size=240) < 0.7, chill, 0.0)
    heat = tuple(float(each) for each in np.maximum(rise - 3, 0.05))
    return Season(date(year, 11, 1), tuple(float(each) for each in cold), heat, *METRICS)


def dated(count: int, chill: float, heat: float, late_days: tuple[int, ...] = ()) -> list[DatedStage]:
    """Return stages as the model dates them, put off by ``late_days`` in turn."""
    found = []
    for number in range(count):
        season = weather(2000 + number, number)
        day = stage_day(season, chill, heat)
        assert day is not None
        shift = late_days[number % len(late_days)] if late_days else 0
        found.append(DatedStage(season, day + timedelta(days=shift)))
    return found


@pytest.mark.parametrize(
    ("chill", "heat", "said"),
    [
        ((5, 4), (1, 2), "chill requirement 5 to 4"),
        ((-1, 4), (1, 2), "wanted a low end 0 or more"),
        ((1, 4), (0, 2), "heat requirement 0 to 2: wanted a low end above 0"),
        ((1, 4), (3, 2), "heat requirement 3 to 2"),
        ((1, None), (1, 2), "give both ends, or neither"),
        ((1, 4), (1, float("inf")), "heat requirement 1 to inf"),
    ],
)
def test_a_range_that_cannot_be_is_refused(
    chill: tuple[float | None, float | None], heat: tuple[float | None, float | None], said: str
) -> None:
    """Ranges upside down, half given, negative or without end are named."""
    with pytest.raises(ValueError, match=said):
        need(chill, heat)


def test_the_range_of_ten_apricots() -> None:
    """834 to 1442 units and 2624 to 3469 growing degree hours (Acta Hortic. 1214:15-18, abstract) have these middles."""
    belgrade = Requirement(834, 1442, 2624, 3469, "Utah chill units", "growing degree hours, base 4 °C", "Belgrade")
    assert belgrade.chill_range == (834, 1138, 1442)
    assert belgrade.heat_range == (2624, 3046.5, 3469)


def test_what_is_not_known_is_said() -> None:
    """Asking for a heat requirement that nobody published names the source and the way out."""
    with pytest.raises(ValueError, match=r"no heat requirement is known \(invented\); give one, or fit it"):
        _ = need().heat_range
    with pytest.raises(ValueError, match="no chill requirement is known"):
        _ = need(chill=(None, None)).chill_range


def test_one_own_year_weighs_as_much_as_the_published_range() -> None:
    """110 beside 80 to 120 gives 105: two equal precisions."""
    assert shrunk_heat([110.0], (80.0, 120.0))[::2] == (105.0, 0.5)


def test_shrinkage_agrees_with_a_grid_of_bayes_rule() -> None:
    """Mean and spread are those of a normal prior times a normal likelihood, integrated on a dense grid."""
    own, published = [104.0, 98.0, 111.0, 107.0, 96.0], (80.0, 100.0)
    prior_sd = (published[1] - published[0]) / 4
    squares = sum((each - fmean(own)) ** 2 for each in own)
    variance = (2 * prior_sd**2 + squares) / (2 + len(own) - 1)
    grid = np.linspace(60, 140, 200_001)
    density = np.exp(-((grid - 90) ** 2) / (2 * prior_sd**2) - sum((each - grid) ** 2 for each in own) / (2 * variance))
    density /= density.sum()
    mean = float((grid * density).sum())
    spread = float(((grid - mean) ** 2 * density).sum())
    middle, sd, weight = shrunk_heat(own, published)
    assert middle == pytest.approx(mean, abs=1e-6)
    assert sd == pytest.approx((variance + spread) ** 0.5, abs=1e-6)
    assert middle == pytest.approx(weight * fmean(own) + (1 - weight) * 90, abs=1e-9)


@given(st.lists(st.floats(10, 500), min_size=1, max_size=30), st.floats(10, 400), st.floats(0, 200))
def test_the_fit_lies_between_the_published_middle_and_the_own_mean(own: list[float], low: float, width: float) -> None:
    """Shrinkage never leaves the span of the two."""
    middle = shrunk_heat(own, (low, low + width))[0]
    ends = sorted((fmean(own), low + width / 2))
    assert ends[0] - 1e-6 <= middle <= ends[1] + 1e-6


def test_with_many_years_the_own_mean_is_left() -> None:
    """Two hundred own years outweigh the published range, two do not."""
    own = [150.0, 140.0, 160.0, 155.0, 145.0] * 40
    assert shrunk_heat(own, (80.0, 120.0))[0] == pytest.approx(150, abs=0.5)
    assert shrunk_heat(own[:2], (80.0, 120.0))[0] < 140


def test_the_weight_of_own_years_grows() -> None:
    """Each further year of the same spread brings the fit nearer to the own mean."""
    weights = [shrunk_heat([140.0, 160.0] * count, (80.0, 120.0))[2] for count in range(1, 15)]
    assert weights == sorted(weights)


def test_a_published_single_figure_still_yields_to_own_years() -> None:
    """A range without width is read as an sd of 5 %: 100 beside one own 110 gives 105, beside two near 110 more."""
    assert shrunk_heat([110.0], (100.0, 100.0))[::2] == (105.0, 0.5)
    assert shrunk_heat([109.0, 111.0], (100.0, 100.0))[0] > 106


def test_without_anything_published_the_own_years_stand_alone() -> None:
    """The mean, with the spread of a single new year."""
    own = [100.0, 120.0, 110.0]
    assert shrunk_heat(own, None) == (110.0, pytest.approx(stdev(own) * (1 + 1 / 3) ** 0.5), 1.0)
    with pytest.raises(ValueError, match="no own year to fit to"):
        shrunk_heat([], (80.0, 120.0))


def test_a_known_requirement_is_found_again() -> None:
    """Twelve years dated by 10 chill days and 150 degree-days give 150 within a day's heat, and foretell each other."""
    fit = fit_requirement(dated(12, 10, 150), need())
    assert fit.requirement.heat_range[1] == pytest.approx(150, abs=4)
    assert (fit.years, fit.weight_own, fit.better, fit.chill_doubted) == (12, 1.0, True, ())
    assert fit.model_error_days is not None
    assert fit.mean_date_error_days is not None
    assert fit.model_error_days < 1 < fit.mean_date_error_days
    assert fit.verdict.startswith("better than the mean date: off by")
    assert fit.heat_figure.told(digits=0).endswith("degree-days above 5 °C (chill then heat, fitted)")


def test_the_fitted_range_is_two_sd_of_a_new_year() -> None:
    """Low and high lie twice sd·sqrt(1 + 1/n) of the own sums from their mean."""
    stages = dated(5, 10, 150, late_days=(0, 2, -3))
    own = [fit_requirement([stage], need(heat=(1, 2000))).own_heat for stage in stages]
    width = 2 * stdev(own) * (1 + 1 / 5) ** 0.5
    found = fit_requirement(stages, need()).requirement.heat_range
    assert found == pytest.approx((fmean(own) - width, fmean(own), fmean(own) + width))


def test_the_fitted_sum_gives_back_the_day_of_a_single_year() -> None:
    """Heat is taken at the middle of the stage's day, so one year alone is dated to the day."""
    for stage in dated(5, 10, 150):
        wide = fit_requirement([stage], need(heat=(1, 2000)))
        assert stage_day(stage.season, 10, wide.own_heat) == stage.day


@pytest.mark.parametrize("published", [None, (100.0, 140.0)])
def test_errors_agree_with_leaving_out_each_year_by_hand(published: tuple[float, float] | None) -> None:
    """Both errors are those of fits to the other years alone, dated by ``stage_day``."""
    stages = dated(9, 10, 150, late_days=(0, 3, -4, 6))
    requirement = need(heat=published or (None, None))
    fit = fit_requirement(stages, requirement)
    model, plain = [], []
    for left_out in stages:
        others = [stage for stage in stages if stage is not left_out]
        heat = fit_requirement(others, requirement).requirement.heat_range[1]
        found = stage_day(left_out.season, 10, heat)
        assert found is not None
        model.append(abs((found - left_out.day).days))
        usual = fmean((stage.day - stage.season.first_day).days for stage in others)
        plain.append(abs(usual - (left_out.day - left_out.season.first_day).days))
    assert fit.model_error_days == pytest.approx(fmean(model))
    assert fit.mean_date_error_days == pytest.approx(fmean(plain))


def test_several_dates_of_one_year_count_as_one_year() -> None:
    """Two trees in one year are one year, and are left out together."""
    stages = dated(6, 10, 150)
    twice = [DatedStage(stage.season, stage.day + timedelta(days=shift)) for stage in stages for shift in (-1, 1)]
    fit = fit_requirement(twice, need())
    assert fit.years == 6
    assert fit.mean_offset_days == pytest.approx(fit_requirement(stages, need()).mean_offset_days)


def test_one_date_in_every_year_is_told_by_the_mean_date() -> None:
    """Where the day never moves, the model is not better, and says so."""
    same = [DatedStage(weather(2000 + n, n), date(2001 + n, 4, 20)) for n in range(8)]
    fit = fit_requirement(same, need())
    assert fit.better is False
    assert fit.verdict.startswith("not better than the mean date")
    usual = fit.usual_dates(weather(2020, 1))
    assert usual is not None
    assert usual[0] <= date(2021, 4, 20) <= usual[2]
    assert (usual[2] - usual[0]).days <= 2


def test_three_years_are_too_few_to_tell() -> None:
    """Below four years neither is called better; below two there is no error at all."""
    three = fit_requirement(dated(3, 10, 150), need())
    assert three.better is None
    assert three.model_error_days is not None
    assert three.verdict.startswith("too few own years (3)")
    one = fit_requirement(dated(1, 10, 150), need(heat=(100, 200)))
    assert (one.model_error_days, one.mean_date_error_days, one.better) == (None, None, None)
    assert one.usual_dates(weather(2020, 1)) is None


def test_the_usual_dates_have_the_width_of_a_new_year() -> None:
    """Days 100, 110, 120 and 130: mean 115, sd 12.91, t(3) at 90 % 1.638 (printed t tables, from memory): ± 23.6."""
    stages = [DatedStage(weather(2000 + n, n), date(2000 + n, 11, 1) + timedelta(days=100 + 10 * n)) for n in range(4)]
    start = weather(2020, 1)
    usual = fit_requirement(stages, need()).usual_dates(start)
    assert usual is not None
    assert [(day - start.first_day).days for day in usual] == [91, 115, 139]


def test_too_few_years_without_a_published_heat_are_refused() -> None:
    """Nothing published wants three years; something published wants one; no date at all is named."""
    with pytest.raises(ValueError, match="2 own years are too few to fit a heat requirement; 3 are needed"):
        fit_requirement(dated(2, 10, 150), need())
    assert fit_requirement(dated(1, 10, 150), need(heat=(100, 200))).years == 1
    with pytest.raises(ValueError, match="no dated stage"):
        fit_requirement([], need())


def test_chill_is_held_while_years_are_few() -> None:
    """Seven years leave the chill at the published middle, whatever they say."""
    fit = fit_requirement(dated(7, 60, 150), need(chill=(0, 60)))
    assert not fit.chill_fitted
    assert fit.requirement.chill_range == (30, 30, 30)


def test_chill_is_fitted_where_years_can_tell() -> None:
    """Twelve years dated by 60 chill days, published 0 to 60, move off the middle towards 60, and foretell better."""
    stages = [
        DatedStage(each, stage_day(each, 60, 60) or date.max) for each in (weather(2000 + n, n) for n in range(12))
    ]
    fit = fit_requirement(stages, need(chill=(0, 60)))
    held = fit_requirement(stages, need(chill=(30, 30)))
    assert fit.chill_fitted
    assert fit.requirement.chill_range[1] > 45
    assert fit.model_error_days is not None
    assert held.model_error_days is not None
    assert fit.model_error_days < held.model_error_days


def test_chill_is_not_moved_for_a_small_gain() -> None:
    """Twelve years dated by the middle itself leave it where it is, though other values do as well by chance."""
    fit = fit_requirement(dated(12, 10, 150, late_days=(0, 1, -1)), need(chill=(8, 12)))
    assert not fit.chill_fitted
    assert fit.requirement.chill_range == (10, 10, 10)


def test_the_published_chill_range_closes_as_own_years_take_over() -> None:
    """One own year keeps half the width of the chill, many leave none to speak of."""
    one = fit_requirement(dated(1, 10, 150), need(chill=(8, 12), heat=(100, 200))).requirement
    assert one.chill_range == (9, 10, 11)
    seven = fit_requirement(dated(7, 10, 150), need(chill=(8, 12), heat=(100, 200))).requirement
    assert seven.chill_range[2] - seven.chill_range[0] < 1


def test_years_that_came_before_the_chill_was_met_are_named() -> None:
    """A stage before its chill doubts the chill, and is told by the year of the stage."""
    stages = dated(5, 10, 150)
    early = DatedStage(stages[2].season, stages[2].season.first_day + timedelta(days=5))
    fit = fit_requirement([*stages[:2], early, *stages[3:]], need())
    assert fit.chill_doubted == (early.day.year,)


def test_a_day_outside_its_season_and_another_metric_are_refused() -> None:
    """Both are named."""
    with pytest.raises(ValueError, match="2010-01-01 is not in the season 2000-11-01 to"):
        DatedStage(weather(2000, 0), date(2010, 1, 1))
    portions = Requirement(10, 10, None, None, "chill portions", METRICS[1], "invented")
    with pytest.raises(ValueError, match=r"the season counts chill days and .* the requirement chill portions"):
        fit_requirement(dated(4, 10, 150), portions)


@settings(deadline=None, max_examples=20)
@given(st.lists(st.integers(-6, 6), min_size=5, max_size=8), st.floats(50, 100), st.floats(10, 150))
def test_the_fitted_range_holds_its_middle(late: list[int], low: float, width: float) -> None:
    """Low, middle and high stay in order and above 0, and the middle lies between published and own."""
    stages = dated(len(late), 10, 150, tuple(late))
    fit = fit_requirement(stages, need(heat=(low, low + width)))
    bottom, middle, top = fit.requirement.heat_range
    assume(fit.own_heat > 0)
    assert 0 < bottom <= middle <= top
    ends = sorted((fit.own_heat, low + width / 2))
    assert ends[0] - 1e-6 <= middle <= ends[1] + 1e-6
