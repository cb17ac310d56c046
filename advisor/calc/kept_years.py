"""Chill and heat of each day of a year, kept so that a new day costs a day and not a year."""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass
from datetime import date, timedelta
from threading import Lock

import numpy as np
from numpy.typing import NDArray

from advisor.calc.chill import NO_CHILL, DailyChillAndHeat, DynamicState, daily_chill_and_heat
from advisor.calc.day_curve import Day
from advisor.calc.degree_days import single_sine_many

MOST_KEPT = 512
"""Years that are kept, of all gardens together; a year holds some fifteen kilobytes."""
GROWING_DEGREE_HOURS = "growing degree hours, base 4 °C"
DEGREE_DAYS = "degree-days above {} °C"
CHILL = {
    "chill portions": "portions",
    "Utah chill units": "utah_units",
    "chilling hours": "chilling_hours",
}
"""The measures of chill that requirements are published in, and where a day's share of each stands."""


@dataclass(frozen=True)
class YearOfDays:
    """The days of one growing year with their chill and heat; ``before_last`` is the model's state a day earlier."""

    days: tuple[Day, ...]
    each: DailyChillAndHeat
    before_last: DynamicState


class KeptYears:
    """Years by place and first day, the longest unused given up first. Safe to use from several threads."""

    def __init__(self) -> None:
        self._years: OrderedDict[tuple[float, date], YearOfDays] = OrderedDict()
        self._lock = Lock()
        self.days_reckoned = 0

    def year(self, latitude_deg: float, days: tuple[Day, ...]) -> YearOfDays:
        key = (latitude_deg, days[0][0])
        with self._lock:
            kept = self._years.get(key)
            if kept is None or kept.days != days:
                same = 0
                if kept and len(kept.days) <= len(days) and kept.days[:-1] == days[: len(kept.days) - 1]:
                    same = len(kept.days) - 1  # its last evening leaned on a day that was not there yet
                kept = self._reckon(latitude_deg, days, kept, same)
            self._years[key] = kept
            self._years.move_to_end(key)
            while len(self._years) > MOST_KEPT:
                self._years.popitem(last=False)
            return kept

    def _reckon(
        self, latitude_deg: float, days: tuple[Day, ...], kept: YearOfDays | None, same: int
    ) -> YearOfDays:  # fmt: skip
        self.days_reckoned += len(days) - same
        start = kept.before_last if kept and same else NO_CHILL
        most = _piece(latitude_deg, days, same, len(days) - 1, start)
        last = _piece(latitude_deg, days, len(days) - 1, len(days), most.state)
        parts = [kept.each] if kept and same else []

        def joined(name: str) -> NDArray[np.float64]:
            arrays = [getattr(part, name)[:same] for part in parts]
            return np.concatenate([*arrays, getattr(most, name), getattr(last, name)])

        each = DailyChillAndHeat(
            portions=joined("portions"),
            chilling_hours=joined("chilling_hours"),
            utah_units=joined("utah_units"),
            growing_degree_hours=joined("growing_degree_hours"),
            state=last.state,
        )
        return YearOfDays(days, each, most.state)


def _piece(
    latitude_deg: float, days: tuple[Day, ...], first: int, end: int, start: DynamicState
) -> DailyChillAndHeat:  # fmt: skip
    before = days[first - 1] if first and days[first][0] - days[first - 1][0] == timedelta(days=1) else None
    after = days[end] if 0 < end < len(days) and days[end][0] - days[end - 1][0] == timedelta(days=1) else None
    if first >= end:
        before = after = None
    return daily_chill_and_heat(days[first:end], latitude_deg, start=start, day_before=before, day_after=after)


KEPT = KeptYears()
"""The years of this process; every garden at one latitude with the same days shares them."""


def heat_of(year: YearOfDays, heat_metric: str) -> NDArray[np.float64]:
    """Return each day's heat in growing degree hours, or in degree-days by the single sine."""
    if heat_metric == GROWING_DEGREE_HOURS:
        return year.each.growing_degree_hours
    base_c = float(heat_metric.removeprefix("degree-days above ").removesuffix(" °C"))
    low, high = (np.array([day[n] for day in year.days]) for n in (1, 2))
    return single_sine_many(low, high, base_c)
