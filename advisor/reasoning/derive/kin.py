"""Plants beside their kin, the others of their species that are grown the same way.

What holds for all plants of a group is worked out once for the group, and a plant is then set beside the group
without itself: a garden of three hundred figs has as many pairs of kin as fifty thousand.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cache, cached_property, partial
from math import inf

from advisor.calc.calendar import growing_year_start, springs_since
from advisor.facts import Fact
from advisor.reasoning.derive.plants import Timeline, stand_of, timeline_of
from advisor.reasoning.derive.scene import Scene, together
from advisor.reasoning.derive.stages import RECENT_DAYS, Reach, way_of
from advisor.reasoning.derive.store import mark_of

FEW_KIN = 10
"""Stages of more kin than this are told as one: nobody reads a list of forty."""
ALIKE_DAYS = 28
"""Plants are compared where they stood alike when one woke and this long before: air under a roof brings buds forward
or holds them back for weeks (house judgement)."""
FEWEST_KIN = 2
"""A median of fewer is one plant's luck (house judgement)."""

Rows = Callable[[], list[Fact]]
"""Gathers the rows behind a comparison, once somebody looks at them."""
Lag = tuple[int, bool, int, Rows]
"""How far a plant is behind its kin: days, still waiting, kin in the median, rows."""


# ---- groups


def grown_as(scene: Scene, plant: Fact, day: date) -> tuple[Fact, ...]:
    """Return the plants of one species that are grown as this one on a day, itself among them, in the garden's order.

    They are told apart by ground, pot, glass and store; none where it is not known how the plant is grown.
    """
    like = stand_of(scene, plant, day).like
    return _all_alike(scene, day)[plant.text("species"), like] if like else ()


def _all_alike(scene: Scene, day: date) -> dict[tuple[str, str], tuple[Fact, ...]]:
    return scene.remember(("alike", day), lambda: _alike(scene, day))


def _alike(scene: Scene, day: date) -> dict[tuple[str, str], tuple[Fact, ...]]:
    found: dict[tuple[str, str], list[Fact]] = {}
    for plant in scene.plants.values():
        found.setdefault((plant.text("species"), stand_of(scene, plant, day).like), []).append(plant)
    return {key: tuple(plants) for key, plants in found.items()}


@dataclass(frozen=True)
class Seen:
    """One of a group, with its way to a milestone and the day of that: on which it was there, or was last seen."""

    plant: Fact
    way: Reach
    line: Timeline
    day: date
    settled: bool

    @property
    def name(self) -> str:
        return self.plant.text("name")

    @property
    def likes(self) -> tuple[str, str]:
        """Return how it was grown four weeks before its day, and on it."""
        return _likes(self.line, self.day)


def _likes(line: Timeline, day: date) -> tuple[str, str]:
    return line.on(day - timedelta(days=ALIKE_DAYS)).like, line.on(day).like


class Beside:
    """Those of a group that stood as some plant did while they came to a milestone; that plant may be one of them."""

    def __init__(self, seen: Sequence[Seen]) -> None:
        self.seen = seen
        self.by_name = {one.name: one for one in seen}
        self.awake = sum(one.way.day is not None for one in seen)

    @cached_property
    def settled(self) -> list[Seen]:
        return [one for one in self.seen if one.settled]

    @cached_property
    def awake_of_cultivar(self) -> Counter[str]:
        return Counter(cultivar_of(one.plant) for one in self.seen if one.way.day is not None)

    @cached_property
    def _days(self) -> tuple[list[float], list[float]]:
        return sorted(map(_ordinal, self.seen)), sorted(map(_ordinal, self.settled))

    def without(self, name: str) -> Iterator[Seen]:
        return (one for one in self.seen if one.name != name)

    def median_without(self, name: str) -> tuple[float, int, Callable[[], list[Seen]]] | None:
        """Return the median day of all but one plant, as an ordinal, of how many, and who they are.

        Kin not there yet count as later than all others. Those in their first spring count only where too few are
        settled; None for too few of both.
        """
        own = self.by_name.get(name)
        settled = len(self.settled) - (own is not None and own.settled) >= FEWEST_KIN
        days = self._days[settled]
        out = _ordinal(own) if own is not None and (own.settled or not settled) else None
        count = len(days) - (out is not None)
        if count < FEWEST_KIN:
            return None
        return _median_but(days, out), count, lambda: [
            one for one in (self.settled if settled else self.seen) if one.name != name
        ]  # fmt: skip


def _ordinal(one: Seen) -> float:
    return one.way.day.toordinal() if one.way.day else inf


