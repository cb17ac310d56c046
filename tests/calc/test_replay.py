"""Replayed years: what must hold of any weather, any spot and any kind, and what is kept of them.

The weather is made here from a year's wave and seeded noise; requirements and cultivars are invented.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace as changed
from datetime import date, timedelta
from math import pi, sin
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.calc import replay_years
from advisor.calc.calendar import growing_year, growing_year_start
from advisor.calc.chill_then_heat import stage_day
from advisor.calc.day_curve import Day, hourly_curve
from advisor.calc.heat import curvilinear_growing_degree_hours
from advisor.calc.kept_years import GROWING_DEGREE_HOURS
from advisor.calc.kind_course import Course, tender_buds, tender_growth
from advisor.calc.replay import DAYS, DRAWS, HEAT_NEED, NIGHTS, deviates, replay_year, season_at, year_figures
from advisor.calc.replay_years import KeptReplays, ReplayYear, between_nodes, end_of
from advisor.calc.replays import replay
from advisor.calc.requirement import Requirement
from advisor.calc.spot_climate import LIKE_THE_STATION, Lie, Offset, SpotClimate, spot_climate
from advisor.config import find_rules
from advisor.records.hardiness import load_hardiness

LATITUDE = 47.0
BUDS = load_hardiness(find_rules()).buds
CHILL = "chill portions"


def weather(
    seed: int, years: int = 3, latitude_deg: float = LATITUDE, mean_c: float = 8.0
) -> dict[int, tuple[Day, ...]]:
    """Return growing years of days: a year's wave, spells of some days, days wide and narrow."""
    chance = np.random.default_rng(seed)
    first = growing_year_start(2001, latitude_deg)
    found: dict[int, list[Day]] = {}
    spell = 0.0
    for n in range((growing_year_start(2001 + years, latitude_deg) - first).days):
        day = first + timedelta(days=n)
        coldest = 20 if latitude_deg >= 0 else 202
        spell = 0.8 * spell + chance.normal(0, 2.8)
        mean = mean_c - 11 * sin(2 * pi * (day.timetuple().tm_yday - coldest) / 365 + pi / 2) + spell
        half = chance.uniform(1.0, 8.0)
        found.setdefault(growing_year(day, latitude_deg), []).append((day, mean - half, mean + half))
    return {year: tuple(days) for year, days in found.items()}


def ready(seed: int, **how: Any) -> list[ReplayYear]:
    return KeptReplays().years(weather(seed, **how), how.get("latitude_deg", LATITUDE))


def need(heat_low: float = 2600.0, heat_high: float = 3400.0, chill: tuple[float, float] = (25.0, 45.0)) -> Requirement:
    return Requirement(*chill, heat_low, heat_high, CHILL, GROWING_DEGREE_HOURS, "invented")


def course(kind: str = "apricot", **needs: Any) -> Course:
    return Course(need(**needs), tender_buds(BUDS[kind]))


def spot(colder_k: float = 0.0, warmer_k: float = 0.0, width_k: float = 0.0) -> SpotClimate:
    parts = [Offset(middle - width_k, middle, middle + width_k, "invented") for middle in (colder_k, warmer_k)]
    return SpotClimate(*parts)


SEEDS = st.integers(0, 60)
COLDER = st.floats(-2.0, 4.0)
WARMER = st.floats(-3.0, 8.0)


# ---- what must hold of any weather


@settings(max_examples=40, deadline=None)
@given(SEEDS, COLDER, st.floats(0.0, 5.0), st.sampled_from(sorted(BUDS)))
def test_a_colder_spot_by_night_never_loses_less_at_the_same_stages(
    seed: int, colder_k: float, more_k: float, kind: str
) -> None:
    """With the stages held, nights that are colder throughout never lower any draw's damage."""
    kept = KeptReplays()
    (year, *_) = kept.years(weather(seed, years=1), LATITUDE)
    held = year.heat(GROWING_DEGREE_HOURS).copy()
    year._heats[GROWING_DEGREE_HOURS] = np.tile(
        held[between_nodes(np.zeros(1), np.zeros(1)).rows[0, 0]], (len(held), 1)
    )
    one = replay_year(year, spot(colder_k), course(kind), kept)
    other = replay_year(year, spot(colder_k + more_k), course(kind), kept)
    assert (one.first_flower == other.first_flower).all()
    assert one.killed is not None and other.killed is not None and one.at_most is not None and other.at_most is not None
    assert (other.killed >= one.killed).all()
    assert (other.at_most >= one.at_most).all()


