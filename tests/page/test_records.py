"""The records on pages: found, shown in the grower's units, put right, taken out of use and brought back."""

from __future__ import annotations

import html
import io
import re
import uuid
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path

import pytest
from flask.testing import FlaskClient
from tests_shared import NOON
from werkzeug.datastructures import FileStorage
from werkzeug.test import encode_multipart

from advisor.conversation import Adviser
from advisor.doors.http import create_app
from advisor.facts import Fact, Recorded
from advisor.records.importing import import_path
from advisor.records.store import Garden, NewRow, Said

US = Path(__file__).resolve().parents[2] / "fixtures" / "demo_us"
US_NOON = datetime.fromisoformat("2026-04-26T16:00:00+00:00")
STRANGE = ("a/b", "<b>x</b>", "é 'quoted' \"twice\"", "100% & more?")


@pytest.fixture(scope="session")
def us_file(adviser: Adviser, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The US demo garden, imported once."""
    path = tmp_path_factory.mktemp("us") / "us.db"
    with adviser.open(path, create=True) as garden:
        import_path(garden, US, adviser.lore, US_NOON)
    return path


@pytest.fixture
def client_of(adviser: Adviser) -> Iterator[Callable[[Path], FlaskClient]]:
    """A client to any garden file."""

    def make(path: Path) -> FlaskClient:
        own = replace(adviser, settings=replace(adviser.settings, garden=path))
        client = create_app(own, lambda: NOON).test_client()
        client.environ_base["HTTP_ACCEPT"] = "text/html"
        return client

    yield make


@pytest.fixture
def open_demo(adviser: Adviser, demo_copy: Path) -> Callable[[], Garden]:
    return lambda: adviser.open(demo_copy)


def page(client: FlaskClient, path: str, status: int = 200) -> str:
    answer = client.get(path)
    assert answer.status_code == status, answer.get_data(as_text=True)
    return html.unescape(answer.get_data(as_text=True))


def number(fact: Fact) -> int:
    assert isinstance(fact.origin, Recorded)
    return fact.origin.row_ids[0]


def form(**fields: str) -> dict[str, str]:
    return {"form": uuid.uuid4().hex, **fields}


# ---- browsing


def test_the_kinds_are_shown_with_what_is_in_use(client: FlaskClient) -> None:
    """Each kind with its count and its last day, and what was told last."""
    text = page(client, "/records")
    assert "396 in use, last 23 April" in text and "2177 in use" in text
    assert "weather_day.csv" in text and "Told last" in text


def test_an_empty_garden_says_where_to_begin(client_of, tmp_path: Path) -> None:
    """No file yet: files and the place's form are open, and looking makes no file."""
    client = client_of(tmp_path / "none.db")
    assert "Nothing is recorded yet" in page(client, "/records")
    assert "First tell where the garden is" in page(client, "/records/new")
    assert client.get("/records/new/stage").headers["Location"] == "/records/new"
    assert "Import files" in page(client, "/records/import")
    assert not (tmp_path / "none.db").exists()


def test_fifty_are_shown_with_a_way_to_the_next(client: FlaskClient) -> None:
    """A page of fifty, and the link to older ones holds its filters."""
    text = page(client, "/records/stage?use=all")
    assert text.count('scope="row"') == 50
    (older,) = re.findall(r'href="(/records/stage\?[^"]*older[^"]*)"', text)
    assert "use=all" in older
    assert "Newer" in page(client, older)


def test_a_filter_keeps_to_its_plant_and_its_days(client: FlaskClient) -> None:
    """Of the shed fig in April 2026 only; a day that is none stands by its field."""
    text = page(client, "/records/stage?plant=shed+fig&from=2026-04-01&to=2026-04-30")
    rows = re.findall(r'data-label="plant"[^>]*>([^<]*)<', text)
    assert rows and set(rows) == {"shed fig"}
    assert "'soon' is no day" in page(client, "/records/stage?from=soon")


def test_a_search_finds_words_and_names(client: FlaskClient) -> None:
    """What was said, in whatever kind; and what is not there is said not to be."""
    assert "In these words: “pots in before the snow”" in page(client, "/records?q=before+SNOW")
    assert "No record holds all of these words" in page(client, "/records?q=zeppelin")


def test_us_records_are_in_us_units(client_of, us_file: Path) -> None:
    """Fahrenheit, inches and pounds, on every page where a figure stands."""
    client = client_of(us_file)
    text = page(client, "/records/soil_reading") + page(client, "/records/soil_reading/1") + page(client, "/records")
    assert "47.5 °F" in text and "4 in" in text and "°C" not in text
    assert 'name="temp_f"' in page(client, "/records/soil_reading/1/right")


def test_names_with_marks_are_shown_as_typed(client: FlaskClient, open_demo: Callable[[], Garden]) -> None:
    """A slash, tags, quotes and accents: escaped on the page, and found by the filter's own link."""
    with open_demo() as garden:
        for name in STRANGE:
            rows = [NewRow("spot", {"name": name}), NewRow("plant", {"name": name, "species": "fig", "spot": name})]
            garden.add(
                [
                    (
                        Said("page", name, NOON),
                        [*rows, NewRow("stage", {"plant": name, "on": date(2026, 4, 1), "bbch": 1, "words": name})],
                    )
                ]
            )
    for name in STRANGE:
        raw = client.get("/records/stage", query_string={"plant": name}).get_data(as_text=True)
        assert "<b>x" not in raw and html.unescape(raw).count(f">{name}</td>") == 2
    assert "<b>x" not in client.get("/records").get_data(as_text=True)
    assert "<b>x" not in client.get("/records?q=%3Cb%3E").get_data(as_text=True)


@pytest.mark.parametrize(
    "path",
    [
        "/records/nope",
        "/records/stage_now",
        "/records/stage/99999",
        f"/records/stage/{9**30}",
        "/records/told/99999",
        "/records/nope/1",
        "/records/new/nope",
        "/records/new/advice",
        "/records/import/x",
        "/records/import/" + "a" * 43,
    ],
)
def test_what_is_not_there_is_a_page(client: FlaskClient, path: str) -> None:
    """An address that leads to nothing says so."""
    assert "What to do" in page(client, path, 404)


@pytest.mark.parametrize(
    "query",
    [
        "older=x~",
        "newer=~~1",
        "older=2026-04-01~9&use=nope",
        "told=x-y",
        "told=1-",
        "plant=nobody&spot=%00",
        "from=9999-99-99&to=0000-00-00",
        "to=9999-12-31",
    ],
)
def test_an_address_cut_short_still_shows_a_page(client: FlaskClient, query: str) -> None:
    """Filters that cannot be read do no harm."""
    assert client.get(f"/records/stage?{query}").status_code == 200
    assert client.get(f"/records?before=x&{query}").status_code == 200


# ---- one record


def test_a_record_tells_who_said_it_and_how(client: FlaskClient) -> None:
    """File and line, and when; a message leads to the talk."""
    assert "in the file stage.csv, line 2" in page(client, "/records/stage/1")
    client.post("/messages", json={"text": "soil shed bed 9.5 at 10 cm", "id": "m/1".replace("/", "-")})
    with_message = page(client, "/records?q=shed+bed+9.5")
    link = re.findall(r'href="(/records/soil_reading/\d+)"', with_message)[0]
    text = page(client, link)
    assert 'href="/talk/m-1"' in text and "“soil shed bed 9.5 at 10 cm”" in text


def test_a_record_is_put_right_and_keeps_its_history(client: FlaskClient, open_demo: Callable[[], Garden]) -> None:
    """The new record stands for the old one, says what is otherwise, and both lead to each other."""
    with open_demo() as garden:
        before = garden.values_of("stage", 5)
    day = before["on"]
    assert isinstance(day, date)
    later = day + timedelta(days=1)
    posted = {
        "plant": str(before["plant"]),
        "on": later.isoformat(),
        "bbch": str(before["bbch"]),
        "words": str(before.get("words", "")),
    }
    sent = form(**posted, reason="a day late")
    answer = client.post("/records/stage/5/right", data=sent)
    assert answer.status_code == 303
    there = answer.headers["Location"].partition("?")[0]
    text = page(client, there)
    assert (
        f"day was {day.day} {day:%B %Y} and is now {later.day} {later:%B %Y}" in text
        and 'href="/records/stage/5"' in text
    )
    old = page(client, "/records/stage/5")
    assert "a day late" in old and f'href="{there}"' in old and "out of use" in old
    again = client.post("/records/stage/5/right", data=sent)
    assert again.headers["Location"].partition("?")[0] == there


def test_what_is_left_alone_keeps_its_exact_value(client_of, us_file: Path, adviser: Adviser, tmp_path: Path) -> None:
    """A US form shows a depth rounded to inches; putting right the sky does not move the depth by a hair."""
    path = tmp_path / "us.db"
    path.write_bytes(us_file.read_bytes())
    client = client_of(path)
    with adviser.open(path) as garden:
        garden.add(
            [
                (
                    Said("page", "x", NOON),
                    [NewRow("soil_reading", {"spot": "back bed", "temp_c": 11.1234, "depth_cm": 7.7777, "at": NOON})],
                )
            ]
        )
        row_id = number(garden.of("soil_reading")[-1])
    text = page(client, f"/records/soil_reading/{row_id}/right")
    posted = dict(re.findall(r'<input id="f-\w+" name="(\w+)"[^>]*value="([^"]*)"', text))
    answer = client.post(
        f"/records/soil_reading/{row_id}/right", data=form(**posted, spot="back bed", sky="sun", reason="sky")
    )
    assert answer.status_code == 303, answer.get_data(as_text=True)
    with adviser.open(path) as garden:
        now = garden.of("soil_reading")[-1]
    assert (now.values["temp_c"], now.values["depth_cm"], now.values["sky"]) == (11.1234, 7.7777, "sun")


def test_faults_of_a_correction_stand_by_their_fields(client: FlaskClient) -> None:
    """What was typed is kept; no reason and no change are faults too."""
    answer = client.post("/records/soil_reading/1/right", data=form(temp_c="99", reason=""))
    assert answer.status_code == 422 and "a reason is needed" in answer.get_data(as_text=True)
    answer = client.post("/records/soil_reading/1/right", data=form(temp_c="99", reason="x"))
    text = answer.get_data(as_text=True)
    assert answer.status_code == 422 and 'value="99"' in text and "between -20 and 60" in text
    answer = client.post("/records/soil_reading/1/right", data=form(reason="x"))
    assert answer.status_code == 422 and "nothing is otherwise than before" in answer.get_data(as_text=True)


def test_a_plant_renamed_is_the_same_plant(client: FlaskClient, open_demo: Callable[[], Garden]) -> None:
    """What was said of it is found under its new name, and a name that is taken is refused."""
    with open_demo() as garden:
        (row_id,) = [number(fact) for fact in garden.of("plant") if fact.text("name") == "shed fig"]
        looks = [number(fact) for fact in garden.of("stage") if fact.text("plant") == "shed fig"]
    answer = client.post(f"/records/plant/{row_id}/right", data=form(name="wall fig", reason="x"))
    assert answer.status_code == 422 and "tells of the same thing already" in answer.get_data(as_text=True)
    assert client.post(f"/records/plant/{row_id}/right", data=form(name="a/b é", reason="its name")).status_code == 303
    with open_demo() as garden:
        assert [number(fact) for fact in garden.of("stage") if fact.text("plant") == "a/b é"] == looks


def test_out_of_use_and_back(client: FlaskClient, open_demo: Callable[[], Garden]) -> None:
    """A reason each way, nothing counted twice by a second press, and the history shows both."""
    no_reason = client.post("/records/stage/7/out", data=form(reason=" "))
    assert no_reason.status_code == 422 and "a reason is needed" in no_reason.get_data(as_text=True)
    out = form(reason="wrong <i>tree</i>")
    assert client.post("/records/stage/7/out", data=out).status_code == 303
    assert client.post("/records/stage/7/out", data=out).status_code == 303
    assert client.post("/records/stage/7/out", data=form(reason="again")).status_code == 422
    assert "<i>tree" not in client.get("/records/stage/7").get_data(as_text=True)
    assert client.post("/records/stage/7/back", data=form(reason="right after all")).status_code == 303
    text = page(client, "/records/stage/7")
    assert "wrong <i>tree</i>" in text and "right after all" in text
    with open_demo() as garden:
        assert 7 in [number(fact) for fact in garden.of("stage")]
        assert garden.db.conn.execute("SELECT COUNT(*) FROM ruling WHERE row_id = 7 AND kind = 'stage'").fetchone() == (
            2,
        )


def test_a_spot_that_others_rest_on_stays(client: FlaskClient) -> None:
    """It says how many rest on it, and refuses."""
    assert "records rest on it" in page(client, "/records/spot/1")
    answer = client.post("/records/spot/1/out", data=form(reason="gone"))
    assert answer.status_code == 422 and "other records rest on it" in answer.get_data(as_text=True)


def test_a_row_with_a_stand_in_is_not_offered_back(client: FlaskClient) -> None:
    """Where another stands for it there is no button, and a form sent all the same is refused."""
    client.post("/records/stage/5/right", data=form(bbch="9", reason="x"))
    assert "Bring it back into use" not in page(client, "/records/stage/5")
    answer = client.post("/records/stage/5/back", data=form(reason="back"))
    assert answer.status_code == 422 and "both cannot hold" in answer.get_data(as_text=True)


# ---- told together


def test_a_message_is_taken_back_whole(client: FlaskClient, open_demo: Callable[[], Garden]) -> None:
    """The page names what goes before it goes, and a second press does nothing more."""
    client.post("/messages", json={"text": "soil shed bed 9.5, south wall 14 at 10 cm", "id": "two"})
    with open_demo() as garden:
        said = garden.row("soil_reading", number(garden.of("soil_reading")[-1]))["said_id"]
    text = page(client, f"/records/told/{said}")
    assert "This would take 2 records out of use" in text
    (action,) = re.findall(r'action="(/records/told/[^"]+/undo)"', text)
    sent = form()
    for _ in range(2):
        answer = client.post(action, data=sent)
        assert answer.status_code == 303
    assert "Taken back" in page(client, answer.headers["Location"])
    with open_demo() as garden:
        assert len(garden.of("soil_reading")) == 82
        assert garden.db.conn.execute("SELECT COUNT(*) FROM said WHERE via = 'undo'").fetchone() == (1,)
    assert client.post(action, data=form()).status_code == 404


def test_what_others_rest_on_is_not_taken_back(client: FlaskClient, open_demo: Callable[[], Garden]) -> None:
    """The import of the spots has plants and readings on it: it says which, and refuses."""
    with open_demo() as garden:
        said = garden.row("spot", 1)["said_id"]
    text = page(client, f"/records/told/{said}")
    assert "cannot be taken back yet" in text and "Take it all back" not in text
    answer = client.post(f"/records/told/{said}-{said}/undo", data=form())
    assert answer.status_code == 422 and "later records rest on it" in answer.get_data(as_text=True)


# ---- download


def test_everything_comes_as_a_zip(client: FlaskClient, client_of, adviser: Adviser, tmp_path: Path) -> None:
    """A CSV a kind and the whole history, from which the same garden is made again; formulas are guarded."""
    client.post("/records/new/work", data=form(plant="shed fig", on="2026-04-20", what="other", note="=1+1"))
    with client.get("/records/download") as answer:
        assert (
            answer.mimetype == "application/zip"
            and "records-quellhang-2026-04-24.zip" in answer.headers["Content-Disposition"]
        )
        packed = zipfile.ZipFile(io.BytesIO(answer.data))
    assert packed.testzip() is None
    assert {"history.jsonl", "stage.csv", "plant.csv", "weather_day.csv"} <= set(packed.namelist())
    assert "'=1+1" in packed.read("work.csv").decode()
    packed.extract("history.jsonl", tmp_path)
    other = client_of(tmp_path / "other.db")
    with (tmp_path / "history.jsonl").open("rb") as file:
        border, body = encode_multipart({"files": FileStorage(file, "history.jsonl")})
    kept = other.post("/records/import", data=body, content_type=f"multipart/form-data; boundary={border}")
    assert "whole history of a garden" in page(other, kept.headers["Location"])
    assert not (tmp_path / "other.db").exists()
    for _ in range(2):
        assert other.post(kept.headers["Location"]).headers["Location"] == "/records"
    with adviser.open(tmp_path / "other.db") as garden:
        assert len(garden.of("stage")) == 396
