"""Dates and times as people and spreadsheets write them."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo

EARLIEST, LATEST = date(1900, 1, 1), date(2200, 1, 1)
YEARS = "a year between 1900 and 2200"
DATE = "a date like 2026-04-20 (year-month-day)"
TIME = "a time like 2026-04-20 13:30"
_PARTS = re.compile(r"(\d{1,4})([-/.])(\d{1,2})\2(\d{1,4})\.?")
_CLOCK = re.compile(r"(\d{1,2}):(\d{2})(?::(\d{2}))?(?:\.\d+)?\s*([ap])?\.?m?\.?", re.IGNORECASE)


def read_date(text: str, day_first: bool | None) -> date:
    """Return a date written year first, or day and month in the order of the place or the file.

    ``day_first`` is that order; None where it is not known, and then only a day over twelve, or points between, tell
    it. Raises ValueError, saying what is wanted, also for a date that has the other order.
    """
    parts = _PARTS.fullmatch(text.strip())
    if parts is None:
        raise ValueError(DATE)
    if len(parts[1]) == 4:
        year, month, day = (int(parts[n]) for n in (1, 3, 4))
    elif len(parts[4]) == 4:
        year = int(parts[4])
        day, month = _day_and_month(int(parts[1]), int(parts[3]), parts[2], day_first)
    else:
        raise ValueError(f"{DATE}, with four figures for the year")
    if not EARLIEST.year <= year <= LATEST.year:
        raise ValueError(YEARS)
    try:
        return date(year, month, day)
    except ValueError:
        raise ValueError(DATE) from None


def _day_and_month(one: int, two: int, mark: str, day_first: bool | None) -> tuple[int, int]:
    if mark == ".":
        return one, two
    shown = order_shown([f"{one}/{two}/2000"])
    if shown is None and day_first is None:
        raise ValueError(f"{DATE}: day and month cannot be told apart here")
    if shown is not None and day_first is not None and shown != day_first:
        order = "the day" if day_first else "the month"
        raise ValueError(f"{DATE}, or with {order} first as the others here; --date-order says which the file has")
    first = shown if day_first is None else day_first
    return (one, two) if first else (two, one)


def order_shown(texts: Iterable[str]) -> bool | None:
    """Return whether dates show that the day stands first; None where none of them shows it, or they disagree.

    >>> order_shown(["4/3/2026", "13/3/2026"]), order_shown(["4/3/2026"])
    (True, None)
    """
    shown = set()
    for text in texts:
        parts = _PARTS.match(text.strip())
        if parts and parts[2] != "." and len(parts[4]) == 4:
            one, two = int(parts[1]), int(parts[3])
            if (one > 12) != (two > 12):
                shown.add(one > 12)
    return shown.pop() if len(shown) == 1 else None


def read_time(text: str, zone: ZoneInfo | None, day_first: bool | None, *, fold: int = 0) -> datetime:
    """Return a time in UTC; without a zone of its own it is the place's.

    ``fold`` is 1 for the second pass of an hour that the clocks repeat in autumn. Raises ValueError, saying what is
    wanted, also for an hour that the clocks leave out in spring.
    """
    return to_utc(read_clock(text, day_first), zone, fold=fold)


def read_clock(text: str, day_first: bool | None) -> datetime:
    """Return a time as it is written: with its own zone, or without one, as the clock on the wall showed it.

    Raises ValueError, saying what is wanted.
    """
    text = text.strip()
    try:
        when = datetime.fromisoformat(text)
        has_clock = len(text) > 10
    except ValueError:
        when, has_clock = _spoken(text, day_first)
    if not has_clock:
        raise ValueError("a time of day too, like 2026-04-20 13:30")
    if not EARLIEST <= when.date() <= LATEST:
        raise ValueError(YEARS)
    return when


def to_utc(when: datetime, zone: ZoneInfo | None, *, fold: int = 0) -> datetime:
    """Return a time in UTC; one without a zone of its own is the place's. Raises as ``read_time`` does."""
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
