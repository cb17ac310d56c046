"""Rows told by form: checked as in an import, and recorded or put right."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from advisor.errors import BadFields, BadInput, RowFault
from advisor.facts import Value
from advisor.records.beside import Beside
from advisor.records.rows import RowReader, fold, suggest
from advisor.records.schemas import Known
from advisor.records.species import Lore
from advisor.records.standing import Row, same_rows, second_of
from advisor.records.store import Garden, NewRow, Said
from advisor.records.tables import Table
from advisor.records.told_again import Ledger
from advisor.records.weather_clock import LOCAL
from advisor.records.weather_import import WEATHER, WeatherOptions, read_weather_table
from advisor.records.weather_rows import Stations


@dataclass(frozen=True, slots=True)
class Told:
    """What came of a form: the rows that it brought, or the row that told the same before, in use or not.

    ``again`` says that this very form was sent before, and that these are the rows that it brought then.
    """

    rows: tuple[Row, ...] = ()
    same: Row | None = None
    again: bool = False


def known_of(garden: Garden, lore: Lore, now: datetime) -> Known:
    """Return what a value may refer to: the garden's spots and plants, its place's zone and order of dates."""
    known = Known(lore, set(garden.names("spot")), set(garden.names("plant")), today=now.date())
    if garden.of("place"):
        place = garden.place()
        known.settle(place.text("time_zone"), place.text("units"))
    return known


def told_row(
    garden: Garden, lore: Lore, kind: str, cells: Mapping[str, str], now: datetime, *, words: str = ""
) -> NewRow | None:
    """Return the row that a form tells, or None where the same is recorded already.

    ``cells`` are texts by column name, the unit in the name (``temp_c`` or ``temp_f``); an empty one is not known. A
    row about a thing that is recorded stands for its old row, and what it leaves empty stays as it was.

    Raises BadFields with each field's fault, BadInput where the kind is none that is recorded.
    """
    return _new(garden, _checked(garden, lore, kind, cells, now, words))


def _checked(
    garden: Garden, lore: Lore, kind: str, cells: Mapping[str, str], now: datetime, words: str
) -> NewRow:  # fmt: skip
    """Return the row that a form tells, sound in itself and beside the others. Raises as ``told_row`` does."""
    if kind not in garden.kinds or garden.kinds[kind].origin != "recorded":
        recorded = ", ".join(name for name, spec in garden.kinds.items() if spec.origin == "recorded")
        raise BadInput("adding a record", f"no kind {kind!r}", f"Use one of {recorded}")
    reader = RowReader(garden.kinds, known_of(garden, lore, now), {})
    told, faults = reader.row(Table(kind), 0, _filled(cells), kind)
    beside = Beside(garden).fault(kind, told.row) if told else None
    if told is None or beside:
        raise BadFields(_adding(kind), faults + ([beside] if beside else []))
    return NewRow(kind, told.row.values, words=words)


def _new(garden: Garden, row: NewRow) -> NewRow | None:
    """Return a row with the one that it stands for, None where it is recorded. Raise BadFields if it stands twice."""
    ledger = Ledger(garden)
    new = ledger.new(row.kind, row)
    if ledger.faults:
        raise BadFields(_adding(row.kind), ledger.faults)
    return new


def _filled(cells: Mapping[str, str]) -> dict[str, str]:
    return {name: cell for name, cell in cells.items() if str(cell).strip()}


def _adding(kind: str) -> str:
    return f"adding a {kind.replace('_', ' ')}"


def told_rows(
    garden: Garden, lore: Lore, kind: str, forms: Sequence[Mapping[str, str]], now: datetime
) -> list[NewRow]:  # fmt: skip
    """Return the new rows that several forms of one kind tell, those left out that are recorded already.

    None of them may stand for a row that is recorded: a name that is taken is a fault, and so is a name told twice.
    Raises BadFields with the faults of all, each with its form's number from 1 as ``line``.
    """
    reader, beside, ledger = RowReader(garden.kinds, known_of(garden, lore, now), {}), Beside(garden), Ledger(garden)
    rows: list[NewRow] = []
    faults: list[RowFault] = []
    for line, cells in enumerate(forms, start=1):
        filled = {name: cell for name, cell in cells.items() if str(cell).strip()}
        told, wrong = reader.row(Table(kind), line, filled, kind)
        beside_fault = beside.fault(kind, told.row) if told else None
        faults += [*wrong, *([beside_fault] if beside_fault else [])]
        if told is None:
            continue
        new = ledger.new(kind, replace(told.row, line=line))
        if new is not None and new.replaces is not None:
            found = f"there is a {kind} of that name already"
            faults.append(RowFault(kind, line, "name", found, "another name, or nothing here: that one stands"))
        elif new is not None:
            rows.append(replace(new, line=None))
    faults += ledger.faults
    if faults:
        raise BadFields(f"adding {kind}s", faults)
    return rows


def add_told(
    garden: Garden, lore: Lore, kind: str, cells: Mapping[str, str], said: Said, now: datetime, *, words: str = ""
) -> tuple[str, int] | None:
    """Record what a form tells and return (kind, id), or None where the same is recorded already. See ``told_row``."""
    rows = tell(garden, lore, kind, cells, said, now, words=words).rows
    return rows[0] if rows else None


def tell(
    garden: Garden, lore: Lore, kind: str, cells: Mapping[str, str], said: Said, now: datetime, *, words: str = ""
) -> Told:
    """Record what a form tells, once: the same form (``said.via`` and ``said.ref``) sent again brings nothing new.

    Weather goes the way of a weather file: it is held beside the days around it, and hours make their day anew.
    Raises as ``told_row`` does.
    """
    with garden.writing("adding to"):
        before = rows_said(garden, said.via, said.ref)
        if before is not None:
            return Told(tuple(before), again=True)
        row = _checked(garden, lore, kind, cells, now, words)
        rows = _weather(garden, lore, row, cells, now) if kind in WEATHER else [_new(garden, row)]
        new = [one for one in rows if one is not None]
        if not new:
            same = next(iter(same_rows(garden, kind, row.values)), None) or second_of(garden, kind, row.values)
            return Told(same=(kind, same) if same else None)
        return Told(tuple(garden.add_within([(said, new)])))


def rows_said(garden: Garden, via: str, ref: str) -> list[Row] | None:
    """Return the rows that were told under a reference, None where nothing was said under it."""
    sayings = garden.db.conn.execute("SELECT id FROM said WHERE ref = ? AND via = ?", [ref, via]).fetchall()
    if not sayings:
        return None
    found: list[Row] = []
    for kind in garden.kinds.values():
        if kind.origin == "recorded":
            for (said_id,) in sayings:
                rows = garden.db.conn.execute(f"SELECT id FROM {kind.name} WHERE said_id = ? ORDER BY id", [said_id])
                found += [(kind.name, int(row_id)) for (row_id,) in rows]
    return found


def said_by_form(garden: Garden, form: str) -> int | None:
    """Return under which number a form was kept that was sent before, None where it is new."""
    sql = "SELECT MAX(id) FROM said WHERE ref = ? AND via IN ('page', 'undo')"
    (found,) = garden.db.conn.execute(sql, [form]).fetchone()
    return None if found is None else int(found)


def _weather(
    garden: Garden, lore: Lore, row: NewRow, cells: Mapping[str, str], now: datetime
) -> list[NewRow]:  # fmt: skip
    """Return the rows that one row of weather brings: itself, the days that it makes anew, or a doubt about it."""
    told = {"source": "", **_filled(cells)}
    table = Table(row.kind, tuple(told), [(1, told)])
    read = read_weather_table(
        table, garden, known_of(garden, lore, now), hourly=row.kind == "weather_hour", renamed={},
        told=WeatherOptions(clock=LOCAL), stations=Stations.of(garden, ()), days=set(),
    )  # fmt: skip
    if read.faults:
        faults = [RowFault(f.file, f.line, f.field.removeprefix("column "), f.found, f.wanted) for f in read.faults]
        raise BadFields(_adding(row.kind), faults)
    return [replace(one, line=None) for one in read.rows]


def corrected_values(
    garden: Garden, lore: Lore, kind: str, row_id: int, changes: Mapping[str, str], now: datetime
) -> dict[str, Value | None]:
    """Return what changes of a row, checked as in an import; a column may be in another unit, an empty value is None.

    Raises BadFields where a change is no sound value, or the row with it cannot be; BadInput where a change names no
    field.
    """
    spec = garden.kinds[kind]
    reader = RowReader(garden.kinds, known_of(garden, lore, now), {})
    columns = reader.columns_of(kind)
    cells: dict[str, Any] = dict(garden.values_of(kind, row_id))
    for name, value in changes.items():
        column = fold(name)
        if column in columns:
            cells.pop(columns[column].field.name, None)
        cells |= {column: value} if value else {}
    done = f"correcting {kind}/{row_id}"
    unknown = [name for name in changes if fold(name) not in columns]
    if unknown:
        _, wanted = suggest(fold(unknown[0]), columns)
        raise BadInput(done, f"no field {unknown[0]!r}", f"Use {wanted}")
    told, faults = reader.row(Table(f"{kind}/{row_id}"), 0, cells, kind)
    if told is None:
        raise BadFields(done, faults)
    return {name: told.row.values.get(name) for name in spec.fields}
