"""Degree-days from a day's minimum and maximum: how much warmth above a base a day gave."""

from __future__ import annotations

from math import asin, cos, pi


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
        If ``max_c`` is below ``min_c``, or ``upper_c`` is not above ``base_c``.

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
    if max_c < min_c:
        raise ValueError(f"day's maximum {max_c} °C is below its minimum {min_c} °C; were they swapped?")
    if upper_c is not None:
        if upper_c <= base_c:
            raise ValueError(f"upper limit {upper_c} °C must be above the base {base_c} °C")
        below = single_sine_degree_days(min_c, max_c, base_c)
        return below - single_sine_degree_days(min_c, max_c, upper_c)
    mean, half_range = (max_c + min_c) / 2, (max_c - min_c) / 2
    if min_c >= base_c:
        return float(mean - base_c)
    if max_c <= base_c:
        return 0.0
    t = asin((base_c - mean) / half_range)
    return ((mean - base_c) * (pi / 2 - t) + half_range * cos(t)) / pi
