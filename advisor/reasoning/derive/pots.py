"""Pots: which part of one suffers first and at what cold, the night to come beside that, when frosts are over, and how
its root ball is off for water and warmth."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from math import ceil

from advisor.calc.calendar import season as season_of
from advisor.calc.calendar import set_in_year
from advisor.facts import Fact
from advisor.reasoning.derive.each import each_plant, of_plant
from advisor.reasoning.derive.freezes import FREEZING_C, one_in_ten
from advisor.reasoning.derive.growth_year import ROOFS, SOAKING_MM
from advisor.reasoning.derive.nights import critical_of, low_at, offset_of
from advisor.reasoning.derive.plants import stand_of, timeline_of
from advisor.reasoning.derive.scene import Scene, derivation, derived
from advisor.reasoning.derive.stages import REST
from advisor.reasoning.derive.tonight import told_low
from advisor.reasoning.derive.under_roofs import Look, look_at
from advisor.reasoning.derive.weather import weather_of

TENDER_ROOTS_C, HARDY_ROOTS_C = -5.0, -8.0
"""Air that the roots in a pot should not meet: of kinds that wake late and want heat, and of the rest. The first is
common practice for figs; the second house judgement, since no figure for the roots of other fruit trees was read."""
SWELLING_C, GREEN_C, FRUIT_C, SOFT_WOOD_C = -2.0, 0.0, 0.0, -5.0
"""What swelling buds, new growth, fruit near ripe, and the wood under an autumn leaf stand (house judgement, after
the levels of common practice for figs; soft wood: light frosts harden it, hard ones kill it)."""
HEAVY_LITRES = 100.0
"""A pot of so much wet soil is not carried; a size that nobody told is taken as one to carry (house judgement)."""
FORECAST_MISS_K = 2.0
"""How much colder than its forecast a night at the pot may turn out (house judgement)."""


# ---- what a pot stands, and the night to come


@each_plant
def pot_stands(scene: Scene, name: str) -> Fact | None:
    """Derive for each pot, or the one asked about, which of its parts suffers first, and at what cold."""
    plant = scene.plants[name]
    stand = stand_of(scene, plant, scene.today)
    if stand.growing != "pot":
        return None
    look = look_at(scene, plant, scene.today)
    species = scene.lore_of(plant)
    tender = species is None or (species.wakes == "late" and species.heat_lover)
    roots = TENDER_ROOTS_C if tender else HARDY_ROOTS_C
    parts = [(roots, "roots"), *(_top(scene, name, look) if look else [])]
    limit, part = max(parts, key=lambda entry: entry[0])
    return derived(
        "pot_stands",
        "pot_stands",
        (*stand.because, *((look.row,) if look else ())),
        plant=name,
        part=part,
        limit_c=limit,
        in_at_c=round(limit + FORECAST_MISS_K, 1),
        roots_c=roots,
        tender_roots=tender,
        heavy=(plant.number("pot_litres") or 0.0) >= HEAVY_LITRES,
    )


def _top(scene: Scene, name: str, look: Look) -> list[tuple[float, str]]:
    """Return what stands above the rim and suffers before the roots do, with the cold that it stands."""
    if look.shows in ("closed buds", "fallen leaves"):
        return []
    now = season_of(scene.today, scene.latitude_deg)
    if look.in_leaf and (now == "autumn" or (look.row.number("bbch") or 0) >= REST):
        return [(FRUIT_C, "fruit")] if look.ripening else [(SOFT_WOOD_C, "soft wood")]
    critical = critical_of(scene, name) if look.shows != "leaves" else None
    published = critical.number("kill10_c") if critical else None
    kill10 = None if published is None else float(ceil(published))  # to the milder whole degree
    if look.shows == "swelling buds":
        return [(SWELLING_C if kill10 is None else kill10, "swelling buds")]
    part = {"open buds": "open buds", "flowers": "flowers"}.get(look.shows, "leaves")
    return [(GREEN_C if kill10 is None else kill10, part)]


@derivation
def night_outside(scene: Scene) -> Iterable[Fact]:
    """Derive the low of the night to come at the station, by the evening's reading or else the forecast."""
    found = _night_at(scene, "")
    if found is None:
        return
    by, told, low, because = found
    yield derived(
        "night_outside",
        "night_outside",
        because,
        place=scene.place.text("name"),
        by=by,
        told_c=round(told, 1),
        may_fall_to_c=round(low, 1),
    )


def _night_at(scene: Scene, spot: str) -> tuple[str, float, float, tuple[Fact, ...]] | None:
    """Return by what the night at a spot is told, the figure, how low it may go, and the rows behind it."""
    low = low_at(scene, spot)
    if low is not None:
        return "this evening's reading", low.figure.value, low.low_c, low.because
    row = told_low(scene)
    told = row.number("min_c") if row else None
    if row is None or told is None:
        return None
    found = offset_of(scene, spot) if spot else None
    there = told - found[0].colder_by_k if found else told
    return "the forecast", there, there - FORECAST_MISS_K, (row, *(found[1] if found else ()))