@settings(max_examples=40, deadline=None)
@given(SEEDS, COLDER, st.integers(90, 220), st.floats(0.1, 15.0))
def test_one_colder_night_never_loses_less_at_the_same_stages(
    seed: int, colder_k: float, which: int, drop_k: float
) -> None:
    """With the stages held, one night made colder at the station never lowers any draw's damage at any spot."""
    kept = KeptReplays()
    (year, *_) = kept.years(weather(seed, years=1), LATITUDE)
    low = year.min_c.copy()
    low[which] -= drop_k
    frosty = changed(year, min_c=low, serial=-1)
    frosty._heats[GROWING_DEGREE_HOURS] = year.heat(GROWING_DEGREE_HOURS)
    one, other = (replay_year(each, spot(colder_k), course(), kept) for each in (year, frosty))
    assert one.killed is not None and other.killed is not None
    assert (one.first_flower == other.first_flower).all()
    assert (other.killed >= one.killed).all()


@settings(max_examples=40, deadline=None)
@given(SEEDS, COLDER, WARMER, st.floats(0, 1500), st.floats(0, 1500), st.floats(0, 20), st.sampled_from(sorted(BUDS)))
def test_a_later_cultivar_never_has_more_frost_years(
    seed: int, colder_k: float, warmer_k: float, more_low: float, more_high: float, more_chill: float, kind: str
) -> None:
    """Whatever the spot: a cultivar that needs more, at either end of its ranges, blooms no earlier and loses no more."""
    kept = KeptReplays()
    years = kept.years(weather(seed), LATITUDE)
    early = course(kind, heat_low=2000.0, heat_high=2600.0, chill=(20.0, 40.0))
    high = 2600 + more_high
    low = min(2000 + more_low, high)
    late = course(kind, heat_low=low, heat_high=high, chill=(20.0 + more_chill / 2, 40.0 + more_chill))
    climate = spot(colder_k, warmer_k, 1.0)
    one, other = (replay(years, climate, each, kept) for each in (early, late))
    assert (other.bloom_by_draw >= one.bloom_by_draw).all()
    assert one.frost_by_draw is not None and other.frost_by_draw is not None
    assert (other.frost_by_draw <= one.frost_by_draw).all()
    assert one.frost_years is not None and other.frost_years is not None
    assert all(later <= earlier for later, earlier in zip(other.frost_years, one.frost_years, strict=True))


@settings(max_examples=40, deadline=None)
@given(SEEDS, COLDER, WARMER, st.floats(0.0, 6.0), st.floats(0.0, 3.0))
def test_more_heat_never_delays(seed: int, colder_k: float, warmer_k: float, more_k: float, milder_k: float) -> None:
    """A spot with warmer days, or milder nights, reaches every stage no later, in every draw; hot days included."""
    kept = KeptReplays()
    years = kept.years(weather(seed, mean_c=14.0), LATITUDE)
    for year in years:
        one = replay_year(year, spot(colder_k, warmer_k, 0.5), course(chill=(0.0, 10.0)), kept)
        for warm in (spot(colder_k, warmer_k + more_k, 0.5), spot(colder_k - milder_k, warmer_k, 0.5)):
            other = replay_year(year, warm, course(chill=(0.0, 10.0)), kept)
            for name in ("chill_met", "swelling", "first_flower", "full_bloom", "fruit"):
                assert (getattr(other, name) <= getattr(one, name)).all(), name


@settings(max_examples=20, deadline=None)
@given(SEEDS, st.sampled_from([Lie(), Lie(True), Lie(False, "upper", sun_h=8.0), Lie(warm_wall=True, sun_h=9.0)]))
def test_spots_equal_in_all_things_are_equal(seed: int, lie: Lie) -> None:
    """Two spots told alike have the same dates and counts, reckoned apart."""
    one, other = (replay(ready(seed), spot_climate(lie), course(), KeptReplays()) for _ in range(2))
    assert (one.bloom, one.frost_years, one.worst) == (other.bloom, other.frost_years, other.worst)
    assert (one.bloom_by_draw == other.bloom_by_draw).all()


