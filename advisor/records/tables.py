"""Files into raw rows: CSV with a spreadsheet's habits, or JSON Lines. Nothing is judged here but the form."""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from advisor.errors import RowFault

MOST_NESTED = 100
BRACKETS = re.compile(r"[\[\]{}]")
STRINGS = re.compile(r'"(?:[^"\\]|\\.)*"')
SUFFIXES = (".csv", ".tsv", ".txt", ".jsonl")


@dataclass
class Table:
    """A file's raw rows, each with its line from 1, and what was wrong with its form.

    ``header`` are the columns as the file names them. ``decimal_comma`` says that numbers may have one, since the
    cells are parted by something else.
    """

    name: str
    header: tuple[str, ...] = ()
    rows: list[tuple[int, dict[str, Any]]] = field(default_factory=list)
    faults: list[RowFault] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    decimal_comma: bool = False


def read_table(path: Path) -> Table:
    """Return the raw rows of a CSV or JSON Lines file; blank rows and outer spaces are left out."""
    table = Table(path.name)
    text = _text(path, table)
    if text is None:
        return table
    if path.suffix == ".jsonl":
        _read_lines(text, table)
    else:
        _read_csv(text, table)
    return table


def _text(path: Path, table: Table) -> str | None:
    content = path.read_bytes()
    nulls = content[1:400:2].count(0)
    if nulls > 0.7 * len(content[1:400:2]):  # UTF-16 as some spreadsheets save it, without its mark
        content = b"\xff\xfe" + content
    if b"\0" in content[:4096] and not content.startswith((b"\xff\xfe", b"\xfe\xff")):
        table.faults.append(RowFault(path.name, 0, "text", "a binary file", "a CSV or JSON Lines file"))
        return None
    try:
        if content.startswith((b"\xff\xfe", b"\xfe\xff")):
            return content.decode("utf-16")
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        if path.suffix == ".jsonl":
            found = f"byte {error.start} is not UTF-8"
            table.faults.append(RowFault(path.name, 0, "text", found, "a file saved as UTF-8"))
            return None
    table.notes.append(f"{path.name} is not UTF-8; read as Windows-1252, so look at names with accents")
    return content.decode("cp1252", errors="replace")


def _read_lines(text: str, table: Table) -> None:
    names: dict[str, None] = {}
    for line, row in enumerate(text.replace("\r\n", "\n").split("\n"), start=1):
        if not row.strip():
            continue
        try:
            _refuse_nested(row)
            read = json.loads(row, object_pairs_hook=_once_each)
        except (ValueError, RecursionError) as error:
            found = "JSON nested too deep" if isinstance(error, RecursionError) else f"no sound JSON ({error})"
            table.faults.append(RowFault(table.name, line, "row", found, "one object a line, each name in it once"))
            continue
        if not isinstance(read, dict):
            table.faults.append(RowFault(table.name, line, "row", f"a {type(read).__name__}", "one object a line"))
            continue
        kept = {str(name): value for name, value in read.items() if value is not None and value != ""}
        names |= dict.fromkeys(kept)
        table.rows.append((line, kept))
    table.header = tuple(names)


def _refuse_nested(row: str) -> None:
    """Raise RecursionError for JSON nested beyond all sense; how deep the reader goes depends on the Python."""
    if row.count("[") + row.count("{") > MOST_NESTED:
        depth = 0
        for mark in BRACKETS.findall(STRINGS.sub("", row)):
            depth += 1 if mark in "[{" else -1
            if depth > MOST_NESTED:
                raise RecursionError


def _once_each(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        twice = next(name for name, _ in pairs if sum(name == other for other, _ in pairs) > 1)
        raise ValueError(f"{twice!r} stands twice")
    return found


def _read_csv(text: str, table: Table) -> None:
    first = next((line for line in text.splitlines() if line.strip()), "")
    if not any(mark in first for mark in ",;\t") and re.search(r"\S\s{2,}\S", first):  # columns set with spaces
        text = "\n".join("\t".join(line.split()) for line in text.splitlines())
        first = text.split("\n", 1)[0]
    delimiter = max(",;\t", key=lambda mark: (first.count(mark), mark == ","))
    table.decimal_comma = delimiter != ","
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    begins = 1
    try:
        for cells in _filled(reader):
            cleaned = [_cell(cell) for cell in cells]
            if not table.header:
                while cleaned and not cleaned[-1]:  # a spreadsheet's empty last columns
                    cleaned.pop()
                table.header = tuple(cleaned)
                begins = reader.line_num + 1
                continue
            line, width = reader.line_num, len(table.header)
            begins = line + 1
            while len(cleaned) > width and not cleaned[-1]:
                cleaned.pop()
            if len(cleaned) > width:
                found, wanted = f"{len(cleaned)} cells", f"{width}, as the header has; is there a comma in a name?"
                table.faults.append(RowFault(table.name, line, "row", found, wanted))
                continue
            cleaned += [""] * (width - len(cleaned))
            row = {name: cell for name, cell in zip(table.header, cleaned, strict=True) if cell}
            table.rows.append((line, row))
    except csv.Error as error:
        wanted = "a CSV row with its quotes closed; is there a stray quote from this line on?"
        table.faults.append(RowFault(table.name, begins, "row", str(error), wanted))
    if not table.header and not table.faults:
        table.faults.append(RowFault(table.name, 0, "file", "nothing in it", "a header and rows"))


def _filled(reader: Any) -> Iterator[list[str]]:
    return (cells for cells in reader if any(cell.strip() for cell in cells))


def _cell(cell: str) -> str:
    """Return a cell without outer spaces, and without the apostrophe that keeps a spreadsheet from running it."""
    cell = cell.replace("\u00a0", " ").strip()
    return cell[1:] if len(cell) > 1 and cell[0] == "'" and cell[1] in "=+-@\t\r'" else cell
