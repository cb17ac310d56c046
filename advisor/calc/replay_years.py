"""Recorded growing years made ready for a replay: days without gaps, and heat at spots warmer or colder."""

from __future__ import annotations

from bisect import bisect_left
from collections import OrderedDict
from collections.abc import Callable, Hashable, Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta
from functools import cached_property
from itertools import count
from threading import RLock
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from advisor.calc.calendar import growing_year_start
from advisor.calc.chill_then_heat import LONGEST_GAP_DAYS, MOST_MISSING_SHARE
from advisor.calc.day_curve import Day, hourly_curve
from advisor.calc.degree_days import single_sine_many
from advisor.calc.heat import curvilinear_growing_degree_hours
from advisor.calc.kept_years import CHILL, GROWING_DEGREE_HOURS, KEPT, YearOfDays
from advisor.calc.spot_climate import clearness

Array = NDArray[np.float64]
T = TypeVar("T")

COLDER_NODES_K = np.arange(-4.0, 6.1, 2.0)
WARMER_NODES_K = np.concatenate([np.arange(-4.0, 6.1, 1.0), [8.0, 10.0]])
"""Offsets at which a year's heat is worked out; between them it is taken in proportion, beyond them at the last. [K]"""

REST_DAYS, MIDWINTER_DAYS = "days from the start of rest", 61.0
"""Stands for chill where a kind's is not known in a measure that holds: heat then counts from midwinter, 1 January in
the north and 1 July in the south, as heat sums commonly do."""
MOST_KEPT_YEARS, MOST_KEPT_HEATS, MOST_KEPT_RESULTS = 128, 64, 20_000
"""How many years, heats of a year at a spot, and results of a year, a spot and a kind are kept, of all gardens
together: some 0.2 MB, 0.12 MB and 2 kB each, so 75 MB at the very most."""
_SERIAL = count(1)


@dataclass(frozen=True)
class Autumn:
    """The days of an autumn in order: ordinals, minima [°C], how clear each night was, and how many are missing."""

    ordinals: NDArray[np.int64]
    min_c: Array
    clear: Array
    missing: int


