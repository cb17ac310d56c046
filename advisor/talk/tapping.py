"""What is told by a tap and not in words: a reading filled in on a form, and one message's records taken back.

Each becomes a message of its own with a reply of its own, so that it can be taken back, put right and read again as
any other.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from advisor.errors import AdvisorError, BadFields, NotFound
from advisor.language.render import Speech
from advisor.language.said.replies import recorded_reply, sentence_reply, undone_reply
from advisor.language.said.said_back import all_said_back
from advisor.records.by_form import told_row
from advisor.records.corrections import is_in_use
from advisor.records.messages import Message
from advisor.records.species import Lore
from advisor.records.store import Garden, NewRow, Said
from advisor.talk.telling import Row, take_back

Filled = Sequence[Mapping[str, str]]
"""One row's cells each, by column name as in a form."""


def rows_filled(garden: Garden, lore: Lore, kind: str, filled: Filled, now: datetime) -> list[NewRow]:
    """Return the rows that a form tells, what is recorded already left out.

    Raises BadFields with the faults of the first row that has some; nothing is recorded.
    """
    rows = []
    for place, cells in enumerate(filled):
        try:
            row = told_row(garden, lore, kind, cells, now)
        except BadFields as error:
            raise FilledWrongly(error, place) from None
        rows += [row] if row else []
    return rows


class FilledWrongly(BadFields):
    """Faults of one row among several on a form; ``place`` is which, from 0."""

    def __init__(self, error: BadFields, place: int) -> None:
        super().__init__(error.done, error.faults)
        self.place = place


def told_in_words(garden: Garden, rows: Sequence[NewRow], speech: Speech) -> str:
    """Return rows as the grower would have typed them."""
    text = all_said_back([(row.kind, row.values) for row in rows], speech)
    return "\n".join(line.strip() for line in text.split("\n"))


def filled_reply(
    garden: Garden, lore: Lore, kind: str, filled: Filled, message_id: str, at: datetime, speech: Speech
) -> dict[str, Any]:
    """Record what a form tells under a message and return the reply, not yet kept."""
    rows = rows_filled(garden, lore, kind, filled, at)
    if not rows:
        return sentence_reply("noted", "That is recorded already, so nothing was added.")
    added = garden.add([(Said("page", message_id, at), rows)])
    return recorded_reply(added, [(row.kind, row.values) for row in rows], speech)


def undone_of(garden: Garden, target: Message, message_id: str, at: datetime, speech: Speech) -> dict[str, Any]:
    """Take back what one message recorded and return the reply, not yet kept; it says so where that cannot be."""
    rows = in_use_of(garden, target)
    values = [(kind, garden.values_of(kind, row)) for kind, row in rows]
    try:
        take_back(garden, target.id, at, message_id)
    except NotFound:
        return sentence_reply("noted", "That was taken back or put right already; nothing was changed.")
    except AdvisorError as error:
        return sentence_reply("asked-back", f"That cannot be taken back: {error.found}. {error.do}.")
    return undone_reply(values, speech)


def in_use_of(garden: Garden, target: Message) -> list[Row]:
    """Return the rows that a message recorded and that are in use now."""
    told = (target.reply or {}).get("recorded", [])
    return [(one["kind"], one["id"]) for one in told if is_in_use(garden, one["kind"], one["id"])]
