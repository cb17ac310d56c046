"""Soil readings of a season by spot, which of them a line may join, and what lay on the soils meanwhile."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from statistics import fmean

from advisor.facts import Fact
from advisor.reasoning.derive import DERIVATIONS
from advisor.reasoning.derive.ground import LEAST_LEAD_K
from advisor.reasoning.derive.scene import Scene
from advisor.reasoning.pictures.base import Choice, Nothing, spot_of

LONGEST_JOINED_DAYS = 14
"""Days between two readings beyond which no line is drawn: soil warms and cools again in less (house judgement)."""
MOST_DRAWN = 6
"""Soils that can be told apart in one picture; the others stand in the table."""

__all__ = ["LEAST_LEAD_K", "LONGEST_JOINED_DAYS", "SoilShown", "soil_shown"]


@dataclass(frozen=True, slots=True)
class SoilPoint:
    """One reading; ``soil`` is a spot's name, or a plant's for its pot. ``at`` is in the place's zone."""

    soil: str
    pot: bool
    at: datetime
    temp_c: float
    depth_cm: float | None
    sky: str


@dataclass(frozen=True, slots=True)
class SoilRun:
    """Days of one soil at one depth that a line may join, each with the mean time and the mean of its readings."""

    soil: str
    depth_cm: float | None
    days: tuple[tuple[datetime, float], ...]


@dataclass(frozen=True, slots=True)
class Lain:
    """A cover as it lay on a drawn spot; ``taken_off`` is None where it lies there still."""

    spot: str
    material: str
    depth_cm: float | None
    put_on: date
    taken_off: date | None


@dataclass(frozen=True, slots=True)
class SoilShown:
    """A season of soil readings: those drawn and those left to the table, and the fair comparison where there is one.

    ``warmest`` and ``coldest`` are (soil, mean lead in K, days compared), of this season only. ``compared`` is whether
    any two soils were read so that they compare fairly, None where that was not looked at.
    """

    year: int
    years: tuple[int, ...]
    drawn: tuple[str, ...]
    left_out: tuple[str, ...]
    points: tuple[SoilPoint, ...]
    runs: tuple[SoilRun, ...]
    lain: tuple[Lain, ...]
    warmest: tuple[str, float, int] | None
    coldest: tuple[str, float, int] | None
    compared: bool | None

    @property
    def days(self) -> list[date]:
        return sorted({point.at.date() for point in self.points})


def soil_shown(scene: Scene, choice: Choice) -> SoilShown | Nothing:
    """Return the readings of one growing year, the last one with any unless another is chosen."""
    by_year: dict[int, list[SoilPoint]] = {}
    wanted = _wanted(scene, choice)
    for fact in scene.told_by_today("soil_reading"):
        point = _point(scene, fact)
        if point is not None and (not wanted or point.soil in wanted):
            by_year.setdefault(scene.year_of(point.at.date()), []).append(point)
    year = choice.year if choice.year is not None else max(by_year, default=scene.year)
    points = by_year.get(year, [])
    if not points:
        where = f" at {' or '.join(choice.spots)}" if choice.spots else f" for {choice.plant}" if choice.plant else ""
        when = f" in {year}" if by_year else ""
        return Nothing(f"no soil reading is recorded{where}{when}", "soil_reading")
    counts = Counter(point.soil for point in points)
    drawn = tuple(sorted(sorted(counts, key=lambda soil: (-counts[soil], soil))[:MOST_DRAWN]))
    first, last = (min(p.at for p in points).date(), max(p.at for p in points).date())
    looked = year == scene.year and not wanted
    ranks, compared = _ranks(scene) if looked else ({}, None)
    return SoilShown(
        year,
        tuple(sorted(by_year)),
        drawn,
        tuple(sorted(set(counts) - set(drawn))),
        tuple(points),
        tuple(run for soil in drawn for run in _runs([p for p in points if p.soil == soil])),
        tuple(one for soil in drawn for one in _lain(scene, soil, first, last)),
        ranks.get("warmest"),
        ranks.get("coldest"),
        compared,
    )


def _wanted(scene: Scene, choice: Choice) -> set[str]:
    """Return the soils asked for: spots, and for a plant its pot and the spot where it stands; empty for all."""
    wanted = set(choice.spots)
    if choice.plant:
        wanted |= {choice.plant, spot_of(scene, choice.plant)} - {""}
    return wanted


def _point(scene: Scene, fact: Fact) -> SoilPoint | None:
    at, temp_c = fact.get("at"), fact.number("temp_c")
    soil = fact.text("plant") or fact.text("spot")
    if not isinstance(at, datetime) or temp_c is None or not soil:
        return None
    local = at.astimezone(scene.zone)
    return SoilPoint(soil, bool(fact.text("plant")), local, temp_c, fact.number("depth_cm"), fact.text("sky"))


def _runs(points: list[SoilPoint]) -> list[SoilRun]:
    """Return the stretches of one soil's days without too long a gap, each depth apart; a day alone is no stretch."""
    runs = []
    for depth in sorted({point.depth_cm for point in points}, key=lambda depth: depth or 0.0):
        by_day: dict[date, list[SoilPoint]] = {}
        for point in points:
            if point.depth_cm == depth:
                by_day.setdefault(point.at.date(), []).append(point)
        days = [_mean(found) for _, found in sorted(by_day.items())]
        start = 0
        for n in range(1, len(days) + 1):
            if n == len(days) or (days[n][0].date() - days[n - 1][0].date()).days > LONGEST_JOINED_DAYS:
                if n - start > 1:
                    runs.append(SoilRun(points[0].soil, depth, tuple(days[start:n])))
                start = n
    return runs


def _mean(points: list[SoilPoint]) -> tuple[datetime, float]:
    when = datetime.fromtimestamp(fmean(point.at.timestamp() for point in points), points[0].at.tzinfo)
    return when, fmean(point.temp_c for point in points)


def _lain(scene: Scene, spot: str, first: date, last: date) -> list[Lain]:
    """Return what lay on a spot at any time between two days; a cover put on that day or later ends the one before."""
    rows = [row for row in scene.told_by_today("cover") if row.text("spot") == spot]
    found = []
    for n, row in enumerate(rows):
        put_on, off = row.day("put_on"), row.day("taken_off")
        next_on = rows[n + 1].day("put_on") if n + 1 < len(rows) else None
        if put_on is None:
            continue
        ends = min((day for day in (off, next_on) if day), default=None)
        if put_on <= last + timedelta(days=1) and (ends is None or ends >= first):
            found.append(Lain(spot, row.text("material"), row.number("depth_cm"), put_on, ends))
    return found


def _ranks(scene: Scene) -> tuple[dict[str, tuple[str, float, int]], bool]:
    """Return which spot measured warmest and which coldest, by fair pairs of readings, and whether there are any."""
    found, told = {}, list(DERIVATIONS["soil_rank"](scene))
    for fact in told:
        if fact.text("place") != "between":
            lead, days = fact.number("lead_k") or 0.0, int(fact.number("on_days") or 0)
            found[fact.text("place")] = (fact.text("where"), lead, days)
    return found, bool(told)
