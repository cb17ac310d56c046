"""Setting a garden up by page: where one is led, what each step takes and refuses, and that nothing is sent twice."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient
from tests_shared import NOON
from werkzeug.test import TestResponse

from advisor.conversation import Adviser
from advisor.doors.http import create_app
from advisor.records.by_form import add_told
from advisor.records.store import Garden, Said

HILL_END = {"name": "Hill End", "at": "47.07 N 15.44 E", "units": "metric", "time_zone": "Europe/Vienna"}
WALL = {"1-name": "south wall", "1-aspect": "S", "1-wall_material": "stone"}


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Where the garden file will be; there is none yet."""
    return tmp_path / "new.db"


@pytest.fixture
def new(adviser: Adviser, path: Path) -> Iterator[FlaskClient]:
    """A client to a garden of which there is no file yet."""
    own = replace(adviser, settings=replace(adviser.settings, garden=path))
    with create_app(own, lambda: NOON).test_client() as client:
        client.environ_base["HTTP_ACCEPT"] = "text/html"
        yield client


@pytest.fixture
def begun(new: FlaskClient) -> FlaskClient:
    """The same, its place told."""
    assert new.post("/start/place", data=HILL_END).status_code == 303
    return new


def text_of(answer: TestResponse) -> str:
    return unescape(answer.get_data(as_text=True))


def rows(adviser: Adviser, path: Path, kind: str) -> list[dict[str, Any]]:
    """Return the rows in use of a kind."""
    with adviser.open(path) as garden:
        return [dict(fact.values) for fact in garden.of(kind)]


def count_all(adviser: Adviser, path: Path, kind: str) -> int:
    """Return how many rows of a kind were ever written."""
    with adviser.open(path) as garden:
        (count,) = garden.db.conn.execute(f"SELECT COUNT(*) FROM {kind}").fetchone()
        return int(count)


# ---- where one is led


@pytest.mark.parametrize("page", ["/", "/garden", "/garden/plant/wall%20fig"])
def test_main_pages_lead_to_the_start_while_there_is_no_place(new: FlaskClient, page: str) -> None:
    """Every page that would have nothing to show leads to where the garden is set up."""
    answer = new.get(page)
    assert (answer.status_code, answer.headers["Location"]) == (303, "/start")


def test_an_empty_file_leads_there_too(new: FlaskClient, adviser: Adviser, path: Path) -> None:
    """A file without a place is not set up either; with one the page is shown."""
    adviser.open(path, create=True).db.conn.close()
    assert new.get("/garden").headers["Location"] == "/start"
    new.post("/start/place", data=HILL_END)
    assert new.get("/garden").status_code == 200


@pytest.mark.parametrize("page", ["/rules", "/start", "/start/place", "/records/import"])
def test_the_rule_book_and_the_start_are_open(new: FlaskClient, page: str) -> None:
    """They need no garden."""
    assert new.get(page).status_code == 200


def test_the_service_keeps_its_errors(new: FlaskClient) -> None:
    """A program gets problem details, and is led nowhere."""
    answer = new.post("/messages", json={"text": "why is the fig late"}, headers={"Accept": "*/*"})
    assert (answer.status_code, answer.json["found"]) == (404, "no file new.db")
    assert new.get("/ready", headers={"Accept": "*/*"}).get_json()["status"] == "ready"


@pytest.mark.parametrize("step", ["spots", "plants", "weather", "done"])
def test_later_steps_wait_for_the_place(new: FlaskClient, step: str) -> None:
    """They lead back to the start, by page and by form."""
    assert new.get(f"/start/{step}").headers["Location"] == "/start"
    if step in ("spots", "plants"):
        assert new.post(f"/start/{step}", data=WALL).headers["Location"] == "/start"


# ---- the place


def test_a_place_is_said_back_before_it_is_recorded(new: FlaskClient, path: Path) -> None:
    """With its hemispheres in words and the clocks that may hold there, none of them taken; nothing is written."""
    page = text_of(new.get("/start/place/check", query_string={**HILL_END, "time_zone": ""}))
    assert "47.07° north, 15.44° east" in page
    assert "Europe/Vienna: it is 12:00 there" in page
    assert " checked" not in page
    assert not path.exists()


