"""Raw rows to checked ones: columns to fields, units to the ones inside, every fault named with its line and field."""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from marshmallow import Schema, ValidationError

from advisor.errors import RowFault
from advisor.records.kinds import Field, Kind, Vocabulary
from advisor.records.moments import read_date, read_time
from advisor.records.schemas import Known, schema_for
from advisor.records.store import NewRow
from advisor.records.tables import Table
from advisor.records.units import column_names, plain_number

ABOUT_THE_SAYING = ("said_by", "said_at", "words")
"""Columns that any file may have beside its kind's fields."""


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
        wanted = [kind] if kind else [name for name, spec in self.kinds.items() if spec.origin == "recorded"]
        every = {column: spec for name in wanted for column, spec in self.columns_of(name).items()}
        faults: list[RowFault] = []
        taken: dict[str, str] = {}
        nearly: set[str] = set()
        for theirs in table.header:
            column = self.ours(theirs)
            if not column and "" in self.renamed.values():
                continue
            hit = every.get(column)
            if column in (*ABOUT_THE_SAYING, *([] if kind else ["kind"])) and hit is None:
                continue
            at = f"column {(column if theirs in self.renamed else theirs) or '(empty)'}"
            if hit is None:
                near, wanted_name = suggest(column, every)
                faults.append(RowFault(table.name, 1, at, "no such field", wanted_name))
                nearly |= {every[name].field.name for name in near}
            elif hit.field.name in taken:
                faults.append(RowFault(table.name, 1, at, f"also given as {taken[hit.field.name]}", "one of them"))
            else:
                taken[hit.field.name] = column
        for spec in self.kinds[kind].fields.values() if kind else ():
            if spec.required and spec.name not in taken and spec.name not in nearly:
                names = f"a column {' or '.join(column_names(spec.name, spec.unit))}"
                faults.append(RowFault(table.name, 1, "header", f"no column for {spec.name}", names))
        return faults

    def ours(self, column: str) -> str:
        """Return our name of a file's column: as told, else without regard to capitals and spaces."""
        return self.renamed[column] if column in self.renamed else fold(column)

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
        cells = {self.ours(name): cell for name, cell in raw.items()}
        cells.pop("", None)
        told = cells.pop("kind", "") if kind is None else ""
        name = kind or fold(str(told))
        if name not in self.kinds or self.kinds[name].origin != "recorded":
            recorded = [key for key, spec in self.kinds.items() if spec.origin == "recorded"]
            near = difflib.get_close_matches(name, recorded, n=1, cutoff=0.8)
            wanted = f"{near[0]}?" if near else f"one of {', '.join(recorded)}"
            return None, [RowFault(table.name, line, "kind", repr(str(told)), wanted)]
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
            if not re.search(r"\d:\d", text):
                text = f"{read_date(text, self.known.day_first).isoformat()} 12:00"
            at = read_time(text, self.known.zone, self.known.day_first)
            if self.known.today and at.date() > self.known.today + timedelta(days=1):
                raise ValueError("a day that has come; is the year right?")
            return at
        except (ValueError, OverflowError) as error:
            faults.append(RowFault(table.name, line, "said_at", repr(str(cells["said_at"])), str(error)))
            return None

    def _schema(self, kind: Kind) -> Schema:
        if kind.name not in self._schemas:
            self._schemas[kind.name] = schema_for(kind, self.known)
        return self._schemas[kind.name]


def fold(name: str) -> str:
    """Return a name as our own are written.

    >>> fold(" Depth cm"), fold("Soil-reading")
    ('depth_cm', 'soil_reading')
    """
    return re.sub(r"[ _-]+", "_", name.strip().casefold())


def suggest(column: str, every: Mapping[str, Column]) -> tuple[list[str], str]:
    """Return the columns that an unknown one may mean, and what is wanted in words."""
    stem = column.rsplit("_", 1)[0]
    with_unit = [known for known in every if known.rsplit("_", 1)[0] in (column, stem) and known != stem]
    if with_unit:
        return with_unit, f"a column that says its unit: {' or '.join(with_unit)}"
    near = difflib.get_close_matches(column, every, n=1)
    return near, f"{near[0]}?" if near else f"one of {', '.join(every)}"


def _inside(cell: Any, column: Column, decimal_comma: bool) -> Any:
    """Return a cell in the unit inside; what is no number is left for the schema to refuse."""
    if not column.field.is_number or isinstance(cell, bool):
        return cell
    number = plain_number(str(cell), decimal_comma)
    return cell if number is None else column.convert(number)


def _faults(
    name: str, line: int, error: ValidationError, row: Mapping[str, Any], columns: Mapping[str, Column]
) -> list[RowFault]:
    column_of = {spec.field.name: column for column, spec in columns.items() if column in row}
    faults = []
    messages: Mapping[str, list[str]] = error.messages  # type: ignore[assignment]  # a row's errors are by field
    for field_name, wanted in messages.items():
        column = column_of.get(field_name, field_name)
        found = repr(row[column]) if column in row else "an empty cell"
        if column in columns and column != field_name:
            wanted = [_in_its_unit(text, column, columns[column]) for text in wanted]
        faults.append(RowFault(name, line, column, found, "; ".join(wanted)))
    return faults


def _in_its_unit(wanted: str, name: str, column: Column) -> str:
    """Return what is wanted with a field's bounds in the unit of the column that the file has."""
    low, high = column.field.min, column.field.max
    if low is None or high is None or " between " not in wanted:
        return wanted
    zero, step = column.convert(0.0), column.convert(1.0) - column.convert(0.0)
    ends = sorted((bound - zero) / step for bound in (low, high))
    return f"{name} between {ends[0]:.4g} and {ends[1]:.4g}; is it in another unit?"
