"""Which soil readings may be compared, and what the pairs show."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from math import cos, exp, pi, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.calc.soil_pairs import Reading, are_fair, fair_pairs, soil_contrast

NOON = datetime(2026, 4, 14, 12, tzinfo=UTC)


def reading(
    temp_c: float = 10.0, minutes: float = 0, depth_cm: float = 10.0, sky: str = "sun", ref: int = 0, days: int = 0
) -> Reading:
    at = NOON + timedelta(minutes=minutes, days=days)
    return Reading(temp_c, depth_cm, at, at.date(), sky, ref)


@pytest.mark.parametrize(
    ("other", "fair"),
    [
        (reading(minutes=60), True),
        (reading(minutes=61), False),
        (reading(minutes=-60), True),
        (reading(depth_cm=11), True),
        (reading(depth_cm=11.1), False),
        (reading(sky="shade"), False),
    ],
)
def test_only_like_readings_are_compared(other: Reading, fair: bool) -> None:
    """Within the hour, within a centimetre, under one sky: at the limit counts, past it does not."""
    assert are_fair(reading(), other) is fair


def test_an_unfair_pair_can_differ_without_any_difference() -> None:
    """Why the rule exists: one soil at 10 cm differs from itself by over 3 °C between 8 and 15 o'clock.

    Damped daily wave after Hillel, Introduction to Soil Physics, 1982 (the form read in a copy); amplitude 8 °C and
    diffusivity 0.5e-6 m2/s are within the range measured over 49 soils by Lukiashchenko & Arkhangelskaya, Eurasian
    Soil Sci. 51:183, 2018 (abstract).
    """

    def at_hour(hour: float, depth_m: float = 0.10) -> float:
        damping_m = sqrt(0.5e-6 * 86400 / pi)
        phase = 2 * pi * (hour - 14) / 24 - depth_m / damping_m
        return 12 + 8 * exp(-depth_m / damping_m) * cos(phase)

    assert at_hour(15) - at_hour(8) > 3
    morning, afternoon = (reading(at_hour(8), minutes=-4 * 60), reading(at_hour(15), minutes=3 * 60))
    assert soil_contrast([morning], [afternoon]) is None


def test_days_count_alike() -> None:
    """Three pairs on one day weigh as much as one pair on another."""
    here = [reading(10, minutes=n, ref=n) for n in range(3)] + [reading(14, days=1, ref=3)]
    there = [reading(12, minutes=n, ref=10 + n) for n in range(3)] + [reading(12, days=1, ref=13)]
    found = soil_contrast(here, there)
    assert found is not None
    assert (found.warmer_by_k, found.pairs, found.on_days) == (0.0, 4, 2)


def test_the_depth_with_most_days_is_taken() -> None:
    """Readings at 5 and at 10 cm are not mixed."""
    here = [reading(9, depth_cm=5, ref=0)] + [reading(8, days=d, ref=1 + d) for d in range(2)]
    there = [reading(19, depth_cm=5, ref=10)] + [reading(10, days=d, ref=11 + d) for d in range(2)]
    found = soil_contrast(here, there)
    assert found is not None
    assert (found.depth_cm, found.warmer_by_k, found.on_days) == (10.0, -2.0, 2)


readings = st.lists(
    st.tuples(st.floats(0, 25), st.integers(0, 300), st.sampled_from([5.0, 10.0]), st.sampled_from(["sun", "cloud"])),
    max_size=6,
)


@given(readings, readings)
def test_comparing_the_other_way_round_only_turns_the_sign(one: list[tuple], other: list[tuple]) -> None:
    """The contrast of B with A is that of A with B turned round, on the same pairs."""
    a = [reading(t, m, d, s, ref=n) for n, (t, m, d, s) in enumerate(one)]
    b = [reading(t, m, d, s, ref=100 + n) for n, (t, m, d, s) in enumerate(other)]
    forward, back = soil_contrast(a, b), soil_contrast(b, a)
    assert (forward is None) == (back is None)
    if forward and back:
        assert forward.on_days == back.on_days
    for pair in fair_pairs(a, b):
        assert are_fair(*pair)