def test_the_zone_of_the_device_is_offered_first_and_not_taken(new: FlaskClient) -> None:
    """It is one more choice; one that the zone database does not have is no choice."""
    asked = {**HILL_END, "time_zone": "", "browser_zone": "America/New_York"}
    page = text_of(new.get("/start/place/check", query_string=asked))
    assert page.index("America/New York: it is 06:00 there, as this device has it") < page.index("Europe/Vienna")
    assert " checked" not in page
    answer = new.get("/start/place/check", query_string={**asked, "browser_zone": "<b>"})
    assert "<b>" not in answer.get_data(as_text=True)


def test_the_place_is_recorded_in_full(new: FlaskClient, adviser: Adviser, path: Path) -> None:
    """Height and usual frosts beside it, as one writes them."""
    more = {"elevation": "360", "usual_last_frost": "10 May", "usual_first_frost": "10-12"}
    answer = new.post("/start/place", data={**HILL_END, **more})
    assert (answer.status_code, answer.headers["Location"]) == (303, "/start/spots")
    assert rows(adviser, path, "place") == [
        {
            "name": "Hill End", "latitude_deg": 47.07, "longitude_deg": 15.44, "elevation_m": 360.0,
            "time_zone": "Europe/Vienna", "units": "metric", "usual_last_frost": "05-10", "usual_first_frost": "10-12",
        }
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("elevation", "units", "metres"),
    [("1200", "us", 365.76), ("1200 ft", "metric", 365.76), ("360 m", "us", 360), ("360", "metric", 360)],
)
def test_height_in_the_units_told(
    new: FlaskClient, adviser: Adviser, path: Path, elevation: str, units: str, metres: float
) -> None:
    """Feet in a US garden, metres elsewhere, unless the unit is written beside it."""
    at = {"at": "40.1, -76.5", "time_zone": "America/New_York"}
    new.post("/start/place", data={**HILL_END, **at, "units": units, "elevation": elevation})
    assert rows(adviser, path, "place")[0]["elevation_m"] == pytest.approx(metres, abs=0.01)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"name": " "}, "wants a name"),
        ({"at": "47.07"}, "'47.07' is not read"),
        ({"at": "144.96, -37.81"}, "37.81° south, 144.96° east"),
        ({"units": ""}, "Choose one"),
        ({"time_zone": ""}, "Choose the clock"),
        ({"time_zone": "Mars/Base"}, "Choose the clock"),
        ({"other_zone": "Atlantis"}, "'Atlantis' is no time zone"),
        ({"time_zone": "America/New_York"}, "far from noon"),
        ({"at": "40.1, 76.5", "time_zone": "America/New_York"}, "Did you mean 40.1° north, 76.5° west?"),
        ({"at": "15.44, 47.07"}, "Did you mean 47.07° north, 15.44° east?"),
        ({"elevation": "high"}, "a number"),
        ({"elevation": "99999"}, "between"),
        ({"usual_last_frost": "soon"}, "a day of the year"),
    ],
)
def test_what_cannot_be_is_said_by_its_field(
    new: FlaskClient, adviser: Adviser, path: Path, change: dict[str, str], says: str
) -> None:
    """What was typed is kept and nothing is recorded."""
    answer = new.post("/start/place", data={**HILL_END, **change})
    page = text_of(answer)
    assert answer.status_code == 422
    assert says in page.split("Nothing is recorded yet")[1]
    assert all(f'value="{value}"' in page for name, value in change.items() if value.strip() and name != "time_zone")
    assert not path.exists() or rows(adviser, path, "place") == []


def test_a_zone_may_be_typed_by_its_place(new: FlaskClient, adviser: Adviser, path: Path) -> None:
    """As "vienna", where it is not among those offered."""
    new.post("/start/place", data={**HILL_END, "time_zone": "", "other_zone": "vienna"})
    assert rows(adviser, path, "place")[0]["time_zone"] == "Europe/Vienna"


