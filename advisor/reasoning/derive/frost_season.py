"""Around the frosts of a year: what is wrapped, how dry the soil is, how cold winters get, when it froze last, and
what a frost left alive."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import timedelta
from statistics import median

from advisor.calc.bud_count import alive
from advisor.calc.calendar import growing_year_start, spring_start
from advisor.facts import Fact
from advisor.reasoning.derive.each import each_plant
from advisor.reasoning.derive.freezes import FREEZING_C
from advisor.reasoning.derive.scene import Scene, derivation, derived
from advisor.reasoning.derive.tonight import spring_odds
from advisor.reasoning.derive.weather import as_one, as_told, weather_of

HARD_C = -2.2
"""28 °F, from which green growth is damaged."""
WINTER_DAYS, FEWEST_WINTER_DAYS = 151, 100
"""November to March in the north, May to September in the south; a winter with fewer days recorded is left out (house
judgement)."""
AUTUMN_DAYS = 61
"""Days before a growing year's start from which its cold is counted: September and October in the north."""
LONGEST_WRAP_DAYS = 240
"""A wrapping older than this whose end nobody told has come off since (house judgement)."""
WET_MM = 5.0
"""Rain that wets the top of a soil (house judgement)."""


# ---- wraps and winters


@each_plant
def wrapped_now(scene: Scene, plant: str) -> Fact | None:
    """Derive which plants are wrapped, or were unwrapped: the last word on their wrap, of the last months."""
    works = [row for row in scene.of_plant("work", plant) if row.text("what") in ("wrapped", "unwrapped")]
    last = max(works, key=lambda row: as_told(row, "on"), default=None)
    on = last.day("on") if last else None
    if last is None or on is None or (scene.today - on).days > LONGEST_WRAP_DAYS:
        return None
    age, wrapped = (scene.today - on).days, last.text("what") == "wrapped"
    return derived("wrapped_now", "wrapped_now", (last,), plant=plant, wrapped=wrapped, on=on, age_days=age)


@derivation
def winter_low(scene: Scene) -> Iterable[Fact]:
    """Derive how cold winters get at the station, and how cold it has been since this cold season began."""
    weather = weather_of(scene)
    start = growing_year_start(_cold_season(scene), scene.latitude_deg)
    lows, behind = [], []
    for year in sorted({scene.year_of(day) for day in weather.days}):
        first = growing_year_start(year, scene.latitude_deg)
        days = weather.span(first, first + timedelta(days=WINTER_DAYS - 1))
        if first < start and len(days) >= FEWEST_WINTER_DAYS:
            coldest = min(days, key=lambda day: day.number("min_c") or 0.0)
            lows.append(coldest.number("min_c") or 0.0)
            behind.append(coldest)
    since = weather.span(start - timedelta(days=AUTUMN_DAYS), scene.today)
    if not lows:
        return
    least = min(since, key=lambda day: day.number("min_c") or 0.0, default=None)
    yield derived(
        "winter_low",
        "winter_low",
        (*behind, *((least,) if least else ())),
        place=scene.place.text("name"),
        usual_c=round(median(lows), 1),
        years=len(lows),
        left_days=(spring_start(_cold_season(scene), scene.latitude_deg) - scene.today).days,
        so_far_c=least.number("min_c") if least else None,
    )


def _cold_season(scene: Scene) -> int:
    """Return the growing year whose cold season is on, or comes next in autumn."""
    return scene.year_of(scene.today + timedelta(days=AUTUMN_DAYS))


# ---- dates of frost


@derivation
def hard_frost_ahead(scene: Scene) -> Iterable[Fact]:
    """Derive how far off the day is after which a hard frost comes in spring in one year of ten only."""
    yield from spring_odds(scene, "hard_frost_ahead", HARD_C)


