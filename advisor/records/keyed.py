"""What programs send under a key of theirs: done once, and answered the same however often it is sent."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

from advisor.errors import KeyReused
from advisor.records.store import Garden, Overtaken


def digest_of(*parts: object) -> str:
    """Return what tells one thing sent from another: equal for equal parts, whatever the order of their members.

    >>> digest_of("POST", {"a": 1, "b": 2}) == digest_of("POST", {"b": 2, "a": 1})
    True
    """
    return hashlib.sha256(json.dumps(parts, sort_keys=True).encode()).hexdigest()


def once(garden: Garden, key: str, digest: str, now: datetime, act: Callable[[], dict[str, Any]]) -> dict[str, Any]:
    """Return what ``act`` does, or what it did when the same was sent under the key before.

    All that it writes stands together with its reply, or none of it. What it refuses is not kept, so that a mended
    body can be sent under the same key. Raises KeyReused where something else was sent under the key.
    """
    kept = _kept(garden, key, digest)
    if kept is not None:
        return kept
    try:
        with garden.as_one("recording in", lambda: _kept(garden, key, digest) is None):
            reply = act()
            _keep(garden, key, digest, now, reply)
            return reply
    except Overtaken:  # sent twice at once, and the other came first
        kept = _kept(garden, key, digest)
        assert kept is not None
        return kept


def _kept(garden: Garden, key: str, digest: str) -> dict[str, Any] | None:
    with garden.trouble("reading"):
        found = garden.db.conn.execute("SELECT digest, reply FROM keyed WHERE key = ?", [key]).fetchone()
    if found is None:
        return None
    if found[0] != digest:
        do = "Send it under a key of its own; what was sent first stands"
        raise KeyReused("reading the key", f"something else was sent under {key!r} before", do)
    reply: dict[str, Any] = json.loads(found[1])
    return reply


def _keep(garden: Garden, key: str, digest: str, now: datetime, reply: dict[str, Any]) -> None:
    with garden.writing("keeping the key in"):
        at = now.astimezone(UTC).isoformat()
        garden.insert("keyed", {"key": key, "digest": digest, "at": at, "reply": json.dumps(reply, ensure_ascii=False)})
