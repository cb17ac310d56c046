"""Degree-days from a day's minimum and maximum: how much warmth above a base a day gave."""

from __future__ import annotations

from math import asin, cos, isfinite, pi

import numpy as np
from numpy.typing import ArrayLike, NDArray


def single_sine_degree_days(min_c: float, max_c: float, base_c: float, upper_c: float | None = None) -> float:
    """Return one day's degree-days above a base, from its minimum and maximum.

    The day's temperature is taken as one sine wave between its minimum and maximum [1]_, and the area under the
    wave and above ``base_c`` is integrated exactly. With ``upper_c``, development goes on at its full rate above
    that temperature but no faster (a "horizontal" cut-off).

    Parameters
    ----------
    min_c, max_c : float
        Day's minimum and maximum air temperature, shaded, at screen height. [°C]
    base_c : float
        Temperature below which development stops. [°C]
    upper_c : float, optional
        Temperature above which development speeds up no further. [°C]  Default: no limit.

    Returns
    -------
    float
        Degree-days of this one day, never negative. [°C·day]

    Raises
    ------
    ValueError
        If ``max_c`` is below ``min_c``, ``upper_c`` is not above ``base_c``, or one of them is not a number.

    Notes
    -----
    With mean M and half-range W, a day that crosses the base b gives ((M - b)(pi/2 - t) + W cos t) / pi, where
    t = arcsin((b - M) / W). It assumes a smooth day; a front at noon breaks it. Sums made by different methods are
    not interchangeable.

    References
    ----------
    .. [1] G. L. Baskerville and P. Emin, "Rapid estimation of heat accumulation from maximum and minimum
       temperatures", Ecology 50(3), 514-517, 1969. doi:10.2307/1933912 (cited from memory, not opened; the closed
       form is checked against numerical integration in the tests)

    Examples
    --------
    >>> single_sine_degree_days(12, 24, base_c=10)
    8.0
    >>> round(single_sine_degree_days(2, 14, base_c=10), 5)
    1.01698
    >>> single_sine_degree_days(-2, 9, base_c=10)
    0.0
    """
    _refuse(min_c, max_c, base_c, upper_c)
    below = _area_above(min_c, max_c, base_c)
    return below if upper_c is None else max(below - _area_above(min_c, max_c, upper_c), 0.0)


def double_sine_degree_days(
    min_c: float, max_c: float, next_min_c: float, base_c: float, upper_c: float | None = None
) -> float:
    """Return one day's degree-days above a base, from its minimum and maximum and the next day's minimum.

    Half a sine wave rises from the day's minimum to its maximum and another falls to the next day's minimum [1]_; each
    half day counts half of what single_sine_degree_days gives for its two temperatures.

    Parameters
    ----------
    min_c, max_c, next_min_c : float
        Day's minimum and maximum, and the next day's minimum. [°C]
    base_c : float
        Temperature below which development stops. [°C]
    upper_c : float, optional
        Temperature above which development speeds up no further (horizontal cut-off). [°C]  Default: no limit.

    Returns
    -------
    float
        Degree-days of this one day, never negative. [°C·day]

    Raises
    ------
    ValueError
        As single_sine_degree_days does, and if ``next_min_c`` is not a number.

    Notes
    -----
    A next minimum above the day's maximum, as when warm air comes in by night, is no error: the half wave then rises
    to it, which has the same area.

    References
    ----------
    .. [1] J. C. Allen, "A modified sine wave method for calculating degree days", Environmental Entomology 5(3),
       388-396, 1976 (cited from memory, not opened; the two half days were read in public pages)

    Examples
    --------
    >>> round(double_sine_degree_days(2, 14, 6, base_c=10), 5)
    1.14511
    """
    if not isfinite(next_min_c):
        raise ValueError(f"next minimum {next_min_c} °C is not a temperature; leave the day out or fill it first")
    rising = single_sine_degree_days(min_c, max_c, base_c, upper_c)
    falling = single_sine_degree_days(min(max_c, next_min_c), max(max_c, next_min_c), base_c, upper_c)
    return (rising + falling) / 2


