"""What a kind of tree needs and stands, from what is published and from this garden's own dated trees, for a replay."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from functools import partial

from advisor.calc.calendar import northern_month
from advisor.calc.chill_then_heat import DatedStage
from advisor.calc.cold_spots import CLEAR_RANGE_K, MinimumPair, SpotOffset, spot_offset
from advisor.calc.kept_years import DEGREE_DAYS, GROWING_DEGREE_HOURS
from advisor.calc.kind_course import Course, Tender, tender_buds, tender_growth
from advisor.calc.replay import season_at
from advisor.calc.replay_years import MIDWINTER_DAYS, REPLAYS, REST_DAYS, ReplayYear
from advisor.calc.requirement import Requirement
from advisor.calc.requirement_fit import FEWEST_YEARS_ALONE, RequirementFit, fit_requirement
from advisor.calc.spot_climate import Lie, SpotClimate, spot_climate
from advisor.facts import Fact
from advisor.reasoning.derive.forecasts import FRUIT_SET, RIPE
from advisor.reasoning.derive.nights import offset_of, spot_days
from advisor.reasoning.derive.places import site
from advisor.reasoning.derive.plants import stand_of
from advisor.reasoning.derive.scene import Records, Scene, together
from advisor.reasoning.derive.season_days import years_of
from advisor.reasoning.derive.stages import way_of
from advisor.reasoning.derive.store import mark_of
from advisor.reasoning.derive.weather import weather_of
from advisor.records.species import Species

BEST_CHILL = "chill portions"
"""The one measure of chill that is taken. Utah units and chilling hours count nothing in frost, so that where winters
freeze for months they are not met on paper while the trees flower (house judgement; in 36 springs of a record from
Nebraska, Utah units from 1 November met the middle of what apricot is published to need by the end of April in none,
chill portions in all). Where no portions are published, heat counts from midwinter."""
WIDEST_SHARE = 0.3
"""A heat need fitted to own dates is not read as wider than this to each side: more says that chill then heat does not
fit those dates, and not that the tree would flower on a twentieth of the heat (house judgement)."""
ENDS = ("late", "early")
"""Sorts that are told by no name: a late one takes the most heat that is published for its kind, an early one the
least. That a late cultivar is one of much heat, and not of much chill, is house judgement."""
SPRING_MONTHS = (2, 5)
"""Months, as in the north, whose sunny days tell how warm a spot is while buds swell (house judgement)."""


# ---- spots


def climate_of(scene: Scene, spot: str) -> tuple[SpotClimate, tuple[Fact, ...]]:
    """Return a spot's climate beside the station's, and the rows that it rests on; one nobody told of lies anyhow."""
    return scene.remember(("spot climate", spot), lambda: _read_climate(scene, spot))


def _read_climate(scene: Scene, spot: str) -> tuple[SpotClimate, tuple[Fact, ...]]:
    row = scene.spots.get(spot)
    told = scene.remember(("sites", "all"), lambda: {fact.text("spot"): fact for fact in site(scene)}).get(spot)
    nights, days = offset_of(scene, spot) if row else None, _sunny_days(scene, spot) if row else None
    pairs = together([*(nights[1] if nights else ()), *(days[1] if days else ())])
    if row is None or told is None:
        glass = row is not None and row.text("under_cover") == "unheated glass"
        lie = Lie(glass=glass, nights=nights[0] if nights else None, days=days[0] if days else None)
        return spot_climate(lie), ((row,) if row else ()) + tuple(pairs)
    spring_h = row.number("spring_sun_h")
    lie = Lie(
        low_lying=_yes_no(told, "low_lying"),
        slope_part=told.text("slope_part"),
        warm_wall=told.get("warm_wall") is True,
        cool_facing=_yes_no(told, "cool_facing"),
        sun_h=spring_h if spring_h is not None else told.number("sun_h"),
        glass=row.text("under_cover") == "unheated glass",
        nights=nights[0] if nights else None,
        days=days[0] if days else None,
    )
    return spot_climate(lie), (told, *pairs)


def _yes_no(fact: Fact, name: str) -> bool | None:
    value = fact.get(name)
    return value if isinstance(value, bool) else None


def _sunny_days(scene: Scene, spot: str) -> tuple[SpotOffset, tuple[Fact, ...]] | None:
    """Return how much colder a spot's maxima were than the station's on sunny days of spring, None for too few days."""
    station = weather_of(scene).days
    pairs: dict[date, tuple[MinimumPair, tuple[Fact, Fact]]] = {}
    for row in spot_days(scene, spot):
        on, high = row.day("on"), row.number("max_c")
        beside = station.get(on) if on else None
        if on is None or high is None or beside is None:
            continue
        low_c, high_c = beside.number("min_c") or 0.0, beside.number("max_c") or 0.0
        in_spring = SPRING_MONTHS[0] <= northern_month(on, scene.latitude_deg) <= SPRING_MONTHS[1]
        if in_spring and high_c - low_c >= CLEAR_RANGE_K:
            pairs[on] = (MinimumPair(on, high, high_c), (row, beside))
    found = spot_offset([pair for pair, _ in pairs.values()], "sunny days of spring")
    if not isinstance(found, SpotOffset):
        return None
    return found, tuple(fact for _, facts in pairs.values() for fact in facts)


# ---- kinds


@dataclass(frozen=True)
class Known:
    """What a kind needs and stands, with what that rests on; ``own_years`` of this garden's dates are in it."""

    course: Course
    harm: str
    own_years: int
    rows: tuple[Fact, ...]
    caution: str


