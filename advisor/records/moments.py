"""Dates and times as people and spreadsheets write them."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo

EARLIEST = date(1900, 1, 1)
DATE = "a date like 2026-04-20 (year-month-day)"
TIME = "a time like 2026-04-20 13:30"
_PARTS = re.compile(r"(\d{1,4})([-/.])(\d{1,2})\2(\d{1,4})\.?")
_CLOCK = re.compile(r"(\d{1,2}):(\d{2})(?::(\d{2}))?(?:\.\d+)?\s*([ap])?\.?m?\.?", re.IGNORECASE)


def read_date(text: str, day_first: bool | None) -> date:
    """Return a date written year first, or day and month in the order of the place.

    ``day_first`` is that order; None where it is not known. A day over twelve, or points between, tell it too.
    Raises ValueError, saying what is wanted.
    """
    parts = _PARTS.fullmatch(text.strip())
    if parts is None:
        raise ValueError(DATE)
    one, mark, two, three = parts[1], parts[2], int(parts[3]), parts[4]
    try:
        if len(one) == 4:
            found = date(int(one), two, int(three))
        elif len(three) != 4:
            raise ValueError(f"{DATE}, with four figures for the year")
        else:
            found = _of_year(int(three), int(one), two, mark, day_first)
    except ValueError as error:
        raise ValueError(str(error) if "year" in str(error) else DATE) from None
    if found < EARLIEST:
        raise ValueError("a year from 1900 on")
    return found


def _of_year(year: int, one: int, two: int, mark: str, day_first: bool | None) -> date:
    if mark == "." or one > 12:
        return date(year, two, one)
    if two > 12:
        return date(year, one, two)
    if day_first is None:
        raise ValueError(f"{DATE}: day and month cannot be told apart here")
    return date(year, two, one) if day_first else date(year, one, two)


def read_time(text: str, zone: ZoneInfo | None, day_first: bool | None, *, fold: int = 0) -> datetime:
    """Return a time in UTC; without a zone of its own it is the place's.

    ``fold`` is 1 for the second pass of an hour that the clocks repeat in autumn. Raises ValueError, saying what is
    wanted, also for an hour that the clocks leave out in spring.
    """
    text = text.strip()
    try:
        when = datetime.fromisoformat(text)
        has_clock = len(text) > 10
    except ValueError:
        when, has_clock = _spoken(text, day_first)
    if not has_clock:
        raise ValueError("a time of day too, like 2026-04-20 13:30")
    if when.date() < EARLIEST:
        raise ValueError("a year from 1900 on")
    if when.tzinfo is None:
        if zone is None:
            raise ValueError("a place with its time zone, imported before or beside this")
        local = when.replace(tzinfo=zone, fold=fold)
        if local.astimezone(UTC).astimezone(zone).replace(tzinfo=None) != when:
            raise ValueError(f"a time that exists in {zone.key}; clocks were put forward over this one")
        when = local
    return when.astimezone(UTC)


def _spoken(text: str, day_first: bool | None) -> tuple[datetime, bool]:
    day_text, _, clock_text = text.replace("T", " ").partition(" ")
    try:
        day = read_date(day_text, day_first)
    except ValueError as error:
        raise ValueError(str(error).replace(DATE, TIME)) from None
    if not clock_text.strip():
        return datetime.combine(day, time()), False
    clock = _CLOCK.fullmatch(clock_text.strip())
    if clock is None:
        raise ValueError(TIME)
    hour = int(clock[1])
    if clock[4]:
        if not 1 <= hour <= 12:
            raise ValueError(TIME)
        hour = hour % 12 + (12 if clock[4].casefold() == "p" else 0)
    try:
        return datetime.combine(day, time(hour, int(clock[2]), int(clock[3] or 0))), True
    except ValueError:
        raise ValueError(TIME) from None
