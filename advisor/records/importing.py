"""Files into a garden: all that is new in them, or nothing and a list of what is wrong."""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path

from advisor.errors import BadInput, BadRows, RowFault
from advisor.facts import Fact, Key, Recorded, Value, key_of
from advisor.records.exporting import is_history
from advisor.records.kinds import Kind
from advisor.records.rows import RowReader
from advisor.records.schema import THINGS
from advisor.records.schemas import Known
from advisor.records.species import Lore
from advisor.records.store import Garden, NewRow, Said
from advisor.records.tables import SUFFIXES, Table, read_table
from advisor.records.weather_import import WEATHER, Moment, read_weather_file

Progress = Callable[[int], None]


@dataclass
class Imported:
    """What an import did, or with a dry run would do.

    ``added`` counts rows by kind, ``changed`` those of them that stand for an older row; ``known_rows`` and
    ``known_files`` were recorded already; ``notes`` say how a file was read and what was found in its weather;
    ``faults`` are the rows left out where the good ones were kept.
    """

    added: dict[str, int] = field(default_factory=dict)
    changed: dict[str, int] = field(default_factory=dict)
    known_rows: int = 0
    known_files: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    faults: list[RowFault] = field(default_factory=list)
    dry: bool = False


@dataclass(frozen=True, slots=True)
class _File:
    path: Path
    kind: str | None
    digest: str


Batch = tuple[Said, list[NewRow]]


def import_path(
    garden: Garden,
    path: Path,
    lore: Lore,
    now: datetime,
    *,
    kind: str | None = None,
    renamed: Mapping[str, str] | None = None,
    station: str = "",
    temperature_unit: str = "",
    dry_run: bool = False,
    keep_good: bool = False,
    progress: Progress = lambda _: None,
) -> Imported:
    """Import a file, or every file of a folder: CSV or JSON Lines, named after the kind of their rows.

    A file of another name has a ``kind`` column, or ``kind`` says what it holds; ``renamed`` maps its column names to
    ours; ``station`` and ``temperature_unit`` (c or f) are for weather. A row that is recorded already is passed
    over, so the same file twice adds nothing; a row about a thing that is recorded with other values stands for it
    from now on. ``progress`` is told the bytes of each file done.

    Raises BadRows, with every fault named and nothing imported, unless ``keep_good`` lets the sound rows in; BadInput
    where there is nothing to import.
    """
    outcome = Imported(dry=dry_run)
    importer = _Importer(garden, lore, now, renamed or {}, station, temperature_unit, outcome)
    files = []
    for file in importer.files(path, kind):
        if garden.has_file(file.digest):
            outcome.known_files.append(file.path.name)
        else:
            files.append(file)
    batches = importer.batches(files, progress)
    if outcome.faults and not keep_good:
        raise BadRows(f"importing {path.name}", outcome.faults)
    if keep_good:
        batches = importer.unsealed(importer.anchored(batches))
    new = [batch for batch in batches if batch[1]]
    outcome.added = dict(Counter(row.kind for _, rows in new for row in rows))
    if new and not dry_run:
        garden.add(new)
    return outcome


