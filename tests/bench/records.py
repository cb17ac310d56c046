"""What the records cost: ``python tests/bench/records.py [--hours 1000000] [--rounds 5]``.

Prints, measured side by side in one run: rows a second through the store beside bare sqlite3 for the same rows, the
state of the garden with 1, 5 and 20 years of logs, and an hourly weather file of a million rows. Nothing passes or
fails; figures are medians.
"""

from __future__ import annotations

import argparse
import csv
import sqlite3
import tempfile
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from statistics import median
from time import perf_counter

from advisor.config import Settings, find_rules
from advisor.conversation import Adviser
from advisor.doors.demo import demo_folder
from advisor.reasoning.state import garden_state
from advisor.records.importing import import_path
from advisor.records.store import NewRow, Said

NOW = datetime(2026, 4, 24, 10, tzinfo=UTC)
PLACE = NewRow(
    "place", {"name": "Hill", "latitude_deg": 47.0, "longitude_deg": 15.0, "time_zone": "UTC", "units": "metric"}
)


def writing(adviser: Adviser, folder: Path, count: int, rounds: int) -> None:
    """Print rows a second of the store's bulk write and of bare executemany for the same rows."""
    said = Said("file", "bench", NOW)
    start = datetime(1990, 1, 1, tzinfo=UTC)
    rows = [
        NewRow("weather_hour", {"at": start + timedelta(hours=n), "temp_c": n % 30 / 2, "source": "s"}, line=n)
        for n in range(count)
    ]
    ours, bare = [], []
    for number in range(rounds):
        with adviser.open(folder / f"w{number}.db", create=True) as garden:
            garden.add([(said, [PLACE])])
            begun = perf_counter()
            garden.add([(said, rows)])
            ours.append(count / (perf_counter() - begun))
        conn = sqlite3.connect(folder / f"b{number}.db")
        conn.execute("PRAGMA journal_mode = WAL")
        conn.execute("PRAGMA foreign_keys = ON")
        conn.execute("CREATE TABLE said (id INTEGER PRIMARY KEY) STRICT")
        conn.execute("INSERT INTO said VALUES (1)")
        conn.execute(
            "CREATE TABLE weather_hour (id INTEGER PRIMARY KEY, said_id INTEGER REFERENCES said(id), line INTEGER, words TEXT,"
            " at TEXT, spot INTEGER, temp_c REAL, dew_point_c REAL, rain_mm REAL, source TEXT) STRICT"
        )
        begun = perf_counter()
        plain = [(n, 1, n, None, row.values["at"].isoformat(), None, row.values["temp_c"], None, None, "s")  # type: ignore[union-attr]
                 for n, row in enumerate(rows, start=1)]  # fmt: skip
        with conn:
            conn.executemany(f"INSERT INTO weather_hour VALUES ({', '.join('?' * 10)})", plain)
        bare.append(count / (perf_counter() - begun))
        conn.close()
    share = median(ours) / median(bare)
    print(
        f"bulk write of {count} rows: {median(ours):,.0f} rows/s, bare executemany {median(bare):,.0f} rows/s: {share:.2f} of it"
    )


def state(adviser: Adviser, folder: Path, years: int, rounds: int) -> None:
    """Print the time of the garden's state with so many years of the demo's logs."""
    path = folder / f"y{years}.db"
    with adviser.open(path, create=True) as garden:
        import_path(garden, demo_folder(), adviser.lore, NOW)
        rows = [
            NewRow("stage", {**fact.values, "on": day.replace(year=day.year - 3 * back, day=min(day.day, 28))})
            for back in range(1, (years + 2) // 3)
            for fact in garden.of("stage")
            if (day := fact.day("on"))
        ]
        if rows:
            garden.add([(Said("file", "bench", NOW), rows)])
    times = []
    for _ in range(rounds):
        with adviser.open(path) as garden:
            begun = perf_counter()
            garden_state(garden, adviser.lore, date(2026, 4, 24))
            times.append((perf_counter() - begun) * 1000)
            count = len(garden.of("stage"))
    print(f"state of the garden with {years:2} years of logs ({count} stages): {median(times):.1f} ms")


def hourly(adviser: Adviser, folder: Path, count: int) -> None:
    """Print the time of an hourly weather file's import."""
    path = folder / "hours.csv"
    start = datetime(1910, 1, 1, tzinfo=UTC)
    with path.open("w", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(["at", "temp_c"])
        writer.writerows(
            [(start + timedelta(hours=n)).strftime("%Y-%m-%dT%H:%MZ"), f"{(n % 24) * 0.7 - 5 + n % 365 / 40:.1f}"]
            for n in range(count)
        )
    with adviser.open(folder / "hours.db", create=True) as garden:
        garden.add([(Said("file", "bench", NOW), [PLACE])])
        begun = perf_counter()
        done = import_path(garden, path, adviser.lore, NOW, kind="weather_hour")
        took = perf_counter() - begun
    print(f"hourly weather, {count} rows: {took:.1f} s, {count / took:,.0f} rows/s; {done.added}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--hours", type=int, default=1_000_000)
    parser.add_argument("--rounds", type=int, default=5)
    chosen = parser.parse_args()
    adviser = Adviser.load(Settings(Path("unset.db"), find_rules()))
    with tempfile.TemporaryDirectory() as folder:
        writing(adviser, Path(folder), 100_000, chosen.rounds)
        for years in (1, 5, 20):
            state(adviser, Path(folder), years, chosen.rounds)
        hourly(adviser, Path(folder), chosen.hours)


if __name__ == "__main__":
    main()
