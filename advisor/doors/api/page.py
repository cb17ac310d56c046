"""The API for reading: its document as it is served, and the same as a page."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from flask import Blueprint, Response, current_app, render_template

from advisor.doors.access.request import no_key_needed
from advisor.doors.api.answering import as_json
from advisor.doors.api.described import Answer, described
from advisor.doors.api.document import make_document, resolved
from advisor.doors.api.kind_schemas import can_be_sent, component
from advisor.doors.page.frame import site

routes = Blueprint("api_document", __name__)
pages = Blueprint("api_page", __name__)
METHODS = ("post", "get")
WHERE = {"path": "in the path", "query": "after the question mark", "header": "as a header"}


@routes.get("/openapi.json")
@no_key_needed
@described(
    "This document",
    topic="Document",
    answers={200: Answer("The OpenAPI document")},
    open=True,
)  # fmt: skip
def get_document() -> Response:
    """Return the API's description for programs (OpenAPI 3.1). It needs no key."""
    return as_json(document())


def document() -> dict[str, Any]:
    """Return the document of the application that serves this request, made once."""
    kept = current_app.extensions
    if "api_document" not in kept:
        kept["api_document"] = make_document(current_app, site().adviser)
    found: dict[str, Any] = kept["api_document"]
    return found


@dataclass(frozen=True)
class Member:
    """One thing that is sent or answered, in words."""

    name: str
    sort: str
    says: str
    needed: bool


@dataclass(frozen=True)
class Told:
    """One route as the page tells it."""

    anchor: str
    method: str
    path: str
    title: str
    says: str
    takes: list[Member]
    sends: list[Member]
    answers: list[tuple[str, str, str]]
    example: Mapping[str, Any] | None


@pages.get("/api")
@no_key_needed
def show_api() -> str:
    """Show what the API can do."""
    made = document()
    topics: dict[str, list[Told]] = {}
    for path, operations in made["paths"].items():
        for method in METHODS:
            if method in operations:
                one = operations[method]
                topics.setdefault(one["tags"][0], []).append(_told(made, path, method, one))
    schemas = made["components"]["schemas"]
    kinds = [(kind, schemas[component(kind.name)]) for kind in can_be_sent(site().adviser.base.kinds)]
    refusals = {code: one["description"] for ops in made["paths"].values() for op in ops.values()
                for code, one in op["responses"].items() if int(code) >= 400}  # fmt: skip
    return render_template(
        "api.html",
        topics={name: topics[name] for name in ("Messages", "Records", "Garden", "Rules", "Kinds", "Document")},
        kinds=[(kind.name, kind.says, list(_members(made, schema))) for kind, schema in kinds],
        shapes=[
            (name, schemas[name].get("description", ""), list(_members(made, schemas[name])))
            for name in sorted(set(schemas) - {component(kind.name) for kind, _ in kinds})
        ],
        refusals=sorted(refusals.items()),
        with_keys="securitySchemes" in made["components"],
    )


def _told(made: Mapping[str, Any], path: str, method: str, one: Mapping[str, Any]) -> Told:
    content = one.get("requestBody", {}).get("content", {}).get("application/json", {})
    answers = [
        (code, answer["description"], _sort(made, answer["content"]["application/json"]["schema"]))
        for code, answer in sorted(one["responses"].items())
        if int(code) < 400
    ]
    takes = [
        Member(p["name"], _sort(made, p["schema"]), f"{WHERE[p['in']]}: {p['description']}", p.get("required", False))
        for p in one["parameters"]
    ]
    body = list(_members(made, resolved(made, content["schema"]))) if content else []
    return Told(
        one["operationId"], method.upper(), path, one["summary"], one["description"], takes, body, answers,
        content.get("example"),
    )  # fmt: skip


def _members(made: Mapping[str, Any], schema: Mapping[str, Any]) -> Iterator[Member]:
    needed = schema.get("required", [])
    for name, one in schema.get("properties", {}).items():
        yield Member(name, _sort(made, one), one.get("description", ""), name in needed)


def _sort(made: Mapping[str, Any], schema: Mapping[str, Any]) -> str:
    """Return in words of what sort a value is.

    >>> _sort({}, {"type": ["integer", "null"], "minimum": 0, "maximum": 99})
    'whole number, 0 to 99, or null'
    """
    if "$ref" in schema:
        return str(schema["$ref"].rpartition("/")[2])
    sorts = schema.get("type", [])
    sorts = [sorts] if isinstance(sorts, str) else list(sorts)
    said = {"string": "text", "integer": "whole number", "boolean": "true or false", "array": "list"}
    text = " or ".join(said.get(one, one) for one in sorts if one != "null") or "any value"
    if "enum" in schema:
        text = ", ".join(str(one) for one in schema["enum"] if one is not None)
    if schema.get("format") in ("date", "date-time"):
        text = {"date": "date", "date-time": "time with offset"}[schema["format"]]
    if "items" in schema:
        text = f"list of {_sort(made, schema['items'])}"
    for inside in schema.get("anyOf", []) + schema.get("allOf", []):
        if inside.get("$ref") and not inside["$ref"].endswith("Values"):
            text = _sort(made, inside)
    if "minimum" in schema and "maximum" in schema:
        text += f", {schema['minimum']:g} to {schema['maximum']:g}"
    return text + (", or null" if "null" in sorts else "")
