"""The soil at a plant's roots as it was read, mulch that was opened, and at what hours two soils were compared."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime, timedelta
from statistics import fmean

from advisor.calc.calendar import spring_start
from advisor.facts import Derived, Fact
from advisor.reasoning.derive.ground import cover_on, covers_of, group_of
from advisor.reasoning.derive.plants import stand_of
from advisor.reasoning.derive.scene import Scene, derivation, derived

LATELY_DAYS = 14
"""Readings older than this say nothing of the roots today (house judgement)."""
DEPTHS_CM = (5, 20)
"""Depths that stand for the upper roots (house judgement)."""
MORNING_H, AFTERNOON_H = (5, 10), (13, 18)
"""Hours round the day's low and high of soil some 10 cm deep, near seven and near four (Extension answer 873091,
Oregon, 2024, excerpt; the spans are house judgement)."""


@derivation
def root_soil(scene: Scene) -> Iterable[Fact]:
    """Derive the mean of the last two weeks' readings in the pot of the plant asked about, or in its spot's soil."""
    if scene.focus is None:
        return
    stand = stand_of(scene, scene.focus, scene.today)
    days: dict[date, list[float]] = {}
    rows = []
    for row in _in_pot(scene) if stand.growing == "pot" else _in_ground(scene, stand.spot):
        at, depth = row.get("at"), row.number("depth_cm")
        assert isinstance(at, datetime)
        day = scene.local_day(at)
        if day <= scene.today - timedelta(days=LATELY_DAYS):
            continue
        if depth is None or not DEPTHS_CM[0] <= depth <= DEPTHS_CM[1]:
            continue
        days.setdefault(day, []).append(row.number("temp_c") or 0.0)
        rows.append(row)
    if days:
        yield derived(
            "root_soil",
            "root_soil",
            rows,
            plant=scene.plant,
            mean_c=round(fmean(fmean(values) for values in days.values()), 1),
            on_days=len(days),
            last_on=max(days),
        )


def _in_pot(scene: Scene) -> list[Fact]:
    return scene.of_plant("soil_reading", scene.plant)


def _in_ground(scene: Scene, spot: str) -> list[Fact]:
    return [row for row in scene.of_spot("soil_reading", spot) if not row.text("plant")]


@derivation
def opened_mulch(scene: Scene) -> Iterable[Fact]:
    """Derive what organic mulch was drawn back this spring and not put back: of the asked plant's spot, or of each."""
    spots = list(scene.spots)
    if scene.focus is not None:
        spots = [stand_of(scene, scene.focus, scene.today).spot]
    # mulch is opened from late winter on: four weeks before spring
    first = spring_start(scene.year, scene.latitude_deg) - timedelta(days=28)
    for spot in spots:
        taken = [
            row
            for row in covers_of(scene, spot)
            if group_of(scene, row) == "organic" and (off := row.day("taken_off")) and first <= off <= scene.today
        ]
        now = cover_on(scene, spot, scene.today)
        if not taken or group_of(scene, now) not in (None, "bare"):
            continue
        row = max(taken, key=lambda row: row.day("taken_off") or first)
        off = row.day("taken_off") or first
        yield derived(
            "opened_mulch",
            "opened_mulch",
            (row, *((now,) if now else ())),
            spot=spot,
            material=row.text("material"),
            off_on=off,
            open_days=(scene.today - off).days,
        )


@derivation
def contrast_hours(scene: Scene) -> Iterable[Fact]:
    """Derive at what hours the fair pairs of two soils were read: near the day's low, near its high, at both."""
    for pair in scene.derived("soil_contrast"):
        assert isinstance(pair.origin, Derived)
        read = [row for row in pair.origin.facts if row.kind == "soil_reading"]
        hours = [at.astimezone(scene.zone).hour for row in read if isinstance(at := row.get("at"), datetime)]
        low = any(MORNING_H[0] <= hour < MORNING_H[1] for hour in hours)
        high = any(AFTERNOON_H[0] <= hour < AFTERNOON_H[1] for hour in hours)
        said = {(True, True): "both", (True, False): "morning only", (False, True): "afternoon only"}
        yield derived(
            "contrast_hours",
            "contrast_hours",
            (pair,),
            where=pair.text("where"),
            than=pair.text("than"),
            where_group=pair.text("where_group") or None,
            than_group=pair.text("than_group") or None,
            hours=said.get((low, high), "neither"),
        )
