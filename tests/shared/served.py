"""A served folder of growers, for tests and benchmarks: gardens, keys, and servers as processes of their own."""

from __future__ import annotations

import atexit
import http.client
import os
import secrets
import shutil
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache
from itertools import cycle, islice
from pathlib import Path

from advisor.doors.access.keys import START, new_secret, written
from advisor.records.keys import KeyStore

TOP = Path(__file__).resolve().parents[2]
GUNICORN = TOP / "deploy" / "service" / "gunicorn.conf.py"


@dataclass(frozen=True)
class Known:
    """A grower who has a garden and a key."""

    id: str
    key: str


@cache
def _own_ports() -> tuple[socket.socket, Iterator[int]]:
    """Take a hundred ports for this process: others that run tests leave them alone while it holds the first of them.

    They are below those that a system gives to whoever connects somewhere, so that none is given away before the server
    that is meant to have it is there.
    """
    blocks = range(20_000, 32_000, 100)
    for first in secrets.SystemRandom().sample(blocks, len(blocks)):
        held = socket.socket()
        try:
            held.bind(("127.0.0.1", first))
        except OSError:
            held.close()
        else:
            atexit.register(held.close)
            return held, cycle(range(first + 1, first + 100))
    raise OSError("no ports are free")


def free_port() -> int:
    """Return a port that nothing listens on, another one each time and in each process."""
    for port in islice(_own_ports()[1], 99):
        with closing(socket.socket()) as found, suppress(OSError):
            found.bind(("127.0.0.1", port))
            return port
    raise OSError("no port is free")


def until(true: Callable[[], object], what: str = "it", limit_s: float = 120) -> None:
    """Wait until something is so, however busy the machine is; fail where it does not come to be so."""
    end = time.monotonic() + limit_s
    while not true():
        assert time.monotonic() < end, f"{what} did not come to be so in {limit_s:g} s"
        time.sleep(0.02)


def make_growers(folder: Path, garden: Path, count: int) -> list[Known]:
    """Make growers, each with a copy of a garden and a key."""
    now, made = datetime.now(UTC), []
    with KeyStore(folder, create=True) as store:
        for n in range(count):
            grower = store.add_grower(f"invented {n}", now)
            shutil.copy(garden, store.garden_path(grower.id))
            text = written(secret := new_secret(grower.id))
            store.add_key(grower.id, secret, text[:START], "phone", now)
            made.append(Known(grower.id, text))
    return made


def environment(settings: Mapping[str, str]) -> dict[str, str]:
    """Return the environment for a program of ours with these settings and no others."""
    ours = {name: value for name, value in os.environ.items() if not name.startswith(("ADVISOR_", "PROMETHEUS_"))}
    return {**ours, "PYTHONPATH": str(TOP), **settings}


@contextmanager
def process(command: Sequence[str], settings: Mapping[str, str], log: Path) -> Iterator[subprocess.Popen[bytes]]:
    """Run a program with settings, its words in a file, and end it."""
    with log.open("ab") as out:
        started = subprocess.Popen(command, env=environment(settings), stdout=out, stderr=out, cwd=log.parent)
    try:
        yield started
    finally:
        if started.poll() is None:
            started.send_signal(signal.SIGTERM)
        try:
            started.wait(40)
        except subprocess.TimeoutExpired:
            started.kill()
            started.wait()


def gunicorn(port: int, *more: str) -> list[str]:
    return [sys.executable, "-m", "gunicorn", "--config", str(GUNICORN), "--bind", f"127.0.0.1:{port}", *more]


def waitress(port: int) -> list[str]:
    return [sys.executable, "-c", "from advisor.doors.command_line import main; main()", "serve", "--port", str(port)]


def wait_for(
    port: int, running: subprocess.Popen[bytes], log: Path, path: str = "/ready", limit_s: float = 120
) -> None:
    """Wait until a server answers; fail with what it said where it stopped."""
    end = time.monotonic() + limit_s
    while time.monotonic() < end:
        if running.poll() is not None:
            break
        try:
            with closing(http.client.HTTPConnection("127.0.0.1", port, timeout=5)) as line:
                line.request("GET", path)
                if line.getresponse().status == 200:
                    return
        except OSError:
            pass
        time.sleep(0.1)
    raise AssertionError(f"no answer: {log.read_text(encoding='utf-8', errors='replace')[-2000:]}")


def children(pid: int) -> list[int]:
    """Return the processes that a process started, where the system tells them."""
    path = Path(f"/proc/{pid}/task/{pid}/children")
    return [int(one) for one in path.read_text().split()] if path.exists() else []


def resident_mb(pid: int) -> float:
    """Return the memory of a process and of those that it started, shared parts counted once (PSS). [MB]"""
    total = 0
    for one in (pid, *children(pid)):
        with suppress(FileNotFoundError, ProcessLookupError):  # one that was replaced meanwhile holds nothing
            lines = Path(f"/proc/{one}/smaps_rollup").read_text().splitlines()
            total += next((int(line.split()[1]) for line in lines if line.startswith("Pss:")), 0)
    return total / 1024
