"""What lies on the soil of a spot and how warm the soils measured beside each other."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime, timedelta
from functools import partial
from statistics import fmean

from advisor.calc.soil_pairs import Contrast, Reading
from advisor.calc.soil_pairs import soil_contrast as contrast_of
from advisor.facts import Fact
from advisor.reasoning.derive.plants import planted_there, stand_of
from advisor.reasoning.derive.scene import Scene, derivation, derived

SEASON_DAYS = 60
"""Soil readings older than this say nothing of the present warming (house judgement)."""
SEVERAL_DAYS = 3
"""From this many days a comparison of soils is more than one kind of weather (house judgement)."""
LEAST_LEAD_K = 0.5
"""A soil that leads each other by less is not called warmest, nor coldest: thermometers differ so (house judgement)."""

WARM_SIDES = ("SE", "S", "SW", "W")
COOL_SIDES = ("N", "NE", "E")
"""Sides that the sun favours and passes over in the north; turned round by ``as_in_the_north`` for the south."""
TURNED = {"N": "S", "NE": "SE", "E": "E", "SE": "NE", "S": "N", "SW": "NW", "W": "W", "NW": "SW"}


def cover_on(scene: Scene, spot: str, day: date) -> Fact | None:
    """Return the row of what covered a spot on a day, the last put on where several lie there; None if not known."""
    lying = [
        row
        for row in covers_of(scene, spot)
        if (row.day("put_on") or day) <= day and not ((off := row.day("taken_off")) and off <= day)
    ]
    return lying[-1] if lying else None


def covers_of(scene: Scene, spot: str) -> list[Fact]:
    """Return the rows of what covered a spot, oldest first."""
    return scene.of_spot("cover", spot)


def group_of(scene: Scene, cover: Fact | None) -> str | None:
    """Return the group of a cover's material, None if it is not known."""
    material = scene.lore.materials.get(cover.text("material")) if cover else None
    return material.group if material else None


@derivation
def spot_cover(scene: Scene) -> Iterable[Fact]:
    """Derive what covers the soil now: of the asked plant's spot, or of every spot where a place is sought."""
    for spot in _spots_asked(scene):
        row = cover_on(scene, spot, scene.today)
        group = group_of(scene, row)
        if row is None or group is None:
            continue
        yield derived(
            "spot_cover",
            "spot_cover",
            (row,),
            spot=spot,
            material=row.text("material"),
            group=group,
            depth_cm=row.number("depth_cm"),
            on_days=(scene.today - (row.day("put_on") or scene.today)).days,
        )


def _spots_asked(scene: Scene) -> list[str]:
    if scene.focus is None:
        return list(scene.spots)
    spot = stand_of(scene, scene.focus, scene.today).spot
    return [spot] if spot else []


def readings_of(scene: Scene) -> tuple[dict[str, list[Reading]], list[Fact]]:
    """Return this season's readings that can be compared, by spot or pot, and the rows that their marks point to."""
    return scene.remember(("readings", "all"), lambda: _readings(scene))


def _readings(scene: Scene) -> tuple[dict[str, list[Reading]], list[Fact]]:
    """Return this season's readings with depth and sky, by the spot or the pot that was read."""
    first = scene.today - timedelta(days=SEASON_DAYS)
    groups: dict[str, list[Reading]] = {}
    facts: list[Fact] = []
    for fact in scene.told_by_today("soil_reading"):
        at, depth, sky = fact.get("at"), fact.number("depth_cm"), fact.text("sky")
        if not isinstance(at, datetime) or scene.local_day(at) < first:
            continue
        if depth is None or not sky:
            continue
        name, day = fact.text("plant") or fact.text("spot"), scene.local_day(at)
        reading = Reading(fact.number("temp_c") or 0.0, depth, at, day, sky, len(facts), _cover_then(scene, name, day))
        groups.setdefault(name, []).append(reading)
        facts.append(fact)
    return groups, facts


def _cover_then(scene: Scene, name: str, day: date) -> str:
    """Return the group of what lay on a soil on a day; "pot" for a pot, "" where it is not known."""
    return (group_of(scene, cover_on(scene, name, day)) or "") if name in scene.spots else "pot"


def _contrasts(scene: Scene, where: str, since: date = date.min) -> dict[str, tuple[Contrast, tuple[Fact, ...]]]:
    """Return what a soil's readings from a day on show beside each other soil's; each two are compared once."""
    groups, facts = readings_of(scene)
    found = {}
    for than in groups:
        if than == where or where not in groups:
            continue
        one, other = sorted((where, than))
        contrast = scene.remember(("contrast", (one, other, since)), partial(_compared, scene, one, other, since))
        if contrast:
            turned = contrast if where == one else contrast.turned()
            found[than] = (turned, tuple(facts[ref] for ref in contrast.refs))
    return found


