"""What a service says of itself to whoever watches it."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient
from served import Known
from tests_shared import NOON

from advisor.conversation import Adviser
from advisor.doors import gardens
from advisor.doors.http import create_app


def client_of(adviser: Adviser, **settings: Any) -> FlaskClient:
    return create_app(replace(adviser, settings=replace(adviser.settings, **settings)), lambda: NOON).test_client()


def test_ready_where_the_garden_opens(adviser: Adviser, demo_copy: Path) -> None:
    """A service whose garden opens is ready, and so is one whose garden is still to be made."""
    assert client_of(adviser, garden=demo_copy).get("/ready").get_json() == {"status": "ready"}
    assert client_of(adviser, garden=demo_copy.with_name("none.db")).get("/ready").status_code == 200


def test_alive_and_not_ready_with_a_damaged_garden(adviser: Adviser, tmp_path: Path) -> None:
    """With a garden that cannot be read the process says that it is alive, and that it is not ready, and why."""
    path = tmp_path / "garden.db"
    path.write_bytes(b"no database at all" * 400)
    client = client_of(adviser, garden=path)
    assert client.get("/health").get_json()["status"] == "ok"
    answer = client.get("/ready")
    assert answer.status_code == 503 and answer.headers["Retry-After"]
    assert "not a database" in answer.get_json()["found"]


def test_ready_without_a_key(adviser: Adviser, growers: Callable[..., list[Known]], tmp_path: Path) -> None:
    """A service for many says that it is ready without a key, and that it is not where the keys are gone."""
    growers(1)
    client = client_of(adviser, growers=tmp_path / "growers")
    assert client.get("/ready").get_json() == {"status": "ready"}
    (tmp_path / "growers" / "keys.db").unlink()
    answer = client.get("/ready")
    assert answer.status_code == 503 and "keys.db" in answer.get_json()["found"]
    shutil.rmtree(tmp_path / "growers")
    assert "folder of the gardens is not there" in client.get("/ready").get_json()["found"]
    assert client.get("/health").status_code == 200


def test_not_ready_without_room(adviser: Adviser, demo_copy: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the disk is too full for a write to begin, the service is not ready and says how much is left."""
    full = shutil.disk_usage(demo_copy.parent)._replace(free=1_500_000)
    monkeypatch.setattr(gardens.shutil, "disk_usage", lambda path: full)
    answer = client_of(adviser, garden=demo_copy).get("/ready")
    assert answer.status_code == 503 and "1.5 MB left" in answer.get_json()["detail"]
