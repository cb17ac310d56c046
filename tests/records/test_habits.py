"""A spreadsheet's and a logger's habits: dates, commas, encodings, mixed sheets; dry run and keep-good."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from advisor.conversation import Adviser
from advisor.errors import BadRows
from advisor.records.importing import import_path
from advisor.records.moments import read_date
from advisor.records.store import Garden

NOW = datetime(2026, 4, 24, 10, tzinfo=UTC)
PLACE = "name,latitude_deg,longitude_deg,time_zone,units\nHill,47,15,Europe/Vienna,{}\n"
SPOT = "name\nbed\nwall\n"


@pytest.mark.parametrize(
    ("text", "day_first", "found"),
    [
        ("2026-04-05", None, date(2026, 4, 5)), ("2026/4/5", None, date(2026, 4, 5)), ("5.4.2026", False, date(2026, 4, 5)),
        ("4/5/2026", False, date(2026, 4, 5)), ("4/5/2026", True, date(2026, 5, 4)), ("13/5/2026", None, date(2026, 5, 13)),
        ("5/13/2026", None, date(2026, 5, 13)), ("05-04-2026", True, date(2026, 4, 5)), ("29.2.2024", None, date(2024, 2, 29)),
    ],
)  # fmt: skip
def test_dates_as_people_write_them(text: str, day_first: bool | None, found: date) -> None:
    """Year first, or day and month by the place; with no place a day over twelve, and always points, settle it."""
    assert read_date(text, day_first) == found


@pytest.mark.parametrize(("text", "day_first"), [("13/5/2026", False), ("5/13/2026", True)])
def test_a_date_in_the_other_order_is_not_turned_round(text: str, day_first: bool) -> None:
    """Among dates with the month first, one with the day first is a slip or shows that all are; it is asked."""
    with pytest.raises(ValueError, match="--date-order"):
        read_date(text, day_first)


def test_a_file_shows_its_own_order_where_no_place_does(put, garden: Garden) -> None:
    """13/5 shows that 4/5 in the same column is the fourth of May, before any place is known."""
    put(weather_day="on,min_c,max_c\n13/5/2025,5,15\n4/5/2025,4,14\n")
    assert {fact.day("on") for fact in garden.of("weather_day")} == {date(2025, 5, 13), date(2025, 5, 4)}


@pytest.mark.parametrize("text", ["4/5/2026", "29.2.2026", "1/1/26", "2026-13-01", "April 5", "", "5.4", "1-2.2026"])
def test_dates_that_cannot_be_told(text: str) -> None:
    """What could be two dates, or none, is never guessed."""
    with pytest.raises(ValueError, match="year"):
        read_date(text, None)


@pytest.mark.parametrize(("units", "day"), [("us", date(2026, 4, 5)), ("metric", date(2026, 5, 4))])
def test_the_place_settles_the_order_of_dates(put, garden: Garden, units: str, day: date) -> None:
    """4/5 is April in US units and May in metric ones, also where the place comes with the same import."""
    put(place=PLACE.format(units), spot=SPOT, cover="spot,material,put_on\nbed,straw,4/5/2025\n")
    found = garden.of("cover")[0].day("put_on")
    assert found == day.replace(year=2025)


def test_times_with_an_afternoon(put, garden: Garden) -> None:
    """1:30 PM in Vienna in April is 11:30 UTC; noon and midnight are 12."""
    rows = "bed,9,4/6/2026 1:30 PM\nbed,8,4/7/2026 12:05 AM\nbed,7,4/8/2026 12:10 pm\n"
    put(place=PLACE.format("us"), spot=SPOT, soil_reading="spot,temp_c,at\n" + rows)
    assert [f.values["at"].strftime("%d %H:%M") for f in garden.of("soil_reading")] == [
        "06 11:30",
        "06 22:05",
        "08 10:10",
    ]  # type: ignore[union-attr]


def test_decimal_commas_and_semicolons(put, garden: Garden) -> None:
    """A German spreadsheet: semicolons, decimal commas, a byte-order mark, empty columns at the end, blank rows."""
    text = "\ufeffspot;temp_c;depth_cm;at;;\r\nbed;12,5;10;2026-04-05 13:30;;\r\n;;;;;\r\n wall ;−0,5;10;2026-04-05 13:40;;\r\n"
    put(place=PLACE.format("metric"), spot=SPOT, soil_reading=text)
    assert [(f.text("spot"), f.number("temp_c")) for f in garden.of("soil_reading")] == [("bed", 12.5), ("wall", -0.5)]


def test_latin_letters_of_an_old_spreadsheet(put, garden: Garden) -> None:
    """A file that is not UTF-8 is read as Windows-1252, and that is said."""
    done = put(place=PLACE.format("metric"), spot="name\nKüche\n".encode("cp1252"))
    assert garden.names("spot") == ["Küche"]
    assert any("read as Windows-1252" in note for note in done.notes)


def test_one_sheet_of_mixed_rows(put, garden: Garden) -> None:
    """A kind column says what each row is; a cell of another kind's field is a fault, not lost."""
    put(place=PLACE.format("metric"))
    mixed = "kind,name,species,spot,plant,on,bbch,aspect\nspot,bed,,,,,,S\nplant,old fig,fig,bed,,,,\nstage,,,,old fig,2026-04-05,7,\n"
    done = put(notebook=mixed)
    assert done.added == {"spot": 1, "plant": 1, "stage": 1}
    with pytest.raises(BadRows, match="nothing there for a stage"):
        put(more="kind,plant,on,bbch,aspect\nstage,old fig,2026-04-06,9,S\n")


