"""What the place's daily weather says: the season, heat so far beside other years, the winter, frost after bloom."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from datetime import date, timedelta
from functools import partial
from statistics import median

from advisor.calc.calendar import (
    growing_year_start,
    heat_start,
    median_date,
    past_midsummer_days,
    set_in_year,
    soil_is_warming,
)
from advisor.calc.calendar import (
    season as season_of,
)
from advisor.calc.degree_days import single_sine_degree_days
from advisor.facts import Fact, Recorded
from advisor.reasoning.derive.plants import stand_of
from advisor.reasoning.derive.scene import Scene, derivation, derived
from advisor.reasoning.derive.stages import past_ways, way_of
from advisor.reasoning.derive.store import mark_of

BLOOM_FROST_C = -2.2
"""28 °F, the alert for six weeks from first flower to small fruit: a tenth of peach and cherry is lost at it after
bloom, of apricot as green fruit; open flowers stand 25 to 27 °F (Penn State Extension, Orchard Frost: critical
temperatures; apricot after a Michigan State Univ. table; both read in copies)."""
BLOOM_DAYS = 42
MOST_MISSING_SHARE = 0.1


class Weather:
    """The station's days by date, read once a question.

    Of several stations the one that the place names counts, else the one with most days.
    """

    def __init__(self, scene: Scene) -> None:
        rows = [fact for fact in scene.rows("weather_day") if not fact.get("spot")]
        counts = Counter(fact.text("source") for fact in rows)
        counting = scene.place.text("station") or (max(counts, key=lambda s: (counts[s], s)) if counts else "")
        self.days: dict[date, Fact] = {}
        for fact in rows:
            day = fact.day("on")
            sound = (fact.number("min_c") or 0.0) <= (fact.number("max_c") or 0.0)
            if day is not None and day <= scene.today and fact.text("source") == counting and sound:
                self.days[day] = fact

    def span(self, first: date, last: date) -> list[Fact]:
        """Return the recorded days from first to last, both counted."""
        length = (last - first).days + 1
        days = (first + timedelta(days=n) for n in range(length))
        return [self.days[day] for day in days if day in self.days]


def weather_of(scene: Scene) -> Weather:
    return scene.remember(("weather", "all"), lambda: Weather(scene))


def forecasts_told(scene: Scene) -> list[Fact]:
    """Return the forecasts told by today, the last one last: of those issued on one day the one that was told last,
    which puts the others right."""
    return sorted(scene.told_by_today("forecast_day"), key=lambda row: as_told(row, "issued"))


def as_told(row: Fact, dated_by: str) -> tuple[date, int]:
    """Return what puts rows in the order in which they hold: their day, and of one day the order of telling."""
    return row.day(dated_by) or date.min, row.origin.row_ids[-1] if isinstance(row.origin, Recorded) else 0


def as_one(days: list[Fact]) -> list[Fact]:
    """Return one fact that stands for a span of days and names all their rows, so that an origin stays short."""
    if not days:
        return []
    rows = tuple(row for fact in days if isinstance(fact.origin, Recorded) for row in fact.origin.row_ids)
    span = {"first": days[0].day("on"), "last": days[-1].day("on"), "count": len(days)}
    return [Fact.of("weather_day", span, Recorded("weather_day", rows))]


@derivation
def season(scene: Scene) -> Iterable[Fact]:
    """Derive the season from the place and the day."""
    yield derived(
        "season",
        "season",
        (scene.place,),
        place=scene.place.text("name"),
        name=season_of(scene.today, scene.latitude_deg),
        soil_warming=soil_is_warming(scene.today, scene.latitude_deg),
        past_midsummer_days=past_midsummer_days(scene.today, scene.latitude_deg),
    )


@derivation
def heat_so_far(scene: Scene) -> Iterable[Fact]:
    """Derive this year's degree-days beside those of earlier years to the same day, for the asked plant's kind."""
    species = scene.lore_of(scene.focus) if scene.focus else scene.lore.species.get(scene.species)
    if species is None:
        return
    base_c = species.base_c
    yield from scene.remember(("heat so far above", base_c), lambda: list(_heat_so_far(scene, base_c)))


def _heat_so_far(scene: Scene, base_c: float) -> Iterable[Fact]:
    """Yield the degree-days above a temperature, which are the same for every plant whose kind has this base."""
    weather = weather_of(scene)
    start = heat_start(scene.year, scene.latitude_deg)
    length = (scene.today - start).days
    if length < 1:
        return
    this_year = weather.span(start, scene.today)
    missing = length + 1 - len(this_year)
    if missing > MOST_MISSING_SHARE * (length + 1):
        return
    sums = []
    used = list(this_year)
    for year in sorted({scene.year_of(day) for day in weather.days} - {scene.year}):
        first = heat_start(year, scene.latitude_deg)
        days = weather.span(first, first + timedelta(days=length))
        if len(days) >= (1 - MOST_MISSING_SHARE) * (length + 1):
            sums.append(_sum(days, base_c) * (length + 1) / len(days))
            used += days
    total = _sum(this_year, base_c) * (length + 1) / len(this_year)
    usual = median(sums) if sums else None
    yield derived(
        "heat_so_far",
        "heat_so_far",
        as_one(sorted(used, key=lambda fact: fact.day("on") or scene.today)),
        base_c=base_c,
        sum_dd=round(total, 1),
        usual_dd=round(usual, 1) if usual is not None else None,
        usual_share=round(total / usual, 3) if usual else None,
        years=len(sums),
        missing_days=missing,
    )


def _sum(days: list[Fact], base_c: float) -> float:
    return sum(single_sine_degree_days(day.number("min_c") or 0.0, day.number("max_c") or 0.0, base_c) for day in days)


@derivation
def hard_winter(scene: Scene) -> Iterable[Fact]:
    """Derive the lowest temperature since the trees went to rest."""
    days = weather_of(scene).span(growing_year_start(scene.year, scene.latitude_deg), scene.today)
    if not days:
        return
    coldest = min(days, key=lambda day: (day.number("min_c") or 0.0, day.day("on")))
    yield derived(
        "hard_winter",
        "hard_winter",
        (coldest,),
        place=scene.place.text("name"),
        min_c=coldest.number("min_c"),
        on=coldest.day("on"),
    )


@derivation
def bloom_frost(scene: Scene) -> Iterable[Fact]:
    """Derive in how many springs the station froze hard after the usual first flowers of the asked kind."""
    blooms = first_blooms(scene)
    if not blooms:
        return
    usual = median_date([set_in_year(day, scene.year_start) for day, _ in blooms])
    weather = weather_of(scene)
    years = frosts = 0
    used: list[Fact] = []
    for year in sorted({scene.year_of(day) for day in weather.days}):
        first = set_in_year(usual, growing_year_start(year, scene.latitude_deg))
        days = weather.span(first, first + timedelta(days=BLOOM_DAYS))
        if len(days) < 0.95 * (BLOOM_DAYS + 1):
            continue
        years += 1
        frosts += any((day.number("min_c") or 0.0) <= BLOOM_FROST_C for day in days)
        used += days
    if years:
        yield derived(
            "bloom_frost",
            "bloom_frost",
            [*(row for _, row in blooms), *as_one(used)],
            species=scene.species,
            first_bloom=usual,
            bloom_years=len(blooms),
            years=years,
            frost_years=frosts,
            frost_share=round(frosts / years, 3),
        )


def first_blooms(scene: Scene) -> list[tuple[date, Fact]]:
    """Return each year's first open flower of the asked kind, outdoors in the ground. Not to be changed."""
    kind = scene.species
    return scene.settled(("first blooms", kind), partial(_first_blooms, kind=kind), mark_of("first blooms", kind))


def _first_blooms(scene: Scene, kind: str) -> list[tuple[date, Fact]]:
    first: dict[int, tuple[date, Fact]] = {}
    for name, plant in scene.plants.items():
        if plant.text("species") != kind:
            continue
        ways = [*past_ways(scene, name, "bloom").items(), (scene.year, way_of(scene, name, scene.year, "bloom"))]
        for year, way in ways:
            if way is None or way.there is None or way.day is None or (year in first and way.day >= first[year][0]):
                continue
            if stand_of(scene, plant, way.day).like == "ground":
                first[year] = (way.day, way.there)
    return [first[year] for year in sorted(first)]
