"""Growing degree hours against values worked by hand, and the shape that their source gives them."""

from __future__ import annotations

from math import nan

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.calc.heat import (
    air_hours,
    curvilinear_growing_degree_hours,
    growing_degree_hours,
    linear_growing_degree_hours,
)

temperatures = st.floats(-60, 55)


def fahrenheit(temp_f: float) -> float:
    return (temp_f - 32) / 1.8


def test_linear_counts_from_40_to_77_fahrenheit() -> None:
    """Nothing at 40 °F, and from 77 °F on the same 37 °F as 20.6 °C (limits of the source, from memory)."""
    assert linear_growing_degree_hours(fahrenheit(40)) == pytest.approx(0.044, abs=0.001)
    assert linear_growing_degree_hours(fahrenheit(77)) == linear_growing_degree_hours(40.0) == pytest.approx(20.6)
    assert linear_growing_degree_hours(-5.0) == 0.0


@pytest.mark.parametrize(
    ("temp_c", "wanted"),
    [
        (4.0, 0.0),  # base
        (14.5, 10.5),  # halfway up: half of 21, by the cosine's symmetry
        (25.0, 21.0),  # optimum
        (25 + 22 / 3, 21 * (1 - 3**0.5 / 2)),  # two thirds of the way down: 1 + cos(150°)
        (36.0, 0.0),  # critical temperature
    ],
)
def test_curvilinear_at_points_worked_by_hand(temp_c: float, wanted: float) -> None:
    """The points where the cosines have known values (equations of Anderson and others 1986, read in a copy)."""
    assert curvilinear_growing_degree_hours(temp_c) == pytest.approx(wanted, abs=1e-12)


@given(temperatures)
def test_curvilinear_is_between_nothing_and_the_optimum(temp_c: float) -> None:
    """No hour gives less than nothing or more than one at the optimum; outside base and critical it gives nothing."""
    found = curvilinear_growing_degree_hours(temp_c)
    assert 0 <= found <= 21
    if not 4 < temp_c < 36:
        assert found == pytest.approx(0, abs=1e-12)


@given(st.floats(4, 36), st.floats(0, 1e-4))
def test_curvilinear_has_no_jump(temp_c: float, step_k: float) -> None:
    """Neighbouring temperatures give neighbouring values; the slope is never above 21 pi / 22 a degree."""
    change = curvilinear_growing_degree_hours(temp_c + step_k) - curvilinear_growing_degree_hours(temp_c)
    assert abs(change) <= 3.01 * step_k + 1e-12


@given(st.lists(temperatures, min_size=1, max_size=30))
def test_arrays_and_scalars_agree(temps: list[float]) -> None:
    """An array of hours gives what each of them gives alone."""
    for model in (linear_growing_degree_hours, curvilinear_growing_degree_hours):
        assert np.asarray(model(temps)).tolist() == pytest.approx([model(each) for each in temps], abs=1e-12)


def test_vigour_scales() -> None:
    """A plant under stress gains in proportion."""
    assert curvilinear_growing_degree_hours(20.0, vigour=0.5) == curvilinear_growing_degree_hours(20.0) / 2


def test_missing_hours_stay_missing() -> None:
    """NaN comes out as NaN, whatever the model."""
    for model in (linear_growing_degree_hours, curvilinear_growing_degree_hours):
        assert np.isnan(np.asarray(model([10.0, nan]))).tolist() == [False, True]


def test_sum_carries_its_width_and_its_caution() -> None:
    """A day at 15 °C: the sum of its hours, and the width of half a degree, worked by hand."""
    figure = growing_degree_hours(np.full(24, 15.0))
    up = curvilinear_growing_degree_hours(15.5) - curvilinear_growing_degree_hours(15.0)
    assert figure.value == pytest.approx(24 * 11.2847, abs=0.003)
    assert figure.plus_minus == pytest.approx(24 * up, rel=0.01)
    assert (figure.unit, figure.method) == ("GDH", "ASYMCUR")
    assert "one model" in figure.caution and "estimated" not in figure.caution


def test_estimated_and_missing_hours_are_told() -> None:
    """Hours from daily extremes widen the sum by 15 %, and what is missing is counted."""
    hours = np.full(240, 15.0)
    hours[7] = nan
    known, estimated = growing_degree_hours(hours), growing_degree_hours(hours, from_daily_extremes=True)
    assert known.plus_minus is not None and estimated.plus_minus is not None
    assert estimated.plus_minus - known.plus_minus == pytest.approx(0.15 * known.value)
    assert estimated.caution.endswith("estimated from daily minima and maxima. 1 missing hour counted as nothing.")


def test_too_many_missing_hours_are_refused() -> None:
    """5 % may be missing, one hour more may not; no hours at all are no sum."""
    hours = np.full(100, 15.0)
    hours[:5] = nan
    assert growing_degree_hours(hours).value > 0
    hours[5] = nan
    with pytest.raises(ValueError, match="6 of 100 hours are missing; a sum needs all but 5% of them"):
        growing_degree_hours(hours)
    with pytest.raises(ValueError, match="no hours given"):
        growing_degree_hours([])


def test_what_no_air_has_is_refused() -> None:
    """Fahrenheit taken for Celsius, and infinity, are named."""
    with pytest.raises(
        ValueError, match=r"air temperature 68 °C is not between -90 and 60 °C; is it in another unit\?"
    ):
        air_hours([41, 68])
    with pytest.raises(ValueError, match="air temperature -inf"):
        linear_growing_degree_hours(float("-inf"))


def test_limits_out_of_order_are_refused() -> None:
    """Base, optimum, critical temperature and ceiling must rise, and vigour is a share."""
    with pytest.raises(ValueError, match=r"base 4.0 °C, optimum 40 °C and critical temperature 36.0 °C must rise"):
        curvilinear_growing_degree_hours(10.0, optimum_c=40)
    with pytest.raises(ValueError, match=r"vigour 1.2 is not between 0 and 1"):
        curvilinear_growing_degree_hours(10.0, vigour=1.2)
    with pytest.raises(ValueError, match=r"ceiling 4 °C must be above the base 4.4 °C"):
        linear_growing_degree_hours(10.0, ceiling_c=4)
