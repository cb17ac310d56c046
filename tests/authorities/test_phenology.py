"""Chill then heat on real records: dated stages of the package pyPhenology (MIT), weather of the package aquacrop."""

from __future__ import annotations

import csv
import importlib.util
import sys
from datetime import date, timedelta
from functools import lru_cache
from pathlib import Path
from statistics import fmean
from types import ModuleType

import numpy as np
import pytest

from advisor.calc.chill_then_heat import Season, stage_day
from advisor.calc.degree_days import single_sine_degree_days
from advisor.calc.forecast import forecast_stage, what_would_change
from advisor.calc.requirement import Requirement

BENCH = Path(__file__).resolve().parents[1] / "bench" / "phenology.py"
METRICS = ("chill days", "degree-days above 5 °C")


@pytest.fixture(scope="module")
def bench() -> ModuleType:
    spec = importlib.util.spec_from_file_location("phenology_bench", BENCH)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["phenology_bench"] = module  # dataclasses look their module up
    spec.loader.exec_module(module)
    return module


def package_folder(name: str) -> Path:
    spec = importlib.util.find_spec(name)
    if spec is None or not spec.submodule_search_locations:
        pytest.skip(f"the package {name} is not installed")
    return Path(next(iter(spec.submodule_search_locations))) / "data"


def by_hand(stage: int, chill_days: int, base_c: float) -> tuple[float, float]:
    """Return the errors of model and mean date on the blueberry record, written apart from the product's code.

    Day by day in plain Python, in days of the year.
    """
    folder = package_folder("pyPhenology")
    with (folder / "vaccinium_obs.csv").open() as lines:
        rows = [row for row in csv.DictReader(lines) if int(row["phenophase"]) == stage]
    seen = {year: [int(r["doy"]) for r in rows if r["year"] == year] for year in sorted({r["year"] for r in rows})}
    with (folder / "vaccinium_temperature.csv").open() as lines:
        means = {(row["year"], int(row["doy"])): float(row["temperature"]) for row in csv.DictReader(lines)}

    def heat_by_day(year: str) -> dict[int, float]:
        cold, total, found = 0, 0.0, {}
        for doy in range(-65, 298):
            if cold >= chill_days:
                total += max(0.0, means[year, doy] - base_c)
            else:
                cold += 0 <= means[year, doy] <= 7.2
            found[doy] = total
        return found

    heats = {year: heat_by_day(year) for year in seen}
    needs = {year: fmean((heats[year][d] + heats[year][d - 1]) / 2 for d in days) for year, days in seen.items()}
    model, plain = [], []
    for year, days in seen.items():
        need = fmean(needs[other] for other in seen if other != year)
        told = next(doy for doy, heat in heats[year].items() if heat >= need)
        usual = fmean(fmean(seen[other]) for other in seen if other != year)
        model += [abs(told - day) for day in days]
        plain += [abs(usual - day) for day in days]
    return fmean(model), fmean(plain)


@pytest.mark.parametrize("stage", [371, 501])
@pytest.mark.parametrize(("chill_days", "base_c"), [(33, 5.0), (0, 0.0), (40, 4.0)])
def test_errors_on_blueberry_agree_with_a_count_by_hand(
    bench: ModuleType, stage: int, chill_days: int, base_c: float
) -> None:
    """Model and mean date miss each year, foretold from the others, by what a plain count gives."""
    seen = bench.read(package_folder("pyPhenology"), "vaccinium", "vaccinium_temperature.csv")[stage]
    fit = bench.fitted(seen, chill_days, base_c)
    assert (fit.model_error_days, fit.mean_date_error_days) == pytest.approx(by_hand(stage, chill_days, base_c))


def test_the_model_beats_the_mean_date_on_blueberry(bench: ModuleType) -> None:
    """At one place over twelve years: 3.7 days beside 5.8 for leaf buds, 2.6 beside 5.6 for flowers."""
    record = bench.read(package_folder("pyPhenology"), "vaccinium", "vaccinium_temperature.csv")
    for stage, gained_days in ((371, 1.5), (501, 2.5)):
        fit = bench.fitted(record[stage], bench.CHILL_DAYS, bench.BASE_C)
        assert fit.better is True
        assert fit.mean_date_error_days - fit.model_error_days > gained_days


