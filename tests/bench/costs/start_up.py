"""What it takes until a question could be asked: importing and loading, in a process of its own."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory

from costs.timing import table

TOP = Path(__file__).parents[3]
MOST_S = 1.0
CHILD = """
import json, sys
from time import perf_counter, process_time
begun, wall = process_time(), perf_counter()
from advisor.conversation import Adviser
imported, imported_wall = process_time(), perf_counter()
from pathlib import Path
from advisor.config import Settings, find_rules
Adviser.load(Settings(Path("unset.db"), find_rules()))
print(json.dumps({
    "python itself": [begun, 0.0],
    "importing": [imported - begun, imported_wall - wall],
    "loading rules and engines": [process_time() - imported, perf_counter() - imported_wall],
    "heavy": sorted({name.partition(".")[0] for name in sys.modules} & {"scipy", "pandas", "numpy", "flask"}),
}))
"""


def child_environment(**more: str) -> dict[str, str]:
    """Return the environment of a child process that imports what this one does."""
    paths = [TOP, TOP / "tests" / "bench", TOP / "tests" / "shared"]
    own = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    return {**own, "PYTHONPATH": os.pathsep.join(map(str, paths)), **more}


def tell_start(most: int) -> None:
    """Print the processor's time and that on the wall from nothing to an adviser that can be asked.

    Bytecode is there, as it is where the program is installed: a first round that writes it is not counted.
    """
    found = []
    with TemporaryDirectory() as folder:
        for _ in range(most + 1):
            made = subprocess.run(
                [sys.executable, "-c", CHILD], env=child_environment(PYTHONPYCACHEPREFIX=folder),
                capture_output=True, text=True, check=True, cwd=TOP,
            )  # fmt: skip
            found.append(json.loads(made.stdout))
    found = found[1:]
    steps = [name for name in found[0] if name != "heavy"]
    rows = [(name, *(median(one[name][n] for one in found) for n in (0, 1))) for name in steps]
    ours = [sum(row[n] for row in rows[1:]) for n in (1, 2)]
    print(f"\nstart-up in a process of its own, {most} rounds, medians; imported: {', '.join(found[0]['heavy'])}")
    table(("", "cpu s", "wall s"), [*rows, ("importing and loading", *ours)])
    held = ["holds" if one < MOST_S else "does not hold" for one in ours]
    print(f"  mark {MOST_S:g} s: by the processor it {held[0]}, on the wall it {held[1]}")
