"""How much colder a low spot runs: medians, exact intervals, and when nothing is said."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import product
from statistics import median

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.calc.cold_spots import (
    CLEAR_RANGE_K,
    MinimumPair,
    SpotOffset,
    TooFew,
    median_confidence,
    offsets_by_sky,
    spot_min,
    spot_offset,
    supposed_hollow_min,
)
from advisor.calc.figure import Figure

FIRST = date(2026, 3, 1)
offsets = st.lists(st.floats(-3, 8), min_size=5, max_size=40)


def pairs(colder_k: list[float], kind: str = "radiation") -> list[MinimumPair]:
    """Invented nights, one after the other, on which the spot was so much colder."""
    return [MinimumPair(FIRST + timedelta(days=n), 2.0 - k, 2.0, kind) for n, k in enumerate(colder_k)]


def found(colder_k: list[float]) -> SpotOffset:
    """The offset, which must be known."""
    offset = spot_offset(pairs(colder_k))
    assert isinstance(offset, SpotOffset)
    return offset


@given(offsets)
def test_the_median_lies_in_its_interval_and_that_in_the_range(colder_k: list[float]) -> None:
    """Least, low, median, high and most stand in this order, and at least 90 % is held."""
    offset = found(colder_k)
    assert offset.colder_by_k == pytest.approx(median(colder_k), abs=1e-9)
    assert offset.least_k <= offset.low_k <= offset.colder_by_k <= offset.high_k <= offset.most_k
    assert offset.confidence >= 0.9 and offset.nights == len(colder_k)


def test_confidence_by_counting_every_outcome() -> None:
    """Brute force: of all ways n nights fall above or below the median, so many are held by the k-th from each end."""
    for n, k in ((5, 1), (8, 1), (8, 2), (9, 3)):
        held = sum(k <= sum(above) <= n - k for above in product((0, 1), repeat=n))
        assert median_confidence(n, k) == held / 2**n


def test_published_ranks() -> None:
    """Tables of the sign test interval (from memory) give ranks 2 and 9 of 10 at 97.9 %, 6 and 15 of 20 at 95.9 %."""
    assert median_confidence(10, 2) == pytest.approx(0.979, abs=5e-4)
    assert median_confidence(20, 6) == pytest.approx(0.959, abs=5e-4)


def test_the_interval_holds_the_true_median() -> None:
    """Of 2000 invented spots with skewed offsets at least 90 % have their median in it, less three standard errors."""
    rng = np.random.default_rng(5)
    truth = float(np.log(2)) * 2
    held = 0
    for _ in range(2000):
        offset = found([float(x) for x in rng.exponential(2, 9)])
        held += offset.low_k <= truth <= offset.high_k
    assert held / 2000 >= 0.9 - 3 * (0.09 / 2000) ** 0.5


def test_below_five_pairs_nothing_is_said() -> None:
    """Four extremes hold the median with only 87.5 %; five hold it with 93.75 %."""
    assert spot_offset(pairs([2.0] * 4)) == TooFew(4, "all nights", 5)
    assert median_confidence(4, 1) < 0.9 < median_confidence(5, 1)
    assert spot_offset([]) == TooFew(0, "all nights")
    five = found([1.0, 2.0, 3.0, 4.0, 5.0])
    assert (five.colder_by_k, five.low_k, five.high_k, five.confidence) == (3.0, 1.0, 5.0, 0.9375)


def test_whether_the_spot_differs() -> None:
    """An interval on one side of nothing is a difference; one across it is none."""
    assert found([1.0, 2.0, 3.0, 4.0, 5.0]).differs
    assert found([-1.0, -2.0, -3.0, -4.0, -5.0]).differs
    assert not found([-1.0, 2.0, 3.0, 4.0, 5.0]).differs


def test_skies_are_kept_apart() -> None:
    """Calm clear nights, others and unknown ones have their own medians; a sky that does not occur has no entry."""
    calm = [MinimumPair(FIRST + timedelta(days=n), -2, 1.5, "radiation") for n in range(6)]
    windy = [MinimumPair(FIRST + timedelta(days=10 + n), 1.2, 1.5, "mixed") for n in range(5)]
    unknown = [MinimumPair(FIRST + timedelta(days=20 + n), 0, 1.5) for n in range(2)]
    by_sky = offsets_by_sky([*calm, *windy, *unknown])
    clear, other = by_sky["clear"], by_sky["other"]
    assert isinstance(clear, SpotOffset) and isinstance(other, SpotOffset)
    assert (clear.colder_by_k, clear.nights, clear.of_nights) == (3.5, 6, "calm clear nights")
    assert other.colder_by_k == pytest.approx(0.3)
    assert by_sky["unknown"] == TooFew(2, "nights of unknown sky")
    assert set(offsets_by_sky(calm)) == {"clear"}


def test_the_days_range_stands_for_an_unknown_sky_only() -> None:
    """From 10 K on an unknown night counts as clear; a night whose kind is known keeps it."""
    assert MinimumPair(FIRST, 0, 1, station_max_c=1 + CLEAR_RANGE_K).sky == "clear"
    assert MinimumPair(FIRST, 0, 1, station_max_c=0.9 + CLEAR_RANGE_K).sky == "other"
    assert MinimumPair(FIRST, 0, 1, "mixed", station_max_c=25).sky == "other"
    assert MinimumPair(FIRST, 0, 1, "advection", station_max_c=25).sky == "other"
    assert MinimumPair(FIRST, 0, 1).sky == "unknown"


def test_the_figure_says_how_many_nights() -> None:
    """Median, longer arm of the interval, and the single nights furthest apart."""
    figure = found([1.0, 2.0, 3.0, 4.0, 7.0]).figure()
    assert figure.told() == "3.0 ± 4.0 K (median offset, all nights)"
    assert figure.caution == "From 5 nights; single nights ran 1.0 to 7.0 K colder."


def test_a_spots_minimum_carries_both_widths() -> None:
    """The station's forecast less the median offset, its width and the farthest night's arm added."""
    station = Figure(1.0, "°C", "lowest temperature tonight", plus_minus=1.5, caution="Holds for calm clear nights.")
    spot = spot_min(station, found([1.0, 2.0, 3.0, 4.0, 7.0]))
    assert (spot.value, spot.plus_minus, spot.unit) == (-2.0, 5.5, "°C")
    assert spot.caution == "Offset of all nights, 5 of them. Holds for calm clear nights."
    with pytest.raises(ValueError, match="°C wanted"):
        spot_min(Figure(34, "°F", "x"), found([1.0] * 5))


@given(offsets, st.floats(-20, 20))
def test_both_thermometers_moved_alike_change_nothing(colder_k: list[float], shift_k: float) -> None:
    """Only the difference of the two counts."""
    moved = [MinimumPair(p.on, p.spot_min_c + shift_k, p.station_min_c + shift_k) for p in pairs(colder_k)]
    offset = spot_offset(moved)
    assert isinstance(offset, SpotOffset)
    assert offset.colder_by_k == pytest.approx(found(colder_k).colder_by_k, abs=1e-9)


def test_bad_input_is_named() -> None:
    """Two pairs of one night, and values that cannot be, are refused."""
    for call, said in (
        (lambda: spot_offset(pairs([1.0]) * 2), "1 of 2 pairs are of a night that has one already"),
        (lambda: MinimumPair(FIRST, float("nan"), 1), "minima of 2026-03-01: nan and 1"),
        (lambda: MinimumPair(FIRST, 0, 1, "foggy"), "kind 'foggy'"),
        (lambda: MinimumPair(FIRST, 0, 1, station_max_c=0.5), "maximum 0.5 °C is below the minimum 1 °C"),
        (lambda: median_confidence(5, 4), "rank 4 of 5 values; 1 to 3 wanted"),
    ):
        with pytest.raises(ValueError, match=said):
            call()


def test_a_hollow_nobody_measured_is_two_degrees_colder_give_or_take_two() -> None:
    """It says that nobody measured it; another unit is refused."""
    low = supposed_hollow_min(Figure(1.0, "°C", "lowest temperature tonight", plus_minus=1.5, caution="Still nights."))
    assert (low.value, low.plus_minus, low.unit) == (-1.0, 3.5, "°C")
    assert low.caution == "Nobody measured the spot; the difference is house judgement. Still nights."
    with pytest.raises(ValueError, match="°C wanted"):
        supposed_hollow_min(Figure(34, "°F", "x"))
