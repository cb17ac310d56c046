"""A computed value that carries what a reader needs to judge it: unit, method, and how far to trust it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Figure:
    """One result of a calculation.

    ``unit`` is written as a reply would ("°C", "chill portions", "h"). ``method`` is the name the trade or the
    literature gives it. ``plus_minus`` is the half-width, in the same unit, within which two such values should not be
    told apart; None where nobody knows it. ``caution`` is one plain sentence on what limits it, "" for none.

    >>> Figure(61.2, "chill portions", "Dynamic Model", plus_minus=4.0).told(digits=0)
    '61 ± 4 chill portions (Dynamic Model)'
    """

    value: float
    unit: str
    method: str
    plus_minus: float | None = None
    caution: str = ""

    def told(self, digits: int = 1) -> str:
        """Return value, uncertainty, unit and method in one line, rounded to so many decimals."""
        width = "" if self.plus_minus is None else f" ± {self.plus_minus:.{digits}f}"
        return f"{self.value:.{digits}f}{width} {self.unit} ({self.method})"

    def differs_from(self, other: Figure) -> bool:
        """Return whether two figures of one unit and method lie further apart than both uncertainties together.

        Raises ValueError for figures of different units or methods, which cannot be compared at all.
        """
        if (self.unit, self.method) != (other.unit, other.method):
            raise ValueError(f"{self.method} in {self.unit} cannot be compared with {other.method} in {other.unit}")
        return abs(self.value - other.value) > (self.plus_minus or 0.0) + (other.plus_minus or 0.0)
