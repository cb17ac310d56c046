"""Who may ask for which garden: growers, the keys of their devices, and the sessions that a key has opened.

One file beside the gardens. Of a key or a session only the SHA-256 of its secret is kept. A secret is 256 bits from
the system's source of randomness, so there is nothing to guess and no list to try: a salt or a slow hash, which make
guessing a person's password dear, would add nothing, and a plain hash can be looked up by index.
"""

from __future__ import annotations

import hashlib
import hmac
import re
import secrets
import sqlite3
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from advisor.errors import GardenUnavailable, NotFound

FILE = "keys.db"
SECRET_BYTES = 32
GROWER_ID = re.compile(r"g[0-9a-hjkmnp-tv-z]{10}")
"""Ids are made here and never from what somebody typed, so that one can name a file."""
LETTERS = "0123456789abcdefghjkmnpqrstvwxyz"
SESSION_IDLE = timedelta(days=30)
SESSION_LONGEST = timedelta(days=90)
SESSION_REMEMBERED = timedelta(days=400)
"""How long an ended session is kept, so that a device that signs in again is known to be the same grower's."""
SEEN_EVERY = timedelta(hours=1)
TABLES = """
CREATE TABLE grower (id TEXT PRIMARY KEY, name TEXT NOT NULL, made_at TEXT NOT NULL) STRICT;
CREATE TABLE key (
    id INTEGER PRIMARY KEY, grower_id TEXT NOT NULL REFERENCES grower (id), hash TEXT NOT NULL UNIQUE,
    start TEXT NOT NULL, device TEXT NOT NULL, made_at TEXT NOT NULL, expires_at TEXT, revoked_at TEXT, used_on TEXT
) STRICT;
CREATE TABLE session (
    hash TEXT PRIMARY KEY, key_id INTEGER NOT NULL REFERENCES key (id), made_at TEXT NOT NULL, seen_at TEXT NOT NULL,
    ended_at TEXT
) STRICT;
CREATE INDEX session_made_at ON session (made_at);
PRAGMA user_version = 1;
"""
KEY_COLUMNS = "k.id, k.grower_id, k.start, k.device, k.made_at, k.expires_at, k.revoked_at, k.used_on"

OF_GROWER = {
    "grower": "WHERE id = ?",
    "key": "WHERE grower_id = ?",
    "session": "WHERE key_id IN (SELECT id FROM key WHERE grower_id = ?)",
}
"""The rows of one grower, in the order in which they refer to each other."""


@dataclass(frozen=True, slots=True)
class Grower:
    id: str
    name: str
    made_at: datetime


@dataclass(frozen=True, slots=True)
class Key:
    """A device's key without its secret. ``start`` is what it begins with; ``used_on`` the last day it was used."""

    id: int
    grower: str
    start: str
    device: str
    made_at: datetime
    expires_at: datetime | None
    revoked_at: datetime | None
    used_on: date | None

    def state(self, now: datetime) -> str:
        """Return "in use", "revoked" or "expired"."""
        if self.revoked_at is not None:
            return "revoked"
        return "expired" if self.expires_at is not None and self.expires_at <= now else "in use"


@dataclass(frozen=True, slots=True)
class Session:
    """A browser that signed in with a key. It ends by signing out, by itself, or with its key."""

    key: Key
    made_at: datetime
    seen_at: datetime
    ended_at: datetime | None

    def in_use(self, now: datetime) -> bool:
        ended = self.ended_at is not None or self.key.state(now) != "in use"
        return not ended and now - self.seen_at < SESSION_IDLE and now - self.made_at < SESSION_LONGEST


