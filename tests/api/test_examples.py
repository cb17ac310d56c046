"""The examples do what they say: the client of the standard library, and the commands in README, against a served demo."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from flask import Flask

from advisor.doors.access.server import make_server

TOP = Path(__file__).resolve().parents[2]
CLIENT = TOP / "fixtures" / "clients" / "ask.py"
SECTION = re.search(
    r"^## The API\n(.*?)^## ", (TOP / "README.md").read_text(encoding="utf-8"), re.MULTILINE | re.DOTALL
)


@pytest.fixture
def serve() -> Iterator[Any]:
    """Serve an application by the real server: ``serve(app)`` returns the port."""
    servers = []

    def start(app: Flask) -> int:
        server = make_server(app, "127.0.0.1", 0)
        thread = threading.Thread(target=server.run, daemon=True)
        thread.start()
        servers.append((server, thread))
        return int(server.effective_port)

    yield start
    for server, thread in servers:
        server.close()
        server.task_dispatcher.shutdown()
        thread.join(5)


def ask(port: int, *words: str, key: str = "") -> subprocess.CompletedProcess[str]:
    """Run the client in a process of its own."""
    env = {**os.environ, "ADVISOR_KEY": key, "PYTHONIOENCODING": "utf-8"}
    command = [sys.executable, "-I", "-W", "error", str(CLIENT), f"http://127.0.0.1:{port}", *words]
    return subprocess.run(command, env=env, capture_output=True, text=True, timeout=60, check=False)


def test_the_client_asks(app: Flask, serve: Any) -> None:
    """It prints the reply; where it is asked back, the ways to answer."""
    port = serve(app)
    done = ask(port, "why is the shed fig late?")
    assert done.returncode == 0, done.stderr
    kept = app.test_client().get("/v1/messages").get_json()["messages"][0]
    assert done.stdout.startswith(app.test_client().get(kept["href"]).get_json()["reply"])
    assert "send 1 for:" in ask(port, "why is the fig late?").stdout


def test_the_client_tells_a_refusal(app: Flask, serve: Any) -> None:
    """A reading that cannot be is told with what was found and what to do, and the program ends with a fault."""
    done = ask(serve(app), "help", "--soil", "shed bod", "12.5")
    assert done.returncode == 1 and "shed bod" in done.stderr and "Traceback" not in done.stderr


def test_the_client_brings_its_key(growers: Any, serve: Any) -> None:
    """With a key it is let in, without one it says what is needed."""
    port = serve(growers.app)
    assert ask(port, "help", key=growers.keys[0]).returncode == 0
    refused = ask(port, "help")
    assert refused.returncode == 1 and "Authorization" in refused.stderr


def commands() -> list[str]:
    """Return the curl commands of README's section on the API, in its order."""
    assert SECTION is not None
    blocks = re.findall(r"^```\n(.*?)^```", SECTION[1], re.MULTILINE | re.DOTALL)
    text = "".join(blocks).replace("\\\n", " ")
    return [line for line in text.splitlines() if line.startswith("curl ")]


@pytest.mark.skipif(shutil.which("curl") is None, reason="curl is not installed")
def test_the_commands_in_the_readme_work(app: Flask, serve: Any) -> None:
    """Each is answered with JSON and no refusal; the reading that is sent twice is recorded once."""
    port, answers = serve(app), []
    assert len(commands()) >= 5
    for command in commands():
        made = command.replace("localhost:8470", f"127.0.0.1:{port}")
        done = subprocess.run(["sh", "-c", made], capture_output=True, text=True, timeout=60, check=False)
        answers.append(json.loads(done.stdout))
        assert "status" not in answers[-1] and done.returncode == 0, (command, answers[-1])
    made = [one for one in answers if one.get("outcome") == "recorded"]
    assert len(made) >= 2 and app.test_client().get(made[0]["record"]["href"]).status_code == 200
