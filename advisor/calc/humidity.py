"""Moisture in the air: vapour pressure, dew point, frost point and wet bulb, near freezing above all.

Below 0 °C two answers exist, over water and over ice, up to half a degree apart. Dew point and wet bulb are over water
here, as weather stations report the dew point; the frost point is over ice and named so.
"""

from __future__ import annotations

from math import exp, isfinite, log

from advisor.calc.figure import Figure

COLDEST_C, WARMEST_C = -40.0, 50.0
"""Range within which the constants over water were fitted (from memory)."""

SEA_LEVEL_KPA = 101.325

_WATER = (0.61094, 17.625, 243.04)
_ICE = (0.61121, 22.587, 273.86)


def saturation_vapour_pressure_kpa(temp_c: float) -> float:
    """Return the saturation vapour pressure over water. [kPa]

    Parameters
    ----------
    temp_c : float
        Air temperature, -40 to 50. [°C]

    Returns
    -------
    float
        Saturation vapour pressure over a plane surface of pure water, supercooled below 0 °C. [kPa]

    Raises
    ------
    ValueError
        If the temperature lies outside the range of the fit.

    Notes
    -----
    Magnus form e = 0.61094 exp(17.625 T / (T + 243.04)) with the constants of [1]_, within 0.4 % there by its own
    account (from memory).

    References
    ----------
    .. [1] O. A. Alduchov and R. E. Eskridge, "Improved Magnus form approximation of saturation vapor pressure",
       J. Appl. Meteorol. 35, 601-609, 1996 (constants read in a public file that cites it, paper not opened)

    Examples
    --------
    >>> round(saturation_vapour_pressure_kpa(20), 3)
    2.333
    """
    return _magnus(_in_range(temp_c, COLDEST_C, WARMEST_C, "temperature"), _WATER)


def vapour_pressure_over_ice_kpa(temp_c: float) -> float:
    """Return the saturation vapour pressure over ice at -40 to 0 °C, by the same authors (from memory). [kPa]

    >>> round(vapour_pressure_over_ice_kpa(-10), 4)
    0.2597
    """
    return _magnus(_in_range(temp_c, COLDEST_C, 0.0, "temperature over ice"), _ICE)


def dew_point_c(temp_c: float, humidity_percent: float) -> float:
    """Return the dew point over water from air temperature and relative humidity. [°C]

    Parameters
    ----------
    temp_c : float
        Air temperature, -40 to 50. [°C]
    humidity_percent : float
        Relative humidity over water, 1 to 100. [%]

    Returns
    -------
    float
        Temperature to which the air must cool, its moisture unchanged, for dew to form. [°C]

    Raises
    ------
    ValueError
        If either value lies outside its range. Air drier than 1 % is taken for a fault of the sensor.

    Notes
    -----
    The Magnus form solved for temperature. Below 0 °C hoar frost forms somewhat earlier, at the frost point.

    Examples
    --------
    >>> round(dew_point_c(10, 50), 2)
    0.05
    """
    _in_range(humidity_percent, 1.0, 100.0, "relative humidity", "%")
    return min(_inverse(saturation_vapour_pressure_kpa(temp_c) * humidity_percent / 100, _WATER), temp_c)


def dew_point(temp_c: float, humidity_percent: float, humidity_plus_minus: float = 5.0) -> Figure:
    """Return the dew point with the half-width that an error of the hygrometer gives it.

    ``humidity_plus_minus`` is in percent of relative humidity; 5 is usual for a household instrument (common
    practice, no source). The half-width is that towards the dry side, the larger one. Raises ValueError as
    ``dew_point_c`` does, and for a negative error.

    >>> dew_point(10, 60).told()
    '2.6 ± 1.2 °C (dew point over water, Magnus)'
    """
    if not humidity_plus_minus >= 0:
        raise ValueError(f"error of the hygrometer {humidity_plus_minus} %; 0 or more wanted")
    dew_c = dew_point_c(temp_c, humidity_percent)
    drier_c = dew_point_c(temp_c, max(humidity_percent - humidity_plus_minus, 1.0))
    caution = "" if dew_c >= 0 else "Below freezing hoar frost forms a little above this temperature."
    return Figure(dew_c, "°C", "dew point over water, Magnus", plus_minus=dew_c - drier_c, caution=caution)


def relative_humidity_percent(temp_c: float, dew_point_c: float) -> float:
    """Return the relative humidity over water of air with a dew point. [%]

    Raises ValueError outside -40 to 50 °C, or for a dew point above the air temperature.

    >>> round(relative_humidity_percent(10, 0.047), 1)
    50.0
    """
    _not_above(temp_c, dew_point_c)
    return 100 * saturation_vapour_pressure_kpa(dew_point_c) / saturation_vapour_pressure_kpa(temp_c)


