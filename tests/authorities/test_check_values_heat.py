"""Every shared check value on degree-days, day curves, chill and heat, within the tolerance that it names."""

from __future__ import annotations

import ast
import csv
from collections.abc import Callable
from datetime import date, timedelta
from importlib.util import find_spec
from math import acos, asin, atan, cos, degrees, pi, radians, sin, tan
from pathlib import Path

import numpy as np
import pytest
from check_values import NOT_HERE, rows_of

from advisor.calc.chill import NO_CHILL, chilling_hours, dynamic_portions, utah_units
from advisor.calc.day_curve import curve_from_sun, sunset_temperature_c
from advisor.calc.daylight import daylight_h
from advisor.calc.degree_days import (
    double_sine_degree_days,
    simple_average_degree_days,
    single_sine_degree_days,
    single_sine_many,
)
from advisor.calc.heat import curvilinear_growing_degree_hours, linear_growing_degree_hours

SHORT_FORM_H = 0.12  # what the sheet allows between short day-length formulas and the solar position algorithm


ROWS = rows_of("heat")
if not ROWS:
    pytest.skip(NOT_HERE, allow_module_level=True)


def given(row: dict[str, str]) -> dict[str, float]:
    """Return the inputs that are numbers, by name."""
    text = row["inputs"]
    pairs = ast.literal_eval(text).items() if text.startswith("{") else (p.split("=") for p in text.split(";"))
    found = {}
    for name, value in pairs:
        try:
            found[name.strip()] = float(value)
        except (ValueError, TypeError):
            continue
    return found


def spencer_h(latitude_deg: float, day_of_year: float, altitude_deg: float = -0.8333) -> float:
    """Return the day length by Spencer's declination, with which the sheet made its hourly rows."""
    g = 2 * pi * (day_of_year - 1) / 365
    declination = (
        0.006918 - 0.399912 * cos(g) + 0.070257 * sin(g) - 0.006758 * cos(2 * g) + 0.000907 * sin(2 * g)
        - 0.002697 * cos(3 * g) + 0.00148 * sin(3 * g)
    )  # fmt: skip
    latitude = radians(latitude_deg)
    over = (sin(radians(altitude_deg)) - sin(latitude) * sin(declination)) / (cos(latitude) * cos(declination))
    return 2 * degrees(acos(over)) / 15


def forsythe_h(latitude_deg: float, day_of_year: float, below_deg: float) -> float:
    """Return the day length by the model of Forsythe and others."""
    theta = 0.2163108 + 2 * atan(0.9671396 * tan(0.00860 * (day_of_year - 186)))
    phi, latitude = asin(0.39795 * cos(theta)), radians(latitude_deg)
    over = (sin(radians(below_deg)) + sin(latitude) * sin(phi)) / (cos(latitude) * cos(phi))
    return 24 - 24 / pi * acos(over)


def our_day_length_h(latitude_deg: float, day: date) -> float:
    rise, down = daylight_h(day, latitude_deg)
    return down - rise


def short_day_length(formula: Callable[..., float], row: dict[str, str], last: str) -> float:
    """Return a short formula's day length, after asking that the product's lies within the sheet's 0.12 h of it."""
    told = given(row)
    found = formula(told["lat"], told["doy"], told[last])
    ours = our_day_length_h(told["lat"], date(2025, 1, 1) + timedelta(days=told["doy"] - 1))
    assert ours == pytest.approx(float(row["expected"]), abs=SHORT_FORM_H)
    return found


def sine(row: dict[str, str]) -> float:
    told = given(row)
    return single_sine_degree_days(told["tmin"], told["tmax"], told["lower"], told.get("upper"))


def average(row: dict[str, str]) -> float:
    told = given(row)
    return simple_average_degree_days(told["tmin"], told["tmax"], told["lower"])


def double_sine(row: dict[str, str]) -> float:
    told = given(row)
    return double_sine_degree_days(told["tmin"], told["tmax"], told["next_tmin"], told["lower"])


def reference_day_length(row: dict[str, str]) -> float:
    told = dict(part.split("=") for part in row["inputs"].split(";"))
    return our_day_length_h(float(told["lat"]), date.fromisoformat(told["date"]))


def linvill(row: dict[str, str]) -> list[float]:
    told = given(row)
    length = spencer_h(told["lat"], told["doy"])
    curve: list[float] = curve_from_sun([told["tmin"]], [told["tmax"]], [12 - length / 2], [length])[0].tolist()
    assert min(curve) >= told["tmin"]
    return curve


def linvill_sunset(row: dict[str, str]) -> float:
    told = given(row)
    return sunset_temperature_c(told["tmin"], told["tmax"], spencer_h(told["lat"], told["doy"]))


def parton_logan(row: dict[str, str]) -> float:
    pytest.skip("the curve of Parton and Logan is not used here: it does not reach the minimum")


def constant_portions(row: dict[str, str]) -> float:
    temp_c, hours = row["inputs"].removeprefix("T=").removesuffix(" h").split(" for ")
    return dynamic_portions(np.full(int(hours), float(temp_c)))[1].portions


def intermediate(row: dict[str, str]) -> list[float]:
    return [dynamic_portions([6.0] * hours)[1].intermediate for hours in (1, 2, 3, 10)]