@dataclass(frozen=True)
class Unknown:
    """Why a kind cannot be replayed, and which record would change that."""

    reason: str
    reading: str


def recorded_years(scene: Scene) -> list[ReplayYear]:
    """Return the garden's growing years up to the question, ready for a replay, whole or not."""
    return scene.remember(("replay", "years"), lambda: _read_years(scene))


def _read_years(scene: Scene) -> list[ReplayYear]:
    return REPLAYS.years({year: found.days for year, found in years_of(scene).items()}, scene.latitude_deg)


def course_of(scene: Scene, kind: str, sort: str = "") -> Known | Unknown:
    """Return what a kind or a sort of it goes through in spring, from what is published and this garden's own dates.

    ``sort`` is a cultivar, or "late" or "early" for one at the end of the heat that is published for the kind.
    """
    if scene.as_told is not None:
        scene = scene.remember(("as told", ""), lambda: replace(scene, records=_told(scene), as_told=None, memory=None))
    make = partial(_read_course, kind=kind, sort=sort)
    return scene.settled(("course", (kind, sort)), make, mark_of("course", f"{kind} {sort}"))


def _told(scene: Scene) -> Records:
    assert scene.as_told is not None
    return scene.as_told


def _read_course(scene: Scene, kind: str, sort: str) -> Known | Unknown:
    species = scene.lore.species.get(kind)
    cultivar = "" if sort in ENDS else sort
    if species is None:
        return Unknown(f"nothing is known of {kind}", "plant")
    waking = not species.trait(cultivar, "flowers_first")
    published = _published(scene, species, cultivar, waking)
    milestone = "waking" if waking else "bloom"
    dated, rows = _own_dates(scene, kind, cultivar, milestone, published)
    fit = _fit(dated, published)
    if dated and published.chill_metric == BEST_CHILL and (fit is None or fit.chill_doubted):
        other = _from_midwinter(published, f"{milestone} was seen here before the published chill was met")
        dated_so, rows_so = _own_dates(scene, kind, cultivar, milestone, other)
        fit_so = _fit(dated_so, other)
        if fit_so is not None:
            published, dated, rows, fit = other, dated_so, rows_so, fit_so
    requirement = _no_wider(fit.requirement) if fit else published
    if requirement.heat_low is None:
        stage = "awake" if waking else "in flower"
        own = len({scene.year_of(one.day) for one in dated})
        seen = f"in {own} {'year' if own == 1 else 'years'} only" if own else "in no year"
        why = f"what heat {species.name} needs is not published, and it was dated {stage} here {seen}"
        return Unknown(f"{why}; {FEWEST_YEARS_ALONE} would do", "stage")
    if sort in ENDS:
        requirement = _at_end(requirement, _published(scene, species, "", waking), sort)
    tender, harm = _tender(scene, species, waking)
    ripe = scene.lore.needs.days_to_ripe(kind, "main")
    course = Course(
        requirement,
        tender,
        (ripe.days_low, ripe.days_high) if ripe else None,
        _fruit_share(scene, kind, cultivar, requirement) if ripe else None,
        waking,
    )
    caution = f"its own dates say: {fit.verdict}" if fit and fit.better is False else ""
    return Known(course, harm, fit.years if fit else 0, tuple(rows) if fit else (), caution)


