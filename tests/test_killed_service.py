"""The service killed at random instants under load: nothing acknowledged lost, nothing answered or recorded twice.

CI kills it 60 times; ``KILLS=200`` in the environment kills it that often.
"""

from __future__ import annotations

import http.client
import json
import os
import random
import signal
import socket
import sqlite3
import subprocess
import sys
import threading
import time
import urllib.error
import urllib.request
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from advisor.records.backing_up import sound

TOP = Path(__file__).resolve().parents[1]
KILLS = int(os.environ.get("KILLS", "60"))
SERVICE = """
import os, sys
sys.path.insert(0, sys.argv[1])
from datetime import UTC, datetime
from pathlib import Path
from waitress.server import create_server
from advisor.config import Settings, find_rules
from advisor.conversation import Adviser
from advisor.doors.http import create_app
adviser = Adviser.load(Settings(Path(sys.argv[2]), find_rules()))
now = datetime(2026, 4, 24, 10, tzinfo=UTC)
while True:  # a new process takes over each time one is killed; the rule base is read once
    child = os.fork()
    if child == 0:
        server = create_server(create_app(adviser, lambda: now), host="127.0.0.1", port=int(sys.argv[3]), threads=4)
        adviser.answer_waiting(now)
        print(os.getpid(), flush=True)
        server.run()
    os.waitpid(child, 0)
"""


def free_port() -> int:
    with closing(socket.socket()) as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


class Grower(threading.Thread):
    """Sends one message after another, each again under its id until it is answered, and notes every answer."""

    def __init__(self, name: str, port: int, stop: threading.Event) -> None:
        super().__init__()
        self.sender, self.port, self.stop = name, port, stop
        self.answered: dict[str, dict[str, Any]] = {}
        self.wrong: list[str] = []

    def run(self) -> None:
        number = 0
        while not self.stop.is_set():
            text = (
                f"soil shed bed {10 + number % 70 / 10:.1f} 10cm" if number % 4 else "what is recorded of the shed bed?"
            )
            self.send(f"{self.sender}-{number}", text)
            number += 1

    def send(self, message_id: str, text: str) -> None:
        body = json.dumps({"id": message_id, "text": text}).encode()
        for _ in range(500):
            request = urllib.request.Request(
                f"http://127.0.0.1:{self.port}/messages", body, {"Content-Type": "application/json"}
            )
            try:
                with urllib.request.urlopen(request, timeout=20) as answer:
                    self.answered[message_id] = json.load(answer)
                    return
            except urllib.error.HTTPError as error:
                self.wrong.append(f"{message_id}: {error.code} {error.read()[:300]!r}")
                error.close()
                return
            except (OSError, ValueError, http.client.HTTPException):  # killed in the middle of it
                if self.stop.is_set():
                    return
                time.sleep(0.01)
        self.wrong.append(f"{message_id}: no answer")


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a system that forks")
def test_killed_under_load(demo_copy: Path) -> None:
    """Every acknowledged answer is in the file word for word, each reading was recorded once, and the file is sound."""
    chance, port = random.Random(9), free_port()
    service = subprocess.Popen(
        [sys.executable, "-c", SERVICE, str(TOP), str(demo_copy), str(port)], stdout=subprocess.PIPE, text=True
    )
    assert service.stdout is not None
    stop = threading.Event()
    growers = [Grower(f"grower-{n}", port, stop) for n in range(3)]
    pid = int(service.stdout.readline())
    for grower in growers:
        grower.start()
    try:
        for _ in range(KILLS):
            time.sleep(chance.uniform(0.0, 0.35))
            os.kill(pid, signal.SIGKILL)
            pid = int(service.stdout.readline())
        time.sleep(0.5)
    finally:
        stop.set()
        for grower in growers:
            grower.join()
        service.kill()
        os.kill(pid, signal.SIGKILL)
        service.communicate()
    acknowledged = {key: reply for grower in growers for key, reply in grower.answered.items()}
    assert [one for grower in growers for one in grower.wrong] == []
    assert len(acknowledged) > KILLS
    sound(demo_copy)
    with closing(sqlite3.connect(demo_copy)) as conn:
        kept = dict(conn.execute("SELECT id, reply FROM message"))
        told = conn.execute(
            "SELECT said.ref, COUNT(*) FROM soil_reading JOIN said ON said.id = soil_reading.said_id"
            " WHERE said.via = 'message' GROUP BY said.ref"
        ).fetchall()
    assert {key: json.loads(kept[key]) for key in acknowledged} == acknowledged
    assert {count for _, count in told} == {1}
    logged = {key for key, reply in acknowledged.items() if reply["outcome"] == "recorded"}
    assert logged <= {ref for ref, _ in told}
    assert {ref for ref, _ in told} <= {key for key, reply in kept.items() if reply is not None}
