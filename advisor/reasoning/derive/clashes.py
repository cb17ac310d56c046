"""Records that cannot both be true: a stage that runs backwards, one plant in two places, one bark green and brown."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date, timedelta
from itertools import combinations, pairwise

from advisor.calc.calendar import season as season_of
from advisor.facts import Fact, Value
from advisor.reasoning.derive.ground import covers_of
from advisor.reasoning.derive.plants import stand_of
from advisor.reasoning.derive.scene import Scene, derivation, derived
from advisor.reasoning.derive.stages import REST, reached

SAME_SOIL_MINUTES = 60
SAME_SOIL_K = 4.0
"""Two readings of one soil at one depth within the hour that lie further apart than this are not both right: at 10 cm
the soil moves by a degree an hour at most (house judgement)."""
SET_BACK = ("frost", "animal", "heat", "drought", "wind", "accident", "disease", "pest", "winter")
"""Harm that may take a plant's growth, so that it is asleep again and no record is wrong."""
MOST_SOILS = 200
"""Readings of one soil looked at, the last ones: a logger's year is no grower's slip."""


@derivation
def record_clash(scene: Scene) -> Iterable[Fact]:
    """Derive the clashes among this growing year's records of the plant asked about, and of the soil it stands in."""
    if scene.focus is None:
        return
    yield from _stages(scene)
    yield from _places(scene)
    yield from _covers(scene)
    yield from _barks(scene)
    yield from _before_planting(scene)
    yield from _soils(scene)


def _this_year(scene: Scene, kind: str) -> list[Fact]:
    return scene.of_plant_since(kind, scene.plant, scene.year_start)


def _stages(scene: Scene) -> Iterator[Fact]:
    """Awake and later asleep, with no harm between that would explain it."""
    planted = scene.focus.day("planted") if scene.focus else None
    since = planted if planted and planted <= scene.today else date.min
    stages = [
        row for row in _this_year(scene, "stage") if (row.number("bbch") or 0) < REST and _on(scene, row) >= since
    ]
    harms = [row for row in _this_year(scene, "harm") if row.text("cause") in SET_BACK]
    for earlier, later in pairwise(stages):
        if season_of(_on(scene, later), scene.latitude_deg) not in ("spring", "summer"):
            continue  # at rest in autumn is no step back
        first, second = int(earlier.number("bbch") or 0), int(later.number("bbch") or 0)
        between = any(_on(scene, earlier) <= _on(scene, row) <= _on(scene, later) for row in harms)
        if reached(first, "waking") and not reached(second, "waking") and not between:
            yield _clash(scene, "stage ran backwards", earlier, later, _stage(earlier), _stage(later))


def _on(scene: Scene, row: Fact) -> date:
    return row.day("on") or scene.today


def _stage(row: Fact) -> str:
    words = row.text("words")
    return words or ("awake" if reached(int(row.number("bbch") or 0), "waking") else "still asleep")


def _places(scene: Scene) -> Iterator[Fact]:
    for rows in places_of_one_day(_this_year(scene, "move")):
        one, other = rows[0], rows[-1]
        yield _clash(scene, "two places in one day", one, other, one.text("to_spot"), other.text("to_spot"))


def places_of_one_day(moves: Iterable[Fact]) -> Iterator[list[Fact]]:
    """Yield the moves of a plant and day that lead to different spots, one move a spot."""
    days: dict[tuple[str, date | None], dict[str, Fact]] = {}
    for row in moves:
        days.setdefault((row.text("plant"), row.day("on")), {})[row.text("to_spot")] = row
    for spots in days.values():
        if len(spots) > 1:
            yield list(spots.values())


def _covers(scene: Scene) -> Iterator[Fact]:
    """Bare and covered at once, on the soil that the plant stands in; the first such pair."""
    assert scene.focus is not None
    spot = stand_of(scene, scene.focus, scene.today).spot
    for one, other in bare_and_covered(covers_of(scene, spot)):
        if (one.day("taken_off") or scene.today) >= scene.year_start:
            told = (one.text("material"), other.text("material"))
            yield _clash(scene, "bare and covered at once", one, other, *told, spot=spot)
            return


