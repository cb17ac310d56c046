"""Moisture in the air: identities, edges of the range, and what is refused."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.calc.humidity import (
    dew_point,
    dew_point_c,
    frost_point_c,
    pressure_kpa,
    relative_humidity_percent,
    saturation_vapour_pressure_kpa,
    vapour_pressure_over_ice_kpa,
    wet_bulb_c,
)

air = st.floats(-15, 45)
spread = st.floats(0, 20)


@given(air, st.floats(10, 100))
def test_humidity_and_dew_point_undo_each_other(temp_c: float, humidity: float) -> None:
    """The dew point's own humidity is the one it was made from."""
    assert relative_humidity_percent(temp_c, dew_point_c(temp_c, humidity)) == pytest.approx(humidity, rel=1e-9)


@given(air, spread, st.floats(60, 110))
def test_wet_bulb_solves_its_equation(temp_c: float, below_k: float, kpa: float) -> None:
    """The wet bulb lies between dew point and air, and the psychrometric equation holds at it."""
    dew_c = temp_c - below_k
    wet_c = wet_bulb_c(temp_c, dew_c, kpa)
    assert dew_c <= wet_c <= temp_c
    left = saturation_vapour_pressure_kpa(wet_c) - 0.665e-3 * kpa * (temp_c - wet_c)
    assert left == pytest.approx(saturation_vapour_pressure_kpa(dew_c), abs=1e-9)


def test_wet_bulb_by_bisection() -> None:
    """A bisection written here, 60 halvings, meets the same root on a grid around freezing."""
    for temp_c in (-5.0, -1.0, 0.0, 1.0, 3.0, 8.0, 20.0):
        for below_k in (0.1, 2.0, 6.0, 15.0):
            low, high = temp_c - below_k, temp_c
            vapour = saturation_vapour_pressure_kpa(temp_c - below_k)
            for _ in range(60):
                middle = (low + high) / 2
                over = saturation_vapour_pressure_kpa(middle) - 0.665e-3 * 101.325 * (temp_c - middle) > vapour
                low, high = (low, middle) if over else (middle, high)
            assert wet_bulb_c(temp_c, temp_c - below_k) == pytest.approx(low, abs=1e-9)


def test_saturated_air_has_one_temperature() -> None:
    """At 100 % air, dew point and wet bulb are the same."""
    for temp_c in (-10.0, 0.0, 17.3):
        assert dew_point_c(temp_c, 100) == pytest.approx(temp_c, abs=1e-9)
        assert wet_bulb_c(temp_c, temp_c) == temp_c


def test_a_room_formula_would_be_half_a_degree_low_near_frost() -> None:
    """Stull's closed formula (2011, as given by a reference library) says 2.306 at 5 °C and 70 %; the root is above."""
    assert wet_bulb_c(5, dew_point_c(5, 70)) - 2.306 > 0.45


@given(st.floats(-40, 0))
def test_frost_point_lies_at_or_above_the_dew_point(dew_c: float) -> None:
    """Ice holds its water tighter, so that hoar frost forms before dew would, and at 0 °C with it."""
    assert dew_c <= frost_point_c(dew_c) <= 0


def test_ice_and_water_nearly_meet_at_zero() -> None:
    """The two curves cross within 0.05 % at 0 °C, and water holds more below it."""
    assert vapour_pressure_over_ice_kpa(0) == pytest.approx(saturation_vapour_pressure_kpa(0), rel=5e-4)
    assert vapour_pressure_over_ice_kpa(-10) < saturation_vapour_pressure_kpa(-10)


@given(air, st.floats(5, 95), st.floats(0.5, 5))
def test_moister_air_has_the_higher_dew_point(temp_c: float, humidity: float, more: float) -> None:
    """Dew point and wet bulb rise with humidity."""
    dry, moist = dew_point_c(temp_c, humidity), dew_point_c(temp_c, humidity + more)
    assert dry < moist <= temp_c
    if dry >= -40:
        assert wet_bulb_c(temp_c, dry) < wet_bulb_c(temp_c, moist)


def test_pressure_falls_with_altitude() -> None:
    """FAO paper 56 prints 81.8 kPa for 1800 m (from memory), and the sea has 101.3."""
    assert pressure_kpa(1800) == pytest.approx(81.8, abs=0.05)
    assert pressure_kpa(0) == pytest.approx(101.3)


def test_the_dew_point_figure_carries_the_instruments_error() -> None:
    """Five percent of humidity is a kelvin and more in dry air, and below freezing the frost point is mentioned."""
    dry, moist = dew_point(10, 30), dew_point(10, 90)
    assert dry.plus_minus is not None and moist.plus_minus is not None
    assert dry.plus_minus > 2 > 1 > moist.plus_minus
    assert "hoar frost" in dry.caution and moist.caution == ""
    with pytest.raises(ValueError, match="error of the hygrometer -1"):
        dew_point(10, 50, humidity_plus_minus=-1)


def test_the_edges_of_the_range_are_taken_and_no_more() -> None:
    """-40 and 50 °C, 1 and 100 % are inside; a hair beyond is refused by name."""
    assert saturation_vapour_pressure_kpa(-40) > 0
    assert dew_point_c(50, 1) < 0
    for call, said in (
        (lambda: saturation_vapour_pressure_kpa(-40.1), "temperature -40.1 °C is not between -40 and 50"),
        (lambda: saturation_vapour_pressure_kpa(float("nan")), "temperature nan"),
        (lambda: dew_point_c(10, 0.9), "relative humidity 0.9 %"),
        (lambda: dew_point_c(10, 100.1), "relative humidity 100.1 %"),
        (lambda: wet_bulb_c(-20.1, -25), "temperature -20.1"),
        (lambda: wet_bulb_c(10, 5, 1013), "air pressure 1013 kPa is not between 60 and 110"),
        (lambda: wet_bulb_c(5, 6), "were they swapped"),
        (lambda: relative_humidity_percent(5, 6), "were they swapped"),
        (lambda: frost_point_c(0.1), "that is to give frost 0.1"),
        (lambda: vapour_pressure_over_ice_kpa(1), "over ice 1"),
        (lambda: pressure_kpa(5000), "altitude 5000 m"),
    ):
        with pytest.raises(ValueError, match=said):
            call()
