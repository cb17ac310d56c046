"""What a small trial shows, in numbers and in plain words, and what so small a trial can never show."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import comb, floor
from statistics import fmean, median

from advisor.calc.exact_counts import (
    SLACK,
    Chance,
    both_sides,
    doubled_ranks,
    few_enough,
    finite,
    permutation_chance,
    rank_sum_chance,
    rank_sums,
    sign_flip_chance,
    signed_rank_chance,
)
from advisor.calc.figure import Figure

LUCK = 0.05
"""Chance of luck up to which a difference is taken as shown: the usual convention, nothing more."""


@dataclass(frozen=True, slots=True)
class Shift:
    """How far side b lies above side a, with the range that holds the truth in ``coverage`` of such trials.

    The range is None where even the widest one falls short of the level asked for.
    """

    shift: float
    low: float | None
    high: float | None
    coverage: float | None


@dataclass(frozen=True, slots=True)
class TrialResult:
    """What a trial shows: side b less side a, its range, and the chance of luck counted in two ways.

    ``chance`` counts by ranks, ``chance_by_size`` by the sizes themselves (None where those are too many to count).
    ``paired`` trials have one count of pairs in both ``count_a`` and ``count_b``.
    """

    paired: bool
    count_a: int
    count_b: int
    shift: Shift
    level: float
    chance: Chance
    chance_by_size: Chance | None
    tied: bool


def one_value_a_plant(readings: Iterable[tuple[str, float]]) -> dict[str, float]:
    """Return one value a plant, the mean of its readings, in order of first mention.

    Ten readings of one pot are one pot: they tell how that pot stands, not what the treatment does to others.

    >>> one_value_a_plant([("pot 1", 10.0), ("pot 2", 14.0), ("pot 1", 12.0)])
    {'pot 1': 11.0, 'pot 2': 14.0}
    """
    by_plant: dict[str, list[float]] = {}
    for plant, reading in readings:
        by_plant.setdefault(plant, []).append(reading)
    return {plant: fmean(finite(values, "readings of " + plant)) for plant, values in by_plant.items()}


def hodges_lehmann_shift(side_a: Sequence[float], side_b: Sequence[float], level: float = 0.95) -> Shift:
    """Return how far side b lies above side a: the middle of all differences b - a, and its exact range.

    Parameters
    ----------
    side_a, side_b : sequence of float
        One value a plant on each side, at least one and at most ``MOST_A_SIDE`` a side.
    level : float, optional
        Share of such trials in which the range is to hold the truth, above 0 and below 1.

    Returns
    -------
    Shift
        The median difference; the narrowest range [d(k), d(nm + 1 - k)] of sorted differences that reaches the level,
        with its attained coverage; no range where none reaches it.

    Raises
    ------
    ValueError
        For an empty or too large side, a value that is not finite, or a level out of range.

    Notes
    -----
    Found by turning round the exact rank-sum count [1]_. It takes both sides to vary alike about their middles. The
    coverage is that of values without ties; with ties it is near it, mostly above.

    References
    ----------
    .. [1] J. L. Hodges and E. L. Lehmann, "Estimates of location based on rank tests", Annals of Mathematical
       Statistics 34, 598-611, 1963; M. Hollander and D. A. Wolfe, Nonparametric Statistical Methods (both cited from
       memory, not opened; the tests check against full enumeration)

    Examples
    --------
    >>> hodges_lehmann_shift([12, 15, 11, 14, 13], [16, 18, 15, 17, 19])
    Shift(shift=4.0, low=1.0, high=7.0, coverage=0.9682539682539683)
    >>> hodges_lehmann_shift([1, 2, 3], [4, 5, 6])
    Shift(shift=3.0, low=None, high=None, coverage=None)
    """
    values, n = both_sides(side_a, side_b)
    m = len(values) - n
    few_enough(max(n, m), "plants a side")
    return _range_of([b - a for a in side_a for b in side_b], rank_sums(tuple(range(2, 2 * (n + m) + 1, 2)), n), level)


def paired_shift(differences: Sequence[float], level: float = 0.95) -> Shift:
    """Return the middle of all means of two differences (Walsh averages) and its exact range by the signed rank.

    It takes the differences to lie evenly about their middle. Raises as ``hodges_lehmann_shift`` does.

    >>> found = paired_shift([1.1, 0.4, 1.7, 0.9, -0.2, 1.3, 0.6, 0.8])
    >>> round(found.shift, 2), round(found.low, 2), found.high, found.coverage
    (0.85, 0.3, 1.3, 0.9609375)
    """
    kept = finite(differences, "differences")
    few_enough(len(kept), "pairs")
    means = [(kept[i] + kept[j]) / 2 for i in range(len(kept)) for j in range(i, len(kept))]
    return _range_of(means, rank_sums(tuple(range(2, 2 * len(kept) + 1, 2))), level)


def compare_sides(side_a: Sequence[float], side_b: Sequence[float], level: float = 0.95) -> TrialResult:
    """Return what a trial of two sides shows, from one value a plant (``one_value_a_plant``)."""
    values, n = both_sides(side_a, side_b)
    shift, chance = hodges_lehmann_shift(side_a, side_b, level), rank_sum_chance(side_a, side_b)
    try:
        by_size = permutation_chance(side_a, side_b)
    except ValueError:  # more different sums than are counted
        by_size = None
    return TrialResult(False, n, len(side_b), shift, level, chance, by_size, _any_tied(values))


def compare_pairs(differences: Sequence[float], level: float = 0.95) -> TrialResult:
    """Return what a trial in pairs shows, from each pair's difference b - a."""
    shift, chance = paired_shift(differences, level), signed_rank_chance(differences)
    try:
        by_size = sign_flip_chance(differences)
    except ValueError:  # more different sums than are counted
        by_size = None
    tied = _any_tied([0.0, *map(abs, differences)])
    return TrialResult(True, len(differences), len(differences), shift, level, chance, by_size, tied)