def test_the_place_can_be_put_right(begun: FlaskClient, adviser: Adviser, path: Path) -> None:
    """The step shows what is recorded; a change stands for the old row, also of the name, and one place stays."""
    assert 'value="Hill End"' in text_of(begun.get("/start/place"))
    page = text_of(begun.get("/start/place/check", query_string={**HILL_END, "name": "Hill Top"}))
    seen = page.split('name="seen" value="')[1].split('"')[0]
    assert begun.post("/start/place", data={**HILL_END, "name": "Hill Top", "seen": seen}).status_code == 303
    assert [row["name"] for row in rows(adviser, path, "place")] == ["Hill Top"]


def test_a_page_left_open_overwrites_nothing(begun: FlaskClient, adviser: Adviser, path: Path) -> None:
    """A second window that still shows the first state is told of the change, and may send it again."""
    answer = begun.post("/start/place", data={**HILL_END, "name": "Other Place", "seen": ""})
    page = text_of(answer)
    assert answer.status_code == 422 and "in another window" in page
    assert [row["name"] for row in rows(adviser, path, "place")] == ["Hill End"]
    seen = page.split('name="seen" value="')[1].split('"')[0]
    assert begun.post("/start/place", data={**HILL_END, "name": "Other Place", "seen": seen}).status_code == 303


def test_the_same_place_twice_is_one(begun: FlaskClient, adviser: Adviser, path: Path) -> None:
    """A double tap, or the form sent again from the back button, writes nothing more."""
    assert begun.post("/start/place", data=HILL_END).status_code == 303
    assert count_all(adviser, path, "place") == 1


def test_the_recorded_place_sent_back_unchanged_is_no_change(new: FlaskClient, adviser: Adviser, path: Path) -> None:
    """What the form shows of a place is what is recorded, to the last figure, in feet as in metres."""
    at = {"at": "40.1234, -122.6543", "time_zone": "America/Los_Angeles", "units": "us", "elevation": "61 m"}
    new.post("/start/place", data={**HILL_END, **at})
    page = text_of(new.get("/start/place"))
    assert 'value="40.1234, -122.6543"' in page
    kept = {name: page.split(f'name="{name}" value="')[1].split('"')[0] for name in ("elevation", "time_zone")}
    assert new.post("/start/place", data={**HILL_END, **at, **kept}).status_code == 303
    assert count_all(adviser, path, "place") == 1


# ---- spots and plants


def test_spots_are_recorded_all_at_once(begun: FlaskClient, adviser: Adviser, path: Path) -> None:
    """Blank rows are left out; a wall faces as its spot does."""
    answer = begun.post("/start/spots", data={**WALL, "3-name": "hollow", "3-low_lying": "yes", "then": "on"})
    assert answer.headers["Location"] == "/start/plants"
    assert rows(adviser, path, "spot") == [
        {"name": "south wall", "aspect": "S", "wall_side": "S", "wall_material": "stone"},
        {"name": "hollow", "low_lying": True},
    ]


def test_one_may_stay_for_more(begun: FlaskClient) -> None:
    """The second button shows fresh rows, with what is recorded above them."""
    answer = begun.post("/start/spots", data={**WALL, "then": "more"})
    assert answer.headers["Location"] == "/start/spots"
    page = text_of(begun.get("/start/spots"))
    assert "1 spot recorded" in page and "south wall: faces south, stone wall" in page


def test_a_wall_of_another_side_is_said_back_with_it(begun: FlaskClient, adviser: Adviser, path: Path) -> None:
    """A flat bed at the foot of a south-facing wall, told by file, is shown as just that."""
    cells = {"name": "court", "aspect": "flat", "wall_side": "S", "wall_material": "brick", "plantable": "no"}
    with adviser.open(path) as garden:
        add_told(garden, adviser.lore, "spot", cells, Said("file", "f", NOON), NOON)
    assert "court: flat, south-facing brick wall, no open soil to plant in" in text_of(begun.get("/start/spots"))


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"2-aspect": "N"}, "Give it a name"),
        ({"2-name": "hollow", "2-drainage_cm_h": "fast"}, "a number"),
        ({"2-name": "fence", "2-wall_material": "brick"}, "Which way does the wall face?"),
        ({"2-name": "South  Wall"}, "Stands twice on this page"),
        ({"2-name": "hollow", "2-aspect": "up"}, "one of N"),
    ],
)
def test_one_fault_keeps_all_back(
    begun: FlaskClient, adviser: Adviser, path: Path, change: dict[str, str], says: str
) -> None:
    """All rows or none: what was typed is still there and the fault stands by its field, with a link to it."""
    answer = begun.post("/start/spots", data={**WALL, **change})
    page = text_of(answer)
    assert answer.status_code == 422
    assert says in page and 'href="#f-2-' in page and 'value="south wall"' in page
    assert rows(adviser, path, "spot") == []


