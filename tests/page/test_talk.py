"""The talk without a script: words in, the answer, why, a reading asked for and told, undo, and nothing said twice."""

from __future__ import annotations

import gzip
import html
import json
import re
from dataclasses import replace
from pathlib import Path
from urllib.parse import quote

import pytest
from flask.testing import FlaskClient
from tests_shared import NOON

from advisor.conversation import Adviser
from advisor.doors.http import create_app

WHY = "why is the shed fig late?"


def page(client: FlaskClient, path: str) -> str:
    answer = client.get(path)
    assert answer.status_code == 200, answer.get_data(as_text=True)
    return answer.get_data(as_text=True)


def say(client: FlaskClient, text: str, **more: str) -> tuple[str, str]:
    """Send a message as the form does and return where it leads, and the page there."""
    answer = client.post("/talk", data={"text": text, **more})
    assert answer.status_code == 303, answer.get_data(as_text=True)
    return answer.headers["Location"], page(client, answer.headers["Location"])


def text_of(content: str) -> str:
    """Return a page's text with its marks taken out."""
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", content)))


def hidden(content: str, form: str) -> dict[str, str]:
    """Return the hidden inputs of the form whose address ends so."""
    found = re.search(rf'<form[^>]*action="[^"]*{form}".*?</form>', content, re.DOTALL)
    assert found, form
    return dict(re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', found[0]))


def count(adviser: Adviser, path: Path, table: str) -> int:
    with adviser.open(path) as garden:
        (found,) = garden.db.conn.execute(f"SELECT COUNT(*) FROM {table}").fetchone()
    return int(found)


def test_a_question_leads_to_its_answer(client: FlaskClient) -> None:
    """The form leads to an exchange with an address of its own: the words, then the answer, lead-ins set apart."""
    address, content = say(client, WHY)
    assert re.fullmatch(r"/talk/[0-9a-f]{32}", address)
    assert (
        content.index(WHY) < content.index("was still asleep on 22 April") < content.index("Why, down to your records")
    )
    assert "<strong>What to do:</strong>" in content and '<p class="warn"><strong>Mind:</strong>' in content


def test_the_reasons_go_down_to_the_records_own_words(client: FlaskClient, adviser: Adviser, demo_copy: Path) -> None:
    """Every rule and every single row that the answer names stands there, linked; rows with what was jotted down."""
    _address, content = say(client, WHY)
    with adviser.open(demo_copy) as garden:
        reply = garden.db.conn.execute("SELECT reply FROM message").fetchone()[0]
        inspection = garden.row("inspection", 16)
    for entry in json.loads(reply)["because"]:
        assert f'/rules/{entry["rule"]}"' in content
        assert entry["says"] in html.unescape(content)
    rows = set(re.findall(r'"record": "(\w+/\d+)"', reply))
    assert len(rows) > 30
    for row in rows:
        assert f'href="/records/{row}"' in content, row
    assert f"<q>{inspection['words']}</q>" in content
    assert "(the grower, file inspection.csv)" in content


def test_a_long_run_of_days_is_one_line(client: FlaskClient) -> None:
    """A thousand days of weather are told by how many they are, and by the first and the last, linked."""
    _, content = say(client, WHY)
    assert "1045 days of weather: the first, 1 November 2020, the last, 23 April" in text_of(content).replace(" ,", ",")


def test_a_reload_sends_nothing_twice(client: FlaskClient, adviser: Adviser, demo_copy: Path) -> None:
    """The id that the page carries makes a message count once, however often its form is sent."""
    sent = {"text": "soil shed bed 8.1 10 cm", **hidden(page(client, "/"), "/talk")}
    first = client.post("/talk", data=sent).headers["Location"]
    assert client.post("/talk", data=sent).headers["Location"] == first
    assert (count(adviser, demo_copy, "message"), count(adviser, demo_copy, "soil_reading")) == (1, 83)


def test_other_words_under_a_used_id_are_not_lost(client: FlaskClient, adviser: Adviser, demo_copy: Path) -> None:
    """Gone back to, a page carries a used id: other words sent from it are a message of their own."""
    first, _ = say(client, "soil shed bed 8.1 10 cm", id="one")
    second, content = say(client, "soil shed bed 8.4 10 cm", id="one")
    assert first != second and "8.4 °C" in content
    assert count(adviser, demo_copy, "message") == 2


def test_a_message_that_cannot_be_taken_stays_in_the_box(client: FlaskClient) -> None:
    """One that is too long comes back as it was typed, with what is wrong beside it."""
    answer = client.post("/talk", data={"text": "soil & <b> " * 300})
    content = answer.get_data(as_text=True)
    assert answer.status_code == 413
    assert 'role="alert">3' in content and "soil &amp; &lt;b&gt; soil" in content


def test_what_was_recorded_is_taken_back_by_its_own_button(
    client: FlaskClient, adviser: Adviser, demo_copy: Path
) -> None:
    """Undo takes back that message and not a later one, says what, and is not offered again."""
    first, content = say(client, "soil shed bed 8.1 10 cm")
    say(client, "soil south wall 12 10 cm")
    answer = client.post(f"{first}/undo", data=hidden(content, "/undo"))
    done = page(client, answer.headers["Location"])
    assert "Taken back, and out of use" in done and "shed bed 8.1 °C" in done
    with adviser.open(demo_copy) as garden:
        temps = [fact.number("temp_c") for fact in garden.of("soil_reading")][-2:]
    assert temps[1] == 12 and 8.1 not in temps
    again = page(client, first)
    assert "taken back or put right since" in again and "/undo" not in again


def test_an_undo_cut_short_tells_nothing_as_words(client: FlaskClient, adviser: Adviser, demo_copy: Path) -> None:
    """The words that an undo is kept under record nothing, should they be taken up as a message of the grower's."""
    first, content = say(client, "soil shed bed 8.1 10 cm")
    client.post(f"{first}/undo", data=hidden(content, "/undo"))
    with adviser.open(demo_copy) as garden:
        (words,) = garden.db.conn.execute("SELECT text FROM message ORDER BY rowid DESC").fetchone()
    reply = adviser.message({"text": words}, NOON, demo_copy)
    assert words.startswith("Take back") and reply["recorded"] == []


def test_undo_twice_is_told_kindly(client: FlaskClient) -> None:
    """Where a message is taken back already, that is said, and nothing breaks."""
    first, _content = say(client, "soil shed bed 8.1 10 cm")
    for _ in range(2):
        answer = client.post(f"{first}/undo", data={})
    assert "taken back or put right already" in page(client, answer.headers["Location"])


def test_undo_of_what_others_rest_on_says_so(client: FlaskClient) -> None:
    """A plant of which more is recorded by now stays, and the page says what rests on it."""
    first, content = say(client, "planted a fig at the shed bed, call it moss fig")
    assert "moss fig" in text_of(content)
    say(client, "moss fig bud break")
    answer = client.post(f"{first}/undo", data=hidden(content, "/undo"))
    assert "cannot be taken back: later records rest on it" in text_of(page(client, answer.headers["Location"]))


def test_ways_put_back_are_buttons(client: FlaskClient, adviser: Adviser, demo_copy: Path) -> None:
    """What could be meant is offered to tap while nothing was said since; a tap on an older one is refused."""
    address, content = say(client, "fig swelling")
    message_id = address.rsplit("/", 1)[1]
    assert 'value="crooked fig"' in content
    _picked, done = say(client, "crooked fig", **hidden(content, "/talk"))
    assert "crooked fig buds swelling" in done
    assert 'value="crooked fig"' not in page(client, address)
    late = client.post("/talk", data={"text": "west fig", "answers": message_id})
    assert late.status_code == 422 and "something else was said since" in late.get_data(as_text=True).casefold()


def test_words_are_shown_as_typed(client: FlaskClient) -> None:
    """What a grower typed is text on the page, whatever it looks like."""
    typed = "<script>alert(1)</script> & \"é\" 'x' {{ 7*7 }}"
    _address, content = say(client, typed)
    assert "<script>alert" not in content and "&lt;script&gt;alert(1)" in content and "{{ 7*7 }}" in content
    assert "<script>alert" not in page(client, "/talk") and "<script>alert" not in page(client, "/")


@pytest.mark.parametrize("name", ["a/b", "<b>", "é", '"q"', "a b?c#d"])
def test_an_id_that_is_not_there_is_told(client: FlaskClient, name: str) -> None:
    """An address of no message is a page that says so, with nothing of the address taken as marks."""
    answer = client.get("/talk/" + quote(name, safe=""))
    assert answer.status_code == 404
    assert "<b>" not in answer.get_data(as_text=True)


def test_all_of_the_talk_is_paged(client: FlaskClient, adviser: Adviser, demo_copy: Path) -> None:
    """Fifty messages stand on three pages, the last first, each once."""
    with adviser.open(demo_copy) as garden, garden.writing("filling"):
        for n in range(50):
            row = {"id": f"m{n}", "text": f"words {n}.", "received_at": NOON.isoformat()}
            garden.insert(
                "message", {**row, "outcome": "noted", "reply": '{"outcome": "noted", "reply": "x", "short": "x"}'}
            )
    seen: list[str] = []
    path = "/talk"
    while path:
        content = page(client, path)
        seen += re.findall(r">words (\d+)\.<", content)
        further = re.search(r'href="(/talk\?before=\d+)"', content)
        path = further[1] if further else ""
    assert seen == [str(n) for n in reversed(range(50))]
    assert "nothing was said" not in page(client, "/talk?before=zzz").casefold()


def test_a_message_cut_short_can_be_answered(client: FlaskClient, adviser: Adviser, demo_copy: Path) -> None:
    """One that is kept without an answer shows that, and a button that brings the answer."""
    with adviser.open(demo_copy) as garden, garden.writing("filling"):
        garden.insert("message", {"id": "cut", "text": WHY, "received_at": NOON.isoformat()})
    content = page(client, "/talk/cut")
    assert "not answered yet" in content
    _, content = say(client, WHY, **hidden(content, "/talk"))
    assert "was still asleep" in content


def test_an_empty_garden_points_to_its_setting_up(adviser: Adviser, tmp_path: Path) -> None:
    """Without a garden, or without a place in it, the page leads to where one is set up."""
    with adviser.open(tmp_path / "bare.db", create=True):
        pass
    for name in ("none.db", "bare.db"):
        own = replace(adviser, settings=replace(adviser.settings, garden=tmp_path / name))
        with create_app(own, lambda: NOON).test_client() as client:
            assert 'href="/start"' in page(client, "/")


def test_a_script_gets_the_exchange_alone(client: FlaskClient) -> None:
    """Asked for a part, the server answers at once with the exchange and its id: one way there and back."""
    answer = client.post("/talk", data={"text": WHY, "id": "p1", "part": "1"})
    content = answer.get_data(as_text=True)
    assert (answer.status_code, answer.headers["X-Exchange"]) == (200, "p1")
    assert content.lstrip().startswith("<article") and "<html" not in content
    refused = client.post("/talk", data={"text": " ", "part": "1"}, headers={"Accept": "application/json"})
    assert (refused.status_code, refused.content_type) == (422, "application/problem+json")


def test_text_is_sent_small(client: FlaskClient) -> None:
    """Pages and our own files are compressed for whoever takes them so, and whole for whoever does not."""
    say(client, WHY)
    whole = client.get("/").get_data()
    answer = client.get("/", headers={"Accept-Encoding": "br, gzip"})
    assert answer.headers["Content-Encoding"] == "gzip" and "Accept-Encoding" in answer.headers["Vary"]
    assert len(answer.get_data()) < len(whole) / 3
    assert b"was still asleep" in gzip.decompress(answer.get_data())
    assert "Content-Encoding" not in client.get("/", headers={"Accept-Encoding": "gzip;q=0"}).headers


def test_an_old_answer_shows_what_was_put_right_since(client: FlaskClient) -> None:
    """A row that an answer rested on and that was taken back or corrected later is marked where it stands."""
    log, content = say(client, "shed fig buds swelling")
    first, before = say(client, WHY)
    assert "out of use since" not in before and "put right since" not in before
    assert "(a message)" in before
    client.post(f"{log}/undo", data=hidden(content, "/undo"))
    assert "taken out of use since" in page(client, first)
    second, _ = say(client, "shed fig buds swelling")
    answer, _ = say(client, WHY)
    say(client, "no answer to that")
    assert second != log and "put right since" not in page(client, answer)


def test_the_way_back_to_earlier_exchanges(client: FlaskClient) -> None:
    """From an exchange one goes to the one before and the one after, and from the first page to the last exchange."""
    first, _ = say(client, WHY)
    second, _ = say(client, "what should I do next?")
    assert f'href="{second}"' in page(client, first) and f'href="{first}"' in page(client, second)
    assert "This week&#39;s work" in page(client, "/") or "This week's work" in page(client, "/")
