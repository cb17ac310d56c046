"""The night hour by hour: its ends, its inverse, and what is refused."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.calc.night_hours import hours_below_h, hours_to_sunrise_h, reached_after_h, trend_c

nights = st.tuples(st.floats(-5, 15), st.floats(0.01, 15), st.floats(1, 15)).map(lambda n: (n[0], n[0] - n[1], n[2]))


def test_the_published_night() -> None:
    """Documented output of a public implementation of FAO's method: -3.3979 six hours on, zero after 0.2864 h."""
    assert trend_c(0.95, -5.45, 13, 6) == pytest.approx(-3.3979, abs=5e-5)
    assert reached_after_h(0.95, -5.45, 13, 0) == pytest.approx(0.2864, abs=5e-5)


@given(nights)
def test_the_night_begins_and_ends_as_told(night: tuple[float, float, float]) -> None:
    """At the reading it is the evening's temperature, at sunrise the minimum."""
    evening_c, min_c, hours = night
    assert trend_c(*night, 0) == evening_c
    assert trend_c(*night, hours) == pytest.approx(min_c, abs=1e-9)


@given(nights, st.floats(0.001, 1))
def test_time_and_temperature_undo_each_other(night: tuple[float, float, float], share: float) -> None:
    """The temperature of an hour is reached at that hour."""
    hour = share * night[2]
    assert reached_after_h(*night, trend_c(*night, hour) + 1e-12) == pytest.approx(hour, abs=1e-4)


@given(nights, st.floats(-25, 20))
def test_hours_below_by_counting(night: tuple[float, float, float], critical_c: float) -> None:
    """The hours below equal a count over 4000 steps of the night."""
    steps = 4000
    cold = sum(trend_c(*night, (i + 0.5) / steps * night[2]) <= critical_c for i in range(steps))
    assert hours_below_h(*night, critical_c) == pytest.approx(cold / steps * night[2], abs=1.5 * night[2] / steps)


def test_never_reached_at_the_edge_and_from_the_start() -> None:
    """A minimum above the critical temperature has no time, one just at it has sunrise, a cold evening the start."""
    assert reached_after_h(5, 0.1, 10, 0) is None
    assert hours_below_h(5, 0.1, 10, 0) == 0
    assert reached_after_h(5, 0, 10, 0) == 10
    assert hours_below_h(5, 0, 10, 0) == 0
    assert reached_after_h(-1, -3, 10, 0) == 0
    assert hours_below_h(-1, -3, 10, 0) == 10
    assert trend_c(2, 2, 10, 5) == 2
    assert reached_after_h(2, 2, 10, 1) is None


@given(nights, st.floats(-20, 10), st.floats(0, 5))
def test_a_colder_night_freezes_no_shorter(
    night: tuple[float, float, float], critical_c: float, colder_k: float
) -> None:
    """With the same evening a lower minimum never means fewer hours below."""
    evening_c, min_c, hours = night
    colder = hours_below_h(evening_c, min_c - colder_k, hours, critical_c)
    assert colder >= hours_below_h(evening_c, min_c, hours, critical_c) - 1e-9


def test_nights_have_their_season() -> None:
    """At 47° a December night gives more than twice June's hours, and the south has it the other way round."""
    june, december = hours_to_sunrise_h(date(2026, 6, 21), 47), hours_to_sunrise_h(date(2026, 12, 21), 47)
    assert december > 2 * june
    assert hours_to_sunrise_h(date(2026, 6, 21), -47) == pytest.approx(december, abs=0.2)


def test_bad_input_is_named() -> None:
    """No night, no length, a rising night, an hour outside: each is refused."""
    for call, said in (
        (lambda: trend_c(5, 0, 0, 0), "a night of 0 h"),
        (lambda: trend_c(5, 0, float("nan"), 0), "a night of nan h"),
        (lambda: trend_c(0, 5, 10, 1), "minimum 5 °C is above the evening's 0 °C"),
        (lambda: trend_c(5, 0, 10, 10.1), "10.1 h after the evening reading is not between 0 and 10"),
        (lambda: trend_c(float("nan"), 0, 10, 1), "two numbers wanted"),
        (lambda: reached_after_h(5, 0, 10, float("nan")), "critical temperature nan"),
        (lambda: hours_to_sunrise_h(date(2026, 6, 21), 66), "no night of more than two hours at 66"),
    ):
        with pytest.raises(ValueError, match=said):
            call()
