"""A figure says its unit, method and width, and refuses comparison with another kind of figure."""

from __future__ import annotations

import pytest

from advisor.calc.figure import Figure


def test_figures_within_their_widths_are_not_told_apart() -> None:
    """Two values differ only where the gap is wider than both uncertainties together."""
    one, near, far = (Figure(v, "chill portions", "Dynamic Model", 4.0) for v in (60.0, 68.0, 68.1))
    assert not one.differs_from(near)
    assert one.differs_from(far)


def test_other_methods_are_not_compared() -> None:
    """Chilling hours and chill portions have no common scale."""
    with pytest.raises(ValueError, match="cannot be compared"):
        Figure(60, "chill portions", "Dynamic Model").differs_from(Figure(800, "h", "chilling hours"))
