"""How far plants have come: the latest stage, how late it is beside its kin and its own years, what is usual."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from math import inf
from statistics import median

from advisor.calc.calendar import growing_year_start, median_date, set_in_year, springs_since
from advisor.facts import Fact
from advisor.reasoning.derive.plants import stand_of
from advisor.reasoning.derive.scene import Scene, derivation, derived, together

MILESTONES = ("waking", "bloom")
RECENT_DAYS = 14
"""A plant last seen asleep longer ago than this may have woken since (house judgement)."""
REST = 90
"""From this BBCH code on leaves colour and fall: the end of one year's growth, and no part of the next one's."""
FEW_KIN = 10
"""Stages of more kin than this are told as one: nobody reads a list of forty."""
ALIKE_DAYS = 28
"""Plants are compared where they stood alike when one woke and this long before: air under a roof brings buds forward
or holds them back for weeks (house judgement)."""
FEWEST_KIN = 2
"""A median of fewer is one plant's luck (house judgement)."""


def reached(bbch: int, milestone: str) -> bool:
    """Return whether a stage lies at or past a milestone.

    Waking is bud break, BBCH 07, or 53 for the flower buds of fruit trees (51 and 52 only swell); bloom is the first
    open flower, 60. Codes: Meier (ed.), BBCH Monograph, 2nd ed., 2001; the milestones are house judgement.
    """
    if milestone == "bloom":
        return 60 <= bbch < REST
    return 7 <= bbch < 50 or 53 <= bbch < REST


@dataclass(frozen=True)
class Reach:
    """One plant's way to a milestone in one growing year: the day it was first seen there, or last seen not there."""

    there: Fact | None
    last: Fact

    @property
    def day(self) -> date | None:
        return self.there.day("on") if self.there else None

    @property
    def fact(self) -> Fact:
        return self.there or self.last


def reach_of(scene: Scene, plant: str, year: int, milestone: str) -> Reach | None:
    """Return a plant's way to a milestone, or None where no stage is recorded in that year."""
    return scene.remember(("reach", (plant, year, milestone)), lambda: _reach(scene, plant, year, milestone))


def _reach(scene: Scene, plant: str, year: int, milestone: str) -> Reach | None:
    rows = scene.remember(("stage years", plant), lambda: _by_year(scene, plant)).get(year, [])
    if not rows:
        return None
    if milestone == "waking" and year == scene.year and not reached(int(rows[-1].number("bbch") or 0), milestone):
        return Reach(None, rows[-1])  # what was seen before was another plant, or was lost: the last look counts
    there = next((row for row in rows if reached(int(row.number("bbch") or 0), milestone)), None)
    return Reach(there, rows[-1])


def _by_year(scene: Scene, plant: str) -> dict[int, list[Fact]]:
    """Return a plant's stages by growing year; a look of this year from before it was planted is of another place."""
    years: dict[int, list[Fact]] = {}
    planted = scene.plants[plant].day("planted") if plant in scene.plants else None
    since = planted if planted and scene.year_start <= planted <= scene.today else date.min
    for row in scene.of_plant("stage", plant):
        day = row.day("on")
        if day is not None and (row.number("bbch") or 0) < REST and (day >= since or day < scene.year_start):
            years.setdefault(scene.year_of(day), []).append(row)
    return years


def kin_of(scene: Scene, plant: Fact, day: date) -> list[Fact]:
    """Return the other plants of one species that are grown the same way on a day: ground, pot, glass or store."""
    like = stand_of(scene, plant, day).like
    if not like:
        return []
    alike = scene.remember(("alike", day), lambda: _alike(scene, day))
    return [other for other in alike[plant.text("species"), like] if other.text("name") != plant.text("name")]


def _alike(scene: Scene, day: date) -> dict[tuple[str, str], list[Fact]]:
    """Return the plants by species and by how they are grown on a day."""
    found: dict[tuple[str, str], list[Fact]] = {}
    for plant in scene.plants.values():
        found.setdefault((plant.text("species"), stand_of(scene, plant, day).like), []).append(plant)
    return found


def grown_alike(scene: Scene, plant: Fact, other: Fact, way: Reach) -> bool:
    """Return whether two plants stood alike on the day that one woke, or was last seen, and four weeks before it.

    So a pot that woke under glass and was carried out since is no measure for one that stood out all along.
    """
    day = way.fact.day("on") or scene.today
    return all(
        stand_of(scene, plant, then).like == stand_of(scene, other, then).like
        for then in (day - timedelta(days=ALIKE_DAYS), day)
    )


