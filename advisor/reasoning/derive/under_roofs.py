"""What stands under a roof or glass: what of a plant cold and sun can hurt, how the air was in there, and when a plant
came out or in."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from statistics import mean

from advisor.calc.calendar import northern_month
from advisor.calc.calendar import season as season_of
from advisor.facts import Fact
from advisor.reasoning.derive.nights import spot_days
from advisor.reasoning.derive.plants import Stand, stand_of
from advisor.reasoning.derive.scene import Scene, derivation, derived
from advisor.reasoning.derive.stages import REST, way_of
from advisor.reasoning.derive.weather import as_one, weather_of

ROOFS = ("shelter", "unheated glass", "heated glass")
LEAF_FALL = 93
"""BBCH code from which leaves fall (Meier (ed.), BBCH Monograph, 2nd ed., 2001)."""
RIPENING = 81
"""BBCH code from which fruit colours (the same)."""
FALLEN_DAYS = 200
"""Leaf fall told longer ago than this was another winter's (house judgement)."""
OPEN_DAYS, OLD_DAYS = 14, 30
"""Buds seen open so long ago in the growing season have leaves by now; what was seen so long before a day of summer or
autumn has leaves, and says nothing of its fruit (house judgement)."""
REAL_COLD_C = -2.0
"""A night so cold ends the leaf and hardens the wood (house judgement)."""
SHADE_DAYS, MORNING_SUN_DAYS = 3, 7
"""A plant that came out in leaf stands so long in shade, and until then in morning sun only (common practice)."""
AIR_DAYS, FEWEST_AIR_DAYS = 7, 3
"""House judgement: two days of a thermometer are two days."""


# ---- what a plant shows


@dataclass(frozen=True)
class Look:
    """What a plant showed when it was last looked at."""

    row: Fact
    shows: str
    in_leaf: bool
    ripening: bool
    age_days: int


def look_at(scene: Scene, plant: Fact, day: date) -> Look | None:
    """Return what a plant showed at its last look by a day; None where that was in an earlier growing year.

    Leaves told to fall in one growing year stay fallen when the next one begins.
    """
    rows = reversed(scene.of_plant("stage", plant.text("name")))
    row = next((row for row in rows if (row.day("on") or day) <= day), None)
    if row is None:
        return None
    on = row.day("on") or day
    bbch, age = int(row.number("bbch") or 0), (day - on).days
    if scene.year_of(on) != scene.year_of(day) and not (bbch >= LEAF_FALL and age <= FALLEN_DAYS):
        return None
    shows, now = _shows(scene, plant, bbch), season_of(day, scene.latitude_deg)
    if shows != "fallen leaves" and age > OLD_DAYS and now in ("summer", "autumn"):
        return Look(row, "leaves", True, False, age)
    grown = shows == "open buds" and age >= OPEN_DAYS and now in ("spring", "summer")
    return Look(row, shows, shows == "leaves" or grown, RIPENING <= bbch < REST, age)


def _shows(scene: Scene, plant: Fact, bbch: int) -> str:
    if bbch >= LEAF_FALL:
        return "fallen leaves"
    if bbch == 0:
        return "closed buds"
    if bbch < 7 or bbch in (51, 52):
        return "swelling buds"
    species = scene.lore_of(plant)
    flowers_first = bool(species and species.trait(plant.text("cultivar"), "flowers_first"))
    if bbch < 10 or (flowers_first and 53 <= bbch < 60):
        return "open buds"
    return "flowers" if flowers_first and 60 <= bbch < 68 else "leaves"


@derivation
def leafing(scene: Scene) -> Iterable[Fact]:
    """Derive what the plant asked about shows today that cold and sun can hurt."""
    look = look_at(scene, scene.focus, scene.today) if scene.focus else None
    if look is None:
        return
    yield derived(
        "leafing",
        "leafing",
        (look.row,),
        plant=scene.plant,
        shows=look.shows,
        in_leaf=look.in_leaf,
        ripening=look.ripening,
        on=look.row.day("on"),
        age_days=look.age_days,
    )


@derivation
def roof_kin(scene: Scene) -> Iterable[Fact]:
    """Derive which other plant of its kind is awake under a roof or glass, for a plant that stands in the open."""
    if scene.focus is None or stand_of(scene, scene.focus, scene.today).under_cover != "none":
        return
    species = scene.focus.text("species")
    found = scene.remember(("awake under roofs", species), lambda: _awake_under_roofs(scene, species))
    if found:
        day, name, stand, there = found[0]
        yield derived(
            "roof_kin",
            "roof_kin",
            (there, *stand.because),
            plant=scene.plant,
            other=name,
            spot=stand.spot,
            under_cover=stand.under_cover,
            awake_on=day,
            others=len(found),
        )


