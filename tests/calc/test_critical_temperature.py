"""Bud kill temperatures: what is looked up, what is interpolated, and where nothing is said."""

from __future__ import annotations

from dataclasses import dataclass

import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.calc.critical_temperature import Critical, Share, celsius, critical, new_growth_alert, share_killed


@dataclass(frozen=True)
class Stage:
    words: str
    bbch_from: int
    bbch_to: int
    kill10_f: float
    kill90_f: float | None


@dataclass(frozen=True)
class Kind:
    id: str
    stages: tuple[Stage, ...]
    source: str = "a bulletin"


APRICOT = Kind(
    "apricot",
    (
        Stage("first swelling", 51, 51, 15, None),
        Stage("tips separate", 53, 53, 20, 0),
        Stage("first white", 57, 57, 24, 14),
        Stage("first bloom", 60, 61, 25, 19),
        Stage("full bloom", 65, 65, 27, 22),
    ),
)
BLOOM = Critical("apple", 65, "full bloom", 28, 25)
temperatures = st.floats(-30, 10)
stages = st.tuples(st.integers(-5, 28), st.integers(1, 20)).map(lambda t: Critical("any", 60, "x", t[0], t[0] - t[1]))


def test_28_f_is_minus_2_22_c() -> None:
    """The published unit is kept and converted once: 28 °F is -2.22 °C, by definition of the scale."""
    at = critical(APRICOT, 65)
    assert (at.kill10_f, at.kill90_f) == (27, 22)
    assert at.kill10_c == pytest.approx(-2.7778, abs=1e-4)
    assert celsius(28) == pytest.approx(-2.2222, abs=1e-4)


def test_a_published_stage_gives_its_own_values() -> None:
    """Every code a stage stands at gives that stage, and none in between."""
    for code in (60, 61):
        at = critical(APRICOT, code)
        assert (at.stage, at.kill10_f, at.kill90_f, at.between, at.unknown) == ("first bloom", 25, 19, (), "")


def test_between_two_stages_the_tenderer_stands() -> None:
    """Nothing is interpolated over stages: the tenderer neighbour's own values are given, and both are named."""
    at = critical(APRICOT, 63)
    assert (at.stage, at.kill10_f, at.kill90_f) == ("full bloom", 27, 22)
    assert at.between == ("first bloom", "full bloom")
    falling = Kind("made up", (Stage("one", 50, 50, 25, 20), Stage("two", 60, 60, 25, 18)))
    assert critical(falling, 55).stage == "one"


@pytest.mark.parametrize(
    ("code", "said"),
    [(0, "before first swelling"), (50, "before first swelling"), (66, "after full bloom"), (99, "after")],
)
def test_outside_the_published_stages_nothing_is_said(code: int, said: str) -> None:
    """Dormant buds and fruit have no values but a reason, and the share killed is not known."""
    at = critical(APRICOT, code)
    assert (at.kill10_c, at.kill90_c) == (None, None)
    assert said in at.unknown
    assert share_killed(-10, at).words == "not known"
    with pytest.raises(ValueError, match="no critical temperature for apricot"):
        at.figure()


def test_a_gap_stays_a_gap() -> None:
    """Where no 90 % point is published, colder than the 10 % point is more than a tenth and no more is said."""
    at = critical(APRICOT, 51)
    assert at.kill90_c is None and "not published" in at.unknown
    assert share_killed(celsius(16), at) == Share(0.0, 0.1)
    assert share_killed(celsius(15), at) == Share(0.1, 0.1)
    low = share_killed(celsius(-20), at)
    assert (low.words, low.why) == ("more than a tenth", "the 90 % point at first swelling is not published")


def test_both_points_give_their_shares_exactly() -> None:
    """28 °F kills a tenth and 25 °F nine tenths, after conversion to °C and back."""
    assert share_killed(celsius(28), BLOOM).least == pytest.approx(0.1, abs=1e-12)
    assert share_killed(celsius(25), BLOOM).most == pytest.approx(0.9, abs=1e-12)


def test_beyond_the_points_only_bounds_are_said() -> None:
    """No share is extrapolated: warmer is under a tenth, colder over nine tenths, however cold."""
    assert share_killed(5, BLOOM) == share_killed(celsius(28.1), BLOOM) == Share(0.0, 0.1)
    assert share_killed(-40, BLOOM) == share_killed(celsius(24.9), BLOOM) == Share(0.9, 1.0)


