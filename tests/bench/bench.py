"""Where the time of a reply goes: ``python tests/bench/bench.py [--times 20] [--rounds 30]``.

Prints, for the demo garden and for one so many times as large, milliseconds by stage and for the whole reply, and
ratios measured in the same run: the whole reply to the API's bare endpoint, the fast engine to the plain evaluator,
the import to bare sqlite3 for the same rows. Each question here is asked with nothing remembered of earlier ones; what is
kept between questions, and how a garden's size and years tell, is in ``growth.py``. Nothing here passes or fails;
figures are medians.
"""

from __future__ import annotations

import argparse
import csv
import sqlite3
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from statistics import median
from time import perf_counter

from advisor.config import Settings, find_rules
from advisor.conversation import Adviser
from advisor.doors.demo import demo_folder
from advisor.doors.http import create_app
from advisor.language.reply import answer_reply
from advisor.language.understand import understand
from advisor.reasoning.derive import Scene
from advisor.reasoning.derive.memory import Memories
from advisor.reasoning.engine import ReferenceEngine, make_engine
from advisor.reasoning.reach import reach
from advisor.records.importing import import_path

NOW = datetime(2026, 4, 24, 10, tzinfo=UTC)
QUESTIONS = (
    "why is the {}shed fig so slow to wake?",
    "where do I put a new apricot?",
    "will it freeze tonight?",
    "what should I do next?",
)
NAMED = ("name", "spot", "plant", "to_spot", "grafted_on")
Rows = list[tuple[str, float, float]]


def enlarged(folder: Path, times: int) -> Path:
    """Write the demo's files with every spot and plant so many times over, each copy with a number before its name."""
    for path in demo_folder().glob("*.csv"):
        with path.open(newline="", encoding="utf-8") as file:
            rows = list(csv.DictReader(file))
        copies = 1 if path.stem in ("place", "weather_day") else times
        with (folder / path.name).open("w", newline="", encoding="utf-8") as file:
            writer = csv.DictWriter(file, rows[0])
            writer.writeheader()
            for copy in range(copies):
                for row in rows:
                    writer.writerow(row if copies == 1 else dict(_numbered(row, copy)))
    return folder


def _numbered(row: dict[str, str], copy: int) -> Iterator[tuple[str, str]]:
    for name, value in row.items():
        yield name, f"no {copy + 1} {value}" if name in NAMED and value else value


def timed(rounds: int, work: Callable[[], object]) -> float:
    """Return the median time of some work. [ms]"""
    times = []
    for _ in range(rounds):
        start = perf_counter()
        work()
        times.append((perf_counter() - start) * 1000)
    return median(times)


def stages(adviser: Adviser, path: Path, text: str, rounds: int) -> dict[str, float]:
    """Return the median time of each stage of one question. [ms]"""
    taken: dict[str, list[float]] = {}
    for _ in range(rounds):
        clock: dict[str, float] = {}
        with adviser.open(path) as garden:
            today = NOW.astimezone(garden.zone()).date()
            start = perf_counter()
            words, speech = adviser.words(garden, today), adviser.speech(garden, today)
            read = perf_counter()
            meant = understand(text, words)
            clock |= {"read names": read - start, "understand": perf_counter() - read}
            answer = replace(adviser, _memories=Memories()).answer(garden, meant, today, clock)
            start = perf_counter()
            answer_reply(answer, speech)
            clock["reply"] = perf_counter() - start
        for stage, seconds in clock.items():
            taken.setdefault(stage, []).append(seconds * 1000)
    return {stage: median(times) for stage, times in taken.items()}


def engines(adviser: Adviser, path: Path, text: str, rounds: int) -> tuple[float, float, int, int]:
    """Return the time of the fast engine and of the plain evaluator on one question, its facts and its rules."""
    with adviser.open(path) as garden:
        today = NOW.astimezone(garden.zone()).date()
        meant = understand(text, adviser.words(garden, today))
        found = reach(adviser.base, adviser.questions[meant.question].answered_by)
        base = adviser.base.only(set(found.rules))
        scene = Scene(garden, adviser.lore, today, meant.question, meant.plant, meant.species)
        facts = list(adviser.facts(scene, meant))
    fast, plain = make_engine(base), ReferenceEngine(base)
    return timed(rounds, lambda: fast.run(facts)), timed(rounds, lambda: plain.run(facts)), len(facts), len(base.rules)


def importing(adviser: Adviser, files: Path, folder: Path) -> tuple[float, float, int]:
    """Return the time of an import, and of bare sqlite3 for as many rows of the same files, and the rows. [ms]"""
    start = perf_counter()
    with adviser.open(folder / "import.db", create=True) as garden:
        rows = sum(import_path(garden, files, adviser.lore, NOW).added.values())
    ours = (perf_counter() - start) * 1000
    start = perf_counter()
    bare = sqlite3.connect(folder / "bare.db")
    for path in sorted(files.glob("*.csv")):
        with path.open(newline="", encoding="utf-8") as file:
            header, *cells = list(csv.reader(file))
        columns = ", ".join(f'"{name}"' for name in header)
        bare.execute(f"CREATE TABLE {path.stem} ({columns})")
        bare.executemany(f"INSERT INTO {path.stem} VALUES ({', '.join('?' * len(header))})", cells)
    bare.commit()
    bare.close()
    return ours, (perf_counter() - start) * 1000, rows


def report(adviser: Adviser, title: str, files: Path, folder: Path, prefix: str, rounds: int) -> None:
    ours, bare, rows = importing(adviser, files, folder)
    path = folder / "import.db"
    own = replace(adviser, settings=replace(adviser.settings, garden=path))
    client = create_app(own, lambda: NOW).test_client()
    health = timed(rounds, lambda: client.get("/health"))
    print(f"\n{title}: {rows} rows imported in {ours:.0f} ms, {ours / bare:.1f} times bare sqlite3 from the same files")
    for question in QUESTIONS:
        text = question.format(prefix)
        whole = timed(rounds, lambda text=text: client.post("/messages", json={"text": text}))
        print(f"  {text}")
        shares = stages(adviser, path, text, rounds)
        print("    " + ", ".join(f"{stage} {taken:.2f}" for stage, taken in shares.items()) + " ms")
        print(f"    the engine's share of that: {shares['engine'] / sum(shares.values()):.0%}")
        print(f"    over the API {whole:.1f} ms, {whole / health:.1f} times the bare endpoint ({health:.2f} ms)")
        fast, plain, facts, rules = engines(adviser, path, text, rounds)
        print(
            f"    engine {fast:.2f} ms for {facts} facts and {rules} rules, {fast / plain:.2f} of the plain evaluator"
        )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--times", type=int, default=20, help="how many times larger the second garden is")
    parser.add_argument("--rounds", type=int, default=30)
    chosen = parser.parse_args()
    start = perf_counter()
    adviser = Adviser.load(Settings(Path("unset.db"), find_rules()))
    print(f"rule base read and engines made in {(perf_counter() - start) * 1000:.0f} ms")
    with (
        tempfile.TemporaryDirectory() as one,
        tempfile.TemporaryDirectory() as many,
        tempfile.TemporaryDirectory() as at,
    ):
        report(adviser, "demo garden", demo_folder(), Path(one), "", chosen.rounds)
        title = f"{chosen.times} times as large"
        report(adviser, title, enlarged(Path(at), chosen.times), Path(many), "no 7 ", chosen.rounds)


if __name__ == "__main__":
    main()
