"""A calm clear night hour by hour: how the air falls to its minimum, when it is how cold, and for how long."""

from __future__ import annotations

from datetime import date, timedelta
from math import isfinite, sqrt

from advisor.calc.daylight import daylight_h


def hours_to_sunrise_h(evening: date, latitude_deg: float) -> float:
    """Return the hours from two hours after sunset to the next sunrise, on flat ground. [h]

    Raises ValueError where the night is no longer than two hours.

    >>> round(hours_to_sunrise_h(date(2026, 4, 20), 47.0), 1)
    8.1
    """
    _, down = daylight_h(evening, latitude_deg)
    rise, _ = daylight_h(evening + timedelta(days=1), latitude_deg)
    hours = 24 + rise - down - 2
    if hours <= 0:
        raise ValueError(f"no night of more than two hours at {latitude_deg}° on {evening}; none to forecast")
    return hours


def trend_c(evening_c: float, min_c: float, night_h: float, after_h: float) -> float:
    """Return the air temperature some hours after the evening reading, on a calm clear night [1]_.

    Parameters
    ----------
    evening_c : float
        Air temperature two hours after sunset. [°C]
    min_c : float
        Lowest temperature, reached at sunrise. [°C]
    night_h : float
        Hours from two hours after sunset to sunrise. [h]
    after_h : float
        Hours after the evening reading, from 0 to ``night_h``. [h]

    Returns
    -------
    float
        Air temperature. [°C]

    Raises
    ------
    ValueError
        If a value is not a number, the night has no length, the minimum is above the evening, or the hour outside.

    Notes
    -----
    T = T0 + (Tmin - T0) sqrt(h / H). It leaves out wind that rises, cloud that comes, and the minimum that often
    falls some minutes after sunrise.

    References
    ----------
    .. [1] R. L. Snyder and J. P. de Melo-Abreu, "Frost Protection: fundamentals, practice and economics", vol. 1,
       FAO Environment and Natural Resources Series 10, ch. 5, 2005 (method read in a public implementation citing it)

    Examples
    --------
    >>> round(trend_c(0.95, -5.45, 13, 6), 4)
    -3.3979
    """
    _checked_night(evening_c, min_c, night_h)
    if not 0 <= after_h <= night_h:
        raise ValueError(f"{after_h} h after the evening reading is not between 0 and {night_h} h")
    return evening_c + (min_c - evening_c) * sqrt(after_h / night_h)


def reached_after_h(evening_c: float, min_c: float, night_h: float, critical_c: float) -> float | None:
    """Return the hours after the evening reading at which a temperature is reached, or None if it is not. [h]

    The hour trend solved for time. 0 where the evening is that cold already. Raises as ``trend_c``.

    >>> round(reached_after_h(0.95, -5.45, 13, 0.0) or 0, 4)
    0.2864
    """
    _checked_night(evening_c, min_c, night_h)
    if not isfinite(critical_c):
        raise ValueError(f"critical temperature {critical_c} °C is not a number")
    if evening_c <= critical_c:
        return 0.0
    if min_c > critical_c:
        return None
    return float(((critical_c - evening_c) / (min_c - evening_c)) ** 2 * night_h)


def hours_below_h(evening_c: float, min_c: float, night_h: float, critical_c: float) -> float:
    """Return the hours at or below a temperature from the evening reading to sunrise; warming after it not counted.

    Raises as ``trend_c``. [h]
    """
    reached = reached_after_h(evening_c, min_c, night_h, critical_c)
    return 0.0 if reached is None else night_h - reached


def _checked_night(evening_c: float, min_c: float, night_h: float) -> None:
    if not (isfinite(evening_c) and isfinite(min_c)):
        raise ValueError(f"evening {evening_c} °C, minimum {min_c} °C: two numbers wanted")
    if not (isfinite(night_h) and night_h > 0):
        raise ValueError(f"a night of {night_h} h after the evening reading; more than 0 wanted")
    if min_c > evening_c:
        raise ValueError(f"minimum {min_c} °C is above the evening's {evening_c} °C; a falling night is wanted")
