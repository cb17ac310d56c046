"""First ripe fruit from fruit set or from pinching, by days and by heat, and the last day that pinching is of use."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from math import hypot, isfinite
from typing import Literal

from advisor.calc.chill_then_heat import Season
from advisor.calc.figure import Figure
from advisor.calc.forecast import forecast_stage
from advisor.calc.requirement import Requirement

PINCH_TO_FRUITLET_DAYS = 14  # "about two weeks": common practice, no source

Crop = Literal["main", "breba"]
BeforeFreeze = Literal["before", "doubtful", "after", "not known here"]


@dataclass(frozen=True, slots=True)
class DaysToRipe:
    """Days from visible fruitlets to the first ripe fruit of one crop; brebas and the main crop are never one range.

    Raises ValueError for a range that is upside down or does not start above 0.
    """

    crop: Crop
    low: float
    high: float
    source: str

    def __post_init__(self) -> None:
        if not (isfinite(self.high) and 0 < self.low <= self.high):
            raise ValueError(f"{self.low} to {self.high} days to ripe; wanted a low end above 0 and not above the high")


@dataclass(frozen=True, slots=True)
class HeadStart:
    """By how many days this pot or wall ripens sooner than the range's plants, from records, ± its half-width."""

    days: float
    plus_minus: float

    def __post_init__(self) -> None:
        if not (isfinite(self.days) and isfinite(self.plus_minus) and self.plus_minus >= 0):
            raise ValueError(f"head start of {self.days} ± {self.plus_minus} days; wanted a number and a width from 0")


@dataclass(frozen=True, slots=True)
class Ripening:
    """Dates of the first ripe fruit, None where not known here, and how they lie to the first autumn freeze.

    ``before_freeze`` is "before" where even the latest date is no later than the freeze's 10 % date, "after" where
    even the earliest is later, "doubtful" between.
    """

    earliest: date | None
    likely: date | None
    latest: date | None
    before_freeze: BeforeFreeze
    method: str
    caution: str

    def days_to_go(self, today: date) -> Figure | None:
        """Days to the likely date, with half the span of earliest to latest as width; None where not known here."""
        if self.likely is None or self.earliest is None:
            return None
        width = None if self.latest is None else (self.latest - self.earliest).days / 2
        return Figure(float((self.likely - today).days), "days", self.method, width, self.caution)


@dataclass(frozen=True, slots=True)
class LastPinch:
    """Last days to pinch: for the slowest fruit of the range to ripen in time, and for the quickest."""

    safe: date
    latest: date


def ripe_by_days(
    start: date,
    days: DaysToRipe | None,
    *,
    pinched: bool = False,
    head_start: HeadStart | None = None,
    first_freeze: date | None = None,
) -> Ripening:
    """Return when the first fruit ripens, by the days that fruit of this crop takes.

    Parameters
    ----------
    start : date
        Day on which fruitlets were first visible; with ``pinched``, the day of pinching.
    days : DaysToRipe or None
        Range for this crop; None where none is known.
    pinched : bool, optional
        Whether two weeks from pinching to visible fruitlets come first.
    head_start : HeadStart, optional
        This pot's or wall's lead in the span from fruitlet to ripe fruit; an earlier ``start`` is not counted twice.
    first_freeze : date, optional
        This autumn's 10 % date: the first freeze comes by then in one year of ten.

    Returns
    -------
    Ripening
        The likely date is the middle of the range.

    Raises
    ------
    ValueError
        If ``first_freeze`` is before ``start``, or brebas are to come from pinching.

    Notes
    -----
    The head start's width and each half of the range are joined as independent, by the root of their squares. The two
    weeks are taken as fixed: beside a range of weeks their own doubt is small. Days take no account of a cool summer;
    ``ripe_by_heat`` does. What is published for figs spans 60 to 120 days, from general and growers' pages only.

    Examples
    --------
    >>> found = ripe_by_days(date(2025, 6, 20), DaysToRipe("main", 90, 120, "common practice"), pinched=True)
    >>> found.earliest, found.latest
    (datetime.date(2025, 10, 2), datetime.date(2025, 11, 1))
    """
    if days is None:
        return _unknown("no days from fruitlet to ripe fruit are known for this crop")
    if pinched and days.crop == "breba":
        raise ValueError("pinching brings main-crop fruit on new shoots; brebas sit on last year's wood")
    _check_freeze(first_freeze, start)
    lag = PINCH_TO_FRUITLET_DAYS if pinched else 0
    earliest, likely, latest = (start + timedelta(days=lag + span) for span in _spans(days, head_start))
    return Ripening(
        earliest, likely, latest, _before_freeze(earliest, latest, first_freeze), "days to ripe", days.source
    )


