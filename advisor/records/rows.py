"""Raw rows to checked ones: columns to fields, units to the ones inside, every fault named with its line and field."""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from marshmallow import Schema, ValidationError

from advisor.errors import RowFault
from advisor.records.kinds import Field, Kind, Vocabulary
from advisor.records.moments import read_date, read_time
from advisor.records.schemas import Known, schema_for
from advisor.records.store import NewRow
from advisor.records.tables import Table
from advisor.records.units import column_names

ABOUT_THE_SAYING = ("said_by", "said_at", "words")
"""Columns that any file may have beside its kind's fields."""
DECIMAL_COMMA = re.compile(r"[-+−]?\d+,\d+")


@dataclass(frozen=True, slots=True)
class Column:
    field: Field
    convert: Callable[[float], float]


@dataclass(frozen=True, slots=True)
class Told:
    """One checked row, with who told it and when where the file says so."""

    row: NewRow
    by: str = ""
    at: datetime | None = None


class RowReader:
    """Turns a table's rows into checked ones, for one kind or, with a kind column, for each row's own.

    ``renamed`` maps a file's own column names to ours, or to "" to leave a column out.
    """

    def __init__(self, kinds: Vocabulary, known: Known, renamed: Mapping[str, str]) -> None:
        self.kinds, self.known, self.renamed = kinds, known, renamed
        self._schemas: dict[str, Schema] = {}
        self._columns: dict[str, dict[str, Column]] = {}

    def header(self, table: Table, kind: str | None) -> list[RowFault]:
        """Return what is wrong with a table's columns, for its kind or for those that its kind column may name."""
        header = [self.renamed.get(name, name) for name in table.header]
        wanted = [kind] if kind else [name for name, spec in self.kinds.items() if spec.origin == "recorded"]
        every = {column: spec for name in wanted for column, spec in self.columns_of(name).items()}
        faults: list[RowFault] = []
        taken: dict[str, str] = {}
        nearly: set[str] = set()
        for column in header:
            if not column and "" in self.renamed.values():
                continue
            hit = every.get(column)
            if column in (*ABOUT_THE_SAYING, *([] if kind else ["kind"])) and hit is None:
                continue
            at = f"column {column or '(empty)'}"
            if hit is None:
                faults.append(RowFault(table.name, 1, at, "no such field", _suggest(column, every)))
                nearly |= {spec.field.name for known, spec in every.items() if known.rsplit("_", 1)[0] == column}
            elif hit.field.name in taken:
                faults.append(RowFault(table.name, 1, at, f"also given as {taken[hit.field.name]}", "one of them"))
            else:
                taken[hit.field.name] = column
        for spec in self.kinds[kind].fields.values() if kind else ():
            if spec.required and spec.name not in taken and spec.name not in nearly:
                names = f"a column {' or '.join(column_names(spec.name, spec.unit))}"
                faults.append(RowFault(table.name, 1, "header", f"no column for {spec.name}", names))
        return faults

    def columns_of(self, kind: str) -> dict[str, Column]:
        """Return every column name under which a kind's fields may arrive."""
        if kind not in self._columns:
            self._columns[kind] = {
                column: Column(spec, convert)
                for spec in self.kinds[kind].fields.values()
                for column, convert in column_names(spec.name, spec.unit).items()
            }
        return self._columns[kind]

    def row(
        self, table: Table, line: int, raw: Mapping[str, Any], kind: str | None
    ) -> tuple[Told | None, list[RowFault]]:
        """Return one row checked, or what is wrong with it."""
        cells = {self.renamed.get(name, name): cell for name, cell in raw.items()}
        cells.pop("", None)
        name = kind or str(cells.pop("kind", ""))
        if name not in self.kinds or self.kinds[name].origin != "recorded":
            recorded = [key for key, spec in self.kinds.items() if spec.origin == "recorded"]
            near = difflib.get_close_matches(name, recorded, n=1)
            wanted = f"{near[0]}?" if near else f"one of {', '.join(recorded)}"
            return None, [RowFault(table.name, line, "kind", repr(name), wanted)]
        spec, columns = self.kinds[name], self.columns_of(name)
        faults: list[RowFault] = []
        inside: dict[str, Any] = {}
        for column, cell in cells.items():
            hit = columns.get(column)
            if hit is not None:
                inside[hit.field.name] = _inside(cell, hit, table.decimal_comma)
            elif column not in ABOUT_THE_SAYING:
                faults.append(RowFault(table.name, line, column, repr(cell), f"nothing there for a {name}"))
        by, at = str(cells.get("said_by", "")), self._said_at(table, line, cells, faults)
        try:
            values = self._schema(spec).load(inside)
        except ValidationError as error:
            return None, faults + _faults(table.name, line, error, cells, columns)
        if faults:
            return None, faults
        return Told(NewRow(name, values, words=str(cells.get("words", "")), line=line), by, at), []

    def _said_at(self, table: Table, line: int, cells: Mapping[str, Any], faults: list[RowFault]) -> datetime | None:
        text = str(cells.get("said_at", ""))
        if not text:
            return None
        try:
            if re.search(r"\d:\d", text):
                return read_time(text, self.known.zone, self.known.day_first)
            noon = f"{read_date(text, self.known.day_first).isoformat()} 12:00"
            return read_time(noon, self.known.zone, self.known.day_first)
        except ValueError as error:
            faults.append(RowFault(table.name, line, "said_at", repr(text), str(error)))
            return None

    def _schema(self, kind: Kind) -> Schema:
        if kind.name not in self._schemas:
            self._schemas[kind.name] = schema_for(kind, self.known)
        return self._schemas[kind.name]


def _suggest(column: str, every: Mapping[str, Column]) -> str:
    with_unit = [known for known in every if known.rsplit("_", 1)[0] == column]
    if with_unit:
        return f"a column that says its unit: {' or '.join(with_unit)}"
    near = difflib.get_close_matches(column, every, n=1)
    return f"{near[0]}?" if near else f"one of {', '.join(every)}"


def _inside(cell: Any, column: Column, decimal_comma: bool) -> Any:
    """Return a cell in the unit inside; what is no number is left for the schema to refuse."""
    if not column.field.is_number or isinstance(cell, bool):
        return cell
    text = str(cell).replace("−", "-")
    if DECIMAL_COMMA.fullmatch(text) and (decimal_comma or len(text.split(",")[1]) != 3):
        text = text.replace(",", ".")
    try:
        return column.convert(float(text))
    except ValueError:
        return cell


def _faults(
    name: str, line: int, error: ValidationError, row: Mapping[str, Any], columns: Mapping[str, Column]
) -> list[RowFault]:
    column_of = {spec.field.name: column for column, spec in columns.items() if column in row}
    faults = []
    messages: Mapping[str, Any] = error.messages  # type: ignore[assignment]  # a row's errors are by field
    for field_name, wanted in messages.items():
        column = column_of.get(field_name, field_name)
        found = repr(row[column]) if column in row else "an empty cell"
        faults.append(RowFault(name, line, column, found, "; ".join(wanted)))
    return faults
