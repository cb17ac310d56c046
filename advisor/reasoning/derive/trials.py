"""What a trial of the grower's shows so far: one value a plant, counted exactly, in plain words."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date

from advisor.calc.trials import (
    LUCK,
    TrialResult,
    compare_pairs,
    compare_sides,
    in_words,
    one_value_a_plant,
    shift_figure,
)
from advisor.facts import Fact, Recorded
from advisor.reasoning.derive.plants import Stand, stand_of
from advisor.reasoning.derive.scene import Scene, derivation, derived
from advisor.reasoning.derive.stages import reach_of

FEWEST_A_SIDE = 2
SIDES = ("a", "b")
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


@dataclass(frozen=True)
class Trial:
    """A trial with its members by side, what it compares (None where nothing recorded is named), and their values.

    ``values`` are every value read, by side; several of one member are still one member.
    """

    row: Fact
    members: dict[str, list[Fact]]
    measure: Measure | None
    values: dict[str, Values]

    @property
    def rows(self) -> list[Fact]:
        """All that it rests on."""
        sides = [*self.members.values()]
        return [
            self.row,
            *(row for side in sides for row in side),
            *(row for v in self.values.values() for _, _, row in v),
        ]

    def result(self) -> TrialResult | None:
        """Return what it shows, in pairs where all were paired beforehand; None with fewer than two values a side."""
        sides = {side: one_value_a_plant((name, value) for name, value, _ in self.values[side]) for side in SIDES}
        if min(len(values) for values in sides.values()) < FEWEST_A_SIDE:
            return None
        differences = self._differences(sides)
        if differences is not None:
            return compare_pairs(differences)
        return compare_sides(list(sides["a"].values()), list(sides["b"].values()))

    def _differences(self, sides: Mapping[str, Mapping[str, float]]) -> list[float] | None:
        """Return b less a of each pair; None unless every member with a value has one partner with a value."""
        pairs: dict[str, dict[str, list[float]]] = {}
        for side in SIDES:
            for member in self.members[side]:
                if _name(member) in sides[side]:
                    pair = pairs.setdefault(member.text("pair").casefold(), {one: [] for one in SIDES})
                    pair[side].append(sides[side][_name(member)])
        whole = "" not in pairs and all(len(values) == 1 for pair in pairs.values() for values in pair.values())
        return [pair["b"][0] - pair["a"][0] for pair in pairs.values()] if whole else None


def trials_of(scene: Scene) -> list[Trial]:
    """Return all trials with their members and what has been read of them by today."""
    return scene.remember(("trials", "all"), lambda: list(_trials(scene)))


def _trials(scene: Scene) -> Iterator[Trial]:
    by_trial: dict[str, list[Fact]] = {}
    for row in scene.rows("trial_member"):
        by_trial.setdefault(row.text("trial").casefold(), []).append(row)
    for row in sorted(scene.rows("trial"), key=scene.when):
        mine = by_trial.get(row.text("name").casefold(), [])
        members = {side: [one for one in mine if one.text("side") == side] for side in SIDES}
        measure = measure_of(row.text("outcome") or row.text("question"))
        first = row.day("from_day") or scene.today
        last = min(row.day("to_day") or scene.today, scene.today)
        values: dict[str, Values] = {side: [] for side in SIDES}
        if measure is not None and last >= first:
            for side, sided in members.items():
                values[side] = [value for one in sided for value in measure.read(scene, _name(one), first, last)]
        yield Trial(row, members, measure, values)


@derivation
def trial_outcome(scene: Scene) -> Iterable[Fact]:
    """Derive what each trial shows by today, where both sides have at least two plants or spots with a value."""
    for trial in trials_of(scene):
        result = trial.result()
        if trial.measure is None or result is None:
            continue
        measure = trial.measure
        things = "spots" if any(row.get("spot") for side in trial.members.values() for row in side) else "plants"
        yield derived(
            "trial_outcome",
            "trial_outcome",
            trial.rows,
            trial=trial.row.text("name"),
            differs=trial.row.text("differs"),
            measured=f"{measure.name}, {measure.unit}",
            count_a=result.count_a,
            count_b=result.count_b,
            shift=shift_figure(result, measure.unit).told(),
            luck_share=round(result.chance.p, 4),
            least_luck_share=round(result.chance.smallest_p, 4),
            settled=result.chance.p <= LUCK,
            words=in_words(result, measure.unit, things, ("side a", "side b"), measure.more_less),
        )


@derivation
def date_gap(scene: Scene) -> Iterable[Fact]:
    """Derive how far the dates of a trial's sides lie apart and how many people told them, by the names noted."""
    for trial in trials_of(scene):
        result = trial.result()
        if trial.measure is None or result is None or trial.measure.more_less != LATER:
            continue
        seen = {_who(scene, row) for side in SIDES for _, _, row in trial.values[side]} - {""}
        yield derived(
            "date_gap",
            "date_gap",
            trial.rows,
            trial=trial.row.text("name"),
            gap_days=round(abs(result.shift.shift), 1),
            observers=max(len(seen), 1),
        )


