"""Chill by four models: identities, the models' known behaviour, and what is refused."""

from __future__ import annotations

from datetime import date, timedelta
from math import exp, nan

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.calc.chill import (
    DynamicState,
    chill_of_days,
    chill_of_hours,
    chilling_hours,
    daily_chill_and_heat,
    dynamic_portions,
    positive_utah_units,
    utah_units,
)
from advisor.calc.day_curve import Day, hourly_curve
from advisor.calc.heat import curvilinear_growing_degree_hours

hours_lists = st.lists(st.one_of(st.floats(-15, 30), st.just(nan)), min_size=1, max_size=200)


def winter(count: int, first: date = date(2024, 11, 1)) -> list[Day]:
    """Return days of an invented winter, seeded."""
    random = np.random.default_rng(7)
    low, span = random.normal(2, 4, count), random.uniform(2, 12, count)
    return [(first + timedelta(days=n), float(low[n]), float(low[n] + span[n])) for n in range(count)]


def test_fahrenheit_limits_fall_on_their_side() -> None:
    """32 °F counts as a chilling hour and 64.4 °F is 18 °C, though their conversion is off by a rounding."""
    assert chilling_hours([(32 - 32) / 1.8, (44.96 - 32) / 1.8]).tolist() == [1.0, 1.0]
    assert (64.4 - 32) / 1.8 > 18
    assert utah_units([(64.4 - 32) / 1.8]).tolist() == [-0.5]


@given(st.floats(-30, 40))
def test_utah_is_the_ladder_of_its_source(temp_c: float) -> None:
    """Each class takes in its upper limit (Richardson and others 1974, limits read in two public copies)."""
    ladder = [(1.4, 0.0), (2.4, 0.5), (9.1, 1.0), (12.4, 0.5), (15.9, 0.0), (18.0, -0.5)]
    wanted = next((units for upper, units in ladder if temp_c <= upper + 5e-7), -1.0)
    assert utah_units([temp_c]).tolist() == [wanted]
    assert positive_utah_units([temp_c]).tolist() == [max(wanted, 0.0)]


def test_missing_hours_stay_missing_in_the_simple_models() -> None:
    """NaN comes out as NaN."""
    for model in (chilling_hours, utah_units, positive_utah_units):
        assert np.isnan(model([5.0, nan])).tolist() == [False, True]


def plainly(hours_c: list[float]) -> tuple[list[float], float]:
    """Return the portions an hour and the product by the recurrence as a sheet has it, with the share as sr/(1 + sr)."""
    portions, before, share_before = [], 0.0, 0.0
    for temp_c in hours_c:
        if temp_c != temp_c:
            portions.append(0.0)
            continue
        kelvin = temp_c + 273
        level = 139500 / 2.567e18 * exp((12888.8 - 4153.5) / kelvin)
        rate = 2.567e18 * exp(-12888.8 / kelvin)
        ratio = exp(1.6 * 277 * (kelvin - 277) / kelvin)
        start = before if before < 1 else before * (1 - share_before)
        before, share_before = level - (level - start) * exp(-rate), ratio / (1 + ratio)
        portions.append(before * share_before if before >= 1 else 0.0)
    return portions, before if before < 1 else before * (1 - share_before)


@given(hours_lists)
def test_dynamic_is_the_recurrence_written_out(hours: list[float]) -> None:
    """The arrays give what the recurrence gives step by step, missing hours passed over."""
    portions, state = dynamic_portions(hours)
    wanted, product = plainly(hours)
    assert portions.tolist() == pytest.approx(wanted, abs=1e-9)
    assert state.intermediate == pytest.approx(product, abs=1e-9)
    assert state.portions == pytest.approx(sum(wanted), abs=1e-9)
    assert (state.hours, state.missing_hours) == (len(hours), sum(each != each for each in hours))


