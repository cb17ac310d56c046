"""Times by the processor and by the clock on the wall, their middles, and tables of them."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from time import perf_counter, process_time
from typing import Any

import numpy as np

ENOUGH = 20
"""Rounds from which a 99th percentile is told; of fewer it would be the largest but in name."""

FEW, LONGER = 3, 4.0
"""Fewer rounds than these may take so many times their budget: of one alone nobody knows whether it was the usual."""


@dataclass(frozen=True)
class Sample:
    """One piece of work: milliseconds of the processor and on the wall, and the processor's by stage."""

    cpu_ms: float
    wall_ms: float
    stages: Mapping[str, float] = field(default_factory=dict)


def timed(work: Callable[[], Any]) -> Sample:
    """Return what some work took."""
    wall, cpu = perf_counter(), process_time()
    work()
    cpu_ms = (process_time() - cpu) * 1000
    return Sample(cpu_ms, (perf_counter() - wall) * 1000)


def rounds(most: int, budget_s: float) -> Iterator[int]:
    """Yield up to so many rounds while they fit into a time on the wall; few are had even where they take longer."""
    begun = perf_counter()
    for n in range(most):
        spent = perf_counter() - begun
        if n and spent > budget_s * (1 if n >= FEW else LONGER):
            return
        yield n


def repeated(work: Callable[[], Any], most: int, budget_s: float = math.inf) -> list[Sample]:
    """Return what some work took in each of some rounds."""
    return [timed(work) for _ in rounds(most, budget_s)]


def cpu_of(samples: Sequence[Sample]) -> float:
    """Return the median of the processor's milliseconds."""
    return float(np.median([one.cpu_ms for one in samples]))


def wall_of(samples: Sequence[Sample]) -> float:
    """Return the median of the milliseconds on the wall."""
    return float(np.median([one.wall_ms for one in samples]))


def late_of(samples: Sequence[Sample]) -> str:
    """Return the 99th percentile of the processor's milliseconds, "-" of too few rounds."""
    return f"{np.quantile([one.cpu_ms for one in samples], 0.99):.1f}" if len(samples) >= ENOUGH else "-"


def stages_of(samples: Sequence[Sample], names: Sequence[str]) -> list[float]:
    """Return the median of the processor's milliseconds in each stage."""
    return [float(np.median([one.stages.get(name, 0.0) for one in samples])) for name in names]


def table(header: Sequence[str], rows: Sequence[Sequence[object]]) -> None:
    """Print rows under a header: words to the left, numbers to the right with three figures that mean something."""
    texts = [[_text(cell) for cell in row] for row in rows]
    widths = [max(len(name), *(len(row[n]) for row in texts)) for n, name in enumerate(header)] if rows else []
    left = [all(isinstance(row[n], str) for row in rows) for n in range(len(widths))]
    for row in [header, *texts] if rows else []:
        cells = (cell.ljust(width) if one else cell.rjust(width)
                 for cell, width, one in zip(row, widths, left, strict=True))  # fmt: skip
        print("  " + "  ".join(cells).rstrip())


def _text(cell: object) -> str:
    if not isinstance(cell, float):
        return str(cell)
    return f"{cell:.0f}" if cell >= 100 else f"{cell:.1f}" if cell >= 10 else f"{cell:.2f}"
