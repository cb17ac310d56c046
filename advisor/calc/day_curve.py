"""The hours of a day from its minimum, its maximum and the sun: a sine by day, a logarithm by night."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from functools import lru_cache
from math import isfinite, pi, sin

import numpy as np
from numpy.typing import ArrayLike, NDArray

from advisor.calc.daylight import daylight_h

Day = tuple[date, float, float]
"""A date, its minimum and its maximum. [°C]"""

SHORTEST_H = 4.0
"""Below this length of day or of night the curve is a plain wave (house judgement, see hourly_curve). [h]"""
WAVE_LOWEST_H, WAVE_HIGHEST_H = 2.0, 14.0
_HOURS = np.arange(24.0)


def hourly_curve(
    days: Sequence[Day], latitude_deg: float, *, day_before: Day | None = None, day_after: Day | None = None
) -> NDArray[np.float64]:
    """Return the temperature at each full hour of a run of days, from their minima and maxima.

    By day the temperature follows a sine from sunrise that peaks two hours after noon; by night it falls with the
    logarithm of the time since sunset [1]_, to the next day's minimum at the next sunrise.

    Parameters
    ----------
    days : sequence of (date, minimum, maximum)
        In order of date, each date once; dates may be missing. [°C]
    latitude_deg : float
        Latitude, north positive. [°]
    day_before, day_after : (date, minimum, maximum), optional
        The days that adjoin the run, where they are known. They only shape the first and the last night. [°C]

    Returns
    -------
    array of shape (len(days), 24)
        Temperature at 0, 1 .. 23 h of local mean solar time. [°C]

    Raises
    ------
    ValueError
        If dates are out of order or adjoining days do not adjoin, a temperature is not a number, a maximum is below
        its minimum, or the latitude lies beyond a pole.

    Notes
    -----
    With sunrise r, day length D and night length N: by day T = min + (max - min) sin(pi (t - r) / (D + 4)); by night,
    h hours after sunset and from the sunset temperature S, T = S - (S - next min) ln(h + 1) / ln(N + 1). The 1 in
    both logarithms departs from the source as it is remembered: it makes the night meet the sunset temperature and
    the minimum. Left out on one side, the hours before dawn fall below the minimum.

    No hour lies above its own day's maximum, nor below the lower of the minima that bound it: by day the day's own,
    by night those of the days on both sides. Where a neighbour is missing, the day's own values stand for it.

    Where day or night is shorter than four hours, the polar day and night among them, the sun no longer sets the
    hours of the extremes (with a day under four hours the sine would not reach the maximum). There the curve is a
    cosine wave with its minimum at 2 h and its maximum at 14 h: house judgement.

    It assumes clear, calm days: a front at noon or a night of rising temperature breaks it. A single hour is wrong by
    1.1 to 1.3 K on average and now and then by 10 K, a mean of three weeks by 0.3 K (measured hours of one year at
    three airports, see the tests). Extremes that were read on a thermometer in the morning belong to other days than
    this curve takes them for. Sunrise is that of the same date in 2024, which at 52° is right within 2.5 minutes for
    any year, nearer the equator within less.

    References
    ----------
    .. [1] D. E. Linvill, "Calculating chilling hours and chill units from daily maximum and minimum temperature
       observations", HortScience 25(1), 14-16, 1990 (from memory, not opened; the form with the 1 was read in two
       public implementations, which apply it on one side only)

    Examples
    --------
    >>> hours = hourly_curve([(date(2025, 4, 1), 2.0, 14.0), (date(2025, 4, 2), 5.0, 11.0)], 41.5)
    >>> [round(float(temp_c), 1) for temp_c in hours[0, ::6]]
    [4.0, 2.7, 13.1, 10.9]
    """
    run = [*([day_before] if day_before else []), *days, *([day_after] if day_after else [])]
    ordinals = np.array([day.toordinal() for day, _, _ in run], dtype=np.int64)
    steps = np.diff(ordinals)
    if (steps <= 0).any():
        late = int(np.argmax(steps <= 0))
        raise ValueError(f"days out of order: {run[late + 1][0]} follows {run[late][0]}; give each date once, in order")
    for near, edge in ((day_before, days[:1]), (day_after, days[-1:])):
        if near and edge and abs(near[0] - edge[0][0]) != timedelta(days=1):
            raise ValueError(f"{near[0]} does not adjoin {edge[0][0]}; give the very next day or none")
    low = np.array([low_c for _, low_c, _ in run], dtype=np.float64)
    high = np.array([high_c for _, _, high_c in run], dtype=np.float64)
    wrong = ~(np.isfinite(low) & np.isfinite(high) & (low <= high))
    if wrong.any():
        day, low_c, high_c = run[int(np.argmax(wrong))]
        raise ValueError(
            f"{day}: minimum {low_c} °C and maximum {high_c} °C are no day's extremes; "
            "both must be numbers, the maximum not below the minimum"
        )
    sun = _sun_of_the_year(latitude_deg)[[day.month * 32 + day.day for day, _, _ in run]]
    curve = curve_from_sun(low, high, sun[:, 0], sun[:, 1], adjoins=steps == 1)
    first = 1 if day_before else 0
    return curve[first : first + len(days)]


def curve_from_sun(
    min_c: ArrayLike,
    max_c: ArrayLike,
    sunrise_h: ArrayLike,
    day_length_h: ArrayLike,
    adjoins: ArrayLike | None = None,
) -> NDArray[np.float64]:
    """Return the hours of days whose sunrise and day length are given, one row a day. [°C]

    ``adjoins`` says for each day but the last whether the next one is the day after it; without it all adjoin. The
    formulas are those of hourly_curve.

    >>> curve = curve_from_sun([2.0], [14.0], [5.6746], [12.6508])
    >>> float(curve.min()) >= 2.0, round(float(curve[0, 20]), 3)
    (True, 7.003)
    """
    low, high, rise, length = (
        np.asarray(v, dtype=np.float64)[:, None] for v in (min_c, max_c, sunrise_h, day_length_h)
    )
    if not len(low):
        return np.empty((0, 24))
    joined = np.ones(len(low) - 1, dtype=bool) if adjoins is None else np.asarray(adjoins, dtype=bool)
    before = np.arange(len(low)) - np.concatenate([[False], joined])
    after = np.arange(len(low)) + np.concatenate([joined, [False]])

    wave = (length < SHORTEST_H) | (length > 24 - SHORTEST_H)
    starts = np.where(wave, WAVE_LOWEST_H, rise)  # the hour of the minimum
    ends = np.where(wave, WAVE_HIGHEST_H, rise + length)  # the hour from which the night is reckoned
    ends_c = np.where(wave, high, low + (high - low) * np.sin(pi * length / (length + 4)))
    since = _HOURS - starts
    by_day = low + (high - low) * np.where(
        wave,
        (1 - np.cos(pi * since / (WAVE_HIGHEST_H - WAVE_LOWEST_H))) / 2,
        np.sin(pi * since / (length + 4)),
    )
    evening = ends_c - (ends_c - low[after]) * _fallen(_HOURS - ends, 24 - ends + starts[after], wave)
    dawn = ends_c[before] - (ends_c[before] - low) * _fallen(
        _HOURS + 24 - ends[before], 24 - ends[before] + starts, wave[before]
    )
    is_dawn, is_evening = starts > _HOURS, ends < _HOURS
    curve = np.where(is_dawn, dawn, np.where(is_evening, evening, by_day))
    floor = np.where(is_dawn, np.minimum(low[before], low), np.where(is_evening, np.minimum(low, low[after]), low))
    bounded: NDArray[np.float64] = np.clip(curve, floor, high)
    return bounded


def sunset_temperature_c(min_c: float, max_c: float, day_length_h: float) -> float:
    """Return the temperature at sunset, by the sine of hourly_curve, where the day has 4 to 20 hours. [°C]

    Raises ValueError for another day length, or for extremes that are no day's.

    >>> round(sunset_temperature_c(2, 14, 12.6508), 2)
    10.22
    """
    if not SHORTEST_H <= day_length_h <= 24 - SHORTEST_H:
        raise ValueError(f"day length {day_length_h} h is not between {SHORTEST_H:g} and {24 - SHORTEST_H:g} h")
    if not (isfinite(min_c) and isfinite(max_c) and min_c <= max_c):
        raise ValueError(f"minimum {min_c} °C and maximum {max_c} °C are no day's extremes")
    return min_c + (max_c - min_c) * sin(pi * day_length_h / (day_length_h + 4))


def _fallen(hours: NDArray[np.float64], night_h: NDArray[np.float64], wave: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Return how far the night has run from its first temperature (0) to the next minimum (1)."""
    inside = np.clip(hours, 0, night_h)  # hours of the day lie outside the night and are not used
    fallen: NDArray[np.float64] = np.where(
        wave, (1 - np.cos(pi * inside / night_h)) / 2, np.log(inside + 1) / np.log(night_h + 1)
    )
    return fallen


@lru_cache(maxsize=32)
def _sun_of_the_year(latitude_deg: float) -> NDArray[np.float64]:
    """Return sunrise and day length for each date of 2024, in row month * 32 + day of month."""
    table = np.full((13 * 32, 2), np.nan)
    for number in range(366):
        day = date(2024, 1, 1) + timedelta(days=number)
        rise, down = daylight_h(day, latitude_deg)
        table[day.month * 32 + day.day] = rise, down - rise
    table.flags.writeable = False
    return table
