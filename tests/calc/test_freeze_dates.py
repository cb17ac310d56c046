"""Freeze dates: the two hemispheres, missing days, few years, and the mixture."""

from __future__ import annotations

from datetime import date, timedelta
from statistics import NormalDist, fmean, stdev

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.calc.freeze_dates import (
    at_least_once,
    autumn_freezes,
    frost_free_season,
    mixture_day,
    spring_freezes,
)


def series(years: range, freezes: list[date]) -> dict[date, float]:
    """Invented minima: 5 °C every day but -1 °C on the days named."""
    first, last = date(years[0], 1, 1), date(years[-1], 12, 31)
    days = {first + timedelta(days=n): 5.0 for n in range((last - first).days + 1)}
    return days | {on: -1.0 for on in freezes if first <= on <= last}


def springs(days: list[int], year: int = 2000) -> dict[date, float]:
    """Invented years from ``year`` whose last freeze is on these days of the year."""
    return series(
        range(year, year + len(days)), [date(year + n, 1, 1) + timedelta(days=d - 1) for n, d in enumerate(days)]
    )


def test_last_and_first_are_picked_in_the_north() -> None:
    """The last freeze to July is spring's, the first from August autumn's."""
    days = series(range(2020, 2022), [date(2020, 1, 5), date(2020, 4, 20), date(2020, 10, 3), date(2020, 11, 9),
                                      date(2021, 3, 2), date(2021, 12, 1)])  # fmt: skip
    spring, autumn = spring_freezes(days, 47, 0.0), autumn_freezes(days, 47, 0.0)
    assert spring.by_year == ((2020, date(2020, 4, 20)), (2021, date(2021, 3, 2)))
    assert autumn.by_year == ((2020, date(2020, 10, 3)), (2021, date(2021, 12, 1)))
    season = frost_free_season(spring, autumn)
    assert season.by_year == ((2020, 165), (2021, 273))
    assert season.by_year[0][1] == len([d for d in days if date(2020, 4, 20) < d < date(2020, 10, 3)])


def test_years_are_split_at_midsummer_in_the_south() -> None:
    """The same weather half a year on gives the same seasons, named by the year in which the spring begins."""
    days = series(range(2020, 2023), [date(2020, 7, 5), date(2020, 10, 20), date(2021, 4, 3), date(2021, 5, 9),
                                      date(2021, 9, 2), date(2022, 6, 1)])  # fmt: skip
    spring, autumn = spring_freezes(days, -34, 0.0), autumn_freezes(days, -34, 0.0)
    assert dict(spring.by_year)[2020] == date(2020, 10, 20)
    assert dict(spring.by_year)[2021] == date(2021, 9, 2)
    assert dict(autumn.by_year)[2020] == date(2021, 4, 3)
    assert dict(autumn.by_year)[2021] == date(2022, 6, 1)
    assert dict(frost_free_season(spring, autumn).by_year)[2020] == (date(2021, 4, 3) - date(2020, 10, 20)).days - 1
    assert 2019 in spring.left_out


def test_a_day_at_the_threshold_freezes() -> None:
    """-2.2 counts at -2.2 and not at -2.3."""
    days = springs([100]) | {date(2000, 4, 9): -2.2}
    assert spring_freezes(days, 47, -2.2).with_freeze == 1
    assert spring_freezes(days, 47, -2.3).with_freeze == 0


def test_risks_of_many_years_are_normal_dates() -> None:
    """With 30 dates the three risks are mean and sd times the normal's quantiles, worked out here."""
    last = [100 + (7 * n) % 31 for n in range(30)]
    found = spring_freezes(springs(last), 47, 0.0)
    wanted = [fmean(last) + stdev(last) * NormalDist().inv_cdf(1 - p) for p in (0.9, 0.5, 0.1)]
    assert [risk.day for risk in found.risks] == pytest.approx(wanted)
    assert found.risks[1].month_day == (4, 25)
    assert found.caution == "30 of 30 years had such a freeze."


def test_few_years_widen_and_fewer_give_only_dates() -> None:
    """Ten dates are widened by t sqrt(1 + 1/n), 1.4505 at the tenth (t of 9 degrees of freedom 1.383); nine have none."""
    last = [100, 104, 96, 110, 90, 101, 99, 108, 92, 105]
    ten = spring_freezes(springs(last), 47, 0.0)
    assert ten.risks[2].day == pytest.approx(fmean(last) + stdev(last) * 1.383 * 1.1**0.5, abs=0.01)
    assert "widened" in ten.caution
    nine = spring_freezes(springs(last[:9]), 47, 0.0)
    assert nine.risks == () and len(nine.by_year) == 9 and "too few" in nine.caution
    with pytest.raises(ValueError, match=r"no spring date of risk 0.5 at 0 °C: 9 of 9 years"):
        nine.figure()


