"""How late a plant is this year: beside its kin, beside its own earlier years, and beside what is usual here."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from functools import partial
from statistics import median

from advisor.calc.calendar import median_date, set_in_year
from advisor.facts import Fact
from advisor.reasoning.derive.each import each_plant
from advisor.reasoning.derive.kin import FEWEST_KIN, Lag, Rows, behind, beside_of, cultivar_of, grown_as, lag_days
from advisor.reasoning.derive.plants import stand_of, timeline_of
from advisor.reasoning.derive.scene import Scene, derivation, derived, together
from advisor.reasoning.derive.stages import MILESTONES, past_ways, stage_years, way_of

# ---- this year


@each_plant
def stage_lag(scene: Scene, name: str) -> Iterable[Fact]:
    """Derive how late a plant is beside its kin, and beside its own earlier years."""
    plant = scene.plants[name]
    for milestone in _milestones(scene, plant):
        found = lag_days(scene, plant, scene.year, milestone)
        if found:
            late, waiting, count, rows = found
            yield _lag(name, "kin", milestone, late, waiting, count, rows)
        own = scene.remember(("own lag", (name, milestone)), partial(_own_lag, scene, name, milestone))
        if own:
            yield own


def _own_lag(scene: Scene, plant: str, milestone: str) -> Fact | None:
    """Return how late a plant is beside its own earlier years; of a plant still waiting once that day is past."""
    own, past = way_of(scene, plant, scene.year, milestone), own_past(scene, plant, milestone)
    if own is None or len(past) < FEWEST_KIN:
        return None
    usual = median_date([set_in_year(day, scene.year_start) for day, _ in past])
    day = own.day or own.last.day("on") or scene.today
    if own.day is None and day <= usual:
        return None
    rows = [own.fact, *(row for _, row in past)]
    return _lag(plant, "own years", milestone, (day - usual).days, own.day is None, len(past), rows)


def _lag(
    plant: str, against: str, milestone: str, late: int, waiting: bool, count: int, rows: Iterable[Fact] | Rows
) -> Fact:
    return derived(
        "stage_lag",
        "stage_lag",
        rows,
        plant=plant,
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
    beside = beside_of(scene, scene.focus, scene.year, "waking")
    own = beside.by_name.get(scene.plant)
    there = own is not None and own.way.day is not None
    kin, awake = len(beside.seen) - (own is not None), beside.awake - there
    cultivar = cultivar_of(scene.focus)
    name, today = scene.plant, scene.today
    if kin:
        yield derived(
            "kin_awake",
            "kin_awake",
            lambda: behind(line, today, beside.without(name)),
            plant=scene.plant,
            kin=kin,
            awake=awake,
            state="none" if not awake else "all" if awake == kin else "some",
            cultivar_awake=beside.awake_of_cultivar[cultivar] - there if cultivar else None,
        )


# ---- earlier years


def own_past(scene: Scene, plant: str, milestone: str) -> list[tuple[date, Fact]]:
    """Return on which day of each earlier growing year a plant came to a milestone, and the look that says so."""
    ways = past_ways(scene, plant, milestone).values()
    return [(way.day, way.there) for way in ways if way.day and way.there]


@derivation
def habit(scene: Scene) -> Iterable[Fact]:
    """Derive how the asked plant's waking compared with its kin's in earlier years, and whether this year is worse."""
    if scene.focus is None:
        return
    found = scene.remember(("past lags", scene.plant), partial(_past_lags, scene, scene.focus))
    if not found:
        return
    lags = [days for days, *_ in found]
    now = lag_days(scene, scene.focus, scene.year, "waking")
    resting = [rows for *_, rows in (*found, *((now,) if now else ()))]
    yield derived(
        "habit",
        "habit",
        lambda: dict.fromkeys(row for rows in resting for row in rows()),
        plant=scene.plant,
        years=len(lags),
        late_days=round(median(lags), 1),
        spread_days=max(lags) - min(lags),
        beyond_days=round(now[0] - median(lags), 1) if now else None,
    )


def _past_lags(scene: Scene, plant: Fact) -> list[Lag]:
    """Return how far a plant was behind its kin in each earlier growing year in which it woke."""
    earlier = sorted(year for year in stage_years(scene, plant.text("name")) if year < scene.year)
    return [lag for year in earlier if (lag := lag_days(scene, plant, year, "waking")) and not lag[1]]


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
    focus = scene.focus
    own = _usual(scene, (focus,))
    kin = grown_as(scene, scene.focus, scene.today)
    key = (scene.focus.text("species"), stand_of(scene, scene.focus, scene.today).like)
    kind = scene.remember(("usual", key), lambda: _usual(scene, grown_as(scene, focus, scene.today))) if kin else own
    name, stands = scene.plant, stand_of(scene, scene.focus, scene.today).because

    def kinds_rows() -> list[Fact]:
        others = [entry for entry in kind.past if entry[0] != name and entry[1]] if kind else []
        rows = [*own_rows, *(row for _, days, _ in others for _, row in days)]
        where = [*stands, *(row for _, _, because in others for row in because)]
        return [*rows, *(together(where) if others else [])]

    own_rows = [row for _, days, _ in (own.past if own else ()) for _, row in days]
    for of, found, rows in (("this plant", own, own_rows), ("its kind", kind, kinds_rows)):
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
