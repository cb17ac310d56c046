"""Which clock a garden may keep: zones whose places are near a position, and what a clock says against a position.

The places are those of the time zone database itself, one to a zone; a border may lie between, so a zone is proposed
and never taken.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from functools import cache
from importlib.resources import files
from math import asin, cos, radians, sin, sqrt
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from advisor.records.coordinates import Position, read_position

EARTH_KM = 6371.0
FAR_KM = 2500.0
"""A garden lies nearer to its zone's place than this, but for a few very wide zones (house judgement)."""
SAME_CLOCK = 3
"""Zones of one clock that are proposed at most: names that a grower may know, of neighbouring countries."""
SAMPLED_DAYS = range(0, 730, 15)
"""Days on which two clocks are compared over two years."""
NOON_OFF_H = 4.0
"""The sun stands highest within this of noon by any clock that people keep (house judgement; the widest is about 3)."""


@cache
def zone_places() -> dict[str, Position]:
    """Return the place that the time zone database names for each zone."""
    text = (files("tzdata") / "zoneinfo" / "zone.tab").read_text(encoding="utf-8")
    rows = [line.split("\t") for line in text.splitlines() if line and not line.startswith("#")]
    return {row[2]: read_position(row[1]) for row in rows}


def distance_km(one: Position, other: Position) -> float:
    """Return the distance over the ground between two positions, by the haversine formula on a sphere. [km]"""
    lat, other_lat = radians(one.latitude_deg), radians(other.latitude_deg)
    turned = radians(other.longitude_deg - one.longitude_deg)
    half = sin((other_lat - lat) / 2) ** 2 + cos(lat) * cos(other_lat) * sin(turned / 2) ** 2
    return 2 * EARTH_KM * asin(min(1.0, sqrt(half)))


def zones_near(at: Position, now: datetime, most: int = 5) -> list[str]:
    """Return the zones that may hold at a position, nearest first: a few of one clock, and the next other clocks."""
    by_distance = sorted(zone_places().items(), key=lambda entry: distance_km(at, entry[1]))
    clocks: dict[tuple[timedelta | None, ...], list[str]] = {}
    for name, _ in by_distance[: 8 * most]:
        clocks.setdefault(_clock(name, now), []).append(name)
    first, *others = list(clocks.values())
    shown = first[:SAME_CLOCK]
    return shown + [names[0] for names in others][: most - len(shown)]


def _clock(name: str, now: datetime) -> tuple[timedelta | None, ...]:
    zone = ZoneInfo(name)
    return tuple((now.astimezone(UTC) + timedelta(days=day)).astimezone(zone).utcoffset() for day in SAMPLED_DAYS)


def clock_shown(zone: str, now: datetime) -> str:
    """Return a zone with what its clocks show, so that one can hold one's own beside it."""
    return f"{zone}: it is {now.astimezone(ZoneInfo(zone)):%H:%M} there"


def zone_called(text: str) -> str:
    """Return the zone of that name, or the one zone of that place ("Vienna"); "" for none.

    >>> zone_called("europe/vienna"), zone_called("New York"), zone_called("Atlantis")
    ('Europe/Vienna', 'America/New_York', '')
    """
    wanted = "_".join(text.strip().casefold().split())
    names = zone_places()
    whole = [name for name in names if name.casefold() == wanted]
    found = whole or [name for name in names if name.casefold().rsplit("/", 1)[-1] == wanted]
    if len(found) != 1 and "/" in text:  # an older name, or one of no place
        try:
            return ZoneInfo(text.strip()).key
        except (ZoneInfoNotFoundError, ValueError, OSError):
            return ""
    return found[0] if len(found) == 1 else ""


def meant_instead(at: Position, zone: str) -> Position | None:
    """Return the position that was most likely meant where one does not go with its zone, None where it goes.

    Tried are a sign left out or put in for nothing, and latitude and longitude that changed places: the slightest
    mistake first.
    """
    place = zone_places().get(zone)
    if place is None or distance_km(at, place) <= FAR_KM:
        return None
    lat, lon = at.latitude_deg, at.longitude_deg
    ways = [Position(lat, -lon), Position(-lat, lon)]
    turned = (
        [Position(lon, lat), Position(lon, -lat), Position(-lon, lat), Position(-lon, -lat)] if abs(lon) <= 90 else []
    )
    ways += [*turned[:1], Position(-lat, -lon), *turned[1:]]
    near = min(FAR_KM, distance_km(at, place) / 2)
    return next((way for way in ways if distance_km(way, place) < near), None)


def noon_by(zone: str, at: Position, now: datetime) -> float:
    """Return by how much the sun's highest place misses noon on a zone's clock, daylight saving left out. [h]"""
    local = now.astimezone(ZoneInfo(zone))
    standard = (local.utcoffset() or timedelta()) - (local.dst() or timedelta())
    off = standard.total_seconds() / 3600 - at.longitude_deg / 15
    return (off + 12) % 24 - 12


def clock_fault(zone: str, at: Position, now: datetime) -> str:
    """Return what speaks against a zone at a position, in a sentence; "" where nothing does."""
    instead = meant_instead(at, zone)
    if instead is not None:
        return f"{at} is far from where the clock of {zone} is kept. Did you mean {instead}?"
    if abs(noon_by(zone, at, now)) > NOON_OFF_H:
        return f"By the clock of {zone} the sun would stand highest far from noon at {at}. Is one of the two wrong?"
    return ""
