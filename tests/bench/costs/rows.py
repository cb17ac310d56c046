"""Files in and rows out beside bare sqlite3, and a replay of weather beside a bare pass over as many hours."""

from __future__ import annotations

import csv
import sqlite3
from contextlib import closing
from pathlib import Path
from tempfile import TemporaryDirectory

from advisor.records.importing import import_path
from costs.gardens import NOW, Gardens, Size
from costs.timing import Sample, cpu_of, repeated, rounds, table, timed, wall_of

KINDS = ("stage", "work", "growth", "move", "soil_reading", "advice", "weather_day")


def tell_imports(gardens: Gardens, size: Size, most: int, budget_s: float) -> None:
    """Print what an import takes beside bare sqlite3 for the same rows of the same files."""
    files = gardens.made(size) / "files"
    ours: list[Sample] = []
    bare: list[Sample] = []
    rows = 0
    for _ in rounds(most, budget_s):
        with TemporaryDirectory() as name:
            folder = Path(name)

            def bring_in(folder: Path = folder) -> None:
                nonlocal rows
                with gardens.adviser.open(folder / "garden.db", create=True) as garden:
                    rows = sum(import_path(garden, files, gardens.adviser.lore, NOW).added.values())

            ours.append(timed(bring_in))
            bare.append(timed(lambda folder=folder: _bare_import(files, folder / "bare.db")))
    print(f"\n{size}: {rows} rows imported")
    _tell("ours", "bare sqlite3 of the same files", ours, bare)


def _bare_import(files: Path, path: Path) -> None:
    with closing(sqlite3.connect(path)) as conn, conn:
        for file in sorted(files.glob("*.csv")):
            with file.open(newline="", encoding="utf-8") as lines:
                header, *cells = list(csv.reader(lines))
            columns = ", ".join(f'"{name}"' for name in header)
            conn.execute(f"CREATE TABLE {file.stem} ({columns})")
            conn.executemany(f"INSERT INTO {file.stem} VALUES ({', '.join('?' * len(header))})", cells)


def tell_reading(gardens: Gardens, size: Size, most: int, budget_s: float) -> None:
    """Print what it takes to have a garden's rows as facts beside a bare SELECT of the same rows."""
    kinds = [kind for kind in KINDS if kind in gardens.adviser.base.kinds]
    with gardens.copy(size) as asked:
        count = 0

        def read() -> None:
            nonlocal count
            with asked.adviser.open(asked.path) as garden:
                count = sum(len(garden.of(kind)) for kind in kinds)

        def select() -> None:
            with closing(sqlite3.connect(asked.path)) as conn:
                for kind in kinds:
                    conn.execute(f"SELECT * FROM {kind}").fetchall()

        anew: list[Sample] = []
        for _ in rounds(most, budget_s):
            asked.forget()
            anew.append(timed(read))
        bare = repeated(select, most, budget_s)
        again = repeated(read, most, budget_s)
    print(f"\n{size}: {count} rows read")
    _tell("as facts, read first", "bare SELECT", anew, bare)
    _tell("as facts, read again", "bare SELECT", again, bare)


def _tell(what: str, beside: str, ours: list[Sample], bare: list[Sample]) -> None:
    table(
        ("", "cpu ms", "wall ms", "times, cpu", "times, wall"),
        [
            (what, cpu_of(ours), wall_of(ours), cpu_of(ours) / cpu_of(bare), wall_of(ours) / wall_of(bare)),
            (beside, cpu_of(bare), wall_of(bare), 1.0, 1.0),
        ],
    )
