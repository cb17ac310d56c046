"""A message is answered once and whole, whatever dies on the way: kept first, then thought about by one at a time."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Mapping
from datetime import datetime, timedelta
from typing import Any

from advisor.language.said.replies import sentence_reply
from advisor.reasoning.engine import trying
from advisor.records.attempts import Try, one_try
from advisor.records.messages import keep_message, keep_reply, keep_try
from advisor.records.messages import message as kept_message
from advisor.records.store import Garden, Overtaken

Answerer = Callable[[Garden, str, str, datetime], dict[str, Any]]
"""What makes the reply to a message: from the garden, the message's id, its text, and when it was sent."""
MOST_TRIES = 3
"""How often a message may end the process while an engine runs for it: each time another maker's, then no more."""
MOST_DEATHS = 6
"""How often the process may end beside it, whatever the reason, before the message is suspected itself."""
GAVE_UP = (
    "I could not work this out: the reasoning stopped each time I tried. What you wrote is kept, but nothing of it is "
    "recorded. Send again by itself what is to be recorded; ask again about one plant or one spot. Do not wait for me "
    "where it is urgent, such as frost tonight. Whoever runs this service finds the reason in its log."
)


def answered_once(
    garden: Garden, sent: Mapping[str, Any], now: datetime, answer: Answerer, *, wait_s: float
) -> dict[str, Any]:
    """Keep what was posted and what ``answer`` makes of it, and return that: for each id once.

    Where somebody else is thinking about it, wait so long for their answer; raise BeingThought where none comes. What
    it records is kept together with its answer, so that a message that was cut short is as if not yet read.
    """
    message_id = sent["id"] or uuid.uuid4().hex
    new = keep_message(garden, message_id, sent["text"], now, sent["sent_at"])
    kept = kept_message(garden, message_id)
    if kept.reply is not None:
        return kept.reply
    with one_try(garden.path, message_id, wait_s) as this:
        kept = kept_message(garden, message_id)
        if kept.reply is not None:  # somebody else answered it while this one waited
            return kept.reply
        sent_at = sent["sent_at"]
        if not new:
            keep_try(garden, message_id)
            now, sent_at = kept.received_at, kept.sent_at
        at = sent_at if sent_at and sent_at <= now + timedelta(days=1) else now
        try:
            with (
                garden.as_one("answering in", lambda: kept_message(garden, message_id).answer is None),
                trying(this.died_in, this),
            ):
                made = gave_up() if too_often(this) else answer(garden, message_id, kept.text, at)
                return keep_reply(garden, message_id, made)
        except Overtaken:  # where a system has no locks: sent twice at once, and the other was answered first
            kept = kept_message(garden, message_id)
            assert kept.reply is not None
            return kept.reply


def too_often(this: Try) -> bool:
    """Return whether the tries before this one ended the process so often that the message is not tried again."""
    return len(this.died_in) >= MOST_TRIES or this.deaths >= MOST_DEATHS


def gave_up() -> dict[str, Any]:
    """Return the reply to a message that is not tried again."""
    return sentence_reply("gave-up", GAVE_UP)
