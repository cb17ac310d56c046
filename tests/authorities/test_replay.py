"""Freezes and frost years on real thirty-year series, counted here a second time without the product's replay.

The series are daily minima and maxima of the package aquacrop (Apache-2.0 licence file; where the data are from is not
documented there): Brussels 1976-2005, with mild springs, and Champion, Nebraska, 1982-2018, with hard winters.
"""

from __future__ import annotations

import importlib.util
from datetime import date, timedelta
from functools import lru_cache
from math import cos, pi
from pathlib import Path
from statistics import NormalDist, fmean
from types import ModuleType

import numpy as np
import pytest

from advisor.calc.calendar import growing_year
from advisor.calc.chill import daily_chill_and_heat
from advisor.calc.day_curve import Day, hourly_curve
from advisor.calc.freeze_dates import spring_freezes
from advisor.calc.kept_years import GROWING_DEGREE_HOURS
from advisor.calc.kind_course import Course, tender_buds
from advisor.calc.replay import deviates, heat_shares, replay_year
from advisor.calc.replay_years import KeptReplays, ReplayYear, between_nodes
from advisor.calc.replays import replay
from advisor.calc.requirement import Requirement
from advisor.calc.spot_climate import LIKE_THE_STATION, Lie, Offset, SpotClimate, spot_climate
from advisor.config import find_rules
from advisor.records.hardiness import load_hardiness

PLACES = {"brussels": (50.8, range(1977, 2006)), "champion": (41.4, range(1983, 2019))}
CHILL_H, HEAT = 600.0, 2600.0
APRICOT = load_hardiness(find_rules()).buds["apricot"]
EXACT = Requirement(CHILL_H, CHILL_H, HEAT, HEAT, "chilling hours", GROWING_DEGREE_HOURS, "invented")


@lru_cache(maxsize=2)
def series(name: str) -> dict[date, tuple[float, float]]:
    spec = importlib.util.find_spec("aquacrop")
    if spec is None or not spec.submodule_search_locations:
        pytest.skip("the package aquacrop is not installed")
    path = Path(next(iter(spec.submodule_search_locations))) / "data" / f"{name}_climate.txt"
    rows = [line.split() for line in path.read_text().splitlines()[1:]]
    return {date(int(r[2]), int(r[1]), int(r[0])): (float(r[3]), float(r[4])) for r in rows if len(r) >= 5}


@lru_cache(maxsize=2)
def years(name: str) -> tuple[ReplayYear, ...]:
    latitude_deg = PLACES[name][0]
    by_year: dict[int, list[Day]] = {}
    for day, (low, high) in sorted(series(name).items()):
        by_year.setdefault(growing_year(day, latitude_deg), []).append((day, low, high))
    found = KeptReplays().years({year: tuple(days) for year, days in by_year.items()}, latitude_deg)
    return tuple(year for year in found if year.whole)


# ---- counted a second time: plain Python, day by day


def heat_of_hour(temp_c: float) -> float:
    if temp_c <= 4 or temp_c >= 36:
        return 0.0
    if temp_c <= 25:
        return 21 / 2 * (1 + cos(pi + pi * (temp_c - 4) / 21))
    return 21 * (1 + cos(pi / 2 + pi / 2 * (temp_c - 25) / 11))


@lru_cache(maxsize=2)
def by_hand(name: str) -> dict[int, tuple[list[date], list[float], list[float], list[float]]]:
    """Return each growing year's days with their chilling hours, heat and minimum, from 1 November to 31 July."""
    latitude_deg, wanted = PLACES[name]
    record = series(name)
    found = {}
    for year in wanted:
        span = [
            date(year - 1, 11, 1) + timedelta(days=n)
            for n in range((date(year, 7, 31) - date(year - 1, 11, 1)).days + 1)
        ]
        hours = hourly_curve([(day, *record[day]) for day in span], latitude_deg).tolist()
        chill = [sum(0 <= round(hour, 6) <= 7.2 for hour in day) for day in hours]
        heat = [sum(map(heat_of_hour, day)) for day in hours]
        found[year] = (span, chill, heat, [record[day][0] for day in span])
    return found


def share_by_hand(temp_c: float, stage: tuple[float, float | None] | None) -> float:
    if stage is None or temp_c * 1.8 + 32 > stage[0] + 1e-9:
        return 0.0
    ten, ninety = stage
    if ninety is None:
        return 0.1
    if temp_c * 1.8 + 32 <= ninety + 1e-9:
        return 0.9
    z = NormalDist().inv_cdf(0.9)
    return NormalDist().cdf(-z + 2 * z * (ten - (temp_c * 1.8 + 32)) / (ten - ninety))


