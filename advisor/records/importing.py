"""Files into a garden: all that is new in them, or nothing and a list of what is wrong."""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from advisor.errors import BadInput, BadRows, RowFault
from advisor.facts import key_of
from advisor.records.csv_rows import names_in, read_rows
from advisor.records.kinds import Vocabulary
from advisor.records.schema import THINGS
from advisor.records.schemas import Known
from advisor.records.species import Lore
from advisor.records.store import Garden, NewRow, Said


@dataclass
class Imported:
    """What an import did: rows added by kind, rows and files that were recorded already."""

    added: dict[str, int] = field(default_factory=dict)
    known_rows: int = 0
    known_files: list[str] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class _File:
    name: str
    kind: str
    text: str
    digest: str


def import_path(
    garden: Garden,
    path: Path,
    lore: Lore,
    now: datetime,
    *,
    kind: str | None = None,
    renamed: Mapping[str, str] | None = None,
) -> Imported:
    """Import a CSV file, or every CSV file of a folder, named after the kind its rows are of.

    ``kind`` says what a file of another name holds; ``renamed`` maps its column names to ours. A row that is
    recorded already is passed over, so the same file twice adds nothing. Raises BadRows, with every fault named and
    nothing imported, or BadInput where there is nothing to import.
    """
    outcome = Imported()
    faults: list[RowFault] = []
    files = []
    for file in _files(path, kind, garden.kinds, faults):
        if garden.has_file(file.digest):
            outcome.known_files.append(file.name)
        else:
            files.append(file)
    known = Known(lore, set(garden.names("spot")), set(garden.names("plant")))
    if garden.of("place"):
        known.zone = garden.zone()
    for file in files:
        known.spots |= names_in(file.text, renamed or {}) if file.kind == "spot" else set()
        known.plants |= names_in(file.text, renamed or {}) if file.kind == "plant" else set()
    batches: list[tuple[Said, list[NewRow]]] = []
    for file in files:
        rows, wrong = read_rows(file.name, file.text, garden.kinds[file.kind], known, renamed or {})
        faults += wrong
        fresh = _fresh(garden, file, rows, outcome, faults)
        if file.kind == "place" and rows:
            known.zone = ZoneInfo(str(rows[-1].values["time_zone"]))
        batches.append((Said("file", file.name, now, digest=file.digest), fresh))
    if faults:
        raise BadRows(f"importing {path.name}", faults)
    new = [batch for batch in batches if batch[1]]
    if new:
        outcome.added = dict(Counter(row_kind for row_kind, _ in garden.add(new)))
    return outcome


def _files(path: Path, kind: str | None, kinds: Vocabulary, faults: list[RowFault]) -> list[_File]:
    recorded = [name for name, spec in kinds.items() if spec.origin == "recorded"]
    if kind is not None and kind not in recorded:
        raise BadInput(f"importing {path.name}", f"no kind {kind!r}", f"Use one of {', '.join(recorded)}")
    if not path.exists():
        raise BadInput(f"importing {path}", "there is no such file or folder", "Check the path")
    paths = sorted(path.glob("*.csv")) if path.is_dir() else [path]
    if not paths:
        raise BadInput(f"importing {path}", "no .csv file in it", f"Name the files after kinds: {', '.join(recorded)}")
    found = []
    for one in paths:
        of = kind or one.stem
        if of not in recorded:
            faults.append(RowFault(one.name, 0, "file name", repr(one.stem), f"a kind: {', '.join(recorded)}"))
            continue
        content = one.read_bytes()
        try:
            text = content.decode("utf-8-sig")
        except UnicodeDecodeError as error:
            faults.append(RowFault(one.name, 0, "text", f"byte {error.start} is not UTF-8", "a file saved as UTF-8"))
            continue
        found.append(_File(one.name, of, text, hashlib.sha256(of.encode() + b"\0" + content).hexdigest()))
    order = [*THINGS, *(name for name in recorded if name not in THINGS)]
    return sorted(found, key=lambda file: order.index(file.kind))


def _fresh(garden: Garden, file: _File, rows: list[NewRow], outcome: Imported, faults: list[RowFault]) -> list[NewRow]:
    """Return the rows that are not recorded yet; a thing known with other values is a fault, never overwritten."""
    there = {fact.key for fact in garden.of(file.kind)}
    names = {fact.text("name").casefold() for fact in garden.of(file.kind)} if file.kind in THINGS else set()
    fresh = []
    for row in rows:
        key = key_of(row.kind, row.values)
        if key in there:
            outcome.known_rows += 1
            continue
        name = str(row.values.get("name", "")).casefold()
        if file.kind in THINGS and name in names:
            faults.append(
                RowFault(file.name, row.line or 0, "name", repr(row.values["name"]), "a name not recorded yet")
            )
            continue
        there.add(key)
        names.add(name)
        fresh.append(row)
    return fresh
