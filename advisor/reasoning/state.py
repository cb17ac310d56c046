"""The garden on a day: what stands where, what covers the soil, how far each plant is; and what cannot all be true."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime, time
from itertools import pairwise
from typing import Any

from advisor.facts import Fact, Recorded
from advisor.reasoning.derive.clashes import bare_and_covered, places_of_one_day
from advisor.reasoning.derive.ground import cover_on
from advisor.reasoning.derive.growth_year import phase_of
from advisor.reasoning.derive.plants import stand_of
from advisor.reasoning.derive.scene import Records, Scene
from advisor.reasoning.derive.stages import reached
from advisor.records.history import covers_lying, last_moves, looks_at_odds, moves_of_one_day
from advisor.records.species import Lore
from advisor.records.store import Garden

BLOOM_DAYS = 21
"""A tree whose flowers were seen longer ago is past its bloom, though nobody looked again (house judgement)."""


@dataclass(frozen=True)
class Contradiction:
    """Records that cannot all be true, in a sentence, with the rows."""

    says: str
    records: tuple[str, ...]


@dataclass(frozen=True)
class State:
    """The garden on a day: a row a spot, a row a plant, and the contradictions among the records behind them."""

    day: date
    spots: tuple[dict[str, Any], ...]
    plants: tuple[dict[str, Any], ...]
    contradictions: tuple[Contradiction, ...]


@dataclass(frozen=True)
class Now:
    """The garden on a day: a row a spot and a row a plant, values that are not known None."""

    day: date
    spots: tuple[dict[str, Any], ...]
    plants: tuple[dict[str, Any], ...]


def garden_state(records: Records, lore: Lore, day: date) -> State:
    """Return the state of the garden on a day, from the rows that hold by then."""
    now = garden_now(records, lore, day)
    return State(day, now.spots, now.plants, contradictions_on(records, lore, day))


def garden_now(records: Records, lore: Lore, day: date) -> Now:
    """Return what stands where on a day, what covers the soil and how far each plant is; no contradictions sought.

    A plant's ``condition`` is "asleep", "awake", "in bloom", or "not looked at" in this growing year.
    """
    scene = Scene(_Last(records, day) if isinstance(records, Garden) else records, lore, day, "")
    return Now(day, tuple(_spots(scene)), tuple(_plants(scene)))


def _spots(scene: Scene) -> Iterator[dict[str, Any]]:
    readings = _latest(scene, "soil_reading", "spot")
    for name in scene.spots:
        cover = cover_on(scene, name, scene.today)
        soil = readings.get(name)
        yield {
            "spot": name,
            "cover": cover.text("material") if cover else None,
            "depth_cm": cover.number("depth_cm") if cover else None,
            "soil_c": soil.number("temp_c") if soil else None,
            "soil_age_days": _age(scene, soil),
        }


def _plants(scene: Scene) -> Iterator[dict[str, Any]]:
    stages, growth = _latest(scene, "stage", "plant"), _latest(scene, "growth", "plant")
    pots = _latest(scene, "soil_reading", "plant")
    for name, row in scene.plants.items():
        if (row.day("planted") or scene.today) > scene.today:
            continue
        stand, stage = stand_of(scene, row, scene.today), stages.get(name)
        yield {
            "plant": name,
            "species": row.text("species"),
            "spot": stand.spot or None,
            "growing": stand.growing or None,
            "under_cover": stand.under_cover or None,
            "stage": stage.text("words") or f"BBCH {stage.number('bbch'):02.0f}" if stage else None,
            "bbch": stage.number("bbch") if stage else None,
            "stage_age_days": _age(scene, stage),
            "condition": _condition(scene, row, stage),
            "shoot_cm": growth[name].number("shoot_cm") if name in growth else None,
            "pot_c": pots[name].number("temp_c") if name in pots else None,
            "pot_age_days": _age(scene, pots.get(name)),
        }


def _condition(scene: Scene, plant: Fact, stage: Fact | None) -> str:
    seen = stage.day("on") if stage else None
    if stage is None or seen is None or seen < scene.year_start:
        return "not looked at"
    species, bbch = scene.lore_of(plant), int(stage.number("bbch") or 0)
    open_still = (scene.today - seen).days <= BLOOM_DAYS
    if phase_of(bbch) == "flower" and open_still and (species is None or species.bloom != "hidden"):
        return "in bloom"
    return "awake" if reached(bbch, "waking") else "asleep"


@dataclass
class _Last:
    """A garden file of which only the last moves and the covers that lie are read: all that the state rests on."""

    garden: Garden
    day: date

    def of(self, kind: str) -> list[Fact]:
        if kind == "move":
            return last_moves(self.garden, self.day)
        return covers_lying(self.garden, self.day) if kind == "cover" else self.garden.of(kind)

    def latest(self, kind: str, about: str, until: datetime) -> list[Fact]:
        return self.garden.latest(kind, about, until)

    def who_said(self, kind: str) -> Mapping[int, str]:
        return self.garden.who_said(kind)


def contradictions_on(records: Records, lore: Lore, day: date) -> tuple[Contradiction, ...]:
    """Return what cannot all be true by a day: covers and moves of all years, looks and harvests of this one."""
    start = Scene(records, lore, day, "").year_start
    narrowed = _AtOdds(records, start) if isinstance(records, Garden) else _ThisYear(records, start)
    return tuple(contradictions(Scene(narrowed, lore, day, "")))


@dataclass
class _ThisYear:
    """Records of which the looks and harvests are cut down to the present growing year."""

    records: Records
    first: date

    def of(self, kind: str) -> list[Fact]:
        if kind not in ("stage", "crop"):
            return self.records.of(kind)
        return [fact for fact in self.records.of(kind) if (fact.day("on") or self.first) >= self.first]

    def who_said(self, kind: str) -> Mapping[int, str]:
        return self.records.who_said(kind)


@dataclass
class _AtOdds(_ThisYear):
    """The same of a garden file, cut down further to the plants whose rows may be at odds."""

    def of(self, kind: str) -> list[Fact]:
        assert isinstance(self.records, Garden)
        if kind == "move":
            return moves_of_one_day(self.records)
        if kind == "stage":
            return looks_at_odds(self.records, self.first)
        return self.records.since(kind, self.first) if kind == "crop" else self.records.of(kind)


def _latest(scene: Scene, kind: str, about: str) -> dict[str, Fact]:
    """Return the last row of a kind for each subject."""
    if isinstance(scene.records, _Last):
        end = datetime.combine(scene.today, time.max, scene.zone)
        last: dict[str, Fact] = {}
        for fact in sorted(scene.records.latest(kind, about, end), key=lambda fact: fact.key):
            last[fact.text(about)] = fact
        return last
    groups = scene.grouped(kind, lambda fact: fact.text(about))
    return {str(name): rows[-1] for name, rows in groups.items() if name}


def _age(scene: Scene, fact: Fact | None) -> int | None:
    return (scene.today - scene.when(fact).date()).days if fact else None


def contradictions(scene: Scene) -> Iterator[Contradiction]:
    """Yield what cannot all be true among the rows that hold by the day; looks and harvests of this growing year."""
    yield from _two_covers(scene)
    yield from _two_spots(scene)
    yield from _backwards(scene)
    yield from _harvest_before_bloom(scene)


def _contradiction(says: str, *facts: Fact) -> Contradiction:
    rows = [fact.origin for fact in facts]
    return Contradiction(says, tuple(f"{row.kind}/{row.row_ids[0]}" for row in rows if isinstance(row, Recorded)))


def _two_covers(scene: Scene) -> Iterator[Contradiction]:
    for spot, rows in scene.grouped("cover", lambda fact: fact.text("spot")).items():
        bare = [(one.key, other.key) for one, other in bare_and_covered(rows)]
        for one, other in pairwise(rows):
            on = other.day("put_on")
            if on and (one.key, other.key) in bare:
                yield _contradiction(
                    f"{spot} is recorded bare and covered at once from {on.isoformat()}: "
                    f"{one.text('material')} and {other.text('material')}",
                    one, other,
                )  # fmt: skip
            elif on and on == one.day("put_on") and one.text("material") != other.text("material"):
                yield _contradiction(
                    f"two covers were put on {spot} on {on.isoformat()}: "
                    f"{one.text('material')} and {other.text('material')}",
                    one, other,
                )  # fmt: skip


def _two_spots(scene: Scene) -> Iterator[Contradiction]:
    for rows in places_of_one_day(scene.told_by_today("move")):
        spots = [row.text("to_spot") for row in rows]
        plant, on = rows[0].text("plant"), rows[0].day("on")
        yield _contradiction(f"{plant} was moved to {' and to '.join(spots)} on one day, {on}", *rows)


def _backwards(scene: Scene) -> Iterator[Contradiction]:
    for plant in scene.plants:
        rows = scene.of_plant("stage", plant)
        for one, other in pairwise(rows):
            on, later = one.day("on"), other.day("on")
            code, next_code = one.number("bbch"), other.number("bbch")
            if on is None or later is None or code is None or next_code is None:
                continue
            if scene.year_of(on) != scene.year_of(later) or (code >= 50) != (next_code >= 50):
                continue
            if on == later and code != next_code:
                both = f"BBCH {code:02.0f} and {next_code:02.0f}"
                yield _contradiction(f"{plant} is said to have been at {both} on one day, {on}", one, other)
            elif next_code < code < 90:
                yield _contradiction(
                    f"{plant} goes backwards: BBCH {code:02.0f} on {on}, {next_code:02.0f} on {later}",
                    one,
                    other,
                )


def _harvest_before_bloom(scene: Scene) -> Iterator[Contradiction]:
    for plant in scene.plants:
        species = scene.lore_of(scene.plants[plant])
        if species is None or species.bloom == "hidden":
            continue
        blooms = [row for row in scene.of_plant("stage", plant) if 60 <= (row.number("bbch") or 0) < 70]
        for crop in scene.of_plant("crop", plant):
            picked = crop.day("on")
            for bloom in blooms:
                opened = bloom.day("on")
                if picked and opened and scene.year_of(picked) == scene.year_of(opened) and picked <= opened:
                    yield _contradiction(f"{plant} was picked on {picked}, before it bloomed on {opened}", crop, bloom)
                    break
