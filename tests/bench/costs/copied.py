"""A folder of files to import, many times over."""

from __future__ import annotations

import csv
from collections.abc import Collection, Iterator
from pathlib import Path

NAMED = ("name", "spot", "plant", "to_spot", "grafted_on", "trial")
ONCE = ("place", "weather_day", "weather_hour")


def enlarged(source: Path, folder: Path, times: int, once: Collection[str] = ONCE) -> Path:
    """Write a garden's files with every spot and plant so many times over, each copy with a number before its name.

    Kinds of ``once`` are of the place and not of a plant or spot, and stay as they are.
    """
    for path in source.glob("*.csv"):
        with path.open(newline="", encoding="utf-8") as file:
            rows = list(csv.DictReader(file))
        copies = 1 if path.stem in once else times
        with (folder / path.name).open("w", newline="", encoding="utf-8") as file:
            writer = csv.DictWriter(file, rows[0])
            writer.writeheader()
            for copy in range(copies):
                for row in rows:
                    writer.writerow(row if copies == 1 else dict(_numbered(row, copy)))
    return folder


def _numbered(row: dict[str, str], copy: int) -> Iterator[tuple[str, str]]:
    for name, value in row.items():
        yield name, f"no {copy + 1} {value}" if name in NAMED and value else value
