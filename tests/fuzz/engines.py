"""All engines over many random programs: ``python tests/fuzz/engines.py --programs 20000 [--seed N] [--jobs 2]``.

Prints what the programs held, how often, and how often engines differed, which should be never. Each difference is cut
down and written as a case, which ``tests/reasoning/test_engine_agrees.py`` then runs with every maker. A program that
ends its process is named and ends nothing else.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from time import process_time

sys.path.append(str(Path(__file__).resolve().parents[1] / "shared"))
from engine_agreement import differences, engines
from engine_coverage import ALL, held
from engine_minimiser import shrink
from engine_programs import Program
from in_pieces import Ended, in_pieces
from random_rules import random_program

from advisor.errors import TooManyFacts
from advisor.reasoning.engine import ReferenceEngine

CASES = Path(__file__).resolve().parents[1] / "reasoning" / "engine_cases"
EACH = 2000
"""Programs after which the run tells how far it is."""
MOST_KEPT = 3
"""Cases cut down in one piece of a run: where an engine is wrong it is mostly wrong in one way."""


@dataclass
class Tried:
    """What came of a piece: programs, what they held, the seeds that differ, and cases by their file's name."""

    programs: int = 0
    firings: int = 0
    held: Counter[str] = field(default_factory=Counter)
    differ: dict[int, str] = field(default_factory=dict)
    cases: dict[str, str] = field(default_factory=dict)
    slowest: tuple[float, int] = (0.0, 0)

    def add(self, other: Tried) -> None:
        self.programs += other.programs
        self.firings += other.firings
        self.held += other.held
        self.differ |= other.differ
        self.cases |= other.cases
        self.slowest = max(self.slowest, other.slowest)


def tried(first: int, last: int) -> Tried:
    """Run the programs of these seeds on every engine."""
    found, makers = Tried(), engines()
    for seed in range(first, last):
        start = process_time()
        program = random_program(seed)
        found.programs += 1
        try:
            proof = ReferenceEngine(program.base()).run(program.given())
        except TooManyFacts:
            found.held["stopped, as too much for one run"] += 1
        else:
            found.firings += len(proof.firings)
            found.held.update(held(program, proof))
        if apart := differences(program, makers, seed):
            found.differ[seed] = "; ".join(f"{sort}: {text[:160]}" for sort, text in apart.items())
            if len(found.cases) < MOST_KEPT:
                found.cases[f"program_{seed}.json"] = case(program, seed)
        found.slowest = max(found.slowest, (process_time() - start, seed))
    return found


def case(program: Program, seed: int) -> str:
    """Return a program over which engines differ, cut down, with what the plain evaluator fires."""
    makers = engines()
    sorts = set(differences(program, makers, seed))
    small = shrink(program, lambda cut: bool(sorts & set(differences(cut, makers, seed))))
    apart = differences(small, makers, seed)
    says = f"Say what this is; engines differ in {'; '.join(f'{sort} ({text[:200]})' for sort, text in apart.items())}"
    fires = [firing.rule for firing in ReferenceEngine(small.base()).run(small.given()).firings]
    return small.text(says=says, fires=fires) + "\n"


def main(arguments: Sequence[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--programs", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=0, help="of the first program; the others follow")
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--keep", type=Path, default=CASES, help="folder for the cases that are found")
    asked = parser.parse_args(arguments)
    whole, ended = Tried(), []
    print(f"engines: plain (judge), {', '.join(engines())}")
    for piece in in_pieces(tried, asked.seed, asked.seed + asked.programs, asked.jobs):
        if isinstance(piece, Ended):
            ended.append(int(piece))
        else:
            whole.add(piece)
            if whole.programs % EACH == 0:
                print(f"{whole.programs} programs, {len(whole.differ)} differ", file=sys.stderr)
    for name, text in whole.cases.items():
        (asked.keep / name).write_text(text, encoding="utf-8")
    tell(whole, ended)
    return 1 if whole.differ or ended else 0


def tell(whole: Tried, ended: Sequence[int]) -> None:
    print(
        f"{whole.programs} programs, {whole.firings} firings; slowest: seed {whole.slowest[1]}, {whole.slowest[0]:.1f} s"
    )
    for name, count in whole.held.most_common():
        print(f"  {100 * count / max(1, whole.programs):5.1f} %  {name}")
    if missing := sorted(ALL - set(whole.held)):
        print(f"never: {', '.join(missing)}")
    for seed, text in sorted(whole.differ.items())[:20]:
        print(f"program {seed} differs: {text}")
    for seed in ended:
        print(f"program {seed} ended its process")
    for name, text in whole.cases.items():
        print(f"--- {name}\n{text}")
    print(f"{len(whole.differ)} programs over which engines differ, {len(ended)} that ended the process")


if __name__ == "__main__":
    sys.exit(main())