STAGES = (  # from the end of the published stage before: 10 and 90 % points of apricot, °F, copied from the table
    (51, 15.0, None), (52, 20.0, 0.0), (54, 22.0, 9.0), (56, 24.0, 14.0), (58, 25.0, 19.0), (62, 27.0, 22.0),
    (66, 27.0, 24.0), (72, 28.0, 25.0),
)  # fmt: skip


def lost_by_hand(name: str, colder_k: float, shares: dict[int, float]) -> list[int]:
    """Return the years in which one night killed half the apricot's buds at a spot so much colder on every night."""
    lost = []
    for year, (_, chill, heat, minima) in by_hand(name).items():
        cold, gathered, worst = 0.0, 0.0, 0.0
        stage: tuple[float, float | None] | None = None
        for chill_h, heat_h, low in zip(chill, heat, minima, strict=True):
            worst = max(worst, share_by_hand(low - colder_k, stage))  # the stage reached by the evening before
            if cold >= CHILL_H:
                gathered += heat_h
            cold += chill_h
            for code, ten, ninety in STAGES:
                if gathered >= shares[code] * HEAT:
                    stage = (ten, ninety)
        if worst >= 0.5:
            lost.append(year)
    return lost


@pytest.fixture
def cold_every_night(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let an offset show in full on every night and leave the heat alone, so that the count by hand stays plain."""
    for name in PLACES:
        for year in years(name):
            monkeypatch.setitem(year.__dict__, "clear_nights", np.ones(year.days))


@pytest.mark.usefixtures("cold_every_night")
@pytest.mark.parametrize("colder_k", [0.0, 2.0])
@pytest.mark.parametrize("draw", [0, 17, 40])
@pytest.mark.parametrize("name", PLACES)
def test_frost_years_agree_with_a_count_by_hand(name: str, draw: int, colder_k: float) -> None:
    """Year by year, half the buds of an apricot are lost in just the years that a plain loop finds."""
    stages = [code for code, *_ in STAGES]
    shares = dict(zip(stages, heat_shares(tuple(stages))[draw].tolist(), strict=True))
    course = Course(EXACT, tender_buds(APRICOT))
    climate = SpotClimate(Offset(colder_k, colder_k, colder_k, "invented"), LIKE_THE_STATION.warmer)
    kept = KeptReplays()
    found = []
    for year in years(name):
        station = year.heat(GROWING_DEGREE_HOURS)[2 * 13 + 4]  # the node of the station itself
        kept._heats[(year.serial, GROWING_DEGREE_HOURS, climate.key)] = np.tile(station, (len(deviates()[0]), 1))
        one = replay_year(year, climate, course, kept)
        assert one.killed is not None
        if one.killed[draw] >= 0.5 - 1e-6:
            found.append(year.year)
    assert found == lost_by_hand(name, colder_k, shares)


def test_the_counts_are_not_all_or_nothing() -> None:
    """The check above has years of both sorts at both places: at the station in Nebraska, two degrees colder in Brussels."""
    middles = {51: 0.45, 52: 0.525, 54: 0.675, 56: 0.81, 58: 0.915, 62: 1.048, 66: 1.185, 72: 1.6}
    counts = {name: [len(lost_by_hand(name, colder_k, middles)) for colder_k in (0.0, 2.0)] for name in PLACES}
    assert 0 < counts["brussels"][1] < 29 and 0 < counts["champion"][0] < 36
    assert all(here <= colder for here, colder in counts.values())


@pytest.mark.parametrize(("name", "threshold_c"), [(name, t) for name in PLACES for t in (0.0, -2.2)])
def test_freezes_agree_with_a_count_by_hand(name: str, threshold_c: float) -> None:
    """Springs with a freeze on or after 1 April, and their last dates, over the very days that are replayed."""
    by_year: dict[int, date] = {}
    for year, (span, _, _, minima) in by_hand(name).items():
        frozen = [day for day, low in zip(span, minima, strict=True) if low <= threshold_c and day >= date(year, 1, 1)]
        if frozen:
            by_year[year] = frozen[-1]
    found = spring_freezes({day: low for day, (low, _) in series(name).items()}, PLACES[name][0], threshold_c)
    told = {year: day for year, day in found.by_year if year in PLACES[name][1]}
    assert {year: day for year, day in told.items() if day} == by_year
    replayed = {
        year.year: max(
            n for n in range(year.days) if year.min_c[n] <= threshold_c and year.day(n) >= date(year.year, 1, 1)
        )
        for year in years(name)
        if year.year in by_year
    }
    assert {year.year: year.day(replayed[year.year]) for year in years(name) if year.year in replayed} == by_year
    assert sorted(PLACES[name][1]) == [year.year for year in years(name)]


# ---- what was judged on these series


@pytest.mark.parametrize("name", PLACES)
def test_a_wall_s_own_chill_would_hardly_move_bloom(name: str) -> None:
    """Sunny days 2.5 K warmer move the day of the chill by up to eleven days, the first flower by half a day on average.

    So the station's chill stands for every spot: what is met days later in midwinter has lost little heat. In a single
    winter the flower moved by five days.
    """
    chill_days, bloom_days = [], []
    for year in years(name):
        sums = between_nodes(np.zeros(1), np.full(1, 2.5)).of(year.heat(GROWING_DEGREE_HOURS))[0]
        met, bloom = [], []
        for more_k in (0.0, 2.5):
            high = year.max_c + more_k * year.clear_days
            days = [
                (year.day(n), float(low), float(h)) for n, (low, h) in enumerate(zip(year.min_c, high, strict=True))
            ]
            chill = np.cumsum(daily_chill_and_heat(days, year.latitude_deg).portions)
            met.append(int(np.searchsorted(chill, 50.0)))
            bloom.append(int(np.searchsorted(sums, sums[met[-1]] + HEAT)))
        chill_days.append(met[1] - met[0])
        bloom_days.append(bloom[1] - bloom[0])
    assert max(map(abs, chill_days)) <= 11
    assert abs(fmean(bloom_days)) < 0.5 and max(map(abs, bloom_days)) <= 5


def test_utah_units_are_not_met_where_winters_freeze_for_months() -> None:
    """In Nebraska the middle of what apricot is published to need comes by April in no winter by Utah, in all by portions."""
    utah = [year.chill("Utah chill units")[180] >= (834 + 1442) / 2 for year in years("champion")]
    portions = [year.chill("chill portions")[180] >= (30 + 69) / 2 for year in years("champion")]
    assert (sum(utah), sum(portions)) == (0, 36)


def test_what_a_seasoned_grower_would_expect() -> None:
    """Apricots: lost in most springs of Nebraska, worst in the hollow, least on the north bank; safe in mild Brussels.

    By a sunny wall they bloom a week or more before the open bed, on the north bank some days after it.
    """
    apricot = Course(
        Requirement(30, 69, 2624, 3469, "chill portions", GROWING_DEGREE_HOURS, "published"), tender_buds(APRICOT)
    )
    lies = {
        "hollow": Lie(True, cool_facing=False, sun_h=8.0),
        "bed": Lie(False, cool_facing=False, sun_h=8.0),
        "wall": Lie(False, warm_wall=True, cool_facing=False, sun_h=9.0),
        "bank": Lie(False, "upper", cool_facing=True, sun_h=7.0),
    }
    found = {
        name: {spot: replay(years(name), spot_climate(lie), apricot, KeptReplays()) for spot, lie in lies.items()}
        for name in PLACES
    }
    harsh = {spot: one.frost_mean / len(one.years) for spot, one in found["champion"].items()}
    assert harsh["bank"] < harsh["bed"] < harsh["hollow"] and harsh["bed"] < harsh["wall"]
    assert harsh["bed"] > 0.5
    assert all(one.frost_mean / len(one.years) < 0.2 for spot, one in found["brussels"].items() if spot != "hollow")
    for name in PLACES:
        middle = {spot: one.bloom[1] for spot, one in found[name].items() if one.bloom}
        assert 5 <= middle["bed"] - middle["wall"] <= 16
        assert 2 <= middle["bank"] - middle["bed"] <= 10


# ---- recorded bloom


@pytest.fixture(scope="module")
def bench() -> ModuleType:
    path = Path(__file__).resolve().parents[1] / "bench" / "replay.py"
    spec = importlib.util.spec_from_file_location("replay_bench", path)
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize(("stage", "most_days_off", "most_bias"), [(371, 3.5, 0.7), (501, 2.8, 0.7)])
def test_replayed_dates_on_an_open_record(
    bench: ModuleType, stage: int, most_days_off: float, most_bias: float
) -> None:
    """Blueberry over twelve years at one place, each year replayed from the others: nearer than their mean date.

    The errors are worked out here from the dates that the bench returns, apart from its own sums.
    """
    reader = bench.phenology()
    folder = reader.record_folder()
    if folder is None:
        pytest.skip("the package pyPhenology is not installed")
    seen = reader.read(folder, "vaccinium", "vaccinium_temperature.csv")[stage]
    found = bench.replayed(seen, "degree-days above 5 °C", reader.AUTUMN)
    off = [middle - recorded for recorded, _, middle, _, _ in found]
    usual = [mean - recorded for recorded, _, _, _, mean in found]
    assert len(found) == len(seen) == 48
    assert sum(map(abs, off)) / 48 < most_days_off < sum(map(abs, usual)) / 48 - 2
    assert abs(sum(off)) / 48 < most_bias
    told = bench.errors(found)
    assert told["error"] == pytest.approx(sum(map(abs, off)) / 48)
    assert told["bias"] == pytest.approx(sum(off) / 48)
    assert all(low <= middle <= high for _, low, middle, high, _ in found)
