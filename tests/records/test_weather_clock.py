"""A logger's clock, unit and station: judged from the whole file and from what the station did before."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from advisor.conversation import Adviser
from advisor.errors import BadInput, BadRows
from advisor.records.importing import Imported, import_path
from advisor.records.store import Garden

NOW = datetime(2026, 4, 24, 10, tzinfo=UTC)
PLACE = "name,latitude_deg,longitude_deg,time_zone,units\nTest Hill,{},15.0,{},{}\n"
WINTER_VIENNA = timedelta(hours=1)


@pytest.fixture
def load(adviser: Adviser, garden: Garden, put, tmp_path: Path):
    """Import a weather file given as lines: ``load(lines)``; the place is told by ``at`` the first time."""

    def loaded(lines: list[str], name: str = "logger.csv", at: str = "", **more: object) -> Imported:
        if at or not garden.of("place"):
            zone, units, latitude = (at or "Europe/Vienna,metric,47").split(",")
            put(place=PLACE.format(latitude, zone, units))
        (tmp_path / name).write_text("\n".join(lines))
        kind = more.pop("kind", "weather_hour")
        return import_path(garden, tmp_path / name, adviser.lore, NOW, kind=kind, **more)  # type: ignore[arg-type]

    return loaded


def by_winter_clock(start: str, count: int) -> list[str]:
    """Return hours by a clock that never changes, in Vienna's winter time."""
    first = datetime.fromisoformat(start)
    moments = [first + timedelta(hours=n) for n in range(count)]
    return ["time,temperature", *(f"{m:%Y-%m-%d %H:%M},{(m.hour - 4) * 0.7 - 9 + m.day * 0.1:.1f}" for m in moments)]


def times(garden: Garden) -> list[datetime]:
    return sorted(f.values["at"] for f in garden.of("weather_hour"))  # type: ignore[type-var]


def clock(garden: Garden) -> list[str]:
    return [fact.text("clock") for fact in garden.of("weather_station")]


def test_one_row_in_the_skipped_hour_does_not_turn_a_file_round(load, garden: Garden) -> None:
    """Where another spring leaves the hour out, the row is a slip: it is named, and the rest is local time."""
    local = [row for row in by_winter_clock("2024-03-30 00:00", 60) if "2024-03-31 02:" not in row]
    lines = [*local, *by_winter_clock("2025-03-29 00:00", 60)[1:]]
    with pytest.raises(BadRows, match="clocks were put forward") as caught:
        load(lines)
    assert len(caught.value.faults) == 1
    load(lines, keep_good=True)
    assert times(garden)[-1] == datetime(2025, 3, 31, 9, tzinfo=UTC)


def test_a_lone_row_in_the_skipped_hour_shows_nothing(load) -> None:
    """A reading at 02:30 of that night without its neighbours is no logger's clock."""
    with pytest.raises(BadRows, match="clocks were put forward"):
        load(["time,temp_c", "2025-03-30 02:30,4", "2025-06-01 12:00,20"])


def test_what_a_station_showed_is_remembered(load, garden: Garden) -> None:
    """A winter-time logger seen in spring is read so in summer, when its file alone could not tell."""
    load(by_winter_clock("2025-03-29 00:00", 60))
    assert clock(garden) == ["winter"]
    done = load(by_winter_clock("2025-07-01 00:00", 24), name="logger-2025-07-01.csv")
    assert times(garden)[-1] == datetime(2025, 7, 1, 23, tzinfo=UTC) - WINTER_VIENNA
    assert not any("cannot be told" in note for note in done.notes)


def test_a_summer_file_alone_says_that_its_clock_is_assumed(load, garden: Garden) -> None:
    """It is read as the place's time, and said; told otherwise, it is read and remembered otherwise."""
    lines = by_winter_clock("2025-07-01 00:00", 24)
    done = load(lines)
    assert any("read as the place's own" in note and "--clock winter" in note for note in done.notes)
    assert clock(garden) == [""]
    load(lines, clock="winter")
    assert clock(garden) == ["winter"]
    assert times(garden)[-1] == datetime(2025, 7, 1, 22, tzinfo=UTC)


def test_a_clock_that_turns_is_a_fault(load) -> None:
    """A station known to change its clock has rows in the skipped hour: nobody can tell, so it is asked."""
    local = [row for row in by_winter_clock("2024-03-30 00:00", 60) if "2024-03-31 02:" not in row]
    load(local)
    with pytest.raises(BadRows, match="--clock local or winter"):
        load(by_winter_clock("2025-03-29 00:00", 60), name="logger-2025.csv")


def test_the_south_turns_its_clocks_the_other_way(load, garden: Garden) -> None:
    """In Hobart the hour is left out in October and repeated in April; a winter-time logger is told all the same."""
    load(by_winter_clock("2025-10-04 00:00", 60), at="Australia/Hobart,metric,-42.9")
    found = times(garden)
    assert clock(garden) == ["winter"]
    assert found[0] == datetime(2025, 10, 3, 14, tzinfo=UTC)
    assert found[-1] - found[0] == timedelta(hours=59)