@settings(max_examples=30, deadline=None)
@given(SEEDS, st.floats(1200, 4500), st.floats(0, 50))
def test_without_ranges_it_is_chill_then_heat(seed: int, heat: float, chill: float) -> None:
    """At the station, with one figure each for chill and heat, the first flower is where ``stage_day`` puts it."""
    for year in ready(seed, years=2):
        exact = course(heat_low=heat, heat_high=heat, chill=(chill, chill))
        season = season_at(year, LIKE_THE_STATION, CHILL, GROWING_DEGREE_HOURS)
        wanted = stage_day(season, chill, heat)
        found = replay_year(year, LIKE_THE_STATION, exact, KeptReplays())
        assert set(found.first_flower.tolist()) == {(wanted - year.first_day).days if wanted else year.days}
        assert year_figures(year, LIKE_THE_STATION, exact, KeptReplays()).first_flower == wanted


@settings(max_examples=10, deadline=None)
@given(SEEDS)
def test_the_south_lives_half_a_year_later(seed: int) -> None:
    """A garden in the south has its bloom in its own spring, counted in its own growing years."""
    north, south = ready(seed), ready(seed, latitude_deg=-LATITUDE)
    one, other = (replay(years, LIKE_THE_STATION, course(), KeptReplays()) for years in (north, south))
    assert len(one.years) == len(other.years) == 3
    figures = year_figures(south[0], LIKE_THE_STATION, course(), KeptReplays())
    assert figures.first_flower is not None and figures.first_flower.month in (8, 9, 10, 11)


# ---- heat between the nodes, draws


@pytest.mark.parametrize(
    ("colder_k", "warmer_k"), [(0, 0), (1.0, 0.5), (-1.0, 2.5), (3.0, -1.5), (5.0, 4.5), (0.0, 9.0)]
)
def test_heat_between_nodes_is_near_that_of_the_spot_s_own_curve(colder_k: float, warmer_k: float) -> None:
    """Up to the end of April, what lies between the nodes is within 1.5 % of hours made for that spot alone, or 10 GDH."""
    for year in ready(7, years=2):
        low = year.min_c - colder_k * year.clear_nights
        high = np.maximum(year.max_c + warmer_k * year.clear_days, low)
        hours = hourly_curve(
            [(year.day(n), float(a), float(b)) for n, (a, b) in enumerate(zip(low, high, strict=True))], LATITUDE
        )
        exact = np.cumsum(np.asarray(curvilinear_growing_degree_hours(hours)).sum(axis=1))
        between = between_nodes(np.array([float(colder_k)]), np.array([float(warmer_k)]))
        found = between.of(year.heat(GROWING_DEGREE_HOURS))[0]
        assert found[120:181] == pytest.approx(exact[120:181], rel=0.015, abs=10.0)


def test_draws_are_seeded_and_spread_evenly() -> None:
    """The draws are the same each time; each row has one in every 64th part of its distribution, about nought."""
    first = deviates().copy()
    deviates.cache_clear()
    assert (deviates() == first).all()
    assert first.mean(axis=1) == pytest.approx(np.zeros(6), abs=1e-9)
    assert np.abs(np.corrcoef(first) - np.eye(6)).max() < 0.35
    assert first.shape == (6, DRAWS)


def test_the_range_that_matters_is_named() -> None:
    """Where only the nights are in doubt, they alone move the count."""
    years = ready(11, years=12)
    exact = course(heat_low=2800.0, heat_high=2800.0, chill=(30.0, 30.0))
    doubtful = SpotClimate(Offset(-1.0, 1.0, 4.0, "judged"), Offset(0.0, 0.0, 0.0, "measured", measured=True))
    found = replay(years, doubtful, exact, KeptReplays())
    assert found.moved_by(NIGHTS) > 1.0
    assert found.moved_by(NIGHTS) > 2 * max(found.moved_by(DAYS), found.moved_by(HEAT_NEED))
    high, low = found.frost_ends(NIGHTS)
    assert high > low


# ---- growth, fruit, what is not known