def _awake_under_roofs(scene: Scene, species: str) -> list[tuple[date, str, Stand, Fact]]:
    """Return the plants of a kind that are awake under a roof or glass, the first first, and since when."""
    found = []
    for name, other in scene.plants.items():
        stand = stand_of(scene, other, scene.today)
        way = way_of(scene, name, scene.year, "waking")
        if other.text("species") == species and stand.under_cover in ROOFS and way and way.there:
            found.append((way.day or scene.today, name, stand, way.there))
    return sorted(found, key=lambda entry: entry[:2])


# ---- in and out


@derivation
def roof_move(scene: Scene) -> Iterable[Fact]:
    """Derive when the plant asked about last came out from under a roof, or in."""
    if scene.focus is None:
        return
    name = scene.plant
    for move in reversed(scene.of_plant("move", name)):
        on = move.day("on") or scene.today
        before = stand_of(scene, scene.focus, on - timedelta(days=1))
        after = stand_of(scene, scene.focus, on)
        if not before.under_cover or not after.under_cover:
            return  # where it stood is not known, or two moves of one day disagree
        if (before.under_cover == "none") == (after.under_cover == "none"):
            continue
        look = look_at(scene, scene.focus, on)
        age, out = (scene.today - on).days, after.under_cover == "none"
        yield derived(
            "roof_move",
            "roof_move",
            (move, *before.because, *after.because, *((look.row,) if look else ())),
            plant=name,
            way="out" if out else "in",
            on=on,
            age_days=age,
            step=("shade" if age < SHADE_DAYS else "morning sun" if age < MORNING_SUN_DAYS else "sun") if out else None,
            from_spot=before.spot,
            from_cover=before.under_cover,
            in_leaf_then=look.in_leaf if look else None,
        )
        return


# ---- the air


@derivation
def autumn_cold(scene: Scene) -> Iterable[Fact]:
    """Derive how cold the station's nights have been since autumn began; nothing in spring and summer."""
    if season_of(scene.today, scene.latitude_deg) not in ("autumn", "winter"):
        return
    days = weather_of(scene).span(_autumn_start(scene), scene.today)
    if not days:
        return
    coldest = min(days, key=lambda day: (day.number("min_c") or 0.0, day.day("on")))
    yield derived(
        "autumn_cold",
        "autumn_cold",
        as_one(days),
        place=scene.place.text("name"),
        lowest_c=coldest.number("min_c"),
        on=coldest.day("on"),
        real_c=REAL_COLD_C,
        age_days=(scene.today - (days[-1].day("on") or scene.today)).days,
    )


def _autumn_start(scene: Scene) -> date:
    month = 9 if scene.latitude_deg >= 0 else 3
    year = scene.today.year - (northern_month(scene.today, scene.latitude_deg) < 9 and scene.latitude_deg >= 0)
    return date(year, month, 1)


@derivation
def roof_air(scene: Scene) -> Iterable[Fact]:
    """Derive how the air of each roofed spot with a thermometer of its own was over the last seven days."""
    station = weather_of(scene).days
    first = scene.today - timedelta(days=AIR_DAYS - 1)
    for spot, row in scene.spots.items():
        if row.text("under_cover") not in ROOFS:
            continue
        days = {day: fact for fact in spot_days(scene, spot) if (day := fact.day("on")) and day >= first}
        if len(days) < FEWEST_AIR_DAYS:
            continue
        lows = {day: fact.number("min_c") or 0.0 for day, fact in days.items()}
        highs = [fact.number("max_c") or 0.0 for fact in days.values()]
        beside = {day: station[day].number("min_c") or 0.0 for day in lows if day in station}
        yield derived(
            "roof_air",
            "roof_air",
            (row, *as_one(list(days.values())), *as_one([station[day] for day in beside])),
            spot=spot,
            under_cover=row.text("under_cover"),
            days=len(days),
            mean_c=round(mean((low + high) / 2 for low, high in zip(lows.values(), highs, strict=True)), 1),
            lowest_c=min(lows.values()),
            highest_c=max(highs),
            gain_k=round(min(lows[day] - there for day, there in beside.items()), 1) if beside else None,
        )
