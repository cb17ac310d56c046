"""Small trials: exact chances of luck, shifts with their ranges, and the sentences told of them."""

from __future__ import annotations

from itertools import combinations, product
from math import comb
from statistics import fmean, median

import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.calc.exact_counts import (
    MOST_A_SIDE,
    Chance,
    counted_sums,
    doubled_ranks,
    permutation_chance,
    rank_sum_chance,
    shuffled_chance,
    sign_chance,
    sign_flip_chance,
    signed_rank_chance,
)
from advisor.calc.trials import (
    TrialResult,
    compare_pairs,
    compare_sides,
    hodges_lehmann_shift,
    in_words,
    one_value_a_plant,
    paired_shift,
    shift_figure,
)

# quarters, so that sums and shifted values are exact in binary
quarters = st.integers(-200, 200).map(lambda n: n / 4)
sides = st.lists(quarters, min_size=1, max_size=6)
thirds = st.lists(st.integers(-9, 9).map(lambda n: n / 3), min_size=1, max_size=5)


def listed_permutation_p(a: list[float], b: list[float]) -> float:
    """Every division written out, as a check on counting by sums."""
    values, seen = [*a, *b], abs(fmean(a) - fmean(b))
    hits = 0
    for chosen in combinations(range(len(values)), len(a)):
        one = [values[i] for i in chosen]
        other = [values[i] for i in range(len(values)) if i not in chosen]
        hits += abs(fmean(one) - fmean(other)) >= seen - 1e-9
    return hits / comb(len(values), len(a))


@pytest.mark.parametrize("n", [1, 2, 3, 4, 5])
def test_the_smallest_chances_are_combinations(n: int) -> None:
    """Two divisions of C(2n, n) are the clearest there are (combinatorics): .333, .1, .0286, .0079 from 2 a side on."""
    a, b = [float(k) for k in range(n)], [100.0 + k for k in range(n)]
    for chance in (permutation_chance(a, b), rank_sum_chance(a, b)):
        assert chance.p == chance.smallest_p == 2 / comb(2 * n, n)


@given(thirds, thirds)
def test_counting_by_sums_is_listing_every_division(a: list[float], b: list[float]) -> None:
    """Also with ties and with thirds, which no decimals hold exactly."""
    assert permutation_chance(a, b).p == pytest.approx(listed_permutation_p(a, b), abs=1e-12)


@given(st.lists(st.integers(-9, 9).map(lambda n: n / 3), min_size=1, max_size=7))
def test_counting_signs_is_listing_every_sign(differences: list[float]) -> None:
    """The sign-flip count and the signed-rank count agree with all 2^n patterns written out."""
    flips = [fmean(s * d for s, d in zip(signs, differences, strict=True)) for signs in _signs(len(differences))]
    seen = abs(fmean(differences))
    wanted = sum(abs(flip) >= seen - 1e-9 for flip in flips) / len(flips)
    assert sign_flip_chance(differences).p == pytest.approx(wanted, abs=1e-12)
    kept = [d for d in differences if d]
    ranks = [r / 2 for r in doubled_ranks([abs(d) for d in kept])]
    v = sum(r for r, d in zip(ranks, kept, strict=True) if d > 0)
    sums = [sum(r for r, s in zip(ranks, signs, strict=True) if s > 0) for signs in _signs(len(kept))]
    tail = min(sum(s >= v for s in sums), sum(s <= v for s in sums)) / len(sums)
    found = signed_rank_chance(differences)
    assert (found.statistic, found.p) == (v, pytest.approx(min(1, 2 * tail)))


def test_means_that_are_equal_but_for_the_last_digit_count_as_equal() -> None:
    """Means of three and of seven readings give sums that tie only within rounding; they are ties all the same."""
    a, b = [35 / 21, 63 / 21, 7 / 21], [24 / 21, 6 / 21, 18 / 21]
    assert permutation_chance(a, b).p == listed_permutation_p(a, b) == 0.4


