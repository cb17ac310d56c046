"""The ground every module stands on: facts, where each came from, and what a run of the rules proved.

A fact is a kind and named values, never changed once made. It carries its origin: recorded (rows in the
grower's file), derived (a function, from other facts) or concluded (a rule, from other facts). An explanation
only follows origins, so it cannot say anything that the reasoning did not use.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
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

    def __eq__(self, other: object) -> bool:
        """Return whether this is known to be the same: facts that nobody gathered yet are compared with none."""
        return isinstance(other, Derived) and (self.function, self._facts) == (other.function, other._facts)

    __hash__ = None  # type: ignore[assignment]  # what is gathered may become equal later


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