def test_rows_sent_twice_are_recorded_once(begun: FlaskClient, adviser: Adviser, path: Path) -> None:
    """A second window, a double tap or the back button adds nothing; other values under a known name are refused."""
    for _ in range(2):
        assert begun.post("/start/spots", data=WALL).status_code == 303
    assert count_all(adviser, path, "spot") == 1
    answer = begun.post("/start/spots", data={**WALL, "1-aspect": "N"})
    assert answer.status_code == 422
    assert "there is a spot of that name already" in text_of(answer)
    assert rows(adviser, path, "spot")[0]["aspect"] == "S"


def test_plants_are_recorded_with_what_is_known(begun: FlaskClient, adviser: Adviser, path: Path) -> None:
    """A pot by its size, a year and a month by their first day."""
    begun.post("/start/spots", data=WALL)
    typed = {
        "1-name": "wall fig", "1-species": "fig", "1-cultivar": "Brown Turkey", "1-spot": "south wall",
        "1-growing": "ground", "1-planted": "2019", "2-name": "tub 1", "2-species": "fig", "2-pot_litres": "20",
        "2-planted": "2025-11",
    }  # fmt: skip
    assert begun.post("/start/plants", data=typed).headers["Location"] == "/start/weather"
    wall, tub = rows(adviser, path, "plant")
    assert (wall["cultivar"], wall["spot"], wall["planted"].isoformat()) == ("Brown Turkey", "south wall", "2019-01-01")
    assert (tub["growing"], tub["pot_litres"], tub["planted"].isoformat()) == ("pot", 20.0, "2025-11-01")


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"1-species": ""}, "Choose its kind"),
        ({"1-planted": "2025"}, "the month too, as 2025-04"),
        ({"1-planted": "spring 2020"}, "the month in spring 2020"),
        ({"1-growing": "ground", "1-pot_litres": "20"}, "which is it?"),
        ({"1-name": "south wall"}, "A spot is called so already"),
        ({"1-spot": "moon"}, "a spot that is recorded"),
    ],
)
def test_a_plant_that_cannot_be_is_said_so(
    begun: FlaskClient, adviser: Adviser, path: Path, change: dict[str, str], says: str
) -> None:
    """By its field, and nothing is recorded."""
    begun.post("/start/spots", data=WALL)
    answer = begun.post("/start/plants", data={"1-name": "wall fig", "1-species": "fig", **change})
    assert answer.status_code == 422
    assert says in text_of(answer)
    assert rows(adviser, path, "plant") == []


def test_names_nearly_alike_are_asked_about(begun: FlaskClient, adviser: Adviser, path: Path) -> None:
    """A name one letter off another is warned of, with a better one; ticking that both are meant keeps them."""
    begun.post("/start/spots", data={**WALL, "2-name": "hollow"})
    two = {"1-name": "wall fig", "1-species": "fig", "2-name": "hall fig", "2-species": "fig", "2-spot": "hollow"}
    page = text_of(begun.post("/start/plants", data=two))
    assert "hall fig is easily mixed up with wall fig" in page and "for example hollow fig" in page
    assert rows(adviser, path, "plant") == []
    assert begun.post("/start/plants", data={**two, "keep": "yes"}).status_code == 303
    assert [row["name"] for row in rows(adviser, path, "plant")] == ["wall fig", "hall fig"]


def test_names_that_differ_by_a_number_are_let_be(begun: FlaskClient) -> None:
    """Tubs are numbered on purpose."""
    two = {"1-name": "tub 1", "1-species": "fig", "2-name": "tub 2", "2-species": "fig"}
    assert begun.post("/start/plants", data=two).status_code == 303


