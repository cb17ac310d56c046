"""What tests of the pages share: a client without a browser, a served garden, and a real browser where there is one."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient
from tests_shared import NOON

from advisor.conversation import Adviser
from advisor.doors.http import create_app

BROWSERS = ("chromium", "chromium-browser", "google-chrome")
FLAGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
]  # fmt: skip
PHONE = {"width": 360, "height": 740}


@pytest.fixture
def client(adviser: Adviser, demo_copy: Path) -> Iterator[FlaskClient]:
    """A client to the demo garden on its day that asks for pages as a browser does."""
    own = replace(adviser, settings=replace(adviser.settings, garden=demo_copy))
    with create_app(own, lambda: NOON).test_client() as client:
        client.environ_base["HTTP_ACCEPT"] = "text/html"
        yield client


@pytest.fixture
def serve(adviser: Adviser, serve_app: Callable[..., int]) -> Callable[[Path], str]:
    """Serve a garden file: ``serve(path)`` returns where."""

    def start(garden: Path) -> str:
        own = replace(adviser, settings=replace(adviser.settings, garden=garden))
        return f"http://127.0.0.1:{serve_app(create_app(own, lambda: NOON))}"

    return start


@pytest.fixture
def demo_site(serve: Callable[[Path], str], demo_copy: Path) -> str:
    """The demo garden served on its day; its file may be changed."""
    return serve(demo_copy)


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """A real browser; tests that need one are skipped where there is none, unless ADVISOR_NEEDS_BROWSER is set."""
    program = next((found for name in BROWSERS if (found := shutil.which(name))), None)
    if program is None:
        why = "no Chromium on this machine: tests in a browser were not run"
        if os.environ.get("ADVISOR_NEEDS_BROWSER"):
            pytest.fail(why)
        pytest.skip(why)
    playwright = pytest.importorskip("playwright.sync_api")
    with playwright.sync_playwright() as running:
        browser = running.chromium.launch(executable_path=program, args=FLAGS)
        yield browser
        browser.close()


@pytest.fixture
def phone(browser: Any, serve: object) -> Iterator[Any]:
    """A page on a small phone. What a page logs as an error fails its test. It closes before what serves it does."""
    context = browser.new_context(viewport=PHONE)
    page = context.new_page()
    page.set_default_timeout(15_000)
    wrong: list[str] = []
    page.on("console", lambda said: wrong.append(said.text) if said.type == "error" else None)
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.wrong = wrong
    yield page
    context.close()
    assert not wrong, wrong


@pytest.fixture
def axe(browser: Any) -> Callable[[Any], list[str]]:
    """Return what axe-core finds wrong on a page, in a line each."""
    found = pytest.importorskip("axe_playwright_python.sync_playwright")

    def run(page: Any) -> list[str]:
        result = found.Axe().run(page)
        return [
            f"{one['id']} ({one['impact']}): {one['help']}: {node['html'][:200]}"
            for one in result.response["violations"]
            for node in one["nodes"]
        ]

    return run