@given(hours_lists, st.integers(0, 200))
def test_dynamic_in_pieces_is_the_whole(hours: list[float], cut: int) -> None:
    """A run cut anywhere and gone on with gives the hours, portions and state of one run."""
    whole, end = dynamic_portions(hours)
    first, middle = dynamic_portions(hours[:cut])
    second, joined = dynamic_portions(hours[cut:], middle)
    assert [*first, *second] == pytest.approx(whole.tolist(), abs=1e-9)
    assert joined.portions == pytest.approx(end.portions, abs=1e-9)
    assert joined.intermediate == pytest.approx(end.intermediate, abs=1e-9)
    assert (joined.hours, joined.missing_hours) == (end.hours, end.missing_hours)


def test_dynamic_has_its_optimum_near_eight_degrees() -> None:
    """Constant 7.5 °C gives most, 13 °C nothing, frost nearly nothing: the source's bell, in the sheet's numbers."""
    by_temp = {temp_c: dynamic_portions([temp_c] * 2400)[1].portions for temp_c in (-5, 0, 5, 7.5, 10, 12.9, 13)}
    assert max(by_temp, key=by_temp.__getitem__) == 7.5
    assert by_temp[7.5] == pytest.approx(84.73, abs=0.02)
    assert by_temp[-5] < 1
    assert by_temp[12.9] > 0
    assert by_temp[13] == 0


def test_warm_days_undo_and_mild_ones_help() -> None:
    """16 h at 6 °C: alone 33 portions in 60 days, with 8 h at 13 °C 46, with 8 h at 22 °C none (the shared sheet)."""
    found = {
        warm_c: dynamic_portions(np.tile([6.0] * 16 + [warm_c] * 8, 60))[1].portions for warm_c in (8, 13, 15, 18, 22)
    }
    alone = dynamic_portions([6.0] * 16 * 60)[1].portions
    assert [*found.values(), alone] == pytest.approx([50.0, 45.7, 42.8, 29.5, 0, 33.2], abs=0.06)


def test_a_fixed_portion_lasts() -> None:
    """Heat after the cold takes the loose product away and no portion."""
    _, cold = dynamic_portions([6.0] * 300)
    _, hot = dynamic_portions([30.0] * 100, cold)
    assert hot.portions == cold.portions > 5
    assert hot.intermediate < 0.2


def test_the_width_of_portions_is_earned() -> None:
    """Moving the start of a wave of 6 ± 6 °C by some hours moves its sum by more than four portions."""
    wave = 6 + 6 * np.sin(2 * np.pi * np.arange(24 * 60) / 24)
    sums = [dynamic_portions(np.roll(wave, hours))[1].portions for hours in range(24)]
    assert 4 < max(sums) - min(sums) < 6


def test_all_missing_hold_the_state() -> None:
    """A day without a reading changes nothing but its own count."""
    start = DynamicState(0.7, 12.5, 480, 3)
    portions, state = dynamic_portions([nan] * 24, start)
    assert portions.sum() == 0
    assert state == DynamicState(0.7, 12.5, 504, 27)


def test_figures_carry_width_and_caution() -> None:
    """Each model's sum comes with its width: at least four portions, and what half a degree changes."""
    hours = np.tile([3.0, 7.0, 10.0, 7.0], 24 * 15)
    found = chill_of_hours(hours)
    assert found.portions.value == pytest.approx(dynamic_portions(hours)[1].portions)
    assert found.portions.plus_minus is not None and found.portions.plus_minus >= 4
    assert "mean nothing" in found.portions.caution
    assert (found.chilling_hours.value, found.chilling_hours.plus_minus) == (1080, 720)  # 7.0 + 0.5 K is above 7.2
    assert (found.utah.value, found.utah.plus_minus) == (1260, 0)
    assert found.positive_utah.value == 1260
    assert found.utah.method != found.positive_utah.method


def test_hours_from_extremes_are_wider() -> None:
    """Estimated hours add three portions, and 1.5 chilling hours and Utah units a day, and say so."""
    hours = np.tile([3.0, 7.0, 10.0, 7.0], 6 * 30)
    known, estimated = chill_of_hours(hours), chill_of_hours(hours, from_daily_extremes=True)
    added = [
        (getattr(estimated, name).plus_minus or 0) - (getattr(known, name).plus_minus or 0)
        for name in ("portions", "chilling_hours", "utah", "positive_utah")
    ]
    assert added == pytest.approx([3, 45, 45, 45])
    assert "estimated from daily minima and maxima" in estimated.portions.caution
    assert estimated.portions.value == known.portions.value