def _published(scene: Scene, species: Species, cultivar: str, waking: bool) -> Requirement:
    """Return what is published of chill, in portions or else from midwinter, and of heat, which may be nothing."""
    told = [
        entry
        for entry in scene.lore.needs.requirements_of(species.id, cultivar)
        if entry.stage in ("wake" if waking else "bloom", "not said")
    ]
    chill = next((entry for entry in told if entry.chill_metric == BEST_CHILL), None)
    heat = next((entry for entry in told if entry.heat_metric == GROWING_DEGREE_HOURS), None)
    by_days = DEGREE_DAYS.format(f"{species.base_c:g}") if species.base_c >= 5 else GROWING_DEGREE_HOURS
    sources = dict.fromkeys(entry.told_source for entry in (chill, heat) if entry is not None)
    need = Requirement(
        chill.chill_low if chill else 0.0,
        chill.chill_high if chill else 0.0,
        heat.heat_low if heat else None,
        heat.heat_high if heat else None,
        BEST_CHILL,
        GROWING_DEGREE_HOURS if heat else by_days,
        "; ".join(sources),
    )
    return need if chill else _from_midwinter(need, "no chill portions are published")


def _from_midwinter(need: Requirement, why: str) -> Requirement:
    source = "; ".join(part for part in (need.source, f"heat from midwinter, since {why}") if part)
    return replace(need, chill_low=MIDWINTER_DAYS, chill_high=MIDWINTER_DAYS, chill_metric=REST_DAYS, source=source)


def _tender(scene: Scene, species: Species, waking: bool) -> tuple[Tender | None, str]:
    """Return what a kind stands, and in words what a killing night does to it."""
    buds, growth = scene.lore.hardiness.buds.get(species.id), scene.lore.hardiness.new_growth.get(species.id)
    if buds is not None and not waking:
        tender = tender_buds(buds)
        share = "half" if tender.lost_share < 0.6 else "nine tenths"
        return tender, f"kills {share} of its buds, flowers or small fruit"
    if growth is not None and waking:
        cites = "; ".join(source["cite"] for source in growth.sources)
        return tender_growth(growth.damage_c, cites), "freezes its new shoots"
    return None, ""


def _own_dates(
    scene: Scene, kind: str, cultivar: str, milestone: str, need: Requirement
) -> tuple[list[DatedStage], list[Fact]]:
    """Return this kind's dated stages in the ground outdoors, each with its year's weather where the tree stood."""
    dated: list[DatedStage] = []
    rows: list[Fact] = []
    for year in recorded_years(scene):
        key = ("own dates", (year.serial, kind, cultivar, milestone, need.chill_metric, need.heat_metric))
        of_year = scene.remember(key, partial(_dates_of_year, scene, year, kind, cultivar, milestone, need))
        dated += of_year[0]
        rows += of_year[1]
    return dated, rows


