"""How the day's and the year's warmth goes down into bare soil: the damped wave, its lag, what one reading tells."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, cos, exp, floor, isfinite, log, pi, sqrt

from advisor.calc.figure import Figure

DAY_H = 24.0
YEAR_H = 365 * 24.0
DEEPEST_CM = {DAY_H: 100.0, YEAR_H: 2000.0}
"""Depths down to which each wave is asked for; below them it is too small to read. House judgement."""
DIFFUSIVITY_RANGE_M2_S = (0.05e-6, 1.5e-6)
"""What is taken as a soil at all: the measured range of 49 soils, widened for peat and rock. House judgement."""
SETTLED = "holds for bare, even soil in settled clear weather; cloud, rain, shade or a cover breaks it"
_SPREAD = 1.3  # one printed figure stands for soils this factor apart, house judgement


@dataclass(frozen=True, slots=True)
class Diffusivity:
    """How fast temperature evens out in one kind of soil [m2/s], whose figure it is and how far that was read."""

    soil: str
    wetness: str
    diffusivity_m2_s: float
    source: str
    read: str


_OKE = "T. R. Oke, Boundary Layer Climates, 2nd ed., 1987, table 2.1"
DIFFUSIVITIES = (
    Diffusivity("sand", "dry", 0.24e-6, _OKE, "from memory"),
    Diffusivity("sand", "saturated", 0.74e-6, _OKE, "from memory"),
    Diffusivity("clay", "dry", 0.18e-6, _OKE, "from memory"),
    Diffusivity("clay", "saturated", 0.51e-6, _OKE, "from memory"),
    Diffusivity("peat", "dry", 0.10e-6, _OKE, "from memory"),
    Diffusivity("peat", "saturated", 0.12e-6, _OKE, "from memory"),
)
MEASURED_RANGE_M2_S = (0.078e-6, 1.009e-6)
"""49 soils from silty clay to sand: Lukiashchenko & Arkhangelskaya, Eurasian Soil Science 51:183, 2018 (abstract)."""


def diffusivity_range_m2_s(soil: str = "unknown", wetness: str = "unknown") -> tuple[float, float]:
    """Return the range in which a soil's thermal diffusivity is to be expected. [m2/s]

    ``soil`` is sand, loam, clay, peat or unknown, ``wetness`` dry, moist, saturated or unknown. An unknown soil gets
    the whole measured range. Loam has no figure of its own here and gets all between clay and sand. Peat also stands
    for bark and other organic mulch. Each printed figure is widened by a factor of 1.3 (house judgement), and moist
    soil by all that lies between dry and saturated. Raises ValueError for other words.

    >>> low, high = diffusivity_range_m2_s("sand", "saturated")
    >>> round(low * 1e6, 2), round(high * 1e6, 2)
    (0.57, 0.96)
    """
    soils = {"sand": ("sand",), "loam": ("clay", "sand"), "clay": ("clay",), "peat": ("peat",), "unknown": ()}
    if soil not in soils:
        raise ValueError(f"soil {soil!r} is not known; use one of {', '.join(soils)}")
    if wetness not in ("dry", "moist", "saturated", "unknown"):
        raise ValueError(f"wetness {wetness!r} is not known; use dry, moist, saturated or unknown")
    if soil == "unknown":
        return MEASURED_RANGE_M2_S
    states = (wetness,) if wetness in ("dry", "saturated") else ("dry", "saturated")
    found = [d.diffusivity_m2_s for d in DIFFUSIVITIES if d.soil in soils[soil] and d.wetness in states]
    return (min(found) / _SPREAD, max(found) * _SPREAD)


def damping_depth_cm(diffusivity_m2_s: float, period_h: float = DAY_H) -> float:
    """Return the depth at which a temperature wave's swing has shrunk to 37 % (1/e) of that at the surface.

    Parameters
    ----------
    diffusivity_m2_s : float
        Thermal diffusivity of the soil. [m2/s]
    period_h : float, optional
        ``DAY_H`` or ``YEAR_H``. [h]  Default: the day.

    Returns
    -------
    float
        Damping depth. [cm]

    Raises
    ------
    ValueError
        For another period, or a diffusivity outside 0.05e-6 to 1.5e-6 m2/s, which is no soil.

    Notes
    -----
    d = sqrt(2 a / w) with w = 2 pi / period [1]_. At depth z the swing is exp(-z/d) of the surface's and z/d radians
    late. It solves the heat equation for a sine at the surface of deep, even soil. Real days are no sine: the low
    and the high at 10 cm come some 9 h apart, not 12.

    References
    ----------
    .. [1] D. Hillel, Introduction to Soil Physics, 1982 (from memory; the form was read in a university's notes,
       which print w of the day as 1 per day where 2 pi per day is meant)

    Examples
    --------
    >>> round(damping_depth_cm(0.5e-6), 2), round(damping_depth_cm(0.5e-6, YEAR_H))
    (11.73, 224)
    """
    _known_period(period_h)
    return 100 * sqrt(_a_soils(diffusivity_m2_s, "a") * period_h * 3600 / pi)


def amplitude_ratio(depth_cm: float, diffusivity_m2_s: float, period_h: float = DAY_H) -> float:
    """Return the swing at a depth as a share of the surface's, 1 at the surface. Raises as ``lag_h`` does.

    >>> round(amplitude_ratio(10, 0.5e-6), 3)
    0.426
    """
    return exp(-_in_damping_depths(depth_cm, diffusivity_m2_s, period_h))


def lag_h(depth_cm: float, diffusivity_m2_s: float, period_h: float = DAY_H) -> float:
    """Return by how many hours the wave at a depth is behind the surface. [h]

    Raises ValueError for a depth above the surface or below 100 cm for the day, 2000 cm for the year.

    >>> round(lag_h(10, 0.5e-6), 2)
    3.26
    """
    return _in_damping_depths(depth_cm, diffusivity_m2_s, period_h) * period_h / (2 * pi)


def depth_of_share_cm(share: float, diffusivity_m2_s: float, period_h: float = DAY_H) -> float:
    """Return the depth at which the swing is this share, above 0 and at most 1, of the surface's. [cm]

    >>> round(depth_of_share_cm(0.05, 0.2e-6, YEAR_H))
    424
    """
    if not 0 < share <= 1:
        raise ValueError(f"share {share} of the surface's swing is not above 0 and at most 1")
    return -log(share) * damping_depth_cm(diffusivity_m2_s, period_h)


def damped_soil_temperature_c(
    mean_c: float,
    amplitude_k: float,
    hour: float,
    depth_cm: float,
    diffusivity_m2_s: float,
    hottest_h: float,
    period_h: float = DAY_H,
) -> float:
    """Return the temperature of bare soil at a depth and hour, by the damped wave. [°C]

    ``amplitude_k`` is half the surface's range over the period, ``hottest_h`` the hour of the surface's maximum. For
    the year both hours count from the year's start. Raises as ``lag_h`` does, and for a negative amplitude.

    >>> round(damped_soil_temperature_c(12, 8, hour=8, depth_cm=10, diffusivity_m2_s=0.5e-6, hottest_h=14), 2)
    9.43
    """
    if not amplitude_k >= 0:
        raise ValueError(f"amplitude {amplitude_k} °C is negative; want half of maximum minus minimum")
    x = _in_damping_depths(depth_cm, diffusivity_m2_s, period_h)
    return mean_c + amplitude_k * exp(-x) * cos(2 * pi * (hour - hottest_h) / period_h - x)


def diffusivity_from_amplitudes_m2_s(
    shallow_cm: float, deep_cm: float, shallow_amplitude_k: float, deep_amplitude_k: float, period_h: float = DAY_H
) -> float:
    """Return the diffusivity between two depths from how much the swing shrinks, (w/2)(dz / ln(A1/A2))^2. [m2/s]

    Raises ValueError where the deeper swing is not the smaller, or the result is no soil's.

    >>> round(diffusivity_from_amplitudes_m2_s(5, 15, 6.0, 2.4) * 1e6, 3)
    0.433
    """
    apart_m = _apart_m(shallow_cm, deep_cm, period_h)
    if not 0 < deep_amplitude_k < shallow_amplitude_k:
        raise ValueError(
            f"swing {deep_amplitude_k} °C at {deep_cm} cm must be above 0 and below {shallow_amplitude_k} °C"
            f" at {shallow_cm} cm"
        )
    found = pi / (period_h * 3600) * (apart_m / log(shallow_amplitude_k / deep_amplitude_k)) ** 2
    return _a_soils(found, "two swings that give a")


def diffusivity_from_lag_m2_s(shallow_cm: float, deep_cm: float, later_h: float, period_h: float = DAY_H) -> float:
    """Return the diffusivity between two depths from how much later the peak comes, dz^2 / (2 w dt^2). [m2/s]

    Raises ValueError where the deeper peak is not later within half a period, or the result is no soil's.

    >>> round(diffusivity_from_lag_m2_s(5, 15, 3.2) * 1e6, 3)
    0.518
    """
    apart_m = _apart_m(shallow_cm, deep_cm, period_h)
    if not 0 < later_h < period_h / 2:
        raise ValueError(f"a lag of {later_h} h is not above 0 and under {period_h / 2:g} h")
    return _a_soils(period_h * 3600 / (4 * pi) * (apart_m / (later_h * 3600)) ** 2, "a lag that gives a")


def diffusivity_both_ways(
    shallow_cm: float, deep_cm: float, shallow_amplitude_k: float, deep_amplitude_k: float, later_h: float
) -> tuple[Figure, Figure]:
    """Return the day's diffusivity from the swings and from the lag; they differ, and neither is the true one. [mm²/s]

    >>> [figure.told(2) for figure in diffusivity_both_ways(5, 15, 6.0, 2.4, 3.2)]
    ['0.43 mm²/s (shrinking of the daily swing)', '0.52 mm²/s (lag of the daily peak)']
    """
    swings = diffusivity_from_amplitudes_m2_s(shallow_cm, deep_cm, shallow_amplitude_k, deep_amplitude_k)
    lag = diffusivity_from_lag_m2_s(shallow_cm, deep_cm, later_h)
    apart = max(swings, lag) / min(swings, lag)
    caution = f"swings and lag give values a factor of {apart:.1f} apart; {SETTLED}"
    return (
        Figure(swings * 1e6, "mm²/s", "shrinking of the daily swing", caution=caution),
        Figure(lag * 1e6, "mm²/s", "lag of the daily peak", caution=caution),
    )


@dataclass(frozen=True, slots=True)
class DayWave:
    """What is known of a settled clear day over bare soil: each value as (lowest, highest) of what it may be.

    Half the surface's daily range [°C], the soil's diffusivity [m2/s], the hour of the surface's maximum [h].
    """

    amplitude_k: tuple[float, float]
    diffusivity_m2_s: tuple[float, float]
    hottest_h: tuple[float, float]

    def __post_init__(self) -> None:
        """Refuse ranges that are the wrong way round or cannot be."""
        for name, (low, high), least, most in (
            ("half the surface's daily range, °C,", self.amplitude_k, 0.0, 40.0),
            ("diffusivity, m2/s,", self.diffusivity_m2_s, *DIFFUSIVITY_RANGE_M2_S),
            ("hour of the surface's maximum", self.hottest_h, 9.0, 18.0),
        ):
            if not least <= low <= high <= most:
                raise ValueError(f"{name} from {low:g} to {high:g}: want lowest first, within {least:g} to {most:g}")

    def departure_k(self, hour: float, depth_cm: float) -> tuple[float, float]:
        """Return between what a reading at this hour and depth may differ from the day's mean there. [°C]

        Exact, not sampled: the extremes lie at the ends of the ranges or where the wave itself turns.
        """
        if not isfinite(hour):
            raise ValueError(f"hour {hour} is no hour of the day")
        xs = [_in_damping_depths(depth_cm, a, DAY_H) for a in self.diffusivity_m2_s[::-1]]
        angles = [2 * pi * (hour - h) / DAY_H for h in self.hottest_h[::-1]]
        points = [(x, angle) for x in xs for angle in angles]
        points += [(x, turn) for x in xs for turn in _between(angles[0], angles[1], x)]
        points += [(angle - turn, angle) for angle in angles for turn in _between(angle - xs[1], angle - xs[0], pi / 4)]
        waves = [exp(-x) * cos(angle - x) for x, angle in points]
        ends = [a * wave for a in self.amplitude_k for wave in (min(waves), max(waves))]
        return (min(ends), max(ends))


def daily_mean_from_reading(read_c: float, hour: float, depth_cm: float, wave: DayWave) -> Figure:
    """Return the day's mean temperature at a depth, estimated from one reading there. [°C]

    The wave's departure at that hour is taken off the reading. All that is not known of the wave is carried: with the
    surface's swing unknown within 50 % the correction is unknown within 50 %, and ``plus_minus`` says so. Two
    readings paired within the hour at one depth are the safer ground for a comparison.

    >>> wave = DayWave(amplitude_k=(4, 12), diffusivity_m2_s=(0.5e-6, 0.5e-6), hottest_h=(14, 14))
    >>> daily_mean_from_reading(10.0, hour=8, depth_cm=10, wave=wave).told()
    '12.6 ± 1.3 °C (daily mean from one reading, damped wave)'
    """
    if not -40 <= read_c <= 60:
        raise ValueError(f"a soil reading of {read_c} °C is not within -40 to 60 °C")
    low, high = wave.departure_k(hour, depth_cm)
    method = "daily mean from one reading, damped wave"
    return Figure(read_c - (low + high) / 2, "°C", method, (high - low) / 2, SETTLED)


def best_times_to_read(depth_cm: float, wave: DayWave) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return two windows of the day in which the soil at a depth passes its daily mean: rising, then falling. [h]

    Each is (from, to) in hours of the day, and runs past midnight where "to" is the smaller. The mean is passed
    somewhere within the window; how wide it is tells how well the wave is known.

    >>> wave = DayWave((8, 8), (0.4e-6, 0.6e-6), (13, 14))
    >>> [(round(a, 1), round(b, 1)) for a, b in best_times_to_read(10, wave)]
    [(10.0, 11.6), (22.0, 23.6)]
    """
    low, high = wave.diffusivity_m2_s
    earliest, latest = (h + lag_h(depth_cm, a) for h, a in zip(wave.hottest_h, (high, low), strict=True))
    return (((earliest - 6) % 24, (latest - 6) % 24), ((earliest + 6) % 24, (latest + 6) % 24))


