"""A grower whole in one file: the garden, and the rows of their keys and sessions. For moving, and for backups.

The file is a zip of ``garden.db`` and ``grower.json``. It is made from a copy that was read back, and read back itself.
"""

from __future__ import annotations

import json
import tempfile
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import Any

from advisor.errors import BadInput, GardenUnavailable
from advisor.records.backing_up import Copy, back_up, restore
from advisor.records.keys import GROWER_ID, KeyStore
from advisor.records.moving import is_moved, mark_moved, unmark

GARDEN, ROWS = "garden.db", "grower.json"
VERSION = 1


def pack(store: KeyStore, grower: str, to: Path, *, moving: bool = False) -> Copy:
    """Write a grower to a new file and return what is in it.

    ``moving`` first lets nothing more be told to the garden; where the file cannot be made, it may be told again.
    Raises NotFound where there is no such grower, BadInput where the file is there, GardenUnavailable where the garden
    does not read back.
    """
    garden = store.garden_path(grower)
    if to.exists():
        raise BadInput(f"writing {to.name}", "it is there already", "Name a new file")
    marked_before = is_moved(garden)
    if moving:
        mark_moved(garden)
    try:
        return _packed(store, grower, garden, to)
    except BaseException:
        if moving and not marked_before:
            unmark(garden)
        raise


def _packed(store: KeyStore, grower: str, garden: Path, to: Path) -> Copy:
    to.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=to.parent, prefix=".packing-") as name:
        copy = back_up(garden, Path(name) / GARDEN)
        making = Path(name) / to.name
        making.touch(mode=0o600)
        with zipfile.ZipFile(making, "w", zipfile.ZIP_DEFLATED) as packed:
            packed.write(copy.path, GARDEN)
            packed.writestr(ROWS, json.dumps({"version": VERSION, "rows": store.rows_of(grower)}))
        with zipfile.ZipFile(making) as packed:
            if packed.testzip() is not None:
                raise GardenUnavailable(f"writing {to.name}", "it does not read back", "Try again; check the disk")
        making.rename(to)
    return Copy(to, to.stat().st_size, copy.rows)


def unpack(file: Path, store: KeyStore, now: datetime, *, replace: bool = False) -> tuple[str, Copy]:
    """Bring in a grower that was packed; return their id and what the garden holds, read back.

    A grower who is here already is only replaced if that is said, or if they moved away from here before; the garden
    that was here is kept beside under the time of ``now``. Raises BadInput otherwise, or where it is no such file.
    """
    done = f"bringing in {file.name}"
    with tempfile.TemporaryDirectory(dir=store.folder, prefix=".unpacking-") as name, _opened(file, done) as packed:
        rows, grower = _rows(packed, done)
        path = store.folder / f"{grower}.db"
        if path.exists() and not (replace or is_moved(path)):
            do = "Say --replace if this one is to stand in its place; what is here is kept beside it"
            raise BadInput(done, f"the grower {grower} is here already", do)
        packed.extract(GARDEN, name)
        copy = restore(Path(name) / GARDEN, path, now, replace=True)
        path.chmod(0o600)
        store.take_in(rows)
        unmark(path)
    return grower, copy


@contextmanager
def _opened(file: Path, done: str) -> Iterator[zipfile.ZipFile]:
    try:
        with zipfile.ZipFile(file) as packed:
            yield packed
    except (OSError, zipfile.BadZipFile) as error:
        raise BadInput(done, f"a file that cannot be read ({error})", "Name one that advisor wrote") from error


def _rows(packed: zipfile.ZipFile, done: str) -> tuple[dict[str, list[list[Any]]], str]:
    """Return the rows of a packed grower, and the id, which names a file here and so must be one of ours."""
    try:
        found = json.loads(packed.read(ROWS))
        rows, (grower,) = found["rows"], (str(row[0]) for row in found["rows"]["grower"])
        sound = found["version"] == VERSION and GARDEN in packed.namelist() and GROWER_ID.fullmatch(grower)
    except (KeyError, ValueError, TypeError) as error:
        raise BadInput(done, f"no packed grower ({error})", "Name a file that advisor wrote") from error
    if not sound:
        raise BadInput(done, "no packed grower of this version", "Name a file that this version of advisor wrote")
    return rows, grower