def test_json_lines(adviser: Adviser, garden: Garden, put, tmp_path: Path) -> None:
    """One object a line, with its kind; numbers and yes or no as JSON has them."""
    put(place=PLACE.format("metric"))
    rows = [
        {"kind": "spot", "name": "bed", "low_lying": True, "sun_h": 6.5},
        {"kind": "spot", "name": "wall", "low_lying": None},
    ]
    (tmp_path / "rows.jsonl").write_text("\n".join(map(json.dumps, rows)) + "\n\n")
    assert import_path(garden, tmp_path / "rows.jsonl", adviser.lore, NOW).added == {"spot": 2}
    assert [(f.get("low_lying"), f.number("sun_h")) for f in garden.of("spot")] == [(True, 6.5), (None, None)]


def test_a_dry_run_says_what_would_be_added(adviser: Adviser, garden: Garden, put, tmp_path: Path) -> None:
    """The summary is that of the import, and nothing is there afterwards."""
    put(place=PLACE.format("metric"))
    (tmp_path / "spot.csv").write_text(SPOT)
    dry = import_path(garden, tmp_path / "spot.csv", adviser.lore, NOW, dry_run=True)
    assert (dry.added, dry.dry, garden.of("spot")) == ({"spot": 2}, True, [])
    assert import_path(garden, tmp_path / "spot.csv", adviser.lore, NOW).added == dry.added


def test_keep_good_lets_the_sound_rows_in(adviser: Adviser, garden: Garden, put, tmp_path: Path) -> None:
    """Wrong rows are named and left out, and so are rows that stand on one left out."""
    put(place=PLACE.format("metric"))
    folder = tmp_path / "in"
    folder.mkdir()
    (folder / "spot.csv").write_text("name,aspect\nbed,S\nwall,upward\n")
    (folder / "cover.csv").write_text("spot,material,put_on\nbed,straw,2025-01-01\nwall,straw,2025-01-01\n")
    done = import_path(garden, folder, adviser.lore, NOW, keep_good=True)
    assert done.added == {"spot": 1, "cover": 1}
    assert [(f.file, f.line, f.field) for f in done.faults] == [("spot.csv", 3, "aspect"), ("cover.csv", 3, "spot")]
