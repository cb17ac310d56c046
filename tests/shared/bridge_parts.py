"""Parts that tests of the bridge are made of: a clock, a service that does as it is told, a door, a bridge between."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any

from advisor.doors.bridge.inbox import Incoming, Spool
from advisor.doors.bridge.journal import Journal
from advisor.doors.bridge.numbers import Senders
from advisor.doors.bridge.sending import Bridge
from advisor.doors.bridge.service import Answer
from advisor.doors.bridge.settings import BridgeSettings

ANN, BEN, STRANGER, OWN = "+447700900123", "+447700900124", "+447700900125", "+447700900100"
"""Numbers that the regulator of the United Kingdom keeps free for drama (Ofcom, 07700 900000 to 900999)."""
START = datetime(2026, 4, 24, 10, 0, tzinfo=UTC)


@dataclass
class Clock:
    """A clock that a test moves on."""

    now: datetime = START

    def __call__(self) -> datetime:
        return self.now

    def on(self, **by: float) -> None:
        self.now += timedelta(**by)


class StandIn(ThreadingHTTPServer):
    """A service that answers each id once, and by ``next`` with another status, when a test says so.

    ``posted``: what came in, with its headers. ``next``: what to answer first, a status or a status and headers.
    """

    daemon_threads = True

    def __init__(self) -> None:
        self.posted: list[tuple[dict[str, Any], dict[str, str]]] = []
        self.next: list[tuple[int, dict[str, str]]] = []
        self.always: int = 0
        self.say: Callable[[dict[str, Any]], dict[str, Any]] = lambda told: {
            "reply": f"In full: {told['text']}", "short": f"Short: {told['text']}"[:300]
        }  # fmt: skip
        super().__init__(("127.0.0.1", 0), _Handler)

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.server_address[1]}"

    @property
    def texts(self) -> list[str]:
        return [told["text"] for told, _ in self.posted]


class _Handler(BaseHTTPRequestHandler):
    server: StandIn

    def do_POST(self) -> None:
        told = json.loads(self.rfile.read(int(self.headers["Content-Length"])))
        status, headers = self.server.next.pop(0) if self.server.next else (self.server.always or 200, {})
        self.server.posted.append((told, dict(self.headers)))
        body = self.server.say(told) if status == 200 else {"found": "no words in it"}
        content = json.dumps(body).encode()
        self.send_response(status)
        for name, value in {**headers, "Content-Length": str(len(content))}.items():
            self.send_header(name, value)
        self.end_headers()
        self.wfile.write(content)

    def log_message(self, *_: object) -> None:
        return


@dataclass
class Pigeon:
    """A door that keeps its answers in a list, once for an id; ``away`` holds what to raise first."""

    name: str = "text"
    most_an_hour: int = 30
    most_a_day: int = 100
    sent: list[tuple[str, str]] = field(default_factory=list)
    ids: set[str] = field(default_factory=set)
    away: list[Exception] = field(default_factory=list)

    def answer(self, message: Incoming, answer: Answer) -> None:
        if self.away:
            raise self.away.pop(0)
        if message.id not in self.ids:
            self.ids.add(message.id)
            self.sent.append((message.sender, answer.short))


@dataclass
class Works:
    """A bridge with what is around it."""

    settings: BridgeSettings
    senders: Senders
    spool: Spool
    pigeon: Pigeon
    clock: Clock
    bridge: Bridge

    def told(self, text: str, sender: str = ANN, message_id: str = "", **beside: str) -> str:
        """Spool a message, as its door would, and return its id."""
        message_id = message_id or self.senders.secret.hash("test", text, sender)
        self.spool.put(Incoming(message_id, "text", sender, text, self.clock(), None, beside))
        return message_id

    def again(self) -> None:
        """Start the bridge anew over the same folder, as after a crash."""
        journal = Journal(self.settings.folder / "journal.jsonl", self.clock())
        doors = {self.pigeon.name: self.pigeon}
        self.bridge = Bridge(self.settings, self.senders, self.spool, journal, doors, (OWN,), self.clock)

    def outcomes(self) -> list[str]:
        return [line.outcome for line in self.bridge.journal.lines.values()]
