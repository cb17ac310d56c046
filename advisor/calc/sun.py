"""Hours of direct sun at a spot, the part of the day in which it has them, and its light beside open ground."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from advisor.calc.calendar import spring_start
from advisor.calc.daylight import SunGrid, sun_grid
from advisor.calc.figure import Figure
from advisor.calc.horizon import Directions, Floats, Outlook, directions, incidence_cosine, light_share, sky_share

DAY_STEPS, YEAR_STEPS = 1440, 288
DEFAULT_YEAR = 2025
READING_ERROR_DEG = 2.0
"""How far a bearing or an elevation read off by hand may be wrong: house judgement."""
DAY_STEP_ERROR_H, MONTH_STEP_ERROR_H = 0.05, 0.1
"""What steps of one minute on one day, and of five minutes over a month, may be wrong by: the tests measure it."""
LIGHT_ERROR, BEAM_ERROR_SHARE, WHOLE_ERROR_SHARE = 0.03, 0.05, 0.25
"""What another clear-sky model would change: so much, and so much of the difference from open ground. House judgement
from the spread of three models beside this one in the tests."""
GREATEST_LATITUDE_OF_PARTS_DEG = 66.0
NO_CLOUD = "Clear-sky geometry: no cloud is counted."
CLEAR_SKY = "Clear days only, cloud evens the difference out; light thrown back by ground and walls is not counted."


@dataclass(frozen=True, slots=True)
class PartsOfDay:
    """Share of the possible sun that a spot gets in each third of the day. [%]

    The time from sunrise to sunset over a level horizon is cut into three equal parts by true solar time.
    """

    morning: Figure
    midday: Figure
    afternoon: Figure

    @property
    def shaded(self) -> tuple[str, ...]:
        """Return the names of the parts in which more than half of the possible sun is lost (house judgement)."""
        parts = (("morning", self.morning), ("midday", self.midday), ("afternoon", self.afternoon))
        return tuple(name for name, share in parts if share.value < 50)


@dataclass(frozen=True, slots=True)
class Light:
    """Clear-day light at a spot, 1 being that of open level ground: the sunbeam by itself, and with the sky's light."""

    beam: Figure
    whole: Figure


@dataclass(frozen=True, slots=True, eq=False)
class _Sun:
    """A grid of sun positions with all that does not depend on the spot.

    ``part`` is 0, 1 or 2 for the first, middle and last third of the day.
    """

    grid: SunGrid
    toward: Directions
    month: NDArray[np.intp]
    part: NDArray[np.intp]
    beam_w_m2: Floats
    sky_w_m2: Floats


def direct_sun_h(outlook: Outlook, day: date, latitude_deg: float, longitude_deg: float) -> Figure:
    """Return the hours of direct sun at a spot on one day, in steps of one minute. [h]

    The sun counts from when its centre, refraction included, stands over the horizon and no obstruction hides it. An
    hour through bare branches counts by the share they let through. ``plus_minus`` is what 2° in every bearing, in
    every elevation of an obstruction and in the slope would change, each found by reckoning again, and the steps' own
    error, added as squares.

    Raises ValueError for a latitude beyond a pole or a longitude beyond 180°.

    >>> direct_sun_h(Outlook(wall_facing_deg=90), date(2025, 5, 1), 41.5, -75.0).told()
    '7.0 ± 0.1 h (direct sun)'
    """
    sun = _sun((day,), latitude_deg, longitude_deg, DAY_STEPS)
    value, width = _with_width(
        outlook, lambda seen: light_share(seen, sun.toward, sun.month).sum(keepdims=True) * sun.grid.step_h
    )
    return _hours(value[0], width[0], DAY_STEP_ERROR_H)


def monthly_direct_sun_h(
    outlook: Outlook, latitude_deg: float, longitude_deg: float, year: int = DEFAULT_YEAR
) -> tuple[Figure, ...]:
    """Return the mean hours of direct sun a day at a spot, January to December. [h]

    As ``direct_sun_h``, from all days of the year in steps of five minutes. The positions are reckoned once for a
    place and year and shared by its spots; which year hardly matters.

    >>> hours = monthly_direct_sun_h(Outlook(wall_facing_deg=180), 41.5, -75.0)
    >>> hours[5].told(), hours[11].told()
    ('8.2 ± 0.1 h (direct sun)', '9.2 ± 0.1 h (direct sun)')
    """
    where = (latitude_deg, longitude_deg, year)
    value, width = _with_width(outlook, lambda seen: _hours_by_month(seen, where).sum(axis=1))
    return tuple(_hours(v, w, MONTH_STEP_ERROR_H) for v, w in zip(value, width, strict=True))


