"""The API: its contract, one error shape for everything, nothing lost and nothing answered twice."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient
from tests_shared import NOON, leaves

from advisor.conversation import Adviser
from advisor.doors.http import create_app
from advisor.records.messages import keep_message

CONTRACT = {"id", "outcome", "reply", "short", "question", "conclusions", "because", "records", "recorded", "lacking",
            "cautions"}  # fmt: skip


@pytest.fixture
def client(adviser: Adviser, demo_copy: Path) -> Iterator[FlaskClient]:
    own = replace(adviser, settings=replace(adviser.settings, garden=demo_copy))
    with create_app(own, lambda: NOON).test_client() as client:
        yield client


def test_a_question_is_answered_by_the_contract(client: FlaskClient, adviser: Adviser, demo_copy: Path) -> None:
    """Every conclusion leads down through facts to recorded rows that exist in the file."""
    reply = client.post("/messages", json={"text": "why is the shed fig so slow to wake?", "id": "m1"}).get_json()
    assert set(reply) >= CONTRACT
    assert (reply["id"], reply["outcome"]) == ("m1", "answered")
    assert reply["question"] == {"kind": "why-late", "plant": "shed fig"}
    assert reply["conclusions"] and [c["rank"] for c in reply["conclusions"]] == sorted(
        c["rank"] for c in reply["conclusions"]
    )
    with adviser.open(demo_copy) as garden:
        for conclusion in reply["conclusions"]:
            assert conclusion["rule"] in adviser.base.rules
            for place in conclusion["because"]:
                rests_on = leaves(reply["because"][place]["from"])
                assert rests_on, conclusion
                for kind, row_id in rests_on:
                    assert garden.row(kind, row_id)["id"] == row_id


def test_the_same_id_is_answered_once(client: FlaskClient) -> None:
    """A message sent again, even with other words, gets its first answer back, by POST and by GET."""
    first = client.post("/messages", json={"text": "why is the shed fig late?", "id": "m1"}).get_json()
    again = client.post("/messages", json={"text": "where do I put a fig?", "id": "m1"}).get_json()
    assert first == again == client.get("/messages/m1").get_json()


def test_without_an_id_one_is_given(client: FlaskClient) -> None:
    """The reply carries the id by which it is fetched again."""
    reply = client.post("/messages", json={"text": "why is the shed fig late?"}).get_json()
    assert client.get(f"/messages/{reply['id']}").get_json() == reply


def test_health(client: FlaskClient) -> None:
    """Health opens the garden and says whose it is."""
    assert client.get("/health").get_json()["status"] == "ok"


def test_a_kept_message_is_answered_when_sent_again(client: FlaskClient, adviser: Adviser, demo_copy: Path) -> None:
    """A message whose thinking was cut short is still there, and its own words are answered on the next try."""
    with adviser.open(demo_copy) as garden:
        keep_message(garden, "m9", "why is the shed fig late?", NOON)
    waiting = client.get("/messages/m9")
    assert (waiting.status_code, waiting.get_json()["outcome"]) == (202, "waiting")
    assert client.post("/messages", json={"text": "why is the shed fig late?", "id": "m9"}).get_json()["question"] == {
        "kind": "why-late",
        "plant": "shed fig",
    }


BAD: list[tuple[str, Any, int, str]] = [
    ("empty", {"text": ""}, 422, "no words in it"),
    ("blank", {"text": " \n\t"}, 422, "no words in it"),
    ("no text", {}, 422, "text"),
    ("wrong type", {"text": 5}, 422, "text"),
    ("list", ["why"], 422, "a list"),
    ("text", "why", 422, "a text"),
    ("unknown key", {"text": "why", "colour": "red"}, 422, "colour"),
    ("bad id", {"text": "why", "id": ""}, 422, "an id of 0 characters"),
    ("long id", {"text": "why", "id": "x" * 65}, 422, "an id of 65 characters"),
    ("bad time", {"text": "why", "sent_at": "yesterday"}, 422, "sent_at"),
    ("half a character", {"text": "why \ud800"}, 422, "half a character"),
    ("id with a slash", {"text": "why", "id": "a/b"}, 422, "an id of 3 characters"),
    ("long ago", {"text": "why", "sent_at": "0001-01-01T00:00:00Z"}, 422, "sent in the year 1"),
    ("long", {"text": "why " * 600}, 413, "2400 characters"),
    ("huge", {"text": "a" * 1_000_000}, 413, "more than 65536 bytes"),
]


@pytest.mark.parametrize(("body", "status", "found"), [case[1:] for case in BAD], ids=[case[0] for case in BAD])
def test_bad_messages_are_refused_in_one_shape(client: FlaskClient, body: Any, status: int, found: str) -> None:
    """Problem details with what was done, what was found and what to do; nothing is kept of a refused message."""
    answer = client.post("/messages", json=body)
    problem = answer.get_json()
    assert (answer.status_code, answer.content_type) == (status, "application/problem+json")
    assert {"type", "title", "status", "detail", "done", "found", "do"} <= set(problem)
    assert found in problem["found"]
    assert problem["do"]


@pytest.mark.parametrize(
    ("method", "path", "kwargs", "status", "found"),
    [
        ("post", "/messages", {"data": '{"text": "why', "content_type": "application/json"}, 422, "no sound JSON"),
        ("post", "/messages", {"data": b"\xff\xfe", "content_type": "application/json"}, 422, "no sound JSON"),
        ("post", "/messages", {"data": "[" * 50_000, "content_type": "application/json"}, 422, "no sound JSON"),
        ("post", "/messages", {"data": "null", "content_type": "application/json"}, 422, "null"),
        ("post", "/messages", {"data": "text=why"}, 415, "Unsupported Media Type"),
        ("get", "/messages", {}, 405, "Method Not Allowed"),
        ("get", "/messages/none", {}, 404, "no message 'none'"),
        ("get", "/elsewhere", {}, 404, "Not Found"),
    ],
)
def test_bad_requests_have_the_same_shape(
    client: FlaskClient, method: str, path: str, kwargs: dict[str, Any], status: int, found: str
) -> None:
    """What the framework refuses looks like what we refuse."""
    answer = getattr(client, method)(path, **kwargs)
    assert (answer.status_code, answer.content_type) == (status, "application/problem+json")
    assert found in answer.get_json()["found"]


def test_an_unforeseen_error_is_no_bare_page(client: FlaskClient, monkeypatch: pytest.MonkeyPatch) -> None:
    """A fault of ours is said in the same shape, and tells no inner detail."""
    monkeypatch.setattr(Adviser, "reply", lambda *_: 1 / 0)
    answer = client.post("/messages", json={"text": "why is the shed fig late?", "id": "m2"})
    assert (answer.status_code, answer.content_type) == (500, "application/problem+json")
    assert "ZeroDivision" not in answer.get_data(as_text=True)
    monkeypatch.undo()
    assert client.post("/messages", json={"text": "again", "id": "m2"}).get_json()["question"]["plant"] == "shed fig"


def test_a_garden_that_is_not_there(adviser: Adviser, tmp_path: Path) -> None:
    """Without a file the API says what to do, and makes no empty one."""
    own = replace(adviser, settings=replace(adviser.settings, garden=tmp_path / "gone.db"))
    answer = create_app(own, lambda: NOON).test_client().post("/messages", json={"text": "why is the fig late?"})
    assert (answer.status_code, json.loads(answer.data)["found"]) == (404, "no file gone.db")
    assert list(tmp_path.iterdir()) == []