def test_ten_a_side_of_any_values_are_counted() -> None:
    """Twenty values without two equal sums, the worst case, are still counted in full: 184 756 divisions."""
    values = [2.0 ** (n / 3) * n**0.7 for n in range(1, 21)]
    chance = permutation_chance(values[::2], values[1::2])
    assert chance.p == pytest.approx(shuffled_chance(values[::2], values[1::2], seed=5).p, abs=0.02)
    assert permutation_chance(values[:10], values[10:]).p == 2 / comb(20, 10)


def test_pairs_without_a_difference_or_alike_are_ties() -> None:
    """One nought among the differences, or two of one size, make the range approximate."""
    assert compare_pairs([0.0, 1, 2, 3, 4, 5, 6]).tied
    assert compare_pairs([-2.0, 1, 2, 3, 4, 5, 6]).tied
    assert not compare_pairs([1.0, 2, 3, 4, 5, 6]).tied


def _signs(n: int) -> list[tuple[int, ...]]:
    return list(product((1, -1), repeat=n))


@given(sides, sides)
def test_swapping_sides_turns_the_shift_and_nothing_else(a: list[float], b: list[float]) -> None:
    """The comparison of B with A is that of A with B, turned round."""
    one, other = compare_sides(a, b), compare_sides(b, a)
    assert other.shift.shift == -one.shift.shift
    assert one.shift.coverage == other.shift.coverage
    if one.shift.low is not None and one.shift.high is not None:
        assert (other.shift.low, other.shift.high) == (-one.shift.high, -one.shift.low)
    assert other.chance.p == pytest.approx(one.chance.p, abs=1e-12)
    assert one.chance_by_size and other.chance_by_size
    assert other.chance_by_size.p == pytest.approx(one.chance_by_size.p, abs=1e-12)


@given(sides, sides, quarters)
def test_a_constant_moves_only_the_shift(a: list[float], b: list[float], constant: float) -> None:
    """Added to all values it changes nothing; added to one side it moves shift and range by itself."""
    one = compare_sides(a, b)
    assert compare_sides([x + constant for x in a], [x + constant for x in b]).shift == one.shift
    assert compare_sides([x + constant for x in a], [x + constant for x in b]).chance.p == one.chance.p
    moved = hodges_lehmann_shift(a, [x + constant for x in b])
    assert moved.shift == one.shift.shift + constant
    assert moved.coverage == one.shift.coverage
    if one.shift.low is not None and one.shift.high is not None:
        assert (moved.low, moved.high) == (one.shift.low + constant, one.shift.high + constant)


@given(sides, sides)
def test_every_chance_lies_between_the_smallest_and_one(a: list[float], b: list[float]) -> None:
    """No result is clearer than the design allows, nor more likely than certain."""
    chances = [permutation_chance(a, b), rank_sum_chance(a, b), rank_sum_chance(a, b, a_is_greater=True)]
    chances += [sign_chance(a), sign_flip_chance(a), signed_rank_chance(a), signed_rank_chance(a, above_zero=True)]
    for chance in chances:
        assert 0 < chance.smallest_p - 1e-15 <= chance.p <= 1


@given(sides, sides)
def test_the_shift_is_the_middle_difference_inside_its_range(a: list[float], b: list[float]) -> None:
    """The Hodges-Lehmann shift is the median of all b - a, and a range, where there is one, holds it."""
    found = hodges_lehmann_shift(a, b)
    assert found.shift == median(y - x for x in a for y in b)
    if found.low is not None and found.high is not None and found.coverage is not None:
        assert found.low <= found.shift <= found.high
        assert found.coverage >= 0.95


@given(st.lists(st.integers(0, 10**6), min_size=4, max_size=12, unique=True), st.data())
def test_the_range_is_what_the_test_does_not_refuse(values: list[int], data: st.DataObject) -> None:
    """Without ties: taking the shift's lower end off side b, less a little, makes a chance under 5 %, and not inside."""
    cut = data.draw(st.integers(2, len(values) - 2))
    a, b = [float(v) for v in values[:cut]], [float(v) for v in values[cut:]]
    found = hodges_lehmann_shift(a, b)
    if found.low is None or found.high is None:
        assert rank_sum_chance(a, b).smallest_p > 0.05
        return
    assert rank_sum_chance(a, [y - found.low + 0.25 for y in b]).p <= 0.05
    assert rank_sum_chance(a, [y - found.high - 0.25 for y in b]).p <= 0.05
    if len({y - x for x in a for y in b}) == len(a) * len(b) and found.low < found.high:
        assert rank_sum_chance(a, [y - found.low - 0.25 for y in b]).p > 0.05