def _median_but(days: Sequence[float], out: float | None) -> float:
    """Return the median of sorted days with one of them left out."""
    gap = len(days) if out is None else bisect_left(days, out)
    count = len(days) - (out is not None)
    high, low = (days[place + (place >= gap)] for place in (count // 2, (count - 1) // 2))
    return high if high == low else (low + high) / 2


def cultivar_of(plant: Fact) -> str:
    return plant.text("cultivar").casefold()


class Group:
    """The plants of one species that are grown one way on a day, as far as they were seen on their way to a milestone.

    So a pot that woke under glass and was carried out since is no measure for one that stood out all along: who is
    set beside whom depends on where both stood on the day that one woke, or was last seen, and four weeks before it.
    """

    def __init__(self, seen: Iterable[Seen]) -> None:
        self.seen = list(seen)
        self._wanted = list(dict.fromkeys((one.day, one.likes) for one in self.seen))
        self._beside: dict[object, Beside] = {}

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Group) and self.seen == other.seen

    __hash__ = None  # type: ignore[assignment]  # none is looked up by what it holds

    def beside(self, line: Timeline) -> Beside:
        """Return those that stood as a plant of this timeline did."""
        key: object = line.stands[0].like
        if line.moved:
            key = tuple(_likes(line, day) == likes for day, likes in self._wanted)
        if key not in self._beside:
            self._beside[key] = Beside([one for one in self.seen if _likes(line, one.day) == one.likes])
        return self._beside[key]


def _group(scene: Scene, plant: Fact, year: int, milestone: str) -> Group:
    """Return the group that a plant is compared with in a year, left out who was not seen for two weeks."""
    species, like = plant.text("species"), stand_of(scene, plant, _spring_day(scene, year)).like
    make = partial(_grouped, species=species, like=like, year=year, milestone=milestone)
    mark = mark_of(f"kin {year} {milestone}", f"{species} {like}")
    return scene.settled(("kin", (species, like, year, milestone)), make, mark)


def _grouped(scene: Scene, species: str, like: str, year: int, milestone: str) -> Group:
    alike = _all_alike(scene, _spring_day(scene, year))
    return Group(_seen(scene, alike[species, like] if like else (), year, milestone))


def _seen(scene: Scene, plants: Iterable[Fact], year: int, milestone: str) -> Iterator[Seen]:
    eve = growing_year_start(year + 1, scene.latitude_deg) - timedelta(days=1)
    by = min(scene.today, eve)
    new = scene.remember(("in first spring", by), lambda: _in_first_spring(scene, by))
    for plant in plants:
        way = way_of(scene, plant.text("name"), year, milestone)
        if way is None or (way.day is None and (by - (way.last.day("on") or by)).days > RECENT_DAYS):
            continue
        day = way.fact.day("on") or scene.today
        yield Seen(plant, way, timeline_of(scene, plant), day, plant.text("name") not in new)


def _in_first_spring(scene: Scene, day: date) -> frozenset[str]:
    """Return which plants were new where they stood: such are no measure for others, since they wake late."""
    planted = ((name, plant.day("planted")) for name, plant in scene.plants.items())
    return frozenset(name for name, on in planted if on and springs_since(on, day, scene.latitude_deg) <= 1)


def _spring_day(scene: Scene, year: int) -> date:
    """Return the day on which plants of a growing year are told apart by where they stand: mid April, or today."""
    start = growing_year_start(year, scene.latitude_deg)
    return scene.today if year == scene.year else start + timedelta(days=165)


def behind(plant: Timeline, spring: date, kin: Iterable[Seen]) -> list[Fact]:
    """Return the stages of kin, and the rows that say where they and the plant stood."""
    rows: list[Fact] = []
    stands = list(plant.on(spring).because)
    for one in kin:
        rows.append(one.way.fact)
        stands += one.line.on(spring).because
        for then in (one.day - timedelta(days=ALIKE_DAYS), one.day):
            stands += (*plant.on(then).because, *one.line.on(then).because)
    return [*(rows if len(rows) <= FEW_KIN else together(rows)), *together(stands)]


def beside_of(scene: Scene, plant: Fact, year: int, milestone: str) -> Beside:
    """Return the kin of a plant that stood as it did while they came to a milestone, itself among them if it did."""
    return _group(scene, plant, year, milestone).beside(timeline_of(scene, plant))


def lag_days(scene: Scene, plant: Fact, year: int, milestone: str) -> Lag | None:
    """Return how far a plant is behind its kin in a year, None if that is not known.

    A plant still waiting is behind by at least the days to the last look at it, since nobody knows what came after.
    Kin seen within two weeks and not there yet count as later than all others; not known where the median is one of
    them, or fewer than two kin are known.
    """
    own = way_of(scene, plant.text("name"), year, milestone)
    if own is None:
        return None
    line, spring = timeline_of(scene, plant), _spring_day(scene, year)
    found = beside_of(scene, plant, year, milestone).median_without(plant.text("name"))
    if found is None or found[0] == inf:
        return None
    usual, count, kin = found
    last = own.day or own.last.day("on") or scene.today
    late = (last - date.fromordinal(int(usual))).days
    return late, own.day is None, count, cache(lambda: [own.fact, *behind(line, spring, kin())])
