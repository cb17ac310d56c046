"""The ground every module stands on: facts, where each came from, and what a run of the rules proved.

A fact is a kind and named values, never changed once made. It carries its origin: recorded (rows in the
grower's file), derived (a function, from other facts) or concluded (a rule, from other facts). An explanation
only follows origins, so it cannot say anything that the reasoning did not use.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import cached_property
from types import MappingProxyType

Value = str | bool | int | float | date | datetime
"""What a fact's field may hold. Times are aware and in UTC."""

Key = tuple[str, tuple[tuple[str, tuple[str, object]], ...]]


@dataclass(frozen=True, slots=True)
class Recorded:
    """The fact was told by the grower: the rows of one kind that hold it."""

    kind: str
    row_ids: tuple[int, ...]


class Derived:
    """The fact was worked out by a function from other facts (none where it rests on the calendar alone).

    Where it rests on a whole garden the facts may be given as a function: they are gathered once somebody looks at
    them, since most facts of a run end up in no answer.
    """

    __slots__ = ("_facts", "function")
    __match_args__ = ("function", "facts")

    def __init__(self, function: str, facts: tuple[Fact, ...] | Callable[[], Iterable[Fact]]) -> None:
        self.function = function
        self._facts = facts

    @property
    def facts(self) -> tuple[Fact, ...]:
        if not isinstance(self._facts, tuple):
            self._facts = tuple(self._facts())
        return self._facts


@dataclass(frozen=True, slots=True)
class Concluded:
    """The fact was concluded by a rule from the facts that matched it."""

    rule: str
    facts: tuple[Fact, ...]


Origin = Recorded | Derived | Concluded


def typed(value: Value) -> tuple[str, object]:
    """Return a comparable form of a value in which 5 equals 5.0 but True is not 1 and "5" is not 5.

    What is not a number says the same as another such, so that facts can be told apart and put in order.
    """
    if isinstance(value, str):
        return ("text", value)
    if isinstance(value, bool):
        return ("yes-no", value)
    if isinstance(value, int | float):
        try:
            number = float(value) + 0.0
        except OverflowError:
            number = as_float(value)
        return ("number", number) if number == number else ("not a number", "")
    return ("time" if isinstance(value, datetime) else "date", value.isoformat())


def as_float(value: float) -> float:
    """Return a number as a float; a whole number beyond all floats is infinite.

    >>> as_float(5), as_float(-(10**400))
    (5.0, -inf)
    """
    try:
        return float(value)
    except OverflowError:
        return math.inf if value > 0 else -math.inf


def key_of(kind: str, values: Mapping[str, Value]) -> Key:
    """Return what a fact of these values says, in a form that two facts can be compared by."""
    said = []
    for name in sorted(values):
        value = values[name]
        plain = _WORD_OF.get(type(value))  # most values; made for every fact of a garden
        said.append((name, (plain, value) if plain else typed(value)))
    return (kind, tuple(said))


_WORD_OF = {str: "text", bool: "yes-no"}


@dataclass(frozen=True, eq=False, init=False)
class Fact:
    """One thing held to be so.

    Two facts say the same when their ``key`` is equal; where they came from is no part of it.
    A field whose value is not known is absent, never None.
    """

    kind: str
    values: Mapping[str, Value]
    origin: Origin

    def __init__(self, kind: str, values: Mapping[str, Value], origin: Origin) -> None:
        self.__dict__.update(kind=kind, values=values, origin=origin)  # half the time of setting them past the freeze

    @classmethod
    def of(cls, kind: str, values: Mapping[str, Value | None], origin: Origin) -> Fact:
        """Make a fact, leaving out the fields that hold None."""
        known = {name: value for name, value in values.items() if value is not None}
        return cls(kind, MappingProxyType(known), origin)

    @cached_property
    def key(self) -> Key:
        return key_of(self.kind, self.values)

    def get(self, name: str) -> Value | None:
        return self.values.get(name)

    def text(self, name: str) -> str:
        """Return a text field, or "" where it is not known."""
        value = self.values.get(name)
        return value if isinstance(value, str) else ""

    def number(self, name: str) -> float | None:
        """Return a number field, or None where it is not known."""
        value = self.values.get(name)
        return None if value is None or isinstance(value, bool | str | date) else as_float(value)

    def day(self, name: str) -> date | None:
        """Return a date field (the day of a time field), or None where it is not known."""
        value = self.values.get(name)
        if isinstance(value, datetime):
            return value.date()
        return value if isinstance(value, date) else None

    def __repr__(self) -> str:
        inside = ", ".join(f"{name}={value!r}" for name, value in self.values.items())
        return f"{self.kind}({inside})"


class _Index:
    """The facts of a kind by the value of one field, and those that leave it open."""

    def __init__(self, facts: Iterable[Fact], field: str) -> None:
        self.told: dict[tuple[str, object], list[Fact]] = {}
        self.field, self.open = field, False
        for fact in facts:
            if field in fact.values:
                self.told.setdefault(typed(fact.values[field]), []).append(fact)
            else:
                self.open = True

    def altered(self, place: Mapping[int, int], gone: Iterable[Fact], new: Iterable[Fact]) -> _Index:
        """Return the index without some facts and with others; ``place`` is where each stands among all now."""
        after = _Index((), self.field)
        after.told, after.open = dict(self.told), self.open
        touched: dict[tuple[str, object], list[Fact]] = {}
        for fact in gone:
            if self.field in fact.values:
                touched.setdefault(typed(fact.values[self.field]), [])
        for fact in new:
            if self.field in fact.values:
                touched.setdefault(typed(fact.values[self.field]), []).append(fact)
            else:
                after.open = True
        for value, more in touched.items():
            stay = (fact for fact in self.told.get(value, ()) if id(fact) in place)
            after.told[value] = sorted([*stay, *more], key=lambda fact: place[id(fact)])
        return after