def ripe_by_heat(
    season: Season,
    requirement: Requirement | None,
    earlier: Sequence[Season],
    *,
    head_start: HeadStart | None = None,
    first_freeze: date | None = None,
) -> Ripening:
    """Return when the first fruit ripens, by the heat gathered since fruitlets were visible.

    Parameters
    ----------
    season : Season
        Days from visible fruitlets (or two weeks after pinching) to the last known one. Its chill is not used.
    requirement : Requirement or None
        Heat from fruitlet to ripe fruit of this crop, most often fitted to own years; chill 0 to 0. None if unknown.
    earlier : sequence of Season
        This place's earlier years, at least from the same calendar day to autumn's end.
    head_start, first_freeze
        As for ``ripe_by_days``.

    Returns
    -------
    Ripening
        The 10 %, 50 % and 90 % dates of ``forecast_stage``, moved by the head start.

    Raises
    ------
    ValueError
        If metrics differ, the requirement has chill in it, or ``first_freeze`` is before the season.
    """
    if requirement is None or requirement.heat_low is None:
        return _unknown("no heat from fruitlet to ripe fruit is known for this crop; own dated years would give it")
    if requirement.chill_high != 0:
        raise ValueError(f"ripening needs no chill, but {requirement.source} asks for it; give chill 0 to 0")
    _check_freeze(first_freeze, season.first_day)
    found = forecast_stage(season, requirement, earlier)
    if found.low is None or found.median is None:
        return _unknown(found.caution)
    lead = head_start or HeadStart(0.0, 0.0)
    likely = found.median - timedelta(days=round(lead.days))
    earliest = likely - timedelta(days=round(hypot((found.median - found.low).days, lead.plus_minus)))
    latest = (
        None
        if found.high is None
        else likely + timedelta(days=round(hypot((found.high - found.median).days, lead.plus_minus)))
    )
    verdict = _before_freeze(earliest, latest, first_freeze)
    return Ripening(earliest, likely, latest, verdict, "heat to ripe", found.caution)


def last_pinch_day(
    first_freeze: date | None, days: DaysToRipe | None, head_start: HeadStart | None = None
) -> LastPinch | None:
    """Return the last useful days to pinch: the freeze's 10 % date less the days to ripe and two weeks.

    None where the freeze date or the range is not known here. Raises ValueError for a range of brebas.

    >>> last_pinch_day(date(2025, 10, 10), DaysToRipe("main", 90, 120, "common practice"))
    LastPinch(safe=datetime.date(2025, 5, 29), latest=datetime.date(2025, 6, 28))
    """
    if first_freeze is None or days is None:
        return None
    if days.crop == "breba":
        raise ValueError("pinching brings main-crop fruit on new shoots; give the main crop's days to ripe")
    quick, _, slow = _spans(days, head_start)
    safe, latest = (first_freeze - timedelta(days=PINCH_TO_FRUITLET_DAYS + span) for span in (slow, quick))
    return LastPinch(safe, latest)


def _spans(days: DaysToRipe, head_start: HeadStart | None) -> tuple[int, int, int]:
    """Return the quickest, middle and slowest whole days, the head start taken off, never below 0."""
    lead = head_start or HeadStart(0.0, 0.0)
    middle, half = (days.low + days.high) / 2 - lead.days, hypot((days.high - days.low) / 2, lead.plus_minus)
    quick, likely, slow = (max(0, round(span)) for span in (middle - half, middle, middle + half))
    return (quick, likely, slow)


def _before_freeze(earliest: date, latest: date | None, first_freeze: date | None) -> BeforeFreeze:
    if first_freeze is None:
        return "not known here"
    if latest is not None and latest <= first_freeze:
        return "before"
    return "after" if earliest > first_freeze else "doubtful"


def _check_freeze(first_freeze: date | None, start: date) -> None:
    if first_freeze is not None and first_freeze < start:
        raise ValueError(f"first autumn freeze {first_freeze} is before {start}; give this autumn's date")


def _unknown(why: str) -> Ripening:
    return Ripening(None, None, None, "not known here", "", why)
