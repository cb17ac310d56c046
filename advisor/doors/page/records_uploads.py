"""Uploaded files between their preview and their import: in a private folder, few, not for long, by names of ours."""

from __future__ import annotations

import json
import re
import secrets
import shutil
import unicodedata
from collections.abc import Collection, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path, PurePosixPath
from time import monotonic, sleep
from typing import Protocol

from advisor.errors import BadInput, NotFound
from advisor.records.tables import SUFFIXES

LARGEST_BYTES = 20 * 1024 * 1024
"""The most that one import by page may hold; a longer one goes in by the command line."""
MOST_FILES = 40
MOST_KEPT = 6
KEPT_FOR = timedelta(hours=2)
LONGEST_WAIT_S = 60
ABOUT = "about.json"
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


@dataclass(frozen=True, slots=True)
class Kept:
    """Files kept between preview and import, ``names`` in the order sent; ``files`` is the folder that holds them."""

    folder: Path
    names: list[str]
    at: datetime

    @property
    def files(self) -> Path:
        return self.folder / "files"

    @property
    def then(self) -> str:
        """Where their import led, once it is done; else ""."""
        done = self.folder / "then"
        return done.read_text(encoding="utf-8") if done.exists() else ""

    def led_to(self, where: str) -> None:
        """Note where their import led, and let go of the files."""
        (self.folder / "then").write_text(where, encoding="utf-8")
        shutil.rmtree(self.files, ignore_errors=True)

    @contextmanager
    def alone(self) -> Iterator[None]:
        """Hold the files against a second press of the button, also one that another process of the service got.

        Raises BadInput where they are held for longer than an import takes.
        """
        mark, until = self.folder / "held", monotonic() + LONGEST_WAIT_S
        while True:
            try:
                mark.open("x").close()
                break
            except FileExistsError:
                if monotonic() > until:
                    do = "Look under Records whether its rows are there, else choose the files again"
                    raise BadInput("importing", "those files are being imported already", do) from None
                sleep(0.05)
        try:
            yield
        finally:
            mark.unlink(missing_ok=True)


class Uploads:
    """The uploads to one garden, in a folder beside its file that only its owner may look into.

    They lie on the disk and not in the program, so that any process of a service finds them; no other garden's do.
    """

    def __init__(self, garden: Path) -> None:
        self.root = garden.parent / f".{garden.stem}-uploads"

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
        kept = Kept(self.root / token, names, now)
        self.root.mkdir(mode=0o700, exist_ok=True)
        kept.folder.mkdir(mode=0o700)
        try:
            kept.files.mkdir()
            for file, name in zip(chosen, names, strict=True):
                file.save(str(kept.files / name))
            about = json.dumps({"names": names, "at": now.isoformat()})
            (kept.folder / ABOUT).write_text(about, encoding="utf-8")
        except BaseException:
            shutil.rmtree(kept.folder, ignore_errors=True)
            raise
        self._clear(now)
        return token

    def find(self, token: str, now: datetime) -> Kept:
        """Return what is kept under a token. Raise NotFound where nothing is, or not any more."""
        self._clear(now)
        kept = _read(self.root / token) if TOKEN.fullmatch(token) else None
        if kept is None:
            hours = int(KEPT_FOR.total_seconds() // 3600)
            found = f"those files are not kept any more (they are for {hours} hours)"
            raise NotFound("importing", found, "Choose them again under Records, Import files")
        return kept

    def _clear(self, now: datetime) -> None:
        """Let go of what is old, and of the oldest where there are too many; not of what is being imported."""
        if not self.root.exists():
            return
        all_kept = [kept for folder in self.root.iterdir() if (kept := _read(folder)) is not None]
        ordered = sorted(all_kept, key=lambda kept: kept.at)
        surplus = max(0, len(ordered) - MOST_KEPT)
        for place, kept in enumerate(ordered):
            if (place < surplus or now - kept.at > KEPT_FOR) and not (kept.folder / "held").exists():
                shutil.rmtree(kept.folder, ignore_errors=True)


def _read(folder: Path) -> Kept | None:
    """Return what is kept in a folder, None where it is not whole: sent just now, or thrown away."""
    try:
        about = json.loads((folder / ABOUT).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    return Kept(folder, about["names"], datetime.fromisoformat(about["at"]))


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
