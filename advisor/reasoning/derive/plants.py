"""Where each plant stands, how long it has been there, and what its kind is like."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from advisor.calc.calendar import springs_since
from advisor.facts import Fact
from advisor.reasoning.derive.scene import Scene, derivation, derived


@dataclass(frozen=True)
class Stand:
    """Where a plant stood on a day. ``spot`` is "" where it is not recorded, or two moves of one day disagree."""

    spot: str
    growing: str
    under_cover: str
    because: tuple[Fact, ...]

    @property
    def like(self) -> str:
        """Return how it is grown, for comparing like with like: ground, pot, glass, store, or "" if not known."""
        if self.under_cover in ("unheated glass", "heated glass"):
            return "glass"
        if self.under_cover == "shelter":
            return "store"
        return self.growing


@dataclass(frozen=True)
class Timeline:
    """Where a plant stood from its first day on: the first of ``stands`` before all of ``moved``, the next from each
    day of it on."""

    moved: tuple[date, ...]
    stands: tuple[Stand, ...]

    def on(self, day: date) -> Stand:
        return self.stands[bisect_right(self.moved, day)]


def stand_of(scene: Scene, plant: Fact, day: date) -> Stand:
    """Return where a plant stood on a day, moves counted."""
    return timeline_of(scene, plant).on(day)


def timeline_of(scene: Scene, plant: Fact) -> Timeline:
    """Return where a plant stood at all times up to today; a limb stands where its tree does."""
    return scene.remember(("timeline", plant.text("name")), lambda: _timeline(scene, plant))


def _timeline(scene: Scene, plant: Fact) -> Timeline:
    trunk = trunk_of(scene, plant)
    if trunk is not None:
        on = timeline_of(scene, trunk)
        stands = (Stand(one.spot, one.growing, one.under_cover, (plant, *one.because)) for one in on.stands)
        return Timeline(on.moved, tuple(stands))
    days: dict[date, list[Fact]] = {}
    for move in scene.of_plant("move", plant.text("name")):
        days.setdefault(move.day("on") or date.min, []).append(move)
    moved = sorted(days.items())
    found = [_stand(scene, plant, plant.text("spot"), ())]
    for _, moves in moved:
        to = {move.text("to_spot") for move in moves}
        found.append(_stand(scene, plant, to.pop() if len(to) == 1 else "", moves))
    return Timeline(tuple(day for day, _ in moved), tuple(found))


def _stand(scene: Scene, plant: Fact, spot: str, moves: Iterable[Fact]) -> Stand:
    row = scene.spots.get(spot)
    growing = plant.text("growing") or ("pot" if plant.number("pot_litres") else "")
    under_cover = (row.text("under_cover") or "none") if row else ""  # a roof that nobody told of is none
    return Stand(spot, growing, under_cover, (plant, *moves, *((row,) if row else ())))


def trunk_of(scene: Scene, limb: Fact) -> Fact | None:
    """Return the tree at the end of a limb's chain of grafts; None for a tree itself, or a chain that goes round."""
    seen = {limb.text("name")}
    trunk = None
    below = limb.text("grafted_on")
    while below in scene.plants:
        if below in seen:
            return None
        seen.add(below)
        trunk = scene.plants[below]
        below = trunk.text("grafted_on")
    return trunk


@derivation
def standing(scene: Scene) -> Iterable[Fact]:
    """Derive where the plant asked about stands today."""
    if scene.focus is None:
        return
    stand = stand_of(scene, scene.focus, scene.today)
    yield derived(
        "standing",
        "standing",
        stand.because,
        plant=scene.plant,
        spot=stand.spot or None,
        growing=stand.growing or None,
        under_cover=stand.under_cover or None,
        species=scene.focus.text("species"),
    )


@derivation
def traits(scene: Scene) -> Iterable[Fact]:
    """Derive what is known of the kind of the plant asked about."""
    if scene.focus is None:
        return
    species = scene.lore_of(scene.focus)
    if species is None:
        return
    cultivar = scene.focus.text("cultivar")
    yield derived(
        "traits",
        "traits",
        (scene.focus,),
        plant=scene.plant,
        species=species.id,
        wakes=species.trait(cultivar, "wakes"),
        flowers_first=species.trait(cultivar, "flowers_first"),
        roots_from_below=species.trait(cultivar, "roots_from_below"),
        mature_spread_m=species.spread_m(scene.focus.text("rootstock")),
        self_fertile=species.trait(cultivar, "self_fertile"),
        damp_hater=species.trait(cultivar, "damp_hater"),
        thirsty=species.trait(cultivar, "thirsty"),
    )


def planted_there(scene: Scene, plant: Fact) -> tuple[date | None, tuple[Fact, ...]]:
    """Return since when a plant's roots are where they are, and the rows that say so.

    A tree in the ground counts from its planting or its last move, a pot from its planting or last potting on; a pot
    that is carried about keeps its roots.
    """
    stand = stand_of(scene, plant, scene.today)
    rows = [plant]
    if stand.growing == "ground":
        rows += scene.of_plant("move", plant.text("name"))
    else:
        rows += [work for work in scene.of_plant("work", plant.text("name")) if work.text("what") == "potted on"]
    days = [(day, row) for row in rows if (day := row.day("planted") or row.day("on")) and day <= scene.today]
    if not days:
        return None, ()
    last = max(days, key=lambda entry: entry[0])
    return last[0], (plant,) if last[1] is plant else (plant, last[1])


@derivation
def planting_age(scene: Scene) -> Iterable[Fact]:
    """Derive how long ago the plant asked about was planted, potted on or moved, where that is recorded."""
    since, rows = planted_there(scene, scene.focus) if scene.focus else (None, ())
    if since is None:
        return
    yield derived(
        "planting_age",
        "planting_age",
        rows,
        plant=scene.plant,
        age_days=(scene.today - since).days,
        springs=springs_since(since, scene.today, scene.latitude_deg),
    )
