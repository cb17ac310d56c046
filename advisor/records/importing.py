"""Files into a garden: all that is new in them, or nothing and a list of what is wrong."""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path
from types import MappingProxyType

from advisor.errors import BadInput, BadRows, RowFault
from advisor.records.beside import Batch, Beside, anchored
from advisor.records.exporting import is_history
from advisor.records.moments import order_shown
from advisor.records.rows import RowReader, fold
from advisor.records.schema import THINGS
from advisor.records.schemas import Known
from advisor.records.species import Lore
from advisor.records.store import Garden, NewRow, Said
from advisor.records.tables import SUFFIXES, Table, read_table
from advisor.records.told_again import Change, Ledger
from advisor.records.weather_columns import weather_kind
from advisor.records.weather_days import Moment
from advisor.records.weather_import import WEATHER, WeatherOptions, read_weather_table
from advisor.records.weather_rows import Stations

Progress = Callable[[int], None]


@dataclass
class Imported:
    """What an import did, or with a dry run would do.

    ``added`` counts rows by kind, ``changed`` those of them that stand for an older row and
    ``changes`` what they change; ``known_rows`` and
    ``known_files`` were recorded already; ``notes`` say how a file was read and what was found in its weather;
    ``faults`` are the rows left out where the good ones were kept. ``told`` are the first and last number under
    which it is kept who said it, by which all of it can be undone together; None where nothing was added.
    """

    added: dict[str, int] = field(default_factory=dict)
    changed: dict[str, int] = field(default_factory=dict)
    changes: list[Change] = field(default_factory=list)
    known_rows: int = 0
    known_files: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    faults: list[RowFault] = field(default_factory=list)
    dry: bool = False
    told: tuple[int, int] | None = None


@dataclass(frozen=True, slots=True)
class _File:
    path: Path
    kind: str | None
    digest: str


def import_path(
    garden: Garden,
    path: Path,
    lore: Lore,
    now: datetime,
    *,
    kind: str | None = None,
    kinds: Mapping[str, str] = MappingProxyType({}),
    renamed: Mapping[str, str] | None = None,
    station: str = "",
    temperature_unit: str = "",
    clock: str = "",
    date_order: str = "",
    dry_run: bool = False,
    keep_good: bool = False,
    progress: Progress = lambda _: None,
) -> Imported:
    """Import a file, or every file of a folder: CSV or JSON Lines, named after the kind of their rows.

    A file of another name has a ``kind`` column, or ``kind`` says what it holds, or ``kinds`` by the names of files;
    ``renamed`` maps its column names to
    ours; ``station``, ``temperature_unit`` (c or f) and ``clock`` (local or winter) are for weather; ``date_order``
    (day-first or month-first) outranks the place's. A row that is recorded already is passed over, so the same file
    twice adds nothing; a row about a thing that is recorded with other values stands for it from now on, and what it
    leaves empty stays as it was. ``progress`` is told the bytes of each file done.

    Raises BadRows, with every fault named and nothing imported, unless ``keep_good`` lets the sound rows in; BadInput
    where there is nothing to import, or an option is none of these.
    """
    for name, value, allowed in (
        ("temperature unit", temperature_unit, ("c", "f")),
        ("clock", clock, ("local", "winter")),
        ("date order", date_order, ("day-first", "month-first")),
    ):
        if value and value not in allowed:
            raise BadInput(f"importing {path.name}", f"{name} {value!r}", f"Use {' or '.join(allowed)}")
    outcome = Imported(dry=dry_run)
    weather = WeatherOptions(station, temperature_unit, clock)
    importer = _Importer(garden, lore, now, renamed or {}, weather, date_order, outcome)
    files = []
    for file in importer.files(path, kind, kinds):
        if garden.has_file(file.digest):
            outcome.known_files.append(file.path.name)
        else:
            files.append(file)
    batches = importer.batches(files, progress)
    if outcome.faults and not keep_good:
        raise BadRows(f"importing {path.name}", outcome.faults)
    if keep_good:
        batches = importer.unsealed(anchored(garden, batches, outcome.faults))
    new = [batch for batch in batches if batch[1]]
    outcome.added = dict(Counter(row.kind for _, rows in new for row in rows))
    if new and not dry_run:
        added = garden.add(new)
        if added:
            first, last = (int(garden.row(*added[at])["said_id"]) for at in (0, -1))
            outcome.told = (first, last)
    return outcome