def test_a_frost_rarer_than_the_risk_has_no_date() -> None:
    """Where 20 of 40 years freeze, no date is passed in half of the years, and the tenth is the quantile 0.8."""
    freezes = [date(1980 + 2 * n, 1, 1) + timedelta(days=89 + n) for n in range(20)]
    found = spring_freezes(series(range(1980, 2020), freezes), 47, 0.0)
    assert (found.years, found.with_freeze) == (40, 20)
    assert [risk.day is None for risk in found.risks] == [True, True, False]
    days = [float(on.timetuple().tm_yday) for _, on in found.by_year if on]
    assert found.risks[2].day == pytest.approx(fmean(days) + stdev(days) * NormalDist().inv_cdf(0.8))


def test_autumn_risks_lie_on_the_early_side() -> None:
    """The date before which one year in ten freezes is the earliest of the three."""
    freezes = [date(1990 + n, 10, 1) + timedelta(days=(5 * n) % 23) for n in range(25)]
    found = autumn_freezes(series(range(1990, 2015), freezes), 47, 0.0)
    nine, five, one = (risk.day for risk in found.risks)
    assert nine is not None and five is not None and one is not None
    assert one < five < nine


def test_gaps_that_cannot_matter_cost_nothing() -> None:
    """July missing, or the weeks before a recorded freeze, leave the year counted with its date."""
    whole = springs([100, 104, 96])
    gaps = {on: c for on, c in whole.items() if on.month != 7 and on.month != 2}
    assert spring_freezes(gaps, 47, 0.0) == spring_freezes(whole, 47, 0.0)


def test_gaps_after_the_last_freeze_found_leave_the_year_out() -> None:
    """Four days missing where a later freeze could have been are too many, three are not."""
    whole = springs([100, 104, 96])
    for missing, left_out in ((3, ()), (4, (2000,))):
        gaps = {on: c for on, c in whole.items() if not date(2000, 4, 11) <= on < date(2000, 4, 11 + missing)}
        assert spring_freezes(gaps, 47, 0.0).left_out == left_out


@pytest.mark.parametrize(
    ("last", "missing_from", "left_out"),
    [
        ([100, 140], 147, (2001,)),  # up to ten days after the latest freeze of any year
        ([100, 140], 148, ()),
        ([20, 30], 117, (2001,)),  # and at least up to day 120
        ([20, 30], 118, ()),
    ],
)
def test_how_far_a_spring_must_be_known(last: list[int], missing_from: int, left_out: tuple[int, ...]) -> None:
    """Four days missing count as far as freezes reached in any year and ten days on, and at least to day 120."""
    first = date(2001, 1, 1)
    gap = {first + timedelta(days=missing_from - 1 + n) for n in range(4)}
    days = {on: c for on, c in springs(last).items() if on not in gap}
    assert spring_freezes(days, 47, 0.0).left_out == left_out


@pytest.mark.parametrize(
    ("earliest", "missing_from", "left_out"),
    [
        (date(2000, 9, 20), date(2001, 9, 10), (2001,)),  # from ten days before the earliest freeze of any year
        (date(2000, 9, 20), date(2001, 9, 9), ()),
        (date(2000, 12, 20), date(2001, 11, 1), (2001,)),  # and at least over the last 61 days
        (date(2000, 12, 20), date(2001, 10, 31), ()),
    ],
)
def test_how_far_back_an_autumn_must_be_known(earliest: date, missing_from: date, left_out: tuple[int, ...]) -> None:
    """Four days missing count from ten days before the earliest freeze on, and always in November and December."""
    gap = {missing_from + timedelta(days=n) for n in range(4)}
    whole = series(range(2000, 2002), [earliest, date(2001, 12, 24)])
    days = {on: c for on, c in whole.items() if on not in gap}
    assert autumn_freezes(days, 47, 0.0).left_out == left_out


def test_a_year_that_has_only_its_summer_is_no_year_without_frost() -> None:
    """A record that begins in June says nothing of that spring, but of its autumn."""
    days = {on: c for on, c in springs([100, 104, 96]).items() if on >= date(2000, 6, 1)}
    spring, autumn = spring_freezes(days, 47, 0.0), autumn_freezes(days, 47, 0.0)
    assert (spring.left_out, spring.years) == ((2000,), 2)
    assert (autumn.left_out, autumn.years, autumn.with_freeze) == ((), 3, 0)


def test_a_record_that_ends_in_autumn_has_no_autumn_yet() -> None:
    """Up to 20 October without frost is not a year without frost."""
    days = {on: c for on, c in springs([100, 104]).items() if on <= date(2001, 10, 20)}
    assert autumn_freezes(days, 47, 0.0).left_out == (2001,)


