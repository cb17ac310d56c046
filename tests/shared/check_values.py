"""The project's shared table of check values: rows of some topics, none where the table is not beside this checkout."""

from __future__ import annotations

import csv
import os
from pathlib import Path

BESIDE = Path(__file__).resolve().parents[2].parent / "shared" / "reference" / "check_values.csv"
TABLE = Path(os.environ.get("ADVISOR_CHECK_VALUES", BESIDE))
HERE = TABLE.is_file()
NOT_HERE = "the shared check values are not beside this checkout"
TOPICS = {
    "heat": ("1 ", "2 ", "3 ", "4 ", "3/4 "),
    "frost": ("5 ", "6 ", "7 "),
    "soil": ("8 ", "10 "),
    "sun": ("9 ",),
    "text messages": ("12 ",),
}
"""Which test module takes which topics, by how their names begin."""

Row = dict[str, str]


def rows_of(part: str) -> list[Row]:
    """Return the rows of a part's topics."""
    return [row for row in every_row() if row["topic"].startswith(TOPICS[part])]


def every_row() -> list[Row]:
    if not HERE:
        return []
    with TABLE.open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines))
