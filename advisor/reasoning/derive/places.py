"""Spots as places to plant: sun and what hides it, what a cover is published to do, what one reading tells."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime
from functools import lru_cache
from itertools import combinations
from statistics import fmean
from typing import Any

from advisor.calc.calendar import season as season_of
from advisor.calc.cover_effect import CoverEffect, CoverQuestion, missing_for_fair, published_effect
from advisor.calc.horizon import Obstruction, Outlook, elevation_of_top_deg
from advisor.calc.soil_heat import DayWave, daily_mean_from_reading, diffusivity_range_m2_s
from advisor.calc.soil_pairs import fair_pairs
from advisor.calc.sun import direct_sun_h, light_on_ground, monthly_direct_sun_h, spring_months, sun_by_part_of_day
from advisor.facts import Fact
from advisor.reasoning.derive.ground import (
    COOL_SIDES,
    SEASON_DAYS,
    WARM_SIDES,
    as_in_the_north,
    cover_on,
    group_of,
    readings_of,
)
from advisor.reasoning.derive.scene import Scene, derivation, derived

BEARING_DEG = {"N": 0.0, "NE": 45.0, "E": 90.0, "SE": 135.0, "S": 180.0, "SW": 225.0, "W": 270.0, "NW": 315.0}
SWING_K = (4.0, 12.0)
"""Half the daily range of a bare surface in settled spring weather (house judgement)."""
HOTTEST_H = (12.5, 14.0)
"""Solar hour at which a bare surface is hottest (house judgement)."""
SOILS = {"sand": "sand", "loam": "loam", "clay": "clay", "peat": "peat"}
USUAL_DEPTH_CM = 10.0
POLAR_DEG = 66.0
COLD_UNTIL_H, WARM_UNTIL_H = 11.5, 21.5
"""Solar hours between which soil a hand deep is warmer than its day's mean (midway between its extremes)."""
WALL_REACH_M = 2.0
"""From nearer than this a grown crown still meets the warmth of a wall (house judgement)."""


# ---- sun


def outlook_of(scene: Scene, spot: str) -> tuple[Outlook, tuple[Fact, ...]] | None:
    """Return what stands around a spot, None where nobody told what hides its sky, or told it so that it cannot be."""
    row = scene.spots[spot]
    rows = [fact for fact in scene.rows("obstruction") if fact.text("spot") == spot]
    if not rows:
        return None
    aspect = BEARING_DEG.get(row.text("aspect"))
    slope_deg = row.number("slope_deg") or 0.0
    try:
        obstructions = tuple(_obstruction(fact) for fact in rows)
        wall = BEARING_DEG.get(row.text("wall_side"))
        outlook = Outlook(obstructions, wall, slope_deg if aspect is not None else 0.0, aspect)
    except ValueError:
        return None
    return outlook, (row, *rows)


def _obstruction(fact: Fact) -> Obstruction:
    first, last = fact.number("bearing_from_deg") or 0.0, fact.number("bearing_to_deg") or 0.0
    elevation, height, away = (fact.number(name) for name in ("elevation_deg", "height_m", "distance_m"))
    if elevation is not None:
        return Obstruction(first, last, elevation)
    if height is None or away is None:
        raise ValueError("an obstruction without its height")
    width = (last - first) % 360 or 360.0
    return Obstruction(first, last, elevation_of_top_deg(height, away), straight=width < 180)


@lru_cache(maxsize=512)
def _sun(outlook: Outlook, latitude_deg: float, longitude_deg: float) -> dict[str, Any]:
    """Return the figures of an outlook; kept, since a spot's sky changes when it is told anew and not otherwise."""
    months = spring_months(latitude_deg)
    by_month = monthly_direct_sun_h(outlook, latitude_deg, longitude_deg)
    midsummer = direct_sun_h(outlook, date(2025, 6 if latitude_deg >= 0 else 12, 21), latitude_deg, longitude_deg)
    spring = [by_month[month - 1] for month in months]
    light = light_on_ground(outlook, months, latitude_deg, longitude_deg).whole
    parts: tuple[str, ...] = ()
    if abs(latitude_deg) <= POLAR_DEG:
        parts = sun_by_part_of_day(outlook, months, latitude_deg, longitude_deg).shaded
    return {
        "spring_h": round(fmean(figure.value for figure in spring), 1),
        "midsummer_h": round(midsummer.value, 1),
        "plus_minus_h": round(max(figure.plus_minus or 0.0 for figure in (*spring, midsummer)), 1),
        "shaded": ", ".join(parts) or None,
        "spring_light_share": round(light.value, 2),
    }


