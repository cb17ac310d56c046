"""One grower's file: append-only rows of what was told. What a failed write held is rolled back whole."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any

from advisor.errors import GardenUnavailable
from advisor.facts import Value
from advisor.records.moving import GardenMoved, is_moved
from advisor.records.reading import GardenReader
from advisor.records.schema import THINGS

ROOM = 4_000_000
"""Free bytes on the disk below which no write begins."""
DOUBTFUL = "found doubtful"
UNDONE = "undone "
"""Stands before the digest of a file in the saying that undid its import."""


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
    """One row to be added; spots and plants by name.

    ``line`` is its line in a file, from 1; ``replaces`` the row of its kind that it stands for from now on;
    ``rules_out`` are rows, by kind and id, that it shows to be doubtful.
    """

    kind: str
    values: Mapping[str, Value]
    words: str = ""
    line: int | None = None
    replaces: int | None = None
    rules_out: tuple[tuple[str, int], ...] = ()


class Overtaken(Exception):
    """Somebody else did meanwhile what ``as_one`` was to do; nothing of it was written."""


class Garden(GardenReader):
    """An open garden file to read and to write. Use as a context manager; one to a thread."""

    _still: Callable[[], bool] | None = None

    @contextmanager
    def as_one(self, done: str, still: Callable[[], bool]) -> Iterator[None]:
        """Let every write made within stand together at the end, or none of them.

        The file is held from the first write on; ``still`` is asked then whether the work is still to be done. Raises
        Overtaken, with nothing written, where it is not.
        """
        self._still = still
        try:
            yield
            with self.trouble(done):
                if self.db.conn.in_transaction:
                    self.db.conn.execute("COMMIT")
        finally:
            self._still = None
            if self.db.conn.in_transaction:
                self.db.conn.execute("ROLLBACK")
                self._forget()

    @contextmanager
    def writing(self, done: str, *, lasting: bool = True) -> Iterator[None]:
        """Hold the file for writing from the start, so that two writers wait for each other and never fail midway.

        What is not ``lasting`` does not wait for the disk: it outlives the program, and reaches the disk with what is
        written next.
        """
        if self._still is not None:
            with self._step(done, self._still):
                yield
            return
        self._need_room(done)
        with self.trouble(done):
            if not lasting:
                self.db.conn.execute("PRAGMA synchronous = NORMAL")
            try:
                self.db.conn.execute("BEGIN IMMEDIATE")
                self._refuse_moved(done)
                self._forget()  # what was read before the lock was held may be old by now
                yield
                self.db.conn.execute("COMMIT")
            except BaseException:
                if self.db.conn.in_transaction:
                    self.db.conn.execute("ROLLBACK")
                raise
            finally:
                self._forget()
                if not lasting:
                    self.db.conn.execute("PRAGMA synchronous = FULL")

    @contextmanager
    def _step(self, done: str, still: Callable[[], bool]) -> Iterator[None]:
        """Write as a part of what ``as_one`` holds together; what fails here is taken back alone."""
        with self.trouble(done):
            if not self.db.conn.in_transaction:
                self._need_room(done)
                self.db.conn.execute("BEGIN IMMEDIATE")
                self._refuse_moved(done)
                if not still():
                    raise Overtaken
                self._forget()  # what was read before the lock was held may be old by now
            self.db.conn.execute("SAVEPOINT step")
            try:
                yield
            except BaseException:
                self.db.conn.execute("ROLLBACK TO step")
                raise
            finally:
                self.db.conn.execute("RELEASE step")
                self._forget()

    def _need_room(self, done: str) -> None:
        """Refuse to begin a write that the disk may not hold: a full disk also stops what would make room."""
        free = shutil.disk_usage(self.path.parent).free
        if free < ROOM:
            found = f"the disk has {free / 1_000_000:.1f} MB left, where a write wants {ROOM / 1_000_000:.0f}"
            raise GardenUnavailable(
                f"{done} {self.path.name}", found, "Nothing was changed; make room, then send it again"
            )

    def _refuse_moved(self, done: str) -> None:
        """Refuse a write to a garden that moves elsewhere; asked while the file is held, so that no copy misses one."""
        if is_moved(self.path):
            raise GardenMoved(f"{done} {self.path.name}")

    def has_file(self, digest: str) -> bool:
        """Return whether a file with this digest was imported before, and not undone since."""
        last = "SELECT COALESCE(MAX(id), 0) FROM said WHERE digest = ?"
        (there, undone) = (self.db.conn.execute(last, [text]).fetchone()[0] for text in (digest, UNDONE + digest))
        return bool(there > undone)

    def add(self, batches: Sequence[tuple[Said, Sequence[NewRow]]]) -> list[tuple[str, int]]:
        """Add rows, all or none, and return (kind, id) of each in the order given.

        Spots and plants that rows name must be recorded or among the rows. Raises GardenUnavailable, with nothing
        added, where the file cannot be written.
        """
        with self.writing("adding to"):
            fresh = {said.digest for said, _ in batches if said.digest and self.has_file(said.digest)}
            if fresh:  # another program imported the same file while this one read it
                batches = [(said, rows) for said, rows in batches if said.digest not in fresh]
            return self.add_within(batches)

    def add_within(self, batches: Sequence[tuple[Said, Sequence[NewRow]]]) -> list[tuple[str, int]]:
        """Add rows within a write that is held already."""
        things = self.things()
        for _, rows in batches:
            for row in rows:
                if row.kind not in THINGS:
                    continue
                if row.replaces is not None:  # the same thing, told anew; what is recorded of it stays with it
                    (things[str(row.values["name"]), row.kind],) = self.db.conn.execute(
                        f"SELECT thing_id FROM {row.kind} WHERE id = ?", [row.replaces]
                    ).fetchone()
                elif (str(row.values["name"]), row.kind) not in things:
                    things[str(row.values["name"]), row.kind] = self.insert("thing", {"kind": row.kind})
        return [ref for said, rows in batches for ref in self.add_rows(self.say(said), rows, things)]

    def add_rows(
        self, said_id: int, rows: Sequence[NewRow], things: Mapping[tuple[str, str], int]
    ) -> list[tuple[str, int]]:
        """Add the rows of one saying within a write that is held already, with what they rule out of use."""
        added: list[tuple[str, int]] = []
        stored: dict[str, list[list[Any]]] = {}
        next_id: dict[str, int] = {}
        for row in rows:
            if row.kind not in next_id:
                (last,) = self.db.conn.execute(f"SELECT MAX(id) FROM {row.kind}").fetchone()
                next_id[row.kind] = (last or 0) + 1
            added.append((row.kind, next_id[row.kind]))
            stored.setdefault(row.kind, []).append(self.stored(row, next_id[row.kind], said_id, things))
            next_id[row.kind] += 1
            if row.replaces is not None:
                self.rule(row.kind, row.replaces, said_id, in_use=False, reason="changed", replaced_by=added[-1][1])
            for kind, row_id in row.rules_out:
                self.rule(kind, row_id, said_id, in_use=False, reason=DOUBTFUL)
        for kind, lines in stored.items():
            columns = ", ".join(f'"{name}"' for name in self.columns(kind))
            marks = ", ".join("?" for _ in self.columns(kind))
            self.db.conn.executemany(f"INSERT INTO {kind} ({columns}) VALUES ({marks})", lines)
        return added

    def columns(self, kind: str) -> list[str]:
        """Return the columns of a kind's table."""
        thing = ["thing_id"] if kind in THINGS else []
        fields = [name for name in self.kinds[kind].fields if name != "words"]
        return ["id", "said_id", "line", "words", *thing, *fields]

    def rule(
        self, kind: str, row_id: int, said_id: int, *, in_use: bool, reason: str, replaced_by: int | None = None
    ) -> None:
        """Take a row out of use or bring it back, within a write that is held already."""
        ruling = {"kind": kind, "row_id": row_id, "in_use": int(in_use), "replaced_by": replaced_by}
        self.insert("ruling", {**ruling, "reason": reason, "said_id": said_id})

    def say(self, said: Said) -> int:
        """Record who said something, within a write that is held already, and return its id."""
        at = said.at.astimezone(UTC).isoformat()
        return self.insert(
            "said", {"via": said.via, "ref": said.ref, "digest": said.digest, "said_by": said.by, "said_at": at}
        )

    def insert(self, table: str, row: Mapping[str, Any]) -> int:
        """Insert one row, within a write that is held already, and return its id."""
        columns = ", ".join(f'"{name}"' for name in row)
        marks = ", ".join("?" for _ in row)
        done = self.db.conn.execute(f"INSERT INTO {table} ({columns}) VALUES ({marks})", list(row.values()))
        return int(done.lastrowid or 0)

    def stored(self, row: NewRow, row_id: int, said_id: int, things: Mapping[tuple[str, str], int]) -> list[Any]:
        """Return a row as its table holds it, in the order of ``columns``."""
        words = row.values.get("words") or row.words or None
        stored: list[Any] = [row_id, said_id, row.line, words]
        if row.kind in THINGS:
            stored.append(things[str(row.values["name"]), row.kind])
        for name, field in self.kinds[row.kind].fields.items():
            if name == "words":
                continue
            value = row.values.get(name)
            if value is None:
                stored.append(None)
            elif field.type in ("spot", "plant"):
                stored.append(things[str(value), field.type])
            elif isinstance(value, datetime):
                stored.append(value.astimezone(UTC).isoformat())
            elif isinstance(value, date):
                stored.append(value.isoformat())
            else:
                stored.append(int(value) if isinstance(value, bool) else value)
        return stored
