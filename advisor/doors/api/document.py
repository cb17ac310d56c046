"""The OpenAPI document, made from the routes themselves: what each says of itself, and the schemas that it reads by."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any

from apispec import APISpec
from apispec.ext.marshmallow import MarshmallowPlugin
from flask import Flask
from marshmallow import Schema
from werkzeug.routing import Rule

from advisor.conversation import Adviser
from advisor.doors.access.request import API
from advisor.doors.api.answering import KEY
from advisor.doors.api.described import ALWAYS, Described
from advisor.doors.api.kind_schemas import can_be_sent, component, values_schema
from advisor.doors.api.reply_schemas import Fact
from advisor.doors.api.schemas import KEY_PATTERN, UNITS, Correction, MessageSent, Problem, RecordSent, Ruled

JSON, PROBLEM = "application/json", "application/problem+json"
BODIES: tuple[type[Schema], ...] = (MessageSent, RecordSent, Ruled, Correction)
REFUSALS = {
    400: "It cannot be read as a request",
    401: "A key is needed, or another one",
    403: "It was sent by a page of another site",
    404: "There is nothing of that name, or the garden has no file yet",
    409: "Something else was sent under that key before",
    413: "It is too long",
    415: "It is not JSON",
    421: "The service does not go by that name",
    422: "It cannot be used; faults names each member",
    429: "Too many requests; Retry-After says when to come again",
    500: "A fault of ours",
    503: "The garden's file cannot be used right now; Retry-After says when to try again",
}
ABOUT = f"""An adviser for fruit trees over a grower's own records.
{UNITS}
Every refusal is problem details (RFC 9457) with done, found and do. New members may come in answers: pass over those
that you do not know."""


def make_document(app: Flask, adviser: Adviser) -> dict[str, Any]:
    """Return the document of an application's routes under ``API``."""
    spec = APISpec(
        "The adviser's API", "1", "3.1.0", info={"description": ABOUT}, servers=[{"url": "/"}],
        plugins=[MarshmallowPlugin(schema_name_resolver=_name_of)],
    )  # fmt: skip
    with_keys = adviser.settings.growers is not None
    if with_keys:
        says = "A key of the grower's, one for each device"
        spec.components.security_scheme("key", {"type": "http", "scheme": "bearer", "description": says})
    for kind in can_be_sent(adviser.base.kinds):
        spec.components.schema(component(kind.name), schema=values_schema(kind))
    spec.components.schema("Fact", schema=Fact)  # it nests itself
    spec.components.schema("Problem", schema=Problem)
    for rule, told in described_routes(app):
        operations = {
            method.lower(): _operation(rule, told, adviser, with_keys=with_keys) for method in sorted(_methods(rule))
        }
        spec.path(_path(rule), operations=operations)
    made: dict[str, Any] = spec.to_dict()
    _finish(made["components"]["schemas"], adviser)
    return made


def described_routes(app: Flask) -> Iterator[tuple[Rule, Described]]:
    """Yield every route under ``API`` with what it says of itself. Raise TypeError where one says nothing."""
    for rule in sorted(app.url_map.iter_rules(), key=lambda rule: rule.rule):
        if rule.rule.startswith(API):
            told = getattr(app.view_functions[rule.endpoint], "described", None)
            if not isinstance(told, Described):
                raise TypeError(f"{rule.rule} is not described")
            yield rule, told


def _methods(rule: Rule) -> set[str]:
    return (rule.methods or set()) - {"HEAD", "OPTIONS"}


def _path(rule: Rule) -> str:
    return re.sub(r"<(?:[^<>]*:)?(\w+)>", r"{\1}", rule.rule)


def _name_of(schema: Any) -> str:
    made = schema if isinstance(schema, type) else type(schema)
    return str(made.__name__)


def _operation(rule: Rule, told: Described, adviser: Adviser, *, with_keys: bool) -> dict[str, Any]:
    made: dict[str, Any] = {
        "operationId": rule.endpoint.rpartition(".")[2],
        "summary": told.title,
        "description": told.says,
        "tags": [told.topic],
        "parameters": list(_parameters(rule, told, adviser)),
        "responses": {str(status): _answer(status, one) for status, one in told.answers.items()},
    }
    if told.body:
        content = {"schema": told.body, **({"example": dict(told.example)} if told.example else {})}
        made["requestBody"] = {"required": True, "content": {JSON: content}}
    refuses = sorted({*told.refuses, *ALWAYS, *([400] if with_keys or told.body else [])})
    made["responses"] |= {str(status): _refusal(status) for status in refuses}
    if with_keys:
        made["security"] = [] if told.open else [{"key": []}]
    return made


def _answer(status: int, one: Any) -> dict[str, Any]:
    made: dict[str, Any] = {"description": one.says, "content": {JSON: {"schema": one.schema or {"type": "object"}}}}
    if status == 201:
        made["headers"] = {"Location": {"description": "Where the new record is", "schema": {"type": "string"}}}
    return made


def _refusal(status: int) -> dict[str, Any]:
    made: dict[str, Any] = {"description": REFUSALS[status], "content": {PROBLEM: {"schema": Problem}}}
    if status in (429, 503):
        wait = {"description": "After how many seconds to come again", "schema": {"type": "string"}}
        made["headers"] = {"Retry-After": wait}
    return made


def _parameters(rule: Rule, told: Described, adviser: Adviser) -> Iterator[dict[str, Any]]:
    for name in sorted(rule.arguments):
        schema: dict[str, Any] = {"type": "string", "minLength": 1}
        if name == "kind":
            every = [kind.name for kind in adviser.base.kinds.values() if kind.origin == "recorded"]
            told_ones = [kind.name for kind in can_be_sent(adviser.base.kinds)]
            schema = {"type": "string", "enum": told_ones if told.body else every}
        elif name == "row_id":
            schema = {"type": "integer", "minimum": 1}
        yield {"in": "path", "name": name, "required": True, "description": SAYS[name], "schema": schema}
    if told.query:
        yield {"in": "query", "schema": told.query}
    if told.once:
        says = "your own name for what you send, instead of id in the body; sent again under it, it counts once"
        schema = {"type": "string", "pattern": KEY_PATTERN}
        yield {"in": "header", "name": KEY, "required": False, "description": says, "schema": schema}


SAYS = {
    "kind": "a kind of record",
    "row_id": "the record's number",
    "message_id": "the message's id",
    "rule_id": "the rule's id",
}


def _finish(schemas: dict[str, Any], adviser: Adviser) -> None:
    """Say what a schema of ours cannot: what the fields of a kind are, and that answers may grow members."""
    kinds = list(can_be_sent(adviser.base.kinds))
    closed = {one.__name__ for one in BODIES} | {component(kind.name) for kind in kinds}
    for name, schema in schemas.items():
        if name not in closed:
            schema.pop("additionalProperties", None)
    for kind in kinds:
        if kind.needs_one_of:
            schemas[component(kind.name)]["anyOf"] = [{"required": [name]} for name in kind.needs_one_of]
        schemas[component(kind.name)]["description"] = kind.says
    values = schemas["RecordSent"]["properties"]["values"]
    values.pop("additionalProperties", None)
    values["anyOf"] = [{"$ref": f"#/components/schemas/{component(kind.name)}"} for kind in kinds]


def resolved(document: Mapping[str, Any], schema: Mapping[str, Any]) -> Mapping[str, Any]:
    """Return a schema itself where it is only referred to."""
    name = schema.get("$ref", "").rpartition("/")[2]
    found: Mapping[str, Any] = document["components"]["schemas"][name] if name else schema
    return found
