"""A garden file copied while it is in use, the copy read back before it counts; and put back where one was lost."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator, Mapping
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import count
from pathlib import Path

from advisor.errors import BadInput, GardenUnavailable
from advisor.records.schema import THINGS

BESIDE = ("-wal", "-shm", "-journal")
"""What SQLite may keep beside a file; of no use, and of harm, beside another file of that name."""


@dataclass(frozen=True, slots=True)
class Copy:
    """A garden file that was read back whole: its size [bytes], and its rows by table."""

    path: Path
    size: int
    rows: Mapping[str, int]


def sound(path: Path) -> Copy:
    """Read a garden file back whole and say what is in it; nothing is changed.

    Raises GardenUnavailable, with the way out, where pages are damaged or a row refers to none.
    """
    done = f"reading {path.name} back"
    with _trouble(done), closing(sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)) as conn:
        wrong = [str(found) for (found,) in conn.execute("PRAGMA integrity_check(5)") if found != "ok"]
        broken = conn.execute("PRAGMA foreign_key_check").fetchmany(5)
        wrong += [f"row {row} of {table} refers to no row of {parent}" for table, row, parent, _ in broken]
        tables = [name for (name,) in conn.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        if not {*THINGS, "said", "message"} <= set(tables):
            wrong.append("it is no garden file")
        if wrong:
            raise GardenUnavailable(done, "; ".join(wrong), "Restore a backup: advisor restore BACKUP --garden FILE")
        counted = {name: _count(conn, name) for name in tables if not name.startswith(("sqlite_", "_"))}
    return Copy(path, path.stat().st_size, counted)


def opens(path: Path) -> None:
    """Raise GardenUnavailable where a file is no garden that can be read; quick, unlike ``sound``."""
    done = f"opening {path.name}"
    with _trouble(done), closing(sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)) as conn:
        _count(conn, "said")


def snapshot(garden: Path, to: Path) -> None:
    """Copy a garden file that may be in use to a new file, whole as of one moment, to be read once and not kept.

    Raises GardenUnavailable where it cannot be; the copy is not read back.
    """
    where = f"{garden.resolve().as_uri()}?mode=ro"
    with _trouble(f"copying {garden.name}"), closing(sqlite3.connect(where, timeout=60, uri=True)) as conn:
        conn.execute("VACUUM INTO ?", [str(to)])


def back_up(garden: Path, to: Path) -> Copy:
    """Copy a garden file that may be in use to a new file, whole as of one moment, and read the copy back.

    Raises BadInput where the target is there already or the garden is not; GardenUnavailable where the copy cannot be
    made or does not read back. A copy that failed leaves no file.
    """
    done = f"backing up {garden.name}"
    if not garden.exists():
        raise BadInput(done, f"no file {garden.name}", "Name the garden file")
    if to.exists():
        raise BadInput(done, f"{to.name} is there already", "Name a new file")
    with _made(to) as making:
        with _trouble(done), closing(sqlite3.connect(garden, timeout=60)) as conn:
            before = {name: _count(conn, name) for name in ("said", "message")}
            conn.execute("VACUUM INTO ?", [str(making)])
        copy = sound(making)
        if any(copy.rows[name] < count for name, count in before.items()):
            raise GardenUnavailable(done, "the copy holds fewer rows than the garden did", "Try again; report this")
    return Copy(to, copy.size, copy.rows)


def restore(backup: Path, garden: Path, now: datetime, *, replace: bool = False) -> Copy:
    """Put a backup where a garden file is to be, after it was read back.

    A garden that is there is only replaced if that is said, and is kept beside under the time of ``now``. Nothing else
    may have the garden open. Raises BadInput where there is no backup or the garden is there; GardenUnavailable where
    the backup does not read back: the garden is then as it was.
    """
    done = f"restoring {backup.name}"
    if not backup.is_file():
        raise BadInput(done, f"no file {backup.name}", "Name a file that advisor backup wrote")
    if garden.exists() and not replace:
        do = "Name a new file, or say --replace: the present one is kept beside it"
        raise BadInput(done, f"{garden.name} is there already", do)
    copy = sound(backup)
    with _made(garden) as making:
        with _trouble(done), closing(sqlite3.connect(f"{backup.resolve().as_uri()}?mode=ro", uri=True)) as conn:
            conn.execute("VACUUM INTO ?", [str(making)])
        if sound(making).rows != copy.rows:
            raise GardenUnavailable(done, "what was put back differs from the backup", "Try again; report this")
        if garden.exists():
            set_aside(garden, now)
    return Copy(garden, garden.stat().st_size, copy.rows)


def set_aside(garden: Path, now: datetime) -> None:
    """Give a garden file and what lies beside it another name, so that nothing of it is lost."""
    names = (f"{garden.stem}-until-{now + timedelta(seconds=n):%Y%m%dT%H%M%S}{garden.suffix}" for n in count())
    name = next(name for name in names if not garden.with_name(name).exists())
    for end in (*BESIDE, ""):
        old = garden.with_name(garden.name + end)
        if old.exists():
            old.rename(garden.with_name(name + end))


@contextmanager
def _made(to: Path) -> Iterator[Path]:
    """Give a name to write to, and on a good end make it the file itself, safe on the disk; else leave nothing."""
    to.parent.mkdir(parents=True, exist_ok=True)
    making = to.with_name(f".{to.name}.part")
    making.unlink(missing_ok=True)
    try:
        yield making
        with making.open("rb") as file:
            os.fsync(file.fileno())
        making.rename(to)
        _sync_folder(to.parent)
    finally:
        for end in ("", *BESIDE):
            making.with_name(making.name + end).unlink(missing_ok=True)


def _sync_folder(folder: Path) -> None:
    if os.name != "nt":
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _count(conn: sqlite3.Connection, table: str) -> int:
    return int(conn.execute(f'SELECT COUNT(*) FROM "{table}"').fetchone()[0])


@contextmanager
def _trouble(done: str) -> Iterator[None]:
    try:
        yield
    except sqlite3.Error as error:
        do = "Check the disk and the file; a garden that is damaged comes back by advisor restore"
        raise GardenUnavailable(done, str(error), do) from error
