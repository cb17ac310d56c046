"""All engines over random gardens: ``python tests/fuzz/engine_gardens.py --gardens 1000 [--seed N] [--jobs 2]``.

Every question of the real rule base is asked of each garden. Prints how many facts and firings there were, which rules
never fired, and where engines differed, which should be nowhere; the first such is cut down and printed as a case.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

sys.path.append(str(Path(__file__).resolve().parents[1] / "shared"))
from engine_agreement import differences, engines
from engine_minimiser import shrink
from gardens_agree import Grown, as_program, grown, the_adviser
from in_pieces import Ended, in_pieces
from random_gardens import random_garden

PIECE = 10
EACH = 100
"""Gardens after which the run tells how far it is."""


def smallest(seed: int, question: str) -> str:
    """Return the facts of a question over which engines differ, with its rules, cut down to a case to keep."""
    with tempfile.TemporaryDirectory() as folder:
        facts = random_garden(the_adviser(), seed, Path(folder))[question]
    program, makers = as_program(the_adviser().engine_of(question)[1].base, facts), engines(spread=False)
    sorts = set(differences(program, makers, seed))
    small = shrink(program, lambda cut: bool(sorts & set(differences(cut, makers, seed))))
    return small.text(says=f"garden {seed}, {question}", differs=differences(small, makers, seed))


def main(arguments: Sequence[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--gardens", type=int, default=100)
    parser.add_argument("--seed", type=int, default=0, help="of the first garden; the others follow")
    parser.add_argument("--jobs", type=int, default=1)
    asked = parser.parse_args(arguments)
    whole, ended = Grown(), []
    print(f"engines: plain (judge), {', '.join(engines(spread=False))}")
    for piece in in_pieces(grown, asked.seed, asked.seed + asked.gardens, asked.jobs, PIECE):
        if isinstance(piece, Ended):
            ended.append(piece)
        else:
            whole.add(piece)
            if whole.gardens % EACH == 0:
                print(f"{whole.gardens} gardens, {len(whole.differ)} differ", file=sys.stderr)
    rules = set(the_adviser().base.rules)
    print(f"{whole.gardens} gardens, {whole.facts} facts, {whole.firings} firings")
    print(f"{len(whole.fired)} of {len(rules)} rules fired; never: {', '.join(sorted(rules - whole.fired)) or 'none'}")
    for (seed, question), text in sorted(whole.differ.items())[:20]:
        print(f"garden {seed}, {question} differs: {text}")
    for seed in ended:
        print(f"garden {seed} ended its process")
    if whole.differ:
        print(smallest(*min(whole.differ)))
    print(f"{len(whole.differ)} questions over which engines differ, {len(ended)} gardens that ended the process")
    return 1 if whole.differ or ended else 0


if __name__ == "__main__":
    sys.exit(main())
