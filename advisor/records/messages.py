"""Messages kept in a garden file: each before it is thought about, each answered once."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from advisor.errors import NotFound
from advisor.records.store import Garden


@dataclass(frozen=True, slots=True)
class Message:
    """A kept message; ``reply`` is the answer as sent, None while it has none."""

    id: str
    text: str
    received_at: datetime
    outcome: str | None
    reply: dict[str, Any] | None
    sent_at: datetime | None = None


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


def _one(garden: Garden, where: str, values: list[str]) -> Message | None:
    with garden.trouble("reading"):
        row = garden.db.conn.execute(
            f"SELECT id, text, received_at, outcome, reply, sent_at FROM message {where}", values
        ).fetchone()
    if row is None:
        return None
    reply = json.loads(row[4]) if row[4] else None
    sent_at = datetime.fromisoformat(row[5]) if row[5] else None
    return Message(row[0], row[1], datetime.fromisoformat(row[2]), row[3], reply, sent_at)
