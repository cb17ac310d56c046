"""The shared check values of bud hardiness, frost nights and freeze dates, each within its own tolerance."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from datetime import date
from importlib.util import find_spec
from pathlib import Path
from statistics import NormalDist

import pytest
from check_values import HERE, NOT_HERE, Row, rows_of

from advisor.calc.critical_temperature import critical
from advisor.calc.freeze_dates import at_least_once, spring_freezes
from advisor.calc.humidity import dew_point_c, frost_point_c, wet_bulb_c
from advisor.calc.night import Night, air_only_fit, joint_fit, predicted_min, two_step_fit
from advisor.calc.night_hours import reached_after_h, trend_c
from advisor.records.hardiness import load_hardiness

TOP = Path(__file__).resolve().parents[2]
Values = list[float | None]


def rows() -> list[Row]:
    """The rows of our topics; one empty row stands for them where the table is not there."""
    return rows_of("frost") or [{}]


def named(inputs: str) -> dict[str, float]:
    """Read "T=10;Td=2" as names and numbers, leaving out what is none."""
    found = re.findall(r"(\w+)=(-?[\d.]+)(?=;|$|\s|:)", inputs)
    return {name: float(number) for name, number in found}


def nights(row: Row) -> list[Night]:
    """The published ten nights, from the row that lists them."""
    listed = row if "T0=3.2," in row["inputs"] else next(r for r in rows() if "T0=3.2," in r["inputs"])
    columns = [[float(x) for x in part.split("=")[1].split(",")] for part in listed["inputs"].split(";")]
    return [Night(*night) for night in zip(*columns, strict=True)]


def hardiness(row: Row) -> Values:
    kind, words, _ = (part.strip() for part in row["inputs"].split(";"))
    entry = load_hardiness(TOP / "rules").buds[kind.replace(" ", "-")]
    stage = next(stage for stage in entry.stages if stage.words == words)
    at = critical(entry, stage.bbch_from)
    assert at.stage == words
    return [at.kill10_f, at.kill90_f]


def fit(row: Row) -> Values:
    two, joint, air = (make(nights(row)) for make in (two_step_fit, joint_fit, air_only_fit))
    if "two-step" in row["topic"]:
        return [two.on_air, two.on_dew, two.constant_c]
    if "one-step" in row["topic"]:
        return [joint.on_air, joint.on_dew, joint.constant_c]
    return [air.on_air, air.constant_c]


def predict(row: Row) -> Values:
    told = named(row["inputs"])
    return [predicted_min(two_step_fit(nights(row)), told["T0"], told["Td"]).value]


def trend(row: Row) -> Values:
    start, low = (float(re.findall(rf"{name}=(-?[\d.]+)", row["inputs"])[0]) for name in ("T0", "Tp"))
    fahrenheit = "degF" in row["units"]
    after = (1, 7, 13) if fahrenheit else range(1, 14)
    return [trend_c(start, low, 13, hour) for hour in after]  # a linear scale: °F goes through as it is


def trend_time(row: Row) -> Values:
    told = named(row["inputs"])
    return [reached_after_h(told["T0"], told["Tp"], told["H"], 0.0)]


def dew(row: Row) -> Values:
    told = named(row["inputs"])
    dew_c = dew_point_c(told["T"], told["RH"])
    return [dew_c, frost_point_c(dew_c)] if "frost point" in row["topic"] else [dew_c]


def wet(row: Row) -> Values:
    told = named(row["inputs"])
    dew_c = told["Td"] if "Td" in told else dew_point_c(told["T"], told["RH"])
    return [wet_bulb_c(told["T"], dew_c, 101.325)]


def freeze(row: Row) -> Values:
    found = re.search(r"(\w+_climate\.txt) .*Tmin<=(-?[\d.]+); (\d+) years, (\d+) with", row["inputs"])
    assert found is not None
    spec = find_spec("aquacrop")
    if spec is None or spec.origin is None:
        pytest.skip("aquacrop, whose climate files these are, is not installed")
    minima = {}
    for line in (Path(spec.origin).parent / "data" / found[1]).read_text(encoding="utf-8").splitlines()[1:]:
        day, month, year, min_c = line.split()[:4]
        minima[date(int(year), int(month), int(day))] = float(min_c)
    dates = spring_freezes(minima, 45.0, float(found[2]))
    assert (dates.years, dates.with_freeze) == (int(found[3]), int(found[4]))
    return [dates.mean_day, dates.sd_days, *(risk.day for risk in dates.risks)]


def recurrence(row: Row) -> Values:
    return [at_least_once(0.1, 10)]


def quantile(row: Row) -> Values:
    return [NormalDist().inv_cdf(1 - named(row["inputs"])["p"])]


CHECKS: dict[str, Callable[[Row], Values]] = {
    "5 critical bud temperature": hardiness,
    "6 FAO two-step fit": fit,
    "6 FAO one-step OLS": fit,
    "6 FAO T-only fit": fit,
    "6 FAO two-step predict": predict,
    "6 frost night trend": trend,
    "6 frost night trend F": trend,
    "6 frost trend time": trend_time,
    "6 dew point": dew,
    "6 dew vs frost point": dew,
    "6 wet bulb": wet,
    "6 wet bulb psychrometric": wet,
    "7 freeze climatology": freeze,
    "7 freeze recurrence": recurrence,
    "7 normal quantile": quantile,
}


@pytest.mark.skipif(not HERE, reason=NOT_HERE)
@pytest.mark.parametrize("row", rows(), ids=lambda row: f"{row.get('topic')}: {row.get('inputs')}"[:70])
def test_a_shared_check_value(row: Row) -> None:
    """What the row's inputs give lies within the row's own tolerance, and a gap is a gap."""
    wanted = json.loads(row["expected"])
    wanted = wanted if isinstance(wanted, list) else [wanted]
    found = CHECKS[row["topic"]](row)
    assert len(found) == len(wanted)
    for ours, theirs in zip(found, wanted, strict=True):
        if theirs is None:
            assert ours is None
        else:
            assert ours == pytest.approx(theirs, abs=float(row["tolerance"]), rel=0)