@dataclass(frozen=True, eq=False)
class ReplayYear:
    """One growing year from its first day, at most to summer's height, missing days the mean of their neighbours.

    ``whole`` is whether it is recorded so far that it can be replayed; another one may still date a stage. The same
    days give the same object, and ``serial``, for as long as it is kept. ``found`` are the days as recorded, with what
    each gave at the station; ``autumn`` is None where none of its days is recorded.
    """

    year: int
    latitude_deg: float
    first_day: date
    min_c: Array
    max_c: Array
    found: YearOfDays
    autumn: Autumn | None
    whole: bool
    serial: int = field(default_factory=lambda: next(_SERIAL))
    _heats: dict[str, Array] = field(default_factory=dict, repr=False)
    _chills: dict[str, Array] = field(default_factory=dict, repr=False)

    @cached_property
    def clear_nights(self) -> Array:
        """How clear each day's night before was, 0 to 1, by the fall from the maximum of the day before."""
        before = np.concatenate([self.max_c[:1], self.max_c[:-1]])
        return clearness(before - self.min_c)

    @cached_property
    def clear_days(self) -> Array:
        """How sunny each day was, 0 to 1, by its range."""
        return clearness(self.max_c - self.min_c)

    @property
    def days(self) -> int:
        return len(self.min_c)

    def day(self, index: int) -> date:
        return self.first_day + timedelta(days=index)

    def common(self, index: NDArray[np.int64]) -> NDArray[np.int64]:
        """Return days of this year as days of a year without 29 February, so that dates of years compare."""
        leap_day = _leap_day(self.first_day)
        return index - (index >= leap_day) if leap_day is not None else index

    def chill(self, metric: str) -> Array:
        """Return the greatest sum of chill so far by the evening of each day, in the metric's own unit.

        The station's chill stands for every spot: a wall's own would move first flower by half a day on average and by
        five days in one winter (two records, see the tests), far less than the published needs are wide.
        """
        if metric == REST_DAYS:
            return np.arange(1.0, self.days + 1)
        if metric not in self._chills:
            each = np.asarray(getattr(self.found.each, CHILL[metric]))
            places = np.array([(day - self.first_day).days for day, _, _ in self.found.days], dtype=np.int64)
            inside = places < self.days
            each = _filled(places[inside], each[inside], self.days)
            self._chills[metric] = np.maximum.accumulate(np.cumsum(each))
        return self._chills[metric]

    def heat(self, metric: str) -> Array:
        """Return running sums of heat, one row for each pair of nodes, colder varying slowest, in the metric's unit."""
        if metric not in self._heats:
            self._heats[metric] = self._reckoned(metric)
        return self._heats[metric]

    def _reckoned(self, metric: str) -> Array:
        colder, warmer = COLDER_NODES_K[:, None, None], WARMER_NODES_K[None, :, None]
        if metric == GROWING_DEGREE_HOURS:
            each = self._degree_hours()
        else:
            base_c = float(metric.removeprefix("degree-days above ").removesuffix(" °C"))
            low = self.min_c - colder * self.clear_nights + 0 * warmer
            high = self.max_c + warmer * self.clear_days + 0 * colder
            each = single_sine_many(np.minimum(low, high), high, base_c)
        _order(each.swapaxes(0, 1), WARMER_NODES_K)
        _order(each[::-1], -COLDER_NODES_K[::-1])
        sums: Array = np.cumsum(each, axis=2).reshape(-1, self.days)
        return sums

    def _degree_hours(self) -> Array:
        """Return each day's growing degree hours at every pair of nodes.

        The day's curve is linear in its extremes, so the curve of a colder or warmer spot is the station's and so much
        of what one degree changes.
        """
        pairs = zip(self.min_c.tolist(), self.max_c.tolist(), strict=True)
        days = [(self.day(n), low, high) for n, (low, high) in enumerate(pairs)]
        here = hourly_curve(days, self.latitude_deg)
        falls = here - hourly_curve(
            [(day, low - drop, high) for (day, low, high), drop in zip(days, self.clear_nights.tolist(), strict=True)],
            self.latitude_deg,
        )
        rises = -here + hourly_curve(
            [(day, low, high + rise) for (day, low, high), rise in zip(days, self.clear_days.tolist(), strict=True)],
            self.latitude_deg,
        )
        each = np.empty((len(COLDER_NODES_K), len(WARMER_NODES_K), self.days))
        for row, colder_k in enumerate(COLDER_NODES_K):
            at = here - colder_k * falls
            for column, warmer_k in enumerate(WARMER_NODES_K):
                hours = np.clip(at + warmer_k * rises, -90.0, 60.0)
                each[row, column] = np.asarray(curvilinear_growing_degree_hours(hours)).sum(axis=1)
        return each


def _order(each: Array, nodes: Array) -> None:
    """Let no warmer node have less heat than a cooler one, from the station's own outward, in place.

    On days above 25 °C the curve of growing degree hours falls; that a warm wall should slow a bud is not wanted.
    """
    here = int(np.argmin(np.abs(nodes)))
    np.maximum.accumulate(each[here:], axis=0, out=each[here:])
    np.minimum.accumulate(each[here::-1], axis=0, out=each[here::-1])


@dataclass(frozen=True, eq=False)
class Between:
    """Where offsets lie between the nodes: the four rows of ``ReplayYear.heat`` round each, and their weights."""

    rows: NDArray[np.int64]
    weights: Array

    def of(self, sums: Array) -> Array:
        """Return the running heat at each of the offsets, shape (offsets, days)."""
        found = np.zeros((len(self.rows), sums.shape[1]))
        for corner in range(4):
            found += sums[self.rows[:, corner]] * self.weights[:, corner, None]
        return found


