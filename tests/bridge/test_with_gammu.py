"""From a text message to its answer with the real daemon (gammu-smsd and its dummy modem), hook, bridge and service."""

from __future__ import annotations

import json
import os
import random
import re
import shutil
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path

import gsm0338
import pytest
from bridge_parts import ANN, BEN, OWN, STRANGER
from served import free_port, until
from tests_shared import NOON
from waitress.server import create_server

from advisor.conversation import Adviser
from advisor.doors.bridge.inbox import Spool
from advisor.doors.bridge.journal import read_lines
from advisor.doors.bridge.numbers import Allowed, Secret, Senders
from advisor.doors.http import create_app

TOP = Path(__file__).resolve().parents[2]
HOOK = TOP / "deploy" / "text-messages" / "hook.sh"
KILLS, STEPS = 30, 14

SHIPPED = TOP / "deploy" / "text-messages" / "gammu-smsdrc"
FOR_A_DUMMY = """
statusfrequency = 0
checksecurity = 0
checkbattery = 0
checksignal = 0
checknetwork = 0
logfile = {folder}/daemon.log
debuglevel = 1
"""
BRIDGE = """
folder = "bridge"
service = "http://127.0.0.1:{port}"
pause_s = 0.5
longest_pause_s = 1.0
[texts]
inbox = "inbox"
outbox = "outbox"
sent = "sent"
error = "error"
prefix = "+44"
zone = "UTC"
own_number = "{own}"
"""
WRITE = """
import datetime, gammu, json, sys
told = json.load(sys.stdin)
parts = gammu.EncodeSMS({"Class": -1, "Unicode": told["unicode"],
                         "Entries": [{"ID": "ConcatenatedTextLong", "Buffer": told["text"]}]})
for number, part in enumerate(parts):
    part.update(SMSC={"Location": 1}, Number=told["sender"], Type="Deliver", State="UnRead",
                DateTime=datetime.datetime.fromisoformat(told["at"]))
    gammu.SaveSMSBackup(f"{told['path']}-{number}", [part])
print(len(parts))
"""

DYING = """
import os, signal, sys
from advisor.doors.bridge import numbers
from advisor.doors.bridge_command import bridge
numbers.same_number("+447700900123", "+44")
left = int(sys.argv[1])
def die(event, about):
    global left
    writes = event == "open" and about[2] & (os.O_WRONLY | os.O_RDWR)
    if writes or event in ("os.rename", "os.remove", "socket.connect", "http.client.send"):
        left -= 1
        if left == 0:
            os.write(2, f"died before {event}\\n".encode())
            os.kill(os.getpid(), signal.SIGKILL)
sys.addaudithook(die)
bridge(["run", "--settings", "bridge.toml"])
"""
"""Runs the bridge and kills it before the so-manieth step by which it changes a file or asks the service."""


@dataclass
class Modem:
    """The daemon over a dummy modem, with the bridge beside it, in a folder."""

    folder: Path
    port: int
    bridge: subprocess.Popen[bytes] | None = None
    _made: int = 0

    def receives(self, text: str, sender: str = ANN, at: str = "2026-04-24T09:58:03", *, unicode: bool = False) -> int:
        """Let the modem receive a message, encoded by gammu's own library; return in how many parts."""
        self._made += 1
        ready = self.folder / f"ready{self._made:03d}"
        told = json.dumps({"text": text, "sender": sender, "at": at, "unicode": unicode, "path": str(ready)})
        done = subprocess.run(
            ["/usr/bin/python3", "-c", WRITE], input=told, capture_output=True, text=True, check=True, timeout=30
        )
        for part in range(int(done.stdout)):
            self._put(Path(f"{ready}-{part}"))
        return int(done.stdout)

    def _put(self, part: Path) -> None:
        """Move a part into the modem's memory, at the next free place."""
        taken = {path.name for path in (self.folder / "modem/sms/1").iterdir()}
        place = next(str(n) for n in range(1, 1000) if str(n) not in taken)
        part.rename(self.folder / "modem/sms/1" / place)

    def start(self, *command: str) -> None:
        """Start the bridge, or what stands for it."""
        command = (
            sys.executable,
            *(command or ("-m", "advisor.doors.bridge_command", "run", "--settings", "bridge.toml")),
        )
        with (self.folder / "bridge.log").open("ab") as log:
            self.bridge = subprocess.Popen(command, cwd=self.folder, stderr=log, env=ENVIRONMENT)

    def stop(self, number: int = signal.SIGTERM) -> None:
        if self.bridge:
            self.bridge.send_signal(number)
            self.bridge.wait(60)
            self.bridge = None

    def ended(self) -> bool:
        return self.bridge is None or self.bridge.poll() is not None

    def log(self, name: str = "bridge") -> str:
        path = self.folder / f"{name}.log"
        return path.read_text(encoding="utf-8", errors="replace") if path.exists() else ""

    def sent(self) -> list[tuple[str, str]]:
        """Return what went out: numbers and words, in the order of the daemon's files."""
        return [
            (path.name.split("_")[3], path.read_bytes().decode("utf-16"))
            for path in sorted((self.folder / "sent").iterdir())
        ]

    def parts_sent(self) -> list[int]:
        """Return in how many parts the daemon sent each answer, by its own log."""
        return [int(found) for found in re.findall(r"Transmitted OUT\S+ \(total: (\d+)\)", self.log("daemon"))]

    def outcomes(self) -> list[str]:
        return [line.outcome for line in read_lines(self.folder / "bridge" / "journal.jsonl")]


