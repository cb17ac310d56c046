"""What tests of the pages share: a client without a browser, a served garden, and a real browser where there is one."""

from __future__ import annotations

import os
import shutil
import threading
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient
from tests_shared import NOON
from waitress import wasyncore
from waitress.server import create_server

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
def serve(adviser: Adviser) -> Iterator[Callable[[Path], str]]:
    """Serve a garden file on a port of its own: ``serve(path)`` returns where."""
    servers = []

    def start(garden: Path) -> str:
        own = replace(adviser, settings=replace(adviser.settings, garden=garden))
        server = create_server(create_app(own, lambda: NOON), host="127.0.0.1", port=0, threads=4)
        thread = threading.Thread(target=server.run, daemon=True)
        thread.start()
        servers.append((server, thread))
        return f"http://127.0.0.1:{server.effective_port}"

    yield start
    for server, thread in servers:
        # within its own loop: sockets that a browser keeps open are closed too, and none under the loop's hands
        server.trigger.pull_trigger(partial(wasyncore.close_all, server._map, True))
        thread.join(10)
        server.task_dispatcher.shutdown()
        assert not thread.is_alive()


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
def phone(browser: Any) -> Iterator[Any]:
    """A page on a small phone. What a page logs as an error fails its test."""
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
