"""Messages listed, the garden, rules and kinds; and one shape for every refusal under /v1."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient
from tests_shared import NOON

from advisor.conversation import Adviser
from advisor.records.messages import keep_message


def test_the_address_without_a_version_is_the_same(api: FlaskClient) -> None:
    """A message sent to one is read at the other."""
    first = api.post("/v1/messages", json={"text": "why is the shed fig late?", "id": "m1"}).get_json()
    assert api.post("/messages", json={"text": "anything", "id": "m1"}).get_json() == first
    assert api.get("/messages/m1").get_json() == api.get("/v1/messages/m1").get_json() == first


def test_a_message_takes_its_key_from_the_header(api: FlaskClient) -> None:
    """As other routes do."""
    reply = api.post("/v1/messages", json={"text": "help"}, headers={"Idempotency-Key": '"m-7"'}).get_json()
    assert reply["id"] == "m-7"


def test_messages_by_the_page(api: FlaskClient, adviser: Adviser, demo_copy: Path) -> None:
    """The latest first, each once, also where a message comes in between two pages; one may still wait."""
    with adviser.open(demo_copy) as garden:
        for number in range(25):
            keep_message(garden, f"m{number}", "why", NOON)
    found, link = [], "/v1/messages?limit=10"
    while link:
        page = api.get(link).get_json()
        found += [one["id"] for one in page["messages"]]
        link = page["next"]
        with adviser.open(demo_copy) as garden:
            keep_message(garden, f"late-{len(found)}", "why", NOON)
    assert found == [f"m{number}" for number in reversed(range(25))]
    assert page["messages"][0]["outcome"] == "waiting"
    assert api.get("/v1/messages?after=x").status_code == 422


def test_a_waiting_message_says_so(api: FlaskClient, adviser: Adviser, demo_copy: Path) -> None:
    """It is kept and not answered: 202."""
    with adviser.open(demo_copy) as garden:
        keep_message(garden, "m1", "why", NOON)
    assert api.get("/v1/messages/m1").status_code == 202


def test_the_garden_on_a_day(api: FlaskClient, adviser: Adviser, demo_copy: Path) -> None:
    """Today where no day is named; on an earlier day what held then."""
    today = api.get("/v1/garden").get_json()
    assert (today["on"], today["place"]["time_zone"]) == ("2026-04-24", "Europe/Vienna")
    with adviser.open(demo_copy) as garden:
        assert {one["spot"] for one in today["spots"]} == set(garden.names("spot"))
    then = api.get("/v1/garden?on=2024-01-15").get_json()
    assert then["on"] == "2024-01-15" and then["plants"] != today["plants"]
    for day in ("tomorrow", "1800-01-01", "2026-13-01", "20260424"):
        assert api.get(f"/v1/garden?on={day}").status_code == 422


def test_a_garden_without_a_place_says_so(adviser: Adviser, api: FlaskClient, demo_copy: Path) -> None:
    """Nothing can be told of a day where it is not known where that day is."""
    for row in list(demo_copy.parent.glob("garden.db*")):
        row.unlink()
    adviser.open(demo_copy, create=True).__exit__(None, None, None)
    answer = api.get("/v1/garden")
    assert answer.status_code == 422 and "no place" in answer.get_json()["found"]
    assert api.get("/v1/records/stage").get_json() == {"records": [], "total": 0, "next": None}


def test_rules_are_found_and_told(api: FlaskClient, adviser: Adviser) -> None:
    """All of them, those of a topic, those with words in them; each whole at its address."""
    every = api.get("/v1/rules").get_json()
    assert {one["id"] for one in every["rules"]} == set(adviser.base.rules) and every["total"] == len(
        adviser.base.rules
    )
    topic = every["rules"][0]["topic"]
    assert {one["topic"] for one in api.get(f"/v1/rules?topic={topic}").get_json()["rules"]} == {topic}
    found = api.get("/v1/rules?q=mulhc").get_json()["rules"]
    assert found and len(found) < every["total"]
    assert api.get("/v1/rules?topic=astrology").status_code == 422
    for rule in adviser.base.rules.values():
        told = api.get(f"/v1/rules/{rule.id}").get_json()
        assert [block["name"] for block in told["when"]] == [block.name for block in rule.when]
        assert all(block["says"] and "{" not in block["says"] for block in (*told["when"], *told["unless"]))
        assert [source["cite"] for source in told["sources"]] == [source.cite for source in rule.sources]


def test_kinds_by_their_origin(api: FlaskClient, adviser: Adviser) -> None:
    """Each with its fields and their units."""
    for origin in ("recorded", "derived", "concluded"):
        kinds = api.get(f"/v1/kinds?origin={origin}").get_json()["kinds"]
        assert [one["name"] for one in kinds] == [k.name for k in adviser.base.kinds.values() if k.origin == origin]
    reading = next(one for one in api.get("/v1/kinds").get_json()["kinds"] if one["name"] == "soil_reading")
    temp = next(one for one in reading["fields"] if one["name"] == "temp_c")
    assert (temp["unit"], temp["required"], temp["min"], temp["max"]) == ("°C", True, -20, 60)


REFUSED: list[tuple[str, str, dict[str, Any], int]] = [
    ("get", "/v1/nothing", {}, 404), ("get", "/v1", {}, 404), ("get", "/v1/messages/none", {}, 404),
    ("get", "/v1/records/nothing", {}, 404), ("get", "/v1/records/traits", {}, 404), ("get", "/v1/records/stage/9999", {}, 404),
    ("get", "/v1/records/stage/x", {}, 404), ("get", "/v1/rules/none", {}, 404), ("delete", "/v1/records/stage/1", {}, 405),
    ("put", "/v1/messages", {}, 405), ("post", "/v1/garden", {}, 405), ("post", "/v1/messages", {"data": "text=why"}, 415),
    ("post", "/v1/records/stage", {"data": "<a/>", "content_type": "text/xml"}, 415),
    ("post", "/v1/records/stage", {"data": "{", "content_type": "application/json"}, 422),
    ("post", "/v1/records/stage", {"json": []}, 422), ("post", "/v1/records/stage", {"json": {"values": []}}, 422),
    ("post", "/v1/records/stage", {"json": {"values": {}, "words": "a" * 70_000}}, 413),
    ("post", "/v1/messages", {"json": {"text": "why " * 600}}, 413),
]  # fmt: skip


@pytest.mark.parametrize("accept", ["text/html", "application/json", "image/png"])
@pytest.mark.parametrize(("method", "path", "sent", "status"), REFUSED)
def test_every_refusal_has_one_shape(
    api: FlaskClient, method: str, path: str, sent: dict[str, Any], status: int, accept: str
) -> None:
    """Problem details (RFC 9457), also to who would rather have a page; a wrong method is told the right ones."""
    answer = api.open(path, method=method.upper(), headers={"Accept": accept}, **sent)
    problem = answer.get_json()
    assert (answer.status_code, answer.content_type) == (status, "application/problem+json")
    assert problem["status"] == status and {"type", "title", "detail", "done", "found", "do"} <= set(problem)
    assert ("Allow" in answer.headers) == (status == 405)


def test_without_a_key_even_a_browser_gets_a_problem(growers: Any) -> None:
    """Under /v1 nobody is led to a page: a program would take it for its answer."""
    answer = growers.app.test_client().get("/v1/garden", headers={"Accept": "text/html"})
    assert (answer.status_code, answer.content_type) == (401, "application/problem+json")
    assert answer.headers["WWW-Authenticate"].startswith("Bearer")
