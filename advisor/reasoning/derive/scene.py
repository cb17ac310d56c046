"""What a question is asked of: the records, the day, whom it is about. And the register of what can be derived."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from copy import copy
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from functools import cached_property
from typing import Any, Protocol, TypeVar
from zoneinfo import ZoneInfo

from advisor.calc.calendar import growing_year, growing_year_start
from advisor.facts import Derived, Fact, Recorded, Value
from advisor.reasoning.derive.memory import Memory
from advisor.reasoning.derive.store import Key, mark_before_today, mark_of
from advisor.reasoning.derive.told import NEVER, Moments, Told
from advisor.records.species import Lore, Species

T = TypeVar("T")


class Records(Protocol):
    """Recorded facts by kind; a garden file, or a list in a test."""

    def of(self, kind: str) -> list[Fact]: ...

    def who_said(self, kind: str) -> Mapping[int, str]:
        """Return who told the rows of a kind, by row number, where a name was noted."""
        ...


@dataclass
class Scene:
    """One question's view of the garden on one day.

    ``plant`` is the plant asked about, ``species`` the kind a place is sought for; either may be "". With both, the
    place is sought anew for that plant of that kind. ``sort`` is the sort of that kind that is supposed: late, early or
    a cultivar. ``as_told`` are the records as they were told where ``records`` suppose something from now on: what was
    dated before was dated in the garden as it was. ``memory`` holds what was worked out of these records on this day.
    """

    records: Records
    lore: Lore
    today: date
    question: str
    plant: str = ""
    species: str = ""
    sort: str = ""
    as_told: Records | None = None
    memory: Memory | None = None
    _memory: Memory = field(init=False, repr=False)

    def __post_init__(self) -> None:
        """Remember for this question alone, unless a memory is given; scenes made from this one share it."""
        self.memory = self._memory = self.memory or Memory(self.records)
        if self._memory.unsettled:
            scene = self.plain()  # which settles what it finds unsettled
            if scene is self:
                self._memory.settle(self)

    @cached_property
    def place(self) -> Fact:
        return self.rows("place")[-1]

    @cached_property
    def latitude_deg(self) -> float:
        return self.place.number("latitude_deg") or 0.0

    @cached_property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.place.text("time_zone"))

    @cached_property
    def year(self) -> int:
        """The growing year of today."""
        return self.year_of(self.today)

    @cached_property
    def year_start(self) -> date:
        return growing_year_start(self.year, self.latitude_deg)

    def year_of(self, day: date) -> int:
        return growing_year(day, self.latitude_deg)

    def local_day(self, when: datetime) -> date:
        return when.astimezone(self.zone).date()

    @cached_property
    def plants(self) -> dict[str, Fact]:
        return self.remember(("rows", "plant"), lambda: {fact.text("name"): fact for fact in self.rows("plant")})

    @cached_property
    def spots(self) -> dict[str, Fact]:
        return self.remember(("rows", "spot"), lambda: {fact.text("name"): fact for fact in self.rows("spot")})

    @cached_property
    def focus(self) -> Fact | None:
        """The row of the plant asked about."""
        return self.plants.get(self.plant)

    def lore_of(self, plant: Fact) -> Species | None:
        return self.lore.species.get(plant.text("species"))

    def rows(self, kind: str) -> list[Fact]:
        """Return every row of a kind, in the order told; not to be changed. What is derived reads records here."""
        return self._memory.rows(kind)

    def who_said(self, kind: str) -> Mapping[int, str]:
        """Return who told the rows of a kind, by row number, where a name was noted."""
        self.rows(kind)  # what is made of it holds for as long as these rows do
        return self.records.who_said(kind)

    def told_by_today(self, kind: str) -> list[Fact]:
        """Return the rows of a dated kind that hold by today, oldest first; not to be changed."""
        self.note(kind)
        return self._told(kind).span(NEVER, self._end)

    def told_since(self, kind: str, first: date) -> list[Fact]:
        """Return the rows of a dated kind that hold from a day on and by today, oldest first; not to be changed."""
        self.note(kind)
        return self._told(kind).span(self._moments.midnight(first), self._end)

    def grouped(self, kind: str, by: Callable[[Fact], object]) -> dict[object, list[Fact]]:
        """Return the rows of a dated kind that hold by today, grouped, oldest first in each group and among groups.

        Rows of one moment stand in an order of their own, so that the order of telling changes nothing.
        """
        groups: dict[object, list[Fact]] = {}
        for fact in self.told_by_today(kind):
            groups.setdefault(by(fact), []).append(fact)
        return groups

    def of_plant(self, kind: str, plant: str, *, before_today: bool = False) -> list[Fact]:
        """Return a plant's rows of a dated kind up to today, oldest first; of no plant for "". Not to be changed.

        What is made of them rests on that plant's rows alone; with ``before_today`` on those dated ``on`` days before.
        """
        if not before_today:
            return self._memory.named(kind, "plant", plant, self.zone, self._end)
        self.note(mark_before_today(mark_of(kind, plant)))
        rows = self._told(kind).named("plant", plant, self._end)
        return [row for row in rows if (day := row.day("on")) and day < self.today]

    def of_spot(self, kind: str, spot: str) -> list[Fact]:
        """Return the rows of a dated kind that name a spot, up to today, oldest first; of no spot for ""."""
        return self._memory.named(kind, "spot", spot, self.zone, self._end)

    def named_in(self, kind: str, field: str, *, before_today: bool = False) -> Iterable[str]:
        """Return which plants or spots rows of a kind name, also some that were taken out of use, "" among them.

        With ``before_today`` those that only rows of today name may be among them or not.
        """
        self.note(mark_before_today(kind) if before_today else kind)
        return self._told(kind).by(field)

    def of_plant_since(self, kind: str, plant: str, first: date) -> list[Fact]:
        """Return a plant's rows of a kind that is dated by ``on``, from a day on up to today, oldest first."""
        rows = self.of_plant(kind, plant)
        return rows[_place_of(rows, first) :]

    def of_plant_before(self, kind: str, plant: str, first: date) -> list[Fact]:
        """Return a plant's rows of a kind that is dated by ``on``, from before a day, oldest first."""
        rows = self.of_plant(kind, plant)
        return rows[: _place_of(rows, first)]

    def when(self, fact: Fact) -> datetime:
        """Return when a recorded fact holds from, as a time in the place's zone."""
        return self._moments.of(fact)

    def _told(self, kind: str) -> Told:
        return self._memory.told(kind, self.zone)

    @cached_property
    def _moments(self) -> Moments:
        return self._memory.moments(self.zone)

    @cached_property
    def _end(self) -> datetime:
        return datetime.combine(self.today, datetime.max.time(), self.zone)

    def note(self, mark: str) -> None:
        """Note that what is being worked out rests on the rows of a mark."""
        self._memory.note(mark)

    def remember(self, key: Key, make: Callable[[], T], rests_on: str = "") -> T:
        """Return what was made under a key, making it once as long as the records that it rests on stay the same.

        With ``rests_on``, a mark of ``memory``, what is made of it rests on no more than the rows of that mark.
        """
        return self._memory.remember(key, make, rests_on)

    def settled(self, key: Key, make: Callable[[Scene], T], mark: str) -> T:
        """Return what was made under a key of a scene that asks for nothing; what rests on it rests on ``mark``.

        Where records change that it rests on it is made again, and what rests on it only where it is no longer equal.
        It may rest on settled values that rest on rows alone, and on no others: those are settled in any order.
        """
        return self._memory.settled(key, make, self.plain, mark)

    def from_same(self, key: Key, given: tuple[object, ...], make: Callable[[], T]) -> T:
        """Return what was made last under a key, on whatever day, if it was made of the same as now.

        It is made of what is given alone; what is read for that is noted as ever. So years that are over are not gone
        through again for a row of this year, nor on another day.
        """
        return self._memory.from_same(key, given, make)

    def about(self, plant: str) -> Scene:
        """Return the same scene, asking about a plant; what was looked up of the garden's records stays with it."""
        scene = copy(self)
        scene.plant = plant
        scene.__dict__.pop("focus", None)
        return scene

    def plain(self) -> Scene:
        """Return the same scene, asking for nothing."""
        asks = self.question or self.plant or self.species or self.sort
        return replace(self, question="", plant="", species="", sort="") if asks else self

    def earlier(self, key: Key) -> Any:
        """Return what was kept last under a key, of records as they were then, or None."""
        return self._memory.earlier.get(key)

    def keep_earlier(self, key: Key, made: object) -> None:
        """Keep what was made, for whoever can go on from it once records changed."""
        self._memory.earlier.keep(key, made)

    def derived(self, name: str) -> list[Fact]:
        """Return what a function of ``DERIVATIONS`` derives of this scene."""
        key = (name, self.plant, self.species, self.sort)
        return self.remember(("derived", key), lambda: list(DERIVATIONS[name](self)))


