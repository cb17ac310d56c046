"""What holds for every page: nothing from elsewhere, errors as pages for a browser, other sites refused."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from flask.testing import FlaskClient

MAIN = ("/", "/talk", "/no-signal", "/garden", "/pictures", "/records", "/rules", "/api", "/start")
RECORDS = (
    "/records/stage", "/records/stage/1", "/records/stage/1/right", "/records/told/1", "/records/new",
    "/records/new/soil_reading", "/records/import", "/records?q=fig",
)  # fmt: skip
MAIN += RECORDS


@pytest.mark.parametrize("path", MAIN)
def test_a_page_keeps_to_itself(client: FlaskClient, path: str) -> None:
    """Every page comes under a policy that lets no other host in, and holds no script or style of its own."""
    answer = client.get(path)
    text = answer.get_data(as_text=True)
    assert answer.status_code == 200
    assert "default-src 'none'" in answer.headers["Content-Security-Policy"]
    assert "unsafe" not in answer.headers["Content-Security-Policy"]
    assert "<style" not in text and " style=" not in text and "onclick" not in text


def test_a_browser_gets_an_error_as_a_page(client: FlaskClient) -> None:
    """The same three parts that a program gets, under a heading."""
    answer = client.get("/nowhere")
    assert (answer.status_code, answer.mimetype) == (404, "text/html")
    assert "What to do" in answer.get_data(as_text=True)
    assert client.get("/nowhere", headers={"Accept": "*/*"}).content_type == "application/problem+json"


@pytest.mark.parametrize(
    "headers",
    [{"Origin": "http://elsewhere.example"}, {"Sec-Fetch-Site": "cross-site"}, {"Origin": "null"}],
)
def test_a_page_of_another_site_changes_nothing(client: FlaskClient, headers: dict[str, str]) -> None:
    """A form or script on another site is refused, whatever it sends."""
    answer = client.post("/messages", json={"text": "undo"}, headers=headers)
    assert answer.status_code == 403


def test_the_page_itself_may(client: FlaskClient) -> None:
    """A request from the own page, and one of a program, go through."""
    own = {"Origin": "http://localhost", "Sec-Fetch-Site": "same-origin"}
    assert client.post("/messages", json={"text": "help"}, headers=own).status_code == 200
    assert client.post("/messages", json={"text": "help"}).status_code == 200


def test_our_own_files_are_kept_under_their_content(client: FlaskClient) -> None:
    """A style sheet may be kept for a year, since another content has another name."""
    page = client.get("/garden").get_data(as_text=True)
    address = page.split('rel="stylesheet" href="')[1].split('"')[0]
    with client.get(address) as answer:
        assert "immutable" in answer.headers["Cache-Control"]


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("path", MAIN)
def test_axe_finds_nothing(
    browser: Any, demo_site: str, axe: Callable[[Any], list[str]], path: str, scheme: str
) -> None:
    """No page has a fault of accessibility that axe-core knows, in light and in dark."""
    page = browser.new_page(color_scheme=scheme)
    page.goto(demo_site + path)
    assert axe(page) == []
    page.close()


@pytest.mark.parametrize("path", MAIN)
def test_nothing_runs_off_a_small_phone(phone: Any, demo_site: str, path: str) -> None:
    """At 360 pixels, and with text at twice its size, no page scrolls sideways."""
    phone.goto(demo_site + path)
    for size in ("100%", "200%"):
        phone.evaluate("size => { document.documentElement.style.fontSize = size }", size)
        assert phone.evaluate("document.documentElement.scrollWidth") <= 360
