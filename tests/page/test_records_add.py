"""Records told by form: in the grower's units, faults by field, said back, and heard once however often it is sent."""

from __future__ import annotations

import html
import re
import uuid
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest
from flask.testing import FlaskClient
from tests_shared import NOON

from advisor.conversation import Adviser
from advisor.doors.http import create_app
from advisor.records.importing import import_path
from advisor.records.store import Garden

US = Path(__file__).resolve().parents[2] / "fixtures" / "demo_us"


@pytest.fixture
def us_client(adviser: Adviser, tmp_path: Path) -> FlaskClient:
    """A client to the US demo garden."""
    path = tmp_path / "us.db"
    with adviser.open(path, create=True) as garden:
        import_path(garden, US, adviser.lore, datetime.fromisoformat("2026-04-26T16:00:00+00:00"))
    own = replace(adviser, settings=replace(adviser.settings, garden=path))
    client = create_app(own, lambda: NOON).test_client()
    client.environ_base["HTTP_ACCEPT"] = "text/html"
    return client


@pytest.fixture
def open_demo(adviser: Adviser, demo_copy: Path) -> Callable[[], Garden]:
    return lambda: adviser.open(demo_copy)


def page(client: FlaskClient, path: str) -> str:
    answer = client.get(path)
    assert answer.status_code == 200
    return html.unescape(answer.get_data(as_text=True))


def form(**fields: str) -> dict[str, str]:
    return {"form": uuid.uuid4().hex, **fields}


def test_every_kind_has_its_form(client: FlaskClient, adviser: Adviser) -> None:
    """What may be told has a form, with an input for each field under a label, and today or now filled in."""
    listed = set(re.findall(r'href="/records/new/(\w+)"', page(client, "/records/new")))
    recorded = {name for name, kind in adviser.base.kinds.items() if kind.origin == "recorded"}
    assert listed == recorded - {"advice", "weather_doubt"}
    for name in listed:
        text = page(client, f"/records/new/{name}")
        ids = re.findall(r'<(?:input|select) id="(f-\w+)"', text)
        assert len(ids) == len(adviser.base.kinds[name].fields)
        assert all(f'for="{one}"' in text for one in ids)
        assert "rules/" not in text, name
    assert 'value="2026-04-24"' in page(client, "/records/new/stage")
    assert 'value="2026-04-24T12:00"' in page(client, "/records/new/soil_reading")


def test_a_reading_is_said_back_and_undone(client: FlaskClient, open_demo: Callable[[], Garden]) -> None:
    """Recorded once, shown with Undo, and out of use after it; the next one starts from the same spot and depth."""
    sent = form(spot="shed bed", temp_c="9.5", depth_cm="10", at="2026-04-24T11:30", sky="sun")
    places = {client.post("/records/new/soil_reading", data=sent).headers["Location"] for _ in range(3)}
    (there,) = places
    text = page(client, there)
    assert "Recorded: Soil at shed bed 9.5 °C, 10 cm deep, in the sun, 24 April 11:30." in text
    assert 'href="/records/new/soil_reading?spot=shed+bed&depth_cm=10&sky=sun"' in text
    assert 'value="10"' in page(client, "/records/new/soil_reading?spot=shed+bed&depth_cm=10")
    with open_demo() as garden:
        assert len(garden.of("soil_reading")) == 83
    (undo,) = re.findall(r'action="(/records/told/[^"]+/undo)"', text)
    assert client.post(undo, data=form()).status_code == 303
    with open_demo() as garden:
        assert len(garden.of("soil_reading")) == 82


def test_us_forms_are_in_us_units(us_client: FlaskClient) -> None:
    """The form asks for °F and inches, posts temp_f, and what was told is said back in them."""
    text = page(us_client, "/records/new/soil_reading")
    assert 'name="temp_f"' in text and "°F" in text and 'name="depth_in"' in text and "°C" not in text
    answer = us_client.post(
        "/records/new/soil_reading", data=form(spot="back bed", temp_f="50", depth_in="4", at="2026-04-24T05:30")
    )
    said = page(us_client, answer.headers["Location"])
    assert "Soil at back bed 50 °F, 4 in deep" in said and "°C" not in said
    answer = us_client.post(
        "/records/new/soil_reading", data=form(spot="back bed", temp_f="500", at="2026-04-24T05:30")
    )
    assert answer.status_code == 422 and "temp_f between -4 and 140" in answer.get_data(as_text=True)


