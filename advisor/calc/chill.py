"""Winter chill of hours and days by four models: chilling hours, Utah, positive Utah and the Dynamic Model."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from advisor.calc.day_curve import Day, hourly_curve
from advisor.calc.figure import Figure
from advisor.calc.heat import THERMOMETER_K, air_hours, curvilinear_growing_degree_hours, refuse_gaps, told_gaps

PORTIONS_WIDTH = 4.0
"""Portions within which two sums of the Dynamic Model are not told apart (house judgement, see dynamic_portions)."""
PORTIONS_FROM_EXTREMES = 3.0
HOURS_FROM_EXTREMES_A_DAY = 1.5
"""What hours made from daily extremes add to the width, in all and a day (house judgement, see chill_of_hours)."""
_Hourly = Callable[[NDArray[np.float64]], NDArray[np.float64]]
_UTAH_EDGES_C = np.array([1.4, 2.4, 9.1, 12.4, 15.9, 18.0])
_UTAH_UNITS = np.array([0.0, 0.5, 1.0, 0.5, 0.0, -0.5, -1.0, np.nan])  # the last for a missing hour
_E0, _E1, _A0, _A1, _SLOPE, _TURN_K = 4153.5, 12888.8, 139500.0, 2.567e18, 1.6, 277.0


@dataclass(frozen=True, slots=True)
class DynamicState:
    """Where the Dynamic Model stands after some hours: what it needs to go on, and what it has counted.

    ``intermediate`` is the product that is not yet fixed, 1 being enough for a portion.
    """

    intermediate: float = 0.0
    portions: float = 0.0
    hours: int = 0
    missing_hours: int = 0


NO_CHILL = DynamicState()


@dataclass(frozen=True, slots=True)
class ChillFigures:
    """The chill of one run of hours by each model."""

    portions: Figure
    chilling_hours: Figure
    utah: Figure
    positive_utah: Figure


@dataclass(frozen=True, slots=True)
class DailyChillAndHeat:
    """What each of some days gave, one value a day in the order given, and the state after the last."""

    portions: NDArray[np.float64]
    chilling_hours: NDArray[np.float64]
    utah_units: NDArray[np.float64]
    growing_degree_hours: NDArray[np.float64]
    state: DynamicState


def chilling_hours(hours_c: ArrayLike) -> NDArray[np.float64]:
    """Return 1 for each hour from 0 to 7.2 °C, both counted, 0 for each other, NaN for a missing hour. [h]

    After Weinberger 1950 (Proc. Amer. Soc. Hort. Sci. 56, from memory). "Hours below 45 °F" without a lower bound are
    another measure. Temperatures are compared to a millionth of a degree, so that 32 °F is 0 °C.

    >>> chilling_hours([-0.1, 0, 7.2, 7.3]).tolist()
    [0.0, 1.0, 1.0, 0.0]
    """
    hours = np.round(air_hours(hours_c), 6)
    return np.where(np.isnan(hours), np.nan, ((hours >= 0) & (hours <= 7.2)).astype(np.float64))


def utah_units(hours_c: ArrayLike) -> NDArray[np.float64]:
    """Return the Utah chill units of each hour, NaN for a missing hour. [chill units]

    Up to 1.4 °C 0, to 2.4 0.5, to 9.1 1, to 12.4 0.5, to 15.9 0, to 18 -0.5, above -1; each upper limit belongs to the
    class below it. After Richardson, Seeley and Walker, HortScience 9, 331-332, 1974 (cited from memory, not opened;
    the limits were read in two public implementations). It was fitted in cold winters; in mild ones warm hours outweigh
    the rest. A sum counts from the day when it is lowest in autumn, which is the caller's to find.

    >>> utah_units([1.4, 1.5, 2.5, 9.2, 15.9, 18, 18.1]).tolist()
    [0.0, 0.5, 1.0, 0.5, 0.0, -0.5, -1.0]
    """
    hours = np.round(air_hours(hours_c), 6)
    place = np.where(np.isnan(hours), len(_UTAH_EDGES_C) + 1, np.searchsorted(_UTAH_EDGES_C, hours, side="left"))
    units: NDArray[np.float64] = _UTAH_UNITS[place]
    return units


def positive_utah_units(hours_c: ArrayLike) -> NDArray[np.float64]:
    """Return the Utah chill units of each hour with every negative one set to zero, NaN for a missing hour.

    After Linsley-Noakes and others 1995, J. S. Afr. Soc. Hort. Sci. 5 (from memory). Some texts set a whole day's
    negative sum to zero instead (from memory); the two do not compare.

    >>> positive_utah_units([5, 17, 25]).tolist()
    [1.0, 0.0, 0.0]
    """
    return np.maximum(utah_units(hours_c), 0.0)


def dynamic_portions(hours_c: ArrayLike, start: DynamicState = NO_CHILL) -> tuple[NDArray[np.float64], DynamicState]:
    """Return the chill portions that each hour fixed, and the state from which the next hours go on.

    Cold builds an intermediate product that warmth undoes; once there is enough of it, a share of it is fixed as a
    chill portion and lasts [1]_ [2]_.

    Parameters
    ----------
    hours_c : array
        Air temperature of each hour, in order of time; NaN for a missing hour. [°C]
    start : DynamicState
        The state after the hours before these. Default: none before.

    Returns
    -------
    portions : array
        Portions fixed in each hour, one long row. [chill portions]
    state : DynamicState
        The state after the last hour. Hours in pieces give what they give in one run.

    Raises
    ------
    ValueError
        If a temperature is none of air.

    Notes
    -----
    With K = T + 273 (the source's sheet does not add 273.15, and its constants go with 273): xs = (a0/a1) exp((e1 -
    e0)/K), k1 = a1 exp(-e1/K), share = s/(1 + s) with s = exp(1.6 * 277 (K - 277)/K); e0 = 4153.5, e1 = 12888.8,
    a0 = 139500, a1 = 2.567e18. Each hour x = xs - (xs - x before) exp(-k1); where x reaches 1, x * share is fixed and
    x (1 - share) remains. The usual sheet lets the first hour only set the start; here it counts, which moves a
    season by 0.01 portions. A missing hour leaves the product as it was and fixes nothing; the state counts it.

    The transfer is all or nothing, so a sum near freezing or near 13 °C is jumpy: moving the start of a 60-day wave of
    6 ± 6 °C by some hours moves its 43 portions by up to 5, 0.1 K moves them by 2. Differences under 4 say nothing.
    At a constant 13 °C or more none forms. The constants were fitted on peach buds.

    References
    ----------
    .. [1] S. Fishman, A. Erez and G. A. Couvillon, "The temperature dependence of dormancy breaking in plants", J.
       Theor. Biol. 124, 473-483 and 126, 309-321, 1987 (from memory, not opened)
    .. [2] A. Erez, S. Fishman, G. C. Linsley-Noakes and P. Allan, "The dynamic model for rest completion in peach
       buds", Acta Horticulturae 276, 165-174, 1990 (from memory; the constants were read in public implementations)

    Examples
    --------
    >>> portions, state = dynamic_portions([6.0] * 48)
    >>> round(state.portions, 3), int(portions.argmax()), round(state.intermediate, 2)
    (0.981, 28, 0.77)
    """
    hours = air_hours(hours_c).ravel()
    missing = int(np.isnan(hours).sum())
    kelvin = hours + 273.0
    steady = _A0 / _A1 * np.exp((_E1 - _E0) / kelvin)
    kept = np.exp(-_A1 * np.exp(-_E1 / kelvin))
    strength = _SLOPE * _TURN_K * (kelvin - _TURN_K) / kelvin
    share = 1 / (1 + np.exp(-strength))

    product, total = start.intermediate, start.portions
    fixed = [0.0] * len(hours)
    for place, (level, keep, part) in enumerate(zip(steady.tolist(), kept.tolist(), share.tolist(), strict=True)):
        if level != level:  # NaN: a missing hour
            continue
        product = level - (level - product) * keep
        if product >= 1:
            fixed[place] = product * part
            total += fixed[place]
            product -= fixed[place]
    return np.array(fixed), DynamicState(product, total, start.hours + len(hours), start.missing_hours + missing)


def chill_of_hours(hours_c: ArrayLike, *, from_daily_extremes: bool = False) -> ChillFigures:
    """Return the chill of a run of hours by each model, with how far to trust it.

    Parameters
    ----------
    hours_c : array
        Air temperature of each hour, in order of time; NaN for a missing hour. [°C]
    from_daily_extremes : bool
        Whether the hours were made from daily minima and maxima, as by day_curve.hourly_curve.

    Raises
    ------
    ValueError
        If there are no hours, more than 5 % of them are missing, or a temperature is none of air.

    Notes
    -----
    Each width is what half a degree, all season, would change; for portions it is at least 4. Hours made from daily
    extremes add 3 portions, and 1.5 chilling hours or Utah units a day (house judgement: a little more than the largest
    differences from measured hours at three airports over three to four months, see the tests).

    Examples
    --------
    >>> print(chill_of_hours([6.0] * 2400).portions.told(digits=0))
    83 ± 4 chill portions (Dynamic Model)
    """
    hours = air_hours(hours_c).ravel()
    missing = refuse_gaps(hours)
    told = told_gaps(missing, from_daily_extremes)
    warmer, colder = (np.clip(hours + shift_k, -90.0, 60.0) for shift_k in (THERMOMETER_K, -THERMOMETER_K))
    by_days = HOURS_FROM_EXTREMES_A_DAY * hours.size / 24

    def figure(
        model: _Hourly, unit: str, method: str, caution: str, least: float = 0.0, wider: float = by_days
    ) -> Figure:
        value, *others = (float(np.nansum(model(each))) for each in (hours, warmer, colder))
        width = max(least, *(abs(other - value) for other in others)) + (wider if from_daily_extremes else 0.0)
        return Figure(value, unit, method, width, caution + told)

    return ChillFigures(
        figure(
            lambda each: dynamic_portions(each)[0],
            "chill portions",
            "Dynamic Model",
            "The model fixes a portion whole or not at all, so a few portions more or less mean nothing.",
            PORTIONS_WIDTH,
            PORTIONS_FROM_EXTREMES,
        ),
        figure(
            chilling_hours,
            "h",
            "chilling hours 0 to 7.2 °C",
            "Frost counts as nothing, and warm days undo none; weakest in mild winters.",
        ),
        figure(utah_units, "chill units", "Utah", "Fitted in cold winters; in mild ones warm hours weigh too much."),
        figure(
            positive_utah_units,
            "chill units",
            "positive Utah, hour by hour",
            "Not to be compared with Utah units, nor with sums that are cut day by day.",
        ),
    )


def chill_of_days(days: Sequence[Day], latitude_deg: float) -> ChillFigures:
    """Return the chill of a run of days from their minima and maxima, as chill_of_hours does.

    Days left out between the first and the last are missing hours.

    >>> from datetime import date
    >>> chill_of_days([(date(2025, 1, day), 1.0, 9.0) for day in range(1, 31)], 41.5).portions.plus_minus
    7.0
    """
    return chill_of_hours(_calendar_hours(days, hourly_curve(days, latitude_deg))[0], from_daily_extremes=True)


def daily_chill_and_heat(
    days: Sequence[Day],
    latitude_deg: float,
    *,
    start: DynamicState = NO_CHILL,
    day_before: Day | None = None,
    day_after: Day | None = None,
    base_c: float = 4.0,
    optimum_c: float = 25.0,
    critical_c: float = 36.0,
) -> DailyChillAndHeat:
    """Return what each day gave in chill and heat, from its minimum and maximum.

    Parameters
    ----------
    days, latitude_deg, day_before, day_after
        As for day_curve.hourly_curve.
    start : DynamicState
        The Dynamic Model's state after the day before the first. With it and both neighbours, days in pieces give what
        they give in one run. Default: no chill before.
    base_c, optimum_c, critical_c : float
        As for heat.curvilinear_growing_degree_hours. [°C]

    Returns
    -------
    DailyChillAndHeat
        Arrays of one value a day. Days left out between the first and the last add nothing and leave the Dynamic Model
        as it was; its state counts their hours as missing. Raises ValueError as the functions named here do.
    """
    curve = hourly_curve(days, latitude_deg, day_before=day_before, day_after=day_after)
    hours, rows = _calendar_hours(days, curve)
    portions, state = dynamic_portions(hours, start)
    heat = np.asarray(curvilinear_growing_degree_hours(curve, base_c, optimum_c, critical_c))
    return DailyChillAndHeat(
        portions.reshape(-1, 24)[rows].sum(axis=1),
        chilling_hours(curve).sum(axis=1),
        utah_units(curve).sum(axis=1),
        heat.sum(axis=1),
        state,
    )


def _calendar_hours(days: Sequence[Day], curve: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Return the hours with NaN for days left out, and the row of each day given."""
    rows = np.array([(day - days[0][0]).days for day, _, _ in days], dtype=np.int64)
    hours = np.full((int(rows[-1]) + 1 if len(rows) else 0, 24), np.nan)
    hours[rows] = curve
    return hours, rows
