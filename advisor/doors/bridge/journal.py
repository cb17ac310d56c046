"""What came of each message: one line each, forced to disk, without a number, an address or a word of it.

A message whose id is in the journal is dealt with and never looked at again. The journal is also the memory of the
guards: how many answers went out of late, and what they said, as a keyed hash.
"""

from __future__ import annotations

import json
import os
from collections import Counter
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from advisor.doors.bridge.inbox import write_whole

KEPT = timedelta(days=60)
"""How long a line is kept. A message delivered again after that would be answered again."""


@dataclass(frozen=True, slots=True)
class Line:
    """One message and what came of it.

    ``sender`` is the keyed hash of an allowed sender, "" for strangers. ``replied``: whether an answer went out;
    ``notice``: the limit that it told of instead, "hour" or "day"; ``said``: the keyed hash of the answer.
    """

    id: str
    at: datetime
    door: str
    outcome: str
    sender: str = ""
    replied: bool = False
    notice: str = ""
    said: str = ""


class Journal:
    """The journal file, read once and then written to at its end. For one process at a time."""

    def __init__(self, path: Path, now: datetime) -> None:
        self.path = path
        self.lines: dict[str, Line] = {line.id: line for line in read_lines(path) if line.at > now - KEPT}
        kept = b"".join(_written(line) for line in self.lines.values())
        write_whole(path, kept)

    def __contains__(self, message_id: str) -> bool:
        return message_id in self.lines

    def close(self, line: Line) -> None:
        """Write down what came of a message. When this returns, it outlives a power cut."""
        with self.path.open("ab") as out:
            out.write(_written(line))
            out.flush()
            os.fsync(out.fileno())
        self.lines[line.id] = line

    def since(self, at: datetime) -> Iterator[Line]:
        """Yield the lines since a moment, newest first."""
        for line in reversed(self.lines.values()):
            if line.at >= at:
                yield line

    def forget_old(self, now: datetime) -> None:
        """Drop from memory what is past keeping; the file drops it at the next start."""
        for line_id in [line.id for line in self.lines.values() if line.at <= now - KEPT]:
            del self.lines[line_id]


def read_lines(path: Path) -> Iterator[Line]:
    """Yield the lines of a journal file; a last line that a power cut broke off counts for nothing."""
    if not path.exists():
        return
    for written in path.read_bytes().split(b"\n"):
        try:
            told = json.loads(written)
            line = Line(**{**told, "at": datetime.fromisoformat(told["at"])})
        except (ValueError, TypeError, KeyError):
            continue
        yield line


def counts(path: Path, now: datetime) -> dict[str, dict[str, int]]:
    """Return how often each outcome came: in the last day, week and as long as the journal reaches back."""
    spans = {"day": timedelta(days=1), "week": timedelta(days=7), f"{KEPT.days} days": KEPT}
    lines = list(read_lines(path))
    return {
        name: dict(Counter(f"{line.door}: {line.outcome}" for line in lines if line.at > now - span))
        for name, span in spans.items()
    }


def _written(line: Line) -> bytes:
    """Return a line as bytes; it begins with a line's end, so that one broken off before it spoils none but itself."""
    told = {name: value for name, value in asdict(line).items() if value}
    return b"\n" + json.dumps({**told, "at": line.at.astimezone(UTC).isoformat()}).encode("ascii")
