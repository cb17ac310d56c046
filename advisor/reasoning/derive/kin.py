"""Plants beside their kin, the others of their species that are grown the same way, and beside their own years.

What holds for all plants of a group is worked out once for the group, and a plant is then set beside the group
without itself: a garden of three hundred figs has as many pairs of kin as fifty thousand.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property
from math import inf
from statistics import median

from advisor.calc.calendar import growing_year_start, median_date, set_in_year, springs_since
from advisor.facts import Fact
from advisor.reasoning.derive.plants import Timeline, stand_of, timeline_of
from advisor.reasoning.derive.scene import Scene, derivation, derived, together
from advisor.reasoning.derive.stages import MILESTONES, RECENT_DAYS, Reach, reach_of, stage_years

FEW_KIN = 10
"""Stages of more kin than this are told as one: nobody reads a list of forty."""
ALIKE_DAYS = 28
"""Plants are compared where they stood alike when one woke and this long before: air under a roof brings buds forward
or holds them back for weeks (house judgement)."""
FEWEST_KIN = 2
"""A median of fewer is one plant's luck (house judgement)."""

Rows = Callable[[], list[Fact]]
"""Gathers the rows behind a comparison, once somebody looks at them."""


# ---- groups


def grown_as(scene: Scene, plant: Fact, day: date) -> tuple[Fact, ...]:
    """Return the plants of one species that are grown as this one on a day, itself among them, in the garden's order.

    They are told apart by ground, pot, glass and store; none where it is not known how the plant is grown.
    """
    like = stand_of(scene, plant, day).like
    alike = scene.remember(("alike", day), lambda: _alike(scene, day))
    return alike[plant.text("species"), like] if like else ()


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
        return Counter(_cultivar(one.plant) for one in self.seen if one.way.day is not None)

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


def _cultivar(plant: Fact) -> str:
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
    spring = _spring_day(scene, year)
    key = (plant.text("species"), stand_of(scene, plant, spring).like, year, milestone)
    return scene.remember(("kin", key), lambda: Group(_seen(scene, grown_as(scene, plant, spring), year, milestone)))


def _seen(scene: Scene, plants: Iterable[Fact], year: int, milestone: str) -> Iterator[Seen]:
    eve = growing_year_start(year + 1, scene.latitude_deg) - timedelta(days=1)
    by = min(scene.today, eve)
    for plant in plants:
        way = reach_of(scene, plant.text("name"), year, milestone)
        if way is None or (way.day is None and (by - (way.last.day("on") or by)).days > RECENT_DAYS):
            continue
        day = way.fact.day("on") or scene.today
        yield Seen(plant, way, timeline_of(scene, plant), day, not _in_first_spring(scene, plant, by))


def _in_first_spring(scene: Scene, plant: Fact, day: date) -> bool:
    """Return whether a plant was new where it stood: such a one is no measure for others, since it wakes late."""
    planted = plant.day("planted")
    return planted is not None and springs_since(planted, day, scene.latitude_deg) <= 1


def _spring_day(scene: Scene, year: int) -> date:
    """Return the day on which plants of a growing year are told apart by where they stand: mid April, or today."""
    start = growing_year_start(year, scene.latitude_deg)
    return scene.today if year == scene.year else start + timedelta(days=165)


def _behind(plant: Timeline, spring: date, kin: Iterable[Seen]) -> list[Fact]:
    """Return the stages of kin, and the rows that say where they and the plant stood."""
    rows: list[Fact] = []
    stands = list(plant.on(spring).because)
    for one in kin:
        rows.append(one.way.fact)
        stands += one.line.on(spring).because
        for then in (one.day - timedelta(days=ALIKE_DAYS), one.day):
            stands += (*plant.on(then).because, *one.line.on(then).because)
    return [*(rows if len(rows) <= FEW_KIN else together(rows)), *together(stands)]


def lag_days(scene: Scene, plant: Fact, year: int, milestone: str) -> tuple[int, bool, int, Rows] | None:
    """Return how far a plant is behind its kin in a year: days, still waiting, kin, rows; None if not known.

    A plant still waiting is behind by at least the days to the last look at it, since nobody knows what came after.
    Kin seen within two weeks and not there yet count as later than all others; not known where the median is one of
    them, or fewer than two kin are known.
    """
    own = reach_of(scene, plant.text("name"), year, milestone)
    if own is None:
        return None
    line, spring = timeline_of(scene, plant), _spring_day(scene, year)
    found = _group(scene, plant, year, milestone).beside(line).median_without(plant.text("name"))
    if found is None or found[0] == inf:
        return None
    usual, count, kin = found
    last = own.day or own.last.day("on") or scene.today
    late = (last - date.fromordinal(int(usual))).days
    return late, own.day is None, count, lambda: [own.fact, *_behind(line, spring, kin())]


# ---- this year


@derivation
def stage_lag(scene: Scene) -> Iterable[Fact]:
    """Derive how late the plant asked about is beside its kin, and beside its own earlier years."""
    if scene.focus is None:
        return
    for milestone in _milestones(scene, scene.focus):
        found = lag_days(scene, scene.focus, scene.year, milestone)
        if found:
            late, waiting, count, rows = found
            yield _lag(scene, "kin", milestone, late, waiting, count, rows)
        own = reach_of(scene, scene.plant, scene.year, milestone)
        past = own_past(scene, scene.plant, milestone)
        if own and len(past) >= FEWEST_KIN:
            usual = median_date([set_in_year(day, scene.year_start) for day, _ in past])
            day = own.day or own.last.day("on") or scene.today
            if own.day or day > usual:
                rows_then = [own.fact, *(row for _, row in past)]
                yield _lag(scene, "own years", milestone, (day - usual).days, own.day is None, len(past), rows_then)


