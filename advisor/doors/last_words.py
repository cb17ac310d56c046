"""What a process that dies leaves to the one above it: its stacks, and which engines it was running at what question.

A compiled library takes a process with it and no Python code runs after that. So each process that serves notes in a
folder what it runs, before it runs it, and lets the interpreter write its stacks there when a signal ends it. Neither
holds a grower's words.
"""

from __future__ import annotations

import faulthandler
import logging
import os
import re
import signal
import threading
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import IO

from advisor.doors.watching import FAILURES, RESTARTS
from advisor.reasoning.engine import standing_in

LOG = logging.getLogger("advisor.service")
STUCK_S = 60.0
"""How long no Python of a process may run before it is ended: an engine that never comes back lets none run."""
MOST_OF_ONE = 3
"""How often one maker's engines may end a process before its engines are not run any more."""
LAST_CRASH = "last-crash.txt"
SLOT = 96
"""Bytes in which one thread notes what it runs."""
SIGNALS = (signal.SIGSEGV, signal.SIGABRT, signal.SIGBUS, signal.SIGFPE, signal.SIGILL)
"""The signals of which the interpreter writes, by the system's name for them."""
_deaths_of: Counter[str] = Counter()


def keep_last_words(folder: Path, stuck_s: float | None = None) -> None:
    """Let this process leave word of its end in a folder. With ``stuck_s`` it ends itself where it is stuck so long."""
    stacks = (folder / f"stacks-{os.getpid()}").open("w")
    faulthandler.enable(stacks, all_threads=True)
    standing_in.WATCHERS.append(Runs(folder / f"runs-{os.getpid()}"))
    if stuck_s is not None:
        threading.Thread(target=_tell_of_life, args=(stuck_s, stacks), name="life", daemon=True).start()


def _tell_of_life(stuck_s: float, stacks: IO[str]) -> None:
    """Put off, again and again, that the interpreter ends the process: it cannot be put off where no Python runs."""
    while True:
        faulthandler.dump_traceback_later(stuck_s, exit=True, file=stacks)
        time.sleep(stuck_s / 6)


class Runs:
    """Notes in a file which engine each thread runs at what question."""

    def __init__(self, path: Path) -> None:
        self._handle = os.open(path, os.O_RDWR | os.O_CREAT | os.O_TRUNC, 0o600)
        self._lock = threading.Lock()
        self._slots: dict[int, int] = {}

    def begins(self, maker: str, question: str) -> None:
        thread = threading.get_ident()
        with self._lock:
            taken = set(self._slots.values())
            slot = self._slots[thread] = next(n for n in range(len(taken) + 1) if n not in taken)
        self._note(slot, f"{thread:#x} {maker} {question}")

    def ends(self, maker: str, question: str, *, failed: bool) -> None:
        with self._lock:
            slot = self._slots.pop(threading.get_ident())
            self._note(slot, "")

    def _note(self, slot: int, text: str) -> None:
        with suppress(OSError):
            os.pwrite(self._handle, f"{text[: SLOT - 1]:<{SLOT - 1}}\n".encode(), slot * SLOT)


@dataclass(frozen=True)
class Death:
    """The end of a process: why, its stacks, and the thread, maker and question of each engine that ran."""

    why: str
    stacks: str
    runs: tuple[tuple[int, str, str], ...]

    @property
    def thread(self) -> int | None:
        """The thread in which it ended, where it is known."""
        found = re.search(r"^Current thread (0x[0-9a-f]+)", self.stacks, re.MULTILINE)
        return int(found[1], 16) if found else None

    @property
    def blamed(self) -> tuple[str, str] | None:
        """The maker and question that ended it: of its thread, or the only one that ran."""
        own = [(maker, question) for thread, maker, question in self.runs if thread == self.thread]
        if own or len(self.runs) != 1:
            return own[0] if own else None
        return self.runs[0][1:]

    @property
    def told(self) -> str:
        """Why it ended and what ran then, in a sentence."""
        if self.blamed:
            return f"it was ended by {self.why} while the engine of {self.blamed[0]} ran {self.blamed[1]}"
        ran = sorted({f"{maker} at {question}" for _, maker, question in self.runs})
        return f"it was ended by {self.why}; " + (f"engines ran: {', '.join(ran)}" if ran else "no engine ran")

    def lines(self) -> Iterator[str]:
        """Yield the stack of the thread that ended it, else all stacks."""
        inside = self.thread is None
        for line in self.stacks.splitlines():
            if line.startswith(("Current thread", "Thread", "Extension modules")):
                inside = line.startswith("Current") or (self.thread is None and line.startswith("Thread"))
            if inside and line.strip():
                yield line


def death_of(folder: Path, pid: int, why: str = "") -> Death | None:
    """Return how a process that has ended did so, and take its notes away; None where it left no word.

    ``why`` says what ended it where that is known; else it is read off what it left.
    """
    stacks, noted = (_taken(folder / f"{name}-{pid}") for name in ("stacks", "runs"))
    runs = []
    for line in noted.splitlines():
        if len(words := line.split()) == 3:
            runs.append((int(words[0], 16), words[1], words[2]))
    if not (why or stacks.strip() or runs):
        return None
    if stacks.startswith("Timeout ("):
        why = "its own watch, since it was stuck"
    elif why == signal.SIGKILL.name:
        why = "SIGKILL, sent by hand or by the system where memory runs out"
    return Death(why or _signal_in(stacks), stacks, tuple(runs))


def _taken(path: Path) -> str:
    """Return what a file holds and remove it."""
    try:
        return path.read_text(encoding="utf-8", errors="replace")
    except FileNotFoundError:
        return ""
    finally:
        path.unlink(missing_ok=True)


def _signal_in(stacks: str) -> str:
    """Return the signal by the name that the interpreter gave it when it wrote the stacks."""
    first = stacks.partition("\n")[0]
    found = (one.name for one in SIGNALS if (signal.strsignal(one) or "?") in first.replace("-", " "))
    return next(found, "a signal that leaves no word, such as SIGKILL")


def tell(death: Death, folder: Path, then: str) -> None:
    """Log a death, count it, keep all of it in ``last-crash.txt`` in a folder, and judge the maker that it is due to.

    ``then`` says what is done now. A maker that has ended too many processes is passed over by those started later.
    """
    if death.blamed:
        maker, question = death.blamed
        FAILURES.labels(maker, question, "ended the process").inc()
        _deaths_of[maker] += bool(death.stacks)  # what came from outside says nothing of the engine
        if _deaths_of[maker] == MOST_OF_ONE:
            standing_in.PASSED_OVER.add(maker)
            then += f" Engines of {maker} ended {MOST_OF_ONE} processes: others run until the service is started anew."
    RESTARTS.labels(death.why.partition(",")[0]).inc()
    told = f"A process that serves is gone: {death.told}. {then}"
    LOG.error("%s", "\n".join([told, *death.lines()]))
    with suppress(OSError):
        at = datetime.now(UTC).isoformat(timespec="seconds")
        (folder / LAST_CRASH).write_text(f"{at}\n{told}\n\n{death.stacks}", encoding="utf-8")