def sun_spells(
    outlook: Outlook, day: date, latitude_deg: float, longitude_deg: float
) -> tuple[tuple[datetime, datetime], ...]:
    """Return from when to when the sun reaches a spot on one day, in UTC, to the minute; none where it never does.

    The day runs from one solar midnight to the next. Sun through bare branches counts as sun. The first time of the
    first spell is the day's first sun, the last of the last its last.

    >>> [(a.strftime("%H:%M"), b.strftime("%H:%M")) for a, b in
    ...  sun_spells(Outlook(wall_facing_deg=0), date(2025, 6, 21), 41.5, -75.0)]
    [('09:28', '12:59'), ('21:05', '00:36')]
    """
    sun = _sun((day,), latitude_deg, longitude_deg, DAY_STEPS)
    lit = np.flatnonzero(light_share(outlook, sun.toward, sun.month) > 0)
    if not lit.size:
        return ()
    grid, step_deg = sun.grid, sun.grid.step_h * 15
    breaks = np.flatnonzero(np.diff(grid.hour_angle_deg[lit]) > 1.5 * step_deg)
    midnight = datetime(day.year, day.month, day.day, tzinfo=UTC)

    def when(step: int, half: float) -> datetime:
        minutes = (float(grid.utc_h[step]) + half * grid.step_h) * 60
        return midnight + timedelta(minutes=round(minutes))

    firsts, lasts = [lit[0], *lit[breaks + 1]], [*lit[breaks], lit[-1]]
    return tuple((when(first, -0.5), when(last, 0.5)) for first, last in zip(firsts, lasts, strict=True))


def sun_by_part_of_day(
    outlook: Outlook, months: Iterable[int], latitude_deg: float, longitude_deg: float, year: int = DEFAULT_YEAR
) -> PartsOfDay:
    """Return how much of the possible sun a spot gets in the morning, at midday and in the afternoon of some months.

    Raises ValueError for a latitude beyond 66°, where days without night have no morning, for no months, or a month
    that is none.

    >>> east_wall = sun_by_part_of_day(Outlook(wall_facing_deg=90), [5], 41.5, -75.0)
    >>> east_wall.morning.told(digits=0), east_wall.shaded
    ('100 ± 2 % of the possible sun (direct sun)', ('afternoon',))
    """
    if abs(latitude_deg) > GREATEST_LATITUDE_OF_PARTS_DEG:
        raise ValueError(f"latitude {latitude_deg}° is beyond 66°, where some days have no morning or evening")
    rows = np.array(_checked(months)) - 1
    where = (latitude_deg, longitude_deg, year)
    possible = _hours_by_month(Outlook(), where)[rows].sum(axis=0)
    value, width = _with_width(outlook, lambda seen: 100 * _hours_by_month(seen, where)[rows].sum(axis=0) / possible)
    step = 100 * MONTH_STEP_ERROR_H * len(rows) / possible
    return PartsOfDay(
        *(
            Figure(float(v), "% of the possible sun", "direct sun", float(np.hypot(w, error)), NO_CLOUD)
            for v, w, error in zip(value, width, step, strict=True)
        )
    )


def spring_months(latitude_deg: float) -> tuple[int, int, int]:
    """Return the three months of spring, March to May in the north and September to November in the south."""
    first = spring_start(2025, latitude_deg).month
    return (first, first + 1, first + 2)


def light_on_ground(
    outlook: Outlook, months: Iterable[int], latitude_deg: float, longitude_deg: float, year: int = DEFAULT_YEAR
) -> Light:
    """Return the clear-day light on a spot's ground, slope counted, beside that on open level ground at the place.

    The beam falls off with the air it crosses and by the angle at which it meets the ground; the sky is taken as
    evenly bright and counted by how much of it the spot sees. ``plus_minus`` as in ``direct_sun_h``, with what another
    clear-sky model would change in place of the steps' error.

    Raises ValueError for no months, a month that is none, or months in which the sun does not rise.

    >>> light_on_ground(Outlook(slope_deg=15, aspect_deg=180), spring_months(41.5), 41.5, -75.0).whole.told(digits=2)
    '1.08 ± 0.05 of open level ground (clear-sky light, Haurwitz and Meinel)'
    """
    return _light(outlook, months, (latitude_deg, longitude_deg, year), on_wall=False)


