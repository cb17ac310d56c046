"""What tests of the API share: the demo served without keys, and with keys to two growers."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from tests_shared import NOON

from advisor.conversation import Adviser
from advisor.doors.access.keys import START, new_secret, written
from advisor.doors.access.limits import Limits, Rate
from advisor.doors.http import create_app
from advisor.records.keys import KeyStore

PLENTY = Rate(1e6, 1e6)


@dataclass
class Growers:
    """An application for two growers with a demo garden each, and a key of each."""

    app: Flask
    keys: list[str]

    def client(self, which: int) -> FlaskClient:
        client = self.app.test_client(use_cookies=False)
        client.environ_base["HTTP_AUTHORIZATION"] = f"Bearer {self.keys[which]}"
        return client


@pytest.fixture
def app(adviser: Adviser, demo_copy: Path) -> Flask:
    """The demo garden on its day, without keys."""
    return create_app(replace(adviser, settings=replace(adviser.settings, garden=demo_copy)), lambda: NOON)


@pytest.fixture
def api(app: Flask) -> Iterator[FlaskClient]:
    """A program's client to the demo garden."""
    with app.test_client() as client:
        yield client


@pytest.fixture
def growers(adviser: Adviser, demo_file: Path, tmp_path: Path) -> Growers:
    """The same for two growers, let in by key and without bounds on how much they send."""
    folder, keys = tmp_path / "growers", []
    for name in ("upper", "lower"):
        with KeyStore(folder, create=True) as store:
            grower = store.add_grower(name, NOON)
            shutil.copy(demo_file, store.garden_path(grower.id))
            secret = new_secret(grower.id)
            keys.append(written(secret))
            store.add_key(grower.id, secret, keys[-1][:START], "station", NOON, None)
    own = replace(adviser, settings=replace(adviser.settings, growers=folder))
    return Growers(create_app(own, lambda: NOON, Limits(PLENTY, PLENTY, PLENTY)), keys)


@pytest.fixture
def reading() -> dict[str, Any]:
    """A soil reading as a program sends it."""
    return {"values": {"spot": "shed bed", "at": "2026-04-24T11:30:00+02:00", "temp_c": 12.5, "depth_cm": 10}}