ENVIRONMENT = {**os.environ, "PYTHONPATH": str(TOP)}


def daemon_settings(folder: Path) -> str:
    """Return the daemon's settings as shipped, for a dummy modem in a folder, looked at each second, with a log."""
    shipped = SHIPPED.read_text(encoding="utf-8")
    for pattern, own in (
        (r"^device = .*", f"model = dummy\ndevice = {folder}/modem"),
        (r"^connection = .*", "connection = none"),
        (r"/var/spool/gammu", str(folder)),
        (r"^(receivefrequency|commtimeout) = .*", r"\1 = 1"),
        (r"^runonreceive = .*", f"runonreceive = {HOOK} {sys.executable} {folder}/bridge.toml"),
    ):
        shipped, times = re.subn(pattern, own, shipped, flags=re.MULTILINE)
        assert times
    return shipped + FOR_A_DUMMY.format(folder=folder)


@pytest.fixture
def modem(tmp_path: Path) -> Iterator[Modem]:
    """The daemon at work in a folder of its own; Ann and Ben may write."""
    missing = [name for name in ("gammu-smsd",) if not shutil.which(name)]
    if not missing and subprocess.run(["/usr/bin/python3", "-c", "import gammu"], capture_output=True).returncode:
        missing = ["python3-gammu"]
    if missing:
        why = f"no {missing[0]} on this machine: tests with the text message daemon were not run"
        if os.environ.get("ADVISOR_NEEDS_GAMMU"):
            pytest.fail(why)
        pytest.skip(why)
    for name in ("inbox", "outbox", "sent", "error", *(f"modem/sms/{n}" for n in range(1, 6))):
        (tmp_path / name).mkdir(parents=True)
    port = free_port()
    (tmp_path / "smsdrc").write_text(daemon_settings(tmp_path))
    (tmp_path / "bridge.toml").write_text(BRIDGE.format(port=port, own=OWN))
    senders = Senders(tmp_path / "bridge", Secret.of(tmp_path / "bridge"), "+44")
    for number, name in ((ANN, "Ann"), (BEN, "Ben")):
        senders.allow(number, Allowed("", name))
    process = subprocess.Popen(["gammu-smsd", "-c", str(tmp_path / "smsdrc")], env=ENVIRONMENT)
    modem = Modem(tmp_path, port)
    yield modem
    modem.stop(signal.SIGKILL)
    process.terminate()
    process.wait(60)


@pytest.fixture
def served(adviser: Adviser, demo_copy: Path, modem: Modem) -> Iterator[Callable[[], None]]:
    """Serve the demo garden on its day, at the bridge's port, once it is called."""
    running = []

    def start() -> None:
        own = replace(adviser, settings=replace(adviser.settings, garden=demo_copy))
        server = create_server(create_app(own, lambda: NOON), host="127.0.0.1", port=modem.port, threads=4)
        thread = threading.Thread(target=server.run, daemon=True)
        thread.start()
        running.append((server, thread))

    yield start
    for server, thread in running:
        server.close()
        server.task_dispatcher.shutdown()
        thread.join(5)


def test_from_question_to_answer(modem: Modem, served: Callable[[], None]) -> None:
    """A question by text is answered by text, in two parts at most, in seven bits, and no word of it is left behind."""
    served()
    modem.start()
    modem.receives("why is the shed fig so slow to wake?")
    until(modem.sent)
    ((number, said),) = modem.sent()
    assert number == ANN
    assert said.startswith("The shed fig was still asleep on 22 April")
    codec = gsm0338.Codec()
    assert codec.decode(codec.encode(said)[0])[0] == said
    until(lambda: modem.parts_sent() == [2])
    until(lambda: not list((modem.folder / "inbox").iterdir()), "an empty inbox")
    until(lambda: modem.outcomes() == ["answered"])
    kept = [path.read_bytes() for path in (modem.folder / "bridge").rglob("*") if path.is_file()]
    traces = (b"7700900", b"slow", b"asleep")
    assert not [trace for content in kept for trace in traces if trace in content]
    assert not [trace for trace in traces if trace.decode() in modem.log()]


