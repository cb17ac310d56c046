"""How questions about a whole garden grow with it: ``python tests/bench/growth.py [--plants 30 300] [--years 1 5 20]``.

Prints for each size what a question costs: asked first, after one more stage was told, and asked again; the stages of
the first; its ratio to the API's bare endpoint in the same run; and the exponents of growth fitted through all sizes (1
is linear, 0 is flat). What the engine refuses for its number of facts is told as refused. Times are of the processor,
in milliseconds, since other programs slow a clock on the wall down; the rows of a file are read before, as a service
has them. Gardens are invented. Nothing here passes or fails.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from functools import partial
from itertools import count
from pathlib import Path
from statistics import median
from time import process_time
from typing import Any

import numpy as np

from advisor import conversation
from advisor.config import Settings, find_rules
from advisor.conversation import Adviser
from advisor.doors.http import create_app
from advisor.errors import EngineFailed
from advisor.language.understand import understand
from advisor.reasoning.derive.memory import Memories
from advisor.records.importing import import_path
from advisor.records.store import NewRow, Said

sys.path.append(str(Path(__file__).parents[1] / "shared"))
from grown_garden import TODAY, synthetic_garden

NOW = datetime(2026, 4, 24, 18, tzinfo=UTC)
SUMMER = date(2025, 6, 15)
QUESTIONS = (
    ("why is fig 7 so late?", TODAY),
    ("what should I do next?", TODAY),
    ("will it freeze tonight?", TODAY),
    ("what should I measure next?", TODAY),
    ("can the pots go out yet?", TODAY),
    ("what should I pinch?", SUMMER),
)
_turn = count(1)


@dataclass
class Cost:
    """Milliseconds of one question in one garden."""

    text: str
    plants: int
    years: int
    first: float
    after_a_log: float
    again: float
    stages: dict[str, float]
    endpoint: float


def timed(work: Callable[[], Any]) -> float:
    """Return the processor's time of some work. [ms]"""
    start = process_time()
    work()
    return (process_time() - start) * 1000


def costs(adviser: Adviser, path: Path, plants: int, years: int, rounds: int) -> Iterator[Cost]:
    """Yield what each question costs in a garden; medians of some rounds."""
    own = replace(adviser, settings=replace(adviser.settings, garden=path))
    client = create_app(own, lambda: NOW).test_client()
    client.get("/health")
    health = median(timed(lambda: client.get("/health")) for _ in range(20))
    for text, day in QUESTIONS:
        found: dict[str, list[float]] = {"first": [], "log": [], "again": []}
        shares: dict[str, list[float]] = {}
        try:
            ask(own, path, text, day)
        except EngineFailed as error:  # the engine takes so many facts and no more
            print(f"{plants:5} plants {years:3} years  {text:28} refused: {error.found}")
            continue
        for _ in range(rounds):
            own = replace(own, _memories=Memories())
            clock: dict[str, float] = {}
            found["first"].append(timed(partial(ask, own, path, text, day, clock)))
            for stage, seconds in clock.items():
                shares.setdefault(stage, []).append(seconds * 1000)
            tell(own, path, day)
            found["log"].append(timed(partial(ask, own, path, text, day)))
            found["again"].append(timed(partial(ask, own, path, text, day)))
        middle = {name: median(times) for name, times in found.items()}
        stages = {stage: median(times) for stage, times in shares.items()}
        yield Cost(text, plants, years, middle["first"], middle["log"], middle["again"], stages, health)


def ask(adviser: Adviser, path: Path, text: str, today: date, clock: dict[str, float] | None = None) -> dict[str, Any]:
    """Return the reply to a question. ``clock`` takes the processor seconds of each stage."""
    clock = {} if clock is None else clock
    start = process_time()
    with adviser.open(path) as garden:
        words = adviser.words(garden, today)
        read = process_time()
        meant = understand(text, words)
        clock |= {"open and names": read - start, "understand": process_time() - read}
        return adviser.told(garden, meant, today, clock)[1]


def tell(adviser: Adviser, path: Path, day: date) -> None:
    """Record one more look at a fig."""
    turn = next(_turn)
    row = NewRow("stage", {"plant": f"fig {1 + turn % 20}", "on": day - timedelta(days=1), "bbch": 11})
    with adviser.open(path) as garden:
        garden.add([(Said("message", f"bench {turn}", NOW), [row])])


def exponent(sizes: Sequence[float], times: Sequence[float]) -> float:
    """Return the slope of times over sizes, both as logarithms."""
    return float(np.polyfit(np.log(sizes), np.log(times), 1)[0])


def report(found: Sequence[Cost]) -> None:
    """Print each size's costs, then the exponents by question."""
    for one in found:
        parts = ", ".join(f"{stage} {taken:.1f}" for stage, taken in one.stages.items())
        print(
            f"{one.plants:5} plants {one.years:3} years  {one.text:28} first {one.first:8.1f}"
            f"  after a log {one.after_a_log:8.1f}  again {one.again:7.1f} ms;"
            f" {one.first / one.endpoint:.0f}, {one.after_a_log / one.endpoint:.0f}, {one.again / one.endpoint:.0f}"
            f" times the bare endpoint; first: {parts}"
        )
    print("\nexponents of growth: in plants for the most years, in years for the most plants below a thousand")
    for text, _ in QUESTIONS:
        told = []
        for name in ("first", "after_a_log", "again"):
            most_years = max(one.years for one in found)
            by_plants = [one for one in found if one.text == text and one.years == most_years]
            few = max((one.plants for one in found if one.plants < 1000), default=0)
            by_years = [one for one in found if one.text == text and one.plants == few]
            for label, of, sizes in (
                ("plants", by_plants, [one.plants for one in by_plants]),
                ("years", by_years, [one.years for one in by_years]),
            ):
                if len(set(sizes)) > 1:
                    slope = exponent(sizes, [max(getattr(one, name), 0.01) for one in of])
                    told.append(f"{name.replace('_', ' ')} {slope:.2f} in {label}")
        print(f"  {text:28} {', '.join(told)}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--plants", type=int, nargs="+", default=[30, 300])
    parser.add_argument("--years", type=int, nargs="+", default=[1, 5, 20])
    parser.add_argument("--rounds", type=int, default=3)
    chosen = parser.parse_args()
    conversation.perf_counter = process_time  # the stages are timed by the processor too
    adviser = Adviser.load(Settings(Path("unset.db"), find_rules()))
    found: list[Cost] = []
    for plants in chosen.plants:
        for years in chosen.years:
            with tempfile.TemporaryDirectory() as folder:
                files, path = Path(folder) / "files", Path(folder) / "garden.db"
                files.mkdir()
                synthetic_garden(files, plants, years)
                with adviser.open(path, create=True) as garden:
                    import_path(garden, files, adviser.lore, NOW)
                    for kind in ("stage", "work", "growth", "soil_reading", "weather_day"):
                        garden.of(kind)
                found += costs(adviser, path, plants, years, chosen.rounds)
    report(found)


if __name__ == "__main__":
    main()
