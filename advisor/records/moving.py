"""A garden that moves to another host: marked here first, so that nothing is told to the file that stays behind.

The mark is a file beside the garden, which every process sees at once. A write looks for it when it holds the garden's
lock; so once the mark is there and the lock was had once, whatever was told before is in the file and nothing follows.
"""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

from advisor.errors import GardenUnavailable

MARK = ".moved"


class GardenMoved(GardenUnavailable):
    slug = "garden-moved"
    title = "The garden is being moved to another machine"

    def __init__(self, done: str) -> None:
        super().__init__(
            done, "the garden is being moved to another machine", "Nothing was changed; send it again soon"
        )


def is_moved(garden: Path) -> bool:
    """Return whether a garden is on its way to another host, or there already."""
    return _mark(garden).exists()


def mark_moved(garden: Path, busy_s: float = 60.0) -> None:
    """Let nothing more be told to a garden, and return once what was being told is in its file.

    Raises GardenUnavailable where a write takes too long; the mark is then taken away again.
    """
    _mark(garden).touch(mode=0o600)
    try:
        with closing(sqlite3.connect(garden, timeout=busy_s, isolation_level=None)) as conn:
            conn.execute("BEGIN IMMEDIATE")
            conn.execute("ROLLBACK")
    except sqlite3.Error as error:
        unmark(garden)
        raise GardenUnavailable(f"marking {garden.name} as moved", str(error), "Try again in a moment") from error


def unmark(garden: Path) -> None:
    """Let a garden be told things again."""
    _mark(garden).unlink(missing_ok=True)


def _mark(garden: Path) -> Path:
    return garden.with_name(garden.name + MARK)
