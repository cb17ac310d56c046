"""Files into a garden: units, names, every fault named, all or nothing, the same file twice."""

from __future__ import annotations

import threading
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from advisor.conversation import Adviser
from advisor.errors import BadInput, BadRows
from advisor.records.importing import import_path
from advisor.records.store import Garden

NOW = datetime(2026, 4, 24, 10, tzinfo=UTC)
PLACE = "name,latitude_deg,longitude_deg,time_zone,units\nTest Hill,47.0,15.0,Europe/Vienna,metric\n"
SPOT = "name,aspect\nbed,S\nwall,W\n"
PLANT = "name,species,spot,growing\nold fig,fig,bed,ground\n"


def counts(garden: Garden) -> dict[str, int]:
    return {kind: len(garden.of(kind)) for kind in ("place", "spot", "plant", "soil_reading", "stage")}


def test_units_in_the_column_name_are_turned_into_the_ones_inside(put, garden: Garden) -> None:
    """58 °F is 14.4 °C and 4 inches are 10.16 cm, by definition of the units."""
    put(place=PLACE, spot=SPOT, soil_reading="spot,temp_f,depth_in,at,sky\nbed,58,4,2026-04-20T13:30,sun\n")
    (fact,) = garden.of("soil_reading")
    assert fact.number("temp_c") == pytest.approx((58 - 32) / 1.8, abs=1e-3)
    assert fact.number("depth_cm") == pytest.approx(10.16)


def test_times_without_a_zone_are_the_places_own(put, garden: Garden) -> None:
    """Half past one in Vienna in April is half past eleven UTC."""
    put(place=PLACE, spot=SPOT, soil_reading="spot,temp_c,at\nbed,9,2026-04-20 13:30\n")
    assert garden.of("soil_reading")[0].get("at") == datetime(2026, 4, 20, 11, 30, tzinfo=UTC)


def test_every_fault_is_named_and_nothing_is_imported(put, garden: Garden) -> None:
    """A bad row names file, line, field, what was found and what is wanted; the good rows stay out too."""
    with pytest.raises(BadRows) as caught:
        put(
            place=PLACE,
            spot=SPOT,
            plant=PLANT,
            soil_reading="spot,temp_c,at\nbed,9,2026-04-20 13:30\nbad,58,20 April\nbed,,2026-04-20 14:00\n",
            stage="plant,on,bbch\nold fog,2026-04-20,7\nold fig,2026-04-20,7.5\n",
        )
    found = [(f.file, f.line, f.field, f.found, f.wanted) for f in caught.value.faults]
    assert found == [
        ("soil_reading.csv", 3, "spot", "'bad'", "a spot that is recorded or in spot.csv; did you mean 'bed'?"),
        ("soil_reading.csv", 3, "at", "'20 April'", "a time like 2026-04-20 13:30"),
        ("soil_reading.csv", 4, "temp_c", "an empty cell", "a value; every row needs one"),
        ("stage.csv", 2, "plant", "'old fog'", "a plant that is recorded or in plant.csv; did you mean 'old fig'?"),
        ("stage.csv", 3, "bbch", "'7.5'", "a whole number"),
    ]
    assert counts(garden) == {"place": 0, "spot": 0, "plant": 0, "soil_reading": 0, "stage": 0}


