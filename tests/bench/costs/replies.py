"""Whole replies over HTTP, each kind of question asked in six ways: by stage, and beside what is bare."""

from __future__ import annotations

import sqlite3
from collections.abc import Collection, Sequence
from contextlib import closing
from dataclasses import dataclass, field
from datetime import UTC, datetime, time, timedelta
from itertools import count
from pathlib import Path
from time import perf_counter, process_time

from flask.testing import FlaskClient

from advisor.doors.ahead import Ahead
from advisor.doors.http import create_app
from costs.gardens import QUESTIONS, Asked, Gardens, Size, day_of
from costs.timing import Sample, cpu_of, late_of, rounds, stages_of, table, timed, wall_of
from costs.watch import NAMES, Stopwatch

FIRST, NEXT_DAY, AHEAD = "first", "next day", "worked out ahead"
AFTER_A_LOG, AFTER_ONE_WOKE, AGAIN = "after a log", "after one woke", "again"
WAYS = (FIRST, NEXT_DAY, AHEAD, AFTER_A_LOG, AFTER_ONE_WOKE, AGAIN)
MARKED = ("why-late", "what-next", "frost-tonight")
MOST_TIMES = dict.fromkeys(WAYS, 20.0) | {AGAIN: 4.0}
"""How many times the bare endpoint a marked question may take at the median."""
MARKED_SIZE = Size(300, 10)
LARGE = 1000
OF_LARGE = (*MARKED, "what-to-measure", "pots-out", "when-wake")
"""Kinds that are asked in gardens of more plants than that, where all of them take a quarter of an hour."""
UNTOUCHED = float("inf")
"""A garden counts as quiet whenever it was written to."""
_number = count(1)


@dataclass
class Series:
    """What one kind of question took in one garden, by the way it was asked, and what is bare beside it."""

    question: str
    size: Size
    ways: dict[str, list[Sample]] = field(default_factory=dict)
    beside: dict[str, list[Sample]] = field(default_factory=dict)
    """The bare endpoint, asked after each question of a way: a machine is quicker now and slower then."""
    write: list[Sample] = field(default_factory=list)
    reply_letters: int = 0
    refused: str = ""

    @property
    def endpoint(self) -> list[Sample]:
        return [sample for samples in self.beside.values() for sample in samples]


def replies(
    gardens: Gardens, size: Size, most: int, budget_s: float, kinds: Collection[str] = tuple(QUESTIONS)
) -> list[Series]:
    """Return what each kind of question took in a garden, each in a copy of its own.

    A question is asked in each way up to ``most`` times, as long as they fit into the budget.
    """
    found = []
    for question in kinds:
        with gardens.copy(size) as asked:
            found.append(_series(asked, question, QUESTIONS[question], most, budget_s))
    return found


def _series(asked: Asked, question: str, text: str, most: int, budget_s: float) -> Series:
    day = day_of(question)
    now = datetime.combine(day, time(18), UTC)
    clock = [now]
    client = create_app(asked.adviser, lambda: clock[0]).test_client()
    series = Series(question, asked.size)
    ahead = Ahead(asked.adviser)
    asked.wake_some(day)
    sleepers = asked.sleepers(day)
    with Stopwatch().watching() as watch:
        for way in WAYS:
            samples, beside = series.ways.setdefault(way, []), series.beside.setdefault(way, [])
            for _ in rounds(most, budget_s):
                if way == FIRST:
                    asked.forget()
                elif way in (NEXT_DAY, AHEAD):
                    clock[0] = now - timedelta(days=1)
                    _ask(client, text, watch)
                    clock[0] = now
                    for _ in ahead.look(now, UNTOUCHED) if way == AHEAD else ():
                        pass
                elif way == AFTER_A_LOG:
                    asked.tell(day)
                elif way == AFTER_ONE_WOKE:
                    if not sleepers:
                        break
                    asked.tell(day, sleepers.pop())
                sample, status, told = _ask(client, text, watch)
                if status != 200:
                    series.ways, series.refused = {}, told[:90]
                    return series
                samples.append(sample)
                beside.append(timed(lambda: client.get("/health")))
                series.reply_letters = len(told)
            if not samples:
                del series.ways[way]
    bare = asked.path.with_name("bare.db")
    series.write = [_written(bare, series.reply_letters) for _ in rounds(most, budget_s)]
    return series