@derivation
def last_freeze(scene: Scene) -> Iterable[Fact]:
    """Derive the last morning on record at which the station froze."""
    days = weather_of(scene).days
    frozen = [day for day, row in days.items() if (row.number("min_c") or 0.0) <= FREEZING_C]
    if frozen:
        row = days[max(frozen)]
        yield derived(
            "last_freeze",
            "last_freeze",
            (row,),
            place=scene.place.text("name"),
            on=max(frozen),
            min_c=row.number("min_c"),
            age_days=(scene.today - max(frozen)).days,
            newest=max(days),
        )


# ---- soil


@derivation
def dry_spell(scene: Scene) -> Iterable[Fact]:
    """Derive for each spot how long neither rain nor watering has wetted its soil, as far back as rain is recorded."""
    days = weather_of(scene).days
    since, rain, used = 0, 0.0, []
    for age in range(1, LONGEST_WRAP_DAYS):
        row = days.get(scene.today - timedelta(days=age))
        fallen = row.number("rain_mm") if row else None
        if row is None or fallen is None:
            break
        rain += fallen
        if rain >= WET_MM:
            break
        since = age
        used.append(row)
    today = days.get(scene.today)
    if not since or (today is not None and rain + (today.number("rain_mm") or 0.0) >= WET_MM):
        return
    watered = _last_watered(scene)
    for spot in scene.spots:
        given = watered.get(spot)
        on = given.day("on") if given else None
        dry = min(since, (scene.today - on).days) if on else since
        rows = (*as_one(used[::-1]), *((given,) if given else ()))
        yield derived("dry_spell", "dry_spell", rows, spot=spot, dry_days=dry)


def _last_watered(scene: Scene) -> dict[str, Fact]:
    """Return the last watering of each spot, or of a plant there."""
    found = [row for name in scene.named_in("work", "plant") for row in _watered_last(scene, name)]
    last: dict[str, Fact] = {}
    for row in sorted(found, key=lambda row: (scene.when(row), row.key)):
        plant = scene.plants.get(row.text("plant"))
        last |= dict.fromkeys((row.text("spot"), plant.text("spot") if plant else ""), row)
    return last


def _watered_last(scene: Scene, plant: str) -> list[Fact]:
    """Return the last watering of a plant at each spot that is named with it, or with none the last of each spot."""
    return scene.remember(("watered last", plant), lambda: _read_watered(scene, plant))


def _read_watered(scene: Scene, plant: str) -> list[Fact]:
    rows = scene.of_plant("work", plant)
    return list({row.text("spot"): row for row in rows if row.text("what") == "watered"}.values())


# ---- what a frost left


@each_plant
def buds_alive(scene: Scene, plant: str) -> Fact | None:
    """Derive from the last count of cut buds what share of them lives, and within what bounds."""
    rows = [row for row in scene.of_plant("inspection", plant) if row.number("buds_cut")]
    on = rows[-1].day("on") if rows else None
    if on is None or on < scene.year_start:
        return None
    cut, dead = int(rows[-1].number("buds_cut") or 0), rows[-1].number("buds_dead")
    if dead is None or dead > cut:
        return None
    found = alive(cut, int(dead))
    return derived(
        "buds_alive",
        "buds_alive",
        (rows[-1], scene.plants[plant]),
        plant=plant,
        species=scene.plants[plant].text("species"),
        on=on,
        age_days=(scene.today - on).days,
        cut=cut,
        dead=int(dead),
        alive_share=round(found.share, 3),
        least_share=round(found.least, 3),
        most_share=round(found.most, 3),
    )


@each_plant
def frost_harm(scene: Scene, plant: str) -> Fact | None:
    """Derive the last frost that is recorded to have harmed a plant in this growing year."""
    rows = [row for row in scene.of_plant("harm", plant) if row.text("cause") == "frost"]
    on = rows[-1].day("on") if rows else None
    if on is None or on < scene.year_start:
        return None
    extent = rows[-1].text("extent") or None
    age = (scene.today - on).days
    return derived("frost_harm", "frost_harm", rows[-1:], plant=plant, on=on, age_days=age, extent=extent)
