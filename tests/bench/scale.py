"""Past one machine, shown on one: ``python tests/bench/scale.py [--growers 60] [--years 3]``.

Three hosts, each a server of its own with a folder of its own, behind nginx with the files of deploy/service. Phones
send all the while. One grower moves from one host to another; all are backed up; one host is killed and its growers
are brought back on the two that are left. Then what one grower costs: disk for a year, memory, time for a message, a
backup and a briefing. ``tests/serving/test_past_one_machine.py`` runs the same with its own assertions.
"""

from __future__ import annotations

import argparse
import http.client
import json
import os
import signal
import sqlite3
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import ExitStack, closing, contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from statistics import median

sys.path.append(str(Path(__file__).resolve().parents[1] / "shared"))

from behind_nginx import reload_hosts, running_nginx, write_files
from served import Known, children, free_port, gunicorn, make_growers, process, resident_mb, wait_for

from advisor.config import Settings, find_rules
from advisor.conversation import Adviser
from advisor.doors.demo import load_demo
from advisor.doors.hosts import Hosts
from advisor.doors.nightly.briefing import brief
from advisor.records.keys import KeyStore
from advisor.records.packing import pack, unpack

NAMES = ("a", "b", "c")


@dataclass
class Told:
    """What phones sent and heard: the answer to each message by grower and id, and every status that was not 200."""

    port: int
    answers: dict[str, dict[str, str]] = field(default_factory=dict)
    others: list[tuple[str, int]] = field(default_factory=list)
    times_s: list[float] = field(default_factory=list)

    def send(self, grower: Known, message_id: str, text: str) -> int:
        """Send a message once and return the status, 0 where nobody answered."""
        start = time.perf_counter()
        try:
            with closing(http.client.HTTPConnection("127.0.0.1", self.port, timeout=60)) as line:
                body = json.dumps({"id": message_id, "text": text})
                head = {"Authorization": f"Bearer {grower.key}", "Content-Type": "application/json"}
                line.request("POST", "/messages", body, head)
                answer = line.getresponse()
                status, said = answer.status, answer.read()
        except (OSError, http.client.HTTPException):
            status, said = 0, b""
        if status == 200:
            self.times_s.append(time.perf_counter() - start)
            self.answers.setdefault(grower.id, {})[message_id] = json.loads(said)["reply"]
        else:
            self.others.append((grower.id, status))
        return status

    @contextmanager
    def sending(self, name: str, growers: list[Known], pause_s: float = 0.15) -> Iterator[None]:
        """Send to these growers in turn, each message again until it is answered, until the end of the block."""
        stop = threading.Event()

        def run() -> None:
            n = 0
            while not stop.is_set():
                grower, text = growers[n % len(growers)], f"soil shed bed {10 + n % 50 / 10} 10cm"
                while self.send(grower, f"{name}-{n}", text) != 200 and not stop.wait(0.2):
                    pass
                n += 1
                stop.wait(pause_s)

        thread = threading.Thread(target=run)
        thread.start()
        try:
            yield
        finally:
            stop.set()
            thread.join()


@dataclass
class Three:
    """The three hosts, the server in front, and who is where."""

    folder: Path
    nginx: str
    port: int
    main: Path
    hosts: Hosts
    known: dict[str, list[Known]]
    servers: dict[str, tuple[int, int]]
    """Port and process of each host."""

    def place(self, growers: dict[str, str]) -> None:
        """Place growers on hosts and let nginx know."""
        self.hosts = Hosts(self.hosts.addresses, {**self.hosts.placed, **growers})
        reload_hosts(self.nginx, self.main, self.hosts.as_nginx())

    def kill(self, name: str) -> None:
        """End a host as a power cut would."""
        _, pid = self.servers[name]
        for one in (pid, *children(pid)):
            os.kill(one, signal.SIGKILL)

    def kept(self, name: str, grower: str) -> dict[str, str]:
        """Return the answers in a grower's garden on a host, none where it is not there."""
        path = self.folder / name / f"{grower}.db"
        if not path.exists():
            return {}
        with closing(sqlite3.connect(path)) as conn:
            rows = conn.execute("SELECT id, reply FROM message WHERE reply IS NOT NULL")
            return {key: json.loads(reply)["reply"] for key, reply in rows}

    def host_of_only(self, grower: str) -> str:
        """Return the one host whose garden of a grower has messages, or all of them where there are several."""
        return " ".join(name for name in NAMES if self.kept(name, grower))


