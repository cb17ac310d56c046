"""What an answer asks for, told in two taps: the form filled in, the reading recorded, the answer changed."""

from __future__ import annotations

import html
import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from flask.testing import FlaskClient

from advisor.conversation import Adviser
from advisor.doors.http import create_app
from advisor.records.importing import import_path

WARMEST = "which spot is warmest?"
US_NOON = datetime(2026, 4, 26, 17, 0, tzinfo=UTC)


def asked(client: FlaskClient, text: str) -> tuple[str, str]:
    """Ask and return the exchange's address and its page."""
    address = client.post("/talk", data={"text": text}).headers["Location"]
    return address, client.get(address).get_data(as_text=True)


def fields(content: str, place: int = 0) -> dict[str, str]:
    """Return what the form for the reading at this place would post as it stands."""
    forms = re.findall(r'<form[^>]*action="[^"]*/reading".*?</form>', content, re.DOTALL)
    form = next(one for one in forms if f'name="place" value="{place}"' in one)
    found = {
        name: html.unescape(value)
        for name, value in re.findall(r'<input[^>]*?name="([\w.]+)"[^>]*?value="([^"]*)"', form)
    }
    for name, options in re.findall(r'<select[^>]*name="([\w.]+)".*?>(.*?)</select>', form, re.DOTALL):
        picked = re.search(r'value="([^"]*)" selected', options)
        found[name] = picked[1] if picked else ""
    return found


def test_the_form_is_filled_in_for_the_spots_asked_of(client: FlaskClient) -> None:
    """Two soils to be read together have a number each; depth, time and sky are there once, as far as they are known."""
    _, content = asked(client, "compare the shed bed and the south wall")
    made = fields(content)
    assert (made["depth_cm"], made["at"], made["0.temp_c"], made["1.temp_c"]) == ("10", "2026-04-24T12:00", "", "")
    assert "<legend>shed bed</legend>" in content and "<legend>south wall</legend>" in content


def test_a_number_and_a_tap_record_it(client: FlaskClient, adviser: Adviser, demo_copy: Path) -> None:
    """What is typed is recorded with a form's name on it, said back, can be undone, and the question asked again."""
    address, content = asked(client, "compare the shed bed and the south wall")
    sent = {**fields(content), "0.temp_c": "10,5", "1.temp_c": "14.1", "sky": "sun"}
    done = client.post(f"{address}/reading", data=sent)
    assert done.status_code == 303
    shown = client.get(done.headers["Location"]).get_data(as_text=True)
    assert "soil at shed bed 10.5 °C, 10 cm deep, in the sun, 24 April 12:00" in shown
    assert "soil at south wall 14.1 °C" in shown and "/undo" in shown
    assert 'value="compare the shed bed and the south wall"' in shown
    with adviser.open(demo_copy) as garden:
        last = garden.of("soil_reading")[-2:]
        row = garden.row("soil_reading", last[0].origin.row_ids[0])  # type: ignore[union-attr]  # it is recorded
    assert [fact.number("temp_c") for fact in last] == [10.5, 14.1]
    assert row["said"]["via"] == "page"


def test_sent_twice_it_is_recorded_once(client: FlaskClient, adviser: Adviser, demo_copy: Path) -> None:
    """The same form with the same number counts once; gone back to with another number it is another reading."""
    address, content = asked(client, "compare the shed bed and the south wall")
    sent = {**fields(content), "0.temp_c": "10.5"}
    leads = [client.post(f"{address}/reading", data=sent).headers["Location"] for _ in range(2)]
    assert leads[0] == leads[1]
    client.post(f"{address}/reading", data={**sent, "0.temp_c": "11.5"})
    with adviser.open(demo_copy) as garden:
        assert [fact.number("temp_c") for fact in garden.of("soil_reading")][-3:] != [10.5, 10.5, 11.5]
        assert [fact.number("temp_c") for fact in garden.of("soil_reading")][-2:] == [10.5, 11.5]


@pytest.mark.parametrize(("typed", "says"), [("warm", "wanted"), ("", "nothing typed"), ("95", "wanted")])
def test_a_fault_stands_by_its_field(client: FlaskClient, typed: str, says: str) -> None:
    """What is no reading comes back as it was typed, the fault beside it, and nothing is recorded or said."""
    address, content = asked(client, "compare the shed bed and the south wall")
    answer = client.post(f"{address}/reading", data={**fields(content), "0.temp_c": typed})
    shown = answer.get_data(as_text=True)
    assert answer.status_code == 422
    field = re.search(r'<div class="field at-fault">.*?</div>', shown, re.DOTALL)
    assert field and says in field[0] and f'value="{typed}"' in field[0]