def shift_figure(result: TrialResult, unit: str) -> Figure:
    """Return side b less side a, with the wider half of its range; without one where no range reaches the level."""
    shift = result.shift
    method = "paired Hodges-Lehmann shift" if result.paired else "Hodges-Lehmann shift"
    if shift.low is None or shift.high is None:
        return Figure(shift.shift, unit, method, None, f"no interval at the {result.level:.0%} level exists")
    caution = "equal values make its coverage approximate" if result.tied else ""
    return Figure(shift.shift, unit, method, max(shift.high - shift.shift, shift.shift - shift.low), caution)


def in_words(
    result: TrialResult,
    unit: str,
    things: str = "plants",
    sides: tuple[str, str] = ("side A", "side B"),
    more_less: tuple[str, str] = ("higher", "lower"),
) -> str:
    """Return what a trial shows in plain sentences: the difference, how likely luck is, what would settle it.

    ``things`` are what was counted (pots, figs); ``more_less`` what a larger and a smaller value are called.

    >>> print(in_words(compare_sides([1, 2, 3], [4, 5, 6]), "days", "pots", more_less=("later", "earlier")))
    Side B came out 3 days later than side A. Three pots a side can never settle it: even the clearest result has a \
1 in 10 chance of arising by luck. Four a side is the least that could.
    """
    told = [_size(result, unit, sides, more_less)]
    if result.chance.smallest_p > LUCK + SLACK:
        return " ".join([*told, *_never(result, things)])
    if result.shift.low is not None and result.shift.high is not None and result.shift.coverage is not None:
        right = floor(100 * result.shift.coverage + SLACK)
        spread = _from_to(result.shift.low, result.shift.high, unit, more_less)
        nearly = "about " if result.tied else ""
        told.append(
            f"The true difference may be {spread}; a range made in this way is right {nearly}{right} times in 100."
        )
    else:
        told.append(f"No range that is right {100 * result.level:g} times in 100 can be given from so few {things}.")
    luck = f"Luck alone gives a result at least as clear {_how_often(result.chance.p)}"
    by_size = result.chance_by_size
    if by_size is not None and (by_size.p <= LUCK + SLACK) != (result.chance.p <= LUCK + SLACK):
        other = _how_often(by_size.p)
        told.append(f"{luck} counted by order, but {other} counted by size: the two disagree, so take it as open.")
    elif result.chance.p <= LUCK + SLACK:
        told.append(f"{luck}, so it is hardly luck, if it was drawn by lot which {things} went to which side.")
    else:
        told.append(f"{luck}, so this shows no difference. It does not show that there is none.")
    return " ".join(told)