def test_the_coverage_is_attained() -> None:
    """Over all orders of eight values, the 4 v 4 range [d(1), d(16)] misses a shift of none in 2 of 70."""
    missed = 0
    for chosen in combinations(range(8), 4):
        a = [float(i) for i in chosen]
        b = [float(i) for i in range(8) if i not in chosen]
        found = hodges_lehmann_shift(a, b)
        assert found.low is not None and found.high is not None
        assert found.coverage == pytest.approx(68 / 70)
        missed += not found.low <= 0 <= found.high
    assert missed == 2


def test_the_paired_coverage_is_attained() -> None:
    """Over all signs of eight sizes the paired range misses zero as often as it says."""
    sizes = [1.0, 2.0, 4.0, 8.0, 16.0, 32.0, 64.0, 128.0]
    missed = 0
    for signs in _signs(8):
        found = paired_shift([s * d for s, d in zip(signs, sizes, strict=True)])
        assert found.low is not None and found.high is not None and found.coverage is not None
        missed += not found.low <= 0 <= found.high
    assert 1 - missed / 256 == pytest.approx(found.coverage)


@pytest.mark.parametrize(("n", "exists"), [(3, False), (4, True)])
def test_too_few_a_side_have_no_range(n: int, exists: bool) -> None:
    """At 95 in 100 three a side have no range at all, and four have one; at 90 in 100 three have."""
    a, b = [float(k) for k in range(n)], [10.0 + k for k in range(n)]
    assert (hodges_lehmann_shift(a, b).low is not None) is exists
    assert hodges_lehmann_shift([0, 1, 2], [10, 11, 12], level=0.9).coverage == pytest.approx(0.9)
    assert paired_shift([1.0, 2.0, 3.0, 4.0, 5.0]).low is None
    assert paired_shift([1.0, 2.0, 3.0, 4.0, 5.0, 6.0]).coverage == pytest.approx(1 - 2 / 64)


def test_equal_values_share_their_rank() -> None:
    """Mean ranks, doubled; thirds that differ only in the last bit are equal."""
    assert doubled_ranks([5.0, 1.0, 5.0, 2.0]) == [7, 2, 7, 4]
    assert doubled_ranks([0.1 + 0.2, 0.3]) == [3, 3]
    assert doubled_ranks([0.0, 0.0]) == [3, 3]
    assert doubled_ranks([]) == []


def test_all_equal_is_all_luck() -> None:
    """Where every value is the same, luck always does as much, and pairs without a difference say nothing."""
    assert permutation_chance([2, 2, 2], [2, 2, 2]).p == 1
    assert rank_sum_chance([2, 2, 2], [2, 2, 2]).p == 1
    assert sign_chance([0.0, 0.0]) == Chance(0.0, 1.0, 1.0)
    assert signed_rank_chance([0.0, 0.0]) == Chance(0.0, 1.0, 1.0)
    assert sign_flip_chance([0.0, 0.0]) == Chance(0.0, 1.0, 1.0)


def test_one_sided_is_asked_for_by_name() -> None:
    """The one-sided chance of the clearest 3 v 3 result is 1 in 20, of the opposite result 1."""
    assert rank_sum_chance([4, 5, 6], [1, 2, 3], a_is_greater=True).p == 1 / 20
    assert rank_sum_chance([1, 2, 3], [4, 5, 6], a_is_greater=True).p == 1


def test_readings_of_one_pot_are_one_value() -> None:
    """Twenty readings of three pots stay three values, so that three a side stay unable to settle anything."""
    readings = [(f"pot {n % 3}", float(n % 3)) for n in range(20)]
    values = one_value_a_plant(readings)
    assert values == {"pot 0": 0.0, "pot 1": 1.0, "pot 2": 2.0}
    assert rank_sum_chance(list(values.values()), [7, 8, 9]).smallest_p == pytest.approx(0.1)