class FactBase:
    """Facts by kind, in the order they were added; one of each key."""

    def __init__(self, facts: Iterable[Fact] = ()) -> None:
        self._by_kind: dict[str, list[Fact]] = {}
        self._by_key: dict[Key, Fact] = {}
        self._with: dict[str, dict[str, _Index]] = {}
        self._texts: dict[str, frozenset[str]] = {}
        if isinstance(facts, FactBase):  # as it stands: an index is never changed, only dropped
            self._by_kind = {kind: list(found) for kind, found in facts._by_kind.items()}
            self._by_key = dict(facts._by_key)
            self._with = {kind: dict(found) for kind, found in facts._with.items()}
            return
        for fact in facts:
            self.add(fact)

    @classmethod
    def joined(cls, parts: Iterable[FactBase]) -> FactBase:
        """Return the facts of some bases in their order, without working out again what each says."""
        whole, parts = cls(), list(parts)
        count = 0
        for part in parts:
            whole._by_key.update(part._by_key)
            count += len(part)
            if len(whole._by_key) != count:  # two say the same, and the first of them is to be kept
                return cls(fact for part in parts for fact in part)
            for kind, facts in part._by_kind.items():
                whole._by_kind.setdefault(kind, []).extend(facts)
        return whole

    def texts(self, field: str) -> frozenset[str]:
        """Return what texts the facts have in a field, "" where one has none."""
        found = self._texts.get(field)
        if found is None:
            found = self._texts[field] = frozenset(fact.text(field) for fact in self)
        return found

    def add(self, fact: Fact) -> bool:
        """Add a fact and return True, or return False where one that says the same is there."""
        if fact.key in self._by_key:
            return False
        self._by_key[fact.key] = fact
        self._by_kind.setdefault(fact.kind, []).append(fact)
        self._with.pop(fact.kind, None)
        self._texts.clear()
        return True

    def of(self, kind: str, **wanted: Value) -> list[Fact]:
        """Return the facts of a kind whose named fields have the wanted values."""
        found = self._by_kind.get(kind, [])
        if not wanted:
            return list(found)
        want = {name: typed(value) for name, value in wanted.items()}
        return [
            fact
            for fact in found
            if all(name in fact.values and typed(fact.values[name]) == value for name, value in want.items())
        ]

    def having(self, kind: str, field: str, value: Value, *, or_open: bool = False) -> list[Fact]:
        """Return the facts of a kind with this value in a field, also those that leave it open where that is wanted.

        They come in the order of ``of``, and are found without looking at the others.
        """
        index = self._with.setdefault(kind, {}).get(field)
        if index is None:
            index = self._with[kind][field] = _Index(self._by_kind.get(kind, ()), field)
        found = index.told.get(typed(value), [])
        if not or_open or not index.open:
            return found
        want = typed(value)
        return [fact for fact in self._by_kind[kind] if field not in fact.values or typed(fact.values[field]) == want]

    def take_indexes(self, other: FactBase, kinds: Iterable[str] | None = None) -> None:
        """Take over what another base has indexed of kinds, of all or of some, of which it holds nearly the same."""
        for kind in list(other._with) if kinds is None else kinds:
            indexes = other._with.get(kind)
            if not indexes or kind in self._with:
                continue
            mine, theirs = self._by_kind.get(kind, []), other._by_kind.get(kind, [])
            if mine == theirs:  # facts are equal to themselves alone
                self._with[kind] = dict(indexes)
                continue
            place = {id(fact): at for at, fact in enumerate(mine)}
            there = {id(fact) for fact in theirs}
            gone = [fact for fact in theirs if id(fact) not in place]
            new = [fact for fact in mine if id(fact) not in there]
            if 4 * (len(gone) + len(new)) <= len(mine):
                self._with[kind] = {name: index.altered(place, gone, new) for name, index in list(indexes.items())}

    def known(self, fact: Fact) -> Fact:
        """Return the fact here that says the same. Raise KeyError where there is none."""
        return self._by_key[fact.key]

    def kinds(self) -> set[str]:
        return set(self._by_kind)

    def __iter__(self) -> Iterator[Fact]:
        return iter(self._by_key.values())

    def __len__(self) -> int:
        return len(self._by_key)

    def __contains__(self, fact: Fact) -> bool:
        return fact.key in self._by_key


@dataclass(frozen=True, slots=True)
class Firing:
    """One firing of a rule: what matched each ``when`` block, what it concluded, what it could not know.

    ``unknown`` names the ``unless`` blocks that no record settles either way; each conclusion drawn past such a
    block is one grade weaker. ``settled`` are the facts that settle the others: they were weighed, and did not stand
    against the conclusion.
    """

    rule: str
    bound: Mapping[str, Fact]
    conclusion: Fact
    unknown: tuple[str, ...] = ()
    settled: tuple[Fact, ...] = ()


@dataclass
class Proof:
    """All facts of one run, given and concluded, and every firing in a fixed order."""

    facts: FactBase = field(default_factory=FactBase)
    firings: list[Firing] = field(default_factory=list)

    def of(self, kind: str, **wanted: Value) -> list[Fact]:
        return self.facts.of(kind, **wanted)

    def signature(self) -> frozenset[tuple[str, tuple[tuple[str, Key], ...], Key, tuple[str, ...]]]:
        """Return what was proved in a form that two engines can be compared by."""
        return frozenset(
            (
                firing.rule,
                tuple(sorted((name, fact.key) for name, fact in firing.bound.items())),
                firing.conclusion.key,
                firing.unknown,
            )
            for firing in self.firings
        )
