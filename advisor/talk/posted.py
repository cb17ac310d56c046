"""What is posted: checked before anything is kept of it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import UTC
from typing import Any

from marshmallow import RAISE, Schema, ValidationError, fields

from advisor.errors import BadInput, TooLong

MESSAGE_ID = re.compile(r"[A-Za-z0-9._:-]{1,64}")
EARLIEST_YEAR = 1900
JSON_NAMES = {
    list: "a list",
    str: "a text",
    int: "a number",
    float: "a number",
    bool: "a yes or no",
    type(None): "null",
}


class MessageSchema(Schema):
    """What is posted: a text, and optionally the sender's own id for it and when it was sent."""

    class Meta:
        unknown = RAISE

    text = fields.String(required=True)
    id = fields.String(load_default=None, allow_none=True)
    sent_at = fields.AwareDateTime(load_default=None, allow_none=True, default_timezone=UTC)


def read_posted(raw: object, longest: int) -> dict[str, Any]:
    """Return a posted message, checked; ``longest`` is in characters.

    Raises BadInput or TooLong, saying what was found and what to send.
    """
    if not isinstance(raw, Mapping):
        found = JSON_NAMES.get(type(raw), "something else")
        raise BadInput("reading the message", found, 'Send an object: {"text": "..."}')
    try:
        message: dict[str, Any] = MessageSchema().load(dict(raw))
    except ValidationError as error:
        messages: Mapping[str, Any] = error.messages  # type: ignore[assignment]  # one object's errors are by field
        found = "; ".join(f"{name}: {' '.join(map(str, said)).rstrip('.')}" for name, said in messages.items())
        raise BadInput(
            "reading the message", found, 'Send {"text": "...", "id": optional, "sent_at": optional ISO 8601}'
        ) from None
    text = message["text"]
    if len(text) > longest:
        raise TooLong(
            "reading the message",
            f"{len(text)} characters, where {longest} is the most",
            "Send the question alone; long logs go in by file: advisor import",
        )
    if not text.strip():
        raise BadInput("reading the message", "no words in it", "Ask something, such as why a fig is late")
    if not _is_text(text):
        raise BadInput("reading the message", "half a character in the text", "Send it as UTF-8 text")
    if message["id"] is not None and not MESSAGE_ID.fullmatch(message["id"]):
        found = f"an id of {len(message['id'])} characters" if _is_text(message["id"]) else "an id that is no text"
        raise BadInput("reading the message", found, "Use 1 to 64 letters, digits, points, dashes and underscores")
    if message["sent_at"] is not None and message["sent_at"].year < EARLIEST_YEAR:
        raise BadInput("reading the message", f"sent in the year {message['sent_at'].year}", "Check the clock")
    return message


def _is_text(text: str) -> bool:
    """Return whether a string can be written down: JSON may carry half of a pair that stands for one character."""
    try:
        text.encode()
    except UnicodeEncodeError:
        return False
    return True