@derivation
def sun_hours(scene: Scene) -> Iterable[Fact]:
    """Derive the hours of direct sun of each spot of which it is told what hides the sky."""
    for spot in scene.spots:
        found = outlook_of(scene, spot)
        if found is not None:
            outlook, rows = found
            yield derived("sun_hours", "sun_hours", (scene.place, *rows), spot=spot, **sun_figures(scene, outlook))


def sun_figures(scene: Scene, outlook: Outlook) -> dict[str, Any]:
    """Return the figures of an outlook at this place."""
    return _sun(outlook, scene.latitude_deg, scene.place.number("longitude_deg") or 0.0)


# ---- places to plant


@derivation
def site(scene: Scene) -> Iterable[Fact]:
    """Derive each spot as a place to plant; what the grower has not told of it stays absent.

    A roofed shelter and a spot without open soil are no places to plant and are left out.
    """
    for name, row in scene.spots.items():
        if row.text("under_cover") == "shelter" or _yes_no(row, "plantable") is False:
            continue
        seen = outlook_of(scene, name)
        sky = sun_figures(scene, seen[0]) if seen else {}
        counted = row.number("sun_h")
        sun_h = sky.get("midsummer_h") if counted is None else counted
        shaded = None if "shaded" not in sky else (sky["shaded"] or "").split(", ")
        aspect, wall = (as_in_the_north(scene, row.text(name)) for name in ("aspect", "wall_side"))
        faces = [side for side in (wall, aspect) if side]
        yield derived(
            "site",
            "site",
            seen[1] if seen else (row,),
            spot=name,
            outdoors=row.text("under_cover") in ("", "none"),
            low_lying=_yes_no(row, "low_lying"),
            slope_part=row.text("slope_part") or None,
            warm_wall=wall in WARM_SIDES and (row.number("wall_distance_m") or 0.0) <= WALL_REACH_M,
            cool_facing=faces[0] in COOL_SIDES if faces else None,
            sun_h=sun_h,
            drainage_cm_h=row.number("drainage_cm_h"),
            raised_cm=row.number("raised_cm"),
            soil_texture=row.text("soil_texture") or None,
            air=row.text("air") or None,
            morning_shade=None if shaded is None else "morning" in shaded,
            evening_shade=None if shaded is None else "afternoon" in shaded,
            sun_told=sun_h is not None,
            drainage_told=row.number("drainage_cm_h") is not None,
        )


def _yes_no(fact: Fact, name: str) -> bool | None:
    value = fact.get(name)
    return value if isinstance(value, bool) else None


# ---- covers and single readings


@derivation
def cover_effect(scene: Scene) -> Iterable[Fact]:
    """Derive what each spot's present cover is published to do to the soil at this season and the usual depth."""
    season = season_of(scene.today, scene.latitude_deg)
    entries = scene.remember(("cover", "effects"), lambda: _entries(scene))
    for spot in scene.spots:
        cover = cover_on(scene, spot, scene.today)
        group = group_of(scene, cover)
        if cover is None or group is None or group == "bare":
            continue
        asked = CoverQuestion(group, USUAL_DEPTH_CM, season, None, cover.text("material"))
        found = published_effect(entries, asked)
        yield derived(
            "cover_effect",
            "cover_effect",
            (cover,),
            spot=spot,
            material=cover.text("material"),
            verdict=found.verdict,
            low_k=found.low_k,
            high_k=found.high_k,
            depth_cm=USUAL_DEPTH_CM,
            near=len(found.near),
        )


def _entries(scene: Scene) -> list[CoverEffect]:
    def made(raw: Any) -> CoverEffect:
        lists = {name: tuple(raw[name]) for name in ("materials", "seasons", "hours") if name in raw}
        return CoverEffect(**{**raw, **lists})

    return [made(raw) for raw in scene.lore.cover_effects]