def test_a_cold_month_in_the_us_is_asked_about(load, garden: Garden) -> None:
    """-7 to 30 may be °F there; told once, the station's next file needs no telling, and another unit is a fault."""
    lines = ["date,tmin,tmax", "2026-01-10,-7,20", "2026-01-11,-3,24", "2026-01-12,2,30"]
    with pytest.raises(BadRows, match="fit °C and °F"):
        load(lines, at="America/Chicago,us,44", kind="weather_day")
    load(lines, kind="weather_day", temperature_unit="f")
    more = ["date,tmin,tmax", "2026-01-13,-6,21", "2026-01-14,-4,25"]
    load(more, kind="weather_day", name="logger-2026-02.csv")
    assert garden.of("weather_day")[-1].number("min_c") == pytest.approx(-20.0)
    whole_year = [
        "date,tmin,tmax",
        *(f"2025-{n // 28 + 1:02d}-{n % 28 + 1:02d},{n % 9},{n % 13 + 10}" for n in range(280)),
    ]
    with pytest.raises(BadRows, match="this station wrote °F until now"):
        load(whole_year, kind="weather_day", name="logger-2025.csv")


def test_dated_files_are_of_one_station(load, garden: Garden) -> None:
    """A logger that writes a file a night does not make a station a night; another name is asked about."""
    for day in (1, 2, 3):
        load(["on,min_c,max_c", f"2026-03-0{day},{day},1{day}"], name=f"yard-2026-03-0{day}.csv", kind="weather_day")
    assert {fact.text("source") for fact in garden.of("weather_day")} == {"yard"}
    with pytest.raises(BadRows, match="one of yard, or a new one"):
        load(["on,min_c,max_c", "2026-03-04,4,14"], name="airport.csv", kind="weather_day")
    load(["on,min_c,max_c", "2026-03-04,4,14"], name="airport.csv", kind="weather_day", station="airport")
    with pytest.raises(BadRows, match="airport, yard"):
        load(["on,min_c,max_c", "2026-03-05,4,14"], name="weather_day.csv", kind="weather_day")


def test_a_sensor_stuck_over_two_files_is_found(load, garden: Garden) -> None:
    """Three days in one file and two in the next: all five go out of use, and stay in the file with the reason."""
    head = "on,min_c,max_c"
    load(
        [head, "2026-02-01,0,5", *(f"2026-02-0{n},1.3,7.7" for n in (2, 3, 4))],
        name="a.csv",
        station="s",
        kind="weather_day",
    )
    assert len(garden.of("weather_day")) == 4
    done = load(
        [head, *(f"2026-02-0{n},1.3,7.7" for n in (5, 6)), "2026-02-07,2,9"],
        name="b.csv",
        station="s",
        kind="weather_day",
    )
    assert [fact.text("on") or fact.day("on").day for fact in garden.of("weather_day")] == [1, 7]  # type: ignore[union-attr]
    assert {fact.text("why") for fact in garden.of("weather_doubt")} == {"stuck"} and len(
        garden.of("weather_doubt")
    ) == 5
    assert any("recorded before: 2026-02-02" in note for note in done.notes)
    assert "found doubtful" in {row["reason"] for row in garden.db.query("SELECT reason FROM ruling")}


def test_a_spike_at_the_end_of_a_file_is_found_later(load, garden: Garden) -> None:
    """The hour counts until its neighbour comes; then it goes, and its day is worked out without it."""
    lines = by_winter_clock("2026-01-10 00:00", 22)
    load([*lines, "2026-01-10 22:00,-30"], name="a.csv", station="s", temperature_unit="c")
    assert garden.of("weather_day")[0].number("min_c") == -30
    load([lines[0], "2026-01-10 23:00,3.5", "2026-01-11 00:00,3"], name="b.csv", station="s", temperature_unit="c")
    (day,) = garden.of("weather_day")
    assert day.number("min_c") == pytest.approx(-10.8)
    assert [fact.text("why") for fact in garden.of("weather_doubt")] == ["spike"]


def test_a_day_told_is_not_replaced_by_its_hours(load, garden: Garden) -> None:
    """A station's own day stands, also where hours come in another import."""
    load(["on,min_c,max_c", "2026-01-10,-12,9"], name="d.csv", station="s", kind="weather_day")
    load(by_winter_clock("2026-01-10 00:00", 24), name="h.csv", station="s", temperature_unit="c")
    assert [(f.number("min_c"), f.number("max_c")) for f in garden.of("weather_day")] == [(-12.0, 9.0)]


def test_weather_in_a_mixed_sheet_is_checked_too(load, garden: Garden) -> None:
    """Of rows with a kind column, weather goes through the same checks as a file of weather."""
    done = load(
        ["kind,on,min_c,max_c", "weather_day,2026-04-20,15.4,3.1", "Weather Day,2026-04-21,3,12"],
        name="m.csv",
        kind=None,
    )
    assert [fact.text("why") for fact in garden.of("weather_doubt")] == ["max below min"]
    assert len(garden.of("weather_day")) == 1
    assert any("kept apart (line 2)" in note for note in done.notes)


def test_options_that_are_none_are_refused(load) -> None:
    """Also in Python, where no command line checks them."""
    with pytest.raises(BadInput, match="temperature unit 'k'"):
        load(["on,min,max", "2026-01-10,1,2"], kind="weather_day", temperature_unit="k")