def least_disturbed_hours(depth_cm: float, wave: DayWave, within_k: float = 1.0) -> list[tuple[float, float]]:
    """Return the spans of the day in which a reading is surely within so many degrees of the day's mean there. [h]

    Found to five minutes. A span runs past midnight where its end is the smaller; (0.0, 24.0) is the whole day, and
    an empty list says that no hour is safe with so little known.

    >>> wave = DayWave((6, 10), (0.4e-6, 0.6e-6), (13, 14))
    >>> [(round(a, 1), round(b, 1)) for a, b in least_disturbed_hours(10, wave, within_k=1.5)]
    [(10.2, 11.2), (22.2, 23.2)]
    >>> least_disturbed_hours(60, wave)
    [(0.0, 24.0)]
    """
    if not within_k > 0:
        raise ValueError(f"within {within_k} °C is not above 0")
    steps = 288
    calm = [max(map(abs, wave.departure_k(n * 24 / steps, depth_cm))) <= within_k for n in range(steps)]
    if all(calm):
        return [(0.0, 24.0)]
    spans = []
    for start in (n for n in range(steps) if calm[n] and not calm[n - 1]):
        length = next(k for k in range(1, steps) if not calm[(start + k) % steps])
        spans.append((start * 24 / steps, (start + length - 1) % steps * 24 / steps))
    return spans