def test_green_growth_counts_nights_at_its_level() -> None:
    """For a kind with a level and no table, a frost year has a night at or below it after waking, counted by hand."""
    waking = Course(need(1500, 1500, (20, 20)), tender_growth(-2.0, "invented"), waking=True)
    years = ready(5, years=8)
    found = replay(years, LIKE_THE_STATION, waking, KeptReplays())
    count = 0
    for year in years:
        awake = year_figures(year, LIKE_THE_STATION, waking, KeptReplays()).first_flower
        assert awake is not None
        count += any(year.min_c[n] <= -2.0 for n in range(year.days) if year.day(n) > awake)
    assert found.frost_years == (count, count, count)
    assert found.worst in ("", "new growth")


@pytest.mark.parametrize(("days_after", "hurt"), [(-1, False), (0, False), (1, True), (2, True)])
def test_a_night_finds_the_stage_of_the_evening_before(days_after: int, hurt: bool) -> None:
    """Frost at the dawn of the day on which a tree wakes finds it asleep; a day later it finds it awake."""
    waking = Course(need(1500, 1500, (20, 20)), tender_growth(-2.0, "invented"), waking=True)
    (year, *_) = ready(5)
    awake = int(replay_year(year, LIKE_THE_STATION, waking, KeptReplays()).first_flower[0])
    low = np.full(year.days, 5.0)
    low[awake + days_after] = -4.0
    frosty = changed(year, min_c=low, serial=-1)
    frosty._heats[GROWING_DEGREE_HOURS] = year.heat(GROWING_DEGREE_HOURS)
    found = replay_year(frosty, LIKE_THE_STATION, waking, KeptReplays())
    assert found.killed is not None and set((found.killed >= 0.5).tolist()) == {hurt}
    assert found.night is not None and set(found.night.tolist()) == {awake + days_after if hurt else -1}


def test_fruit_ripens_before_the_spot_s_own_first_freeze() -> None:
    """Days from small fruit are held against the first autumn night of frost, at the station and in a colder spot."""
    years = ready(3, years=6)
    ripening = Course(need(1500, 1500, (20, 20)), None, (100.0, 100.0), 2.0, waking=True)
    counts = []
    for colder_k in (0.0, 6.0):
        found = replay(years, spot(colder_k), ripening, KeptReplays())
        by_hand = known = 0
        for year in years:
            fruit = year_figures(year, spot(colder_k), ripening, KeptReplays()).fruit
            autumn = year.autumn
            if autumn is None or autumn.missing > 3:
                continue  # the last year ends in October
            known += 1
            low = autumn.min_c - colder_k * autumn.clear
            first = next((n for n, low_c in zip(autumn.ordinals, low, strict=True) if low_c <= 0), autumn.ordinals[-1])
            by_hand += fruit is not None and fruit.toordinal() + 100 <= first
        assert (found.ripe_of, found.ripe_years) == (known, (by_hand, by_hand, by_hand))
        counts.append(by_hand)
    assert known == 5 and counts[1] <= counts[0]


def test_what_is_not_published_is_not_counted() -> None:
    """Without a table there is no count of frost years, without days to ripe none of ripe years, and no damage."""
    years = ready(3)
    bare = Course(need())
    found = replay(years, LIKE_THE_STATION, bare, KeptReplays())
    assert (found.frost_years, found.ripe_years, found.ripe_of, found.moved_by(NIGHTS)) == (None, None, 0, 0.0)
    assert found.bloom is not None
    assert year_figures(years[0], LIKE_THE_STATION, bare, KeptReplays()).killed is None
    hidden = Course(need(), None, (90.0, 120.0), None, waking=True)
    assert replay(years, LIKE_THE_STATION, hidden, KeptReplays()).ripe_years is None


def test_chill_that_is_never_met_brings_no_bloom() -> None:
    """A need for more chill than the winters give leaves every year without a date, and without frost damage."""
    years = ready(3)
    found = replay(years, LIKE_THE_STATION, course(chill=(900.0, 1000.0)), KeptReplays())
    assert (found.chill_met_share, found.bloom, found.frost_years) == (0.0, None, (0, 0, 0))


def test_no_whole_year_is_said() -> None:
    """Years that end in spring are no replay."""
    days = {2002: weather(1, years=2)[2002][:170]}
    years = KeptReplays().years(days, LATITUDE)
    assert [year.whole for year in years] == [False]
    with pytest.raises(ValueError, match="no growing year is recorded"):
        replay(years, LIKE_THE_STATION, course(), KeptReplays())


# ---- which years count, and what is kept


