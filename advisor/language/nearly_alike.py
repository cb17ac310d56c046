"""Names that a hurried thumb or a voice mixes up."""

from __future__ import annotations

from collections.abc import Iterable

from rapidfuzz.distance import OSA

from advisor.language.names import tokens

SHORTEST = 4
"""Letters from which one slip hardly shows; "bed" and "red" are told apart (house judgement)."""


def nearly_alike(name: str, others: Iterable[str]) -> list[str]:
    """Return the names that are one slip of a letter, or a space, away from a name.

    Names that differ by a number are told apart by it.

    >>> nearly_alike("hall fig", ["wall fig", "Wall fig 2", "north bed", "hallfig"])
    ['wall fig', 'hallfig']
    >>> nearly_alike("tub 1", ["tub 2"]), nearly_alike("north bed", ["south bed"])
    ([], [])
    """
    own = tokens(name)
    return [other for other in others if other != name and _alike(own, tokens(other))]


def _alike(one: list[str], other: list[str]) -> bool:
    if "".join(one) == "".join(other) or sorted(one) == sorted(other):
        return True
    unlike = [(a, b) for a, b in zip(one, other, strict=False) if a != b]
    return len(one) == len(other) and len(unlike) == 1 and all(_one_slip(a, b) for a, b in unlike)


def _one_slip(one: str, other: str) -> bool:
    letters = not any(c.isdigit() for c in one + other)
    return letters and min(len(one), len(other)) >= SHORTEST and OSA.distance(one, other) == 1
