"""Weather files: what is guessed and said back, what is doubted and kept apart, hours summed up to days."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from pathlib import Path

import pytest

from advisor.conversation import Adviser
from advisor.errors import BadRows
from advisor.records.corrections import correct
from advisor.records.importing import Imported, import_path
from advisor.records.store import Garden, Said

NOW = datetime(2026, 4, 24, 10, tzinfo=UTC)
PLACE = "name,latitude_deg,longitude_deg,time_zone,units\nTest Hill,47.0,15.0,Europe/Vienna,metric\n"


@pytest.fixture
def weather(adviser: Adviser, garden: Garden, put, tmp_path: Path):
    """Import one weather file given as text: ``weather("on,min_c,max_c\\n...")``."""
    put(place=PLACE)

    def load(text: str, kind: str | None = "weather_day", name: str = "station.csv", **more: object) -> Imported:
        (tmp_path / name).write_text(text)
        return import_path(garden, tmp_path / name, adviser.lore, NOW, kind=kind, **more)  # type: ignore[arg-type]

    return load


def days(count: int, start: date = date(2026, 1, 1), header: str = "date,tmin,tmax") -> list[str]:
    """Return a plain series: minima and maxima that move a little each day."""
    rows = [f"{start + timedelta(days=n)},{(n * 7) % 5 - 6},{(n * 3) % 7 + 4}" for n in range(count)]
    return [header, *rows]


def rows(done: Imported) -> dict[str, int]:
    """Return the rows of weather added; what was learnt of the station is asked for by its own tests."""
    return {kind: count for kind, count in done.added.items() if kind != "weather_station"}


def doubts(garden: Garden) -> list[tuple[str, date]]:
    return [(f.text("why"), f.values["at"].astimezone(garden.zone()).date()) for f in garden.of("weather_doubt")]  # type: ignore[union-attr]


def test_columns_are_guessed_and_said_back(weather, garden: Garden) -> None:
    """date, tmin and tmax are read as such, the unit by its range, and all of it is told."""
    done = weather("\n".join(days(30)))
    assert rows(done) == {"weather_day": 30}
    assert any("read date as when" in note and "tmin as min_c" in note for note in done.notes)
    assert any("tmin taken as °C" in note for note in done.notes)


def test_fahrenheit_is_told_by_its_range(weather, garden: Garden) -> None:
    """A year that reaches 90 is in °F; 50 °F is 10 °C."""
    rows = [
        "date,min,max",
        *(f"{date(2025, 1, 1) + timedelta(days=n)},{20 + n % 40},{50 + n % 41}" for n in range(300)),
    ]
    done = weather("\n".join(rows))
    assert any("max taken as °F" in note for note in done.notes)
    assert garden.of("weather_day")[0].number("max_c") == pytest.approx(10.0)


def test_a_unit_that_fits_both_is_asked_for(weather, garden: Garden) -> None:
    """A month between 20 and 40 may be a cold one in °F or a hot one in °C; the unit given settles it."""
    lines = ["date,min,max", *(f"{date(2026, 1, 1) + timedelta(days=n)},{20 + n % 5},{30 + n % 9}" for n in range(30))]
    with pytest.raises(BadRows, match="fit °C and °F"):
        weather("\n".join(lines))
    assert rows(weather("\n".join(lines), temperature_unit="f")) == {"weather_day": 30}
    assert garden.of("weather_day")[0].number("min_c") == pytest.approx(-6.667, abs=0.001)


@pytest.mark.parametrize(
    ("line", "row", "why"),
    [
        (10, "2026-01-10,5,-3", "max below min"),
        (10, "2026-01-10,-40,5", "spike"),
        (10, "2026-01-10,-4,45", "looks like another unit"),
        (10, "2026-01-10,-99,5", "missing"),
        (10, "2026-01-10,-80,5", "out of range"),
    ],
)
def test_a_doubtful_day_is_named_and_kept_apart(weather, garden: Garden, line: int, row: str, why: str) -> None:
    """The day is not among the trusted ones, is kept with its reason, and the note names its line."""
    rows = days(30)
    rows[line] = row
    done = weather("\n".join(rows))
    assert done.added.get("weather_day") == 29
    if why == "missing":
        assert doubts(garden) == [] and any("without a temperature" in note for note in done.notes)
        return
    assert doubts(garden) == [(why, date(2026, 1, 10))]
    assert any(f"(line {line + 1})" in note and "kept apart" in note for note in done.notes)


def test_gaps_are_counted_and_named(weather) -> None:
    """Two days out of a month, and one more."""
    rows = days(30)
    del rows[20], rows[10:12]
    assert any(
        "3 days missing: 2026-01-10 to 2026-01-11, 2026-01-20" in note for note in weather("\n".join(rows)).notes
    )


def test_a_day_twice(weather, garden: Garden) -> None:
    """The same values twice are one day; other values make both doubtful."""
    lines = days(30)
    done = weather("\n".join([*lines, lines[5], "2026-01-08,-1,2"]))
    assert rows(done) == {"weather_day": 29, "weather_doubt": 2}
    assert doubts(garden) == [("twice with other values", date(2026, 1, 8))] * 2


def test_a_stuck_sensor(weather, garden: Garden) -> None:
    """Five days with the very same minimum and maximum are stuck; four may be chance."""
    for count, stuck in ((4, 0), (5, 5)):
        rows = days(60, date(2025 - count, 1, 1))
        for n in range(10, 10 + count):
            rows[n] = f"{rows[n].split(',')[0]},1.3,7.7"
        assert weather("\n".join(rows), name=f"s{count}.csv").added.get("weather_doubt", 0) == stuck


def test_a_file_in_the_wrong_unit_is_refused_whole(weather, garden: Garden) -> None:
    """Columns named °C with °F in them are no days in doubt but a file in doubt."""
    rows = [
        "on,min_c,max_c",
        *(f"{date(2025, 6, 1) + timedelta(days=n)},{55 + n % 9},{75 + n % 11}" for n in range(60)),
    ]
    with pytest.raises(BadRows, match="if they are °F, name the columns so"):
        weather("\n".join(rows))
    assert garden.of("weather_day") == garden.of("weather_doubt") == []


def hours(start: str, count: int) -> list[str]:
    """Return hours by a clock on the wall: a day's swing, and a little more each day."""
    first = datetime.fromisoformat(start)
    moments = [first + timedelta(hours=n) for n in range(count)]
    return ["time,temperature", *(f"{m:%Y-%m-%d %H:%M},{(m.hour - 4) * 0.7 - 9 + m.day * 0.1:.1f}" for m in moments)]