def simple_average_degree_days(min_c: float, max_c: float, base_c: float) -> float:
    """Return how far the mean of a day's minimum and maximum lies above a base, 0 where it lies below. [°C·day]

    Many published thresholds rest on this sum. A day that only crosses the base counts for nothing, so it is lower
    than a sine's in spring. There is no upper limit: the form that first draws the minimum up to the base and the
    maximum down to a limit is another method. Raises ValueError as single_sine_degree_days does.

    >>> simple_average_degree_days(2, 18, base_c=5), simple_average_degree_days(2, 14, base_c=10)
    (5.0, 0.0)
    """
    _refuse(min_c, max_c, base_c, None)
    return max((max_c + min_c) / 2 - base_c, 0.0)


def single_sine_many(
    min_c: ArrayLike, max_c: ArrayLike, base_c: float, upper_c: float | None = None
) -> NDArray[np.float64]:
    """Return single_sine_degree_days of many days at once, one value a day. [°C·day]

    Raises ValueError as it does, naming the first day that is wrong by its place.

    >>> single_sine_many([12, 2, -2], [24, 14, 9], base_c=10).round(5).tolist()
    [8.0, 1.01698, 0.0]
    """
    low, high = np.asarray(min_c, dtype=np.float64), np.asarray(max_c, dtype=np.float64)
    if low.shape != high.shape:
        raise ValueError(f"{low.size} minima and {high.size} maxima; give one of each a day")
    _refuse(0.0, 0.0, base_c, upper_c)
    wrong = ~(np.isfinite(low) & np.isfinite(high) & (low <= high))
    if wrong.any():
        place = int(np.argmax(wrong))
        try:
            _refuse(float(low.flat[place]), float(high.flat[place]), base_c, upper_c)
        except ValueError as error:
            raise ValueError(f"day {place + 1} of {low.size}: {error}") from None
    below = _areas_above(low, high, base_c)
    return below if upper_c is None else np.maximum(below - _areas_above(low, high, upper_c), 0.0)


def _area_above(min_c: float, max_c: float, base_c: float) -> float:
    mean, half_range = (max_c + min_c) / 2, (max_c - min_c) / 2
    if min_c >= base_c:
        return float(mean - base_c)
    if max_c <= base_c:
        return 0.0
    t = asin(max(-1.0, min(1.0, (base_c - mean) / half_range)))  # rounding may overstep 1 by a hair
    return max(((mean - base_c) * (pi / 2 - t) + half_range * cos(t)) / pi, 0.0)


def _areas_above(low: NDArray[np.float64], high: NDArray[np.float64], base_c: float) -> NDArray[np.float64]:
    mean, half_range = (high + low) / 2, (high - low) / 2
    crosses = (low < base_c) & (high > base_c)
    t = np.arcsin(np.clip((base_c - mean) / np.where(crosses, half_range, 1.0), -1, 1))
    crossing = np.maximum(((mean - base_c) * (pi / 2 - t) + half_range * np.cos(t)) / pi, 0.0)
    areas: NDArray[np.float64] = np.where(crosses, crossing, np.maximum(mean - base_c, 0.0))
    return areas


def _refuse(min_c: float, max_c: float, base_c: float, upper_c: float | None) -> None:
    for name, value in (("minimum", min_c), ("maximum", max_c), ("base", base_c), ("upper limit", upper_c)):
        if value is not None and not isfinite(value):
            raise ValueError(f"{name} {value} °C is not a temperature; leave the day out or fill it first")
    if max_c < min_c:
        raise ValueError(f"day's maximum {max_c} °C is below its minimum {min_c} °C; were they swapped?")
    if upper_c is not None and upper_c <= base_c:
        raise ValueError(f"upper limit {upper_c} °C must be above the base {base_c} °C")