def _lag(
    scene: Scene, against: str, milestone: str, late: int, waiting: bool, count: int, rows: Iterable[Fact] | Rows
) -> Fact:
    return derived(
        "stage_lag",
        "stage_lag",
        rows,
        plant=scene.plant,
        against=against,
        milestone=milestone,
        late_days=late,
        waiting=waiting,
        count=count,
    )


def _milestones(scene: Scene, plant: Fact) -> tuple[str, ...]:
    species = scene.lore_of(plant)
    return MILESTONES if species and species.bloom != "hidden" else ("waking",)


@derivation
def kin_awake(scene: Scene) -> Iterable[Fact]:
    """Derive how many of the asked plant's kin are awake this spring."""
    if scene.focus is None:
        return
    line = timeline_of(scene, scene.focus)
    beside = _group(scene, scene.focus, scene.year, "waking").beside(line)
    own = beside.by_name.get(scene.plant)
    there = own is not None and own.way.day is not None
    kin, awake = len(beside.seen) - (own is not None), beside.awake - there
    cultivar = _cultivar(scene.focus)
    name, today = scene.plant, scene.today
    if kin:
        yield derived(
            "kin_awake",
            "kin_awake",
            lambda: _behind(line, today, beside.without(name)),
            plant=scene.plant,
            kin=kin,
            awake=awake,
            state="none" if not awake else "all" if awake == kin else "some",
            cultivar_awake=beside.awake_of_cultivar[cultivar] - there if cultivar else None,
        )


# ---- earlier years


def own_past(scene: Scene, plant: str, milestone: str) -> list[tuple[date, Fact]]:
    """Return on which day of each earlier growing year a plant came to a milestone, and the look that says so."""
    return scene.remember(("own past", (plant, milestone)), lambda: _own_past(scene, plant, milestone))


def _own_past(scene: Scene, plant: str, milestone: str) -> list[tuple[date, Fact]]:
    past = []
    for year in sorted(stage_years(scene, plant)):
        way = reach_of(scene, plant, year, milestone)
        if year < scene.year and way and way.day and way.there:
            past.append((way.day, way.there))
    return past


@derivation
def habit(scene: Scene) -> Iterable[Fact]:
    """Derive how the asked plant's waking compared with its kin's in earlier years, and whether this year is worse."""
    if scene.focus is None:
        return
    earlier = sorted(year for year in stage_years(scene, scene.plant) if year < scene.year)
    found = [lag for year in earlier if (lag := lag_days(scene, scene.focus, year, "waking")) and not lag[1]]
    if not found:
        return
    lags = [days for days, *_ in found]
    now = lag_days(scene, scene.focus, scene.year, "waking")
    behind = [rows for *_, rows in (*found, *((now,) if now else ()))]
    yield derived(
        "habit",
        "habit",
        lambda: dict.fromkeys(row for rows in behind for row in rows()),
        plant=scene.plant,
        years=len(lags),
        late_days=round(median(lags), 1),
        spread_days=max(lags) - min(lags),
        beyond_days=round(now[0] - median(lags), 1) if now else None,
    )


@dataclass(frozen=True)
class _Usual:
    """The days on which the plants of a group woke in earlier years: their median set in this year, and the years."""

    usual: date
    years: int
    past: tuple[tuple[str, list[tuple[date, Fact]], tuple[Fact, ...]], ...]


def _usual(scene: Scene, plants: Iterable[Fact]) -> _Usual | None:
    past = [
        (plant.text("name"), own_past(scene, plant.text("name"), "waking"), stand_of(scene, plant, scene.today).because)
        for plant in plants
    ]
    days = [day for _, own, _ in past for day, _ in own]
    if not days:
        return None
    usual = median_date([set_in_year(day, scene.year_start) for day in days])
    return _Usual(usual, len({scene.year_of(day) for day in days}), tuple(past))


@derivation
def usual_date(scene: Scene) -> Iterable[Fact]:
    """Derive how far off the usual waking date is: this plant's own, and that of its kind in this garden."""
    if scene.focus is None:
        return
    own = _usual(scene, (scene.focus,))
    kin = grown_as(scene, scene.focus, scene.today)
    key = (scene.focus.text("species"), stand_of(scene, scene.focus, scene.today).like)
    kind = scene.remember(("usual", key), lambda: _usual(scene, kin)) if kin else own
    name, stands = scene.plant, stand_of(scene, scene.focus, scene.today).because

    def behind() -> list[Fact]:
        others = [entry for entry in kind.past if entry[0] != name and entry[1]] if kind else []
        rows = [*own_rows, *(row for _, days, _ in others for _, row in days)]
        where = [*stands, *(row for _, _, because in others for row in because)]
        return [*rows, *(together(where) if others else [])]

    own_rows = [row for _, days, _ in (own.past if own else ()) for _, row in days]
    for of, found, rows in (("this plant", own, own_rows), ("its kind", kind, behind)):
        if found is not None:
            yield derived(
                "usual_date",
                "usual_date",
                rows,
                plant=scene.plant,
                of=of,
                usual=found.usual,
                ahead_days=(found.usual - scene.today).days,
                years=found.years,
            )