def _who(scene: Scene, row: Fact) -> str:
    """Return who told a row, "" where no name was noted."""
    ids = row.origin.row_ids if isinstance(row.origin, Recorded) else ()
    said = scene.remember(("who said", row.kind), lambda: scene.who_said(row.kind))
    return next((said[one].casefold() for one in ids if said.get(one)), "")


@derivation
def trial_setup(scene: Scene) -> Iterable[Fact]:
    """Derive how each trial is set up: how many a side, how alike and where, what is read, whether lots decided."""
    for trial in trials_of(scene):
        counts = {side: len({_name(one) for one in trial.members[side]}) for side in SIDES}
        read = [len({name for name, _, _ in trial.values[side]}) for side in SIDES]
        of_one = Counter(name for side in SIDES for name, _, _ in trial.values[side])
        where = {side: {stand.spot for _, stand in _stands(scene, trial.members[side])} for side in SIDES}
        single = {side: min(where[side]) if len(where[side]) == 1 else "" for side in SIDES}
        apart = all(single.values()) and single["a"] != single["b"]
        stands = [stand for side in SIDES for stand in _stands(scene, trial.members[side])]
        alike = len({(species, stand.growing if apart else stand.like) for species, stand in stands}) <= 1
        where_they_stand = {row.key: row for _, stand in stands for row in stand.because} if apart or not alike else {}
        starts_on = trial.row.day("from_day") or scene.today
        yield derived(
            "trial_setup",
            "trial_setup",
            [*trial.rows, *where_they_stand.values()],
            trial=trial.row.text("name"),
            differs=trial.row.text("differs"),
            count_a=counts["a"],
            count_b=counts["b"],
            fewest=min(counts.values()),
            fewest_read=min(read),
            measured=trial.measure.name if trial.measure else None,
            can_compare=trial.measure is not None,
            readings=of_one.total(),
            most_of_one=max(of_one.values(), default=0),
            apart=apart,
            where_a=single["a"] if apart else None,
            where_b=single["b"] if apart else None,
            alike=alike,
            starts_on=starts_on,
            starts_in_days=(starts_on - scene.today).days,
            lots=_lots(trial.row),
        )


def _lots(trial: Fact) -> str:
    """Return whether lots were drawn for a trial's sides, as far as that was told."""
    told = trial.get("by_lot")
    return "not told" if told is None else "drawn" if told is True else "not drawn"


def _stands(scene: Scene, members: Iterable[Fact]) -> list[tuple[str, Stand]]:
    """Return the species and the stand of a side's plants: what must be alike, and where they are.

    Where the sides stand apart the cover is the place's, which is told of them, so pots are as like as pots can be.
    Spots that are members themselves are compared and stand nowhere.
    """
    rows = [scene.plants.get(one.text("plant")) for one in members]
    return [(row.text("species"), stand_of(scene, row, scene.today)) for row in rows if row is not None]


def _name(member: Fact) -> str:
    return member.text("plant") or member.text("spot")