def _ask(client: FlaskClient, text: str, watch: Stopwatch) -> tuple[Sample, int, str]:
    body = {"text": text, "id": f"bench-{next(_number)}"}
    watch.begin()
    wall, cpu = perf_counter(), process_time()
    answer = client.post("/messages", json=body)
    cpu_ms = (process_time() - cpu) * 1000
    sample = Sample(cpu_ms, (perf_counter() - wall) * 1000, watch.read())
    return sample, answer.status_code, answer.get_data(as_text=True)


def _written(path: Path, size: int) -> Sample:
    """Return what it takes to open a file with bare sqlite3, write a row of so many letters, commit and close."""
    if not path.exists():
        with closing(sqlite3.connect(path)) as conn:
            conn.execute("PRAGMA journal_mode = WAL")
            conn.execute("CREATE TABLE message (id INTEGER PRIMARY KEY, reply TEXT)")

    def write() -> None:
        with closing(sqlite3.connect(path)) as conn, conn:
            conn.execute("INSERT INTO message (reply) VALUES (?)", ["x" * size])

    return timed(write)


# ---- told


def tell_stages(found: Sequence[Series]) -> None:
    """Print where the processor's time of each reply goes."""
    print(f"\n{found[0].size}: milliseconds of the processor by stage, medians")
    rows = []
    for one in found:
        if one.refused:
            print(f"  {one.question}: refused, {one.refused}")
        for way, samples in one.ways.items():
            stages = stages_of(samples, NAMES)
            share = f"{stages[NAMES.index('engine')] / max(cpu_of(samples), 1e-9):.0%}"
            whole = (cpu_of(samples), late_of(samples), wall_of(samples), len(samples))
            rows.append((one.question, way, *whole, *stages, share))
    table(("question", "way", "whole", "99th", "on the wall", "rounds", *NAMES, "engine's share"), rows)


def tell_ratios(found: Sequence[Series]) -> None:
    """Print each whole reply beside the bare endpoint, and beside that with the bare write of a row as long."""
    heard = [one for one in found if not one.refused]
    endpoint = [sample for one in heard for sample in one.endpoint]
    write = [sample for one in heard for sample in one.write]
    print(f"\n{found[0].size}: whole replies over HTTP, in times of what is bare in the same run")
    print(f"  the bare endpoint: {cpu_of(endpoint):.2f} ms of the processor, {wall_of(endpoint):.2f} ms on the wall;"
          f" a row written with bare sqlite3, committed and closed: {cpu_of(write):.2f} and {wall_of(write):.2f} ms")  # fmt: skip
    print("  cpu and wall: times the endpoint; with write: on the wall, times the endpoint and the bare write together")
    rows = []
    for one in heard:
        row: list[object] = [one.question, one.reply_letters]
        for way in WAYS:
            samples, beside = one.ways.get(way, []), one.beside.get(way, [])
            if not samples:
                row += ["-"] * 3
                continue
            row += [cpu_of(samples) / cpu_of(beside), wall_of(samples) / wall_of(beside),
                    wall_of(samples) / (wall_of(beside) + wall_of(one.write))]  # fmt: skip
        rows.append(row)
    parts = [f"{way}: {part}" for way in WAYS for part in ("cpu", "wall", "with write")]
    table(("question", "letters", *parts), rows)


def tell_marks(found: Sequence[Series]) -> None:
    """Print which of the marks hold in the garden that they are set for."""
    print(f"\nmarks for {found[0].size}, medians in times of the bare endpoint")
    rows = []
    for one in found:
        for way, samples in one.ways.items() if one.question in MARKED else ():
            most, beside = MOST_TIMES[way], one.beside[way]
            cpu, wall = cpu_of(samples) / cpu_of(beside), wall_of(samples) / wall_of(beside)
            both = wall_of(samples) / (wall_of(beside) + wall_of(one.write))
            rows.append(
                (one.question, way, most, cpu, _holds(cpu, most), wall, _holds(wall, most), both, _holds(both, most))
            )
    table(("question", "way", "mark", "cpu", "", "wall", "", "wall with write", ""), rows)


def _holds(found: float, most: float) -> str:
    return "holds" if found <= most else "does not hold"