def light_on_wall(
    outlook: Outlook, months: Iterable[int], latitude_deg: float, longitude_deg: float, year: int = DEFAULT_YEAR
) -> Light:
    """Return the clear-day light on the wall at a spot, beside that on open level ground at the place.

    As ``light_on_ground``, for the upright face of the wall. Raises ValueError also for a spot without a wall.

    >>> light_on_wall(Outlook(wall_facing_deg=180), [1], 41.5, -75.0).beam.value > 1.5
    True
    """
    if outlook.wall_facing_deg is None:
        raise ValueError("no wall stands at this spot; give wall_facing_deg")
    return _light(outlook, months, (latitude_deg, longitude_deg, year), on_wall=True)


def relative_air_mass(elevation_deg: ArrayLike) -> Floats:
    """Return how much air the sunbeam crosses, 1 being from straight above.

    F. Kasten and A. T. Young, "Revised optical air mass tables and approximation formula", Applied Optics 28(22),
    4735-4738, 1989 (from memory; the constants are checked against pvlib). Elevation with refraction, 0 to 90°.

    >>> relative_air_mass([90, 30, 0]).round(3).tolist()
    [1.0, 1.994, 37.92]
    """
    high = np.asarray(elevation_deg, dtype=float)
    if not bool(np.all((high >= 0) & (high <= 90))):
        raise ValueError("a sun's elevation is not between 0 and 90°")
    return np.asarray(1 / (np.sin(np.radians(high)) + 0.50572 * (high + 6.07995) ** -1.6364))


def clear_sky_w_m2(elevation_deg: ArrayLike) -> tuple[Floats, Floats]:
    """Return what the sun and the sky give on a clear day: the beam square on, and the sky on level ground. [W/m²]

    Parameters
    ----------
    elevation_deg : array_like
        Elevation of the sun, refraction included. [°]

    Returns
    -------
    tuple of array
        Direct normal and diffuse horizontal irradiance, neither negative. [W/m²]

    Raises
    ------
    ValueError
        If an elevation is not between 0 and 90°.

    Notes
    -----
    Direct: 1353 · 0.7^(m^0.678), m being the air mass [1]_. Direct and diffuse together on level ground:
    1098 cos z exp(-0.059 / cos z), z being the zenith angle [2]_; the diffuse part is the rest. Clean air near sea
    level is meant. With the sun over 25° three other models lie within 7 %, at 10° within 27 %; ratios differ less.

    References
    ----------
    .. [1] A. B. Meinel and M. P. Meinel, "Applied Solar Energy", Addison-Wesley, 1976 (from memory, not opened)
    .. [2] B. Haurwitz, "Insolation in relation to cloudiness and cloud density", Journal of Meteorology 2, 154-166,
       1945 (from memory, not opened; checked against pvlib's implementation)

    Examples
    --------
    >>> [round(float(part)) for part in clear_sky_w_m2(30.0)]
    [766, 105]
    """
    high = np.asarray(elevation_deg, dtype=float)
    beam = 1353 * 0.7 ** (relative_air_mass(high) ** 0.678)
    height = np.maximum(np.sin(np.radians(high)), 1e-9)
    both = 1098 * height * np.exp(-0.059 / height)
    return beam, np.maximum(both - beam * height, 0)


def _light(outlook: Outlook, months: Iterable[int], where: tuple[float, float, int], on_wall: bool) -> Light:
    """Return beam and whole light on the ground or the wall of a spot as shares of open level ground's."""
    asked = _checked(months)
    rows = np.array(asked) - 1
    in_the_open = _light_by_month(Outlook(), where, False)[rows].sum(axis=0)
    if not in_the_open[0]:
        raise ValueError(f"the sun does not rise at latitude {where[0]}° in months {asked}: nothing to compare with")
    value, width = _with_width(
        outlook, lambda seen: _light_by_month(seen, where, on_wall)[rows].sum(axis=0) / in_the_open
    )
    width = np.hypot(width, LIGHT_ERROR + np.array([BEAM_ERROR_SHARE, WHOLE_ERROR_SHARE]) * np.abs(value - 1))
    unit, method = "of open level ground", "clear-sky light, Haurwitz and Meinel"
    return Light(
        Figure(float(value[0]), unit, f"{method}, beam alone", float(width[0]), CLEAR_SKY),
        Figure(float(value[1]), unit, method, float(width[1]), CLEAR_SKY),
    )