@pytest.mark.parametrize(
    ("files", "field", "wanted"),
    [
        ({"soil_reading": "spot,temp,at\nbed,9,2026-04-20 13:30\n"}, "column temp", "says its unit: temp_c or temp_f"),
        ({"soil_reading": "spot,at\nbed,2026-04-20 13:30\n"}, "header", "a column temp_c or temp_f"),
        ({"soil_reading": "spot,temp_c,temp_f,at\nbed,9,48,2026-04-20 13:30\n"}, "column temp_f", "one of them"),
        ({"soil_reading": "spot,temp_c,at\nbed,95,2026-04-20 13:30\n"}, "temp_c", "between -20 and 60"),
        ({"soil_reading": "spot,temp_c,at\nbed,9,2026-04-20\n"}, "at", "a time of day too"),
        ({"soil_reading": "spot,temp_c,at\nbed,9,2026-03-29 02:30\n"}, "at", "clocks were put forward"),
        ({"soil_reading": "spot,temp_c,at\n,9,2026-04-20 13:30\n"}, "spot or plant", "one of spot or plant"),
        ({"soil_reading": "spot,temp_c,at\nbed,nan,2026-04-20 13:30\n"}, "temp_c", "a number"),
        ({"soil_reading": "spot,temp_c,at\nbed,9\n"}, "at", "a value"),
        ({"soil_reading": "spot,temp_c,at\nbed,9,2026-04-20 13:30,sun\n"}, "row", "3, as the header has"),
        ({"soil_reading": 'spot,temp_c,at\n"bed,9,2026-04-20 13:30\n'}, "row", "quotes closed"),
        ({"cover": "spot,material,put_on\nbed,moss,2026-01-01\n"}, "material", "materials.toml"),
        ({"cover": "spot,material,put_on\nbed,straw,1/1/26\n"}, "put_on", "four figures for the year"),
        ({"plant": "name,species\nlemon,lemon\n"}, "species", "a species of rules/species"),
        ({"readings": "spot\nbed\n"}, "file name", "a kind"),
        ({"stage": b"plant,on,bbch\n\0\0\0\0"}, "text", "a CSV or JSON Lines file"),
    ],
)
def test_each_kind_of_fault_says_what_to_do(put, files: dict[str, str], field: str, wanted: str) -> None:
    """One fault, one sentence with the remedy."""
    with pytest.raises(BadRows) as caught:
        put(**{"place": PLACE, "spot": SPOT, **files})
    assert [(fault.field, wanted in fault.wanted) for fault in caught.value.faults] == [(field, True)]


def test_the_same_files_twice_add_nothing(put, garden: Garden) -> None:
    """Files imported before are passed over, and so are their rows in a file that has grown."""
    reading = "spot,temp_c,at\nbed,9,2026-04-20 13:30\n"
    put(place=PLACE, spot=SPOT, soil_reading=reading)
    again = put(place=PLACE, spot=SPOT, soil_reading=reading)
    assert (again.added, again.known_files) == ({}, ["place.csv", "spot.csv", "soil_reading.csv"])
    grown = put(soil_reading=reading + "bed,9.5,2026-04-21 13:30\n")
    assert (grown.added, grown.known_rows) == ({"soil_reading": 1}, 1)
    assert counts(garden)["soil_reading"] == 2


def test_a_changed_row_stands_for_the_old_one(put, garden: Garden) -> None:
    """A spot imported again with more known of it replaces its row; the old one stays in the file, out of use."""
    put(place=PLACE, spot="name,aspect\nbed,S\nwall,W\n", cover="spot,material,put_on\nbed,straw,2026-01-01\n")
    done = put(spot="name,aspect,drainage_cm_h\nBed,S,4\nwall,W,\n")
    assert (done.added, done.changed, done.known_rows) == ({"spot": 1}, {"spot": 1}, 1)
    assert [(f.text("name"), f.number("drainage_cm_h")) for f in garden.of("spot")] == [("wall", None), ("Bed", 4.0)]
    assert garden.row("spot", 1)["name"] == "bed"
    put(cover="spot,material,put_on,taken_off\nbed,straw,2026-01-01,2026-04-20\n")
    assert [fact.day("taken_off") for fact in garden.of("cover")] == [date(2026, 4, 20)]


def test_one_thing_told_twice_in_a_file_is_a_fault(put, garden: Garden) -> None:
    """Two rows of one name with other values: nobody can tell which is meant."""
    with pytest.raises(BadRows, match="stands twice with other values"):
        put(place=PLACE, spot="name,aspect\nbed,S\nbed,N\n")