def test_large_sides_are_counted_or_refused() -> None:
    """Thirty a side of whole days are counted exactly; where sums are too many shuffles are named instead."""
    days_a, days_b = [float(n % 7) for n in range(30)], [float(n % 9 + 1) for n in range(30)]
    assert 0 < permutation_chance(days_a, days_b).p < 0.05
    rough = [2.0**0.5 * n**1.5 for n in range(1, 31)]
    with pytest.raises(
        ValueError, match="30 and 30 plants have too many different sums to count; use ranks or shuffles"
    ):
        permutation_chance(rough, [x + 0.01 * n for n, x in enumerate(rough)])
    with pytest.raises(ValueError, match="30 pairs have too many different sums"):
        sign_flip_chance(rough)
    result = compare_sides(rough, [x + 0.01 * n for n, x in enumerate(rough)])
    assert result.chance_by_size is None and 0 < result.chance.p <= 1
    assert compare_pairs(rough).chance_by_size is None


def test_few_sums_are_counted_at_any_size() -> None:
    """All ways to take 5 of ten equal numbers lead to one sum."""
    assert counted_sums((3,) * 10, 5) == {15: comb(10, 5)}
    assert counted_sums((1, 2, 3)) == {0: 1, 1: 1, 2: 1, 3: 2, 4: 1, 5: 1, 6: 1}


def test_shuffles_come_near_the_full_count_and_repeat() -> None:
    """20 000 shuffles lie within 0.005 of the exact chance, over five standard errors, and one seed gives one answer."""
    a, b = [12.0, 15, 11, 14, 13], [16.0, 18, 15, 17, 19]
    found = shuffled_chance(a, b, seed=1)
    assert found.p == pytest.approx(permutation_chance(a, b).p, abs=0.005)
    assert found == shuffled_chance(a, b, seed=1)
    assert found.p != shuffled_chance(a, b, seed=2).p or found.statistic == -4.0
    assert found.smallest_p == 1 / 20_001


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: permutation_chance([], [1.0]), "side a: no values; want at least one"),
        (lambda: compare_sides([1.0], []), "side b: no values"),
        (lambda: compare_pairs([]), "differences: no values"),
        (lambda: compare_sides([1.0, float("nan")], [1.0]), "side a: nan is not a finite number; leave out a plant"),
        (lambda: one_value_a_plant([("pot", float("inf"))]), "readings of pot: inf is not a finite number"),
        (lambda: rank_sum_chance([1.0] * (MOST_A_SIDE + 1), [1.0]), "31 plants a side are more than the 30"),
        (lambda: paired_shift([1.0] * (MOST_A_SIDE + 1)), "31 pairs are more than the 30"),
        (lambda: hodges_lehmann_shift([1.0], [2.0], level=95), "level 95 is not above 0 and below 1; 0.95 is usual"),
        (lambda: shuffled_chance([1.0], [2.0], seed=1, shuffles=10), "10 shuffles are too few"),
    ],
)
def test_what_is_refused_is_named(call, sentence: str) -> None:  # type: ignore[no-untyped-def]
    """Each refusal says what was given, what is wrong and what is wanted."""
    with pytest.raises(ValueError) as refused:
        call()
    assert sentence in str(refused.value)


FIVE = compare_sides([12, 15, 11, 14, 13], [16, 18, 15, 17, 19])
EIGHT = compare_pairs([1.1, 0.4, 1.7, 0.9, -0.2, 1.3, 0.6, 0.8])


