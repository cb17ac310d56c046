"""A garden file opened: connected to, its tables brought up to date. Those known to be so are not looked at again."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from shutil import disk_usage

from sqlite_utils import Database

from advisor.errors import GardenUnavailable
from advisor.records.kinds import Vocabulary
from advisor.records.schema import made_by_later, make_tables, tables_missing, tables_told


class Same:
    """Equal to itself alone, by what it holds: a vocabulary has no name of its own."""

    def __init__(self, held: object) -> None:
        self.held = held

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Same) and other.held is self.held

    def __hash__(self) -> int:
        return id(self.held)


SOUND: set[tuple[Same, str]] = set()
"""Tables, as they are told, that were found to be all that a vocabulary wants and no more than this program knows."""
MOST_SOUND = 16
ROOM_BESIDE = 100_000
"""Bytes that SQLite wants beside a file to open it, with some to spare."""


def connected(path: Path, busy_s: float) -> Database:
    """Return a garden file as a database; see ``_connection``."""
    return Database(_connection(path, busy_s), strict=True)


def _connection(path: Path, busy_s: float) -> sqlite3.Connection:
    """Return a connection to a garden file; to read alone where the disk has no room for what SQLite keeps beside it.

    That is only done while nothing lies beside the file: all that was acknowledged is then in it.
    """
    conn = sqlite3.connect(path, timeout=busy_s)
    try:
        conn.execute("SELECT 1 FROM sqlite_master LIMIT 1")
    except sqlite3.Error as error:  # a file that is no database too
        conn.close()
        log = path.with_name(f"{path.name}-wal")
        alone = not log.exists() or log.stat().st_size == 0
        if "disk I/O" not in str(error) or not alone or disk_usage(path.parent).free >= ROOM_BESIDE:
            raise
        return sqlite3.connect(f"{path.resolve().as_uri()}?immutable=1", uri=True)
    return conn


@contextmanager
def told_as_trouble(done: str) -> Iterator[None]:
    """Turn what a file answers with into GardenUnavailable, with what was found and what to do."""
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
        raise GardenUnavailable(done, found, do) from error


def check_tables(db: Database, kinds: Vocabulary, name: str) -> None:
    """Bring the tables of a file up to date. Those that were found to be so once are not looked at one by one again.

    Raises GardenUnavailable where a later version of this program made the file.
    """
    told = Same(kinds), tables_told(db)
    if told in SOUND:
        return
    if later := made_by_later(db):
        do = "Use that version, or restore a backup from before it"
        found = f"a later version of this program made it ({', '.join(later)})"
        raise GardenUnavailable(f"opening {name}", found, do)
    if tables_missing(db, kinds):
        db.conn.execute("PRAGMA journal_mode = WAL")
        _make_tables(db, kinds)
    elif told[1]:
        if len(SOUND) >= MOST_SOUND:
            SOUND.clear()
        SOUND.add(told)


def _make_tables(db: Database, kinds: Vocabulary) -> None:
    """Make tables under the write lock, so that two programs that open a new file at once do not collide."""
    db.conn.execute("BEGIN IMMEDIATE")
    try:
        make_tables(db, kinds)
        db.conn.commit()
    except BaseException:
        db.conn.rollback()
        raise