def bare_and_covered(covers: Iterable[Fact]) -> Iterator[tuple[Fact, Fact]]:
    """Yield covers of one spot, given oldest first, of which one says bare while the other lies there."""
    for one, other in pairwise(covers):
        off, on = one.day("taken_off"), other.day("put_on")
        if on and (off is None or off > on) and "bare" in (one.text("material"), other.text("material")):
            yield one, other


def _barks(scene: Scene) -> Iterator[Fact]:
    """Green and brown at one height on one day; the last day on which it was told two ways."""
    looks = [row for row in _this_year(scene, "inspection") if row.text("scratch") in ("green", "brown")]
    for one, other in combinations(looks, 2):
        heights = {one.text("height"), other.text("height")}
        same = len(heights) == 1 or "all" in heights
        if one.day("on") == other.day("on") and same and one.text("scratch") != other.text("scratch"):
            yield _clash(scene, "bark told two ways", one, other, one.text("scratch"), other.text("scratch"))
            return


def _before_planting(scene: Scene) -> Iterator[Fact]:
    """A stage seen before the day of planting, on a plant that is told to have been planted here in this year."""
    assert scene.focus is not None
    planted = scene.focus.day("planted")
    stages = _this_year(scene, "stage")
    if planted and stages and planted >= scene.year_start and (stages[0].day("on") or planted) < planted:
        yield _clash(scene, "seen before it was planted", stages[0], scene.focus, _stage(stages[0]), "planted")


def _soils(scene: Scene) -> Iterator[Fact]:
    """Two readings of the plant's own soil that lie too far apart for one hour; the last such pair."""
    assert scene.focus is not None
    spot, name = stand_of(scene, scene.focus, scene.today).spot, scene.plant
    own = name if _pot_of_the_year(scene, name) else ""
    found = scene.remember(("last clash", (spot, own)), lambda: _last_clash_of(scene, spot, own))
    if found:
        one, other = found
        at, then = (f"{scene.when(row):%H:%M}" for row in (one, other))
        temps = {"first_c": one.number("temp_c"), "second_c": other.number("temp_c")}
        yield _clash(scene, "one soil read two ways", one, other, at, then, spot=one.text("spot") or None, **temps)


def _pot_of_the_year(scene: Scene, name: str) -> list[Fact]:
    return _of_the_year(scene, (row for row in scene.of_plant("soil_reading", name) if not row.text("spot")))


def _ground_of_the_year(scene: Scene, spot: str) -> list[Fact]:
    return _of_the_year(scene, (row for row in scene.of_spot("soil_reading", spot) if not row.text("plant")))


def _of_the_year(scene: Scene, rows: Iterable[Fact]) -> list[Fact]:
    """Return the last of a soil's readings that were taken in this growing year."""
    return [row for row in list(rows)[-MOST_SOILS:] if scene.when(row).date() >= scene.year_start]


def _last_clash_of(scene: Scene, spot: str, pot: str) -> tuple[Fact, Fact] | None:
    rows = [*(_pot_of_the_year(scene, pot) if pot else ()), *(_ground_of_the_year(scene, spot) if spot else ())]
    for one, other in reversed(list(pairwise(sorted(rows, key=scene.when)))):
        near = scene.when(other) - scene.when(one) <= timedelta(minutes=SAME_SOIL_MINUTES)
        alike = all(one.get(name) == other.get(name) for name in ("depth_cm", "spot", "plant")) and one.get("depth_cm")
        gap = abs((one.number("temp_c") or 0.0) - (other.number("temp_c") or 0.0))
        if near and alike and gap > SAME_SOIL_K:
            return one, other
    return None


def _clash(scene: Scene, clash: str, one: Fact, other: Fact, first: str, second: str, **more: Value | None) -> Fact:
    return derived(
        "record_clash",
        "record_clash",
        (one, other),
        plant=scene.plant,
        clash=clash,
        first=first,
        first_on=scene.when(one).date(),
        second=second,
        second_on=other.day("planted") if other.kind == "plant" else scene.when(other).date(),
        **more,
    )
