"""A service for two growers whose gardens hold the same rows under other names, and ways to come in."""

from __future__ import annotations

import re
import shutil
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from tests_shared import NOON

from advisor.conversation import Adviser
from advisor.doors.access.keys import START, new_secret, written
from advisor.doors.access.limits import Limits, Rate
from advisor.doors.access.server import make_server
from advisor.doors.http import create_app
from advisor.records.importing import import_path
from advisor.records.keys import KeyStore

DEMO = Path(__file__).resolve().parents[2] / "fixtures" / "demo"
PLENTY = Rate(1e6, 1e6)
BROWSER = {"Accept": "text/html", "Origin": "http://localhost", "Sec-Fetch-Site": "same-origin"}


@dataclass
class Service:
    """Two growers, "quill" and "quoin": in all their names stands the word. ``now`` can be moved."""

    app: Flask
    folder: Path
    limits: Limits
    now: datetime = NOON
    growers: dict[str, str] = field(default_factory=dict)
    keys: dict[str, str] = field(default_factory=dict)

    def key(self, who: str, *, expires: timedelta | None = None) -> tuple[int, str]:
        """Make another key and return its id and text."""
        with KeyStore(self.folder) as store:
            secret = new_secret(self.growers[who])
            text = written(secret)
            made = store.add_key(
                self.growers[who], secret, text[:START], "phone", self.now, self.now + expires if expires else None
            )
        return made.id, text

    def revoke(self, key_id: int) -> None:
        with KeyStore(self.folder) as store:
            store.revoke(key_id, self.now)

    def program(self, who: str = "", key: str = "") -> FlaskClient:
        """A program that sends a key with each request, or none."""
        client = self.app.test_client(use_cookies=False)
        text = key or self.keys.get(who, "")
        if text:
            client.environ_base["HTTP_AUTHORIZATION"] = f"Bearer {text}"
        return client

    def browser(self, who: str = "", **environ: str) -> FlaskClient:
        """A browser, signed in where a grower is named. It says where it sends from, as browsers do."""
        client = self.app.test_client()
        for name, value in BROWSER.items():
            client.environ_base[f"HTTP_{name.upper().replace('-', '_')}"] = value
        client.environ_base.update(environ)
        if who:
            assert client.post("/sign-in", data={"key": self.keys[who]}).status_code == 303
        return client


@pytest.fixture(scope="session")
def gardens(adviser: Adviser, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """The demo garden twice, with a word of each grower's own in the names of its place, spots and plants."""
    folder, made = tmp_path_factory.mktemp("gardens"), {}
    for who in ("quill", "quoin"):
        rows = folder / who
        rows.mkdir()
        for path in DEMO.glob("*.csv"):
            text = re.sub(r"\b(shed|gate|lane)\b", rf"{who}\1", path.read_text(encoding="utf-8"))
            if path.name == "place.csv":
                head, row = text.splitlines()[:2]
                text = f"{head}\n{who.title()}barrow,{row.partition(',')[2]}\n"
            (rows / path.name).write_text(text, encoding="utf-8")
        made[who] = folder / f"{who}.db"
        with adviser.open(made[who], create=True) as garden:
            import_path(garden, rows, adviser.lore, NOON)
    return made


@pytest.fixture
def make_service(adviser: Adviser, gardens: dict[str, Path], tmp_path: Path) -> Callable[..., Service]:
    """Make a service: ``make_service(limits=...)``; without limits of its own it lets everything through."""

    def make(limits: Limits | None = None, **settings: Any) -> Service:
        folder = tmp_path / "growers"
        own = replace(adviser, settings=replace(adviser.settings, growers=folder, **settings))
        limits = limits or Limits(PLENTY, PLENTY, PLENTY)
        service: Service
        app = create_app(own, lambda: service.now, limits)
        service = Service(app, folder, limits)
        for who, garden in gardens.items():
            with KeyStore(folder, create=True) as store:
                made = store.add_grower(who, NOON)
                shutil.copy(garden, store.garden_path(made.id))
            service.growers[who] = made.id
            service.keys[who] = service.key(who)[1]
        return service

    return make


@pytest.fixture
def service(make_service: Callable[..., Service]) -> Service:
    return make_service()


@pytest.fixture
def serve_app() -> Iterator[Callable[..., int]]:
    """Serve an application by the real server: ``serve_app(app)`` returns the port."""
    servers = []

    def start(app: Flask, **settings: Any) -> int:
        server = make_server(app, "127.0.0.1", 0, **settings)
        thread = threading.Thread(target=server.run, daemon=True)
        thread.start()
        servers.append((server, thread))
        return int(server.effective_port)

    yield start
    for server, thread in servers:
        server.close()
        server.task_dispatcher.shutdown()
        thread.join(5)
