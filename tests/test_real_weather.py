"""Real weather from a registry package, imported by the command and used in a derived fact.

Seattle 2012-2015, daily, from vega_datasets 0.9.0 (package MIT, data of the US government): seattle-weather.csv.
"""

from __future__ import annotations

import csv
from datetime import date
from pathlib import Path
from statistics import median

import pytest
from click.testing import CliRunner

from advisor.calc.degree_days import single_sine_degree_days
from advisor.conversation import Adviser
from advisor.doors.command_line import main
from advisor.facts import Recorded
from advisor.reasoning.derive import Scene, derive

COLUMNS = ("date=on", "temp_max=max_c", "temp_min=min_c", "precipitation=rain_mm", "wind=", "weather=")
PLACE = "name,latitude_deg,longitude_deg,time_zone,units\nReal Weather,47.6,-122.3,America/Los_Angeles,us\n"


@pytest.fixture(scope="module")
def real(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[dict[str, str]]]:
    """A garden with the real days in it, imported by the command, and the file's own rows."""
    vega = pytest.importorskip("vega_datasets")
    source = Path(vega.__file__).parent / "_data" / "seattle-weather.csv"
    folder = tmp_path_factory.mktemp("real")
    (folder / "place.csv").write_text(PLACE)
    garden = folder / "garden.db"
    columns = [part for column in COLUMNS for part in ("--column", column)]
    for arguments in (
        ["import", str(folder / "place.csv"), "--garden", str(garden)],
        ["import", str(source), "--kind", "weather_day", *columns, "--garden", str(garden)],
    ):
        done = CliRunner().invoke(main, arguments)
        assert done.exit_code == 0, done.output
    with source.open(newline="") as file:
        return garden, list(csv.DictReader(file))


def test_every_day_is_imported_as_it_stands(adviser: Adviser, real: tuple[Path, list[dict[str, str]]]) -> None:
    """Four years of days, with the file's own extremes, come out of the garden again."""
    path, rows = real
    with adviser.open(path) as garden:
        days = garden.of("weather_day")
        place = garden.row("weather_day", 1)
    assert len(days) == len(rows) == 1461
    assert min(day.number("min_c") or 0 for day in days) == min(float(row["temp_min"]) for row in rows)
    assert max(day.number("max_c") or 0 for day in days) == max(float(row["temp_max"]) for row in rows)
    assert (place["said"]["ref"], place["line"]) == ("seattle-weather.csv", 2)


def test_a_derived_fact_uses_them(adviser: Adviser, real: tuple[Path, list[dict[str, str]]]) -> None:
    """Heat up to 30 April 2015 equals a sum written here over the file, and so does the median of earlier years."""
    path, rows = real
    base_c = adviser.lore.species["apple"].base_c

    def total(year: int) -> float:
        return sum(
            single_sine_degree_days(float(row["temp_min"]), float(row["temp_max"]), base_c)
            for row in rows
            if f"{year}-01-01" <= row["date"].replace("/", "-") <= f"{year}-04-30"
        )

    def whole(year: int) -> float:  # a leap year's span to the same count of days ends on 29 April
        end = 119 if year == 2012 else 120
        days = [row for row in rows if row["date"].replace("/", "-").startswith(str(year))][: end + (year == 2012)]
        return sum(single_sine_degree_days(float(row["temp_min"]), float(row["temp_max"]), base_c) for row in days)

    with adviser.open(path) as garden:
        scene = Scene(garden, adviser.lore, date(2015, 4, 30), "where-to-plant", species="apple")
        (heat,) = derive(scene, ["heat_so_far"], adviser.base.kinds).of("heat_so_far")
    assert heat.number("sum_dd") == pytest.approx(total(2015), abs=0.1)
    assert heat.number("usual_dd") == pytest.approx(median(whole(year) for year in (2012, 2013, 2014)), abs=0.1)
    assert (heat.number("years"), heat.number("missing_days")) == (3, 0)
    (span,) = heat.origin.facts
    assert isinstance(span.origin, Recorded) and len(span.origin.row_ids) == 120 * 4