@pytest.mark.parametrize(
    ("files", "field", "wanted"),
    [
        ({"cover": "spot,material,put_on,taken_off\nbed,straw,2026-03-01,2026-02-01\n"}, "taken_off", "swapped"),
        ({"stage": "plant,on,bbch\nold fig,2062-04-20,7\n"}, "on", "is the year right?"),
        ({"forecast_day": "issued,for_day,min_c,max_c\n2026-04-20,2026-04-21,9,1\n"}, "max_c", "swapped"),
        ({"plant": "name,species,grafted_on\nlimb,apple,limb\n"}, "grafted_on", "another plant"),
    ],
)
def test_what_cannot_be_is_refused(put, files: dict[str, str], field: str, wanted: str) -> None:
    """Values that are sound one by one but not together, or not yet."""
    put(place=PLACE, spot=SPOT, plant=PLANT)
    with pytest.raises(BadRows) as caught:
        put(**files)
    assert [(fault.field, wanted in fault.wanted) for fault in caught.value.faults] == [(field, True)]


def test_who_said_it_and_when_are_kept(put, garden: Garden) -> None:
    """said_by and said_at of a row go into the file with it."""
    put(place=PLACE, spot=SPOT, plant=PLANT,
        stage="plant,on,bbch,said_by,said_at\nold fig,2026-04-20,7,helper,2026-04-21\n")  # fmt: skip
    said = garden.row("stage", 1)["said"]
    assert (said["said_by"], said["said_at"]) == ("helper", "2026-04-21T10:00:00+00:00")


def test_two_imports_of_one_file_at_once_add_it_once(adviser: Adviser, put, garden: Garden, tmp_path: Path) -> None:
    """Four threads import the same file; its rows are there once."""
    put(place=PLACE, spot=SPOT)
    rows = "".join(f"bed,{n / 20},2026-04-20 13:{n % 60:02d}\n" for n in range(300))
    (tmp_path / "soil_reading.csv").write_text("spot,temp_c,at\n" + rows)
    errors: list[Exception] = []

    def work() -> None:
        try:
            with adviser.open(garden.path) as own:
                import_path(own, tmp_path / "soil_reading.csv", adviser.lore, NOW)
        except Exception as error:
            errors.append(error)

    threads = [threading.Thread(target=work) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    with adviser.open(garden.path) as again:
        assert (errors, len(again.of("soil_reading"))) == ([], 300)


def test_a_limb_may_stand_before_its_tree(put, garden: Garden) -> None:
    """Rows of one import may name each other in any order."""
    put(place=PLACE, spot=SPOT, plant='name,species,grafted_on\n"limb, low",apple,"tree, big"\n"tree, big",apple,\n')
    assert [fact.text("grafted_on") for fact in garden.of("plant")] == ["tree, big", ""]


def test_a_file_of_another_name_and_other_columns(adviser: Adviser, garden: Garden, put, tmp_path: Path) -> None:
    """A weather file keeps its own column names if they are said; columns without use are left out by name."""
    put(place=PLACE)
    (tmp_path / "station.csv").write_text("date,temp_max,temp_min,weather\n2026-04-20,15,3,rain\n")
    renamed = {"date": "on", "temp_max": "max_c", "temp_min": "min_c", "weather": ""}
    import_path(garden, tmp_path / "station.csv", adviser.lore, NOW, kind="weather_day", renamed=renamed)
    assert [(f.day("on"), f.number("min_c")) for f in garden.of("weather_day")] == [(date(2026, 4, 20), 3.0)]


def test_nothing_to_import_says_so(adviser: Adviser, garden: Garden, tmp_path: Path) -> None:
    """A missing path, an empty folder and an unknown kind are told apart."""
    with pytest.raises(BadInput, match="no such file"):
        import_path(garden, tmp_path / "gone", adviser.lore, NOW)
    (tmp_path / "none").mkdir()
    with pytest.raises(BadInput, match=r"no \.csv or \.jsonl file in it"):
        import_path(garden, tmp_path / "none", adviser.lore, NOW)
    with pytest.raises(BadInput, match="no kind 'weather'"):
        import_path(garden, tmp_path, adviser.lore, NOW, kind="weather")


def test_a_spreadsheets_mark_and_semicolons_are_read(put, garden: Garden) -> None:
    """A byte-order mark and semicolons are a spreadsheet's habits, not faults."""
    put(place=PLACE, spot=b"\xef\xbb\xbfname;aspect\r\nbed;S\r\n\r\n")
    assert [fact.text("name") for fact in garden.of("spot")] == ["bed"]