def moments(garden: Garden) -> list[datetime]:
    return sorted(f.values["at"] for f in garden.of("weather_hour"))  # type: ignore[type-var]


def test_hours_give_days(weather, garden: Garden) -> None:
    """A day's minimum and maximum are those of its local hours; a day with too few hours gives none."""
    done = weather("\n".join(hours("2026-01-10 00:00", 24 * 3 + 15)), kind="weather_hour")
    assert rows(done) == {"weather_hour": 87, "weather_day": 3}
    first = garden.of("weather_day")[0]
    assert (first.day("on"), first.number("min_c"), first.number("max_c")) == (date(2026, 1, 10), -10.8, 5.3)


def test_the_repeated_hour_of_autumn_is_two_hours(weather, garden: Garden) -> None:
    """Where the clocks go back, the second 02:00 is an hour after the first."""
    rows = [*hours("2025-10-25 00:00", 27), "2025-10-26 02:00,-8.5", *hours("2025-10-26 03:00", 20)[1:]]
    done = weather("\n".join(rows), kind="weather_hour")
    times = moments(garden)
    assert done.added["weather_hour"] == len(set(times)) == 48
    assert all(b - a == timedelta(hours=1) for a, b in pairwise(times))


def test_a_logger_that_keeps_winter_time(weather, garden: Garden) -> None:
    """A time that the clocks left out tells that the logger never changes: all of it is read so, and said."""
    done = weather("\n".join(hours("2026-03-28 00:00", 72)), kind="weather_hour")
    assert any("keeps winter time all year" in note for note in done.notes)
    times = moments(garden)
    assert times[0] == datetime(2026, 3, 27, 23, tzinfo=UTC) and len(times) == 72
    assert all(b - a == timedelta(hours=1) for a, b in pairwise(times))