def test_long_and_in_other_letters(modem: Modem, served: Callable[[], None]) -> None:
    """A message in several parts, or in letters of another script (UCS-2), arrives whole and is answered."""
    served()
    modem.start()
    readings = "soil at the porch bed 12.5, 10 cm, in the sun. " * 6 + "Why is the shed fig late?"
    assert modem.receives(readings) > 1
    until(lambda: len(modem.sent()) == 1)
    assert modem.receives("почему инжир спит? 🌳 " * 5, unicode=True, at="2026-04-24T09:59:00") > 1
    until(lambda: len(modem.sent()) == 2)
    until(lambda: len(modem.parts_sent()) == 2)
    assert max(modem.parts_sent()) <= 2
    until(lambda: modem.outcomes() == ["answered", "answered"], "two answers in the journal")


def test_strangers_and_ourselves(modem: Modem, served: Callable[[], None]) -> None:
    """Neither an unknown number nor the modem's own is answered; the next grower is."""
    served()
    modem.start()
    modem.receives("why is the shed fig late?", STRANGER)
    modem.receives("why is the shed fig late?", OWN)
    modem.receives("help")
    until(lambda: len(modem.outcomes()) == 3)
    until(modem.sent)
    assert [number for number, _ in modem.sent()] == [ANN]
    assert sorted(modem.outcomes()) == ["answered", "own number", "unknown"]


def test_delivered_twice(modem: Modem, served: Callable[[], None]) -> None:
    """A message that the network delivers twice is answered once; the same words later are answered anew."""
    served()
    modem.start()
    for at in ("09:58:03", "09:58:03", "09:59:00"):
        modem.receives("soil at the porch bed 12.5", at=f"2026-04-24T{at}")
        until(lambda: not list((modem.folder / "modem/sms/1").iterdir()))
    until(lambda: len(modem.sent()) == 2)
    until(lambda: not Spool(modem.folder / "bridge" / "spool").waiting() and len(modem.parts_sent()) >= 2)
    time.sleep(2)
    assert len(modem.sent()) == len(modem.parts_sent()) == 2


def test_service_away_then_back(modem: Modem, served: Callable[[], None]) -> None:
    """What comes in while the service is away is answered, in order, when it is back."""
    modem.start()
    modem.receives("soil at the porch bed 12.5", at="2026-04-24T09:58:03")
    until(lambda: "the service is not there" in modem.log())
    modem.receives("undo", at="2026-04-24T09:58:30")
    until(lambda: len(Spool(modem.folder / "bridge" / "spool").waiting()) == 2)
    assert modem.sent() == []
    served()
    until(lambda: len(modem.sent()) == 2)
    assert modem.sent()[0][1].startswith("Recorded: soil at porch 12.5 C")
    assert "12.5" in modem.sent()[1][1]
    assert modem.sent()[1][1] != modem.sent()[0][1]


def test_killed_at_any_point(modem: Modem, served: Callable[[], None]) -> None:
    """However often the bridge is killed, and at whatever step, each message gets exactly one answer."""
    served()
    chance = random.Random(20260424)
    waiting = Spool(modem.folder / "bridge" / "spool")
    count = 0
    for kill in range(KILLS):
        if kill % 2 == 0:
            at = f"2026-04-24T09:{count:02d}:00"
            modem.receives(f"soil at the porch bed {10 + count / 10}", (ANN, BEN)[count % 2], at)
            count += 1
        begun = modem.log().count("carrying messages")
        modem.start("-c", DYING, str(chance.randint(1, STEPS)))
        until(lambda begun=begun: modem.ended() or modem.log().count("carrying messages") > begun, "a bridge at work")
        with suppress(subprocess.TimeoutExpired):
            modem.bridge.wait(3)  # type: ignore[union-attr]  # it was started
        modem.stop(signal.SIGKILL)
    died = re.findall(r"died before (\S+)", modem.log())
    assert len(died) >= KILLS // 2
    assert {"open", "os.rename", "os.remove", "http.client.send"} <= set(died)
    modem.start()
    until(lambda: len(modem.sent()) == count)
    until(lambda: not waiting.waiting() and len(modem.parts_sent()) >= count)
    time.sleep(2)
    said = sorted(found for _, words in modem.sent() for found in re.findall(r"porch (\d+(?:\.\d)?)", words))
    assert said == sorted(f"{10 + n / 10:g}" for n in range(count))
    assert len(modem.parts_sent()) == count
    assert modem.outcomes() == ["answered"] * count
