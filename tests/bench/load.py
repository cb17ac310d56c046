"""What serving costs: ``python tests/bench/load.py [--seconds 10] [--soak 20000] [--server gunicorn]``.

First, on each server: requests a second and the 99th percentile of a log line and of a question, beside the bare
``/health`` of the same server in the same run. Then a soak: so many messages, three log lines to one question, over
HTTP to many growers, with the memory of the server's processes at the start, in the middle and at the end. The client
runs on the same machine and takes its share of it, so only ratios and memory mean anything. Nothing passes or fails.
"""

from __future__ import annotations

import argparse
import asyncio
import json
import sys
import tempfile
import time
from collections.abc import Callable, Coroutine, Iterator
from concurrent.futures import ThreadPoolExecutor
from itertools import count
from pathlib import Path
from typing import Any

sys.path.append(str(Path(__file__).resolve().parents[1] / "shared"))

from served import Known, free_port, gunicorn, make_growers, process, resident_mb, wait_for, waitress

from advisor.config import Settings, find_rules
from advisor.conversation import Adviser
from advisor.doors.demo import load_demo

LINE = "soil shed bed {} 10cm"
QUESTION = "why is the shed fig late?"
Request = Callable[[int], bytes]


def post(known: list[Known], text_of: Callable[[int], str]) -> Request:
    """Return what makes the nth request: of one grower after another, each as if from an address of their own."""

    def make(n: int) -> bytes:
        grower = known[n % len(known)]
        body = json.dumps({"text": text_of(n), "id": f"load-{n}"}).encode()
        head = (
            f"POST /messages HTTP/1.1\r\nHost: localhost\r\nAuthorization: Bearer {grower.key}\r\n"
            f"X-Forwarded-For: 10.{n % 250}.{n // 250 % 250}.{n // 62500}\r\n"
            f"Content-Type: application/json\r\nContent-Length: {len(body)}\r\nConnection: close\r\n\r\n"
        )
        return head.encode() + body

    return make


def bare(n: int) -> bytes:
    address = f"10.{n % 250}.{n // 250 % 250}.{n // 62500}"
    return (
        f"GET /health HTTP/1.1\r\nHost: localhost\r\nX-Forwarded-For: {address}\r\nConnection: close\r\n\r\n".encode()
    )


async def send(port: int, request: Request, numbers: Iterator[int], at_once: int) -> list[tuple[float, int]]:
    """Send requests until there are no more numbers; return seconds and status of each."""
    done: list[tuple[float, int]] = []

    async def client() -> None:
        for n in numbers:
            start = time.perf_counter()
            reader, writer = await asyncio.open_connection("127.0.0.1", port)
            writer.write(request(n))
            answer = await reader.read(-1)
            writer.close()
            done.append((time.perf_counter() - start, int(answer[9:12] or 0)))

    await asyncio.gather(*(client() for _ in range(at_once)))
    return done


def while_s(seconds: float, numbers: Iterator[int]) -> Iterator[int]:
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        yield next(numbers)


def sent(sending: Coroutine[Any, Any, list[tuple[float, int]]]) -> list[tuple[float, int]]:
    """Return what a sending gives, run in a thread of its own: that of a test may run a browser's loop already."""
    with ThreadPoolExecutor(1) as apart:
        return apart.submit(asyncio.run, sending).result()


def rate(port: int, name: str, request: Request, seconds: float, numbers: Iterator[int]) -> float:
    start = time.perf_counter()
    done = sent(send(port, request, while_s(seconds, numbers), 8))
    took = time.perf_counter() - start
    times = sorted(one for one, _ in done)
    bad = sum(status != 200 for _, status in done)
    a_second = len(done) / took
    print(
        f"  {name:10} {a_second:8.1f} requests/s  median {times[len(times) // 2] * 1000:7.1f} ms"
        f"  99th percentile {times[int(len(times) * 0.99)] * 1000:7.1f} ms  not 200: {bad}"
    )
    return a_second


def soak(
    port: int, pid: int, known: list[Known], messages: int, at_once: int = 4, warm: int = 0
) -> tuple[list[float], int]:
    """Send so many messages; return the memory [MB] at start, middle and end, and how many were not answered.

    Before the start at least two go to each grower, or ``warm`` in all: memory climbs in steps until each worker has
    met its busiest moments.
    """
    request = post(known, lambda n: QUESTION if n % 4 == 3 else LINE.format(10 + n % 70 / 10))
    sent(send(port, request, iter(range(10**8, 10**8 + max(warm, 2 * len(known)))), at_once))
    memory, bad = [resident_mb(pid)], 0
    half = messages // 2
    for first, last in ((0, half), (half, messages)):
        done = sent(send(port, request, iter(range(first, last)), at_once))
        bad += sum(status != 200 for _, status in done)
        memory.append(resident_mb(pid))
    return memory, bad


def main() -> None:
    options = argparse.ArgumentParser()
    options.add_argument("--seconds", type=float, default=10)
    options.add_argument("--soak", type=int, default=20_000)
    options.add_argument("--growers", type=int, default=200)
    options.add_argument("--server", choices=["waitress", "gunicorn"], action="append")
    chosen = options.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        garden = load_demo(Adviser.load(Settings(Path("unset.db"), find_rules())), folder)
        for server in chosen.server or ("waitress", "gunicorn"):
            growers = folder / f"growers-{server}"
            known = make_growers(growers, garden, chosen.growers)
            port, log = free_port(), folder / f"{server}.log"
            settings = {"ADVISOR_GROWERS": str(growers), "ADVISOR_BEHIND_PROXY": "yes"}
            command = waitress(port) if server == "waitress" else gunicorn(port)
            with process(command, settings, log) as running:
                wait_for(port, running, log)
                print(server)
                if chosen.seconds:
                    numbers = count()
                    base = rate(port, "/health", bare, chosen.seconds, numbers)
                    kinds = {"log line": lambda n: LINE.format(10 + n % 70 / 10), "question": lambda n: QUESTION}
                    for kind, text_of in kinds.items():
                        found = rate(port, kind, post(known, text_of), chosen.seconds, numbers)
                        print(f"  {kind}: 1/{base / found:.0f} of the bare rate")
                if chosen.soak:
                    start = time.perf_counter()
                    memory, bad = soak(port, running.pid, known, chosen.soak)
                    told = ", ".join(f"{one:.0f}" for one in memory)
                    print(f"  {chosen.soak} messages in {time.perf_counter() - start:.0f} s: {told} MB; not 200: {bad}")


if __name__ == "__main__":
    main()
