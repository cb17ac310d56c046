"""Seasons, growing years and springs, north and south."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.calc.calendar import (
    growing_year,
    growing_year_start,
    heat_start,
    median_date,
    season,
    set_in_year,
    soil_is_warming,
    spring_start,
    springs_since,
)

days = st.dates(date(1950, 1, 1), date(2100, 12, 31))
latitudes = st.sampled_from([47.0, -34.0])


@pytest.mark.parametrize(
    ("day", "north", "south"),
    [
        (date(2026, 1, 15), "winter", "summer"),
        (date(2026, 3, 1), "spring", "autumn"),
        (date(2026, 5, 31), "spring", "autumn"),
        (date(2026, 6, 1), "summer", "winter"),
        (date(2026, 9, 1), "autumn", "spring"),
        (date(2026, 12, 1), "winter", "summer"),
    ],
)
def test_seasons_by_whole_months(day: date, north: str, south: str) -> None:
    """Meteorological seasons, as weather services define them (common practice, no source)."""
    assert (season(day, 47.0), season(day, -34.0)) == (north, south)


@given(days, latitudes)
def test_a_day_lies_in_its_growing_year(day: date, latitude: float) -> None:
    """A growing year starts on or before its days and ends before the next one starts; spring lies in it."""
    year = growing_year(day, latitude)
    assert growing_year_start(year, latitude) <= day < growing_year_start(year + 1, latitude)
    for start in (spring_start(year, latitude), heat_start(year, latitude)):
        assert growing_year_start(year, latitude) <= start < growing_year_start(year + 1, latitude)


@given(days, latitudes)
def test_a_later_planting_has_stood_fewer_springs(day: date, latitude: float) -> None:
    """Planting a year earlier adds exactly one spring."""
    today = date(2026, 4, 24)
    planted = min(day, today - timedelta(days=400))
    earlier = planted.replace(year=planted.year - 1) if (planted.month, planted.day) != (2, 29) else None
    if earlier:
        assert springs_since(earlier, today, latitude) == springs_since(planted, today, latitude) + 1


def test_springs_in_the_south() -> None:
    """A tree planted in August in the south is in its first spring in October."""
    assert springs_since(date(2026, 8, 20), date(2026, 10, 5), -34.0) == 1


def test_soil_goes_on_warming_into_early_summer() -> None:
    """March to June in the north, September to December in the south."""
    assert [month for month in range(1, 13) if soil_is_warming(date(2026, month, 10), 47)] == [3, 4, 5, 6]
    assert [month for month in range(1, 13) if soil_is_warming(date(2026, month, 10), -34)] == [9, 10, 11, 12]


def test_median_of_dates() -> None:
    """The middle date, or the day between the middle two, rounded down."""
    assert median_date([date(2026, 4, 9), date(2026, 4, 1), date(2026, 4, 4)]) == date(2026, 4, 4)
    assert median_date([date(2026, 4, 1), date(2026, 4, 4)]) == date(2026, 4, 2)
    with pytest.raises(ValueError, match="no dates"):
        median_date([])


@given(days, days)
def test_a_day_set_in_a_year_keeps_its_place(day: date, start: date) -> None:
    """The moved day lies within the year that begins at the start, on the same day of the month."""
    moved = set_in_year(day, start)
    assert start <= moved <= start + timedelta(days=366)
    assert moved.month == day.month
    assert moved.day == day.day or (day.month, day.day) == (2, 29)