def test_a_stage_is_told_in_words(client: FlaskClient, adviser: Adviser, demo_copy: Path) -> None:
    """How far a tree is, is picked by the words of the trade for its kind, and kept with its code."""
    address, content = asked(client, "what next?")
    place = next(n for n in range(2) if f'name="{n}.bbch"' in content or 'name="0.bbch"' in content)
    sent = {**fields(content, place), "0.bbch": "65"}
    shown = client.get(client.post(f"{address}/reading", data=sent).headers["Location"]).get_data(as_text=True)
    assert "old plum full bloom, 24 April" in shown
    with adviser.open(demo_copy) as garden:
        assert garden.of("stage")[-1].get("bbch") == 65


def test_a_reading_changes_the_answer(client: FlaskClient) -> None:
    """Told by the form that the store fig is brown to the base, its answer is another one."""
    why = "why is the store fig still asleep?"
    _first, before = asked(client, why)
    address, content = asked(client, "what should I measure next?")
    assert "Scratch the bark of the store fig" in content
    sent = {**fields(content), "0.scratch": "brown", "0.height": "all"}
    shown = client.get(client.post(f"{address}/reading", data=sent).headers["Location"]).get_data(as_text=True)
    assert "scratched, brown all the way" in shown
    _, after = asked(client, why)
    assert "root ball was dry" in before
    assert re.search(r'<div class="answer">(.*?)</div>', before, re.DOTALL) != re.search(
        r'<div class="answer">(.*?)</div>', after, re.DOTALL
    )
    assert "brown" in after


def test_a_time_left_as_it_was_is_the_time_of_sending(client: FlaskClient) -> None:
    """A page that lay open for an hour, or waited for a signal, records when the number was typed."""
    address, content = asked(client, "compare the shed bed and the south wall")
    sent = {**fields(content), "0.temp_c": "10.5", "sent_at": "2026-04-24T09:20:00.000Z"}
    shown = client.get(client.post(f"{address}/reading", data=sent).headers["Location"]).get_data(as_text=True)
    assert "24 April 11:20" in shown


@pytest.mark.parametrize("place", ["7", "x", "-1", ""])
def test_a_reading_that_was_not_asked_for(client: FlaskClient, place: str) -> None:
    """A form for nothing that the answer asked is not taken."""
    address, _ = asked(client, "compare the shed bed and the south wall")
    assert client.post(f"{address}/reading", data={"place": place, "0.temp_c": "1"}).status_code == 404


@pytest.fixture
def us_client(adviser: Adviser, tmp_path: Path) -> Iterator[FlaskClient]:
    """A client to the demo garden in US units."""
    path = tmp_path / "us.db"
    with adviser.open(path, create=True) as garden:
        import_path(garden, Path(__file__).parents[2] / "fixtures" / "demo_us", adviser.lore, US_NOON)
    own = replace(adviser, settings=replace(adviser.settings, garden=path))
    with create_app(own, lambda: US_NOON).test_client() as client:
        client.environ_base["HTTP_ACCEPT"] = "text/html"
        yield client


def test_us_growers_read_and_type_fahrenheit(us_client: FlaskClient) -> None:
    """The form, the reasons and what is said back are in °F and inches, and never in °C."""
    _, worth = "", us_client.get("/").get_data(as_text=True)
    address, content = asked(us_client, WARMEST)
    made = fields(content)
    assert "°C" not in content + worth
    assert made["depth_in"] == "4" and "0.temp_f" in made
    done = client_said(us_client, address, {**made, "0.temp_f": "54"})
    assert "54 °F, 4 in deep" in done and "°C" not in done


def client_said(client: FlaskClient, address: str, sent: dict[str, str]) -> str:
    answer = client.post(f"{address}/reading", data=sent)
    assert answer.status_code == 303, answer.get_data(as_text=True)
    return client.get(answer.headers["Location"]).get_data(as_text=True)


def test_the_data_says_of_what_is_asked(client: FlaskClient, adviser: Adviser) -> None:
    """Each thing asked for names plants and spots of the garden, or its kind is about none."""
    for text in (WARMEST, "what should I measure next?", "what should I pinch?", "where do I put a new apricot?"):
        reply = client.post("/messages", json={"text": text}).get_json()
        assert reply["lacking"], text
        for one in reply["lacking"]:
            named = one["about"].get("spots", []) + one["about"].get("plants", [])
            assert named and all(name in one["ask"] for name in named[:1]), one
            field = one["about"].get("field")
            assert field is None or field in adviser.base.kinds[one["kind"]].fields