class KeyStore:
    """The file of keys, open. Use as a context manager; one to a thread."""

    def __init__(self, folder: Path, *, busy_s: float = 20.0, create: bool = False) -> None:
        """Open the keys of a folder. Raise NotFound where there are none and ``create`` is not set."""
        self.folder, self.path = folder, folder / FILE
        if create:
            folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            self.path.touch(mode=0o600)
        elif not self.path.exists():
            raise NotFound("opening the keys", f"no {FILE} there", "Make a grower first: advisor grower create")
        with self._trouble("opening"):
            self._conn = sqlite3.connect(self.path, timeout=busy_s, isolation_level=None)
            try:
                self._conn.execute("PRAGMA foreign_keys = ON")
                if self._version() == 0:
                    self._conn.execute("PRAGMA journal_mode = WAL")
                    self._make_tables()
            except BaseException:
                self._conn.close()
                raise

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, tb: TracebackType | None) -> None:
        self._conn.close()

    # ---- growers

    def add_grower(self, name: str, now: datetime) -> Grower:
        """Add a grower under a new id."""
        made = Grower("g" + "".join(secrets.choice(LETTERS) for _ in range(10)), name, now)
        self._run("INSERT INTO grower VALUES (?, ?, ?)", made.id, name, _text(now))
        return made

    def growers(self) -> list[Grower]:
        rows = self._run("SELECT id, name, made_at FROM grower ORDER BY made_at, id")
        return [Grower(row[0], row[1], datetime.fromisoformat(row[2])) for row in rows]

    def garden_path(self, grower: str) -> Path:
        """Return the file of a grower's garden. Raise NotFound where there is no such grower."""
        if GROWER_ID.fullmatch(grower) and self._run("SELECT 1 FROM grower WHERE id = ?", grower):
            return self.folder / f"{grower}.db"
        raise NotFound("looking up a grower", f"no grower {grower!r}", "advisor grower list names them")

    # ---- keys

    def add_key(
        self, grower: str, secret: bytes, start: str, device: str, now: datetime, expires_at: datetime | None = None
    ) -> Key:  # fmt: skip
        """Add a grower's key and return it. Raise NotFound where there is no such grower."""
        self.garden_path(grower)
        (row,) = self._run(
            "INSERT INTO key (grower_id, hash, start, device, made_at, expires_at)"
            " VALUES (?, ?, ?, ?, ?, ?) RETURNING id",
            grower, _hash(secret), start, device, _text(now), _text(expires_at) if expires_at else None,
        )  # fmt: skip
        return Key(int(row[0]), grower, start, device, now, expires_at, None, None)

    def keys(self) -> list[Key]:
        return [_key(row) for row in self._run(f"SELECT {KEY_COLUMNS} FROM key k ORDER BY k.grower_id, k.id")]

    def revoke(self, key_id: int, now: datetime) -> Key:
        """Take a key out of use for good, its sessions with it. Raise NotFound where there is none of that id."""
        self._run("UPDATE key SET revoked_at = ? WHERE id = ? AND revoked_at IS NULL", _text(now), key_id)
        rows = self._run(f"SELECT {KEY_COLUMNS} FROM key k WHERE k.id = ?", key_id)
        if not rows:
            raise NotFound("revoking a key", f"no key {key_id}", "advisor token list names them")
        return _key(rows[0])

    def key_of(self, secret: bytes) -> Key | None:
        """Return the key of a secret, in use or not."""
        found = self._by_hash(f"SELECT k.hash, {KEY_COLUMNS} FROM key k WHERE k.hash = ?", _hash(secret))
        return _key(found) if found else None

    def note_use(self, key: Key, now: datetime) -> None:
        """Note the day on which a key was used: no finer, so that nobody's hours can be read off, and written once."""
        today = now.astimezone(UTC).date()
        if key.used_on != today:
            self._run("UPDATE key SET used_on = ? WHERE id = ?", today.isoformat(), key.id)

    # ---- sessions

    def start_session(self, key: Key, now: datetime) -> str:
        """Start a session of a key and return its secret, which is not kept; forget those that ended long ago."""
        secret = f"{key.grower.removeprefix('g')}.{secrets.token_urlsafe(SECRET_BYTES)}"  # told apart without look-up
        self._run("DELETE FROM session WHERE made_at < ?", _text(now - SESSION_REMEMBERED))
        made = _text(now)
        self._run("INSERT INTO session VALUES (?, ?, ?, ?, NULL)", _hash(secret.encode()), key.id, made, made)
        return secret

    def session_of(self, secret: str) -> Session | None:
        """Return the session of a secret, in use or not."""
        found = self._by_hash(
            f"SELECT s.hash, {KEY_COLUMNS}, s.made_at, s.seen_at, s.ended_at FROM session s"
            " JOIN key k ON k.id = s.key_id WHERE s.hash = ?",
            _hash(secret.encode()),
        )
        if not found:
            return None
        *key, made_at, seen_at, ended_at = found
        ended = datetime.fromisoformat(ended_at) if ended_at else None
        return Session(_key(key), datetime.fromisoformat(made_at), datetime.fromisoformat(seen_at), ended)

    def note_seen(self, secret: str, session: Session, now: datetime) -> None:
        """Note that a session is being used, at most once an hour."""
        if now - session.seen_at >= SEEN_EVERY:
            self._run("UPDATE session SET seen_at = ? WHERE hash = ?", _text(now), _hash(secret.encode()))

    def end_session(self, secret: str, now: datetime) -> None:
        """End a session; one that is not there is ended already."""
        self._run(
            "UPDATE session SET ended_at = ? WHERE hash = ? AND ended_at IS NULL", _text(now), _hash(secret.encode())
        )

    # ---- a grower who comes or goes

    def rows_of(self, grower: str) -> dict[str, list[list[Any]]]:
        """Return a grower's rows by table, with those of their keys and sessions, as they are kept."""
        self.garden_path(grower)
        found = {name: self._run(f"SELECT * FROM {name} {which}", grower) for name, which in OF_GROWER.items()}
        return {name: [list(row) for row in rows] for name, rows in found.items()}

    def take_in(self, rows: Mapping[str, list[list[Any]]]) -> str:
        """Add a grower's rows of another file and return their id; keys get ids of this file.

        Rows of that grower that are here already give way. Raises GardenUnavailable where a key is another grower's.
        """
        grower = str(rows["grower"][0][0])
        with self._trouble("adding a grower to"):
            self._conn.execute("BEGIN IMMEDIATE")
            try:
                self._drop(grower)
                self._conn.execute("INSERT INTO grower VALUES (?, ?, ?)", rows["grower"][0])
                ids: dict[int, int] = {}
                for old, *row in rows["key"]:
                    ids[old] = int(self._conn.execute(f"INSERT INTO key VALUES (NULL{', ?' * 8})", row).lastrowid or 0)
                for secret, key, *row in rows["session"]:
                    self._conn.execute("INSERT INTO session VALUES (?, ?, ?, ?, ?)", [secret, ids[key], *row])
                self._conn.execute("COMMIT")
            except BaseException:
                self._conn.execute("ROLLBACK")
                raise
        return grower

    def remove(self, grower: str) -> None:
        """Remove a grower with their keys and sessions; the garden's file is left alone."""
        self.garden_path(grower)
        with self._trouble("removing a grower from"):
            self._conn.execute("BEGIN IMMEDIATE")
            self._drop(grower)
            self._conn.execute("COMMIT")

    def _drop(self, grower: str) -> None:
        for name, which in reversed(OF_GROWER.items()):
            self._conn.execute(f"DELETE FROM {name} {which}", [grower])

    # ---- the file

    def _version(self) -> int:
        return int(self._conn.execute("PRAGMA user_version").fetchone()[0])

    def _make_tables(self) -> None:
        self._conn.execute("BEGIN IMMEDIATE")
        try:
            if self._version() == 0:  # no other program was faster
                for statement in TABLES.split(";"):
                    self._conn.execute(statement)
            self._conn.execute("COMMIT")
        except BaseException:
            self._conn.execute("ROLLBACK")
            raise

    def _run(self, sql: str, *values: object) -> list[tuple[Any, ...]]:
        with self._trouble("using"):
            return self._conn.execute(sql, values).fetchall()

    def _by_hash(self, sql: str, wanted: str) -> tuple[Any, ...] | None:
        """Return the row of a hash, without it; compared in constant time, though an index has found it."""
        for found, *rest in self._run(sql, wanted):
            if hmac.compare_digest(str(found), wanted):
                return tuple(rest)
        return None

    @contextmanager
    def _trouble(self, done: str) -> Iterator[None]:
        try:
            yield
        except sqlite3.Error as error:
            raise GardenUnavailable(
                f"{done} the keys", f"{FILE} cannot be used ({error})", "Nothing was changed; try again in a moment"
            ) from error


def _hash(secret: bytes) -> str:
    return hashlib.sha256(secret).hexdigest()


def _text(when: datetime) -> str:
    return when.astimezone(UTC).isoformat(timespec="microseconds")


def _key(row: Any) -> Key:
    key_id, grower, start, device, made_at, expires_at, revoked_at, used_on = row
    expires, revoked = (datetime.fromisoformat(one) if one else None for one in (expires_at, revoked_at))
    used = date.fromisoformat(used_on) if used_on else None
    return Key(int(key_id), grower, start, device, datetime.fromisoformat(made_at), expires, revoked, used)
