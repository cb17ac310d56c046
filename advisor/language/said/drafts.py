"""What a message is heard to say: records to be made, what is still open, what is only noted."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from advisor.facts import Value


@dataclass(frozen=True)
class Draft:
    """One record to be made. ``replaces`` is the row of its kind that it stands for, 0 for none."""

    kind: str
    values: Mapping[str, Value]
    replaces: int = 0

    def as_dict(self) -> dict[str, Any]:
        """Return the draft as JSON keeps it, so that a later answer can complete it."""
        values = {name: _plain(value) for name, value in self.values.items()}
        return {"kind": self.kind, "values": values, "replaces": self.replaces}


def _plain(value: Value) -> Any:
    return value.isoformat() if isinstance(value, date | datetime) else value


@dataclass(frozen=True)
class Way:
    """One way to settle what is open: what it is called, and the records that it would make."""

    text: str
    drafts: tuple[Draft, ...]


@dataclass(frozen=True)
class Open:
    """Something that cannot be logged as it stands: what to ask, and the ways to settle it where they can be listed."""

    ask: str
    ways: tuple[Way, ...] = ()
    aside: bool = False
    """Whether what it was said with is recorded all the same."""


@dataclass
class Heard:
    """All that was heard in a message.

    ``noted`` are the reasons for which parts were read and rightly not recorded: intends, heard, not_done, wishes,
    doubts. ``asks`` are its questions, as text. ``unread`` are stretches in which nothing was found;
    ``spoken_plants`` what it spoke of last; ``beside`` what is said beside what is recorded.
    """

    drafts: list[Draft] = field(default_factory=list)
    open: list[Open] = field(default_factory=list)
    noted: list[str] = field(default_factory=list)
    asks: list[str] = field(default_factory=list)
    unread: list[str] = field(default_factory=list)
    declined: str = ""
    beside: list[str] = field(default_factory=list)
    spoken_plants: tuple[str, ...] = ()
