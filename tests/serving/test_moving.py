"""A grower moves to another host: nothing acknowledged is lost, and nothing is told to the file that stays behind."""

from __future__ import annotations

import json
import sqlite3
import threading
import zipfile
from collections.abc import Callable
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from flask.testing import FlaskClient
from served import Known, until
from tests_shared import NOON

from advisor.conversation import Adviser
from advisor.doors.access.limits import Limits, Rate
from advisor.doors.command_line import main
from advisor.doors.http import create_app
from advisor.errors import BadInput, GardenUnavailable
from advisor.records.keys import KeyStore
from advisor.records.packing import pack, unpack

PLENTY = Rate(1e6, 1e6)


def client_of(adviser: Adviser, folder: Path, key: str) -> FlaskClient:
    own = replace(adviser, settings=replace(adviser.settings, growers=folder))
    client = create_app(own, lambda: NOON, Limits(PLENTY, PLENTY, PLENTY)).test_client()
    client.environ_base["HTTP_AUTHORIZATION"] = f"Bearer {key}"
    return client


def run(folder: Path, *words: str) -> Any:
    return CliRunner().invoke(main, [*words], env={"ADVISOR_GROWERS": str(folder)})


def test_moved_under_load_nothing_acknowledged_is_lost(
    adviser: Adviser, growers: Callable[..., list[Known]], tmp_path: Path
) -> None:
    """While three phones send, the garden is exported and imported: each answer given is there, and none came after."""
    here, there = tmp_path / "growers", tmp_path / "there"
    (grower,) = growers(1)
    answered: dict[str, str] = {}
    refused: set[int] = set()
    refused_phones: set[str] = set()
    moved, stop = threading.Event(), threading.Event()

    def phone(client: FlaskClient, name: str) -> None:
        n = 0
        while not stop.is_set():
            was_moved = moved.is_set()
            text = f"soil shed bed {10 + n % 50 / 10} 10cm"
            answer = client.post("/messages", json={"text": text, "id": f"{name}-{n}"})
            if answer.status_code == 200:
                assert not was_moved
                answered[f"{name}-{n}"] = answer.get_json()["reply"]
                n += 1
            else:
                refused.add(answer.status_code)
                refused_phones.add(name)
                assert answer.headers["Retry-After"] and answer.get_json()["type"].endswith("garden-moved")

    # Made here, one after another: Python 3.11 may fail to parse in two threads at once, as the routes of an app do.
    clients = [client_of(adviser, here, grower.key) for _ in range(3)]
    phones = [threading.Thread(target=phone, args=(client, f"phone{n}")) for n, client in enumerate(clients)]
    for one in phones:
        one.start()
    until(lambda: len(answered) >= 12, "a dozen answers")
    with KeyStore(here) as store:
        pack(store, grower.id, tmp_path / "one.grower", moving=True)
    moved.set()
    before = len(answered)
    until(lambda: len(refused_phones) == 3, "a refusal to each phone")
    stop.set()
    for one in phones:
        one.join()
    with KeyStore(there, create=True) as store:
        assert unpack(tmp_path / "one.grower", store, NOON)[0] == grower.id
    with closing(sqlite3.connect(there / f"{grower.id}.db")) as conn:
        kept = {
            key: json.loads(reply)["reply"] for key, reply in conn.execute("SELECT id, reply FROM message") if reply
        }
    assert refused == {503}
    assert len(answered) - before <= 3  # each phone may hear a last answer that was given before
    assert {key: kept.get(key) for key in answered} == answered
    again = client_of(adviser, there, grower.key).post("/messages", json={"text": "other", "id": "phone0-0"})
    assert again.get_json()["reply"] == answered["phone0-0"]


def test_a_moved_garden_can_be_read(adviser: Adviser, growers: Callable[..., list[Known]], tmp_path: Path) -> None:
    """While a garden moves, its pages are shown and the form that would tell it something is refused, to be sent again."""
    (grower,) = growers(1)
    client = client_of(adviser, tmp_path / "growers", grower.key)
    assert run(tmp_path / "growers", "grower", "export", grower.id, str(tmp_path / "one.grower")).exit_code == 0
    assert client.get("/garden").status_code == 200
    assert client.post("/messages", json={"text": "help"}).status_code == 503
    assert run(tmp_path / "growers", "grower", "resume", grower.id).exit_code == 0
    assert client.post("/messages", json={"text": "help"}).status_code == 200


