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
from advisor.written import Written


class Sent(Written):
    """A reply with its text as JSON, in which it is kept and sent; made once. Not to be changed."""

    def under(self, message_id: str) -> Sent:
        """Return the reply with the id of the message that it answers, which stands first."""
        text = f'{{"id": {json.dumps(message_id, ensure_ascii=False)}, {self.text[1:]}'
        return Sent({"id": message_id, **self}, text)


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
        return Sent(json.loads(self.answer), self.answer) if self.answer else None

    def knowing(self, reply: object) -> Message:
        """Return the message; where a reply at hand is its answer, that need not be read again."""
        if isinstance(reply, Sent) and reply.text == self.answer:
            self.__dict__["reply"] = reply
        return self


def keep_message(
    garden: Garden, message_id: str, text: str, received_at: datetime, sent_at: datetime | None = None
) -> bool:
    """Keep a message before it is thought about; return False where one of that id is kept already.

    It outlives the program. The disk is waited for once, with the answer: nobody is told before that it is kept.
    """
    with garden.writing("keeping the message in", lasting=False):
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


def keep_reply(garden: Garden, message_id: str, reply: Mapping[str, Any]) -> Sent:
    """Keep the answer to a message and return it with its id; the first answer kept stands, also against a second
    thread."""
    if isinstance(reply, Sent):
        answer = reply.under(message_id)
    else:
        text = json.dumps({"id": message_id, **reply}, ensure_ascii=False)
        answer = Sent(json.loads(text), text)
    with garden.writing("keeping the answer in"):
        done = garden.db.conn.execute(
            "UPDATE message SET outcome = ?, reply = ? WHERE id = ? AND reply IS NULL",
            [reply["outcome"], answer.text, message_id],
        )
    if done.rowcount == 1:
        return answer
    kept = message(garden, message_id)
    assert kept.reply is not None and kept.answer is not None
    return Sent(kept.reply, kept.answer)


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


@dataclass(frozen=True, slots=True)
class Outline:
    """A kept message as a list shows it: ``outcome`` is "waiting" and ``short`` "" while there is no answer."""

    id: str
    text: str
    received_at: datetime
    sent_at: datetime | None
    outcome: str
    short: str
    place: int


def outlines_before_place(garden: Garden, place: int | None, most: int) -> list[Outline]:
    """Return at most so many messages before a place in the order, the last first; without one, the last of all.

    Only the beginnings of their answers are read.
    """
    where, values = ("WHERE rowid < ?", [place]) if place is not None else ("", [])
    with garden.trouble("reading"):
        rows = garden.db.conn.execute(
            f"SELECT id, text, received_at, sent_at, outcome, SUBSTR(reply, 1, {BEGINNING}), rowid FROM message"
            f" {where} ORDER BY rowid DESC LIMIT ?",
            [*values, most],
        ).fetchall()
    found = []
    for message_id, text, received_at, sent_at, outcome, beginning, at in rows:
        short = members_at_start(beginning or "").get("short")
        if short is None and beginning:
            short = (message(garden, message_id).reply or {}).get("short", "")
        sent = datetime.fromisoformat(sent_at) if sent_at else None
        received = datetime.fromisoformat(received_at)
        found.append(Outline(message_id, text, received, sent, outcome or "waiting", str(short or ""), at))
    return found


BEGINNING = 16_000
"""Characters of an answer that hold its texts, but for very long ones."""


def members_at_start(text: str) -> dict[str, Any]:
    """Return the members of a JSON object that stand whole at the start of its text, which may be cut short.

    >>> members_at_start('{"id": "m1", "short": "Water it.", "because": [{"ru')
    {'id': 'm1', 'short': 'Water it.'}
    """
    found: dict[str, Any] = {}
    read, place = json.JSONDecoder().raw_decode, 1
    try:
        while place < len(text):
            name, end = read(text, place)
            value, end = read(text, end + len(": "))
            found[name] = value
            place = end + len(", ")
    except ValueError:  # cut short here
        pass
    return found


