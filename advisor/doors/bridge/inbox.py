"""The spool: messages that came in and are not dealt with yet, one file each.

A file appears whole or not at all (written under another name, forced to disk, renamed), so a message is either still
with whoever brought it or here. Files sort in the order in which they were taken.
"""

from __future__ import annotations

import json
import os
import time
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from datetime import UTC, datetime
from pathlib import Path

UNFINISHED = ".unfinished-"


@dataclass(frozen=True, slots=True)
class Incoming:
    """One message as it came in.

    ``id`` is made from what the message is, so that it is the same each time the message is delivered. ``sender`` is a
    number or an address as the network gave it. ``sent_at`` is aware where it is known. ``beside`` is what the door
    needs to answer, and "automatic" there marks a message that no person wrote.
    """

    id: str
    door: str
    sender: str
    text: str
    taken_at: datetime
    sent_at: datetime | None = None
    beside: Mapping[str, str] = field(default_factory=dict)


def write_whole(path: Path, content: bytes) -> None:
    """Write a file so that a crash leaves the old one or the new one, readable by its owner alone."""
    unfinished = path.with_name(f"{UNFINISHED}{os.urandom(6).hex()}")
    handle = os.open(unfinished, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    with os.fdopen(handle, "wb") as out:
        out.write(content)
        out.flush()
        os.fsync(out.fileno())
    unfinished.replace(path)
    sync_folder(path.parent)


def sync_folder(folder: Path) -> None:
    """Force a folder's names to disk, so that a rename in it outlives a power cut."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def sweep(folder: Path, older_than_s: float = 3600.0) -> None:
    """Remove from a folder what interrupted writes left behind."""
    for path in folder.glob(f"{UNFINISHED}*"):
        try:
            if time.time() - path.stat().st_mtime > older_than_s:
                path.unlink(missing_ok=True)
        except FileNotFoundError:
            continue


class Spool:
    """A folder of messages that wait. Any number of processes may put; one takes out."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)

    def put(self, message: Incoming) -> Path:
        """Keep a message and return its file. When this returns, the message outlives a power cut."""
        told = asdict(message)
        told["taken_at"] = message.taken_at.astimezone(UTC).isoformat()
        told["sent_at"] = message.sent_at.isoformat() if message.sent_at else None
        path = self.folder / f"{time.time_ns():020d}-{message.id}.json"
        write_whole(path, json.dumps(told).encode("ascii"))
        return path

    def waiting(self) -> list[Path]:
        """Return the files of the messages that wait, in the order in which they were taken."""
        return sorted(path for path in self.folder.iterdir() if path.suffix == ".json" and path.name[0].isdigit())

    def read(self, path: Path) -> Incoming | None:
        """Return a message, or None where its file cannot be read as one (no file of ours)."""
        try:
            told = json.loads(path.read_bytes())
            sent_at = told.pop("sent_at")
            return Incoming(
                **{**told, "taken_at": datetime.fromisoformat(told["taken_at"])},
                sent_at=datetime.fromisoformat(sent_at) if sent_at else None,
            )
        except (ValueError, TypeError, KeyError, AttributeError):
            return None

    def remove(self, path: Path) -> None:
        """Take a message out; its words are then on this machine no more, as far as the spool goes."""
        path.unlink(missing_ok=True)