def _stands_then(scene: Scene, plant: Fact, other: Fact, way: Reach) -> Iterator[Fact]:
    """Yield the rows that say where two plants stood when one woke, and four weeks before."""
    day = way.fact.day("on") or scene.today
    for then in (day - timedelta(days=ALIKE_DAYS), day):
        yield from (*stand_of(scene, plant, then).because, *stand_of(scene, other, then).because)


def kin_median(scene: Scene, plant: Fact, year: int, milestone: str) -> tuple[date, int, list[Fact]] | None:
    """Return the median day on which a plant's kin reached a milestone, of how many, and the rows it rests on.

    Kin seen within two weeks and not there yet count as later than all others; None where the median is one of
    them, or fewer than two kin are known. Those in their first spring count only where too few are settled.
    """
    eve = growing_year_start(year + 1, scene.latitude_deg) - timedelta(days=1)
    by = min(scene.today, eve)
    spring = _spring_day(scene, year)
    found: list[tuple[Fact, Reach]] = []
    for other in kin_of(scene, plant, spring):
        way = reach_of(scene, other.text("name"), year, milestone)
        if way is None or not grown_alike(scene, plant, other, way):
            continue
        if way.day is None and (by - (way.last.day("on") or by)).days > RECENT_DAYS:
            continue
        found.append((other, way))
    settled = [entry for entry in found if not _in_first_spring(scene, entry[0], by)]
    found = settled if len(settled) >= FEWEST_KIN else found
    days = [way.day.toordinal() if way.day else inf for _, way in found]
    if len(days) < FEWEST_KIN or median(days) == inf:
        return None
    stands = list(stand_of(scene, plant, spring).because)
    for other, way in found:
        stands += [*stand_of(scene, other, spring).because, *_stands_then(scene, plant, other, way)]
    rows = [way.fact for _, way in found]
    return date.fromordinal(int(median(days))), len(days), [*_few(rows), *together(stands)]


def _in_first_spring(scene: Scene, plant: Fact, day: date) -> bool:
    """Return whether a plant was new where it stood: such a one is no measure for others, since it wakes late."""
    planted = plant.day("planted")
    return planted is not None and springs_since(planted, day, scene.latitude_deg) <= 1


def _few(rows: list[Fact]) -> list[Fact]:
    """Return stages as they are where one can take them in, else as one fact that names all their rows."""
    return rows if len(rows) <= FEW_KIN else together(rows)


def _spring_day(scene: Scene, year: int) -> date:
    """Return the day on which plants of a growing year are told apart by where they stand: mid April, or today."""
    start = growing_year_start(year, scene.latitude_deg)
    return scene.today if year == scene.year else start + timedelta(days=165)


def lag_days(scene: Scene, plant: Fact, year: int, milestone: str) -> tuple[int, bool, int, list[Fact]] | None:
    """Return how far a plant is behind its kin in a year: days, still waiting, kin, rows; None if not known.

    A plant still waiting is behind by at least the days to the last look at it, since nobody knows what came after.
    """
    own = reach_of(scene, plant.text("name"), year, milestone)
    others = kin_median(scene, plant, year, milestone) if own else None
    if own is None or others is None:
        return None
    usual, count, rows = others
    last = own.day or own.last.day("on") or scene.today
    return (last - usual).days, own.day is None, count, [own.fact, *rows]


@derivation
def stage_now(scene: Scene) -> Iterable[Fact]:
    """Derive the latest stage of the plant asked about in this growing year."""
    way = reach_of(scene, scene.plant, scene.year, "waking") if scene.focus else None
    if way is None:
        return
    day = way.last.day("on") or scene.today
    bbch = int(way.last.number("bbch") or 0)
    yield derived(
        "stage_now",
        "stage_now",
        (scene.plants[scene.plant], way.last),
        plant=scene.plant,
        bbch=bbch,
        on=day,
        age_days=(scene.today - day).days,
        awake=reached(bbch, "waking"),
        flowering=reached(bbch, "bloom"),
    )


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
        past = _own_past(scene, scene.focus, milestone)
        if own and len(past) >= FEWEST_KIN:
            usual = median_date([set_in_year(day, scene.year_start) for day, _ in past])
            day = own.day or own.last.day("on") or scene.today
            if own.day or day > usual:
                rows = [own.fact, *(row for _, row in past)]
                yield _lag(scene, "own years", milestone, (day - usual).days, own.day is None, len(past), rows)