def test_faults_stand_by_their_fields(client: FlaskClient) -> None:
    """Each fault by its field, what was typed kept and escaped, and nothing recorded."""
    answer = client.post("/records/new/soil_reading", data=form(temp_c="<b>warm", depth_cm="2000", at=""))
    text = answer.get_data(as_text=True)
    assert answer.status_code == 422
    assert set(re.findall(r'id="f-(\w+)-fault"', text)) == {"temp_c", "depth_cm", "at"}
    assert "<b>warm" not in text and "&lt;b&gt;warm" in text
    assert "3 fields need another value" in text
    answer = client.post("/records/new/soil_reading", data=form(temp_c="9", at="2026-04-24T11:30"))
    assert answer.status_code == 422 and "spot" in answer.get_data(as_text=True)


def test_what_is_told_again_stands_for_the_old_and_says_what_changed(client: FlaskClient) -> None:
    """A cover with another depth: the new row says what it was before; the same again adds nothing."""
    cover = {"spot": "south wall", "material": "stones", "put_on": "2021-10-02"}
    answer = client.post("/records/new/cover", data=form(**cover, depth_cm="9"))
    text = page(client, answer.headers["Location"])
    assert "It stands for" in text and "depth was 6 cm and is now 9 cm" in text
    answer = client.post("/records/new/cover", data=form(**cover, depth_cm="9"))
    assert answer.status_code == 409 and "The same is recorded already" in answer.get_data(as_text=True)


def test_what_was_taken_out_of_use_is_led_back_to(client: FlaskClient) -> None:
    """Typed again what was taken out by mistake: the page leads to the old row instead of adding nothing in silence."""
    look = {"plant": "shed fig", "on": "2026-04-24", "bbch": "3"}
    there = client.post("/records/new/stage", data=form(**look)).headers["Location"].partition("?")[0]
    client.post(f"{there}/out", data=form(reason="wrong"))
    text = client.post("/records/new/stage", data=form(**look)).get_data(as_text=True)
    assert "told before and taken out of use" in text and f'href="{there}"' in text


def test_a_spot_of_a_strange_name_goes_all_the_way(client: FlaskClient) -> None:
    """Slash, tags, quotes and accents: recorded as typed, chosen in the next form, never run."""
    for name in ("a/b", "<b>x</b>", "é \"two\" 'one'"):
        assert client.post("/records/new/spot", data=form(name=name)).status_code == 303
        answer = client.post("/records/new/cover", data=form(spot=name, material="straw", put_on="2026-04-01"))
        there = answer.headers["Location"]
        raw = client.get(there).get_data(as_text=True)
        assert "<b>x" not in raw and name in html.unescape(raw)
    assert "<b>x" not in client.get("/records/new/cover").get_data(as_text=True)


def test_a_form_without_a_sound_id_counts_as_a_new_one(client: FlaskClient, open_demo: Callable[[], Garden]) -> None:
    """A made-up id of another sort is not kept, so that it can never stand for another form."""
    for made in ("", "x", "../../x", "stage.csv", "a" * 200):
        answer = client.post(
            "/records/new/work",
            data={"form": made, "plant": "shed fig", "on": "2026-04-20", "what": "other", "note": f"n {made[:9]}"},
        )
        assert answer.status_code == 303
    with open_demo() as garden:
        refs = [ref for (ref,) in garden.db.conn.execute("SELECT ref FROM said WHERE via = 'page'")]
    assert len(refs) == len(set(refs)) == 5 and all(re.fullmatch(r"[0-9a-f]{32}", ref) for ref in refs)


def test_a_place_can_be_the_first_record(adviser: Adviser, tmp_path: Path) -> None:
    """With no garden file yet the form for the place makes one, and other forms lead to it."""
    own = replace(adviser, settings=replace(adviser.settings, garden=tmp_path / "new.db"))
    client = create_app(own, lambda: NOON).test_client()
    client.environ_base["HTTP_ACCEPT"] = "text/html"
    answer = client.post(
        "/records/new/place",
        data=form(name="Hill", latitude_deg="47.25", longitude_deg="15", time_zone="Europe/Vienna", units="metric"),
    )
    assert "47.25 degrees" in page(client, answer.headers["Location"])
    second = client.post(
        "/records/new/place",
        data=form(name="Vale", latitude_deg="47", longitude_deg="15", time_zone="Europe/Vienna", units="metric"),
    )
    assert second.status_code == 422 and "one place a garden file" in second.get_data(as_text=True)


def test_a_body_too_large_is_refused(client: FlaskClient) -> None:
    """A form is small; more than it can be is refused with a page that says so."""
    answer = client.post("/records/new/work", data=form(note="x" * 70_000))
    assert answer.status_code == 413 and "65536 bytes" in answer.get_data(as_text=True)
