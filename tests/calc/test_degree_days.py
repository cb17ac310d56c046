"""Degree-days against a published example, numerical integration and the edges of the formula."""

from __future__ import annotations

from math import pi, sin

import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.calc.degree_days import (
    double_sine_degree_days,
    simple_average_degree_days,
    single_sine_degree_days,
    single_sine_many,
)

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


@given(temperatures, temperatures, st.floats(-5, 15), st.one_of(st.none(), st.floats(16, 40)))
def test_many_days_are_each_day(one: float, other: float, base_c: float, upper_c: float | None) -> None:
    """Arrays give what the scalar gives, to the last bits."""
    low, high = [min(one, other), -3.0], [max(one, other), 21.0]
    wanted = [single_sine_degree_days(a, b, base_c, upper_c) for a, b in zip(low, high, strict=True)]
    assert single_sine_many(low, high, base_c, upper_c).tolist() == pytest.approx(wanted, rel=1e-13, abs=1e-13)


@given(temperatures, temperatures, st.floats(-5, 15), st.one_of(st.none(), st.floats(16, 40)))
def test_double_sine_of_equal_minima_is_the_single_sine(
    one: float, other: float, base_c: float, upper_c: float | None
) -> None:
    """With tomorrow's minimum the same as today's, both halves are one day."""
    low, high = min(one, other), max(one, other)
    assert double_sine_degree_days(low, high, low, base_c, upper_c) == single_sine_degree_days(
        low, high, base_c, upper_c
    )


@pytest.mark.parametrize(("low", "high", "after"), [(2, 14, 6), (8, 35, 12), (-4, 6, 11), (5, 25, -3)])
def test_double_sine_equals_the_integral(low: float, high: float, after: float) -> None:
    """The sum is the area under two half waves, also where the night warms."""
    rising = integrated(low, high, 10, 30)
    falling = integrated(min(high, after), max(high, after), 10, 30)
    assert double_sine_degree_days(low, high, after, 10, 30) == pytest.approx((rising + falling) / 2, abs=2e-3)


@given(temperatures, temperatures, st.floats(-5, 15))
def test_simple_average_is_never_above_the_sine(one: float, other: float, base_c: float) -> None:
    """The mean alone loses what the warm hours of a cool day give, and agrees where the day never crosses the base."""
    low, high = min(one, other), max(one, other)
    found, sine = simple_average_degree_days(low, high, base_c), single_sine_degree_days(low, high, base_c)
    assert 0 <= found <= sine + 1e-9
    if low >= base_c or high <= base_c:
        assert found == sine


def test_a_base_within_a_hair_of_the_maximum_is_no_error() -> None:
    """A day whose sine would need an angle past 90° by rounding gives nothing, and no failure."""
    low, high, base_c = -28.872500107416673, 1.006322776603057e-15, 9.825772590150292e-16
    assert (base_c - (high + low) / 2) / ((high - low) / 2) > 1
    assert single_sine_degree_days(low, high, base_c) == pytest.approx(0, abs=1e-12)
    assert single_sine_many([low], [high], base_c).tolist() == pytest.approx([0], abs=1e-12)


@pytest.mark.parametrize(
    ("values", "told"),
    [
        ((float("nan"), 9, 5, None), "minimum nan °C is not a temperature; leave the day out or fill it first"),
        ((3, float("inf"), 5, None), "maximum inf °C is not a temperature"),
        ((3, 9, float("nan"), None), "base nan °C is not a temperature"),
        ((3, 9, 5, float("inf")), "upper limit inf °C is not a temperature"),
    ],
)
def test_what_is_no_number_is_refused(values: tuple[float, float, float, float | None], told: str) -> None:
    """A missing value is named, by the scalar and by the array."""
    low, high, base_c, upper_c = values
    with pytest.raises(ValueError, match=told):
        single_sine_degree_days(low, high, base_c, upper_c)
    with pytest.raises(ValueError, match=told):
        single_sine_many([low], [high], base_c, upper_c)


def test_the_wrong_day_of_many_is_named() -> None:
    """An array's first wrong day is told by its place, and unequal lengths are no days."""
    with pytest.raises(ValueError, match=r"day 2 of 3: day's maximum 1.0 °C is below its minimum 4.0 °C; were they sw"):
        single_sine_many([1, 4, 9], [3, 1, 2], 10)
    with pytest.raises(ValueError, match="2 minima and 1 maxima; give one of each a day"):
        single_sine_many([1, 4], [3], 10)
    with pytest.raises(ValueError, match="were they swapped"):
        simple_average_degree_days(9, 3, 5)
    with pytest.raises(ValueError, match="next minimum nan °C is not a temperature"):
        double_sine_degree_days(1, 5, float("nan"), 3)
