"""Chill and heat of this season beside earlier years, and what share of a kind's published need is reached."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise
from statistics import median

from advisor.calc.calendar import heat_start
from advisor.calc.chill_then_heat import Season, heat_sums
from advisor.calc.kept_years import DEGREE_DAYS, GROWING_DEGREE_HOURS
from advisor.reasoning.derive.scene import Scene
from advisor.reasoning.derive.season_days import season_of_year, years_of
from advisor.reasoning.pictures.base import Choice, Nothing, species_asked
from advisor.records.requirements import PublishedRequirement
from advisor.records.species import Species

METRICS = ("chill portions", "chilling hours", "Utah chill units")
"""Measures of chill, the one to be preferred first."""
STEP_DAYS = 5
"""Sums are drawn at every fifth day: nobody sees one day on a line of a year."""
LEAST_SPAN_DAYS, AHEAD_DAYS = 212, 30
"""A picture runs to the end of May (November in the south) at least, and a month beyond today."""
MOST_DRAWN = 12
WHOLE_DAYS = 120
"""Days from which an earlier season is long enough to be set beside this one (house judgement)."""


@dataclass(frozen=True, slots=True)
class YearSums:
    """Running sums of one growing year: (place in the year counted from 0, sum), the last day included."""

    year: int
    chill: tuple[tuple[int, float], ...]
    heat: tuple[tuple[int, float], ...]


@dataclass(frozen=True, slots=True)
class Need:
    """A published need with what is reached of it.

    Heat counts from the evening the middle of the chill was met; ``heat_now`` is None where no heat is published.
    ``low_on`` and ``high_on`` are the days on which the low and the high end of the chill were reached.
    """

    chill_low: float
    chill_high: float
    chill_now: float
    low_on: date | None
    high_on: date | None
    heat_low: float | None
    heat_high: float | None
    heat_now: float | None
    stage: str
    source: str


@dataclass(frozen=True, slots=True)
class SeasonShown:
    """This season and the earlier ones: sums by day, their middle, and the need of the kind.

    ``at`` is the place in the year of the last day with weather; ``usual_chill`` and ``usual_heat`` are the middles of
    the earlier years at that day. Heat is in degree-days above ``base_c``, from ``heat_from`` on.
    """

    species: Species
    year: int
    first_day: date
    last_day: date
    at: int
    span: int
    heat_from: int
    chill_metric: str
    base_c: float
    this: YearSums
    earlier: tuple[YearSums, ...]
    drawn: tuple[int, ...]
    middle: YearSums | None
    usual_chill: float | None
    usual_heat: float | None
    years: int
    filled_days: int
    need: Need | None


def season_shown(scene: Scene, choice: Choice) -> SeasonShown | Nothing:
    """Return this season's sums beside those of earlier years, for the kind chosen or the most planted one."""
    with_need = [kind for kind in scene.lore.species if scene.lore.needs.requirements_of(kind)]
    kind = species_asked(scene, choice, with_need) or next(
        (plant.text("species") for plant in scene.plants.values() if scene.lore_of(plant)), "fig"
    )
    species = scene.lore.species.get(kind)
    if not years_of(scene) or species is None:
        return Nothing("no daily weather is recorded", "weather_day")
    cultivar = scene.plants[choice.plant].text("cultivar") if choice.plant in scene.plants else ""
    published = _published(scene, kind, cultivar)
    chill_metric = published.chill_metric if published else METRICS[0]
    by_days = DEGREE_DAYS.format(f"{species.base_c:g}")
    this = season_of_year(scene, scene.year, chill_metric, by_days)
    if this is None:
        reason = "this season's daily weather does not start at its first day, or has gaps of more than five days"
        return Nothing(reason, "weather_day")
    at = len(this.chill) - 1
    heat_from = (heat_start(scene.year, scene.latitude_deg) - scene.year_start).days
    span = min(max(LEAST_SPAN_DAYS, (scene.today - scene.year_start).days + AHEAD_DAYS), 364)
    sums = _sums(scene.year, this, heat_from, at)
    others = {}
    for year in sorted(years_of(scene)):
        season = season_of_year(scene, year, chill_metric, by_days) if year < scene.year else None
        if season is not None and len(season.chill) >= WHOLE_DAYS:
            others[year] = _sums(year, season, heat_from, span)
    earlier = tuple(others.values())
    return SeasonShown(
        species,
        scene.year,
        scene.year_start,
        this.last_day,
        at,
        span,
        heat_from,
        chill_metric,
        species.base_c,
        sums,
        earlier,
        tuple(sorted(others))[-MOST_DRAWN:],
        _middle(earlier),
        _usual([_at(one.chill, at) for one in earlier]),
        _usual([_at(one.heat, at) for one in earlier]) if at >= heat_from else None,
        len(earlier),
        this.filled_days,
        _need(scene, published, _warmth(scene, kind, cultivar), this) if published else None,
    )


