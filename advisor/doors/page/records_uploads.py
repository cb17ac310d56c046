"""Uploaded files between their preview and their import: in a private folder, few, not for long, by names of ours."""

from __future__ import annotations

import re
import secrets
import shutil
import tempfile
import threading
import unicodedata
import weakref
from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path, PurePosixPath
from typing import Protocol

from advisor.errors import BadInput, NotFound
from advisor.records.tables import SUFFIXES

LARGEST_BYTES = 20 * 1024 * 1024
"""The most that one import by page may hold; a longer one goes in by the command line."""
MOST_FILES = 40
MOST_KEPT = 6
KEPT_FOR = timedelta(hours=2)
LONGEST_NAME_BYTES = 120
RESERVED = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)", re.IGNORECASE)
"""Names that some systems keep for their devices, whatever their ending."""
PACKED = (".zip", ".gz", ".7z", ".rar", ".tar", ".tgz")
SHEETS = (".xlsx", ".xls", ".ods", ".numbers")
TOKEN = re.compile(r"[A-Za-z0-9_-]{32,64}")


class Upload(Protocol):
    """One file as it was sent: the name that the sender gave it, and its content."""

    filename: str | None

    def save(self, dst: str) -> None: ...


@dataclass
class Kept:
    """Files kept between preview and import. ``then`` is where their import led, once it is done."""

    folder: Path
    names: list[str]
    at: datetime
    then: str = ""
    lock: threading.Lock = field(default_factory=threading.Lock)


class Uploads:
    """The uploads of one running program. Safe to use from several threads; gone when the program ends."""

    def __init__(self) -> None:
        self._root = Path(tempfile.mkdtemp(prefix="advisor-uploads-"))  # only its owner may look into it
        self._kept: dict[str, Kept] = {}
        self._lock = threading.Lock()
        self._gone = weakref.finalize(self, shutil.rmtree, self._root, ignore_errors=True)

    def keep(self, files: Sequence[Upload], now: datetime) -> str:
        """Keep files and return the token under which they are found. Raise BadInput for what is no table."""
        chosen = [file for file in files if file.filename]
        if not chosen:
            raise BadInput("importing", "no file was chosen", "Choose one or more CSV files")
        if len(chosen) > MOST_FILES:
            raise BadInput("importing", f"{len(chosen)} files", f"Choose {MOST_FILES} at most")
        names: list[str] = []
        for file in chosen:
            names.append(safe_name(file.filename or "", names))
        token = secrets.token_urlsafe(32)
        folder = self._root / token
        folder.mkdir(mode=0o700)
        try:
            for file, name in zip(chosen, names, strict=True):
                file.save(str(folder / name))
        except BaseException:
            shutil.rmtree(folder, ignore_errors=True)
            raise
        with self._lock:
            self._kept[token] = Kept(folder, names, now)
            self._clear(now)
        return token

    def _clear(self, now: datetime) -> None:
        """Let go of what is old, and of the oldest where there are too many."""
        ordered = sorted(self._kept.items(), key=lambda one: one[1].at)
        old = [token for token, kept in ordered if now - kept.at > KEPT_FOR]
        surplus = [token for token, _ in ordered[: max(0, len(ordered) - MOST_KEPT)]]
        for token in {*old, *surplus}:
            if self._kept[token].lock.locked():  # it is being imported
                continue
            shutil.rmtree(self._kept.pop(token).folder, ignore_errors=True)

    def find(self, token: str, now: datetime) -> Kept:
        """Return what is kept under a token. Raise NotFound where nothing is, or not any more."""
        with self._lock:
            self._clear(now)
            kept = self._kept.get(token) if TOKEN.fullmatch(token) else None
        if kept is None:
            hours = int(KEPT_FOR.total_seconds() // 3600)
            found = f"those files are not kept any more (they are for {hours} hours)"
            raise NotFound("importing", found, "Choose them again under Records, Import files")
        return kept


def safe_name(given: str, taken: Collection[str]) -> str:
    """Return the name under which an uploaded file is kept: its last part, short, of no device and no hidden file.

    Raises BadInput where it is no table, or another file of the same upload has the name.

    >>> safe_name("../../etc/soil reading.CSV", [])
    'soil reading.csv'
    >>> safe_name("con.csv", [])
    '_con.csv'
    """
    last = re.split(r"[/\\]", unicodedata.normalize("NFC", given))[-1]
    last = "".join("_" if unicodedata.category(c)[0] == "C" or c in '<>:"|?*' else c for c in last).strip(" .")
    suffix = PurePosixPath(last).suffix.casefold()
    shown = last[:60] or "a file without a name"
    if suffix in PACKED:
        raise BadInput(
            "importing", f"{shown} is packed", "Unpack it, and choose the files in it: several at once will do"
        )
    if suffix in SHEETS:
        raise BadInput("importing", f"{shown} is a spreadsheet", "Save each sheet as CSV, and choose those files")
    if suffix not in SUFFIXES:
        raise BadInput("importing", f"{shown} is no table", f"Choose files that end in {', '.join(SUFFIXES)}")
    stem = last[: -len(suffix)].strip(" .") or "file"
    if RESERVED.fullmatch(stem.split(".")[0].strip()):
        stem = f"_{stem}"
    while len(f"{stem}{suffix}".encode()) > LONGEST_NAME_BYTES:
        stem = stem[:-1]
    name = f"{stem.strip(' .')}{suffix}"
    if name.casefold() in {one.casefold() for one in taken}:
        raise BadInput("importing", f"two files are called {name}", "Import them one after the other")
    return name
