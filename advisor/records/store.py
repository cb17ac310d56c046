"""One grower's file: append-only rows of what was told, and the messages with their answers.

The only module that opens a garden file. Errors of the file (locked, read-only, not a garden) leave here as
GardenUnavailable, and whatever a failed write held is rolled back whole.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from types import MappingProxyType, TracebackType
from typing import Any
from zoneinfo import ZoneInfo

from sqlite_utils import Database

from advisor.errors import BadInput, GardenUnavailable, NotFound
from advisor.facts import Fact, Recorded, Value
from advisor.records.kinds import Field, Vocabulary
from advisor.records.schema import THINGS, make_tables, tables_missing


@dataclass(frozen=True, slots=True)
class Said:
    """Who said something, when, and how: ``via`` "file" with the file's name, or "message" with its id."""

    via: str
    ref: str
    at: datetime
    by: str = ""
    digest: str = ""


@dataclass(frozen=True, slots=True)
class NewRow:
    """One row to be added; spots and plants by name. ``line`` is its line in a file, from 1."""

    kind: str
    values: Mapping[str, Value]
    words: str = ""
    line: int | None = None


@dataclass(frozen=True, slots=True)
class Message:
    """A kept message; ``reply`` is the answer as sent, None while it has none."""

    id: str
    text: str
    received_at: datetime
    outcome: str | None
    reply: dict[str, Any] | None