def _with_width(outlook: Outlook, reckon: Callable[[Outlook], Floats]) -> tuple[Floats, Floats]:
    """Return a result and how far it moves when bearings, elevations and the slope are read 2° wrong."""
    value = reckon(outlook)
    width = np.zeros_like(value)
    for change in (outlook.turned, outlook.raised, outlook.steepened):
        less, more = (np.abs(reckon(change(by)) - value) for by in (-READING_ERROR_DEG, READING_ERROR_DEG))
        width = np.hypot(width, np.maximum(less, more))
    return value, width


def _hours(value: float, width: float, step_error_h: float) -> Figure:
    return Figure(float(value), "h", "direct sun", float(np.hypot(width, step_error_h)), NO_CLOUD)


def _checked(months: Iterable[int]) -> list[int]:
    """Return months sorted and once each, refusing none at all and numbers that are no month."""
    wanted = sorted(set(months))
    if not wanted:
        raise ValueError("no month was given")
    if not_one := set(wanted) - set(range(1, 13)):
        raise ValueError(f"month {min(not_one)} is not between 1 and 12")
    return wanted


@lru_cache(maxsize=256)
def _hours_by_month(outlook: Outlook, where: tuple[float, float, int]) -> Floats:
    """Return the mean hours a day of each month (12 rows) in each third of the day (3 columns)."""
    sun = _of_year(*where)
    cell = (sun.month - 1) * 3 + sun.part
    total = np.bincount(cell, weights=_light_over_year(outlook, where), minlength=36).reshape(12, 3)
    days = np.bincount([day.month for day in sun.grid.days], minlength=13)[1:, None]
    return np.asarray(total * sun.grid.step_h / days)


@lru_cache(maxsize=256)
def _light_by_month(outlook: Outlook, where: tuple[float, float, int], on_wall: bool) -> Floats:
    """Return sums of the beam, and of beam and sky (2 columns), for each month (12 rows), in units of no matter."""
    sun = _of_year(*where)
    tilt, facing = (90.0, outlook.wall_facing_deg) if on_wall else (outlook.slope_deg, outlook.aspect_deg)
    falls = np.maximum(incidence_cosine(sun.toward, tilt, facing or 0.0), 0) * _light_over_year(outlook, where)
    beam = np.bincount(sun.month, weights=falls * sun.beam_w_m2, minlength=13)[1:]
    sky = np.bincount(sun.month, weights=sun.sky_w_m2, minlength=13)[1:]
    seen = np.array([sky_share(outlook, month, tilt, facing or 0.0) for month in range(1, 13)])
    return np.column_stack([beam, beam + sky * seen])


@lru_cache(maxsize=16)
def _light_over_year(outlook: Outlook, where: tuple[float, float, int]) -> Floats:
    sun = _of_year(*where)
    return light_share(outlook, sun.toward, sun.month)


@lru_cache(maxsize=8)
def _of_year(latitude_deg: float, longitude_deg: float, year: int) -> _Sun:
    first = date(year, 1, 1)
    days = tuple(first + timedelta(days=n) for n in range((date(year + 1, 1, 1) - first).days))
    return _sun(days, latitude_deg, longitude_deg, YEAR_STEPS)


@lru_cache(maxsize=16)
def _sun(days: tuple[date, ...], latitude_deg: float, longitude_deg: float, steps_a_day: int) -> _Sun:
    grid = sun_grid(days, latitude_deg, longitude_deg, steps_a_day)
    month = np.array([day.month for day in days], dtype=np.intp)[grid.day_index]
    from_noon = np.abs(grid.hour_angle_deg)
    half_day = np.zeros(len(days))
    np.maximum.at(half_day, grid.day_index, from_noon + grid.step_h * 7.5)
    part = 1 + np.sign(grid.hour_angle_deg) * (from_noon > half_day[grid.day_index] / 3)
    toward = directions(grid.elevation_deg, grid.azimuth_deg)
    return _Sun(grid, toward, month, part.astype(np.intp), *clear_sky_w_m2(grid.elevation_deg))
