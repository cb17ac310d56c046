"""The page that tells of the API: every route and every field, links that lead somewhere."""

from __future__ import annotations

import re
from typing import Any

from flask.testing import FlaskClient

from advisor.conversation import Adviser


def test_the_page_tells_of_every_route_and_field(api: FlaskClient, adviser: Adviser) -> None:
    """Whoever reads it needs no other text: paths, fields of each kind, refusals."""
    text = api.get("/api").get_data(as_text=True)
    for path, operations in api.get("/v1/openapi.json").get_json()["paths"].items():
        for method, one in operations.items():
            assert f"{method.upper()} {path}" in text and one["summary"] in text
    for kind in adviser.base.kinds.values():
        if kind.origin == "recorded" and kind.name not in ("advice", "weather_doubt"):
            assert f"<code>{kind.name}</code>" in text
            assert all(f"<code>{name}</code>" in text for name in kind.fields)
    assert 'href="/api"' in api.get("/rules").get_data(as_text=True)


def test_its_links_lead_to_what_is_there(api: FlaskClient) -> None:
    """Each mark within the page is on it, and each once."""
    text = api.get("/api").get_data(as_text=True)
    ids = re.findall(r'\bid="([^"]*)"', text)
    assert len(ids) == len(set(ids))
    assert set(re.findall(r'href="#([^"]*)"', text)) <= set(ids)


def test_it_says_whether_a_key_is_needed(api: FlaskClient, growers: Any) -> None:
    """Strangers may read it: it shows nothing of any garden."""
    assert "No key is needed here" in api.get("/api").get_data(as_text=True)
    assert "Authorization: Bearer KEY" in growers.app.test_client().get("/api").get_data(as_text=True)
