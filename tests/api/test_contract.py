"""The API holds to its own document under whatever is made up from it: schemathesis sends, and judges what comes.

``EXAMPLES=200 pytest tests/api/test_contract.py`` sends so many to each route; without it a dozen, the same each time.
"""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Mapping
from typing import Any

import pytest
import schemathesis
from flask import Flask
from hypothesis import HealthCheck, given, seed, settings
from hypothesis import strategies as st
from schemathesis.checks import load_all_checks
from schemathesis.generation import GenerationMode
from schemathesis.specs.openapi import checks

from advisor.records.kinds import Kind

EXAMPLES = int(os.environ.get("EXAMPLES", "12"))
ROUTES = (
    "GET /v1/garden", "GET /v1/kinds", "GET /v1/messages", "POST /v1/messages", "GET /v1/messages/{message_id}",
    "GET /v1/openapi.json", "GET /v1/records/{kind}", "POST /v1/records/{kind}", "GET /v1/records/{kind}/{row_id}",
    "POST /v1/records/{kind}/{row_id}/correct", "POST /v1/records/{kind}/{row_id}/restore",
    "POST /v1/records/{kind}/{row_id}/retire", "GET /v1/rules", "GET /v1/rules/{rule_id}",
)  # fmt: skip
BY_THE_DOCUMENT = (
    schemathesis.checks.not_a_server_error, checks.status_code_conformance, checks.content_type_conformance,
    checks.response_headers_conformance, checks.response_schema_conformance,
)  # fmt: skip
NAMES = {"spot": "shed bed", "to_spot": "west wall", "plant": "shed fig", "species": "fig", "name": "new bed"}
"""Names of the demo: no generator hits upon them, and past them lies what is worth trying."""


def meet_the_garden(case: Any, kinds: Mapping[str, Kind]) -> None:
    """Let what was made up speak of what is in the garden: its names, its records, days that have come."""
    if "row_id" in case.path_parameters:
        case.path_parameters["row_id"] = int(case.path_parameters["row_id"]) % 10 + 1
    if "rule_id" in case.path_parameters:
        case.path_parameters["rule_id"] = "mulch-wants-a-reading-beside-it"
    if isinstance(case.body, dict) and "changes" in case.body:
        case.path_parameters["kind"], case.body["changes"] = "stage", {"bbch": len(str(case.body))}
    if isinstance(case.body, dict) and "values" in case.body:
        values = case.body["values"]
        fits = [kind for kind in kinds.values() if kind.origin == "recorded" and set(values) <= set(kind.fields)]
        case.path_parameters["kind"] = fits[0].name
        values |= {name: NAMES[name] for name in NAMES if name in values}
        values |= {name: "2026-04-20" for name in ("on", "put_on") if name in values}
        values |= {"at": "2026-04-20T10:00:00+02:00"} if "at" in values else {}


def send_what_is_made_up(app: Flask, route: str, key: str = "") -> Counter[int]:
    """Send examples of a route, sound and unsound ones, let each answer be judged, and count the statuses."""
    load_all_checks()
    headers = {"Accept-Encoding": "identity", **({"Authorization": f"Bearer {key}"} if key else {})}
    document = schemathesis.openapi.from_wsgi("/v1/openapi.json", app)
    method, path = route.split(" ")
    operation = document[path][method]
    count: Counter[int] = Counter()
    kinds = app.extensions["advisor"].adviser.base.kinds
    sound, unsound = (operation.as_strategy(generation_mode=mode) for mode in GenerationMode)

    @seed(20260424)
    @settings(max_examples=EXAMPLES, deadline=None, database=None, suppress_health_check=list(HealthCheck))
    @given(case=sound | unsound, meet=st.integers(0, 3))
    def judge(case: Any, meet: int) -> None:
        if meet and case.meta.generation.mode is GenerationMode.POSITIVE:
            meet_the_garden(case, kinds)
        answer = case.call(headers=headers)
        case.validate_response(answer, checks=BY_THE_DOCUMENT, headers=headers)
        count[answer.status_code] += 1

    judge()
    return count


@pytest.mark.parametrize("route", ROUTES)
def test_what_it_answers_is_in_the_document(app: Flask, route: str) -> None:
    """Without keys: no fault of ours, no status, content type or body that the document does not tell of."""
    assert send_what_is_made_up(app, route)


@pytest.mark.parametrize("route", ROUTES)
def test_with_keys_too(growers: Any, route: str) -> None:
    """The same for a grower among several, with a key and without one."""
    assert send_what_is_made_up(growers.app, route, growers.keys[0])
    assert send_what_is_made_up(growers.app, route)


def test_every_route_is_tried(app: Flask) -> None:
    """The list above is that of the document."""
    document = app.test_client().get("/v1/openapi.json").get_json()
    told = {f"{method.upper()} {path}" for path, operations in document["paths"].items() for method in operations}
    assert told == set(ROUTES)
