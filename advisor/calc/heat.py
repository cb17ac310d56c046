"""Growing degree hours: how much warmth each hour gave towards bloom, by two models that do not agree."""

from __future__ import annotations

from typing import overload

import numpy as np
from numpy.typing import ArrayLike, NDArray

from advisor.calc.figure import Figure

MOST_MISSING_SHARE = 0.05
"""Above this share of missing hours a season's sum is refused (house judgement)."""
THERMOMETER_K = 0.5
"""How far off a garden thermometer may well be all season (house judgement). [K]"""
HEAT_FROM_EXTREMES_SHARE = 0.15
"""What hours made from daily extremes add to the width of a sum of heat (house judgement, see growing_degree_hours)."""


def air_hours(hours_c: ArrayLike) -> NDArray[np.float64]:
    """Return air temperatures as an array; NaN stands for a missing hour.

    Raises ValueError for an infinite value or one outside -90 to 60 °C, where air on the ground has not been.

    >>> air_hours([4, 5.5]).tolist()
    [4.0, 5.5]
    """
    hours = np.asarray(hours_c, dtype=np.float64)
    wrong = ~(np.isnan(hours) | ((hours >= -90) & (hours <= 60)))
    if wrong.any():
        first = float(hours[wrong].flat[0])
        raise ValueError(f"air temperature {first:g} °C is not between -90 and 60 °C; is it in another unit?")
    return hours


@overload
def linear_growing_degree_hours(temp_c: float, base_c: float = ..., ceiling_c: float = ...) -> float: ...
@overload
def linear_growing_degree_hours(
    temp_c: ArrayLike, base_c: float = ..., ceiling_c: float = ...
) -> float | NDArray[np.float64]: ...
def linear_growing_degree_hours(
    temp_c: ArrayLike, base_c: float = 4.4, ceiling_c: float = 25.0
) -> float | NDArray[np.float64]:
    """Return the growing degree hours of single hours: the excess over a base, up to a ceiling.

    Parameters
    ----------
    temp_c : float or array
        Air temperature of the hour; NaN for a missing hour. [°C]
    base_c, ceiling_c : float
        Temperature below which nothing is gained, and above which no more is gained. [°C]

    Returns
    -------
    float or array
        Growing degree hours, in the shape of ``temp_c``; NaN for a missing hour. [GDH]

    Raises
    ------
    ValueError
        If the ceiling is not above the base, or a temperature is none of air.

    Notes
    -----
    min(T, ceiling) - base where T is above the base, else 0 [1]_. The source's 40 and 77 °F are 4.4 and 25 °C; some
    programs use 4.5. It keeps the full rate in heat that stops growth: prefer the curvilinear form in hot springs.

    References
    ----------
    .. [1] E. A. Richardson, S. D. Seeley, D. R. Walker, J. L. Anderson and G. L. Ashcroft, "Pheno-climatography of
       spring peach bud development", HortScience 10, 236-237, 1975 (from memory, not opened)

    Examples
    --------
    >>> round(linear_growing_degree_hours(10.0), 1), round(linear_growing_degree_hours(30.0), 1)
    (5.6, 20.6)
    """
    if not base_c < ceiling_c:
        raise ValueError(f"ceiling {ceiling_c} °C must be above the base {base_c} °C")
    temps = air_hours(temp_c)
    return _as_given(np.maximum(np.minimum(temps, ceiling_c) - base_c, 0.0))