@contextmanager
def three(folder: Path, nginx: str, garden: Path, growers: int) -> Iterator[Three]:
    """Start three hosts with so many growers in all: half placed by name, half where the hash sends them."""
    ports = {name: free_port() for name in NAMES}
    addresses = {name: f"127.0.0.1:{port}" for name, port in ports.items()}
    known: dict[str, list[Known]] = {name: make_growers(folder / name, garden, growers // 6) for name in NAMES}
    hosts = Hosts(addresses, {one.id: name for name in NAMES for one in known[name]})
    scratch = folder / "made"
    for one in make_growers(scratch, garden, growers - 3 * (growers // 6)):
        home = hosts.host_of(one.id)
        with KeyStore(scratch) as made, KeyStore(folder / home) as store:
            pack(made, one.id, scratch / f"{one.id}.grower")
            unpack(scratch / f"{one.id}.grower", store, datetime.now(UTC))
        known[home].append(one)
    port = free_port()
    main = write_files(folder / "nginx", port, hosts.as_nginx())
    with ExitStack() as stack:
        servers = {}
        for name in NAMES:
            settings = {
                "ADVISOR_GROWERS": str(folder / name), "ADVISOR_ONE_OF_MANY": "yes", "ADVISOR_BEHIND_PROXY": "yes",
                "WEB_CONCURRENCY": "1",
            }  # fmt: skip
            log = folder / f"{name}.log"
            started = stack.enter_context(process(gunicorn(ports[name]), settings, log))
            servers[name] = (ports[name], started.pid)
            wait_for(ports[name], started, log)
        stack.enter_context(running_nginx(nginx, main, port))
        yield Three(folder, nginx, port, main, hosts, known, servers)


def move(three: Three, grower: str, source: str, target: str) -> float:
    """Move a grower while phones send, and return for how long nothing could be told. [s]"""
    file = three.folder / f"moving-{grower}.grower"
    start = time.perf_counter()
    with KeyStore(three.folder / source) as store:
        pack(store, grower, file, moving=True)
    with KeyStore(three.folder / target, create=True) as store:
        unpack(file, store, datetime.now(UTC))
    three.place({grower: target})
    return time.perf_counter() - start


def back_up(three: Three, name: str) -> tuple[float, int]:
    """Back up every grower of a host and return seconds and bytes."""
    start, size = time.perf_counter(), 0
    with KeyStore(three.folder / name) as store:
        for one in three.known[name]:
            size += pack(store, one.id, three.folder / "backups" / name / f"{one.id}.grower").size
    return time.perf_counter() - start, size


def bring_back(three: Three, lost: str, others: tuple[str, ...]) -> float:
    """Bring the growers of a lost host back on the others, from its backup, and return how long it took. [s]"""
    start = time.perf_counter()
    placed = {}
    for n, one in enumerate(three.known[lost]):
        home = others[n % len(others)]
        with KeyStore(three.folder / home) as store:
            unpack(three.folder / "backups" / lost / f"{one.id}.grower", store, datetime.now(UTC))
        placed[one.id] = home
    three.hosts = Hosts({name: three.hosts.addresses[name] for name in others}, three.hosts.placed)
    three.place({**{one.id: name for name in others for one in three.known[name]}, **placed})
    return time.perf_counter() - start


def cost_of_one(adviser: Adviser, folder: Path, garden: Path, messages: int) -> None:
    """Print what one grower costs: bytes a message, CPU time a message, a backup, a briefing."""
    (one,) = make_growers(folder, garden, 1)
    path, now = folder / f"{one.id}.db", datetime(2026, 4, 24, 10, tzinfo=UTC)
    before, texts = path.stat().st_size, ("soil shed bed {} 10cm", "why is the shed fig late?")
    spent: dict[int, list[float]] = {0: [], 1: []}
    for n in range(messages):
        kind, start = int(n % 4 == 3), time.process_time()
        adviser.message({"text": texts[kind].format(10 + n % 50 / 10), "id": f"m{n}"}, now, path)
        spent[kind].append(time.process_time() - start)
    with closing(sqlite3.connect(path)) as conn:
        conn.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    grown = (path.stat().st_size - before) / messages
    start = time.process_time()
    with KeyStore(folder) as store:
        size = pack(store, one.id, folder / "one.grower").size
    packed = time.process_time() - start
    start = time.process_time()
    brief(adviser, path, now)
    briefed = time.process_time() - start
    print(f"one grower: garden {before / 1000:.0f} kB at first, {grown / 1000:.1f} kB a message (3 lines, 1 question)")
    print(f"  CPU: line {median(spent[0]) * 1000:.0f} ms, question {median(spent[1]) * 1000:.0f} ms", end="")
    print(f", backup {packed * 1000:.0f} ms, briefing {briefed * 1000:.0f} ms; backup {size / 1000:.0f} kB")


def main() -> None:
    options = argparse.ArgumentParser()
    options.add_argument("--growers", type=int, default=60)
    options.add_argument("--messages", type=int, default=400)
    options.add_argument("--nginx", default="/usr/sbin/nginx")
    chosen = options.parse_args()
    adviser = Adviser.load(Settings(Path("unset.db"), find_rules()))
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        garden = load_demo(adviser, folder)
        with three(folder, chosen.nginx, garden, chosen.growers) as hosts:
            told = Told(hosts.port)
            print({host: len(known) for host, known in hosts.known.items()}, "growers on three hosts")
            everyone = [one for known in hosts.known.values() for one in known]
            with told.sending("all", everyone), told.sending("more", everyone[::-1]):
                time.sleep(20)
            print(f"{len(told.times_s)} messages answered through nginx, others: {len(told.others)}")
            mover = hosts.known["a"][0]
            with told.sending("moving", [mover], 0.02):
                time.sleep(1)
                took = move(hosts, mover.id, "a", "b")
                time.sleep(1)
            print(f"moved under load: {took:.1f} s in which {sum(s == 503 for _, s in told.others)} tries were put off")
            for host in NAMES:
                memory = resident_mb(hosts.servers[host][1])
                print(f"host {host}: {memory:.0f} MB for {len(hosts.known[host])} growers")
            took, size = back_up(hosts, "c")
            print(f"backup of host c: {took:.1f} s, {size / 1e6:.2f} MB")
            told.others.clear()
            with told.sending("staying", [one for host in "ab" for one in hosts.known[host] if one != mover]):
                hosts.kill("c")
                print(f"host c killed; its growers back on a and b after {bring_back(hosts, 'c', ('a', 'b')):.1f} s")
            print(f"growers of a and b meanwhile: {len(told.others)} messages put off")
        cost_of_one(adviser, folder / "one", garden, chosen.messages)


if __name__ == "__main__":
    main()
