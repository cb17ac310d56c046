"""How a new row stands to what is recorded: the same again, something told anew of the same thing, or new."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

from advisor.errors import RowFault
from advisor.facts import Fact, Key, Recorded, Value, key_of
from advisor.records.kinds import Field, Kind
from advisor.records.store import Garden, NewRow


@dataclass(frozen=True, slots=True)
class Change:
    """What a row of a file changes of the row that it stands for from now on; ``now`` holds only what is otherwise."""

    file: str
    line: int
    kind: str
    row_id: int
    before: Mapping[str, Value]
    now: Mapping[str, Value]

    def __str__(self) -> str:
        told = [
            f"{name} {self.before[name]} is now {value}" if name in self.before else f"{name} is now {value}"
            for name, value in self.now.items()
        ]
        return f"{self.file}, line {self.line}: {self.kind}/{self.row_id}: {', '.join(told)}"


@dataclass
class Ledger:
    """What is in use or was taken out of use, by kind, and what this import has told of each thing so far.

    ``changed`` counts the rows that stand for an older one, ``changes`` names them; ``known_rows`` were there.
    """

    garden: Garden
    known_rows: int = 0
    changed: Counter[str] = field(default_factory=Counter)
    changes: list[Change] = field(default_factory=list)
    faults: list[RowFault] = field(default_factory=list)
    _there: dict[str, set[Key]] = field(default_factory=dict)
    _alike: dict[str, dict[Key, Fact | None]] = field(default_factory=dict)
    _retired: dict[str, set[Key]] = field(default_factory=dict)
    _naming: dict[str, list[Field]] = field(default_factory=dict)

    @cached_property
    def _things(self) -> Mapping[tuple[str, str], int]:
        return self.garden.things()

    def new(self, table_name: str, row: NewRow) -> NewRow | None:
        """Return a row that is not recorded yet, with the row that it stands for where one is about the same thing.

        What the new row leaves empty stays as it was. Two rows of one import about the same thing with other values
        are a fault: nobody can tell which is meant.
        """
        kind = self.garden.kinds[row.kind]
        part = self._read(kind, row)
        there, alike = self._there[part], self._alike[part]
        if self._was_there(there, row):
            return None
        if not kind.same_when:
            there.add(key_of(row.kind, row.values))
            return row
        thing = _thing(kind, row.values)
        if thing in alike and alike[thing] is None:
            same = " and ".join(kind.same_when)
            found, wanted = "stands twice with other values", f"one row for each {same}"
            self.faults.append(RowFault(table_name, row.line or 0, same, found, wanted))
            return None
        before = alike.get(thing)
        alike[thing] = None
        if before is None:
            there.add(key_of(row.kind, row.values))
            return row
        row = replace(row, values={**before.values, **row.values}, replaces=_row_id(before))
        if self._was_there(there, row):
            return None
        there.add(key_of(row.kind, row.values))
        self.changed[row.kind] += 1
        now = {name: value for name, value in row.values.items() if before.get(name) != value}
        self.changes.append(Change(table_name, row.line or 0, row.kind, row.replaces or 0, before.values, now))
        return row

    def _read(self, kind: Kind, row: NewRow) -> str:
        """Read what a row could be the same as, once, and return what it is kept under.

        That is the whole kind, or what names the same plant or spot where rows of the kind do not stand for others.
        """
        if kind.name not in self._naming:
            naming = [one for one in kind.fields.values() if one.type in ("plant", "spot")]
            self._naming[kind.name] = [] if kind.same_when else naming
        by = next((one for one in self._naming[kind.name] if one.name in row.values), None)
        part = f"{kind.name} {by.name} {row.values[by.name]}" if by else kind.name
        if part not in self._there:
            if kind.name not in self._retired:
                self._retired[kind.name] = self.garden.keys_retired(kind.name)
            if by is None:
                facts = self.garden.of(kind.name)
            else:
                thing = self._things.get((str(row.values[by.name]), by.type))
                facts = self.garden.picked(kind.name, f'"{by.name}" = ?', [thing]) if thing else []
            self._there[part] = {fact.key for fact in facts} | self._retired[kind.name]
            self._alike[part] = {_thing(kind, fact.values): fact for fact in facts}
        return part

    def _was_there(self, there: set[Key], row: NewRow) -> bool:
        known = key_of(row.kind, row.values) in there
        self.known_rows += known
        return known


def _thing(kind: Kind, values: Mapping[str, Value]) -> Key:
    """Return which thing a row is about, names without regard to capitals."""
    told = {name: values[name] for name in kind.same_when if name in values}
    return key_of(kind.name, {n: v.casefold() if isinstance(v, str) else v for n, v in told.items()})


def _row_id(fact: Fact) -> int | None:
    return fact.origin.row_ids[0] if isinstance(fact.origin, Recorded) else None
