"""Where time and memory go: ``python tests/bench/bench.py [--all] [--kept FOLDER] [--memory 20000]``.

One run prints, side by side: each kind of question by stage, asked first (nothing remembered), first on another day, on
another day for which it was worked out ahead, after one more log line, after one that a fig woke, and again, in gardens
of several sizes; whole replies beside the bare endpoint and a bare write, with
the marks that are set for them; the engines; files in and rows out beside bare sqlite3, and a replay beside bare numpy;
how all of that grows with the garden; and start-up. ``--memory`` sends so many messages to each engine and prints what memory does.
Times are of the processor unless they say otherwise, since other programs slow a clock on the wall down. Gardens are
invented. Nothing here passes or fails: marks are printed as held or not held.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from time import perf_counter

sys.path.append(str(Path(__file__).resolve().parents[1] / "shared"))

from costs.engines import engines, tell_engines, tell_making
from costs.gardens import QUESTIONS, Gardens, Size
from costs.growth import tell_growth
from costs.memory import tell_memory
from costs.replies import LARGE, MARKED_SIZE, OF_LARGE, Series, replies, tell_marks, tell_ratios, tell_stages
from costs.rows import tell_imports, tell_reading
from costs.start_up import tell_start
from replay import costs as tell_replays

from advisor.reasoning.engine import makers_here

PARTS = ("start", "replies", "engines", "rows", "replays")
SIZES = "30x1 30x5 30x20 300x1 300x5 300x10 300x20 3000x1"
MORE_SIZES = "3000x5 3000x20"
ENGINE_SIZES = "30x10 300x10"


def sizes(text: str) -> list[Size]:
    return [Size.of(one) for one in text.split()]


def main(given: Sequence[str] | None = None) -> None:
    """Print all parts, or those that are asked for."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--sizes", type=sizes, default=sizes(SIZES), help=f'plants and years, as in "{SIZES}"')
    parser.add_argument(
        "--all",
        action="store_true",
        help=f"also {MORE_SIZES}, and every kind of question in large gardens, which takes long",
    )
    parser.add_argument("--questions", nargs="+", choices=tuple(QUESTIONS), default=tuple(QUESTIONS))
    parser.add_argument("--engine-sizes", type=sizes, default=sizes(ENGINE_SIZES))
    parser.add_argument("--rounds", type=int, default=30, help="the most rounds of one thing")
    parser.add_argument("--budget", type=float, default=0.4, help="seconds after which no further round is begun")
    parser.add_argument("--parts", nargs="+", choices=PARTS, default=PARTS)
    parser.add_argument("--kept", type=Path, help="a folder in which made gardens are kept and found again")
    parser.add_argument("--memory", type=int, default=0, help="so many messages to each engine")
    parser.add_argument("--threads", type=int, nargs="+", default=[1, 8])
    parser.add_argument("--replay-size", type=int, nargs=3, default=None, metavar=("YEARS", "SPOTS", "KINDS"))
    chosen = parser.parse_args(given)
    begun = perf_counter()
    limits = (chosen.rounds, chosen.budget)
    tell_machine("at the start")
    if "start" in chosen.parts:
        tell_start(max(1, min(5, chosen.rounds)))
    with Gardens.at(chosen.kept) as gardens:
        if "replies" in chosen.parts:
            found: list[Series] = []
            replies(gardens, min(chosen.sizes), 1, 0.0)  # what a process does once is not of the first garden
            for size in sorted({*chosen.sizes, *(sizes(MORE_SIZES) if chosen.all else ())}):
                kinds = OF_LARGE if size.plants > LARGE and not chosen.all else tuple(chosen.questions)
                one = replies(gardens, size, *limits, kinds)
                tell_stages(one)
                tell_ratios(one)
                if size == MARKED_SIZE:
                    tell_marks(one)
                found += one
            tell_growth(found)
        for size in chosen.engine_sizes if "engines" in chosen.parts else ():
            tell_engines(engines(gardens, size, *limits))
        if "engines" in chosen.parts:
            tell_making(gardens, *limits)
        if "rows" in chosen.parts:
            largest = max(chosen.engine_sizes)
            tell_imports(gardens, largest, *limits)
            tell_reading(gardens, largest, *limits)
    if "replays" in chosen.parts:
        print()
        tell_replays(*(chosen.replay_size or ()))
    if chosen.memory:
        tell_memory(chosen.memory, tuple(one for one in makers_here() if one != "plain"), tuple(chosen.threads))
    tell_machine(f"at the end, after {perf_counter() - begun:.0f} s")


def tell_machine(when: str) -> None:
    """Print how busy the machine is, without which no time on the wall means anything."""
    load = ", ".join(f"{one:.1f}" for one in os.getloadavg())
    print(f"\n{datetime.now(UTC):%Y-%m-%d %H:%M} UTC, {os.cpu_count()} processors, load {load} {when}")


if __name__ == "__main__":
    main()