def beside(garden: Garden, message_id: str) -> tuple[str, str]:
    """Return the ids of the messages just before and just after another, "" where there is none."""
    with garden.trouble("reading"):
        row = garden.db.conn.execute(
            "SELECT (SELECT id FROM message WHERE rowid < m.rowid ORDER BY rowid DESC LIMIT 1),"
            " (SELECT id FROM message WHERE rowid > m.rowid ORDER BY rowid LIMIT 1) FROM message m WHERE id = ?",
            [message_id],
        ).fetchone()
    return (row[0] or "", row[1] or "") if row else ("", "")


def latest_message(garden: Garden) -> Message | None:
    """Return the message that came in last, or None."""
    return _one(garden, "ORDER BY rowid DESC LIMIT 1", [])


def texts_since(garden: Garden, since: datetime, most: int) -> list[str]:
    """Return the words of those of so many last messages that came in since a moment, the last first."""
    with garden.trouble("reading"):
        rows = garden.db.conn.execute("SELECT text, received_at FROM message ORDER BY rowid DESC LIMIT ?", [most])
        return [text for text, at in rows if datetime.fromisoformat(at) >= since]


def questions_since(garden: Garden, since: datetime, most: int) -> list[dict[str, Any]]:
    """Return what those of so many last messages asked that came in since a moment and were answered, the last first;
    each question once, as its answer says it."""
    with garden.trouble("reading"):
        rows = garden.db.conn.execute(
            "SELECT received_at, outcome, json_extract(reply, '$.question') FROM message ORDER BY rowid DESC LIMIT ?",
            [most],
        )
        asked = [one for at, outcome, one in rows if outcome == "answered" and datetime.fromisoformat(at) >= since]
    return [json.loads(one) for one in dict.fromkeys(asked) if one]


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
            "SELECT rowid, id, text, received_at, outcome FROM message"
            " WHERE rowid < (SELECT rowid FROM message WHERE id = ?) ORDER BY rowid DESC LIMIT ?",
            [message_id, most],
        )
        for row in rows:
            yield _spoken(garden, *row)


def _spoken(garden: Garden, place: int, message_id: str, text: str, received_at: str, outcome: str | None) -> Spoken:
    """Return what a message spoke of, as it was read before where it was: an answer never changes, and is long."""
    known = (garden.identity, place, message_id, text, received_at, outcome)
    spoken = SPOKEN.get(known)
    if spoken is None:
        recorded, question = garden.db.conn.execute(
            "SELECT json_extract(reply, '$.recorded'), json_extract(reply, '$.question') FROM message WHERE rowid = ?",
            [place],
        ).fetchone()
        told, asked = json.loads(recorded or "[]"), json.loads(question or "{}")
        spoken = Spoken(message_id, datetime.fromisoformat(received_at), outcome is not None, told, asked)
        if spoken.answered and garden.identity is not None and not garden.db.conn.in_transaction:
            if len(SPOKEN) >= MOST_SPOKEN:
                SPOKEN.clear()
            SPOKEN[known] = spoken
    return spoken


SPOKEN: dict[tuple[object, int, str, str, str, str | None], Spoken] = {}
MOST_SPOKEN = 1000
"""What answers spoke of that were read before, of all gardens of this process, and how many of them are kept."""
_SELECT = "SELECT id, text, received_at, outcome, reply, sent_at, rowid FROM message"


def _one(garden: Garden, where: str, values: list[str]) -> Message | None:
    with garden.trouble("reading"):
        row = garden.db.conn.execute(f"{_SELECT} {where}", values).fetchone()
    return None if row is None else _read(row)


def _read(row: tuple[Any, ...]) -> Message:
    sent_at = datetime.fromisoformat(row[5]) if row[5] else None
    return Message(row[0], row[1], datetime.fromisoformat(row[2]), row[3], row[4], sent_at, row[6])