def test_days_give_the_chill_of_their_hours() -> None:
    """Daily extremes go through the day curve, and a day left out is 24 missing hours."""
    days = winter(60)
    curve = hourly_curve(days, 50.4)
    assert chill_of_days(days, 50.4) == chill_of_hours(curve, from_daily_extremes=True)
    assert "24 missing hours" in chill_of_days(days[:20] + days[21:], 50.4).portions.caution
    with pytest.raises(ValueError, match="96 of 1440 hours are missing"):
        chill_of_days(days[:20] + days[24:], 50.4)
    with pytest.raises(ValueError, match="no hours given"):
        chill_of_days([], 50.4)


def test_daily_values_are_those_of_the_hours() -> None:
    """Each day's portions, hours, units and degree hours are those of its row of the curve."""
    days = winter(90)
    curve, found = hourly_curve(days, 41.5), daily_chill_and_heat(days, 41.5)
    assert found.portions.sum() == pytest.approx(found.state.portions)
    assert found.portions == pytest.approx(dynamic_portions(curve)[0].reshape(90, 24).sum(axis=1))
    assert found.chilling_hours.tolist() == [float(((row >= 0) & (row <= 7.2)).sum()) for row in curve]
    assert found.utah_units.tolist() == [float(utah_units(row).sum()) for row in curve]
    wanted = [float(np.sum(curvilinear_growing_degree_hours(row))) for row in curve]
    assert found.growing_degree_hours.tolist() == pytest.approx(wanted)


@pytest.mark.parametrize("cut", [1, 30, 89])
def test_daily_in_pieces_is_the_whole(cut: int) -> None:
    """With the state and both neighbours handed on, days in pieces give what one run gives."""
    days = winter(90)
    whole = daily_chill_and_heat(days, 41.5)
    first = daily_chill_and_heat(days[:cut], 41.5, day_after=days[cut])
    second = daily_chill_and_heat(days[cut:], 41.5, start=first.state, day_before=days[cut - 1])
    for name in ("portions", "chilling_hours", "utah_units", "growing_degree_hours"):
        joined = np.concatenate([getattr(first, name), getattr(second, name)])
        assert joined == pytest.approx(getattr(whole, name), abs=1e-9)
    assert second.state.portions == pytest.approx(whole.state.portions, abs=1e-9)
    assert second.state.hours == whole.state.hours == 2160


def test_daily_gap_holds_the_state() -> None:
    """Days left out give no rows, fix nothing, and are counted as missing hours."""
    days = winter(30)
    found = daily_chill_and_heat(days[:10] + days[15:], 41.5)
    assert len(found.portions) == len(found.growing_degree_hours) == 25
    assert (found.state.hours, found.state.missing_hours) == (720, 120)


def test_daily_limits_of_heat_are_passed_on() -> None:
    """A higher base gives less heat, and limits out of order are refused."""
    days = winter(30)
    assert daily_chill_and_heat(days, 41.5, base_c=6).growing_degree_hours.sum() < (
        daily_chill_and_heat(days, 41.5).growing_degree_hours.sum()
    )
    with pytest.raises(ValueError, match="must rise in this order"):
        daily_chill_and_heat(days, 41.5, base_c=26)


def test_no_days_give_nothing() -> None:
    """An empty run gives empty arrays and the state it began with."""
    found = daily_chill_and_heat([], 41.5, start=DynamicState(0.3, 4.0, 24, 0))
    assert found.portions.shape == found.utah_units.shape == (0,)
    assert found.state == DynamicState(0.3, 4.0, 24, 0)


def test_what_no_air_has_is_refused() -> None:
    """A value that no air has is named by every model."""
    for model in (chilling_hours, utah_units, positive_utah_units, dynamic_portions, chill_of_hours):
        with pytest.raises(ValueError, match="air temperature 77 °C"):
            model([5.0, 77.0])
