"""The document is sound, tells of every route and of nothing else, and what is answered is what it says."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from flask import Flask
from flask.testing import FlaskClient
from openapi_spec_validator import validate
from tests_shared import NOON

from advisor.conversation import Adviser
from advisor.doors.api.document import described_routes
from advisor.doors.api.reply_schemas import Reply

Body = dict[str, Any]
FOLLOWED_UP = (
    "why is the shed fig late?", "why", "what if it was in a pot?", "where do I put a new apricot?", "why not the porch?",
    "what if it had a wall?", "the fig is swelling", "2", "undo", "fig", "help", "what if it rained", "soil shed bed 12 10 cm",
    "shed fig bud break; when do I uncover?", "can I spray copper?", "I plan to move the wall fig", "asdf qwer",
)  # fmt: skip


def document(client: FlaskClient) -> Body:
    found: Body = client.get("/v1/openapi.json").get_json()
    return found


def test_it_is_sound(api: FlaskClient, growers: Any) -> None:
    """The validator of the OpenAPI specification finds no fault, with keys and without."""
    validate(document(api))
    validate(document(growers.app.test_client()))


def test_it_tells_of_every_route_and_of_nothing_else(app: Flask, api: FlaskClient) -> None:
    """Each route under /v1 by each method, as Flask knows them, and no other."""
    served = {
        (re.sub(r"<(?:[^<>]*:)?(\w+)>", r"{\1}", rule.rule), method.lower())
        for rule in app.url_map.iter_rules()
        if rule.rule.startswith("/v1")
        for method in (rule.methods or set()) - {"HEAD", "OPTIONS"}
    }
    told = {(path, method) for path, operations in document(api)["paths"].items() for method in operations}
    assert told == served


def test_a_route_that_says_nothing_of_itself_is_found(app: Flask) -> None:
    """It would be missing from the document, so the service does not start with it."""
    app.add_url_rule("/v1/silent", "silent", lambda: "")
    with pytest.raises(TypeError, match="/v1/silent"):
        list(described_routes(app))


def test_a_key_is_told_of_where_one_is_needed(api: FlaskClient, growers: Any) -> None:
    """With several growers every route but the document itself says that it needs a key, and it does."""
    assert "securitySchemes" not in document(api)["components"]
    stranger = growers.app.test_client()
    for path, operations in document(stranger)["paths"].items():
        for method, one in operations.items():
            free = one["security"] == []
            assert free == (path == "/v1/openapi.json")
            where = path.format(kind="stage", row_id=1, message_id="m", rule_id="r")
            assert (stranger.open(where, method=method.upper()).status_code == 401) != free


def test_the_fields_of_a_kind_are_those_of_its_file(api: FlaskClient, adviser: Adviser) -> None:
    """Names, bounds, words and what is needed come from rules/kinds."""
    schemas = document(api)["components"]["schemas"]
    for kind in adviser.base.kinds.values():
        if kind.origin != "recorded" or kind.name in ("advice", "weather_doubt"):
            continue
        schema = schemas["".join(part.title() for part in kind.name.split("_")) + "Values"]
        assert set(schema["properties"]) == set(kind.fields) and schema["additionalProperties"] is False
        assert set(schema.get("required", [])) == {one.name for one in kind.fields.values() if one.required}
        for one in kind.fields.values():
            told = schema["properties"][one.name]
            assert (told.get("minimum"), told.get("maximum")) == (one.min, one.max)
            assert tuple(told.get("enum", ())) == one.one_of


def test_a_kinds_own_example_can_be_sent(api: FlaskClient, adviser: Adviser) -> None:
    """The example in each kind's file fits the schema in the document, by another validator than ours."""
    made = document(api)
    for kind in api.get("/v1/kinds?origin=recorded").get_json()["kinds"]:
        if kind["can_be_sent"]:
            name = "".join(part.title() for part in kind["name"].split("_")) + "Values"
            jsonschema.Draft202012Validator(
                {"$ref": f"#/components/schemas/{name}", "components": made["components"]}
            ).validate(kind["example"])


def judge(reply: Body, made: Body) -> None:
    """Hold a reply to its schema, by marshmallow, which lets no member pass that is not told of, and by the document."""
    Reply().load(json.loads(json.dumps(reply)))
    whole = {"$ref": "#/components/schemas/Reply", "components": made["components"]}
    jsonschema.Draft202012Validator(whole).validate(reply)


def test_the_replies_to_all_kinds_of_questions_are_told_whole(
    api: FlaskClient, adviser: Adviser, demo_copy: Path
) -> None:
    """Every example of every kind of question, asked of the demo garden: each member of the reply is described."""
    made, seen, members = document(api), set(), set()
    for question in adviser.questions.values():
        for example in question.examples[:3]:
            reply = adviser.message({"text": example}, NOON, demo_copy)
            judge(reply, made)
            seen.add(reply["question"].get("kind"))
            members |= set(reply)
    assert set(adviser.questions) <= seen
    assert {"conclusions", "because", "spots", "state", "weighed", "disputes", "lacking"} <= members


def test_the_replies_to_what_follows_are_told_whole(adviser: Adviser, api: FlaskClient, demo_copy: Path) -> None:
    """Reasons asked for, things supposed, choices, undo, what is declined or not understood."""
    made, outcomes = document(api), set()
    for text in FOLLOWED_UP:
        reply = api.post("/v1/messages", json={"text": text}).get_json()
        judge(reply, made)
        outcomes.add(reply["outcome"])
    assert outcomes >= {"answered", "asked-back", "recorded", "undone", "declined", "not-understood", "noted"}


def test_the_replies_that_set_a_garden_up_are_told_whole(api: FlaskClient, adviser: Adviser, tmp_path: Path) -> None:
    """In an empty garden: where it lies, asked for piece by piece."""
    path, made = tmp_path / "new.db", document(api)
    adviser.open(path, create=True).__exit__(None, None, None)
    asked = set()
    for text in ("help", "47.2, 15.3", "Hill", "metric", "Europe/Vienna"):
        reply = adviser.message({"text": text}, NOON, path)
        judge(reply, made)
        asked.add(reply.get("asked"))
    assert len(asked) > 1


def test_a_false_reply_is_found(api: FlaskClient) -> None:
    """A member that is not described, or a fact without its origin's parts, does not pass."""
    reply = api.post("/v1/messages", json={"text": "why is the shed fig late?"}).get_json()
    made = document(api)
    fact = reply["because"][0]["from"][0]
    for wrong in (
        {**reply, "colour": "red"},
        {**reply, "outcome": "lost"},
        {k: v for k, v in reply.items() if k != "short"},
    ):
        with pytest.raises(Exception, match=r"colour|outcome|short"):
            judge(wrong, made)
    fact["origin"] = "concluded" if fact["origin"] != "concluded" else "derived"
    with pytest.raises(Exception, match="fact has"):
        judge(reply, made)
