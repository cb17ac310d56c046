"""The commands of whoever runs the service: growers, keys, and what is served to whom."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from flask import Flask

from advisor.doors.access import server as server_module
from advisor.doors.access.keys import read
from advisor.doors.command_line import main
from advisor.records.keys import KeyStore


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Any:
    """Run a command with the growers in a folder of the test."""
    monkeypatch.setenv("ADVISOR_GROWERS", str(tmp_path / "growers"))

    def command(*words: str) -> Result:
        return CliRunner().invoke(main, list(words))

    return command


@pytest.fixture
def served(monkeypatch: pytest.MonkeyPatch) -> list[tuple[Flask, str]]:
    """What would be served, instead of serving it."""
    found: list[tuple[Flask, str]] = []

    class Server:
        def run(self) -> None:
            pass

    def make(app: Flask, host: str, port: int, **settings: Any) -> Server:
        found.append((app, host))
        return Server()

    monkeypatch.setattr(server_module, "make_server", make)
    return found


def test_a_grower_and_a_key_are_made_listed_and_revoked(run: Any, tmp_path: Path) -> None:
    """The key is shown once and alone on its line; the lists tell it by its beginning and its device."""
    made = run("grower", "create", "the lower orchard")
    grower = made.stdout.split()[0]
    assert made.exit_code == 0 and (tmp_path / "growers" / f"{grower}.db").exists()
    created = run("token", "create", grower, "--device", "blue phone", "--expires", "30")
    key = created.stdout.strip()
    assert len(read(key)) == 32 and "cannot be shown again" in created.stderr
    listed = run("token", "list").stdout
    assert key not in listed and key[:9] in listed and "blue phone" in listed and "in use" in listed
    (as_data,) = json.loads(run("token", "list", "--json").stdout)
    assert as_data["grower"] == grower and as_data["state"] == "in use" and "hash" not in as_data
    assert "opens nothing" in run("token", "revoke", "1").stdout
    assert "revoked" in run("token", "list").stdout
    assert "the lower orchard" in run("grower", "list").stdout
    assert json.loads(run("grower", "list", "--json").stdout)[0]["id"] == grower


@pytest.mark.parametrize(
    ("words", "found"),
    [
        (("token", "create", "../../other"), "no grower"),
        (("token", "create", "gaaaaaaaaaa"), "no grower"),
        (("token", "revoke", "7"), "no key 7"),
        (("grower", "create", "x" * 61), "61 characters"),
        (("grower", "create", "a\x1b[2J"), "5 characters"),
    ],
)
def test_what_cannot_be_is_refused(run: Any, words: tuple[str, ...], found: str) -> None:
    """Ids that are none, and names that are too long or would steer the terminal."""
    run("grower", "create", "orchard")
    result = run(*words)
    assert result.exit_code == 2 and found in result.stderr


def test_without_a_folder_the_command_says_what_to_set(monkeypatch: pytest.MonkeyPatch) -> None:
    """No folder is guessed."""
    monkeypatch.delenv("ADVISOR_GROWERS", raising=False)
    result = CliRunner().invoke(main, ["token", "list"])
    assert result.exit_code == 2 and "ADVISOR_GROWERS" in result.stderr


@pytest.mark.parametrize("host", ["0.0.0.0", "192.0.2.7", "::", "garden.example", "localhost.example"])
def test_one_garden_is_not_served_to_others_unsaid(run: Any, served: list[Any], demo_copy: Path, host: str) -> None:
    """Beyond this machine one garden without keys is served only if that is said aloud."""
    refused = run("serve", "--garden", str(demo_copy), "--host", host)
    assert refused.exit_code == 2 and "--without-keys" in refused.stderr and not served
    assert run("serve", "--garden", str(demo_copy), "--host", host, "--without-keys", "--one-process").exit_code == 0
    assert [served_host for _, served_host in served] == [host]


@pytest.mark.parametrize("host", ["127.0.0.1", "localhost", "::1", "127.1.2.3"])
def test_one_garden_is_served_to_this_machine(run: Any, served: list[Any], demo_copy: Path, host: str) -> None:
    """On this machine it is served without a word, though growers are set too."""
    result = run("serve", "--garden", str(demo_copy), "--host", host, "--one-process")
    assert result.exit_code == 0 and "garden.db" in result.stdout
    assert served[0][0].test_client().get("/health").get_json()["status"] == "ok"
    assert served[0][0].test_client().get("/messages/none").status_code == 404


def test_growers_are_served_with_keys(run: Any, served: list[Any], tmp_path: Path) -> None:
    """With a folder of growers, keys are asked for on any host; a folder without any is refused."""
    assert run("serve").exit_code == 2
    run("grower", "create", "orchard")
    result = run("serve", "--host", "0.0.0.0", "--one-process")
    assert result.exit_code == 0 and "the growers of" in result.stdout
    assert served[0][0].test_client().get("/messages/none").status_code == 401
    with KeyStore(tmp_path / "growers") as store:
        assert len(store.growers()) == 1