def test_half_an_hour_is_the_least_that_kill_is_claimed_for() -> None:
    """For a shorter frost the lower bound is nothing and the reason is given; half an hour counts."""
    short = share_killed(celsius(24), BLOOM, minutes=29)
    assert (short.least, short.most) == (0.0, 1.0)
    assert "30 minutes" in short.why
    assert share_killed(celsius(26.5), BLOOM, minutes=10).words == "at most 50%"
    assert share_killed(celsius(24), BLOOM, minutes=30).least == 0.9


def test_the_middle_of_published_samples_is_near_their_own_50_percent() -> None:
    """University samples of 18 March 2013 have 50 % points of 15.5 and 16.7 °F of their own: met within 0.04."""
    for ten, fifty, ninety in ((20.4, 15.5, 10.3), (23.8, 16.7, 8.7)):
        assert share_killed(celsius(fifty), Critical("sample", 51, "x", ten, ninety)).least == pytest.approx(
            0.5, abs=0.04
        )


@given(stages, st.floats(1e-6, 1 - 1e-6))
def test_the_curve_is_near_a_straight_line(at: Critical, along: float) -> None:
    """Between the points the share differs from plain linear by less than 0.04."""
    assert at.kill10_f is not None and at.kill90_f is not None
    temp_f = at.kill10_f - along * (at.kill10_f - at.kill90_f)
    found = share_killed(celsius(temp_f), at)
    assert found.least == found.most
    assert abs(found.least - (0.1 + 0.8 * along)) < 0.04


@given(stages, temperatures, st.floats(0, 10), st.floats(0, 3))
def test_a_colder_night_never_kills_less(at: Critical, temp_c: float, colder_k: float, width_k: float) -> None:
    """Both bounds only rise as the night gets colder, however wide it is known."""
    warm = share_killed(temp_c, at, temp_plus_minus_k=width_k)
    cold = share_killed(temp_c - colder_k, at, temp_plus_minus_k=width_k)
    assert cold.least >= warm.least and cold.most >= warm.most
    assert 0 <= warm.least <= warm.most <= 1


@given(stages, temperatures, st.floats(0, 3))
def test_a_vaguer_night_gives_wider_bounds(at: Critical, temp_c: float, width_k: float) -> None:
    """The bounds of an uncertain temperature hold those of a certain one."""
    sure, vague = share_killed(temp_c, at), share_killed(temp_c, at, temp_plus_minus_k=width_k)
    assert vague.least <= sure.least <= sure.most <= vague.most


@pytest.mark.parametrize(
    ("share", "words"),
    [
        (Share(0.0, 0.1), "less than a tenth"),
        (Share(0.9, 1.0), "more than nine tenths"),
        (Share(0.0, 0.4), "at most 40%"),
        (Share(0.4, 1.0), "at least 40%"),
        (Share(0.4, 0.4), "about 40%"),
        (Share(0.2, 0.6), "20% to 60%"),
        (Share(0.0, 1.0), "not known"),
    ],
)
def test_a_share_is_put_in_words(share: Share, words: str) -> None:
    """Each shape of bounds has its words."""
    assert share.words == words


def test_the_figure_names_stage_and_width() -> None:
    """The 10 % point reaches a person with its stage, a width and a caution."""
    figure = BLOOM.figure()
    assert figure.told() == "-2.2 ± 0.6 °C (10 % bud kill in half an hour, apple, full bloom)"
    assert "average" in figure.caution


def test_new_growth_has_levels_not_shares() -> None:
    """At or below each level, and exactly at it, the word changes."""
    assert [new_growth_alert(t, 0.0, celsius(28)) for t in (0.1, 0.0, -2.2, celsius(28), -9)] == [
        "none", "alert", "alert", "damage", "damage",
    ]  # fmt: skip


def test_bad_input_is_named() -> None:
    """What cannot be is refused in words."""
    with pytest.raises(ValueError, match="BBCH code 100"):
        critical(APRICOT, 100)
    with pytest.raises(ValueError, match="has no stages"):
        critical(Kind("empty", ()), 60)
    with pytest.raises(ValueError, match="temperature nan"):
        share_killed(float("nan"), BLOOM)
    with pytest.raises(ValueError, match="half-width of 0 or more"):
        share_killed(0, BLOOM, temp_plus_minus_k=-1)
    with pytest.raises(ValueError, match="exposure of -1"):
        share_killed(0, BLOOM, minutes=-1)
    with pytest.raises(ValueError, match="is not a number"):
        new_growth_alert(float("inf"), 0, -2)
    with pytest.raises(ValueError, match="must be below the alert level"):
        new_growth_alert(0, -2, 0)
