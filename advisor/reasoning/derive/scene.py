"""What a question is asked of: the records, the day, whom it is about. And the register of what can be derived."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from functools import cached_property
from itertools import groupby
from typing import Protocol, TypeVar
from zoneinfo import ZoneInfo

from advisor.calc.calendar import growing_year, growing_year_start
from advisor.facts import Derived, Fact, Recorded, Value
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
    dated before was dated in the garden as it was.
    """

    records: Records
    lore: Lore
    today: date
    question: str
    plant: str = ""
    species: str = ""
    sort: str = ""
    as_told: Records | None = None
    _memory: dict[tuple[str, object], object] = field(default_factory=dict)

    @cached_property
    def place(self) -> Fact:
        return self.records.of("place")[-1]

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
        return {fact.text("name"): fact for fact in self.records.of("plant")}

    @cached_property
    def spots(self) -> dict[str, Fact]:
        return {fact.text("name"): fact for fact in self.records.of("spot")}

    @cached_property
    def focus(self) -> Fact | None:
        """The row of the plant asked about."""
        return self.plants.get(self.plant)

    def lore_of(self, plant: Fact) -> Species | None:
        return self.lore.species.get(plant.text("species"))

    def told_by_today(self, kind: str) -> list[Fact]:
        """Return the rows of a dated kind that hold by today, oldest first. Read once a question; not to be changed."""
        return self.remember(("told", kind), lambda: self.grouped(kind, lambda fact: None).get(None, []))

    def grouped(self, kind: str, by: Callable[[Fact], object]) -> dict[object, list[Fact]]:
        """Return the rows of a dated kind that hold by today, grouped, oldest first in each group.

        Rows of one moment stand in an order of their own, so that the order of telling changes nothing.
        """
        groups: dict[object, list[Fact]] = {}
        end = datetime.combine(self.today, datetime.max.time(), self.zone)
        dated = sorted(((self.when(fact), fact) for fact in self.records.of(kind)), key=lambda entry: entry[0])
        for when, rows in groupby(dated, key=lambda entry: entry[0]):
            if when > end:
                break
            alike: dict[object, list[Fact]] = {}
            for _, fact in rows:
                alike.setdefault(by(fact), []).append(fact)
            for found in alike.values():
                if len(found) > 1:  # a key costs more than all else here
                    found.sort(key=lambda fact: fact.key)
            new = [name for name in alike if name not in groups]
            if len(new) > 1:
                groups |= {name: [] for name in sorted(new, key=lambda name: alike[name][0].key)}
            for name, found in alike.items():
                groups.setdefault(name, []).extend(found)
        return groups

    def of_plant(self, kind: str, plant: str) -> list[Fact]:
        """Return a plant's rows of a dated kind up to today, oldest first. Grouped once a question."""
        key = ("of_plant", kind)
        if key not in self._memory:
            self._memory[key] = self.grouped(kind, lambda fact: fact.text("plant"))
        groups: dict[object, list[Fact]] = self._memory[key]  # type: ignore[assignment]  # a key always holds one type
        return groups.get(plant, [])

    def when(self, fact: Fact) -> datetime:
        """Return when a recorded fact holds from, as a time in the place's zone."""
        for name in ("on", "at", "put_on", "issued", "from_day"):
            value = fact.get(name)
            if isinstance(value, datetime):
                return value.astimezone(self.zone)
            if isinstance(value, date):
                return datetime.combine(value, datetime.min.time(), self.zone)
        return datetime.min.replace(tzinfo=UTC)

    def remember(self, key: tuple[str, object], make: Callable[[], T]) -> T:
        """Return what was made under a key in this question, making it once."""
        if key not in self._memory:
            self._memory[key] = make()
        return self._memory[key]  # type: ignore[return-value]  # a key always holds one type


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


def derived(kind: str, function: str, facts: Iterable[Fact], **values: Value | None) -> Fact:
    """Make a derived fact with the facts it was worked out from."""
    return Fact.of(kind, values, Derived(function, tuple(facts)))
