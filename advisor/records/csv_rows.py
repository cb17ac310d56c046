"""One CSV file into rows: columns to fields, units to the ones inside, every fault named with its line and field."""

from __future__ import annotations

import csv
import difflib
import io
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from marshmallow import ValidationError

from advisor.errors import RowFault
from advisor.records.kinds import Field, Kind
from advisor.records.schemas import Known, schema_for
from advisor.records.store import NewRow
from advisor.records.units import column_names

ABOUT_THE_SAYING = ("said_by", "said_at", "words")
"""Columns that any file may have beside its kind's fields."""


@dataclass(frozen=True, slots=True)
class _Column:
    field: Field
    convert: Callable[[float], float]


def _reader(text: str) -> Any:
    delimiter = ";" if ";" in text.split("\n", 1)[0] else ","
    return csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)


def names_in(text: str, renamed: Mapping[str, str]) -> set[str]:
    """Return what stands in a file's name column, so that rows of any file may refer to it."""
    try:
        header, *rows = [[cell.strip() for cell in cells] for cells in _reader(text) if any(cells)]
    except (csv.Error, ValueError):
        return set()
    header = [renamed.get(cell, cell) for cell in header]
    at = header.index("name") if "name" in header else -1
    return {cells[at] for cells in rows if 0 <= at < len(cells) and cells[at]}


def read_rows(
    name: str, text: str, kind: Kind, known: Known, renamed: Mapping[str, str]
) -> tuple[list[NewRow], list[RowFault]]:
    """Return the rows of a CSV file and every fault found in it.

    ``renamed`` maps a file's own column names to ours, or to "" to leave a column out. Lines count from 1, the
    header included.
    """
    reader = _reader(text)
    faults: list[RowFault] = []
    rows: list[NewRow] = []
    try:
        header = [renamed.get(cell.strip(), cell.strip()) for cell in next(reader, [])]
        columns = _columns(name, header, kind, renamed, faults)
        if faults:
            return [], faults
        schema = schema_for(kind, known)
        for cells in reader:
            if not any(cell.strip() for cell in cells):
                continue
            line = reader.line_num
            if len(cells) != len(header):
                faults.append(RowFault(name, line, "row", f"{len(cells)} cells", f"{len(header)}, as the header has"))
                continue
            row = {column: cell.strip() for column, cell in zip(header, cells, strict=True) if cell.strip()}
            inside = {columns[column].field.name: _inside(cell, columns[column]) for column, cell in row.items()
                      if column in columns}  # fmt: skip
            try:
                rows.append(NewRow(kind.name, schema.load(inside), words=row.get("words", ""), line=line))
            except ValidationError as error:
                faults += _faults(name, line, error, row, columns)
    except csv.Error as error:
        faults.append(RowFault(name, reader.line_num, "row", str(error), "a CSV row with its quotes closed"))
    return rows, faults


def _columns(
    name: str, header: list[str], kind: Kind, renamed: Mapping[str, str], faults: list[RowFault]
) -> dict[str, _Column]:
    every = {
        column: _Column(spec, convert)
        for spec in kind.fields.values()
        for column, convert in column_names(spec.name, spec.unit).items()
    }
    found: dict[str, _Column] = {}
    taken: dict[str, str] = {}
    nearly: set[str] = set()
    for column in header:
        beside = column in ABOUT_THE_SAYING and column not in kind.fields
        if beside or (not column and "" in renamed.values()):
            continue
        hit = every.get(column)
        if hit is None:
            faults.append(RowFault(name, 1, f"column {column or '(empty)'}", "no such field", _suggest(column, every)))
            nearly |= {spec.field.name for known, spec in every.items() if known.rsplit("_", 1)[0] == column}
        elif hit.field.name in taken:
            earlier = f"also given as {taken[hit.field.name]}"
            faults.append(RowFault(name, 1, f"column {column}", earlier, "one of them"))
        else:
            found[column] = hit
            taken[hit.field.name] = column
    for spec in kind.fields.values():
        if spec.required and spec.name not in taken and spec.name not in nearly:
            wanted = " or ".join(column_names(spec.name, spec.unit))
            faults.append(RowFault(name, 1, "header", f"no column for {spec.name}", f"a column {wanted}"))
    return found


def _suggest(column: str, every: Mapping[str, _Column]) -> str:
    with_unit = [known for known in every if known.rsplit("_", 1)[0] == column]
    if with_unit:
        return f"a column that says its unit: {' or '.join(with_unit)}"
    near = difflib.get_close_matches(column, every, n=1)
    return f"{near[0]}?" if near else f"one of {', '.join(every)}"


def _inside(cell: str, column: _Column) -> str | float:
    """Return a cell in the unit inside; what is no number is left for the schema to refuse."""
    if not column.field.is_number:
        return cell
    try:
        return column.convert(float(cell))
    except ValueError:
        return cell


def _faults(
    name: str, line: int, error: ValidationError, row: Mapping[str, str], columns: Mapping[str, _Column]
) -> list[RowFault]:
    column_of = {spec.field.name: column for column, spec in columns.items()}
    faults = []
    messages: Mapping[str, Any] = error.messages  # type: ignore[assignment]  # a row's errors are by field
    for field_name, wanted in messages.items():
        column = column_of.get(field_name, field_name)
        found = repr(row[column]) if column in row else "an empty cell"
        faults.append(RowFault(name, line, column, found, "; ".join(wanted)))
    return faults
