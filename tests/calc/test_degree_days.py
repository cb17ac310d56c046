"""Degree-days against a published example, numerical integration and the edges of the formula."""

from __future__ import annotations

from math import pi, sin

import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.calc.degree_days import single_sine_degree_days

temperatures = st.floats(-30, 45, allow_nan=False)


def integrated(min_c: float, max_c: float, base_c: float, upper_c: float | None = None, steps: int = 20_000) -> float:
    """Integrate the day's sine wave by the midpoint rule."""
    mean, half = (max_c + min_c) / 2, (max_c - min_c) / 2
    total = 0.0
    for step in range(steps):
        temp_c = mean + half * sin(2 * pi * (step + 0.5) / steps)
        if upper_c is not None:
            temp_c = min(temp_c, upper_c)
        total += max(temp_c - base_c, 0.0)
    return total / steps


def test_worked_example_of_an_extension_page() -> None:
    """A published worked example (minimum 7, maximum 14, lower 12, upper 33) prints 0.47.

    Source: a degree-day page of the University of California's pest management programme, read in a stored copy.
    """
    assert single_sine_degree_days(7, 14, base_c=12, upper_c=33) == pytest.approx(0.47, abs=0.005)


@pytest.mark.parametrize(
    ("min_c", "max_c", "base_c", "upper_c"),
    [(2, 14, 10, None), (0, 20, 10, None), (-5, 12, 4.5, None), (12, 24, 10, None), (1, 8, 10, None),
     (5, 25, 10, 30), (8, 35, 10, 30), (15, 35, 10, 30), (32, 38, 10, 30), (10, 10, 5, None)],
)  # fmt: skip
def test_closed_form_equals_the_integral(min_c: float, max_c: float, base_c: float, upper_c: float | None) -> None:
    """The closed form is the area under the sine, also at a flat day and above the cut-off."""
    expected = integrated(min_c, max_c, base_c, upper_c)
    assert single_sine_degree_days(min_c, max_c, base_c, upper_c) == pytest.approx(expected, abs=2e-3)


@given(temperatures, temperatures, st.floats(-5, 15))
def test_never_negative_and_never_below_the_simple_average(one: float, other: float, base_c: float) -> None:
    """A day gives nothing or more, and at least what its mean alone would give."""
    low, high = min(one, other), max(one, other)
    found = single_sine_degree_days(low, high, base_c)
    assert found >= max(0.0, (low + high) / 2 - base_c) - 1e-9


@given(temperatures, temperatures, st.floats(-5, 15), st.floats(0, 5))
def test_a_warmer_day_gives_no_less(one: float, other: float, base_c: float, warmer_k: float) -> None:
    """Raising minimum and maximum alike never lowers the day's sum."""
    low, high = min(one, other), max(one, other)
    before = single_sine_degree_days(low, high, base_c)
    assert single_sine_degree_days(low + warmer_k, high + warmer_k, base_c) >= before - 1e-9


def test_swapped_temperatures_are_refused() -> None:
    """A maximum below the minimum is named, not turned round."""
    with pytest.raises(ValueError, match=r"maximum 3 °C is below its minimum 9 °C; were they swapped\?"):
        single_sine_degree_days(9, 3, base_c=5)


def test_an_upper_limit_at_the_base_is_refused() -> None:
    """An upper limit that is not above the base is named."""
    with pytest.raises(ValueError, match=r"upper limit 10 °C must be above the base 10 °C"):
        single_sine_degree_days(3, 9, base_c=10, upper_c=10)