def _between(low: float, high: float, first: float) -> list[float]:
    """Return the values first + k pi within a range."""
    return [first + k * pi for k in range(ceil((low - first) / pi), floor((high - first) / pi) + 1)]


def _in_damping_depths(depth_cm: float, diffusivity_m2_s: float, period_h: float) -> float:
    _known_depth(depth_cm, period_h)
    return depth_cm / damping_depth_cm(diffusivity_m2_s, period_h)


def _known_depth(depth_cm: float, period_h: float) -> None:
    _known_period(period_h)
    if not 0 <= depth_cm <= DEEPEST_CM[period_h]:
        raise ValueError(f"depth {depth_cm} cm is not within 0 to {DEEPEST_CM[period_h]:g} cm, where this wave is used")


def _known_period(period_h: float) -> None:
    if period_h not in DEEPEST_CM:
        raise ValueError(f"period {period_h} h is neither the day (24 h) nor the year (8760 h)")


def _apart_m(shallow_cm: float, deep_cm: float, period_h: float) -> float:
    _known_depth(shallow_cm, period_h)
    _known_depth(deep_cm, period_h)
    if not shallow_cm < deep_cm:
        raise ValueError(f"the deeper reading, {deep_cm} cm, is not below the shallower, {shallow_cm} cm")
    return (deep_cm - shallow_cm) / 100


def _a_soils(diffusivity_m2_s: float, whence: str) -> float:
    low, high = DIFFUSIVITY_RANGE_M2_S
    slack = 1e-9 * high  # a product of two floats may end a last digit beyond
    if not low - slack <= diffusivity_m2_s <= high + slack:
        raise ValueError(
            f"{whence} diffusivity of {diffusivity_m2_s:.3g} m2/s: no one even soil has it; want {low:g} to {high:g}"
        )
    return diffusivity_m2_s