def frost_point_c(dew_point_c: float) -> float:
    """Return the frost point, the dew point over ice, of air whose dew point over water is known. [°C]

    Raises ValueError for a dew point above 0 °C, where there is no frost point, or below -40 °C.

    >>> round(frost_point_c(-3.04), 2)
    -2.69
    """
    _in_range(dew_point_c, COLDEST_C, 0.0, "dew point of air that is to give frost")
    frost_c = _inverse(_magnus(dew_point_c, _WATER), _ICE)
    return min(max(frost_c, dew_point_c), 0.0)  # the two curves miss each other by a hair at 0 °C


def pressure_kpa(altitude_m: float) -> float:
    """Return the usual air pressure at an altitude, -400 to 4000 m. [kPa]

    101.3 ((293 - 0.0065 z) / 293)^5.26, equation 7 of FAO Irrigation and Drainage Paper 56 (from memory). The
    weather moves it by some 3 %. Raises ValueError outside the range.

    >>> round(pressure_kpa(1800), 1)
    81.8
    """
    _in_range(altitude_m, -400.0, 4000.0, "altitude", "m")
    return float(101.3 * ((293 - 0.0065 * altitude_m) / 293) ** 5.26)


def wet_bulb_c(temp_c: float, dew_point_c: float, air_pressure_kpa: float = SEA_LEVEL_KPA) -> float:
    """Return the wet-bulb temperature, to which evaporating water cools itself. [°C]

    Sprinkling starts and stops by this temperature, since the first water cools the plant towards it.

    Parameters
    ----------
    temp_c : float
        Air temperature, -20 to 50. [°C]
    dew_point_c : float
        Dew point over water, not above the air temperature and not below -40. [°C]
    air_pressure_kpa : float, optional
        Air pressure, 60 to 110. [kPa]  Default: sea level.

    Returns
    -------
    float
        Wet-bulb temperature over water, not ice. [°C]

    Raises
    ------
    ValueError
        If a value lies outside its range, or the dew point above the air temperature.

    Notes
    -----
    Root of e_s(T_w) - gamma (T - T_w) = e with gamma = 0.000665 P, the psychrometric constant of [1]_ for a well
    ventilated thermometer (from memory). Below 0 °C a bulb coated in ice reads up to some tenths higher. Closed
    formulas fitted to room temperatures are half a degree low at 0 to 10 °C and are not used.

    References
    ----------
    .. [1] R. G. Allen, L. S. Pereira, D. Raes and M. Smith, "Crop evapotranspiration", FAO Irrigation and Drainage
       Paper 56, 1998, equation 8 (from memory)

    Examples
    --------
    >>> round(wet_bulb_c(5, -3), 1)
    1.9
    """
    _in_range(temp_c, -20.0, WARMEST_C, "temperature")
    _in_range(air_pressure_kpa, 60.0, 110.0, "air pressure", "kPa")
    _not_above(temp_c, dew_point_c)
    gamma_kpa_k = 0.665e-3 * air_pressure_kpa
    vapour_kpa = saturation_vapour_pressure_kpa(dew_point_c)
    wet_c = temp_c
    for _ in range(30):  # the curve is convex, so Newton's steps from the warm side fall towards the root
        over_water_kpa = _magnus(wet_c, _WATER)
        slope_kpa_k = over_water_kpa * _WATER[1] * _WATER[2] / (wet_c + _WATER[2]) ** 2 + gamma_kpa_k
        step_k = (over_water_kpa - gamma_kpa_k * (temp_c - wet_c) - vapour_kpa) / slope_kpa_k
        wet_c -= step_k
        if abs(step_k) < 1e-12:
            break
    return min(max(wet_c, dew_point_c), temp_c)


def _magnus(temp_c: float, constants: tuple[float, float, float]) -> float:
    at_zero_kpa, slope, offset_c = constants
    return at_zero_kpa * exp(slope * temp_c / (temp_c + offset_c))


def _inverse(vapour_kpa: float, constants: tuple[float, float, float]) -> float:
    at_zero_kpa, slope, offset_c = constants
    x = log(vapour_kpa / at_zero_kpa) / slope
    return offset_c * x / (1 - x)


def _in_range(value: float, least: float, most: float, what: str, unit: str = "°C") -> float:
    if not (isfinite(value) and least <= value <= most):
        raise ValueError(f"{what} {value} {unit} is not between {least:g} and {most:g}")
    return value


def _not_above(temp_c: float, dew_point_c: float) -> None:
    _in_range(temp_c, COLDEST_C, WARMEST_C, "temperature")
    _in_range(dew_point_c, COLDEST_C, WARMEST_C, "dew point")
    if dew_point_c > temp_c:
        raise ValueError(f"dew point {dew_point_c} °C is above the air temperature {temp_c} °C; were they swapped?")
