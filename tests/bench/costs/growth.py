"""How the cost of a question grows with a garden: exponents through all sizes, 1 is linear and 0 is flat."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from costs.gardens import QUESTIONS
from costs.replies import FIRST, NEXT_DAY, WAYS, Series
from costs.timing import cpu_of, table

MOST_IN_PLANTS = 1.1
"""About linear: what is fitted through a few sizes is no better known than that."""
MOST_IN_YEARS = 0.15
"""About flat. Nothing is asked of the first time in years, when all records are read, nor of the first of a day."""


def exponent(sizes: Sequence[float], times: Sequence[float]) -> float:
    """Return the slope of times over sizes, both as logarithms.

    >>> round(exponent([10, 100, 1000], [3, 300, 30000]), 6)
    2.0
    """
    return float(np.polyfit(np.log(sizes), np.log(times), 1)[0])


def tell_growth(found: Sequence[Series]) -> None:
    """Print the exponents by question and way, and which of them are above the marks."""
    print(
        "\nexponents of growth of the processor's time: in plants and in years, each through the gardens alike otherwise"
    )
    rows, above = [], []
    for question in QUESTIONS:
        row: list[object] = [question]
        for way in WAYS:
            costs = {one.size: cpu_of(one.ways[way]) for one in found if one.question == question and way in one.ways}
            for what, other, most in (("plants", "years", MOST_IN_PLANTS), ("years", "plants", MOST_IN_YEARS)):
                slope = _slope(costs, what, other)
                row.append("-" if slope is None else f"{slope:.2f}")
                if slope is not None and slope > most and (what == "plants" or way not in (FIRST, NEXT_DAY)):
                    above.append(f"{question}, {way}: {slope:.2f} in {what}")
        rows.append(row)
    table(("question", *(f"{way}: {what}" for way in WAYS for what in ("plants", "years"))), rows)
    print(f"  marks: {MOST_IN_PLANTS} in plants; {MOST_IN_YEARS} in years but for {FIRST} and {NEXT_DAY}")
    for line in above or ["nothing"]:
        print(f"  above its mark: {line}")


def _slope(costs: dict[object, float], what: str, other: str) -> float | None:
    """Return the exponent through the largest group of gardens that differ in one measure alone, of equals the larger."""
    groups: dict[int, dict[int, float]] = {}
    for size, cost in costs.items():
        groups.setdefault(getattr(size, other), {})[getattr(size, what)] = max(cost, 0.01)
    if not groups:
        return None
    _, group = max(groups.items(), key=lambda one: (len(one[1]), one[0]))
    return exponent(list(group), list(group.values())) if len(group) > 1 else None