def test_the_same_file_twice_and_a_file_that_has_grown(weather, garden: Garden) -> None:
    """Known days are passed over, doubtful ones too."""
    rows = days(30)
    rows[10] = "2026-01-10,5,-3"
    weather("\n".join(rows))
    assert weather("\n".join(rows)).known_files == ["station.csv"]
    grown = weather("\n".join([*rows, "2026-01-31,-3,6"]))
    assert (grown.added, grown.known_rows) == ({"weather_day": 1}, 29)


def test_of_several_stations_one_counts(weather, garden: Garden, adviser: Adviser) -> None:
    """The station that the place names counts, else the one with most days."""
    from advisor.reasoning.derive import Scene
    from advisor.reasoning.derive.weather import weather_of

    weather("\n".join(days(30)), station="far")
    weather("\n".join(days(20, header="on,min_c,max_c")), name="b.csv", station="near")
    assert len(weather_of(Scene(garden, adviser.lore, date(2026, 4, 24), "")).days) == 30
    correct(garden, "place", 1, {"station": "near"}, Said("message", "m", NOW), reason="told late")
    with adviser.open(garden.path) as again:
        assert len(weather_of(Scene(again, adviser.lore, date(2026, 4, 24), "")).days) == 20


def test_a_day_is_mended_when_its_last_hours_come(weather, garden: Garden) -> None:
    """A logger read in the evening gives a day too early; its last hours, alone in a later file, set it right."""
    rows = hours("2026-01-10 00:00", 24)
    weather("\n".join(rows[:22]), kind="weather_hour", name="evening.csv", station="s")
    assert [f.number("max_c") for f in garden.of("weather_day")] == [pytest.approx(3.2)]
    done = weather(
        "\n".join([rows[0], *rows[22:]]), kind="weather_hour", name="night.csv", station="s", temperature_unit="c"
    )
    assert (done.added, [f.number("max_c") for f in garden.of("weather_day")]) == (
        {"weather_hour": 3, "weather_day": 1}, [pytest.approx(5.3)]
    )  # fmt: skip


@pytest.mark.parametrize(
    ("row", "wanted"),
    [
        ("2026-04-02,2,10,-50", "rain between 0"),
        ("2026-04-02,2,10,5000", "rain between 0"),
        ("2062-04-02,1,12,0", "come"),
    ],
)
def test_rain_and_days_that_cannot_be_are_faults(weather, row: str, wanted: str) -> None:
    """Rain below none or over a metre, and a day to come, are named and not imported."""
    with pytest.raises(BadRows, match=wanted):
        weather(f"on,min_c,max_c,rain_mm\n2026-04-01,2,10,0\n{row}")


def test_a_file_of_days_is_known_by_its_columns(weather, garden: Garden) -> None:
    """A station's own file goes in though neither its name nor a column says what it holds, and the guess is said back."""
    done = weather("\n".join(days(30, header="Date,T min,T max")), kind=None, name="wx.csv")
    assert rows(done) == {"weather_day": 30}
    assert any("weather of days" in note for note in done.notes)


def test_one_doubtful_day_is_told_in_the_singular(weather) -> None:
    """One day has its maximum below its minimum; two days have theirs."""
    done = weather("\n".join([*days(30), "2026-02-20,9,2"]))
    assert any("1 day has a maximum below its minimum" in note for note in done.notes)
