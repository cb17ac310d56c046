"""What is told a second time: grown files, mended files, other values, other capitals, and what was taken out of use."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from click.testing import CliRunner

from advisor.conversation import Adviser
from advisor.doors.command_line import main
from advisor.errors import BadRows
from advisor.facts import Recorded
from advisor.records.corrections import retire
from advisor.records.exporting import export_folder
from advisor.records.importing import Imported, import_path
from advisor.records.store import Garden, Said

NOW = datetime(2026, 4, 24, 10, tzinfo=UTC)
PLACE = "name,latitude_deg,longitude_deg,time_zone,units\nTest Hill,47.0,15.0,Europe/Vienna,metric\n"
PLANTS = "name,species,spot\nWall Fig,fig,south wall\n"


@pytest.fixture
def load(adviser: Adviser, garden: Garden, put, tmp_path: Path):
    """Import a file given as text into a garden of one fig: ``load("stage.csv", "plant,on,bbch\\n...")``."""
    put(place=PLACE, spot="name\nsouth wall\nyard\n", plant=PLANTS)

    def loaded(name: str, text: str, **more: object) -> Imported:
        (tmp_path / name).write_text(text, encoding="utf-8")
        return import_path(garden, tmp_path / name, adviser.lore, NOW, **more)  # type: ignore[arg-type]

    return loaded


def days_of(garden: Garden) -> list[tuple[object, object, object, object]]:
    return [
        (f.values["on"], f.number("min_c"), f.number("max_c"), f.number("rain_mm")) for f in garden.of("weather_day")
    ]


def test_a_plant_told_with_other_capitals_keeps_its_log(load, garden: Garden) -> None:
    """The same fig with a small letter and another spot is the same fig, and its stages stay with it."""
    load("stage.csv", "plant,on,bbch\nWall Fig,2026-04-02,3\n")
    assert load("plant.csv", "name,species,spot\nwall fig,fig,yard\n").changed == {"plant": 1}
    assert [fact.text("name") for fact in garden.of("plant")] == ["wall fig"]
    assert [fact.text("plant") for fact in garden.of("stage")] == ["wall fig"]


def test_a_day_that_was_half_done_is_put_right(load, garden: Garden) -> None:
    """A station file read before the day was over and again after it: the later values stand, the count says so."""
    load("weather_day.csv", "on,min_c,max_c\n2026-04-01,2,11\n2026-04-02,3,5\n", station="yard")
    done = load("weather_day.csv", "on,min_c,max_c\n2026-04-01,2,11\n2026-04-02,3,15\n", station="yard")
    assert (done.added, done.changed, done.known_rows) == ({"weather_day": 1}, {"weather_day": 1}, 1)
    assert sorted(days_of(garden), key=str)[-1] == (date(2026, 4, 2), 3.0, 15.0, None)
    assert len(days_of(garden)) == 2


def test_a_value_left_out_later_is_not_lost(load, garden: Garden) -> None:
    """An empty cell is not known: the rain told before stays."""
    load("weather_day.csv", "on,min_c,max_c,rain_mm\n2026-04-01,2,11,4\n", station="yard")
    load("weather_day.csv", "on,min_c,max_c\n2026-04-01,2,12\n", station="yard")
    assert days_of(garden) == [(date(2026, 4, 1), 2.0, 12.0, 4.0)]


def test_another_unit_puts_a_wrong_one_right(load, garden: Garden) -> None:
    """The same file with the right unit is read again, and its values stand."""
    text = "date,low,high\n2026-04-01,30,34\n2026-04-02,31,35\n"
    load("weather_day.csv", text, station="yard", temperature_unit="c")
    load("weather_day.csv", text, station="yard", temperature_unit="f")
    assert sorted(round(low, 1) for _, low, _, _ in days_of(garden)) == [-1.1, -0.6]  # type: ignore[call-overload]


@pytest.mark.parametrize(
    ("name", "first", "line"),
    [
        ("stage.csv", "plant,on,bbch\nWall Fig,2026-04-02,3\n", "Wall Fig,2026-04-09,7\n"),
        ("weather_day.csv", "on,min_c,max_c,source\n2026-04-01,2,11,yard\n", "2026-04-02,3,12,yard\n"),
    ],
)
def test_what_was_taken_out_of_use_stays_out(load, garden: Garden, name: str, first: str, line: str) -> None:
    """A file that grew by a line does not bring back the row that the grower retired."""
    kind = name.removesuffix(".csv")
    load(name, first)
    (origin,) = [fact.origin for fact in garden.of(kind)]
    assert isinstance(origin, Recorded)
    retire(garden, kind, origin.row_ids[0], Said("command", "retire", NOW), reason="wrong")
    done = load(name, first + line)
    assert (done.added, done.known_rows) == ({kind: 1}, 1)
    assert len(garden.of(kind)) == 1


def test_rows_left_out_come_in_once_they_are_sound(load, garden: Garden) -> None:
    """A row that named an unknown fig was left out; with the fig recorded, the same file brings it in."""
    text = "plant,on,bbch\nWall Fig,2026-04-02,3\nnew fig,2026-04-03,5\n"
    assert load("stage.csv", text, keep_good=True).added == {"stage": 1}
    load("plant.csv", PLANTS + "new fig,fig,yard\n")
    assert load("stage.csv", text).added == {"stage": 1}
    assert len(garden.of("stage")) == 2


def test_exported_days_and_hours_go_in_once(load, garden: Garden, adviser: Adviser, tmp_path: Path) -> None:
    """Hours make a day; exported beside their day, they do not make it twice in another garden."""
    hours = "\n".join(f"2026-04-01 {h:02d}:00,{h / 2 + 1}" for h in range(24))
    load("weather_hour.csv", f"at,temp_c\n{hours}\n", station="yard")
    assert len(days_of(garden)) == 1
    export_folder(garden, tmp_path / "out")
    (tmp_path / "out" / "history.jsonl").unlink()
    with adviser.open(tmp_path / "other.db", create=True) as other:
        import_path(other, tmp_path / "out", adviser.lore, NOW)
        assert days_of(other) == days_of(garden)


def test_trace_rain_and_capitals_of_a_spot_are_read(load, garden: Garden) -> None:
    """T for a trace of rain is none to speak of; a spot may be written with capitals."""
    load("weather_day.csv", "on,min_c,max_c,rain_mm,spot\n2026-04-01,2,11,T,South Wall\n", station="yard")
    assert days_of(garden) == [(date(2026, 4, 1), 2.0, 11.0, 0.0)]
    assert garden.of("weather_day")[0].text("spot") == "south wall"


def test_a_list_for_yes_or_no_is_a_fault(load) -> None:
    """No crash: the row is named."""
    row = {"kind": "inspection", "plant": "Wall Fig", "on": "2026-04-01", "gnawed": [1]}
    with pytest.raises(BadRows, match="gnawed"):
        load("sheet.jsonl", json.dumps(row))


def test_a_line_separator_within_a_note_does_not_cut_it(load, garden: Garden) -> None:
    """U+2028 may stand within a JSON string."""
    load("stage.jsonl", '{"plant": "Wall Fig", "on": "2026-04-01", "bbch": 3, "words": "tight\u2028bud"}\n')
    assert len(garden.of("stage")) == 1


def test_an_exported_folder_is_restored_whole(load, garden: Garden, tmp_path: Path) -> None:
    """With its history into a new garden; told to go dry, nothing; into a garden with records, by its tables."""
    export_folder(garden, tmp_path / "out")
    new = ["--garden", str(tmp_path / "new.db")]
    dry = CliRunner().invoke(main, ["import", str(tmp_path / "out"), "--dry-run", *new])
    assert dry.exit_code == 0 and "would be restored" in dry.output
    assert not (tmp_path / "new.db").exists()
    done = CliRunner().invoke(main, ["import", str(tmp_path / "out"), *new])
    assert done.exit_code == 0 and "rows restored" in done.output, done.output
    again = CliRunner().invoke(main, ["import", str(tmp_path / "out"), *new])
    assert again.exit_code == 0 and "recorded already" in again.output, again.output