def test_seasons_without_both_freezes_are_longer_than_any() -> None:
    """They are counted as unbounded and lower the share, not the lengths."""
    freezes = [d for n in range(24) for d in (date(1990 + n, 4, 10 + n % 9), date(1990 + n, 10, 5 + n % 7))]
    days = series(range(1990, 2014), [on for on in freezes if on.year not in (1995, 1999) or on.month == 4])
    season = frost_free_season(spring_freezes(days, 47, 0.0), autumn_freezes(days, 47, 0.0))
    lengths = [length for _, length in season.by_year]
    assert (len(lengths), season.unbounded) == (22, 2)
    assert dict(season.risks)[0.5] == pytest.approx(
        fmean(lengths) + stdev(lengths) * NormalDist().inv_cdf(0.5 * 24 / 22)
    )
    assert "22 of 24 years" in season.figure().caution
    with pytest.raises(ValueError, match=r"no length of risk 0.25"):
        season.figure(0.25)


def test_the_figure_has_the_sampling_error_of_its_quantile() -> None:
    """For the mean of n normal dates the 90 % half-width is 1.645 sd / sqrt(n); a rarer date is known less well."""
    last = [100 + (7 * n) % 31 for n in range(30)]
    found = spring_freezes(springs(last), 47, 0.0)
    middle, rare = found.figure(0.5), found.figure(0.1)
    assert middle.plus_minus == pytest.approx(1.645 * stdev(last) / 30**0.5)
    assert middle.plus_minus is not None and rare.plus_minus is not None and rare.plus_minus > middle.plus_minus
    assert "counted from 1 January as 1" in middle.unit and "last spring freeze at 0 °C, risk 50%" in middle.method


def test_dates_stay_within_their_window() -> None:
    """A quantile that runs out of the window is set to its edge."""
    found = spring_freezes(springs([1, 60, 2, 3, 1, 2, 2, 3, 1, 2, 4, 2]), 47, 0.0)
    assert found.risks[0].day == 1.0 and found.risks[0].month_day == (1, 1)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.floats(1, 180), min_size=2, max_size=40), st.integers(0, 20), st.booleans())
def test_probabilities_are_ordered(days: list[float], without: int, later: bool) -> None:
    """A rarer freeze is later in spring and earlier in autumn, and once there is no date there is none for surer ones."""
    years = len(days) + without
    found = [mixture_day(days, years, p, later) for p in (0.05, 0.1, 0.3, 0.5, 0.7, 0.9, 0.95)]
    known = [day for day in found if day is not None]
    assert found[: len(known)] == known
    wanted = sorted(known, reverse=later)
    assert known == pytest.approx(wanted, abs=1e-9)


@settings(max_examples=25, deadline=None)
@given(st.lists(st.integers(1, 150), min_size=10, max_size=25), st.floats(0.5, 4))
def test_a_lower_threshold_never_freezes_later(days: list[int], lower_k: float) -> None:
    """Each year's last freeze at a lower threshold is no later than at a higher one."""
    whole = springs(days)
    graded = {on: (c if c > 0 else -1.0 - 5 * (on.day % 2)) for on, c in whole.items()}
    high, low = (dict(spring_freezes(graded, 47, t).by_year) for t in (0.0, -lower_k))
    for year, on in low.items():
        upper = high[year]
        assert on is None or (upper is not None and on <= upper)


def test_recurrence_by_counting() -> None:
    """One year in ten comes at least once in ten years with 0.6513, one less nine tenths to the tenth."""
    chance = 1.0
    for _ in range(10):
        chance *= 0.9
    assert at_least_once(0.1, 10) == pytest.approx(1 - chance)
    assert at_least_once(0.1, 0) == 0 and at_least_once(1, 1) == 1


def test_no_days_no_dates() -> None:
    """An empty record gives no years and says so."""
    found = spring_freezes({}, 47, 0.0)
    assert (found.years, found.risks, found.mean_day) == (0, (), None)
    assert found.caution == "0 of 0 years had such a freeze: too few for risks, the dates stand by themselves."


def test_bad_input_is_named() -> None:
    """What cannot be is refused in words."""
    whole = springs([100])
    spring = spring_freezes(whole, 47, 0.0)
    for call, said in (
        (lambda: spring_freezes(whole, 5, 0.0), "latitude 5° is not between 10 and 90"),
        (lambda: spring_freezes(whole, float("nan"), 0.0), "latitude nan"),
        (lambda: spring_freezes(whole, 47, float("nan")), "threshold nan"),
        (lambda: autumn_freezes({date(2000, 1, 1): float("nan")}, 47, 0.0), "minimum of 2000-01-01 is nan"),
        (lambda: mixture_day([1.0, 2.0], 2, 0.0, True), "probability 0.0"),
        (lambda: mixture_day([1.0], 2, 0.5, True), "1 dates in 2 years"),
        (lambda: mixture_day([1.0, 2.0, 3.0], 2, 0.5, True), "3 dates in 2 years"),
        (lambda: frost_free_season(spring, spring), "a spring and an autumn of one threshold"),
        (lambda: frost_free_season(spring, autumn_freezes(whole, 47, -2.2)), "one threshold"),
        (lambda: at_least_once(1.5, 1), "probability 1.5 in 1 years"),
    ):
        with pytest.raises(ValueError, match=said):
            call()
