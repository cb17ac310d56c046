"""A garden into files: one CSV a kind as they came in, and one JSON Lines file of everything with its history."""

from __future__ import annotations

import csv
import json
from collections.abc import Iterator, Sequence
from datetime import date, datetime
from pathlib import Path
from typing import Any

from advisor.errors import BadInput
from advisor.facts import Value
from advisor.records.browsing import rows_in_use
from advisor.records.kinds import Kind
from advisor.records.schema import THINGS
from advisor.records.store import Garden

HISTORY = "history.jsonl"
FORMAT = "advisor history 1"
FIXED_TABLES = ("thing", "said", "ruling", "message")
RUNS_IN_A_SPREADSHEET = ("=", "+", "-", "@", "\t", "\r", "'")


def export_folder(garden: Garden, folder: Path) -> dict[str, int]:
    """Write a garden's rows in use as CSV files, and its whole history, into a new or empty folder.

    Returns the rows written by kind. Raises BadInput where the folder has something in it.
    """
    if folder.exists() and any(folder.iterdir()):
        raise BadInput(f"exporting to {folder}", "the folder is not empty", "Name a new folder")
    folder.mkdir(parents=True, exist_ok=True)
    counts = {}
    for kind in garden.kinds.values():
        if kind.origin == "recorded" and (told := _fields_told(garden, kind)):
            with (folder / f"{kind.name}.csv").open("w", newline="", encoding="utf-8") as file:
                counts[kind.name] = _write(garden, kind, told, csv.writer(file, lineterminator="\n"))
    with (folder / HISTORY).open("w", encoding="utf-8", newline="\n") as file:
        for line in history(garden):
            file.write(json.dumps(line, ensure_ascii=False) + "\n")
    return counts


def _fields_told(garden: Garden, kind: Kind) -> list[str]:
    """Return the fields of a kind that any row in use has."""
    in_use, known = garden.in_use(kind.name)
    asked = ", ".join(f'MAX("{name}" IS NOT NULL)' for name in kind.fields)
    told = garden.db.conn.execute(f"SELECT {asked} FROM {kind.name} WHERE {in_use}", known).fetchone()
    return [name for name, is_told in zip(kind.fields, told, strict=True) if is_told]


def _write(garden: Garden, kind: Kind, fields: Sequence[str], writer: Any) -> int:
    own_words = "words" in kind.fields
    writer.writerow([*fields, "said_by", "said_at", *([] if own_words else ["words"])])
    count = 0
    for row in rows_in_use(garden, kind):
        beside = [row.said.by, row.said.at.isoformat(), *([] if own_words else [row.words])]
        writer.writerow([*(cell(row.values.get(name)) for name in fields), *map(cell, beside)])
        count += 1
    return count


def cell(value: Value | None) -> str:
    """Return a value as a cell. Text that a spreadsheet would run as a formula gets an apostrophe before it."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, datetime | date):
        return value.isoformat()
    return f"'{value}" if value.startswith(RUNS_IN_A_SPREADSHEET) else value


def history(garden: Garden) -> Iterator[dict[str, Any]]:
    """Yield everything in a garden file, row by row, as its tables hold it: retired rows, rulings and messages too."""
    yield {"format": FORMAT}
    kinds = [*THINGS, *(n for n, k in garden.kinds.items() if k.origin == "recorded" and n not in THINGS)]
    for table in ("thing", "said", *kinds, "ruling", "message"):
        for row in garden.db.query(f"SELECT * FROM {table} ORDER BY rowid"):
            yield {"table": table, "row": row}


def is_history(path: Path) -> bool:
    """Return whether a file is a whole history, as ``export_folder`` writes it."""
    if path.suffix != ".jsonl" or not path.is_file():
        return False
    with path.open(encoding="utf-8", errors="replace") as file:
        return file.readline().strip() == json.dumps({"format": FORMAT})


def restore_history(garden: Garden, path: Path, *, dry_run: bool = False) -> int:
    """Put a whole history into an empty garden file, row for row, and return how many rows there were.

    With ``dry_run`` every line is read and nothing is put in.

    Raises BadInput, with nothing changed, where the garden is not empty or a line is not of a history.
    """
    (there,) = garden.db.conn.execute("SELECT (SELECT COUNT(*) FROM said) + (SELECT COUNT(*) FROM message)").fetchone()
    if there:
        raise BadInput(f"restoring {path.name}", "the garden file has records in it", "Restore into a new file")
    kinds = [n for n, k in garden.kinds.items() if k.origin == "recorded"]
    columns = {table: set(garden.db.table(table).columns_dict) for table in (*FIXED_TABLES, *kinds)}
    count = 0
    with garden.writing("restoring into"), path.open(encoding="utf-8") as file:
        next(file)
        for number, text in enumerate(file, start=2):
            try:
                line = json.loads(text)
                table, row = line["table"], line["row"]
                if table not in columns or not set(row) <= columns[table]:
                    raise ValueError(f"no table {table!r} with columns {', '.join(row)}")
            except (ValueError, KeyError, TypeError) as error:
                found = f"line {number}: {error}"
                raise BadInput(f"restoring {path.name}", found, "Export again; nothing was changed") from None
            if not dry_run:
                garden.insert(table, row)
            count += 1
    return count