def test_sessions_and_keys_move_too(adviser: Adviser, growers: Callable[..., list[Known]], tmp_path: Path) -> None:
    """A browser that signed in before stays signed in, a key taken back stays so, and another's key is not touched."""
    here, there = tmp_path / "growers", tmp_path / "there"
    (grower,), (other,) = growers(1), growers(1, "there")
    with KeyStore(here) as store:
        store.add_key(grower.id, b"x" * 32, "adv-lost", "lost", NOON)
        revoked = store.revoke(2, NOON)
        session = store.start_session(store.keys()[0], NOON)
        pack(store, grower.id, tmp_path / "one.grower", moving=True)
    with KeyStore(there) as store:
        unpack(tmp_path / "one.grower", store, NOON)
        found = store.session_of(session)
        assert found is not None and found.in_use(NOON) and found.key.grower == grower.id
        lost = store.key_of(b"x" * 32)
        kept = store.keys()
        assert lost is not None and lost.revoked_at == revoked.revoked_at and lost.device == "lost"
        assert sorted(key.grower for key in kept) == sorted([grower.id, grower.id, other.id])


def test_back_and_removed(growers: Callable[..., list[Known]], tmp_path: Path) -> None:
    """A grower who is served here is not replaced or removed unasked; one who moved away may come back, or go."""
    here, file = tmp_path / "growers", tmp_path / "one.grower"
    (grower,) = growers(1)
    assert run(here, "grower", "remove", grower.id).exit_code == 2
    assert run(here, "grower", "resume", grower.id).exit_code == 2
    with KeyStore(here) as store:
        pack(store, grower.id, file)
        with pytest.raises(BadInput, match="here already"):
            unpack(file, store, NOON)
        unpack(file, store, NOON, replace=True)
    assert run(here, "grower", "export", grower.id, str(tmp_path / "two.grower")).exit_code == 0
    assert run(here, "grower", "import", str(tmp_path / "two.grower")).exit_code == 0
    assert run(here, "grower", "export", grower.id, str(tmp_path / "three.grower")).exit_code == 0
    assert run(here, "grower", "remove", grower.id).exit_code == 0
    assert grower.id not in run(here, "grower", "list").stdout
    assert not (here / f"{grower.id}.db").exists()
    assert len(list(here.glob(f"{grower.id}-until-*.db"))) == 3


def test_an_export_that_fails_leaves_the_garden_as_it_was(growers: Callable[..., list[Known]], tmp_path: Path) -> None:
    """A garden that does not read back is not exported, and may be told things as before."""
    (grower,) = growers(1)
    path = tmp_path / "growers" / f"{grower.id}.db"
    content = bytearray(path.read_bytes())
    content[len(content) // 2 :] = bytes(len(content) - len(content) // 2)
    path.write_bytes(bytes(content))
    with KeyStore(tmp_path / "growers") as store, pytest.raises(GardenUnavailable):
        pack(store, grower.id, tmp_path / "one.grower", moving=True)
    assert not (tmp_path / "one.grower").exists()
    assert not path.with_name(path.name + ".moved").exists()


@pytest.mark.parametrize("rows", ["{}", "[]", '{"version": 1, "rows": {"grower": [["../../evil", "x", "y"]]}}'])
def test_what_is_no_packed_grower_is_refused(growers: Callable[..., list[Known]], tmp_path: Path, rows: str) -> None:
    """A file of something else, or one that names a file outside the folder, is refused and changes nothing."""
    growers(1)
    file = tmp_path / "one.grower"
    with zipfile.ZipFile(file, "w") as packed:
        packed.writestr("grower.json", rows)
        packed.writestr("garden.db", "x")
    before = sorted(path.name for path in (tmp_path / "growers").iterdir())
    with KeyStore(tmp_path / "growers") as store, pytest.raises(BadInput):
        unpack(file, store, NOON)
    file.write_text("no zip")
    with KeyStore(tmp_path / "growers") as store, pytest.raises(BadInput):
        unpack(file, store, NOON)
    assert sorted(path.name for path in (tmp_path / "growers").iterdir()) == before


def test_everyone_is_backed_up_and_one_brought_back(growers: Callable[..., list[Known]], tmp_path: Path) -> None:
    """Each grower gets a file, so many are kept, one damaged garden fails alone, and one grower is brought back whole."""
    here, backups = tmp_path / "growers", tmp_path / "backups"
    known = growers(3)
    for day in ("20260101", "20260102"):
        backups.mkdir(exist_ok=True)
        (backups / f"{known[0].id}-{day}T030000Z.grower").write_text("old")
    (here / f"{known[2].id}.db").write_bytes(b"damaged" * 999)
    done = run(here, "backup", str(backups), "--all", "--keep", "2")
    assert done.exit_code == 3 and "2 growers backed up" in done.stdout and known[2].id in done.stderr
    mine = sorted(path.name for path in backups.glob(f"{known[0].id}-*"))
    assert len(mine) == 2 and "20260101" not in mine[0] and f"{datetime.now(UTC):%Y%m%d}" in mine[1]
    assert not list(backups.glob(f"{known[2].id}-*")) and not list(backups.glob(".*"))
    (here / f"{known[0].id}.db").unlink()
    assert run(here, "grower", "import", str(backups / mine[1])).exit_code == 0
    assert (here / f"{known[0].id}.db").exists()
    assert run(here, "verify", "--garden", str(here / f"{known[0].id}.db")).exit_code == 0
