"""Rows told by form: checked as in an import, and recorded or put right."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any

from advisor.errors import BadFields, BadInput, RowFault
from advisor.facts import Value
from advisor.records.beside import Beside
from advisor.records.rows import RowReader, fold, suggest
from advisor.records.schemas import Known
from advisor.records.species import Lore
from advisor.records.store import Garden, NewRow, Said
from advisor.records.tables import Table
from advisor.records.told_again import Ledger


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
    if kind not in garden.kinds or garden.kinds[kind].origin != "recorded":
        recorded = ", ".join(name for name, spec in garden.kinds.items() if spec.origin == "recorded")
        raise BadInput("adding a record", f"no kind {kind!r}", f"Use one of {recorded}")
    reader = RowReader(garden.kinds, known_of(garden, lore, now), {})
    filled = {name: cell for name, cell in cells.items() if str(cell).strip()}
    told, faults = reader.row(Table(kind), 0, filled, kind)
    beside = Beside(garden).fault(kind, told.row) if told else None
    faults += [beside] if beside else []
    ledger = Ledger(garden)
    new = ledger.new(kind, told.row) if told and not faults else None
    faults += ledger.faults
    if faults:
        raise BadFields(f"adding a {kind.replace('_', ' ')}", faults)
    return NewRow(new.kind, new.values, words=words, replaces=new.replaces) if new else None


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
    row = told_row(garden, lore, kind, cells, now, words=words)
    return garden.add([(said, [row])])[0] if row else None


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