def _compared(scene: Scene, one: str, other: str, since: date) -> Contrast | None:
    groups, _ = readings_of(scene)
    these, those = ([reading for reading in groups[name] if reading.day >= since] for name in (one, other))
    return contrast_of(these, those)


@derivation
def soil_contrast(scene: Scene) -> Iterable[Fact]:
    """Derive measured differences between soils: those of the asked plant's root zone, or all of them.

    For a plant only readings made since it stands there count: what was read before is not about its roots.
    """
    focus = scene.focus
    own, since = set(scene.spots), date.min
    if focus is not None:
        stand = stand_of(scene, focus, scene.today)
        own = {scene.plant} if stand.growing == "pot" else {stand.spot}
        since = date.min if stand.growing == "pot" else planted_there(scene, focus)[0] or date.min
        since = since if since > scene.today - timedelta(days=SEASON_DAYS) else date.min  # all readings are younger
    compared = [
        (where, than, *found) for where in sorted(own) for than, found in _contrasts(scene, where, since).items()
    ]
    for where, than, contrast, rows in compared:
        last = max(scene.when(row).date() for row in rows)
        covers = [cover_on(scene, name, last) for name in (where, than) if name in scene.spots]
        groups = [cover or None for cover in contrast.covers]
        alike = _walled(scene, where) == _walled(scene, than)
        yield derived(
            "soil_contrast",
            "soil_contrast",
            (*rows, *(cover for cover in covers if cover)),
            where=where,
            than=than,
            warmer_by_k=contrast.warmer_by_k,
            depth_cm=contrast.depth_cm,
            pairs=contrast.pairs,
            on_days=contrast.on_days,
            where_group=groups[0],
            than_group=groups[1],
            same_cover=groups[0] == groups[1] if all(groups) else None,
            beside={"bare": "bare" if alike else "stone", "stone": "stone"}.get(groups[1] or ""),
        )


def _walled(scene: Scene, name: str) -> bool:
    """Return whether a spot lies at the foot of a sunny wall."""
    row = scene.spots.get(name)
    return row is not None and as_in_the_north(scene, row.text("wall_side")) in WARM_SIDES


@derivation
def soil_rank(scene: Scene) -> Iterable[Fact]:
    """Derive which spot's soil measured warmest and coldest.

    Pots, which follow the air, and soils under a roof or glass are left out. Where some comparisons have several
    days behind them, those with fewer are left out too, so that one chance reading does not spoil a good series.
    """
    outdoors = {name for name, row in scene.spots.items() if row.text("under_cover") in ("", "none")}
    for where in sorted(outdoors):
        mine = [found for than, found in _contrasts(scene, where).items() if than in outdoors]
        if not mine:
            continue
        mine = [found for found in mine if found[0].on_days >= SEVERAL_DAYS] or mine
        differences = [contrast.warmer_by_k for contrast, _ in mine]
        ahead, behind = min(differences) >= LEAST_LEAD_K, max(differences) <= -LEAST_LEAD_K
        place = "warmest" if ahead else "coldest" if behind else "between"
        yield derived(
            "soil_rank",
            "soil_rank",
            dict.fromkeys(row for _, rows in mine for row in rows),
            where=where,
            place=place,
            of=len(mine) + 1,
            on_days=min(contrast.on_days for contrast, _ in mine),
            lead_k=round(fmean(differences), 2),
        )


@derivation
def candidate(scene: Scene) -> Iterable[Fact]:
    """Derive what is known of the kind of tree that a place is sought for."""
    species = scene.lore.species.get(scene.species)
    if species is None:
        return
    yield derived(
        "candidate",
        "candidate",
        (),
        species=species.id,
        bloom=species.bloom,
        heat_lover=species.heat_lover,
        wet_hater=species.wet_hater,
        shade_bearer=species.shade_bearer,
        mature_spread_m=species.mature_spread_m,
        self_fertile=species.self_fertile,
        damp_hater=species.damp_hater,
        thirsty=species.thirsty,
    )


def as_in_the_north(scene: Scene, side: str) -> str:
    """Return the side that stands to the sun in the north as this one does here."""
    return side if scene.latitude_deg >= 0 else TURNED.get(side, side)