def _size(result: TrialResult, unit: str, sides: tuple[str, str], more_less: tuple[str, str]) -> str:
    first, second = sides
    shift = result.shift.shift
    if _plain(shift) == "0":
        return f"{_opening(second)} came out no different from {first}."
    return f"{_opening(second)} came out {_amount(shift, unit, more_less)} than {first}."


def _never(result: TrialResult, things: str) -> list[str]:
    n, m, luck = result.count_a, result.count_b, _share(result.chance.smallest_p)
    if result.paired:
        least = next(k for k in range(1, 99) if 2 / 2**k <= LUCK)
        who = f"{_number(n)} {_noun(_number(n), 'pairs')}"
        if 2 / 2**n <= LUCK:
            who = "so few pairs that differ at all"
        needed = f"{_opening(_number(least))} pairs that differ are the least that could."
    else:
        least = next(k for k in range(1, 99) if 2 / comb(2 * k, k) <= LUCK)
        who = f"{_number(n)} {_noun(_number(n), things)} {'a side' if n == m else 'against ' + _number(m)}"
        needed = f"{_opening(_number(least))} a side is the least that could."
    if result.chance.smallest_p >= 1:
        return [f"{_opening(who)} can never settle it: luck alone always does as much.", needed]
    chance = f"a chance of {luck}" if luck.startswith("about") else f"a {luck} chance"
    return [f"{_opening(who)} can never settle it: even the clearest result has {chance} of arising by luck.", needed]


def _from_to(low: float, high: float, unit: str, more_less: tuple[str, str]) -> str:
    ends = sorted((low, high), key=abs)
    if low < 0 < high:
        return f"anything from {_amount(low, unit, more_less)} to {_amount(high, unit, more_less)}"
    return f"anything from {_plain(ends[0])} to {_amount(ends[1], unit, more_less)}"


def _amount(shift: float, unit: str, more_less: tuple[str, str]) -> str:
    number = _plain(shift)
    return " ".join(part for part in (number, _noun(number, unit), more_less[shift < 0]) if part)


def _opening(text: str) -> str:
    return text[:1].upper() + text[1:]


def _noun(number: str, plural: str) -> str:
    return plural.removesuffix("s") if number in ("1", "one") and len(plural) > 2 else plural


def _plain(value: float) -> str:
    digits = 2 if abs(value) >= 0.1 else 4
    return f"{abs(value):.{digits}f}".rstrip("0").rstrip(".")


def _how_often(p: float) -> str:
    return "every time" if p >= 1 else f"in {_share(p)} trials"


def _share(p: float) -> str:
    """Return a chance as a grower would say it: "1 in 10", "about 1 in 63", "about 4 in 10"."""
    whole = round(1 / p)
    if abs(p * whole - 1) < 1e-9:
        return f"1 in {whole}"
    if p < 0.2:
        return f"about 1 in {whole}"
    return f"about {round(10 * p)} in 10"


def _number(count: int) -> str:
    words = ["no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"]
    return words[count] if count < len(words) else str(count)


def _range_of(differences: Sequence[float], sums: dict[int, int], level: float) -> Shift:
    """Return the middle of these differences and the range cut off them by an exact count of how they may order."""
    if not 0 < level < 1:
        raise ValueError(f"level {level} is not above 0 and below 1; 0.95 is usual")
    ordered, total = sorted(differences), sum(sums.values())
    cut, outside = 0, 0
    for _, ways in sorted(sums.items()):
        if 2 * (outside + ways) > (1 - level) * total * (1 + SLACK):
            break
        cut, outside = cut + 1, outside + ways
    middle = float(median(ordered))
    if cut == 0:
        return Shift(middle, None, None, None)
    return Shift(middle, float(ordered[cut - 1]), float(ordered[-cut]), 1 - 2 * outside / total)


def _any_tied(values: Sequence[float]) -> bool:
    return len(set(doubled_ranks(values))) < len(values)
