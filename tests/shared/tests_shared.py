"""Helpers that several test modules import by name."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable
from datetime import UTC, datetime
from types import FrameType
from typing import Any

NOON = datetime(2026, 4, 24, 10, 0, tzinfo=UTC)
"""Noon in the demo's zone, on its day."""


def leaves(facts: Iterable[dict[str, Any]]) -> set[tuple[str, int]]:
    """Return every recorded row under facts of a reply, spans spelt out."""
    found: set[tuple[str, int]] = set()
    for fact in facts:
        if fact["origin"] == "recorded":
            kind, _, ids = fact["record"].partition("/")
            for span in ids.split(","):
                first, _, last = span.partition("-")
                found |= {(kind, row) for row in range(int(first), int(last or first) + 1)}
        else:
            found |= leaves(fact["from"])
    return found


def counted(work: Callable[[], object]) -> int:
    """Return how many calls of Python functions some work takes."""
    count = 0

    def note(_: FrameType, event: str, __: object) -> None:
        nonlocal count
        count += event == "call"

    sys.setprofile(note)
    try:
        work()
    finally:
        sys.setprofile(None)
    return count
