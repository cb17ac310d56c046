"""How the API reads what is sent and words what it answers: JSON in, JSON out, problem details for every refusal."""

from __future__ import annotations

import json
import re
import uuid
from collections.abc import Iterator, Mapping, Sequence
from typing import Any
from urllib.parse import urlencode

from flask import Response, request
from marshmallow import Schema, ValidationError
from werkzeug.exceptions import UnsupportedMediaType

from advisor.errors import BadFields, BadInput, RowFault
from advisor.records.messages import Sent
from advisor.talk.posted import JSON_NAMES, MESSAGE_ID

LONGEST_SHOWN = 60
KEY = "Idempotency-Key"


def as_json(content: Mapping[str, Any], status: int = 200, **headers: str) -> Response:
    """Return content as an answer."""
    text = content.text if isinstance(content, Sent) else json.dumps(content, ensure_ascii=False)
    answer = Response(f"{text}\n", status, mimetype="application/json")
    answer.headers.update(headers)
    return answer


def as_problem(problem: Mapping[str, object]) -> Response:
    """Return problem details as an answer (RFC 9457)."""
    status = int(str(problem["status"]))
    return Response(json.dumps(problem, ensure_ascii=False) + "\n", status, content_type="application/problem+json")


def body(example: str = '{"text": "..."}', done: str = "reading the message") -> object:
    """Return what was sent as JSON. Raise UnsupportedMediaType, or BadInput where it is none."""
    if request.mimetype != "application/json":
        raise UnsupportedMediaType
    content = request.get_data()
    try:
        return json.loads(content)
    except (ValueError, RecursionError) as error:
        raise BadInput(done, f"no sound JSON ({error})", f"Send {example}") from None


def sent(schema: Schema, done: str) -> dict[str, Any]:
    """Return the body of this request, checked, as it was sent. Raise BadFields with every fault."""
    raw = body("an object, with Content-Type: application/json", done)
    if not isinstance(raw, dict):
        raise BadInput(done, JSON_NAMES.get(type(raw), "something else"), "Send an object: {...}")
    if not _is_sound(raw):
        raise BadInput(done, "half a character in a text", "Send it as UTF-8 text")
    checked(schema, raw, done)
    return raw


def asked(schema: Schema, done: str) -> dict[str, Any]:
    """Return what this request's address asks for, checked. Raise BadFields with every fault."""
    return checked(schema, request.args.to_dict(), done)


def checked(schema: Schema, raw: Mapping[str, Any], done: str) -> dict[str, Any]:
    """Return what a schema makes of what was sent. Raise BadFields with every fault, each under its member's name."""
    try:
        loaded: dict[str, Any] = schema.load(dict(raw))
    except ValidationError as error:
        raise BadFields(done, list(_faults(error.messages, raw, ()))) from None
    return loaded


def _faults(messages: Any, raw: Any, path: tuple[str, ...]) -> Iterator[RowFault]:
    if isinstance(messages, Mapping):
        for name, below in messages.items():
            inside = raw.get(name, ...) if isinstance(raw, Mapping) else ...
            own = path if name == "_schema" else (*path, str(name))
            yield from _faults(below, raw if name == "_schema" else inside, own)
        return
    found = "nothing" if raw is ... else shown(raw)
    yield RowFault("", 0, ".".join(path) or "the body", found, "; ".join(map(str, messages)))


def shown(value: object) -> str:
    """Return a value as a refusal says it back: as JSON, and not all of a long one."""
    said = json.dumps(value, ensure_ascii=False, default=str)
    return said if len(said) <= LONGEST_SHOWN else f"{said[:LONGEST_SHOWN]}..."


def fault(done: str, field: str, found: object, wanted: str) -> BadFields:
    """Return one fault as an error."""
    return BadFields(done, [RowFault("", 0, field, shown(found), wanted)])


def _is_sound(value: object) -> bool:
    """Return whether every text can be kept: JSON can spell half of a character, which no file holds."""
    if isinstance(value, str):
        return not re.search("[\ud800-\udfff]", value)
    if isinstance(value, Mapping):
        return all(_is_sound(part) for pair in value.items() for part in pair)
    return all(map(_is_sound, value)) if isinstance(value, Sequence) else True


def key_sent(raw: Mapping[str, Any]) -> str:
    """Return the key under which something is sent: by header or by its ``id``, "" where it has none.

    The header's text may stand in quotation marks. Raise BadInput where it is no key, or where the two differ.
    """
    header = request.headers.get(KEY)
    given = raw.get("id")
    if header is None:
        return str(given) if given is not None else ""
    key = header[1:-1] if re.fullmatch('".*"', header) else header
    if not MESSAGE_ID.fullmatch(key):
        found = f"{KEY} of {len(key)} characters"
        raise BadInput("reading the key", found, "Use 1 to 64 letters, digits, points, dashes and underscores")
    if given is not None and given != key:
        raise BadInput("reading the key", f"{KEY} and id differ", "Send one of the two, or both alike")
    return key


def new_key() -> str:
    """Return a key for what was sent without one."""
    return uuid.uuid4().hex


def next_link(after: str) -> str | None:
    """Return where the next page of this list is, None where there is none."""
    if not after:
        return None
    return f"{request.path}?{urlencode({**request.args.to_dict(), 'after': after})}"