@each_plant
def pot_cold(scene: Scene, name: str) -> Fact | None:
    """Derive for each pot how the night to come in the open compares with what it stands."""
    stands = next(iter(of_plant(scene, "pot_stands", name)), None)
    stand = stand_of(scene, scene.plants[name], scene.today)
    limit = stands.number("limit_c") if stands else None
    if stands is None or limit is None:
        return None
    spot = stand.spot if stand.under_cover == "none" else ""
    night = scene.remember(("night outside", spot), lambda: _night_at(scene, spot))
    if night is None:
        return None
    by, told, low, because = night
    return derived(
        "pot_cold",
        "pot_cold",
        (stands, *because),
        plant=name,
        spot=stand.spot or None,
        part=stands.text("part"),
        limit_c=limit,
        by=by,
        told_c=round(told, 1),
        may_fall_to_c=round(low, 1),
        margin_k=round(low - limit, 1),
        heavy=stands.get("heavy"),
    )


@derivation
def frost_end(scene: Scene) -> Iterable[Fact]:
    """Derive when pots may stay out: after the one-in-ten day of the last frost, or the grower's own day for it."""
    odds = one_in_ten(scene, "spring", FREEZING_C)
    if odds is not None:
        why = f"one spring of ten freezes later, by {odds.years} springs of weather here"
        yield _frost_end(scene, odds.rows, odds.day, "weather", why)
        return
    told = scene.place.text("usual_last_frost")
    if told:
        month, of_month = (int(part) for part in told.split("-"))
        day = set_in_year(date(2024, month, of_month), scene.year_start)
        yield _frost_end(scene, (scene.place,), day, "told", "the last frost as you told it")


def _frost_end(scene: Scene, because: Iterable[Fact], day: date, by: str, why: str) -> Fact:
    ahead = (day - scene.today).days
    place = scene.place.text("name")
    return derived("frost_end", "frost_end", because, place=place, day=day, ahead_days=ahead, by=by, why=why)


# ---- its root ball


@derivation
def pot_moisture(scene: Scene) -> Iterable[Fact]:
    """Derive when the pot asked about was watered last, and how its root ball felt at the last look."""
    if scene.focus is None:
        return
    stand = stand_of(scene, scene.focus, scene.today)
    if stand.growing != "pot":
        return
    felt = [row for row in scene.of_plant("inspection", scene.plant) if row.text("root_ball")]
    water, feel = _last_water(scene, scene.focus), felt[-1] if felt else None
    if water is None and feel is None:
        return
    water_on, felt_on = (row.day("on") if row else None for row in (water, feel))
    rain = None if felt_on is None or stand.under_cover in ROOFS else _soaking_rain(scene, felt_on)
    yield derived(
        "pot_moisture",
        "pot_moisture",
        [row for row in (water, feel, rain) if row],
        plant=scene.plant,
        watered_on=water_on,
        watered_days=(scene.today - water_on).days if water_on else None,
        felt=feel.text("root_ball") if feel else None,
        felt_on=felt_on,
        felt_days=(scene.today - felt_on).days if felt_on else None,
        watered_since=bool(rain or (water_on and water_on >= felt_on)) if felt_on else None,
    )


def _soaking_rain(scene: Scene, since: date) -> Fact | None:
    """Return the last day from this one on whose rain reached the roots of what stands in the open."""
    days = weather_of(scene).span(since, scene.today)
    return next((day for day in reversed(days) if (day.number("rain_mm") or 0.0) >= SOAKING_MM), None)


def _last_water(scene: Scene, plant: Fact) -> Fact | None:
    """Return the last watering of a plant: of it by name, or of all at the spot where it stood."""
    found = [row for row in scene.of_plant("work", plant.text("name")) if row.text("what") == "watered"][-1:]
    for spot in {stand.spot for stand in timeline_of(scene, plant).stands}:
        there = (
            row for row in reversed(_waterings_at(scene, spot))
            if stand_of(scene, plant, row.day("on") or scene.today).spot == spot
        )  # fmt: skip
        found += [row for row in (next(there, None),) if row]
    return max(found, key=lambda row: (scene.when(row), row.key), default=None)


def _waterings_at(scene: Scene, spot: str) -> list[Fact]:
    """Return the waterings of all that stands at a spot, oldest first."""
    return scene.remember(("waterings", spot), lambda: _read_waterings(scene, spot))


def _read_waterings(scene: Scene, spot: str) -> list[Fact]:
    rows = scene.of_spot("work", spot) if spot else []
    return [row for row in rows if row.text("what") == "watered" and not row.text("plant")]


@derivation
def pot_reading(scene: Scene) -> Iterable[Fact]:
    """Derive the last temperature taken in the pot asked about."""
    rows = scene.of_plant("soil_reading", scene.plant) if scene.focus else []
    if not rows:
        return
    row = rows[-1]
    on = scene.when(row).date()
    yield derived(
        "pot_reading",
        "pot_reading",
        (row,),
        plant=scene.plant,
        temp_c=row.number("temp_c"),
        on=on,
        age_days=(scene.today - on).days,
    )