class Garden:
    """An open garden file. Use as a context manager; one to a thread."""

    def __init__(self, path: Path, kinds: Vocabulary, *, busy_s: float = 5.0, create: bool = False) -> None:
        """Open a garden file, and make or bring up to date its tables.

        Raises NotFound where there is no file and ``create`` is not set; GardenUnavailable where it cannot be used.
        """
        self.path, self.kinds = path, kinds
        if not create and not path.exists():
            raise NotFound(
                "opening the garden", f"no file {path.name}", "Import records into it first: advisor import PATH"
            )
        self._facts: dict[str, list[Fact]] = {}
        with self._trouble("opening"):
            conn = sqlite3.connect(path, timeout=busy_s)
            try:
                self.db = Database(conn, strict=True)
                conn.execute("PRAGMA foreign_keys = ON")
                if tables_missing(self.db, kinds):
                    conn.execute("PRAGMA journal_mode = WAL")
                    make_tables(self.db, kinds)
                self._names = self._read_names()
            except BaseException:
                conn.close()
                raise

    def __enter__(self) -> Garden:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, tb: TracebackType | None) -> None:
        self.db.conn.close()

    @contextmanager
    def _trouble(self, done: str) -> Iterator[None]:
        try:
            yield
        except sqlite3.Error as error:
            text = str(error)
            if "locked" in text or "busy" in text:
                found, do = "another program is writing to it", "Nothing was changed; send it again in a moment"
            elif "readonly" in text or "read-only" in text:
                found, do = "the file is read-only", "Nothing was changed; make the file and its folder writable"
            elif "full" in text:
                found, do = "the disk is full", "Nothing was changed; make room, then send it again"
            elif isinstance(error, sqlite3.IntegrityError):
                found, do = f"a row breaks a rule of the file ({text})", "Nothing was changed; report this as a fault"
            else:
                found, do = f"it cannot be read as a garden ({text})", "Check the file, or restore a copy of it"
            raise GardenUnavailable(f"{done} {self.path.name}", found, do) from error

    @contextmanager
    def _writing(self, done: str) -> Iterator[None]:
        """Hold the file for writing from the start, so that two writers wait for each other and never fail midway."""
        with self._trouble(done):
            self.db.conn.execute("BEGIN IMMEDIATE")
            try:
                yield
                self.db.conn.execute("COMMIT")
            except BaseException:
                if self.db.conn.in_transaction:
                    self.db.conn.execute("ROLLBACK")
                raise
            finally:
                self._facts.clear()

    # ---- reading

    def _read_names(self) -> dict[int, str]:
        names: dict[int, str] = {}
        for kind in THINGS:
            for thing_id, name in self.db.conn.execute(
                f"SELECT thing_id, name FROM {kind} WHERE id NOT IN"
                " (SELECT row_id FROM retired WHERE kind = ?) ORDER BY id",
                [kind],
            ):
                names[thing_id] = name
        return names

    def names(self, kind: str) -> list[str]:
        """Return the names in use of all places, spots or plants."""
        return [fact.text("name") for fact in self.of(kind)]

    def _things(self) -> dict[tuple[str, str], int]:
        """Return the thing that each (name, kind) stands for, names no longer in use included."""
        found = {}
        for kind in THINGS:
            for thing_id, name in self.db.conn.execute(f"SELECT thing_id, name FROM {kind}"):
                found[name, kind] = thing_id
        return found

    def of(self, kind: str) -> list[Fact]:
        """Return every row of a kind that is in use, as facts, in the order told."""
        if kind not in self._facts:
            with self._trouble("reading"):
                self._facts[kind] = list(self._read(kind))
        return self._facts[kind]

    def _read(self, kind: str) -> Iterator[Fact]:
        fields = list(self.kinds[kind].fields.values())
        columns = ", ".join(f'"{field.name}"' for field in fields)
        rows = self.db.conn.execute(
            f"SELECT id, {columns} FROM {kind} WHERE id NOT IN (SELECT row_id FROM retired WHERE kind = ?) ORDER BY id",
            [kind],
        )
        convert = [(field.name, self._converter(field)) for field in fields]
        for row_id, *stored in rows:
            values = {
                name: to_inside(value) if to_inside else value
                for (name, to_inside), value in zip(convert, stored, strict=True)
                if value is not None
            }
            yield Fact(kind, MappingProxyType(values), Recorded(kind, (row_id,)))

    def _converter(self, field: Field) -> Callable[[Any], Value] | None:
        """Return how a stored value becomes a fact's; None where it is the same, since strict tables keep types."""
        match field.type:
            case "yes_no":
                return bool
            case "date":
                return date.fromisoformat
            case "time":
                return datetime.fromisoformat
            case "spot" | "plant":
                return self._names.__getitem__
        return None

    def row(self, kind: str, row_id: int) -> dict[str, Any]:
        """Return one row as stored, in use or retired, with who said it. Raise NotFound where there is none."""
        found = None
        if kind in self.kinds and self.kinds[kind].origin == "recorded":
            found = next(self.db.query(f"SELECT * FROM {kind} WHERE id = ?", [row_id]), None)
        if found is None:
            raise NotFound("looking up a record", f"no {kind}/{row_id}", "Records are named as in an answer: stage/12")
        said = next(self.db.query("SELECT * FROM said WHERE id = ?", [found["said_id"]]))
        return {**found, "said": said}

    def place(self) -> Fact:
        """Return the place. Raise BadInput where none is recorded yet."""
        places = self.of("place")
        if not places:
            raise BadInput(
                "reading the garden",
                "no place is recorded",
                "Import a place.csv: name, latitude_deg, longitude_deg, ...",
            )
        return places[-1]

    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.place().text("time_zone"))

    # ---- writing

    def has_file(self, digest: str) -> bool:
        """Return whether a file with this digest was imported before."""
        return bool(self.db.conn.execute("SELECT 1 FROM said WHERE digest = ?", [digest]).fetchone())

    def add(self, batches: Sequence[tuple[Said, Sequence[NewRow]]]) -> list[tuple[str, int]]:
        """Add rows, all or none, and return (kind, id) of each in the order given.

        Spots and plants that rows name must be recorded or among the rows. Raises GardenUnavailable, with nothing
        added, where the file cannot be written.
        """
        added: list[tuple[str, int]] = []
        with self._writing("adding to"):
            things = self._things()
            for _, rows in batches:
                for row in rows:
                    if row.kind in THINGS:
                        key = (str(row.values["name"]), row.kind)
                        if key not in things:
                            things[key] = self._insert("thing", {"kind": row.kind})
            for said, rows in batches:
                said_id = self._said(said)
                for row in rows:
                    added.append((row.kind, self._insert(row.kind, self._in(row, said_id, things))))
            self._names = self._read_names()
        return added

    def _said(self, said: Said) -> int:
        at = said.at.astimezone(UTC).isoformat()
        return self._insert(
            "said", {"via": said.via, "ref": said.ref, "digest": said.digest, "said_by": said.by, "said_at": at}
        )

    def _insert(self, table: str, row: Mapping[str, Any]) -> int:
        columns = ", ".join(f'"{name}"' for name in row)
        marks = ", ".join("?" for _ in row)
        done = self.db.conn.execute(f"INSERT INTO {table} ({columns}) VALUES ({marks})", list(row.values()))
        return int(done.lastrowid or 0)

    def _in(self, row: NewRow, said_id: int, things: Mapping[tuple[str, str], int]) -> dict[str, Any]:
        stored: dict[str, Any] = {"said_id": said_id, "line": row.line, "words": row.words or None}
        if row.kind in THINGS:
            stored["thing_id"] = things[str(row.values["name"]), row.kind]
        for name, value in row.values.items():
            field = self.kinds[row.kind].fields[name]
            if field.type in ("spot", "plant"):
                stored[name] = things[str(value), field.type]
            elif isinstance(value, datetime):
                stored[name] = value.astimezone(UTC).isoformat()
            elif isinstance(value, date):
                stored[name] = value.isoformat()
            else:
                stored[name] = int(value) if isinstance(value, bool) else value
        return stored

    def retire(self, kind: str, row_id: int, said: Said, *, reason: str, replaced_by: int | None = None) -> None:
        """Take a row out of use; it stays in the file. Raise NotFound where there is none, BadInput if done before."""
        self.row(kind, row_id)
        if self.db.conn.execute("SELECT 1 FROM retired WHERE kind = ? AND row_id = ?", [kind, row_id]).fetchone():
            raise BadInput(f"retiring {kind}/{row_id}", "it is retired already", "Nothing to do")
        with self._writing("writing to"):
            self._insert(
                "retired",
                {
                    "kind": kind,
                    "row_id": row_id,
                    "replaced_by": replaced_by,
                    "reason": reason,
                    "said_id": self._said(said),
                },
            )
            self._names = self._read_names()

    # ---- messages

    def keep_message(self, message_id: str, text: str, received_at: datetime, sent_at: datetime | None) -> bool:
        """Keep a message before it is thought about; return False where one of that id is kept already."""
        with self._writing("keeping the message in"):
            done = self.db.conn.execute(
                "INSERT OR IGNORE INTO message (id, text, received_at, sent_at) VALUES (?, ?, ?, ?)",
                [message_id, text, received_at.astimezone(UTC).isoformat(), sent_at.isoformat() if sent_at else None],
            )
            return done.rowcount == 1

    def keep_reply(self, message_id: str, reply: Mapping[str, Any]) -> dict[str, Any]:
        """Keep the answer to a message and return it; the first answer kept stands, also against a second thread."""
        with self._writing("keeping the answer in"):
            self.db.conn.execute(
                "UPDATE message SET outcome = ?, reply = ? WHERE id = ? AND reply IS NULL",
                [reply["outcome"], json.dumps(reply, ensure_ascii=False), message_id],
            )
        kept = self.message(message_id).reply
        assert kept is not None
        return kept

    def message(self, message_id: str) -> Message:
        """Return a kept message. Raise NotFound where there is none."""
        return self._one_message("WHERE id = ?", [message_id], message_id)

    def last_message(self, before: str) -> Message | None:
        """Return the message that came in just before another, or None."""
        try:
            return self._one_message(
                "WHERE rowid < (SELECT rowid FROM message WHERE id = ?) ORDER BY rowid DESC LIMIT 1", [before], "before"
            )
        except NotFound:
            return None

    def _one_message(self, where: str, values: list[str], called: str) -> Message:
        with self._trouble("reading"):
            row = self.db.conn.execute(
                f"SELECT id, text, received_at, outcome, reply FROM message {where}", values
            ).fetchone()
        if row is None:
            raise NotFound("looking up a message", f"no message {called!r}", "Use the id that its reply carried")
        reply = json.loads(row[4]) if row[4] else None
        return Message(row[0], row[1], datetime.fromisoformat(row[2]), row[3], reply)