@overload
def curvilinear_growing_degree_hours(
    temp_c: float, base_c: float = ..., optimum_c: float = ..., critical_c: float = ..., vigour: float = ...
) -> float: ...
@overload
def curvilinear_growing_degree_hours(
    temp_c: ArrayLike, base_c: float = ..., optimum_c: float = ..., critical_c: float = ..., vigour: float = ...
) -> float | NDArray[np.float64]: ...
def curvilinear_growing_degree_hours(
    temp_c: ArrayLike,
    base_c: float = 4.0,
    optimum_c: float = 25.0,
    critical_c: float = 36.0,
    vigour: float = 1.0,
) -> float | NDArray[np.float64]:
    """Return the growing degree hours of single hours by the asymmetric curvilinear model (ASYMCUR).

    Warmth counts slowly just above the base, fastest on the way to the optimum, and falls to nothing at the critical
    temperature [1]_.

    Parameters
    ----------
    temp_c : float or array
        Air temperature of the hour; NaN for a missing hour. [°C]
    base_c, optimum_c, critical_c : float
        Temperatures where gain begins, is greatest, and ends. [°C]  Default: those of the source.
    vigour : float
        The source's factor for stress of the plant, 0 to 1. [-]  Default: 1, no stress.

    Returns
    -------
    float or array
        Growing degree hours, in the shape of ``temp_c``; NaN for a missing hour. [GDH]

    Raises
    ------
    ValueError
        If base, optimum and critical temperature do not rise in this order, ``vigour`` is not between 0 and 1, or a
        temperature is none of air.

    Notes
    -----
    With A = optimum - base, F the vigour: F A/2 (1 + cos(pi + pi (T - base) / A)) from base to optimum, and
    F A (1 + cos(pi/2 + pi/2 (T - optimum) / (critical - optimum))) from there to the critical temperature; else 0.

    References
    ----------
    .. [1] J. L. Anderson, E. A. Richardson and C. D. Kesner, "Validation of chill unit and flower bud phenology models
       for 'Montmorency' sour cherry", Acta Horticulturae 184, 71-78, 1986 (cited from memory, not opened; the equations
       were read in a public implementation)

    Examples
    --------
    >>> round(curvilinear_growing_degree_hours(10.0), 3), round(curvilinear_growing_degree_hours(30.0), 3)
    (3.953, 7.248)
    """
    if not base_c < optimum_c < critical_c:
        raise ValueError(
            f"base {base_c} °C, optimum {optimum_c} °C and critical temperature {critical_c} °C must rise in this order"
        )
    if not 0 <= vigour <= 1:
        raise ValueError(f"vigour {vigour} is not between 0 and 1")
    temps = air_hours(temp_c)
    most = optimum_c - base_c
    rising = most / 2 * (1 + np.cos(np.pi + np.pi * (np.clip(temps, base_c, optimum_c) - base_c) / most))
    above = (np.clip(temps, optimum_c, critical_c) - optimum_c) / (critical_c - optimum_c)
    falling = most * (1 + np.cos(np.pi / 2 * (1 + above)))
    return _as_given(vigour * np.where(temps > optimum_c, falling, rising))


def growing_degree_hours(hours_c: ArrayLike, *, from_daily_extremes: bool = False) -> Figure:
    """Return the curvilinear growing degree hours of a run of hours, with how far to trust the sum.

    Parameters
    ----------
    hours_c : array
        Air temperature of each hour; NaN for a missing hour. [°C]
    from_daily_extremes : bool
        Whether the hours were made from daily minima and maxima, as by day_curve.hourly_curve.

    Returns
    -------
    Figure
        Sum, width and caution. [GDH]

    Raises
    ------
    ValueError
        If there are no hours, more than 5 % of them are missing, or a temperature is none of air.

    Notes
    -----
    The width is what half a degree, all season, would change. Hours made from daily extremes add 15 % (house judgement:
    sums over three months differed by up to 13 % from those of the measured hours at three airports, see the tests).
    """
    hours = air_hours(hours_c).ravel()
    missing = refuse_gaps(hours)

    def total(shift_k: float) -> float:
        return float(np.nansum(curvilinear_growing_degree_hours(np.minimum(hours + shift_k, 60.0))))

    value = total(0.0)
    width = max(abs(total(shift_k) - value) for shift_k in (THERMOMETER_K, -THERMOMETER_K))
    if from_daily_extremes:
        width += HEAT_FROM_EXTREMES_SHARE * value
    caution = "Needs of a kind in growing degree hours hold for one model and one place only."
    return Figure(value, "GDH", "ASYMCUR", width, caution + told_gaps(missing, from_daily_extremes))


def refuse_gaps(hours: NDArray[np.float64]) -> int:
    """Return how many hours are missing; raise ValueError where there are none at all or too many are missing."""
    missing = int(np.isnan(hours).sum())
    if not hours.size:
        raise ValueError("no hours given")
    if missing > MOST_MISSING_SHARE * hours.size:
        raise ValueError(
            f"{missing} of {hours.size} hours are missing; "
            f"a sum needs all but {MOST_MISSING_SHARE:.0%} of them, so fill the gaps or take a shorter span"
        )
    return missing


def told_gaps(missing_hours: int, from_daily_extremes: bool) -> str:
    """Return what a caution adds on missing and estimated hours, "" for nothing."""
    told = " Its hours were estimated from daily minima and maxima." if from_daily_extremes else ""
    if missing_hours:
        told += f" {missing_hours} missing hour{'s' if missing_hours > 1 else ''} counted as nothing."
    return told


def _as_given(values: NDArray[np.float64]) -> float | NDArray[np.float64]:
    return float(values) if values.ndim == 0 else values
