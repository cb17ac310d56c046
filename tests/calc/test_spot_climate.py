"""A spot's climate beside the station's: what was measured, what is judged from how it lies, and in what order."""

from __future__ import annotations

from datetime import date
from itertools import product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.calc.cold_spots import MinimumPair, SpotOffset, spot_offset
from advisor.calc.spot_climate import Lie, Offset, clearness, spot_climate

LIES = [
    Lie(low, slope, wall, cool, sun, glass)
    for low, slope, wall, cool, sun, glass in product(
        (None, False, True), ("", "foot", "middle", "upper", "top"), (False, True), (None, False, True),
        (None, 4.0, 9.0), (False, True),
    )
]  # fmt: skip


def measured(colder_k: float, of_nights: str = "calm clear nights") -> SpotOffset:
    found = spot_offset([MinimumPair(date(2026, 4, n), -colder_k - n / 100, 0.0) for n in range(1, 8)], of_nights)
    assert isinstance(found, SpotOffset)
    return found


def test_every_lie_has_a_range_an_origin_and_a_reading() -> None:
    """Whatever is told of a spot, both offsets have an ordered range, say where they are from and what would settle it."""
    for offset in (part for lie in LIES for part in (spot_climate(lie).colder, spot_climate(lie).warmer)):
        assert offset.low_k <= offset.middle_k <= offset.high_k
        assert offset.low_k < offset.high_k
        assert offset.origin.startswith("house judgement: ")
        assert offset.pinned_by


def test_low_ground_is_coldest_and_slopes_are_mildest() -> None:
    """By night: hollow, foot, level, slope; the foot of which it is told that no cold air gathers is level."""
    nights = [
        spot_climate(lie).colder.middle_k
        for lie in (Lie(True), Lie(slope_part="foot"), Lie(False), Lie(False, "upper"))
    ]
    assert nights == sorted(nights, reverse=True) and len(set(nights)) == 4
    assert spot_climate(Lie(False, "foot")).colder.range_k == spot_climate(Lie(False)).colder.range_k
    assert spot_climate(Lie(True, "upper")).colder.range_k == spot_climate(Lie(True)).colder.range_k


def test_walls_warm_and_shade_cools() -> None:
    """By day: glass, sunny wall, wall without sun, open bed, shaded bed, bed turned away, the same in shade."""
    days = [
        spot_climate(lie).warmer.middle_k
        for lie in (
            Lie(glass=True), Lie(warm_wall=True, sun_h=9), Lie(warm_wall=True, sun_h=5), Lie(cool_facing=False, sun_h=9),
            Lie(cool_facing=False, sun_h=5.9), Lie(cool_facing=True, sun_h=9), Lie(cool_facing=True, sun_h=5),
        )
    ]  # fmt: skip
    assert days == sorted(days, reverse=True) and len(set(days)) == 7
    assert spot_climate(Lie(cool_facing=False, sun_h=6.0)).warmer.middle_k == 0.0


def test_nothing_told_is_wider_than_something() -> None:
    """A spot of which nobody told anything has the wider ranges, round the station or colder."""
    told, untold = spot_climate(Lie(False, cool_facing=False, sun_h=8.0)), spot_climate(Lie())
    for one, other in ((told.colder, untold.colder), (told.warmer, untold.warmer)):
        assert other.high_k - other.low_k > one.high_k - one.low_k
        assert other.middle_k == one.middle_k == 0.0


def test_what_was_measured_replaces_the_judgement() -> None:
    """Paired lows and paired maxima stand for themselves, whatever the lie, and need no reading more."""
    found = spot_climate(Lie(True, warm_wall=True, nights=measured(1.0), days=measured(-2.0, "sunny days of spring")))
    assert found.colder.range_k == pytest.approx((1.02, 1.04, 1.06), abs=0.011)
    assert found.warmer.middle_k == pytest.approx(1.96)
    assert found.warmer.low_k <= found.warmer.middle_k <= found.warmer.high_k
    for offset in (found.colder, found.warmer):
        assert offset.measured and not offset.pinned_by and offset.origin.startswith("measured here over 7 ")


def test_alike_spots_share_a_key() -> None:
    """Two spots told alike have one climate; one more fact told makes another."""
    assert spot_climate(Lie(False, "middle", sun_h=8)).key == spot_climate(Lie(False, "middle", sun_h=9)).key
    assert spot_climate(Lie(False, "middle")).key != spot_climate(Lie(True, "middle")).key


def test_an_upside_down_range_is_refused() -> None:
    """An offset whose low end lies above its middle is none."""
    with pytest.raises(ValueError, match="low, middle and high"):
        Offset(1.0, 0.0, 2.0, "told wrong")


@given(st.floats(-9, 9), st.floats(0, 5), st.floats(0, 5), st.lists(st.floats(-6, 6), min_size=2, max_size=9))
def test_draws_keep_within_the_range_and_its_order(
    middle: float, below: float, above: float, deviates: list[float]
) -> None:
    """No draw leaves the range, and a higher deviate never gives a lower offset."""
    offset = Offset(middle - below, middle, middle + above, "house judgement")
    found = offset.at(np.array(sorted(deviates)))
    assert (np.diff(found) >= -1e-12).all()
    assert found.min() >= offset.low_k - 1e-9 and found.max() <= offset.high_k + 1e-9


@given(st.floats(0, 40), st.floats(0, 40))
def test_a_wider_day_is_never_less_clear(one: float, other: float) -> None:
    """How clear a day counts grows with its range, from 0 at 4 K to 1 at 10 K."""
    low, high = clearness(np.array(sorted((one, other))))
    assert 0.0 <= low <= high <= 1.0