def _dates_of_year(
    scene: Scene, year: ReplayYear, kind: str, cultivar: str, milestone: str, need: Requirement
) -> tuple[list[DatedStage], list[Fact]]:
    dated: list[DatedStage] = []
    rows: list[Fact] = []
    for plant in _plants(scene, kind, cultivar):
        way = way_of(scene, plant.text("name"), year.year, milestone)
        if way is not None and way.there is not None and way.day is not None:
            one = _dated(scene, year, plant, way.day, need)
            if one is not None:
                dated.append(one)
                rows += [way.there, plant]
    return dated, rows


def _dated(scene: Scene, year: ReplayYear, plant: Fact, day: date, need: Requirement) -> DatedStage | None:
    """Return a stage with its year's weather where the tree stood, None for a pot or a tree under glass."""
    stand = stand_of(scene, plant, day)
    if stand.like != "ground":
        return None
    climate, _ = climate_of(scene, stand.spot)
    key = ("replay season", (year.serial, climate.key, need.chill_metric, need.heat_metric))
    season = scene.remember(key, lambda: season_at(year, climate, need.chill_metric, need.heat_metric))
    return DatedStage(season, day) if season.first_day <= day <= season.last_day else None


def _plants(scene: Scene, kind: str, cultivar: str) -> list[Fact]:
    return [
        plant
        for plant in scene.plants.values()
        if plant.text("species") == kind and (not cultivar or plant.text("cultivar").casefold() == cultivar.casefold())
    ]


def _fit(dated: list[DatedStage], need: Requirement) -> RequirementFit | None:
    try:
        return fit_requirement(dated, need) if dated else None
    except ValueError:  # too few own years and nothing published to lean on
        return None


def _no_wider(need: Requirement) -> Requirement:
    low, middle, high = need.heat_range
    least, most = middle * (1 - WIDEST_SHARE), middle * (1 + WIDEST_SHARE)
    return replace(need, heat_low=max(low, least), heat_high=min(high, most))


def _at_end(need: Requirement, published: Requirement, sort: str) -> Requirement:
    """Return a need of heat at the end of its published range, or of what own dates give where that lies beyond."""
    ends = [need.heat_range, *([published.heat_range] if published.heat_low is not None else [])]
    at = max(one[2] for one in ends) if sort == "late" else min(one[0] for one in ends)
    return replace(need, heat_low=at, heat_high=at)


def _first_fruit(scene: Scene, plant: str) -> dict[int, date]:
    """Return the day on which a plant's small fruit was first seen, by growing year."""
    mark = mark_of("first fruit", plant)
    return scene.settled(("first fruit", plant), partial(_read_first_fruit, plant=plant), mark)


def _read_first_fruit(scene: Scene, plant: str) -> dict[int, date]:
    first: dict[int, date] = {}
    for row in scene.of_plant("stage", plant):
        day = row.day("on")
        if day is not None and FRUIT_SET <= (row.number("bbch") or 0) < RIPE:
            first.setdefault(scene.year_of(day), day)  # the oldest come first
    return first


def _fruit_share(scene: Scene, kind: str, cultivar: str, need: Requirement) -> float | None:
    """Return the heat at which this kind's small fruit showed here, as a share of what leads to its first stage."""
    dated: list[DatedStage] = []
    plants = [(plant, _first_fruit(scene, plant.text("name"))) for plant in _plants(scene, kind, cultivar)]
    for year in recorded_years(scene):
        for plant, seen in plants:
            one = _dated(scene, year, plant, seen[year.year], need) if year.year in seen else None
            if one is not None:
                dated.append(one)
    chill = Requirement(*need.chill_range[::2], None, None, need.chill_metric, need.heat_metric, need.source)
    fit = _fit(dated, chill)
    return fit.requirement.heat_range[1] / need.heat_range[1] if fit else None