class _Importer:
    def __init__(
        self,
        garden: Garden,
        lore: Lore,
        now: datetime,
        renamed: Mapping[str, str],
        weather: WeatherOptions,
        date_order: str,
        outcome: Imported,
    ) -> None:
        self.garden, self.now, self.renamed, self.outcome = garden, now, renamed, outcome
        self.weather, self.date_order = weather, date_order
        self.known = Known(lore, set(garden.names("spot")), set(garden.names("plant")), today=now.date())
        if garden.of("place"):
            place = garden.place()
            self.known.settle(place.text("time_zone"), place.text("units"))
        self.reader = RowReader(garden.kinds, self.known, renamed)
        self.ledger = Ledger(garden)
        self.beside = Beside(garden)
        self.days: set[Moment] = set()

    # ---- which files

    def files(self, path: Path, kind: str | None, kinds: Mapping[str, str]) -> list[_File]:
        """Return the files to read, in the order in which they build on each other."""
        recorded = [name for name, spec in self.garden.kinds.items() if spec.origin == "recorded"]
        for named in (*([] if kind is None else [kind]), *kinds.values()):
            if named not in recorded:
                raise BadInput(f"importing {path.name}", f"no kind {named!r}", f"Use one of {', '.join(recorded)}")
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
            of = kind or kinds.get(one.name) or (one.stem if one.stem in recorded else None)
            options = f"{of}\0{sorted(self.renamed.items())}\0{self.weather}\0{self.date_order}\0"
            digest = hashlib.sha256(options.encode() + one.read_bytes()).hexdigest()
            found.append(_File(one, of, digest))
        order = [*THINGS, None, *(name for name in recorded if name not in THINGS)]
        return sorted(found, key=lambda file: order.index(file.kind))

    # ---- their rows

    def batches(self, files: Iterable[_File], progress: Progress) -> list[Batch]:
        """Return all new rows, by who said them; faults and notes go to the outcome."""
        tables: list[tuple[_File, Table]] = []
        weather: list[tuple[_File, str, Table | None]] = []
        for file in files:
            if file.kind in WEATHER:
                weather.append((file, file.kind, None))
                continue
            table = read_table(file.path)
            if file.kind is None and not table.faults and (guessed := weather_kind(table, self.renamed)):
                weather.append((file, guessed, None))
                self.outcome.notes.append(f"{table.name}: by its columns it holds the weather of days")
                continue
            self.outcome.faults += table.faults
            self.outcome.notes += table.notes
            if table.header and self._has_kind(file, table):
                faults = self.reader.header(table, file.kind)
                self.outcome.faults += faults
                self._take_names(file, table)
                if not faults:
                    weather += [(file, kind, part) for kind, part in self._weather_of(file, table)]
                    tables.append((file, table))
            progress(file.path.stat().st_size)
        made = [batch for file, table in tables for batch in self._batches(file, table)]
        ledger = self.ledger
        self.outcome.faults += ledger.faults
        self.outcome.known_rows += ledger.known_rows
        self.outcome.changed, self.outcome.changes = dict(ledger.changed), ledger.changes
        stations = Stations.of(self.garden, (row for _, rows in made for row in rows))
        for file, kind, sheet in sorted(weather, key=lambda one: WEATHER.index(one[1])):
            table = sheet or read_table(file.path)  # days told come first: they outrank days summed up
            self.outcome.faults += [] if sheet else table.faults
            self.outcome.notes += [] if sheet else table.notes
            if table.header:
                made.append(self._weather(file, kind, table, stations))
            progress(0 if sheet else file.path.stat().st_size)
        if made and (learnt := stations.rows()):
            made[-1][1].extend(learnt)
        return made

    def _weather_of(self, file: _File, table: Table) -> Iterator[tuple[str, Table]]:
        """Take the weather rows out of a mixed sheet, as tables of their own: they are checked like any weather."""
        column = next((name for name in table.header if self.reader.ours(name) == "kind"), "")
        if file.kind or not column:
            return
        for kind in WEATHER:
            mine = [(line, row) for line, row in table.rows if fold(str(row.get(column, ""))) == kind]
            if mine:
                rows = [(line, {name: cell for name, cell in row.items() if name != column}) for line, row in mine]
                header = tuple(name for name in table.header if any(name in row for _, row in rows))
                yield kind, Table(table.name, header, rows, decimal_comma=table.decimal_comma)
        table.rows = [(line, row) for line, row in table.rows if fold(str(row.get(column, ""))) not in WEATHER]

    def _has_kind(self, file: _File, table: Table) -> bool:
        if file.kind or "kind" in [self.reader.ours(name) for name in table.header] or table.faults:
            return True
        recorded = [name for name, spec in self.garden.kinds.items() if spec.origin == "recorded"]
        wanted = f"the name of a kind, or a column kind; the kinds are {', '.join(recorded)}"
        self.outcome.faults.append(RowFault(file.path.name, 0, "file name", repr(file.path.stem), wanted))
        return False

    def _take_names(self, file: _File, table: Table) -> None:
        """Learn the spots, plants and place of a table first, so that rows may refer to them in any order."""
        for _, raw in table.rows:
            cells = {self.reader.ours(name): str(cell) for name, cell in raw.items()}
            kind = file.kind or fold(cells.get("kind", ""))
            if kind == "spot" and cells.get("name"):
                self.known.spots.add(cells["name"])
            elif kind == "plant" and cells.get("name"):
                self.known.plants.add(cells["name"])
            elif kind == "trial" and cells.get("name"):
                self.beside.trials.add(cells["name"].casefold())
            elif kind == "place":
                try:
                    self.known.settle(cells.get("time_zone", ""), cells.get("units", ""))
                except (ValueError, OSError, KeyError):
                    continue  # the row's own check names it

    def _batches(self, file: _File, table: Table) -> list[Batch]:
        by_saying: dict[tuple[str, datetime], list[NewRow]] = {}
        place_order, self.known.day_first = self.known.day_first, self._day_first(table)
        for line, raw in table.rows:
            told, faults = self.reader.row(table, line, raw, file.kind)
            self.outcome.faults += faults
            if told and (fault := self.beside.fault(table.name, told.row)):
                self.outcome.faults.append(fault)
                continue
            new = self.ledger.new(table.name, told.row) if told else None
            if told and new:
                by_saying.setdefault((told.by, told.at or self.now), []).append(new)
        self.known.day_first = place_order
        return [
            (Said("file", file.path.name, at, by=by, digest=file.digest), rows) for (by, at), rows in by_saying.items()
        ]

    def unsealed(self, batches: list[Batch]) -> list[Batch]:
        """Return the batches so that a file with faults is read anew next time: its rest may be sound by then."""
        faulty = {fault.file for fault in self.outcome.faults}
        return [(replace(said, digest="") if said.ref in faulty else said, rows) for said, rows in batches]

    def _weather(self, file: _File, kind: str, table: Table, stations: Stations) -> Batch:
        read = read_weather_table(
            table,
            self.garden,
            replace(self.known, day_first=self._day_first(table)),
            hourly=kind == "weather_hour",
            renamed=self.renamed,
            told=self.weather,
            stations=stations,
            days=self.days,
        )
        self.outcome.faults += read.faults
        self.outcome.notes += read.notes
        self.outcome.known_rows += read.known_rows
        changed = Counter(row.kind for row in read.rows if row.replaces is not None)
        self.outcome.changed = dict(Counter(self.outcome.changed) + changed)
        return Said("file", file.path.name, self.now, digest=file.digest), read.rows

    def _day_first(self, table: Table) -> bool | None:
        """Return the order of day and month in a table: as told, else the place's, else as its own dates show it."""
        if self.date_order:
            return self.date_order == "day-first"
        if self.known.day_first is not None:
            return self.known.day_first
        return order_shown(str(cell) for _, row in table.rows for cell in row.values())