@pytest.mark.parametrize(
    ("result", "things", "said"),
    [
        (
            compare_sides([1, 2, 3], [4, 5, 6]),
            "pots",
            "Side B came out 3 days later than side A. Three pots a side can never settle it: even the clearest result"
            " has a 1 in 10 chance of arising by luck. Four a side is the least that could.",
        ),
        (
            compare_sides([5, 6], [1, 2, 3]),
            "figs",
            "Side B came out 3.5 days earlier than side A. Two figs against three can never settle it: even the clearest"
            " result has a 1 in 5 chance of arising by luck. Four a side is the least that could.",
        ),
        (
            compare_sides([5, 6], [1, 2, 3, 4, 5]),
            "figs",
            "Side B came out 2.5 days earlier than side A. Two figs against five can never settle it: even the clearest"
            " result has a chance of about 1 in 10 of arising by luck. Four a side is the least that could.",
        ),
        (
            compare_sides([5], [5]),
            "figs",
            "Side B came out no different from side A. One fig a side can never settle it: luck alone always does as"
            " much. Four a side is the least that could.",
        ),
        (
            FIVE,
            "figs",
            "Side B came out 4 days later than side A. The true difference may be anything from 1 to 7 days later; a"
            " range made in this way is right about 96 times in 100. Luck alone gives a result at least as clear in"
            " 1 in 63 trials, so it is hardly luck, if it was drawn by lot which figs went to which side.",
        ),
        (
            EIGHT,
            "figs",
            "Side B came out 0.85 days later than side A. The true difference may be anything from 0.3 to 1.3 days"
            " later; a range made in this way is right 96 times in 100. Luck alone gives a result at least as clear in"
            " 1 in 64 trials, so it is hardly luck, if it was drawn by lot which figs went to which side.",
        ),
        (
            compare_sides([1, 3, 5, 7], [2, 4, 6, 8]),
            "figs",
            "Side B came out 1 day later than side A. The true difference may be anything from 5 days earlier to 7 days"
            " later; a range made in this way is right 97 times in 100. Luck alone gives a result at least as clear"
            " in about 7 in 10 trials, so this shows no difference. It does not show that there is none.",
        ),
        (
            compare_pairs([1.0, 2, 3, 4, 5]),
            "figs",
            "Side B came out 3 days later than side A. Five pairs can never settle it: even the clearest result has a 1"
            " in 16 chance of arising by luck. Six pairs that differ are the least that could.",
        ),
        (
            compare_pairs([0.0, 0, 3, 4, 5, 6, 7]),
            "figs",
            "Side B came out 3.5 days later than side A. So few pairs that differ at all can never settle it: even the"
            " clearest result has a 1 in 16 chance of arising by luck. Six pairs that differ are the least that could.",
        ),
    ],
)
def test_a_result_in_plain_words(result: TrialResult, things: str, said: str) -> None:
    """The sentences say how large, how sure, how likely luck is, and what would settle it."""
    assert in_words(result, "days", things, more_less=("later", "earlier")) == said


@given(sides, sides)
def test_no_sentence_uses_the_jargon_or_claims_too_much(a: list[float], b: list[float]) -> None:
    """Whatever came out, the words are a grower's, and a likely fluke is never called a difference."""
    result = compare_sides(a, b)
    said = in_words(result, "°C").casefold()
    for word in ("hypothesis", "significan", "p-value", "confidence", "reject", "null", "nan", "inf"):
        assert word not in said
    assert ("hardly luck" in said) <= (result.chance.p <= 0.05)
    assert ("never settle" in said) == (result.chance.smallest_p > 0.05)


@pytest.mark.parametrize(
    ("a", "b", "by_order", "by_size"),
    [
        ([1.0, 1, 2, 2, 5], [3.0, 3, 10, 11, 14], "1 in 42", "1 in 18"),
        ([2.0, 2, 3, 4, 8], [6.0, 7, 7, 7, 12], "about 1 in 11", "about 1 in 25"),
    ],
)
def test_two_counts_that_disagree_leave_it_open(a: list[float], b: list[float], by_order: str, by_size: str) -> None:
    """Where one count falls under 5 % and the other does not, both are told and neither is picked."""
    said = in_words(compare_sides(a, b), "days")
    assert f"{by_order} trials counted by order, but in {by_size} trials counted by size" in said
    assert said.endswith("the two disagree, so take it as open.")
    assert "hardly luck" not in said


def test_a_figure_carries_the_range_or_says_that_there_is_none() -> None:
    """The wider half of the range is the width; without a range the figure has none and says why."""
    assert shift_figure(FIVE, "days").told() == "4.0 ± 3.0 days (Hodges-Lehmann shift)"
    assert "approximate" in shift_figure(FIVE, "days").caution
    assert shift_figure(EIGHT, "days").method == "paired Hodges-Lehmann shift"
    without = shift_figure(compare_sides([1, 2, 3], [4, 5, 6]), "days")
    assert without.plus_minus is None
    assert without.caution == "no interval at the 95% level exists"
