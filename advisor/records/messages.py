"""Messages kept in a garden file: each before it is thought about, each answered once."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cached_property
from typing import Any

from advisor.errors import NotFound
from advisor.records.store import Garden


@dataclass(frozen=True)
class Message:
    """A kept message. ``answer`` is its answer as it is kept, None while there is none, ``place`` its place in the
    order."""

    id: str
    text: str
    received_at: datetime
    outcome: str | None
    answer: str | None
    sent_at: datetime | None = None
    place: int = 0

    @cached_property
    def reply(self) -> dict[str, Any] | None:
        """Return the answer as sent; read when it is wanted, since one about a large garden is long."""
        return json.loads(self.answer) if self.answer else None


def keep_message(
    garden: Garden, message_id: str, text: str, received_at: datetime, sent_at: datetime | None = None
) -> bool:
    """Keep a message before it is thought about; return False where one of that id is kept already."""
    with garden.writing("keeping the message in"):
        done = garden.db.conn.execute(
            "INSERT OR IGNORE INTO message (id, text, received_at, sent_at, tries) VALUES (?, ?, ?, ?, 1)",
            [message_id, text, received_at.astimezone(UTC).isoformat(), sent_at.isoformat() if sent_at else None],
        )
        return done.rowcount == 1


def keep_try(garden: Garden, message_id: str) -> None:
    """Note that a message whose answer was cut short is thought about once more."""
    with garden.writing("keeping the message in"):
        garden.db.conn.execute("UPDATE message SET tries = COALESCE(tries, 1) + 1 WHERE id = ?", [message_id])


def waiting(garden: Garden, most_tries: int) -> list[Message]:
    """Return the messages that have no answer, the first first, but for those that were tried so often in vain."""
    with garden.trouble("reading"):
        rows = garden.db.conn.execute(
            "SELECT id FROM message WHERE reply IS NULL AND COALESCE(tries, 1) < ? ORDER BY rowid", [most_tries]
        ).fetchall()
    return [message(garden, message_id) for (message_id,) in rows]


def keep_reply(garden: Garden, message_id: str, reply: Mapping[str, Any]) -> dict[str, Any]:
    """Keep the answer to a message and return it; the first answer kept stands, also against a second thread."""
    with garden.writing("keeping the answer in"):
        garden.db.conn.execute(
            "UPDATE message SET outcome = ?, reply = ? WHERE id = ? AND reply IS NULL",
            [reply["outcome"], json.dumps(reply, ensure_ascii=False), message_id],
        )
    kept = message(garden, message_id).reply
    assert kept is not None
    return kept


def message(garden: Garden, message_id: str) -> Message:
    """Return a kept message. Raise NotFound where there is none."""
    found = _one(garden, "WHERE id = ?", [message_id])
    if found is None:
        raise NotFound("looking up a message", f"no message {message_id!r}", "Use the id that its reply carried")
    return found


def message_before(garden: Garden, message_id: str) -> Message | None:
    """Return the message that came in just before another, or None."""
    earlier = "WHERE rowid < (SELECT rowid FROM message WHERE id = ?) ORDER BY rowid DESC LIMIT 1"
    return _one(garden, earlier, [message_id])


def message_after(garden: Garden, message_id: str) -> Message | None:
    """Return the message that came in just after another, or None."""
    later = "WHERE rowid > (SELECT rowid FROM message WHERE id = ?) ORDER BY rowid LIMIT 1"
    return _one(garden, later, [message_id])


def latest_message(garden: Garden) -> Message | None:
    """Return the message that came in last, or None."""
    return _one(garden, "ORDER BY rowid DESC LIMIT 1", [])


def messages_before_place(garden: Garden, place: int | None, most: int) -> list[Message]:
    """Return at most so many messages before a place in the order, the last first; without one, the last of all."""
    where, values = ("WHERE rowid < ?", [place]) if place is not None else ("", [])
    with garden.trouble("reading"):
        rows = garden.db.conn.execute(f"{_SELECT} {where} ORDER BY rowid DESC LIMIT ?", [*values, most]).fetchall()
    return [_read(row) for row in rows]


@dataclass(frozen=True, slots=True)
class Spoken:
    """What of a message and its answer a later one may refer to: what was recorded, and what was asked."""

    id: str
    received_at: datetime
    answered: bool
    recorded: list[dict[str, Any]]
    question: dict[str, Any]


def spoken_before(garden: Garden, message_id: str, most: int) -> Iterator[Spoken]:
    """Yield what at most so many messages before one spoke of, the last first; an answer is not read for it whole."""
    with garden.trouble("reading"):
        rows = garden.db.conn.execute(
            "SELECT id, received_at, reply IS NOT NULL, json_extract(reply, '$.recorded'),"
            " json_extract(reply, '$.question') FROM message"
            " WHERE rowid < (SELECT rowid FROM message WHERE id = ?) ORDER BY rowid DESC LIMIT ?",
            [message_id, most],
        )
        for one, received_at, answered, recorded, question in rows:
            at = datetime.fromisoformat(received_at)
            yield Spoken(one, at, bool(answered), json.loads(recorded or "[]"), json.loads(question or "{}"))


_SELECT = "SELECT id, text, received_at, outcome, reply, sent_at, rowid FROM message"


def _one(garden: Garden, where: str, values: list[str]) -> Message | None:
    with garden.trouble("reading"):
        row = garden.db.conn.execute(f"{_SELECT} {where}", values).fetchone()
    return None if row is None else _read(row)


def _read(row: tuple[Any, ...]) -> Message:
    sent_at = datetime.fromisoformat(row[5]) if row[5] else None
    return Message(row[0], row[1], datetime.fromisoformat(row[2]), row[3], row[4], sent_at, row[6])
