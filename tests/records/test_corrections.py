"""Out of use and back: hours take their days along, an undone file can come again, and nothing is left hanging."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from advisor.conversation import Adviser
from advisor.errors import BadInput
from advisor.facts import Recorded
from advisor.records.corrections import correct, retire, undo
from advisor.records.importing import Imported, import_path
from advisor.records.store import Garden, Said

NOW = datetime(2026, 4, 24, 10, tzinfo=UTC)
SAID = Said("command", "test", NOW)
PLACE = "name,latitude_deg,longitude_deg,time_zone,units\nTest Hill,47.0,15.0,Europe/Vienna,metric\n"
HOURS = "at,temp_c\n" + "\n".join(f"2026-04-01 {h:02d}:00,{h / 2 + 1}" for h in range(24))


@pytest.fixture
def load(adviser: Adviser, garden: Garden, put, tmp_path: Path):
    """Import a file given as text into a garden with a place."""
    put(place=PLACE)

    def loaded(name: str, text: str, **more: object) -> Imported:
        (tmp_path / name).write_text(text, encoding="utf-8")
        return import_path(garden, tmp_path / name, adviser.lore, NOW, **more)  # type: ignore[arg-type]

    return loaded


def maxima(garden: Garden) -> list[float | None]:
    return [fact.number("max_c") for fact in garden.of("weather_day")]


def hour(garden: Garden, temp_c: float) -> int:
    (origin,) = [fact.origin for fact in garden.of("weather_hour") if fact.number("temp_c") == temp_c]
    assert isinstance(origin, Recorded)
    return origin.row_ids[0]


def test_an_hour_takes_its_day_along(load, garden: Garden) -> None:
    """Retired, corrected, undone: the day is worked out anew each time."""
    load("weather_hour.csv", HOURS, station="s")
    assert maxima(garden) == [12.5]
    retire(garden, "weather_hour", hour(garden, 12.5), Said("command", "one", NOW), reason="sun on the sensor")
    assert maxima(garden) == [12.0]
    correct(garden, "weather_hour", hour(garden, 12.0), {"temp_c": 14.0}, Said("command", "two", NOW), reason="misread")
    assert maxima(garden) == [14.0]
    undo(garden, "two", SAID)
    assert maxima(garden) == [12.0]
    undo(garden, "one", SAID)
    assert maxima(garden) == [12.5]


def test_a_day_with_too_few_hours_left_goes(load, garden: Garden) -> None:
    """Of twenty hours one is retired: nineteen make no day."""
    load("weather_hour.csv", "\n".join(HOURS.split("\n")[:21]), station="s")
    assert len(maxima(garden)) == 1
    retire(garden, "weather_hour", hour(garden, 5.0), SAID, reason="a slip")
    assert maxima(garden) == []


def test_an_undone_import_can_come_again(load, garden: Garden) -> None:
    """The same file goes in again after it was taken back, and only then."""
    text = "name,aspect\nbed,S\nwall,S\n"
    load("spot.csv", text)
    assert load("spot.csv", text).known_files == ["spot.csv"]
    assert len(undo(garden, "spot.csv", Said("undo", "spot.csv", NOW))) == 2
    assert garden.of("spot") == []
    assert load("spot.csv", text).added == {"spot": 2}


def test_undo_takes_back_the_last_import_of_a_name(load, garden: Garden) -> None:
    """A file of the same name imported before stays."""
    load("spot.csv", "name,aspect\nbed,S\n")
    load("spot.csv", "name,aspect\nbed,S\nwall,W\n")
    undo(garden, "spot.csv", SAID)
    assert [fact.text("name") for fact in garden.of("spot")] == ["bed"]


def test_undo_leaves_nothing_hanging(load, garden: Garden) -> None:
    """A spot on which later records rest is not taken back; the records are named."""
    load("spot.csv", "name\nbed\n")
    load("cover.csv", "spot,material,put_on\nbed,straw,2026-01-01\n")
    with pytest.raises(BadInput, match="later records rest on it: cover/1"):
        undo(garden, "spot.csv", SAID)
    assert len(garden.of("spot")) == 1


def test_an_older_sheet_does_not_undo_what_came_later(load, garden: Garden) -> None:
    """A cell left empty says nothing: the day the straw came off stays; what does change is named."""
    load("spot.csv", "name\nbed\n")
    sheet = "spot,material,put_on,taken_off,depth_cm\nbed,straw,2026-01-01,{},{}\n"
    load("cover.csv", sheet.format("2026-04-01", 8))
    done = load("cover.csv", sheet.format("", 10))
    (cover,) = garden.of("cover")
    assert (str(cover.day("taken_off")), cover.number("depth_cm")) == ("2026-04-01", 10.0)
    assert [str(change) for change in done.changes] == ["cover.csv, line 2: cover/1: depth_cm 8.0 is now 10.0"]
    assert load("cover.csv", sheet.format("", "")).added == {}