def _lag(
    scene: Scene, against: str, milestone: str, late: int, waiting: bool, count: int, rows: Iterable[Fact]
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


def _own_past(scene: Scene, plant: Fact, milestone: str) -> list[tuple[date, Fact]]:
    years = scene.remember(("stage years", plant.text("name")), lambda: _by_year(scene, plant.text("name")))
    past = []
    for year in sorted(years):
        way = reach_of(scene, plant.text("name"), year, milestone)
        if year < scene.year and way and way.day and way.there:
            past.append((way.day, way.there))
    return past


@derivation
def kin_awake(scene: Scene) -> Iterable[Fact]:
    """Derive how many of the asked plant's kin are awake this spring."""
    if scene.focus is None:
        return
    awake, kin, alike = 0, 0, 0
    rows: list[Fact] = []
    stands = list(stand_of(scene, scene.focus, scene.today).because)
    cultivar = scene.focus.text("cultivar").casefold()
    for other in kin_of(scene, scene.focus, scene.today):
        way = reach_of(scene, other.text("name"), scene.year, "waking")
        if way is None or not grown_alike(scene, scene.focus, other, way):
            continue
        seen = way.last.day("on") or scene.today
        if way.day is None and (scene.today - seen).days > RECENT_DAYS:
            continue
        awake += way.day is not None
        alike += way.day is not None and other.text("cultivar").casefold() == cultivar
        kin += 1
        rows.append(way.fact)
        stands += [*stand_of(scene, other, scene.today).because, *_stands_then(scene, scene.focus, other, way)]
    if kin:
        state = "none" if not awake else "all" if awake == kin else "some"
        rows = [*_few(rows), *together(stands)]
        yield derived(
            "kin_awake",
            "kin_awake",
            rows,
            plant=scene.plant,
            kin=kin,
            awake=awake,
            state=state,
            cultivar_awake=alike if cultivar else None,
        )


@derivation
def habit(scene: Scene) -> Iterable[Fact]:
    """Derive how the asked plant's waking compared with its kin's in earlier years, and whether this year is worse."""
    if scene.focus is None:
        return
    lags: list[int] = []
    rows: list[Fact] = []
    years = scene.remember(("stage years", scene.plant), lambda: _by_year(scene, scene.plant))
    for year in sorted(year for year in years if year < scene.year):
        found = lag_days(scene, scene.focus, year, "waking")
        if found and not found[1]:
            lags.append(found[0])
            rows += found[3]
    if not lags:
        return
    now = lag_days(scene, scene.focus, scene.year, "waking")
    yield derived(
        "habit",
        "habit",
        dict.fromkeys(rows + (now[3] if now else [])),
        plant=scene.plant,
        years=len(lags),
        late_days=round(median(lags), 1),
        spread_days=max(lags) - min(lags),
        beyond_days=round(now[0] - median(lags), 1) if now else None,
    )


@derivation
def usual_date(scene: Scene) -> Iterable[Fact]:
    """Derive how far off the usual waking date is: this plant's own, and that of its kind in this garden."""
    if scene.focus is None:
        return
    own = _own_past(scene, scene.focus, "waking")
    kind: list[tuple[date, Fact]] = []
    stands = list(stand_of(scene, scene.focus, scene.today).because)
    for other in kin_of(scene, scene.focus, scene.today):
        past = _own_past(scene, other, "waking")
        kind += past
        stands += stand_of(scene, other, scene.today).because if past else ()
    alike = together(stands) if kind else []
    for of, past, more in (("this plant", own, []), ("its kind", [*own, *kind], alike)):
        if not past:
            continue
        usual = median_date([set_in_year(day, scene.year_start) for day, _ in past])
        yield derived(
            "usual_date",
            "usual_date",
            [*(row for _, row in past), *more],
            plant=scene.plant,
            of=of,
            usual=usual,
            ahead_days=(usual - scene.today).days,
            years=len({scene.year_of(day) for day, _ in past}),
        )