def first_portion(row: dict[str, str]) -> list[float]:
    portions, _ = dynamic_portions([6.0] * 100)
    first = int(np.argmax(portions > 0))
    return [first + 1, float(portions[first])]


def steady_level_and_rate(row: dict[str, str]) -> list[float]:
    """Return the level and rate that two hours' intermediate products imply, with no look at the constants."""
    temp_c = float(row["inputs"].removeprefix("T="))
    one, two = (dynamic_portions([temp_c] * hours, NO_CHILL)[1].intermediate for hours in (1, 2))
    kept = two / one - 1
    return [one / (1 - kept), -float(np.log(kept))]


def cycle(row: dict[str, str]) -> float:
    wave = 8 + 8 * np.sin(2 * np.pi * np.arange(24) / 24)
    day = {"15 C": [6] * 16 + [15] * 8, "24 C": [6] * 16 + [24] * 8, "sin(": wave}
    (hours,) = (hours for mark, hours in day.items() if mark in row["inputs"])
    return dynamic_portions(np.tile(hours, 60))[1].portions


def weight(model: Callable[[list[float]], np.ndarray]) -> Callable[[dict[str, str]], float]:
    return lambda row: float(model([given(row)["T"]])[0])


def curvilinear(row: dict[str, str]) -> float:
    told = given(row)
    return curvilinear_growing_degree_hours(told["T"], told["Tb"], told["Tu"], told["Tc"], told["F"])


def linear(row: dict[str, str]) -> float:
    told = given(row)
    return linear_growing_degree_hours(told["T"], told["base"], told["cap"])


def vega(name: str) -> list[dict[str, str]]:
    spec = find_spec("vega_datasets")
    if spec is None or spec.origin is None:
        pytest.skip("vega_datasets is not installed")
    with (Path(spec.origin).parent / "_data" / name).open(newline="") as file:
        return list(csv.DictReader(file))


def seattle_hours(row: dict[str, str]) -> float:
    told = [each for each in vega("seattle-temps.csv") if each["date"][5:7] in ("01", "02", "03")]
    hours = np.array([(float(each["temp"]) - 32) / 1.8 for each in told])
    assert len(hours) == 2159
    models = {
        "CH": lambda: chilling_hours(hours).sum(),
        "Utah": lambda: utah_units(hours).sum(),
        "CP": lambda: dynamic_portions(hours)[1].portions,
        "GDH asym": lambda: curvilinear_growing_degree_hours(hours).sum(),
    }
    return float(models[row["inputs"].split("): ")[1]]())


def seattle_days(row: dict[str, str]) -> float:
    days = [each for each in vega("seattle-weather.csv") if each["date"].startswith("2013")]
    low, high = ([float(each[name]) for each in days] for name in ("temp_min", "temp_max"))
    assert len(days) == 365
    if "simple average" in row["inputs"]:
        return sum(simple_average_degree_days(a, b, 10) for a, b in zip(low, high, strict=True))
    return float(single_sine_many(low, high, 10, 30 if "10/30" in row["inputs"] else None).sum())


TESTS: dict[str, Callable[[dict[str, str]], float | list[float]]] = {
    "1 degree-days single sine": sine,
    "1 degree-days single sine F": sine,
    "1 degree-days average": average,
    "1 degree-days double sine": double_sine,
    "1 real data": seattle_days,
    "2 daylength reference": reference_day_length,
    "2 daylength Spencer": lambda row: short_day_length(spencer_h, row, "alt"),
    "2 daylength CBM": lambda row: short_day_length(forsythe_h, row, "p"),
    "2 hourly Linvill": linvill,
    "2 hourly Linvill sunset temp": linvill_sunset,
    "2 hourly Parton-Logan": parton_logan,
    "3 dynamic model constant": constant_portions,
    "3 dynamic model PDBF": intermediate,
    "3 dynamic model first portion": first_portion,
    "3 dynamic xs,k1": steady_level_and_rate,
    "3 dynamic model cycle": cycle,
    "3 Utah weight": weight(utah_units),
    "3 chilling hour": weight(chilling_hours),
    "3/4 real data": seattle_hours,
    "4 GDH ASYMCUR": curvilinear,
    "4 GDH linear": linear,
}


@pytest.mark.parametrize("row", ROWS, ids=[f"{row['topic']}: {row['inputs']}" for row in ROWS])
def test_row(row: dict[str, str]) -> None:
    """The value of this row comes out within the row's own tolerance."""
    if row["topic"] not in TESTS:
        pytest.fail(f"no test knows the topic {row['topic']!r}")
    found, wanted, tolerance = TESTS[row["topic"]](row), ast.literal_eval(row["expected"]), row["tolerance"]
    if tolerance.startswith("rel "):
        assert found == pytest.approx(wanted, rel=float(tolerance.removeprefix("rel ")))
    else:
        assert found == pytest.approx(wanted, abs=max(float(tolerance), 1e-12), rel=0)


def test_no_topic_has_gone_missing() -> None:
    """Each topic that a test knows has rows in the file."""
    assert {row["topic"] for row in ROWS} == set(TESTS)
