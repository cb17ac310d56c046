"""Soil heat and small trials against the project's table of check values, each row within its own tolerance."""

from __future__ import annotations

import json
import re
import tomllib
from pathlib import Path

import pytest
from check_values import NOT_HERE, Row, rows_of

from advisor.calc.cover_effect import CoverEffect
from advisor.calc.exact_counts import (
    Chance,
    permutation_chance,
    rank_sum_chance,
    sign_chance,
    sign_flip_chance,
    signed_rank_chance,
)
from advisor.calc.soil_heat import (
    MEASURED_RANGE_M2_S,
    YEAR_H,
    DayWave,
    amplitude_ratio,
    daily_mean_from_reading,
    damped_soil_temperature_c,
    damping_depth_cm,
    depth_of_share_cm,
    diffusivity_from_amplitudes_m2_s,
    diffusivity_from_lag_m2_s,
    diffusivity_range_m2_s,
    lag_h,
)
from advisor.calc.trials import Shift, hodges_lehmann_shift, paired_shift

ROOT = Path(__file__).resolve().parents[2]
SIX = ([8.1, 7.4, 9.0, 8.6, 7.9, 8.3], [9.2, 8.8, 9.9, 9.5, 8.7, 10.1])  # the row calls it "6 v 6 set above"
NUMBER = r"-?\d+(?:\.\d+)?(?:e-?\d+)?"


def numbers(text: str) -> list[float]:
    return [float(n) for n in re.findall(NUMBER, text)]


def after(name: str, inputs: str) -> list[float]:
    """Return the numbers that follow ``name=``, as in "A=1,2,3; B=4,5,6"."""
    found = re.search(rf"\b{name}\s*=\s*({NUMBER}(?:,\s*{NUMBER})*)", inputs)
    assert found, f"{name} is not in {inputs!r}"
    return numbers(found[1])


def one(name: str, inputs: str) -> float:
    (value,) = after(name, inputs)
    return value


def two_sides(inputs: str) -> tuple[list[float], list[float]]:
    return SIX if inputs.startswith("6 v 6") else (after("A", inputs), after("B", inputs))


def numbers_of(found: Chance) -> list[float]:
    return [found.statistic, found.p]


def whole(found: Shift) -> list[float]:
    assert found.low is not None and found.high is not None and found.coverage is not None
    return [found.shift, found.low, found.high, found.coverage]


def printed_mean(inputs: str) -> list[float]:
    """Return what the data file of cover effects holds for a cover, or for the bare soil beside them all."""
    raw = tomllib.loads((ROOT / "rules" / "cover_effects.toml").read_text(encoding="utf-8"))["effect"]
    effects = [CoverEffect(**{k: tuple(v) if isinstance(v, list) else v for k, v in e.items()}) for e in raw]
    iowa = [e for e in effects if "Iles & Dosmann" in e.source and e.temp_c is not None]
    name = inputs.split(";")[0]
    if name == "bare control":
        (bare,) = {e.against_c for e in iowa}
        assert bare is not None
        return [bare]
    (temp_c,) = [e.temp_c for e in iowa if e.named.rstrip("s") == name]
    assert temp_c is not None
    return [temp_c]


def published_sides(inputs: str) -> tuple[list[float], list[float]]:
    first, second = inputs.split(";")[0].split(":")[1].split(" v ")
    return numbers(first), numbers(second)


def paired_row(inputs: str) -> list[float]:
    d = after("d", inputs)
    chances = [signed_rank_chance(d).p, sign_chance(d).p, sign_flip_chance(d).p]
    return chances + whole(paired_shift(d))


def smallest_row(inputs: str) -> list[float]:
    assert inputs == "sign test n=5; n=6; two-sample 2v2,3v3,4v4,5v5"
    signs = [sign_chance([1.0] * n).smallest_p for n in (5, 6)]
    return signs + [permutation_chance([0.0] * n, [1.0] * n).smallest_p for n in (2, 3, 4, 5)]


def exact_wave(inputs: str) -> DayWave:
    amplitude, diffusivity = one("A0", inputs), one("alpha", inputs)
    hottest = numbers(inputs.split("surface max")[1])[0]
    return DayWave((amplitude, amplitude), (diffusivity, diffusivity), (hottest, hottest))


def spot(inputs: str) -> float:
    wave = exact_wave(inputs)
    depth = 100 * one("z", inputs)
    return damped_soil_temperature_c(
        one("Tm", inputs), wave.amplitude_k[0], one("hour", inputs), depth, wave.diffusivity_m2_s[0], wave.hottest_h[0]
    )