def between_nodes(colder_k: Array, warmer_k: Array) -> Between:
    """Return where pairs of offsets lie between the nodes; beyond the last node they are taken to lie on it.

    >>> found = between_nodes(np.array([0.0]), np.array([2.5]))
    >>> found.weights.round(2).tolist()
    [[0.5, 0.5, 0.0, 0.0]]
    """
    one, past = _along(colder_k, COLDER_NODES_K)
    other, beyond = _along(warmer_k, WARMER_NODES_K)
    corners = [(one + i, other + j, abs(1 - i - past) * abs(1 - j - beyond)) for i in (0, 1) for j in (0, 1)]
    rows = np.stack([row * len(WARMER_NODES_K) + column for row, column, _ in corners], axis=1)
    return Between(rows, np.stack([weight for _, _, weight in corners], axis=1))


def _along(values: Array, nodes: Array) -> tuple[NDArray[np.int64], Array]:
    """Return the node below each value, the last but one at most, and how far it is past it on the way to the next."""
    inside = np.clip(values, nodes[0], nodes[-1])
    below = np.clip(np.searchsorted(nodes, inside, side="right") - 1, 0, len(nodes) - 2)
    return below, (inside - nodes[below]) / (nodes[below + 1] - nodes[below])


def _filled(places: NDArray[np.int64], values: Array, count: int) -> Array:
    """Return one value a day, a missing one the mean of the nearest known on each side."""
    wanted = np.arange(count)
    before = np.clip(np.searchsorted(places, wanted, side="right") - 1, 0, None)
    after = np.clip(np.searchsorted(places, wanted, side="left"), None, len(places) - 1)
    filled: Array = (values[before] + values[after]) / 2
    return filled


def _leap_day(first_day: date) -> int | None:
    for year in (first_day.year, first_day.year + 1):
        if year % 4 == 0 and (year % 100 or year % 400 == 0):
            index = (date(year, 2, 29) - first_day).days
            if 0 <= index < 366:
                return index
    return None


def end_of(year: int, latitude_deg: float) -> date:
    """Return the last day of a growing year's replay, as that of ``freeze_dates.spring_freezes``: end of July, January.

    By then the last frost of spring is past, and what has not set fruit will hardly ripen it.
    """
    return date(year, 7, 31) if latitude_deg >= 0 else date(year + 1, 1, 31)


def autumn_of(year: int, latitude_deg: float) -> tuple[date, date]:
    """Return the first and last day on which a growing year's first autumn freeze is looked for."""
    if latitude_deg >= 0:
        return date(year, 8, 1), date(year, 12, 31)
    return date(year + 1, 2, 1), date(year + 1, 6, 30)


def _autumn_days(by_year: Mapping[int, tuple[Day, ...]], year: int, latitude_deg: float) -> tuple[Day, ...]:
    """Return the recorded days of a growing year's autumn, whose end may lie in the next one, and the day before it."""
    first, last = autumn_of(year, latitude_deg)
    found: tuple[Day, ...] = ()
    for part in (by_year[year], by_year.get(year + 1, ())):
        start = bisect_left(part, (first - timedelta(days=1),))
        found += part[start : bisect_left(part, (last + timedelta(days=1),))]
    return found


def _made(year: int, latitude_deg: float, days: tuple[Day, ...], after: tuple[Day, ...]) -> ReplayYear | None:
    """Return a year ready for a replay, None where it does not begin at its beginning, ends too soon, or has gaps."""
    first = growing_year_start(year, latitude_deg)
    end = end_of(year, latitude_deg)
    spring = days[: bisect_left(days, (end + timedelta(days=1),))]
    if not spring or spring[0][0] != first:
        return None
    places = np.array([(day - first).days for day, _, _ in spring], dtype=np.int64)
    length = int(places[-1]) + 1
    if len(spring) < (1 - MOST_MISSING_SHARE) * length or max(np.diff(places), default=1) > LONGEST_GAP_DAYS + 1:
        return None
    low, high = (_filled(places, np.array([day[n] for day in spring]), length) for n in (1, 2))
    found = KEPT.year(latitude_deg, days)
    return ReplayYear(year, latitude_deg, first, low, high, found, _autumn(year, latitude_deg, after),
                      whole=days[-1][0] >= end and (end - spring[-1][0]).days <= LONGEST_GAP_DAYS)  # fmt: skip


