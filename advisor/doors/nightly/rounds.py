"""A round over all growers: by processes on this machine, or on the hosts of a dask scheduler, with the same briefings.

Hosts share nothing, so a worker says which gardens it has and only gets those. A worker of dask makes its briefings in
a process of its own (``room``) too, since dask cannot stop a task that has begun.
"""

from __future__ import annotations

import os
import queue
import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

from advisor.doors.gardens import gardens_of
from advisor.doors.nightly.room import Room
from advisor.errors import BadInput

_room = threading.local()
Progress = Callable[[str, str], None]


@dataclass
class Round:
    """What came of a round: who was briefed, and of the others why not."""

    briefed: set[str] = field(default_factory=set)
    failed: dict[str, str] = field(default_factory=dict)

    def note(self, grower: str, why: str) -> None:
        if why:
            self.failed[grower] = why
        else:
            self.briefed.add(grower)


def round_here(
    gardens: dict[str, Path], now: datetime, limit_s: float, processes: int, make_room: Callable[[], Room] = Room
) -> Round:
    """Brief the growers of these gardens by so many processes, each grower within a time. [s]"""
    left: queue.SimpleQueue[str] = queue.SimpleQueue()
    for grower in sorted(gardens):
        left.put(grower)
    done, lock = Round(), threading.Lock()

    def work() -> None:
        with make_room() as room:
            while True:
                try:
                    grower = left.get_nowait()
                except queue.Empty:
                    return
                why = _one(room, gardens[grower], now, limit_s)
                with lock:
                    done.note(grower, why)

    threads = [threading.Thread(target=work) for _ in range(min(processes, max(1, len(gardens))))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return done


def round_by_dask(scheduler: str, now: datetime, limit_s: float) -> Round:
    """Brief the growers of every worker's folder; a grower goes to a worker that has the garden.

    Raises BadInput where dask is not installed, nobody schedules at that address, or no worker is there.
    """
    try:
        from distributed import Client, as_completed
    except ImportError as error:
        raise BadInput("looking for dask", "it is not installed", 'pip install "growers-advisor[many]"') from error
    try:
        client = Client(scheduler, timeout="10s")  # type: ignore[no-untyped-call]
    except OSError as error:
        raise BadInput(f"reaching the scheduler {scheduler}", str(error), "Start it: dask scheduler") from error
    with client:
        here = client.run(growers_here)
        if not here:
            raise BadInput(
                f"asking {scheduler}", "no worker", "Start one on each host: dask worker ADDRESS --nthreads 1"
            )
        at: dict[str, list[str]] = {}
        for worker, growers in here.items():
            for grower in growers:
                at.setdefault(grower, []).append(worker)
        done = Round()
        asked = {
            client.submit(brief_here, grower, now, limit_s, workers=workers, pure=False, retries=1): grower
            for grower, workers in at.items()
        }
        for future in as_completed(asked):  # type: ignore[no-untyped-call]
            fault = future.exception()
            done.note(asked[future], f"{type(fault).__name__}: {fault}" if fault else future.result())
    return done


def growers_here() -> list[str]:
    """Return the growers that this worker's host serves."""
    folder = os.environ.get("ADVISOR_GROWERS", "")
    return sorted(gardens_of(Path(folder))) if folder else []


def brief_here(grower: str, now: datetime, limit_s: float) -> str:
    """Brief one grower of this worker's host; return "" or why not."""
    if not hasattr(_room, "kept"):
        _room.kept = Room()
    return _one(_room.kept, gardens_of(Path(os.environ["ADVISOR_GROWERS"]))[grower], now, limit_s)


def _one(room: Room, garden: Path, now: datetime, limit_s: float) -> str:
    if not garden.exists():
        return f"no file {garden.name}"
    return room.brief(garden, now, limit_s)
