"""Memory over many questions: ``tell_memory`` runs ``python -m costs.memory`` in a process for each engine.

Questions of all kinds go through the whole of a message, in the demo garden and one of 60 plants, a log line now and
then; after some each garden is another grower's, so that what is kept of a garden is given up too.
"""

from __future__ import annotations

import argparse
import json
import shutil
import subprocess
import sys
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import datetime
from itertools import islice
from pathlib import Path
from tempfile import TemporaryDirectory
from threading import Lock
from time import perf_counter

from grown_garden import synthetic_garden

from advisor.config import Settings, find_rules
from advisor.conversation import Adviser
from advisor.doors.demo import load_demo
from advisor.doors.garbage import look_for_garbage_seldom
from advisor.records.importing import import_path
from costs.gardens import IN_SUMMER, NOW, QUESTIONS
from costs.start_up import child_environment
from costs.timing import table

PLANTS = 60
A_LOG_LINE_EACH = 20
SEEN = ("buds swelling", "bud break", "first leaf")
ANOTHER_GROWER_AFTER = 300
WARMED_BY = 0.15
"""The share of the questions after which all that is kept is taken to be full."""
DEMO = ("why is the shed fig so slow to wake?", "where do I put a new apricot?", "will it freeze tonight?",
        "what should I do next?", "which is warmer, the shed bed or the south wall?", "when will the shed fig wake?")  # fmt: skip


def resident_mb() -> float:
    """Return the memory of this process that is held in store. [MB]"""
    lines = Path("/proc/self/status").read_text().splitlines()
    return next(int(line.split()[1]) for line in lines if line.startswith("VmRSS")) / 1024


class Growers:
    """Two gardens at a time, in the place of which others come."""

    def __init__(self, adviser: Adviser, folder: Path) -> None:
        self._folder, self._lock, self._turn = folder, Lock(), -1
        (folder / "files").mkdir()
        (folder / "demo").mkdir()
        self._demo = load_demo(adviser, folder / "demo")
        self._grown = folder / "grown.db"
        with adviser.open(self._grown, create=True) as garden:
            import_path(garden, synthetic_garden(folder / "files", PLANTS, 2), adviser.lore, NOW)
        self._now: list[Path] = []

    def messages(self) -> Iterator[tuple[str, str, datetime, Path]]:
        """Yield the id, the text, the moment and the garden of one message after another, without end."""
        asked = [text for question, text in QUESTIONS.items() if question not in IN_SUMMER]
        n = 0
        while True:
            if n % ANOTHER_GROWER_AFTER == 0:
                self._others()
            demo, grown = self._now
            if n % A_LOG_LINE_EACH == A_LOG_LINE_EACH - 1:
                line = n // A_LOG_LINE_EACH
                yield f"m{n}", f"fig {1 + line % PLANTS} {SEEN[line % len(SEEN)]}", NOW, grown
            elif n % 3 == 0:
                yield f"m{n}", DEMO[n // 3 % len(DEMO)], NOW, demo
            else:
                yield f"m{n}", asked[n % len(asked)], NOW, grown
            n += 1

    def _others(self) -> None:
        """Take copies of both gardens for other growers', and remove those of the last but one."""
        self._turn += 1
        for old in self._folder.glob(f"*-{self._turn - 2}.db*"):
            old.unlink()
        self._now = []
        for path in (self._demo, self._grown):
            self._now.append(self._folder / f"{path.stem}-{self._turn}.db")
            shutil.copyfile(path, self._now[-1])


def run(maker: str, questions: int, threads: int) -> dict[str, object]:
    """Send so many messages and return the memory [MB] at the start, in the middle and at the end."""
    adviser = Adviser.load(Settings(Path("unset.db"), find_rules(), engine=maker)).ready()
    look_for_garbage_seldom()  # as a server does
    with TemporaryDirectory() as folder, ThreadPoolExecutor(threads) as pool:
        messages = Growers(adviser, Path(folder)).messages()

        def send(one: tuple[str, str, datetime, Path]) -> str:
            key, text, now, path = one
            return str(adviser.message({"id": key, "text": text}, now, path)["outcome"])

        outcomes: dict[str, int] = {}
        begun, memory, spent = perf_counter(), [], 0
        for until in (WARMED_BY, 0.5 + WARMED_BY / 2, 1.0):
            while spent < int(questions * until):
                some = list(islice(messages, min(ANOTHER_GROWER_AFTER, int(questions * until) - spent)))
                for outcome in pool.map(send, some):
                    outcomes[outcome] = outcomes.get(outcome, 0) + 1
                spent += len(some)
            memory.append(resident_mb())
            print(f"{spent} messages: {memory[-1]:.1f} MB", file=sys.stderr, flush=True)
    return {"memory": memory, "s": perf_counter() - begun, "outcomes": outcomes}


def tell_memory(questions: int, makers: tuple[str, ...], threads: tuple[int, ...]) -> None:
    """Print the memory of a process of each maker's engines over so many questions, alone and with threads."""
    print(f"\nmemory over {questions} messages, one in {A_LOG_LINE_EACH} a log line, in a process each")
    rows = []
    for maker in makers:
        for count in threads:
            made = subprocess.run(
                [sys.executable, "-m", "costs.memory", maker, str(questions), str(count)], env=child_environment(),
                stdout=subprocess.PIPE, text=True, check=True,
            )  # fmt: skip
            told = json.loads(made.stdout.splitlines()[-1])
            start, middle, end = told["memory"]
            rows.append((maker, count, start, middle, end, f"{end - middle:+.1f}", told["s"], str(told["outcomes"])))
    table(("engine", "threads", "MB warm", "middle", "end", "second half", "s", "outcomes"), rows)


if __name__ == "__main__":
    options = argparse.ArgumentParser()
    options.add_argument("maker")
    options.add_argument("questions", type=int)
    options.add_argument("threads", type=int)
    chosen = options.parse_args()
    print(json.dumps(run(chosen.maker, chosen.questions, chosen.threads)))
