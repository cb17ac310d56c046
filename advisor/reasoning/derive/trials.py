"""What a trial of the grower's shows so far: one value a plant, counted exactly, in plain words."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date

from advisor.calc.trials import LUCK, compare_sides, in_words, one_value_a_plant, shift_figure
from advisor.facts import Fact
from advisor.reasoning.derive.scene import Scene, derivation, derived
from advisor.reasoning.derive.stages import reach_of

FEWEST_A_SIDE = 2
Values = list[tuple[str, float, Fact]]
"""Plant or spot, value, and the row that it comes from."""


@dataclass(frozen=True)
class Measure:
    """One thing that a trial may compare: the words that name it, its unit, and what more and less of it is called."""

    name: str
    pattern: str
    unit: str
    more_less: tuple[str, str]
    read: Callable[[Scene, str, date, date], Values]


def _dates(milestone: str) -> Callable[[Scene, str, date, date], Values]:
    def read(scene: Scene, plant: str, first: date, last: date) -> Values:
        found: Values = []
        for year in range(scene.year_of(first), scene.year_of(last) + 1):
            way = reach_of(scene, plant, year, milestone)
            if way is not None and way.day is not None and first <= way.day <= last:
                found.append((plant, float((way.day - date(way.day.year, 1, 1)).days), way.fact))
        return found

    return read


def _first_crop(scene: Scene, plant: str, first: date, last: date) -> Values:
    by_year: dict[int, Fact] = {}
    for row in scene.of_plant("crop", plant):
        day = row.day("on")
        if day is not None and first <= day <= last:
            by_year.setdefault(scene.year_of(day), row)
    return [(plant, float((day - date(day.year, 1, 1)).days), row)
            for row in by_year.values() if (day := row.day("on"))]  # fmt: skip


def _last_of_year(kind: str, field: str) -> Callable[[Scene, str, date, date], Values]:
    def read(scene: Scene, plant: str, first: date, last: date) -> Values:
        by_year: dict[int, Fact] = {}
        for row in scene.of_plant(kind, plant):
            day = row.day("on")
            if day is not None and first <= day <= last and row.number(field) is not None:
                by_year[scene.year_of(day)] = row
        return [(plant, row.number(field) or 0.0, row) for row in by_year.values()]

    return read


def _soil(scene: Scene, name: str, first: date, last: date) -> Values:
    rows = [row for row in scene.told_by_today("soil_reading") if name in (row.text("plant"), row.text("spot"))]
    return [(name, row.number("temp_c") or 0.0, row) for row in rows if first <= scene.when(row).date() <= last]


LATER = ("later", "earlier")
MEASURES = (
    Measure("date of waking", r"bud ?break|wak(e|ing)|leaf(ing)? out|first leaf", "days", LATER, _dates("waking")),
    Measure("date of first flower", r"bloom|flower", "days", LATER, _dates("bloom")),
    Measure("date of first ripe fruit", r"ripe|harvest|picked", "days", LATER, _first_crop),
    Measure("length of shoots", r"shoot|growth", "cm", ("longer", "shorter"), _last_of_year("growth", "shoot_cm")),
    Measure("soil temperature", r"soil", "°C", ("warmer", "colder"), _soil),
)
"""What can be read from the records, tried in this order on the trial's own words for its outcome."""


def measure_of(outcome: str) -> Measure | None:
    """Return what a trial compares, by its own words; None where they name nothing that is recorded.

    >>> measure_of("Date of bud break").name
    'date of waking'
    """
    return next((one for one in MEASURES if re.search(one.pattern, outcome.casefold())), None)


@derivation
def trial_outcome(scene: Scene) -> Iterable[Fact]:
    """Derive what each trial shows by today, where both sides have at least two plants or spots with a value."""
    members: dict[str, list[Fact]] = {}
    for row in scene.records.of("trial_member"):
        members.setdefault(row.text("trial").casefold(), []).append(row)
    for trial in scene.told_by_today("trial"):
        measure = measure_of(trial.text("outcome") or trial.text("question"))
        first = trial.day("from_day") or scene.today
        last = min(trial.day("to_day") or scene.today, scene.today)
        if measure is None or last < first:
            continue
        rows: list[Fact] = []
        sides: dict[str, dict[str, float]] = {}
        for side in ("a", "b"):
            mine = [row for row in members.get(trial.text("name").casefold(), []) if row.text("side") == side]
            values = [value for row in mine for value in measure.read(scene, _name(row), first, last)]
            rows += [*mine, *(row for _, _, row in values)]
            sides[side] = one_value_a_plant((name, value) for name, value, _ in values)
        if min(len(values) for values in sides.values()) < FEWEST_A_SIDE:
            continue
        result = compare_sides(list(sides["a"].values()), list(sides["b"].values()))
        things = "spots" if any(row.get("spot") for row in rows if row.kind == "trial_member") else "plants"
        yield derived(
            "trial_outcome",
            "trial_outcome",
            (trial, *rows),
            trial=trial.text("name"),
            measured=f"{measure.name}, {measure.unit}",
            count_a=result.count_a,
            count_b=result.count_b,
            shift=shift_figure(result, measure.unit).told(),
            luck_share=round(result.chance.p, 4),
            least_luck_share=round(result.chance.smallest_p, 4),
            settled=result.chance.p <= LUCK,
            words=in_words(result, measure.unit, things, ("side a", "side b"), measure.more_less),
        )


def _name(member: Fact) -> str:
    return member.text("plant") or member.text("spot")
