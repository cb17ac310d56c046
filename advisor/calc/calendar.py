"""Seasons and growing years by hemisphere, and days of the year set into another year."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from statistics import median

SEASONS = ("winter", "winter", "spring", "spring", "spring", "summer", "summer", "summer", "autumn", "autumn", "autumn",
           "winter")  # fmt: skip


def northern_month(day: date, latitude_deg: float) -> int:
    """Return the month (1 to 12) that stands at the same point of the year in the north.

    >>> northern_month(date(2026, 10, 3), -34.0)
    4
    """
    return day.month if latitude_deg >= 0 else (day.month + 5) % 12 + 1


def season(day: date, latitude_deg: float) -> str:
    """Return the season by whole months: spring is March to May in the north, September to November in the south.

    Months are common practice (meteorological seasons); near the equator they mean nothing.
    """
    return SEASONS[northern_month(day, latitude_deg) - 1]


def soil_is_warming(day: date, latitude_deg: float) -> bool:
    """Return whether soil is still gaining warmth: March to June in the north (house judgement)."""
    return 3 <= northern_month(day, latitude_deg) <= 6


def growing_year(day: date, latitude_deg: float) -> int:
    """Return the growing year a day belongs to, named by the calendar year of its spring.

    It starts on 1 November in the north and 1 May in the south, when trees go to rest.

    >>> growing_year(date(2025, 11, 2), 47.0), growing_year(date(2026, 10, 31), 47.0)
    (2026, 2026)
    >>> growing_year(date(2026, 5, 1), -34.0), growing_year(date(2026, 4, 30), -34.0)
    (2026, 2025)
    """
    if latitude_deg >= 0:
        return day.year + (day.month >= 11)
    return day.year - (day.month < 5)


def growing_year_start(year: int, latitude_deg: float) -> date:
    """Return the first day of a growing year."""
    return date(year - 1, 11, 1) if latitude_deg >= 0 else date(year, 5, 1)


def heat_start(year: int, latitude_deg: float) -> date:
    """Return the day from which heat is summed in a growing year: 1 January in the north, 1 July in the south."""
    return date(year, 1, 1) if latitude_deg >= 0 else date(year, 7, 1)


def spring_start(year: int, latitude_deg: float) -> date:
    """Return the first day of a growing year's spring."""
    return date(year, 3, 1) if latitude_deg >= 0 else date(year, 9, 1)


def springs_since(planted: date, today: date, latitude_deg: float) -> int:
    """Return how many springs a plant has stood through since it was planted, the present one counted.

    A spring counts if the plant was in place before its last month was out, and it has begun by today.

    >>> springs_since(date(2026, 3, 14), date(2026, 4, 24), 47.0)
    1
    >>> springs_since(date(2025, 6, 2), date(2026, 4, 24), 47.0)
    1
    >>> springs_since(date(2025, 4, 2), date(2026, 4, 24), 47.0)
    2
    """
    count = 0
    for year in range(planted.year - 1, today.year + 1):
        start = spring_start(year, latitude_deg)
        end = date(start.year, start.month + 3, 1)
        if planted < end and start <= today:
            count += 1
    return max(count, 0)


def set_in_year(day: date, start: date) -> date:
    """Return the same day of the year within the year that starts at ``start``; 29 February becomes the 28th.

    >>> set_in_year(date(2024, 2, 29), date(2025, 11, 1))
    datetime.date(2026, 2, 28)
    """
    for year in (start.year, start.year + 1):
        try:
            moved = day.replace(year=year)
        except ValueError:
            moved = date(year, 2, 28)
        if moved >= start:
            return moved
    raise AssertionError("one of two years lies after the start")


def median_date(days: Sequence[date]) -> date:
    """Return the median of dates of one year, the earlier of the middle two rounded to a day.

    Raises ValueError if there are none.
    """
    if not days:
        raise ValueError("no dates to take the median of")
    return date.fromordinal(int(median(day.toordinal() for day in days)))


def past_midsummer_days(day: date, latitude_deg: float) -> int:
    """Return the days from midsummer of a day's growing year to that day, below nought before it.

    Midsummer is 21 June in the north and 21 December in the south.

    >>> past_midsummer_days(date(2026, 7, 1), 47.0), past_midsummer_days(date(2026, 12, 1), -34.0)
    (10, -20)
    """
    year = growing_year(day, latitude_deg)
    return (day - (date(year, 6, 21) if latitude_deg >= 0 else date(year, 12, 21))).days
