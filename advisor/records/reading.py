"""A garden file opened and read: rows in use as facts, also as of an earlier time.

Errors of the file (locked, read-only, not a garden) leave here as GardenUnavailable.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import UTC, date, datetime
from functools import cached_property
from pathlib import Path
from types import MappingProxyType, TracebackType
from typing import Any, Self
from zoneinfo import ZoneInfo

from advisor.errors import BadInput, NotFound
from advisor.facts import Fact, Key, Recorded, Value, key_of
from advisor.records.kept_rows import KeptRows, Marks
from advisor.records.kinds import Field, Vocabulary
from advisor.records.opening import Same, check_tables, connected, told_as_trouble
from advisor.records.schema import THINGS

KEPT = KeptRows()
"""The rows read of every garden of this process."""


class GardenReader:
    """An open garden file. Use as a context manager; one to a thread.

    With ``as_of`` it shows what was known at that time: rows said later, and rulings made later, are not there.
    """

    def __init__(
        self,
        path: Path,
        kinds: Vocabulary,
        *,
        busy_s: float = 20.0,
        create: bool = False,
        as_of: datetime | None = None,
    ) -> None:
        """Open a garden file, and make or bring up to date its tables.

        Raises NotFound where there is no file and ``create`` is not set; GardenUnavailable where it cannot be used, or
        a later version of this program made it.
        """
        self.path, self.kinds, self.as_of = path, kinds, as_of
        if not create and not path.exists():
            raise NotFound(
                "opening the garden",
                f"no file {path.name}",
                f"Begin it with advisor start --garden {path.name}, or import records: advisor import PATH",
            )
        self._facts: dict[str, list[Fact]] = {}
        with self.trouble("opening"):
            self.db = connected(path, busy_s)
            try:
                self.db.conn.execute("PRAGMA foreign_keys = ON")
                check_tables(self.db, kinds, path.name)
                self.names_by_thing  # noqa: B018  # a file that is no garden is refused here
                self.__dict__.pop("marks", None)  # more may be told before the first row is read
            except BaseException:
                self.db.conn.close()
                raise

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, tb: TracebackType | None) -> None:
        self.db.conn.close()

    @contextmanager
    def trouble(self, done: str) -> Iterator[None]:
        """Turn what the file answers with into GardenUnavailable, with what was found and what to do."""
        with told_as_trouble(f"{done} {self.path.name}"):
            yield

    # ---- reading

    def in_use(self, kind: str, column: str = "id") -> tuple[str, list[str]]:
        """Return the condition under which a row of a kind is in use, and its values; ``column`` holds its number."""
        if self.as_of is None:
            later = "SELECT MAX(id) FROM ruling WHERE kind = r.kind AND row_id = r.row_id"
            out = f"SELECT row_id FROM ruling r WHERE kind = ? AND NOT in_use AND id = ({later})"
            return f"{column} NOT IN ({out})", [kind]
        when = self.as_of.astimezone(UTC).isoformat()
        said = "said_id IN (SELECT id FROM said WHERE said_at <= ?)"
        later = f"SELECT MAX(id) FROM ruling WHERE kind = r.kind AND row_id = r.row_id AND {said}"
        out = f"SELECT row_id FROM ruling r WHERE kind = ? AND NOT in_use AND id = ({later})"
        return f"{said} AND {column} NOT IN ({out})", [when, kind, when]

    def _forget(self) -> None:
        """Give up what was read: a write may have changed it."""
        self._facts.clear()
        for name in ("names_by_thing", "marks", "_said_texts"):
            self.__dict__.pop(name, None)

    @cached_property
    def marks(self) -> Marks:
        """How far the garden has been told, read once until something is written here."""
        kinds = [kind.name for kind in self.kinds.values() if kind.origin == "recorded"]
        tables = ", ".join(f"(SELECT MAX(id) FROM {name})" for name in (*kinds, "ruling", "said"))
        *last, ruling, said = [most or 0 for most in self.db.conn.execute(f"SELECT {tables}").fetchone()]
        return Marks(dict(zip(kinds, last, strict=True)), ruling, said)

    @cached_property
    def _said_texts(self) -> dict[int, str | None]:
        return {}

    def said_text(self, said_id: int) -> str | None:
        """Return all that tells one saying from another, None where there is none of that number."""
        if said_id not in self._said_texts:
            told = "SELECT id || ' ' || via || ' ' || ref || ' ' || digest || ' ' || said_at FROM said WHERE id = ?"
            row = self.db.conn.execute(told, [said_id]).fetchone()
            self._said_texts[said_id] = row[0] if row else None
        return self._said_texts[said_id]

    @cached_property
    def names_by_thing(self) -> dict[int, str]:
        """What each place, spot and plant is called, by its thing's number; of those no longer in use as it was."""
        return self.read_names() if self.as_of is not None else KEPT.names(self)

    def names_told(self) -> str:
        """Return all names ever told of places, spots and plants, with the things they are of, as one text."""
        each = " UNION ALL ".join(f"SELECT thing_id || ' ' || name AS told FROM {kind}" for kind in THINGS)
        row = self.db.conn.execute(f"SELECT group_concat(told, char(10)) FROM ({each})").fetchone()
        return row[0] or ""

    def read_names(self) -> dict[int, str]:
        """Return what each place, spot and plant is called, read anew."""
        names: dict[int, str] = {}
        for kind in THINGS:
            for thing_id, name in self.db.conn.execute(f"SELECT thing_id, name FROM {kind} ORDER BY id"):
                names.setdefault(thing_id, name)
            where, values = self.in_use(kind)
            for thing_id, name in self.db.conn.execute(
                f"SELECT thing_id, name FROM {kind} WHERE {where} ORDER BY id", values
            ):
                names[thing_id] = name
        return names

    @cached_property
    def identity(self) -> object:
        """What tells this file, read by this vocabulary, from others that are open or were; None in memory."""
        if not self.path.exists():
            return None
        there = self.path.stat()
        return (there.st_dev, there.st_ino, str(self.path.resolve()), Same(self.kinds))

    def names(self, kind: str) -> list[str]:
        """Return the names in use of all places, spots or plants."""
        return [fact.text("name") for fact in self.of(kind)]

    def name_of(self, thing_id: int | None) -> str:
        """Return the name of a spot or plant by its thing's id, "" for none."""
        return "" if thing_id is None else self.names_by_thing[thing_id]

    def things(self) -> dict[tuple[str, str], int]:
        """Return the thing that each (name, kind) stands for, names no longer in use included."""
        found = {}
        for kind in THINGS:
            for thing_id, name in self.db.conn.execute(f"SELECT thing_id, name FROM {kind} ORDER BY id"):
                found[name, kind] = thing_id
        return found

    def of(self, kind: str) -> list[Fact]:
        """Return every row of a kind that is in use, as facts, in the order told. Not to be changed.

        It is the same list for as long as nothing of the kind was told or ruled on.
        """
        if kind not in self._facts:
            with self.trouble("reading"):
                whole = self.as_of is not None  # what was known at an earlier time is asked for once
                self._facts[kind] = list(self.rows_in_use(kind)) if whole else KEPT.of(self, kind)
        return self._facts[kind]

    def who_said(self, kind: str) -> dict[int, str]:
        """Return who told the rows of a kind, by row number, where a name was noted."""
        with self.trouble("reading"):
            rows = self.db.conn.execute(
                f"SELECT k.id, s.said_by FROM {kind} k JOIN said s ON s.id = k.said_id WHERE s.said_by != ''"
            )
            return {int(row_id): str(by) for row_id, by in rows}

    def keys_retired(self, kind: str) -> set[Key]:
        """Return what the rows of a kind say that somebody took out of use, with no other row in their place."""
        last = "SELECT MAX(id) FROM ruling WHERE kind = ? GROUP BY row_id"
        rows = self.db.conn.execute(
            f"SELECT row_id FROM ruling WHERE id IN ({last}) AND NOT in_use AND replaced_by IS NULL "
            "AND reason != 'undone'",
            [kind],
        )
        return {key_of(kind, self.values_of(kind, int(row_id))) for (row_id,) in rows}

    def latest(self, kind: str, about: str, until: datetime) -> list[Fact]:
        """Return the last rows of a dated kind for each plant or spot, up to a moment; of rows at one moment, all.

        It costs the same however many years of logs lie behind them. A date holds from its start in the zone of
        ``until``.
        """
        where, known = self.in_use(kind)
        on = self.kinds[kind].holds_on
        timed = self.kinds[kind].fields[on].type == "time"
        end = until.astimezone(UTC).isoformat() if timed else until.date().isoformat()
        last = f'SELECT MAX("{on}") FROM {kind} l WHERE l."{about}" = t.id AND l."{on}" <= ? AND {where}'
        each = f'SELECT k.id FROM thing t CROSS JOIN {kind} k WHERE t.kind = ? AND k."{about}" = t.id'  # by the index
        picked = f'id IN ({each} AND k."{on}" = ({last}))'
        return self.picked(kind, picked, [self.kinds[kind].fields[about].type, end, *known])

    def since(self, kind: str, first: date) -> list[Fact]:
        """Return the rows of a dated kind that hold from a day on."""
        dated = f'SELECT id FROM {kind} WHERE "{self.kinds[kind].holds_on}" >= ?'  # by the index, not through all rows
        return self.picked(kind, f"id IN ({dated})", [first.isoformat()])

    def picked(self, kind: str, condition: str, given: Sequence[object] = ()) -> list[Fact]:
        """Return the rows in use that a condition in SQL picks, in the order told; things are given by their id."""
        with self.trouble("reading"):
            return list(self.rows_in_use(kind, f"{condition} AND ", given))

    def rows_in_use(self, kind: str, also: str = "", given: Sequence[object] = ()) -> Iterator[Fact]:
        """Yield rows of a kind that are in use, in the order told, read anew; ``also`` is a condition and "AND"."""
        fields = list(self.kinds[kind].fields.values())
        columns = ", ".join(f'"{field.name}"' for field in fields)
        where, known = self.in_use(kind)
        rows = self.db.conn.execute(
            f"SELECT id, {columns} FROM {kind} WHERE {also}{where} ORDER BY id", [*given, *known]
        )
        convert = [(field.name, self.converter(field)) for field in fields]
        for row_id, *stored in rows:
            values = {
                name: to_inside(value) if to_inside else value
                for (name, to_inside), value in zip(convert, stored, strict=True)
                if value is not None
            }
            yield Fact(kind, MappingProxyType(values), Recorded(kind, (row_id,)))

    def converter(self, field: Field) -> Callable[[Any], Value] | None:
        """Return how a stored value becomes a fact's; None where it is the same, since strict tables keep types."""
        match field.type:
            case "yes_no":
                return bool
            case "date":
                return date.fromisoformat
            case "time":
                return datetime.fromisoformat
            case "spot" | "plant":
                return self.names_by_thing.__getitem__
        return None

    def state(self) -> str:
        """Return a text that stands for all that is recorded now: another one after any row told or ruled out."""
        with self.trouble("reading"):
            said = self.db.conn.execute("SELECT id, said_at, via, ref, digest FROM said ORDER BY id DESC LIMIT 1")
            (ruled,) = self.db.conn.execute("SELECT MAX(id) FROM ruling").fetchone()
            return repr((said.fetchone(), ruled))

    def columns_in_use(self, kind: str, *columns: str) -> Iterator[tuple[Any, ...]]:
        """Yield the id and some columns, as stored, of every row of a kind that is in use: for many rows at once."""
        where, known = self.in_use(kind)
        names = ", ".join(f'"{name}"' for name in columns)
        with self.trouble("reading"):
            yield from self.db.conn.execute(f"SELECT id, {names} FROM {kind} WHERE {where}", known)

    def row(self, kind: str, row_id: int) -> dict[str, Any]:
        """Return one row as stored, in use or not, with who said it. Raise NotFound where there is none."""
        found = None
        if kind in self.kinds and self.kinds[kind].origin == "recorded":
            found = next(self.db.query(f"SELECT * FROM {kind} WHERE id = ?", [row_id]), None)
        if found is None:
            raise NotFound("looking up a record", f"no {kind}/{row_id}", "Records are named as in an answer: stage/12")
        said = next(self.db.query("SELECT * FROM said WHERE id = ?", [found["said_id"]]))
        return {**found, "said": said}

    def values_of(self, kind: str, row_id: int) -> dict[str, Value]:
        """Return a row's values as a fact would have them, whether it is in use or not."""
        return self.values_in(kind, self.row(kind, row_id))

    def values_in(self, kind: str, stored: Mapping[str, Any]) -> dict[str, Value]:
        """Return the values of a row as stored as a fact would have them."""
        values: dict[str, Value] = {}
        for field in self.kinds[kind].fields.values():
            if stored[field.name] is not None:
                to_inside = self.converter(field)
                values[field.name] = to_inside(stored[field.name]) if to_inside else stored[field.name]
        return values

    def place(self) -> Fact:
        """Return the place. Raise BadInput where none is recorded yet."""
        places = self.of("place")
        if not places:
            raise BadInput(
                "reading the garden",
                "no place is recorded",
                "Import a place.csv with name, latitude_deg, longitude_deg, time_zone and units",
            )
        return places[-1]

    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.place().text("time_zone"))