@pytest.mark.parametrize("name", ["a/b", "<b>bold</b>", "café", 'O\'Neill "wall"', "{{ 7 * 7 }}", "a & b"])
def test_any_name_is_shown_as_it_was_typed(new: FlaskClient, adviser: Adviser, path: Path, name: str) -> None:
    """In the garden's name, a spot's and a plant's, with no markup and no broken link."""
    new.post("/start/place", data={**HILL_END, "name": name})
    new.post("/start/spots", data={"1-name": f"{name} 1"})
    new.post("/start/plants", data={"1-name": f"{name} 2", "1-species": "fig", "1-spot": f"{name} 1"})
    assert rows(adviser, path, "plant")[0]["spot"] == f"{name} 1"
    for page in ("/start", "/start/spots", "/start/plants", "/start/done", "/start/place"):
        answer = new.get(page)
        assert answer.status_code == 200
        assert "<b>" not in answer.get_data(as_text=True)
    assert name in text_of(new.get("/start/done"))


def test_a_us_garden_is_spoken_to_in_its_units(new: FlaskClient, adviser: Adviser, path: Path) -> None:
    """Gallons, inches and feet on every step; inside it is litres and centimetres."""
    place = {"at": "40.1 N 76.5 W", "units": "us", "time_zone": "America/New_York"}
    new.post("/start/place", data={**HILL_END, **place})
    assert "Test hole, inches an hour" in text_of(new.get("/start/spots"))
    new.post("/start/spots", data={"1-name": "fence", "1-drainage_in_h": "2"})
    new.post("/start/plants", data={"1-name": "tub 1", "1-species": "fig", "1-pot_gal": "5", "1-planted": "4/20/2024"})
    assert rows(adviser, path, "spot")[0]["drainage_cm_h"] == pytest.approx(5.08)
    assert rows(adviser, path, "plant")[0]["pot_litres"] == pytest.approx(18.93, abs=0.01)
    assert rows(adviser, path, "plant")[0]["planted"].isoformat() == "2024-04-20"
    done = text_of(new.get("/start/done"))
    assert "°F" in done and "°C" not in done


# ---- weather, and what there is now


def test_weather_is_explained_and_may_be_skipped(begun: FlaskClient) -> None:
    """Which columns, what for, where to send the file, and on without it."""
    page = text_of(begun.get("/start/weather"))
    assert 'href="/records/import?back=/start"' in page
    assert 'href="/start/done"' in page
    assert "lowest and the highest" in page


def test_the_last_step_tells_what_lacks_from_the_records(begun: FlaskClient, adviser: Adviser, path: Path) -> None:
    """What is told is no longer asked for, and each question it offers names what the garden has."""
    begun.post("/start/spots", data={**WALL, "2-name": "hollow"})
    begun.post("/start/plants", data={"1-name": "wall fig", "1-species": "fig", "1-spot": "south wall"})
    before = text_of(begun.get("/start/done"))
    assert "A soil reading" in before and "How far a plant is" in before and "A weather file" in before
    assert "Which way a spot faces" in before and "Not told yet of hollow" in before
    assert "Can the pots go out yet?" not in before
    told = "wall fig still asleep. soil at south wall 12 at 10 cm, sun"
    adviser.message({"text": told}, NOON, path)
    after = text_of(begun.get("/start/done"))
    assert "A soil reading" not in after and "How far a plant is" not in after
    assert 'href="/?say=why%20is%20the%20wall%20fig%20so%20slow%20to%20wake%3F">Why is the wall fig' in after


def test_one_may_leave_and_come_back(begun: FlaskClient) -> None:
    """The start knows by the garden alone how far one has come."""
    assert 'href="/start/spots">Go on' in text_of(begun.get("/start"))
    begun.post("/start/spots", data=WALL)
    page = text_of(begun.get("/start"))
    assert 'href="/start/plants">Go on' in page and "1 spot" in page
    begun.post("/start/plants", data={"1-name": "wall fig", "1-species": "fig"})
    assert 'href="/start/done">Go on' in text_of(begun.get("/start"))


def test_a_step_is_undone_as_one_saying(begun: FlaskClient, adviser: Adviser, path: Path) -> None:
    """All rows of a step were said together, so one undo takes them back together."""
    begun.post("/start/spots", data={**WALL, "2-name": "hollow"})
    with adviser.open(path) as garden:
        assert isinstance(garden, Garden)
        says = {garden.row("spot", number)["said_id"] for number in (1, 2)}
    assert len(says) == 1