def test_gaps_and_late_starts_leave_a_year_out() -> None:
    """A year that begins late, or with six days missing in a row, is left out; with five it stays, filled."""
    by_year = weather(2)
    days = by_year[2002]
    late = {2002: days[1:]}
    gap = {2002: (*days[:100], *days[106:])}
    small = {2002: (*days[:100], *days[105:])}
    assert [len(KeptReplays().years(each, LATITUDE)) for each in (late, gap, small)] == [0, 0, 1]
    (year,) = KeptReplays().years(small, LATITUDE)
    assert year.min_c[100:105].tolist() == pytest.approx([(days[99][1] + days[105][1]) / 2] * 5)
    assert year.day(year.days - 1) == end_of(2002, LATITUDE)


@pytest.fixture
def counted() -> Iterator[KeptReplays]:
    yield KeptReplays()


def test_a_new_day_makes_one_year_anew(counted: KeptReplays) -> None:
    """Asked again, nothing is reckoned; a day more, and only the year it falls in; the rest are the same objects."""
    by_year = weather(4, years=6)
    last = max(by_year)
    earlier = {**by_year, last: by_year[last][:-30]}
    lies = [spot_climate(lie) for lie in (Lie(), Lie(True), Lie(warm_wall=True))]
    before = counted.years(earlier, LATITUDE)
    for climate in lies:
        replay(before, climate, course(), counted)
    reckoned, made = counted.reckoned, counted.years_made
    again = counted.years(earlier, LATITUDE)
    for climate in lies:
        replay(again, climate, course(), counted)
    assert (counted.reckoned, counted.years_made) == (reckoned, made)
    after = counted.years({**by_year, last: by_year[last][:-29]}, LATITUDE)
    assert [one is other for one, other in zip(before, after, strict=True)] == [True] * 5 + [False]
    for climate in lies:
        replay(after, climate, course(), counted)
    assert counted.years_made == made + 1
    assert counted.reckoned == reckoned + 3 * len(lies)  # heat, result and sum of one year at each spot


def test_what_is_kept_is_bounded(counted: KeptReplays, monkeypatch: pytest.MonkeyPatch) -> None:
    """However many gardens and spots are asked about, no store grows past its bound, and results stay right."""
    for name, most in (("MOST_KEPT_YEARS", 4), ("MOST_KEPT_HEATS", 3), ("MOST_KEPT_RESULTS", 10)):
        monkeypatch.setattr(replay_years, name, most)
    for seed in range(4):
        years = counted.years(weather(seed), LATITUDE - seed)
        for colder_k in (0.0, 1.0, 2.0):
            found = replay(years, spot(colder_k), course(), counted)
            fresh = replay(KeptReplays().years(weather(seed), LATITUDE - seed), spot(colder_k), course(), KeptReplays())
            assert (found.bloom, found.frost_years) == (fresh.bloom, fresh.frost_years)
    assert (len(counted._years), len(counted._heats)) == (4, 3)
    assert len(counted._results) <= 10


def test_days_told_in_another_order_or_unit_change_nothing() -> None:
    """Years handed over in another order, and temperatures that went through °F and back, give the same figures."""
    by_year = weather(6)
    turned = dict(reversed(by_year.items()))
    there_and_back = {
        year: tuple((day, ((low * 1.8 + 32) - 32) / 1.8, ((high * 1.8 + 32) - 32) / 1.8) for day, low, high in days)
        for year, days in by_year.items()
    }
    found = [
        replay(KeptReplays().years(each, LATITUDE), spot(1.0, 1.0, 1.0), course(), KeptReplays())
        for each in (by_year, turned, there_and_back)
    ]
    assert len({(one.years, one.bloom, one.frost_years, one.worst) for one in found}) == 1


def test_the_twenty_ninth_of_february_is_no_day_apart() -> None:
    """Dates of years with and without a 29 February compare by their month and day."""
    (leap,) = [year for year in ready(1, years=4) if year.year == 2004]
    (plain,) = [year for year in ready(1, years=4) if year.year == 2003]
    for when in (date(2003, 2, 28), date(2003, 3, 1), date(2003, 5, 5)):
        one = plain.common(np.array([(when - plain.first_day).days]))
        other = leap.common(np.array([(when.replace(year=2004) - leap.first_day).days]))
        assert one.tolist() == other.tolist()
