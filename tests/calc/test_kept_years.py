"""Years that are kept: a new day is reckoned alone, a mended day anew, and the result is that of one run."""

from __future__ import annotations

from datetime import date, timedelta
from math import pi, sin

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.calc.chill import daily_chill_and_heat
from advisor.calc.day_curve import Day
from advisor.calc.degree_days import single_sine_degree_days
from advisor.calc.kept_years import KeptYears, heat_of

START = date(2025, 11, 1)
NAMES = ("portions", "chilling_hours", "utah_units", "growing_degree_hours")


def winter(count: int) -> tuple[Day, ...]:
    """Return days that swing through freezing and through what chills best."""
    means = [5 + 4 * sin(n * 2 * pi / 9) for n in range(count)]
    return tuple((START + timedelta(days=n), mean - 4, mean + 5) for n, mean in enumerate(means))


@settings(max_examples=40, deadline=None)
@given(st.lists(st.integers(1, 25), min_size=1, max_size=5), st.sets(st.integers(1, 60), max_size=6))
def test_days_one_after_another_give_what_one_run_gives(growth: list[int], missing: set[int]) -> None:
    """However the days arrive, and whichever are missing, each day has the chill and heat of the whole run."""
    days = tuple(day for n, day in enumerate(winter(sum(growth))) if n not in missing)
    kept = KeptYears()
    for end in np.cumsum(growth).tolist():
        part = tuple(day for day in days if day[0] < START + timedelta(days=end))
        found = kept.year(47.0, part)
    whole = daily_chill_and_heat(days, 47.0)
    for name in NAMES:
        assert getattr(found.each, name) == pytest.approx(getattr(whole, name), abs=1e-9)
    assert found.days == days


def test_a_new_day_costs_two_days_and_an_old_one_nothing() -> None:
    """The day before is reckoned again, since its evening leans on the new morning; asked again, nothing is."""
    kept, days = KeptYears(), winter(120)
    kept.year(47.0, days[:119])
    assert kept.days_reckoned == 119
    kept.year(47.0, days)
    assert kept.days_reckoned == 121
    kept.year(47.0, days)
    assert kept.days_reckoned == 121


def test_a_mended_day_is_reckoned_anew() -> None:
    """A value corrected in the middle changes the year; no stale figure is given."""
    kept, days = KeptYears(), winter(60)
    kept.year(47.0, days)
    mended = (*days[:20], (days[20][0], days[20][1] - 9, days[20][2]), *days[21:])
    found = kept.year(47.0, mended)
    assert found.each.portions == pytest.approx(daily_chill_and_heat(mended, 47.0).portions)


def test_degree_days_are_those_of_each_day() -> None:
    """By the single sine above the base that the measure names."""
    found = KeptYears().year(47.0, winter(30))
    wanted = [single_sine_degree_days(low, high, 5.0) for _, low, high in found.days]
    assert heat_of(found, "degree-days above 5 °C") == pytest.approx(wanted)
    assert heat_of(found, "growing degree hours, base 4 °C") is found.each.growing_degree_hours
