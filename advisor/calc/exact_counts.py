"""How often luck alone gives so clear a result: exact counts over all ways in which a small trial could come out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import comb, isfinite
from statistics import fmean

import numpy as np

MOST_A_SIDE = 30
"""Plants a side, or pairs, up to which ranks are counted exactly: beyond it a trial is not small. House judgement."""
MOST_SUMS = 400_000
"""Different sums kept at once while divisions are counted; more are refused. House judgement."""
SLACK = 1e-12
"""Values this near to each other, relative to the largest, count as equal."""


@dataclass(frozen=True, slots=True)
class Chance:
    """How often luck alone gives a result at least as clear, and the least that so small a trial can ever reach.

    ``statistic`` is what was counted: the difference of means, the pairs in which a is above b, a sum of ranks.
    """

    statistic: float
    p: float
    smallest_p: float


def permutation_chance(side_a: Sequence[float], side_b: Sequence[float]) -> Chance:
    """Return how often a chance division of the same values parts their means as far, either way, by full count.

    Parameters
    ----------
    side_a, side_b : sequence of float
        One value a plant on each side, at least one a side.

    Returns
    -------
    Chance
        Mean of a less mean of b; the share of all C(n+m, n) divisions with a difference at least as large, ties
        within 1e-12 of the largest value counted as equal; 2 / C for equal sides and 1 / C for unequal ones, the
        least there can be.

    Raises
    ------
    ValueError
        For an empty side, a value that is not finite, or more than ``MOST_SUMS`` different sums: use ranks
        (``rank_sum_chance``) or chance shuffles (``shuffled_chance``).

    Notes
    -----
    Divisions are not listed but counted by their sums, which is the same count: values of one or two decimals have
    few different sums, so that far larger trials than by listing are exact.

    Examples
    --------
    >>> permutation_chance([1, 2, 3], [4, 5, 6])
    Chance(statistic=-3.0, p=0.1, smallest_p=0.1)
    """
    values, n = both_sides(side_a, side_b)
    whole, slack = _whole_numbers(values)
    sums = counted_sums(tuple(whole), n)
    if sums is None:
        raise ValueError(f"{n} and {len(side_b)} plants have too many different sums to count; use ranks or shuffles")
    total = comb(len(values), n)
    middle, size = n * sum(whole), len(values)
    seen = abs(size * sum(whole[:n]) - middle) - slack * size
    ways = sum(count for one, count in sums.items() if abs(size * one - middle) >= seen)
    smallest = (2 if 2 * n == size else 1) / total
    return Chance(fmean(side_a) - fmean(side_b), ways / total, smallest)


def shuffled_chance(side_a: Sequence[float], side_b: Sequence[float], seed: int, shuffles: int = 20_000) -> Chance:
    """Return what ``permutation_chance`` counts, estimated from chance shuffles: not exact, the same for one seed.

    The p is (1 + as clear) / (1 + shuffles), never below 1 / (1 + shuffles), which is its ``smallest_p``. At 20 000
    shuffles a p of 0.05 is known within about 0.003.
    """
    values, n = both_sides(side_a, side_b)
    if shuffles < 1000:
        raise ValueError(f"{shuffles} shuffles are too few; want 1000 or more")
    rows = np.random.default_rng(seed).permuted(np.tile(np.asarray(values), (shuffles, 1)), axis=1)
    apart = np.abs(rows[:, :n].mean(axis=1) - rows[:, n:].mean(axis=1))
    seen = fmean(side_a) - fmean(side_b)
    as_clear = int((apart >= abs(seen) - SLACK * max(1.0, *map(abs, values))).sum())
    return Chance(seen, (1 + as_clear) / (1 + shuffles), 1 / (1 + shuffles))


def rank_sum_chance(side_a: Sequence[float], side_b: Sequence[float], a_is_greater: bool = False) -> Chance:
    """Return how often luck alone ranks the sides so unevenly, by full count (Wilcoxon's rank sum, Mann-Whitney).

    The statistic counts the pairs in which a is above b, equal ones as half. Equal values share their mean rank, and
    the count is made over these shared ranks. The p is twice the smaller tail, at most 1; with ``a_is_greater``,
    which must be settled before the trial, one tail. Raises ValueError for more than ``MOST_A_SIDE`` a side.

    >>> rank_sum_chance([8.1, 7.4, 9.0], [9.2, 9.9, 9.5])
    Chance(statistic=0.0, p=0.1, smallest_p=0.1)
    """
    values, n = both_sides(side_a, side_b)
    few_enough(max(n, len(side_b)), "plants a side")
    ranks = doubled_ranks(values)
    seen = sum(ranks[:n])
    p, smallest = _tail(rank_sums(tuple(sorted(ranks)), n), seen, comb(len(values), n), a_is_greater)
    return Chance((seen - n * (n + 1)) / 2, p, smallest)


def signed_rank_chance(differences: Sequence[float], above_zero: bool = False) -> Chance:
    """Return how often luck alone signs paired differences so unevenly, by full count (Wilcoxon's signed rank).

    Zeros are left out, as Wilcoxon did; equal sizes share their mean rank. The statistic is the ranks' sum of the
    differences above zero. The p is twice the smaller tail, at most 1; with ``above_zero``, settled beforehand, one.

    >>> signed_rank_chance([1.1, 0.4, 1.7, 0.9, -0.2, 1.3, 0.6, 0.8])
    Chance(statistic=35.0, p=0.015625, smallest_p=0.0078125)
    """
    kept = without_zeros(differences)
    few_enough(len(kept), "pairs")
    ranks = doubled_ranks([abs(d) for d in kept])
    seen = sum(rank for rank, d in zip(ranks, kept, strict=True) if d > 0)
    p, smallest = _tail(rank_sums(tuple(sorted(ranks))), seen, 2 ** len(kept), above_zero)
    return Chance(seen / 2, p, smallest)


def sign_chance(differences: Sequence[float]) -> Chance:
    """Return how often luck alone sends so many pairs one way, sizes left out of account; zeros are dropped.

    >>> sign_chance([1.1, 0.4, 1.7, 0.9, -0.2, 1.3, 0.6, 0.8])
    Chance(statistic=7.0, p=0.0703125, smallest_p=0.0078125)
    """
    kept = without_zeros(differences)
    n, up = len(kept), sum(d > 0 for d in kept)
    tail = sum(comb(n, k) for k in range(max(up, n - up), n + 1)) / 2**n
    return Chance(float(up), min(1.0, 2 * tail), min(1.0, 2 / 2**n))


def sign_flip_chance(differences: Sequence[float]) -> Chance:
    """Return how often chance signs take the mean of these differences as far from zero, either way, by full count.

    Raises ValueError where more than ``MOST_SUMS`` different sums would have to be kept.

    >>> sign_flip_chance([1.1, 0.4, 1.7, 0.9, -0.2, 1.3, 0.6, 0.8]).p
    0.015625
    """
    kept = without_zeros(differences)
    whole, slack = _whole_numbers(kept)
    sums = counted_sums(tuple(map(abs, whole)))
    if sums is None:
        raise ValueError(f"{len(kept)} pairs have too many different sums to count; use ranks")
    size = sum(map(abs, whole))
    seen = abs(sum(whole)) - slack
    ways = sum(count for one, count in sums.items() if abs(2 * one - size) >= seen)
    return Chance(fmean(differences), ways / 2 ** len(kept), min(1.0, 2 / 2 ** len(kept)))


def counted_sums(whole: tuple[int, ...], take: int | None = None) -> dict[int, int] | None:
    """Return how many ways there are to reach each sum, with any number or with ``take`` of these whole numbers.

    None where more than ``MOST_SUMS`` sums would have to be kept at once.
    """
    if take is None:
        ways = {0: 1}
        for one in whole:
            grown = dict(ways)
            for total, count in ways.items():
                grown[total + one] = grown.get(total + one, 0) + count
            ways = grown
            if len(ways) > MOST_SUMS:
                return None
        return ways
    by_count: list[dict[int, int]] = [{0: 1}, *({} for _ in range(take))]
    for done, one in enumerate(whole, start=1):
        least = take - (len(whole) - done)  # fewer taken by now can no longer reach the number wanted
        for k in range(min(take, done), max(1, least) - 1, -1):
            into = by_count[k]
            for total, count in by_count[k - 1].items():
                into[total + one] = into.get(total + one, 0) + count
        for k in range(max(0, least)):
            by_count[k].clear()
        if sum(map(len, by_count)) > MOST_SUMS:
            return None
    return by_count[take]


@lru_cache(maxsize=128)
def rank_sums(sorted_ranks: tuple[int, ...], take: int | None = None) -> dict[int, int]:
    """Return ``counted_sums`` of ranks, which always are few enough; kept, because trials of one size ask for them."""
    sums = counted_sums(sorted_ranks, take)
    if sums is None:
        raise ValueError(f"{len(sorted_ranks)} ranks have too many sums; want {MOST_A_SIDE} a side or fewer")
    return sums


def both_sides(side_a: Sequence[float], side_b: Sequence[float]) -> tuple[list[float], int]:
    """Return all values, side a first, and how many are side a's. Raise ValueError for an empty side."""
    return finite(side_a, "side a") + finite(side_b, "side b"), len(side_a)


def finite(values: Sequence[float], what: str) -> list[float]:
    """Return values as a list. Raise ValueError where there are none, or one is not a finite number."""
    if not len(values):
        raise ValueError(f"{what}: no values; want at least one")
    for value in values:
        if not isfinite(value):
            raise ValueError(f"{what}: {value} is not a finite number; leave out a plant that was not measured")
    return list(values)


def few_enough(count: int, what: str) -> None:
    """Raise ValueError for more than ``MOST_A_SIDE``."""
    if count > MOST_A_SIDE:
        raise ValueError(f"{count} {what} are more than the {MOST_A_SIDE} that are counted exactly here")


def without_zeros(differences: Sequence[float]) -> list[float]:
    """Return the differences that are not zero. Raise ValueError as ``finite`` does."""
    kept = finite(differences, "differences")
    least = SLACK * max(map(abs, kept))
    return [d for d in kept if abs(d) > least]


def doubled_ranks(values: Sequence[float]) -> list[int]:
    """Return twice each value's rank, equal values sharing their mean rank, so that all are whole numbers."""
    near = SLACK * max(map(abs, values), default=0.0)
    order = sorted(range(len(values)), key=values.__getitem__)
    ranks = [0] * len(values)
    start = 0
    for n in range(1, len(order) + 1):
        if n == len(order) or values[order[n]] - values[order[n - 1]] > near:
            for i in order[start:n]:
                ranks[i] = start + 1 + n
            start = n
    return ranks


def _tail(sums: dict[int, int], seen: int, total: int, one_sided: bool) -> tuple[float, float]:
    above = sum(count for one, count in sums.items() if one >= seen)
    if one_sided:
        return above / total, 1 / total
    below = sum(count for one, count in sums.items() if one <= seen)
    return min(1.0, 2 * min(above, below) / total), min(1.0, 2 / total)


def _whole_numbers(values: Sequence[float]) -> tuple[list[int], int]:
    """Return values as whole multiples of one step, and within how many steps two of their sums count as equal.

    Up to six decimals are kept exactly; anything finer, such as means of three, is laid on a very fine grid.
    """
    near = SLACK * max(map(abs, values), default=0.0)
    for digits in range(7):
        scaled = [value * 10**digits for value in values]
        if all(abs(one - round(one)) <= near * 10**digits for one in scaled):
            return [round(one) for one in scaled], 0
    return [round(value / near) for value in values], len(values)  # a value that is no whole number is not 0