class _Importer:
    def __init__(
        self,
        garden: Garden,
        lore: Lore,
        now: datetime,
        renamed: Mapping[str, str],
        station: str,
        temperature_unit: str,
        outcome: Imported,
    ) -> None:
        self.garden, self.now, self.renamed, self.outcome = garden, now, renamed, outcome
        self.station, self.temperature_unit = station, temperature_unit
        self.known = Known(lore, set(garden.names("spot")), set(garden.names("plant")), today=now.date())
        if garden.of("place"):
            place = garden.place()
            self.known.settle(place.text("time_zone"), place.text("units"))
        self.reader = RowReader(garden.kinds, self.known, renamed)
        self.there: dict[str, set[Key]] = {}
        self.alike: dict[str, dict[Key, int | None]] = {}
        self.days: set[Moment] = set()

    # ---- which files

    def files(self, path: Path, kind: str | None) -> list[_File]:
        """Return the files to read, in the order in which they build on each other."""
        recorded = [name for name, spec in self.garden.kinds.items() if spec.origin == "recorded"]
        if kind is not None and kind not in recorded:
            raise BadInput(f"importing {path.name}", f"no kind {kind!r}", f"Use one of {', '.join(recorded)}")
        if not path.exists():
            raise BadInput(f"importing {path}", "there is no such file or folder", "Check the path")
        paths = [path]
        if path.is_dir():
            paths = sorted(p for p in path.iterdir() if p.suffix in SUFFIXES and not is_history(p))
        if not paths:
            do = f"Name the files after kinds: {', '.join(recorded)}"
            raise BadInput(f"importing {path}", "no .csv or .jsonl file in it", do)
        found = []
        for one in paths:
            of = kind or (one.stem if one.stem in recorded else None)
            options = f"{of}\0{sorted(self.renamed.items())}\0{self.station}\0{self.temperature_unit}\0"
            digest = hashlib.sha256(options.encode() + one.read_bytes()).hexdigest()
            found.append(_File(one, of, digest))
        order = [*THINGS, None, *(name for name in recorded if name not in THINGS)]
        return sorted(found, key=lambda file: order.index(file.kind))

    # ---- their rows

    def batches(self, files: Iterable[_File], progress: Progress) -> list[Batch]:
        """Return all new rows, by who said them; faults and notes go to the outcome."""
        tables: list[tuple[_File, Table]] = []
        weather: list[_File] = []
        for file in files:
            if file.kind in WEATHER:
                weather.append(file)
                continue
            table = read_table(file.path)
            self.outcome.faults += table.faults
            self.outcome.notes += table.notes
            if table.header and self._has_kind(file, table):
                faults = self.reader.header(table, file.kind)
                self.outcome.faults += faults
                self._take_names(file, table)
                if not faults:
                    tables.append((file, table))
            progress(file.path.stat().st_size)
        made = [batch for file, table in tables for batch in self._batches(file, table)]
        for file in sorted(weather, key=lambda file: WEATHER.index(str(file.kind))):  # days told outrank days summed up
            made.append(self._weather(file))
            progress(file.path.stat().st_size)
        return made

    def _has_kind(self, file: _File, table: Table) -> bool:
        if file.kind or "kind" in [self.renamed.get(name, name) for name in table.header] or table.faults:
            return True
        recorded = [name for name, spec in self.garden.kinds.items() if spec.origin == "recorded"]
        wanted = f"the name of a kind, or a column kind; the kinds are {', '.join(recorded)}"
        self.outcome.faults.append(RowFault(file.path.name, 0, "file name", repr(file.path.stem), wanted))
        return False

    def _take_names(self, file: _File, table: Table) -> None:
        """Learn the spots, plants and place of a table first, so that rows may refer to them in any order."""
        for _, raw in table.rows:
            cells = {self.renamed.get(name, name): str(cell) for name, cell in raw.items()}
            kind = file.kind or cells.get("kind")
            if kind == "spot" and cells.get("name"):
                self.known.spots.add(cells["name"])
            elif kind == "plant" and cells.get("name"):
                self.known.plants.add(cells["name"])
            elif kind == "place":
                try:
                    self.known.settle(cells.get("time_zone", ""), cells.get("units", ""))
                except (ValueError, OSError, KeyError):
                    continue  # the row's own check names it

    def _batches(self, file: _File, table: Table) -> list[Batch]:
        by_saying: dict[tuple[str, datetime], list[NewRow]] = {}
        for line, raw in table.rows:
            told, faults = self.reader.row(table, line, raw, file.kind)
            self.outcome.faults += faults
            new = self._new(table, told.row) if told else None
            if told and new:
                by_saying.setdefault((told.by, told.at or self.now), []).append(new)
        return [
            (Said("file", file.path.name, at, by=by, digest=file.digest), rows) for (by, at), rows in by_saying.items()
        ]

    def _new(self, table: Table, row: NewRow) -> NewRow | None:
        """Return a row that is not recorded yet, with the row that it stands for where one is about the same thing.

        Two rows of one import about the same thing with other values are a fault: nobody can tell which is meant.
        """
        kind = self.garden.kinds[row.kind]
        if row.kind not in self.there:
            facts = self.garden.of(row.kind)
            self.there[row.kind] = {fact.key for fact in facts} | self.garden.keys_retired(row.kind)
            self.alike[row.kind] = {_thing(kind, fact.values): _row_id(fact) for fact in facts}
        key = key_of(row.kind, row.values)
        if key in self.there[row.kind]:
            self.outcome.known_rows += 1
            return None
        self.there[row.kind].add(key)
        if not kind.same_when:
            return row
        thing, alike = _thing(kind, row.values), self.alike[row.kind]
        if thing in alike and alike[thing] is None:
            same = " and ".join(kind.same_when)
            found, wanted = "stands twice with other values", f"one row for each {same}"
            self.outcome.faults.append(RowFault(table.name, row.line or 0, same, found, wanted))
            return None
        replaces = alike.get(thing)
        alike[thing] = None
        if replaces is not None:
            self.outcome.changed[row.kind] = self.outcome.changed.get(row.kind, 0) + 1
        return replace(row, replaces=replaces)

    def anchored(self, batches: list[Batch]) -> list[Batch]:
        """Return the batches without rows that refer to a spot or plant whose own row was left out."""
        there = {kind: set(self.garden.names(kind)) for kind in ("spot", "plant")}
        while True:
            names = {kind: set(found) for kind, found in there.items()}
            for _, rows in batches:
                for row in rows:
                    if row.kind in names:
                        names[row.kind].add(str(row.values["name"]))
            kept = [(said, [row for row in rows if self._stands(said, row, names)]) for said, rows in batches]
            if [len(rows) for _, rows in kept] == [len(rows) for _, rows in batches]:
                return kept
            batches = kept

    def unsealed(self, batches: list[Batch]) -> list[Batch]:
        """Return the batches so that a file with faults is read anew next time: its rest may be sound by then."""
        faulty = {fault.file for fault in self.outcome.faults}
        return [(replace(said, digest="") if said.ref in faulty else said, rows) for said, rows in batches]

    def _stands(self, said: Said, row: NewRow, names: Mapping[str, set[str]]) -> bool:
        for name, spec in self.garden.kinds[row.kind].fields.items():
            value = row.values.get(name)
            if spec.type in names and value is not None and value not in names[spec.type]:
                wanted = f"a {spec.type} whose own row is sound"
                self.outcome.faults.append(RowFault(said.ref, row.line or 0, name, repr(value), wanted))
                return False
        return True

    def _weather(self, file: _File) -> Batch:
        read = read_weather_file(
            file.path,
            self.garden,
            self.known,
            hourly=file.kind == "weather_hour",
            renamed=self.renamed,
            station=self.station,
            unit=self.temperature_unit,
            days=self.days,
        )
        self.outcome.faults += read.faults
        self.outcome.notes += read.notes
        self.outcome.known_rows += read.known_rows
        for kind in {row.kind for row in read.rows if row.replaces is not None}:
            changed = sum(row.kind == kind and row.replaces is not None for row in read.rows)
            self.outcome.changed[kind] = self.outcome.changed.get(kind, 0) + changed
        return Said("file", file.path.name, self.now, digest=file.digest), read.rows


def _thing(kind: Kind, values: Mapping[str, Value]) -> Key:
    """Return which thing a row is about, names without regard to capitals."""
    told = {name: values[name] for name in kind.same_when if name in values}
    return key_of(kind.name, {n: v.casefold() if isinstance(v, str) else v for n, v in told.items()})


def _row_id(fact: Fact) -> int | None:
    return fact.origin.row_ids[0] if isinstance(fact.origin, Recorded) else None
