"""Buds cut open, and what they tell of the tree."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binomtest

from advisor.calc.bud_count import CONFIDENCE, alive


@given(st.integers(1, 400).flatmap(lambda cut: st.tuples(st.just(cut), st.integers(0, cut))))
def test_the_bounds_are_the_exact_ones(counted: tuple[int, int]) -> None:
    """As scipy's binomial test gives them; the share counted lies within."""
    cut, dead = counted
    found, wanted = alive(cut, dead), binomtest(cut - dead, cut).proportion_ci(CONFIDENCE, "exact")
    assert (found.least, found.most) == (pytest.approx(wanted.low, abs=1e-9), pytest.approx(wanted.high, abs=1e-9))
    assert 0 <= found.least <= found.share <= found.most <= 1


@pytest.mark.parametrize(("cut", "dead"), [(0, 0), (20, 21), (20, -1)])
def test_a_count_that_cannot_be_is_refused(cut: int, dead: int) -> None:
    """No buds cut, more dead than cut, or fewer than none."""
    with pytest.raises(ValueError, match="at least one cut"):
        alive(cut, dead)
