"""What tests of the bridge share: its settings in a folder, a service to ask, and a bridge between."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from bridge_parts import ANN, BEN, OWN, Clock, Pigeon, StandIn, Works

from advisor.doors.bridge.inbox import Spool
from advisor.doors.bridge.journal import Journal
from advisor.doors.bridge.numbers import Allowed, Secret, Senders
from advisor.doors.bridge.sending import Bridge
from advisor.doors.bridge.settings import BridgeSettings, TextSettings


@pytest.fixture
def service() -> Iterator[StandIn]:
    """A service to ask."""
    server = StandIn()
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02}, daemon=True)
    thread.start()
    yield server
    server.shutdown()
    server.server_close()
    thread.join(5)


@pytest.fixture
def settings(tmp_path: Path) -> BridgeSettings:
    """Settings with the modem's folders, all of them empty."""
    for name in ("inbox", "outbox", "sent", "error"):
        (tmp_path / name).mkdir()
    folders = {name: tmp_path / name for name in ("inbox", "outbox", "sent", "error")}
    texts = TextSettings(**folders, prefix="+44", zone="UTC", own_number=OWN)
    return BridgeSettings(tmp_path / "bridge", "http://127.0.0.1:9", timeout_s=5.0, texts=texts)


@pytest.fixture
def works(settings: BridgeSettings, service: StandIn) -> Works:
    """A bridge to the service, where Ann and Ben may write."""
    settings = replace(settings, service=service.url)
    senders = Senders(settings.folder, Secret.of(settings.folder), "+44")
    for number, name in ((ANN, "Ann"), (BEN, "Ben")):
        senders.allow(number, Allowed("", name))
    spool, clock, pigeon = Spool(settings.folder / "spool"), Clock(), Pigeon()
    journal = Journal(settings.folder / "journal.jsonl", clock())
    bridge = Bridge(settings, senders, spool, journal, {"text": pigeon}, (OWN,), clock)
    return Works(settings, senders, spool, pigeon, clock, bridge)