def spot_to_mean(inputs: str) -> float:
    read, depth_m, hour = numbers(inputs)[:3]
    return daily_mean_from_reading(read, hour, 100 * depth_m, exact_wave(inputs)).value


def by_amplitudes(inputs: str) -> float:
    (shallow, deep), (swing, less) = after("z", inputs), after("A", inputs)
    return diffusivity_from_amplitudes_m2_s(100 * shallow, 100 * deep, swing, less)


def by_lag(inputs: str) -> float:
    shallow, deep = after("z", inputs)
    return diffusivity_from_lag_m2_s(100 * shallow, 100 * deep, numbers(inputs.split("lag")[1])[0])


def measured(inputs: str) -> float:
    """A measured soil: its m2 a day in m2/s, which our ranges for clay and for an unknown soil must hold."""
    found = numbers(inputs.split("cm,")[1])[0] / 86400
    for low, high in (diffusivity_range_m2_s("clay"), MEASURED_RANGE_M2_S):
        assert low <= found <= high
    return found


def yearly(inputs: str) -> float:
    found = damping_depth_cm(one("alpha", inputs), YEAR_H) / 100
    assert depth_of_share_cm(0.05, one("alpha", inputs), YEAR_H) / 100 == pytest.approx(4.245, abs=0.001)
    return found


OURS = {
    "8 damping depth daily": lambda inputs: [damping_depth_cm(one("alpha", inputs)) / 100],
    "8 damping depth annual": lambda inputs: [yearly(inputs)],
    "8 wave at 10 cm": lambda inputs: [
        f(100 * one("z", inputs), one("alpha", inputs)) for f in (amplitude_ratio, lag_h)
    ],
    "8 spot reading": lambda inputs: [spot(inputs)],
    "8 spot to daily mean": lambda inputs: [spot_to_mean(inputs)],
    "8 alpha from amplitudes": lambda inputs: [by_amplitudes(inputs)],
    "8 alpha from lag": lambda inputs: [by_lag(inputs)],
    "8 alpha measured": lambda inputs: [measured(inputs)],
    "8 mulch effect PUBLISHED": printed_mean,
    "10 exact permutation": lambda inputs: numbers_of(permutation_chance(*two_sides(inputs))),
    "10 Hodges-Lehmann B-A": lambda inputs: whole(hodges_lehmann_shift(*two_sides(inputs))),
    "10 rank-sum PUBLISHED data": lambda inputs: numbers_of(
        rank_sum_chance(*published_sides(inputs), a_is_greater=True)
    ),
    "10 signed-rank PUBLISHED data": lambda inputs: numbers_of(
        signed_rank_chance(
            [x - y for x, y in zip(after("x", inputs), after("y", inputs), strict=True)], above_zero=True
        )
    ),
    "10 paired n=8": paired_row,
    "10 smallest possible p": smallest_row,
}


def expected(text: str) -> list[float]:
    """Return a row's numbers in order, whether one, a list or named."""
    found = json.loads(text)
    if isinstance(found, dict):
        found = [n for value in found.values() for n in (value if isinstance(value, list) else [value])]
    return found if isinstance(found, list) else [found]


ROWS = rows_of("soil")


ABSENT = pytest.mark.skipif(not ROWS, reason=NOT_HERE)


@ABSENT
def test_every_topic_of_the_table_is_covered() -> None:
    """No topic of these sections is left out, and none is tested that the table no longer has."""
    assert {row["topic"] for row in ROWS} == set(OURS)


@ABSENT
@pytest.mark.parametrize(
    "row", ROWS or [{}], ids=[f"{row['topic']}: {row['inputs'][:40]}" for row in ROWS] or ["no table"]
)
def test_row(row: Row) -> None:
    """Each row's value comes out within the tolerance that it names."""
    wanted, found = expected(row["expected"]), OURS[row["topic"]](row["inputs"])
    tolerance = float(row["tolerance"].removeprefix("rel "))
    relative = row["tolerance"].startswith("rel ")
    assert len(found) == len(wanted)
    for ours, theirs in zip(found, wanted, strict=True):
        if relative:
            assert ours == pytest.approx(theirs, rel=tolerance, abs=0)
        else:
            assert ours == pytest.approx(theirs, abs=tolerance, rel=0)