def _place_of(rows: list[Fact], first: date) -> int:
    """Return where rows from a day on begin among rows that stand oldest first."""
    place = len(rows)
    while place and (day := rows[place - 1].day("on")) and day >= first:
        place -= 1
    return place


Derivation = Callable[[Scene], Iterable[Fact]]
DERIVATIONS: dict[str, Derivation] = {}
"""Every function that derives facts, by the name that ``derived_by`` gives it."""


def derivation(function: Derivation) -> Derivation:
    """Register a function under its name."""
    DERIVATIONS[function.__name__] = function
    return function


def together(facts: Iterable[Fact]) -> list[Fact]:
    """Return recorded facts as one of each kind that names all their rows, so that an origin stays short."""
    rows: dict[str, dict[int, None]] = {}
    for fact in facts:
        if isinstance(fact.origin, Recorded):
            rows.setdefault(fact.origin.kind, {}).update(dict.fromkeys(fact.origin.row_ids))
    return [Fact.of(kind, {"count": len(ids)}, Recorded(kind, tuple(ids))) for kind, ids in rows.items()]


def derived(
    kind: str, function: str, facts: Iterable[Fact] | Callable[[], Iterable[Fact]], **values: Value | None
) -> Fact:
    """Make a derived fact with the facts it was worked out from, or with what gathers them when they are looked at."""
    return Fact.of(kind, values, Derived(function, facts if callable(facts) else tuple(facts)))