def _published(scene: Scene, kind: str, cultivar: str) -> PublishedRequirement | None:
    told = scene.lore.needs.requirements_of(kind, cultivar)
    return next((entry for metric in METRICS for entry in told if entry.chill_metric == metric), None)


def _sums(year: int, season: Season, heat_from: int, last: int) -> YearSums:
    chill, heat = 0.0, 0.0
    chills, heats = [], [(heat_from - 1, 0.0)]
    end = min(last, len(season.chill) - 1)
    for n in range(end + 1):
        chill += season.chill[n]
        heat += season.heat[n] if n >= heat_from else 0.0
        if n % STEP_DAYS == 0 or n == end:
            chills.append((n, chill))
            if n >= heat_from:
                heats.append((n, heat))
    return YearSums(year, tuple(chills), tuple(heats) if end >= heat_from else ())


def _at(sums: tuple[tuple[int, float], ...], place: int) -> float | None:
    """Return a running sum at a place in the year, between two drawn places in proportion; None beyond its end."""
    for (before, low), (after, high) in pairwise(sums):
        if before <= place <= after:
            return low + (high - low) * (place - before) / (after - before)
    return None


def _usual(values: list[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return median(known) if known else None


def _middle(earlier: tuple[YearSums, ...]) -> YearSums | None:
    """Return the middle of the earlier years day by day; None for fewer than two, of which there is no middle."""
    if len(earlier) < 2:
        return None

    def middle(name: str) -> tuple[tuple[int, float], ...]:
        by_place: dict[int, list[float]] = {}
        for one in earlier:
            for place, value in getattr(one, name):
                by_place.setdefault(place, []).append(value)
        return tuple((n, median(found)) for n, found in sorted(by_place.items()) if 2 * len(found) > len(earlier))

    return YearSums(0, middle("chill"), middle("heat"))


def _warmth(scene: Scene, kind: str, cultivar: str) -> PublishedRequirement | None:
    """Return the first published warmth from the chill on; it may stand beside another measure of chill."""
    told = scene.lore.needs.requirements_of(kind, cultivar)
    return next((entry for entry in told if entry.heat_metric == GROWING_DEGREE_HOURS), None)


def _need(
    scene: Scene, published: PublishedRequirement, warmth: PublishedRequirement | None, this: Season
) -> Need:  # fmt: skip
    on: dict[float, date] = {}
    total = most = 0.0
    for n, chill in enumerate(this.chill):
        total += chill
        most = max(most, total)
        for end in (published.chill_low, published.chill_high):
            if total >= end and end not in on:
                on[end] = this.first_day + timedelta(days=n)
    heat_now = None
    if warmth is not None:
        hours = season_of_year(scene, scene.year, published.chill_metric, GROWING_DEGREE_HOURS)
        if hours is not None:
            middle = (published.chill_low + published.chill_high) / 2
            heat_now = float(heat_sums(hours.chill, hours.heat, middle)[1][-1])
    return Need(
        published.chill_low,
        published.chill_high,
        most,
        on.get(published.chill_low),
        on.get(published.chill_high),
        warmth.heat_low if warmth and heat_now is not None else None,
        warmth.heat_high if warmth and heat_now is not None else None,
        heat_now,
        (warmth or published).stage,
        "; ".join(dict.fromkeys(one.told_source for one in (published, warmth) if one)),
    )