@derivation
def soil_day_mean(scene: Scene) -> Iterable[Fact]:
    """Derive for each spot with a reading of the last days under bare soil what the day's mean may have been."""
    latest: dict[str, Fact] = {}
    for fact in scene.told_by_today("soil_reading"):
        if fact.text("spot") and fact.number("depth_cm") is not None:
            latest[fact.text("spot")] = fact
    for spot, fact in latest.items():
        at = fact.get("at")
        assert isinstance(at, datetime)
        day = scene.local_day(at)
        group = group_of(scene, cover_on(scene, spot, day))
        if group not in (None, "bare") or not 0 < (fact.number("depth_cm") or 0.0) <= 100:
            continue  # under a cover the surface's swing is another
        texture = SOILS.get(scene.spots[spot].text("soil_texture") if spot in scene.spots else "", "unknown")
        wave = DayWave(SWING_K, diffusivity_range_m2_s(texture), HOTTEST_H)
        depth = fact.number("depth_cm") or USUAL_DEPTH_CM
        figure = daily_mean_from_reading(fact.number("temp_c") or 0.0, _solar_hour(scene, at), depth, wave)
        yield derived(
            "soil_day_mean",
            "soil_day_mean",
            (fact,),
            spot=spot,
            on=day,
            mean_c=round(figure.value, 1),
            plus_minus_k=round(figure.plus_minus or 0.0, 1),
            depth_cm=depth,
        )


def _solar_hour(scene: Scene, at: datetime) -> float:
    """Return the hour by the sun, which stands south a little off the clock's noon."""
    utc = at.timestamp() % 86400 / 3600
    return (utc + (scene.place.number("longitude_deg") or 0.0) / 15) % 24


@derivation
def fair_reading(scene: Scene) -> Iterable[Fact]:
    """Derive for each two spots read this season, but never fairly, the one reading that would compare them."""
    groups, facts = readings_of(scene)
    spots = sorted(name for name in groups if name in scene.spots)
    for one, other in combinations(spots, 2):
        gap = missing_for_fair(groups[one], groups[other])
        if gap is None or gap.nearest is None or not gap.wanted:
            continue
        wanted = gap.wanted[0]
        here = one if wanted.side == "these" else other
        yield derived(
            "fair_reading",
            "fair_reading",
            tuple(facts[reading.ref] for reading in gap.nearest),
            spot=here,
            beside=other if here == one else one,
            lacks=_listed(gap.apart),
            depth_cm=round((wanted.shallowest_cm + wanted.deepest_cm) / 2, 1),
            sky=wanted.sky or None,
        )


def _listed(parts: tuple[str, ...]) -> str:
    return " and ".join(part for part in (", ".join(parts[:-1]), *parts[-1:]) if part)


@derivation
def pair_hours(scene: Scene) -> Iterable[Fact]:
    """Derive at which hours of the day the soils of each two spots were read in fair pairs.

    A hand deep, soil is coldest near 7 and warmest near 16 hours by the sun (published for spring beds), so that it
    passes its mean near half past eleven and half past nine; pairs of one half of that day tell nothing of the other.
    """
    groups, facts = readings_of(scene)
    spots = sorted(name for name in groups if name in scene.spots)
    for one, other in combinations(spots, 2):
        pairs = fair_pairs(groups[one], groups[other])
        if not pairs:
            continue
        warm = {COLD_UNTIL_H <= _solar_hour(scene, reading.at) < WARM_UNTIL_H for reading, _ in pairs}
        covers = {cover for reading, beside in pairs[-1:] for cover in (reading.cover, beside.cover)}
        yield derived(
            "pair_hours",
            "pair_hours",
            tuple(dict.fromkeys(facts[ref] for reading, beside in pairs for ref in (reading.ref, beside.ref))),
            where=one,
            than=other,
            part="both" if len(warm) > 1 else "warm half" if True in warm else "cold half",
            pairs=len(pairs),
            stone="stone" in covers and len(covers) > 1,
        )


@derivation
def stale_soil(scene: Scene) -> Iterable[Fact]:
    """Derive for each spot that was read, but not lately, when that was last."""
    last: dict[str, Fact] = {}
    for fact in scene.told_by_today("soil_reading"):
        if fact.text("spot"):
            last[fact.text("spot")] = fact
    for spot, fact in last.items():
        on = scene.when(fact).date()
        age_days = (scene.today - on).days
        if age_days > SEASON_DAYS:
            yield derived("stale_soil", "stale_soil", (fact,), spot=spot, on=on, age_days=age_days)
