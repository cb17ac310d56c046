"""What tests share: the rule base, an empty garden, the demo garden, and the day on which it is asked."""

from __future__ import annotations

import os
import shutil
import threading
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from hypothesis import settings
from tests_shared import NOON
from waitress import wasyncore

from advisor.config import Settings, find_rules
from advisor.conversation import Adviser
from advisor.doors.access.server import make_server
from advisor.doors.demo import load_demo
from advisor.records.importing import Imported, import_path
from advisor.records.store import Garden

settings.register_profile("same", derandomize=True)
settings.register_profile("anew")
settings.load_profile(os.environ.get("DRAWN", "same"))
"""A property is tried on the same examples at each run, so that no run is refused by luck; ``DRAWN=anew`` draws others."""


class ShortlyShown(Adviser):
    """An adviser that a property test which fails shows by name: its fields are the whole rule base, 4 MB of print."""

    def _repr_pretty_(self, printer: Any, cycle: bool) -> None:
        printer.text("the adviser")


@pytest.fixture(scope="session")
def adviser() -> Adviser:
    """The adviser with the project's own rule base."""
    return ShortlyShown.load(Settings(Path("unset.db"), find_rules()))


@pytest.fixture(scope="session")
def demo_file(adviser: Adviser, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo garden, imported once; tests ask of it and do not change its records."""
    return load_demo(adviser, tmp_path_factory.mktemp("demo"))


@pytest.fixture
def demo_copy(demo_file: Path, tmp_path: Path) -> Path:
    """The demo garden to change at will."""
    return Path(shutil.copy(demo_file, tmp_path / "garden.db"))


@pytest.fixture
def ask(adviser: Adviser, demo_copy: Path) -> Callable[[str], dict[str, Any]]:
    """Ask the demo garden on its day: ``ask("why is the shed fig late?")``."""
    return lambda text: adviser.message({"text": text}, NOON, demo_copy)


@pytest.fixture
def garden(adviser: Adviser, tmp_path: Path) -> Iterator[Garden]:
    """An empty garden file."""
    with adviser.open(tmp_path / "empty.db", create=True) as opened:
        yield opened


Put = Callable[..., Imported]


@pytest.fixture
def put(adviser: Adviser, garden: Garden, tmp_path: Path) -> Put:
    """Import files given as text into the empty garden: ``put(place=PLACE, spot="name\\nbed")``."""
    count = 0

    def import_texts(**files: str | bytes) -> Imported:
        nonlocal count
        count += 1
        folder = tmp_path / f"files{count}"
        folder.mkdir()
        for name, text in files.items():
            (folder / f"{name}.csv").write_bytes(text if isinstance(text, bytes) else text.encode())
        return import_path(garden, folder, adviser.lore, NOON)

    return import_texts


@pytest.fixture
def serve_app() -> Iterator[Callable[..., int]]:
    """Serve an application by the real server on a port of its own: ``serve_app(app)`` returns the port."""
    servers = []

    def start(app: Flask, **settings: Any) -> int:
        server = make_server(app, "127.0.0.1", 0, **settings)
        thread = threading.Thread(target=server.run, daemon=True)
        thread.start()
        servers.append((server, thread))
        return int(server.effective_port)

    yield start
    for server, thread in servers:
        # within its own loop: sockets that a browser keeps open are closed too, and none under the loop's hands
        server.trigger.pull_trigger(partial(wasyncore.close_all, server._map, True))
        thread.join(10)
        server.task_dispatcher.shutdown()
        assert not thread.is_alive()