def _autumn(year: int, latitude_deg: float, after: tuple[Day, ...]) -> Autumn | None:
    first, last = autumn_of(year, latitude_deg)
    ordinals = np.array([day.toordinal() for day, _, _ in after], dtype=np.int64)
    low, high = (np.array([day[n] for day in after]) for n in (1, 2))
    inside = ordinals >= first.toordinal() if len(after) else np.zeros(0, dtype=bool)
    if not inside.any():
        return None
    adjoins = np.concatenate([[False], np.diff(ordinals) == 1])
    before = np.where(adjoins, np.concatenate([high[:1], high[:-1]]), high)
    missing = (last - first).days + 1 - int(inside.sum())
    return Autumn(ordinals[inside], low[inside], clearness(before - low)[inside], missing)


class KeptReplays:
    """Years, and what was reckoned of them, the longest unused given up first. Safe to use from several threads."""

    def __init__(self) -> None:
        self._years: OrderedDict[Hashable, tuple[tuple[Day, ...], tuple[Day, ...], ReplayYear | None]] = OrderedDict()
        self._heats: OrderedDict[Hashable, object] = OrderedDict()
        self._results: OrderedDict[Hashable, object] = OrderedDict()
        self._lock = RLock()
        self.years_made = 0
        self.reckoned = 0

    def years(self, by_year: Mapping[int, tuple[Day, ...]], latitude_deg: float) -> list[ReplayYear]:
        """Return every growing year that is recorded from its first day, oldest first.

        Parameters
        ----------
        by_year : mapping of growing year to its days
            Each day's minimum and maximum, oldest first. [°C]
        latitude_deg : float
            Latitude, north positive. [°]

        Returns
        -------
        list of ReplayYear
            Years with at most a tenth of the days missing up to their last, and five in a row. A year whose days are
            as they were is the same object as before, so that a new day makes one year anew.
        """
        found = []
        for year in sorted(by_year):
            days, after = by_year[year], _autumn_days(by_year, year, latitude_deg)
            with self._lock:
                kept = self._years.get((latitude_deg, year))
                if kept is None or kept[0] != days or kept[1] != after:
                    self.years_made += 1
                    kept = (days, after, _made(year, latitude_deg, days, after))
                self._years[(latitude_deg, year)] = kept
                self._years.move_to_end((latitude_deg, year))
                while len(self._years) > MOST_KEPT_YEARS:
                    self._years.popitem(last=False)
            if kept[2] is not None:
                found.append(kept[2])
        return found

    def heat_at(self, year: ReplayYear, metric: str, key: Hashable, between: Between) -> Array:
        """Return running heat at a spot for each draw; ``key`` names what ``between`` was made from."""
        return self._keep(
            self._heats, MOST_KEPT_HEATS, (year.serial, metric, key), lambda: between.of(year.heat(metric))
        )

    def result(self, key: Hashable, make: Callable[[], T]) -> T:
        """Return what was made under a key, making it once; the key holds the year or years that it depends on."""
        return self._keep(self._results, MOST_KEPT_RESULTS, key, make)

    def _keep(self, store: OrderedDict[Hashable, object], most: int, key: Hashable, make: Callable[[], T]) -> T:
        with self._lock:
            if key not in store:
                self.reckoned += 1
                store[key] = make()
            store.move_to_end(key)
            while len(store) > most:
                store.popitem(last=False)
            return store[key]  # type: ignore[return-value]  # a key always holds one type


REPLAYS = KeptReplays()
"""What this process has replayed; gardens with the same days at one latitude share it."""
