"""Where the sun stands and how long it is up, by latitude and date. The one module that knows the sun library."""

from __future__ import annotations

from datetime import UTC, date, datetime
from functools import lru_cache
from math import isfinite

from astral import Observer
from astral.sun import azimuth, elevation, noon, sunrise, sunset


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


def _hours(when: datetime, day: date) -> float:
    return (when - datetime(day.year, day.month, day.day, tzinfo=UTC)).total_seconds() / 3600


def _observer(latitude_deg: float, longitude_deg: float) -> Observer:
    if not (isfinite(latitude_deg) and -90 <= latitude_deg <= 90):
        raise ValueError(f"latitude {latitude_deg}° is not between -90 and 90")
    return Observer(latitude_deg, longitude_deg)
