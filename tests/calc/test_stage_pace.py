"""How far buds may have come since the last look."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.calc.stage_pace import furthest_stage, growing_days

APRICOT = [51, 53, 55, 57, 60, 65, 71, 72]


@pytest.mark.parametrize(
    ("highest_c", "base_c", "days"),
    [
        ([4.5], 4.5, 0.0),
        ([4.6], 4.5, 0.5),
        ([14.9], 4.5, 0.5),
        ([15.0], 4.5, 1.0),
        ([None], 4.5, 1.0),
        ([9.0, 12.0, 20.0], 10.0, 1.5),
        ([], 4.5, 0.0),
    ],
)
def test_only_days_that_pass_the_base_move_buds(highest_c: list[float | None], base_c: float, days: float) -> None:
    """A cold day counts nothing, a cool one half, a warm one or one that nobody recorded whole."""
    assert growing_days(highest_c, base_c) == days


def test_a_temperature_that_is_none_is_refused() -> None:
    """What is not a number is no temperature."""
    with pytest.raises(ValueError, match="not a number"):
        growing_days([float("nan")], 4.5)


@pytest.mark.parametrize(
    ("seen", "days", "reached"),
    [
        (0, 6.9, 0),  # tight, and not yet a week of growth
        (0, 7.0, 51),
        (0, 9.9, 51),
        (0, 10.0, 53),
        (51, 2.9, 51),
        (51, 3.0, 53),
        (54, 3.0, 55),  # between two stages the next one counts
        (55, 9.0, 65),
        (72, 90.0, 72),
        (75, 90.0, 75),  # past the last stage that is told apart
    ],
)
def test_each_stage_takes_its_days(seen: int, days: float, reached: int) -> None:
    """A week out of rest, three days from stage to stage, and never past the last."""
    assert furthest_stage(APRICOT, seen, days) == reached


@given(st.integers(0, 99), st.floats(0, 120), st.floats(0, 30))
def test_more_days_never_bring_it_back(seen: int, days: float, more: float) -> None:
    """The furthest stage is never before the one seen, and grows with the days."""
    first, later = (furthest_stage(APRICOT, seen, span) for span in (days, days + more))
    assert seen <= first <= later