def test_one_requirement_for_many_places_is_not_better(bench: ModuleType) -> None:
    """On aspen from 32° to 49° one heat sum loses to the mean date in spring and autumn, and the fit says so."""
    record = bench.read(package_folder("pyPhenology"), "aspen", "aspen_temperature.csv.gz")
    for stage, chill, first in ((371, bench.CHILL_DAYS, -65), (501, bench.CHILL_DAYS, -65), (498, 0.0, 1)):
        fit = bench.fitted([each for each in record[stage] if each.day_of_year <= 300], chill, bench.BASE_C, first)
        assert fit.better is False
        assert fit.verdict.startswith("not better than the mean date")


def test_the_command_prints_every_stage(bench: ModuleType, capsys: pytest.CaptureFixture[str]) -> None:
    """Each plant and stage of the record has its errors and its reading."""
    package_folder("pyPhenology")
    bench.main()
    said = capsys.readouterr().out
    for name in ("blueberry, breaking leaf buds", "blueberry, open flowers", "aspen, coloured leaves"):
        assert name in said
    assert said.count("chill then heat") == said.count("mean date   ") == said.count("than the mean date, because")


@lru_cache(maxsize=4)
def seasons(warmer_k: float = 0.0) -> tuple[Season, ...]:
    """Return champion (Nebraska) 1982-2018 as seasons from 1 November, chill from the daily mean, heat by single sine."""
    rows = [line.split() for line in (package_folder("aquacrop") / "champion_climate.txt").read_text().splitlines()[1:]]
    days = {
        date(int(row[2]), int(row[1]), int(row[0])): (float(row[3]) + warmer_k, float(row[4]) + warmer_k)
        for row in rows
        if len(row) >= 5
    }
    found = []
    for year in range(1982, 2018):
        first = date(year, 11, 1)
        span = [days[first + timedelta(days=n)] for n in range(300)]
        found.append(
            Season(
                first,
                tuple(float(0 <= (low + high) / 2 <= 7.2) for low, high in span),
                tuple(single_sine_degree_days(low, high, 5.0) for low, high in span),
                *METRICS,
            )
        )
    return tuple(found)


def so_far(season: Season, days: int) -> Season:
    return Season(season.first_day, season.chill[:days], season.heat[:days], *METRICS)


@pytest.mark.parametrize("known_days", [60, 121, 150])
def test_eight_years_in_ten_fall_within_the_range(known_days: int) -> None:
    """Thirty-six years each forecast from the others: dates drawn from the requirement's range fall within 10 to 90 %.

    Expected are 80 %; with whole days counted in and 36 years, 70 to 97 % is what chance allows (binomial, two sd, and
    up to 5 % for the dates on the ends).
    """
    years, random = seasons(), np.random.default_rng(7)
    need = Requirement(20, 30, 150, 210, *METRICS, "invented")
    within = []
    for season in years:
        found = forecast_stage(so_far(season, known_days), need, [each for each in years if each is not season])
        truth = stage_day(season, float(random.normal(25, 2.5)), float(random.normal(180, 15)))
        assert truth is not None
        assert found.low is not None
        assert found.high is not None
        within.append(found.low <= truth <= found.high)
    assert 0.70 <= fmean(within) <= 0.97


def test_the_range_narrows_as_the_season_goes_on() -> None:
    """Averaged over the years, April's range is narrower than January's."""
    years = seasons()
    need = Requirement(20, 30, 150, 210, *METRICS, "invented")

    def width(known_days: int) -> float:
        found = [forecast_stage(so_far(each, known_days), need, [o for o in years if o is not each]) for each in years]
        return fmean((each.high - each.low).days for each in found if each.high and each.low)

    assert width(61) > width(121) > width(166)


def test_real_springs_answer_to_warmth() -> None:
    """A tenth more heat, or a week 3 K warmer once the chill is met, brings the stage forward by days, not weeks."""
    years, warm = seasons(), seasons(3.0)
    need = Requirement(20, 20, 150, 210, *METRICS, "invented")
    found = what_would_change(so_far(years[0], 150), need, years[1:], warm[1:])
    assert found.more_heat_days is not None
    assert found.less_heat_days is not None
    assert found.warm_week_days is not None
    assert -5 < found.more_heat_days < 0 < found.less_heat_days < 6
    assert -6 < found.warm_week_days < 0
