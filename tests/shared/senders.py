"""Growers who send to a service that dies under them: each message again under its id until it is answered."""

from __future__ import annotations

import http.client
import json
import sqlite3
import threading
import time
import urllib.error
import urllib.request
from collections.abc import Mapping, Sequence
from contextlib import closing
from pathlib import Path
from typing import Any

PATIENCE_S = 120
"""How long a message is sent again: a busy machine takes its time to start a service anew."""


class Sender(threading.Thread):
    """Sends one message after another, each again under its id until it is answered, and notes every answer."""

    def __init__(self, name: str, port: int, stop: threading.Event, key: str = "") -> None:
        super().__init__()
        self.sender, self.port, self.stop, self.key = name, port, stop, key
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
        headers = {"Content-Type": "application/json"} | ({"Authorization": f"Bearer {self.key}"} if self.key else {})
        end = time.monotonic() + PATIENCE_S
        while time.monotonic() < end:
            request = urllib.request.Request(f"http://127.0.0.1:{self.port}/messages", body, headers)
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


def more_answered(senders: Sequence[Sender], than: Sequence[int], *, a_reading: bool = False) -> bool:
    """Return whether each sender has heard more answers than so many, one of them to a reading; or that it never will.

    A sender that was told something wrong does not go on for ever: what was wrong is for the test to say.
    """
    return all(
        sender.wrong
        or (
            len(sender.answered) > before
            and (not a_reading or any(one["recorded"] for one in list(sender.answered.values())))
        )
        for sender, before in zip(senders, than, strict=True)
    )


def all_answered(senders: Sequence[Sender]) -> dict[str, dict[str, Any]]:
    """Return every answer that was acknowledged to some senders, by the message's id."""
    return {key: reply for sender in senders for key, reply in sender.answered.items()}


def hold_kept(garden: Path, acknowledged: Mapping[str, dict[str, Any]]) -> None:
    """Hold that each answer is kept word for word, and each reading recorded once, under a message with an answer."""
    with closing(sqlite3.connect(garden)) as conn:
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
