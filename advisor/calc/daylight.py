"""Where the sun stands and how long it is up, by latitude and date. The one module that knows the sun library."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime
from functools import lru_cache
from math import isfinite, radians

import numpy as np
from astral import Observer
from astral.julian import julianday, julianday_to_juliancentury
from astral.sun import azimuth, elevation, eq_of_time, noon, sun_declination, sunrise, sunset
from numpy.typing import NDArray

DAYS_IN_A_CENTURY = 36525.0


def sun_position(when: datetime, latitude_deg: float, longitude_deg: float) -> tuple[float, float]:
    """Return the sun's elevation above the true horizon and its azimuth clockwise from north, no refraction. [°]

    ``when`` carries its zone. Raises ValueError for a time without one or a latitude beyond the poles.

    >>> up, bearing = sun_position(datetime(2025, 6, 21, 17, tzinfo=UTC), 41.5, -75.0)
    >>> round(up), round(bearing)
    (72, 179)
    """
    if when.tzinfo is None:
        raise ValueError(f"a time without its zone: {when.isoformat()}")
    here = _observer(latitude_deg, longitude_deg)
    return (elevation(here, when, with_refraction=False), azimuth(here, when))


@lru_cache(maxsize=8192)
def daylight_h(day: date, latitude_deg: float) -> tuple[float, float]:
    """Return sunrise and sunset in hours of local mean solar time, the upper limb and refraction counted. [h]

    Where the sun does not rise both are the time of noon, where it does not set they are twelve hours to each side
    of it: a day length of 0 or 24 hours.

    >>> rise, down = daylight_h(date(2025, 6, 21), 41.5)
    >>> round(down - rise, 2)
    15.18
    """
    here = _observer(latitude_deg, 0.0)
    middle = _hours(noon(here, day), day)
    try:
        return (_hours(sunrise(here, day), day), _hours(sunset(here, day), day))
    except ValueError:  # the library's answer where the sun stays down or up all day
        up = elevation(here, noon(here, day), with_refraction=True) > 0
        return (middle - 12, middle + 12) if up else (middle, middle)


@dataclass(frozen=True, slots=True, eq=False)
class SunGrid:
    """Where the sun stood at equal steps of true solar time on some days, the steps with the sun up only.

    ``day_index`` counts in ``days``. ``hour_angle_deg`` is 0 at solar noon, negative before it, 15° an hour.
    ``utc_h`` counts from 0 h UTC of the day. ``elevation_deg`` includes refraction, as the eye sees the sun's centre.
    The arrays cannot be written to, so that callers may share one grid.
    """

    days: tuple[date, ...]
    step_h: float
    day_index: NDArray[np.intp]
    hour_angle_deg: NDArray[np.float64]
    utc_h: NDArray[np.float64]
    elevation_deg: NDArray[np.float64]
    azimuth_deg: NDArray[np.float64]


def sun_grid(days: tuple[date, ...], latitude_deg: float, longitude_deg: float, steps_a_day: int) -> SunGrid:
    """Return the sun's positions over whole days, at the middle of equal steps from solar midnight to midnight.

    Parameters
    ----------
    days : tuple of date
        Days by local mean solar time.
    latitude_deg, longitude_deg : float
        North and east positive. [°]
    steps_a_day : int
        Steps in 24 hours, even, so that the steps lie alike on both sides of noon.

    Returns
    -------
    SunGrid
        The steps in which the sun's centre stands above the horizon, refraction counted.

    Raises
    ------
    ValueError
        If the latitude lies beyond a pole, the longitude is no number from -180 to 180, or the number of steps is odd
        or not positive.

    Notes
    -----
    Declination and equation of time are the library's at the start and end of a day, and straight lines between
    (within 0.001° of the curve). Refraction is Sæmundsson's 1.02' cot(h + 10.3/(h + 5.11)), h in degrees [1]_, used
    from h = -1°; air pressure and temperature are not counted.

    References
    ----------
    .. [1] Þ. Sæmundsson, "Astronomical refraction", Sky and Telescope 72, 70, 1986 (from memory, not opened; checked
       in the tests against the solar position algorithm of pvlib)

    Examples
    --------
    >>> grid = sun_grid((date(2025, 6, 21),), 41.5, -75.0, 1440)
    >>> round(len(grid.elevation_deg) / 60, 2), round(float(grid.elevation_deg.max()), 1)
    (15.13, 71.9)
    """
    _observer(latitude_deg, longitude_deg)
    if not (isfinite(longitude_deg) and -180 <= longitude_deg <= 180):
        raise ValueError(f"longitude {longitude_deg}° is not between -180 and 180")
    if steps_a_day < 2 or steps_a_day % 2:
        raise ValueError(f"{steps_a_day} steps a day: an even number of them is wanted")
    centuries = np.array([julianday_to_juliancentury(julianday(day) - longitude_deg / 360) for day in days])
    next_day = centuries + 1 / DAYS_IN_A_CENTURY
    share = (np.arange(steps_a_day) + 0.5) / steps_a_day

    def over_the_day(first: list[float], last: list[float]) -> NDArray[np.float64]:
        start = np.array(first)[:, None]
        between: NDArray[np.float64] = start + (np.array(last)[:, None] - start) * share
        return between

    decl = np.radians(over_the_day([sun_declination(c) for c in centuries], [sun_declination(c) for c in next_day]))
    eq_min = over_the_day([eq_of_time(c) for c in centuries], [eq_of_time(c) for c in next_day])
    angle_deg = np.broadcast_to(share * 360 - 180, decl.shape)
    angle, lat = np.radians(angle_deg), radians(latitude_deg)
    east = -np.cos(decl) * np.sin(angle)
    north = np.cos(lat) * np.sin(decl) - np.sin(lat) * np.cos(decl) * np.cos(angle)
    height = np.sin(lat) * np.sin(decl) + np.cos(lat) * np.cos(decl) * np.cos(angle)
    true_deg = np.degrees(np.arcsin(np.clip(height, -1, 1)))
    h = np.maximum(true_deg, -1.0)
    seen_deg = true_deg + 1.02 / 60 / np.tan(np.radians(h + 10.3 / (h + 5.11)))
    up = seen_deg > 0
    arrays = (
        np.nonzero(up)[0],
        angle_deg[up],
        (12 - longitude_deg / 15 - eq_min / 60 + angle_deg / 15)[up],
        np.minimum(seen_deg[up], 90.0),
        np.degrees(np.arctan2(east[up], north[up])) % 360,
    )
    for array in arrays:
        array.setflags(write=False)
    return SunGrid(days, 24 / steps_a_day, *arrays)


def _hours(when: datetime, day: date) -> float:
    return (when - datetime(day.year, day.month, day.day, tzinfo=UTC)).total_seconds() / 3600


def _observer(latitude_deg: float, longitude_deg: float) -> Observer:
    if not (isfinite(latitude_deg) and -90 <= latitude_deg <= 90):
        raise ValueError(f"latitude {latitude_deg}° is not between -90 and 90")
    return Observer(latitude_deg, longitude_deg)
