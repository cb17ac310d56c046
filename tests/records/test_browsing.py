"""Rows by the page: the pages together are all rows, once each, and a page costs the same with ten years behind it."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from advisor.conversation import Adviser
from advisor.records.browsing import ALL, OUT_OF_USE, Wanted, overview, page_of
from advisor.records.browsing_told import search, told_lately
from advisor.records.corrections import correct, retire
from advisor.records.store import Garden, NewRow, Said

NOW = datetime(2026, 4, 24, 10, tzinfo=UTC)
PLACE = NewRow(
    "place",
    {"name": "Hill", "latitude_deg": 47.0, "longitude_deg": 15.0, "time_zone": "Europe/Vienna", "units": "metric"},
)


def told(garden: Garden, *rows: NewRow, ref: str = "x") -> list[tuple[str, int]]:
    return garden.add([(Said("page", ref, NOW), list(rows))])


@pytest.fixture
def days(garden: Garden) -> Garden:
    """A garden with ten years of weather days."""
    start = date(2016, 5, 1)
    rows = [
        NewRow("weather_day", {"on": start + timedelta(days=n), "min_c": n % 20 - 5.0, "max_c": n % 20 + 5.0})
        for n in range(3650)
    ]
    told(garden, PLACE)
    told(garden, *rows, ref="days.csv")
    return garden


def all_pages(garden: Garden, kind: str, wanted: Wanted) -> Iterator[list[int]]:
    older = ""
    while True:
        page = page_of(garden, garden.kinds[kind], wanted, older=older)
        yield [row.id for row in page.rows]
        older = page.older
        if not older:
            return


def test_the_pages_together_are_all_rows_once(days: Garden) -> None:
    """Walking from page to page shows each row once, the latest first."""
    pages = list(all_pages(days, "weather_day", Wanted()))
    assert [len(page) for page in pages] == [50] * 73
    assert [row for page in pages for row in page] == list(range(3650, 0, -1))


def test_undated_rows_stand_last_and_on_a_page_of_their_own(garden: Garden) -> None:
    """Plants whose planting day nobody knows follow the dated ones, also across the edge of a page, both ways."""
    dated = [
        NewRow("plant", {"name": f"d{n}", "species": "fig", "planted": date(2020, 1, 1 + n % 5)}) for n in range(60)
    ]
    undated = [NewRow("plant", {"name": f"u{n}", "species": "fig"}) for n in range(60)]
    told(garden, PLACE, *dated, *undated)
    kind = garden.kinds["plant"]
    pages = list(all_pages(garden, "plant", Wanted()))
    assert sorted(row for page in pages for row in page) == list(range(1, 121))
    assert all(row > 60 for row in [row for page in pages for row in page][60:])
    last = page_of(
        garden, kind, Wanted(), older=page_of(garden, kind, Wanted(), older=page_of(garden, kind, Wanted()).older).older
    )
    back = page_of(garden, kind, Wanted(), newer=last.newer)
    assert [row.id for row in back.rows] == pages[1]
    first = page_of(garden, kind, Wanted(), newer=back.newer)
    assert ([row.id for row in first.rows], first.newer) == (pages[0], "")


def test_a_link_to_a_page_stays_when_rows_are_added(days: Garden) -> None:
    """What a page showed yesterday it shows today, whatever was told since."""
    kind = days.kinds["weather_day"]
    older = page_of(days, kind, Wanted()).older
    before = page_of(days, kind, Wanted(), older=older)
    told(days, NewRow("weather_day", {"on": date(2026, 5, 2), "min_c": 1.0, "max_c": 2.0}))
    assert [row.id for row in page_of(days, kind, Wanted(), older=older).rows] == [row.id for row in before.rows]


def test_a_page_is_found_by_the_index_and_not_by_sorting(days: Garden) -> None:
    """The query for fifty weather days walks the index of days: no sort, no scan of the table."""
    seen: list[str] = []
    days.db.conn.set_trace_callback(seen.append)
    page_of(days, days.kinds["weather_day"], Wanted(), older="2020-01-01~1000")
    days.db.conn.set_trace_callback(None)
    (asked,) = [sql for sql in seen if "LIMIT 51" in sql]
    plan = [row[3] for row in days.db.conn.execute(f"EXPLAIN QUERY PLAN {asked}")]
    assert any("idx_weather_day_on" in step for step in plan), plan
    assert not any("TEMP B-TREE" in step or step.startswith("SCAN k") for step in plan), plan


@pytest.mark.parametrize("mark", ["", "x", "~", "~~", "2020~x", "2020-01-01~-5", "²~³", "a~99999999999999999999"])
def test_a_mark_that_is_none_shows_the_first_page(days: Garden, mark: str) -> None:
    """A link that was cut short leads to the beginning, not to a fault."""
    assert page_of(days, days.kinds["weather_day"], Wanted(), older=mark).rows[0].id == 3650


def test_days_are_the_places_own(garden: Garden) -> None:
    """A reading at half past midnight in Vienna is of that day, although it is the day before in UTC."""
    told(garden, PLACE, NewRow("spot", {"name": "bed"}))
    for hour in (21, 23):
        told(
            garden,
            NewRow("soil_reading", {"spot": "bed", "temp_c": 9.0, "at": datetime(2026, 4, 19, hour, 30, tzinfo=UTC)}),
        )
    kind = garden.kinds["soil_reading"]
    on = {
        day: [row.id for row in page_of(garden, kind, Wanted(first=date(2026, 4, day), last=date(2026, 4, day))).rows]
        for day in (19, 20)
    }
    assert on == {19: [1], 20: [2]}


def test_rows_out_of_use_are_shown_where_they_are_asked_for(garden: Garden) -> None:
    """In use, out of use and all are three lists; a plant renamed is found under its new name with all that it had."""
    told(
        garden,
        PLACE,
        NewRow("spot", {"name": "a/b"}),
        NewRow("plant", {"name": "<b>", "species": "fig", "spot": "a/b"}),
    )
    for day in (1, 2):
        told(garden, NewRow("stage", {"plant": "<b>", "on": date(2026, 4, day), "bbch": 7}))
    retire(garden, "stage", 1, Said("page", "r", NOW), reason="no")
    correct(garden, "plant", 1, {"name": "é"}, Said("page", "c", NOW), reason="its name")
    kind = garden.kinds["stage"]
    found = {
        use: [row.id for row in page_of(garden, kind, Wanted(plant="é", use=use)).rows]
        for use in ("in", OUT_OF_USE, ALL)
    }
    assert found == {"in": [2], "out": [1], "all": [2, 1]}
    assert page_of(garden, kind, Wanted(plant="nobody")).total == 0


def test_the_overview_counts_what_is_in_use(days: Garden) -> None:
    """A row out of use counts no more, and the last day is the last one in use."""
    retire(days, "weather_day", 3650, Said("page", "r", NOW), reason="no")
    (count,) = [one for one in overview(days) if one.kind.name == "weather_day"]
    assert (count.in_use, count.last) == (3649, date(2016, 5, 1) + timedelta(days=3648))
    (none,) = [one for one in overview(days) if one.kind.name == "stage"]
    assert (none.in_use, none.last) == (0, None)


def test_every_word_is_looked_for(garden: Garden) -> None:
    """Words are found in what was said, in texts and in names, without regard to capitals, and all must be there."""
    told(garden, PLACE, NewRow("spot", {"name": "Öfen bed"}), NewRow("plant", {"name": "fig 100%", "species": "fig"}))
    told(garden, NewRow("soil_reading", {"spot": "Öfen bed", "temp_c": 9.0, "at": NOW}, words="Under the CHIPS"))
    told(
        garden, NewRow("harm", {"plant": "fig 100%", "on": date(2026, 4, 1), "cause": "frost", "note": "É, all of it"})
    )

    def hits(text: str) -> list[str]:
        return [row.kind for row in search(garden, text).rows]

    assert hits("öfen chips") == ["soil_reading"]
    assert hits("ÖFEN nowhere") == []
    assert hits("é") == ["harm"]
    assert hits("100%") == ["harm", "plant"]
    assert hits("%") == ["harm", "plant"] and hits("_") == [] and hits("  ") == []


def test_a_search_goes_on_where_its_page_ended(garden: Garden) -> None:
    """The pages of a search together are all that holds the word, once each, though kinds and sayings are mixed."""
    told(garden, PLACE, NewRow("plant", {"name": "fig", "species": "fig"}))
    for n in range(30):
        day = date(2026, 1, 1) + timedelta(days=n)
        told(
            garden,
            NewRow("stage", {"plant": "fig", "on": day, "bbch": 7}),
            NewRow("growth", {"plant": "fig", "on": day, "leaves": n}),
            NewRow("stage", {"plant": "fig", "on": day, "bbch": 8}),
        )
    seen, older = [], ""
    for _ in range(20):
        page = search(garden, "fig", older=older, size=7)
        seen += [(row.kind, row.id) for row in page.rows]
        older = page.older
        if not older:
            break
    assert len(seen) == len(set(seen)) == 91


def test_what_was_told_together_stands_together(days: Garden) -> None:
    """An import is one entry with its count, and a ruling says what it did."""
    retire(days, "weather_day", 1, Said("page", "r", NOW), reason="no")
    last, days_told, place = told_lately(days)
    assert (last.counts, last.taken_out) == ({}, 1)
    assert (days_told.counts, [row.id for row in days_told.rows]) == ({"weather_day": 3650}, [1, 2, 3])
    assert place.counts == {"place": 1}
    assert [one.said.id for one in told_lately(days, before=last.said.id, size=1)] == [days_told.said.id]


def test_an_older_file_gets_what_pages_need(adviser: Adviser, tmp_path: Path) -> None:
    """A garden file made before there were pages is opened, and is given the indexes that they read by."""
    with adviser.open(tmp_path / "old.db", create=True) as garden:
        told(garden, PLACE)
        names = [
            row[0] for row in garden.db.conn.execute("SELECT name FROM sqlite_master WHERE name LIKE 'idx_weather%'")
        ]
        for name in names:
            garden.db.conn.execute(f"DROP INDEX {name}")
        garden.db.conn.commit()
    with adviser.open(tmp_path / "old.db") as garden:
        again = [
            row[0] for row in garden.db.conn.execute("SELECT name FROM sqlite_master WHERE name LIKE 'idx_weather%'")
        ]
    assert sorted(again) == sorted(names) and names
