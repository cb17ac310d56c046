"""Hours from daily extremes against the formulas written out plainly, and at every edge of their validity."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from math import cos, log, pi, sin

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.calc.day_curve import Day, curve_from_sun, hourly_curve, sunset_temperature_c
from advisor.calc.daylight import daylight_h

FIRST = date(2023, 10, 1)
extremes = st.tuples(st.floats(-40, 40), st.floats(0, 30)).map(lambda pair: (pair[0], pair[0] + pair[1]))
latitudes = st.floats(-90, 90)


def days_of(pairs: Sequence[tuple[float, float]], first: date = FIRST, steps: Sequence[int] = ()) -> list[Day]:
    """Return days with these extremes, one after the other or with the given steps between them."""
    at, days = first, []
    for number, (low, high) in enumerate(pairs):
        days.append((at, low, high))
        at += timedelta(days=steps[number] if number < len(steps) else 1)
    return days


def plainly(hour: float, days: Sequence[tuple[float, float, float, float]], number: int) -> float:
    """Return one hour by the formulas as they stand in the docstring; a day is minimum, maximum, sunrise, length."""

    def neighbour(at: int) -> tuple[float, float, float, float]:
        return days[at] if 0 <= at < len(days) else days[number]

    def evening(
        day: tuple[float, float, float, float], after: tuple[float, float, float, float], since: float
    ) -> float:
        low, high, rise, length = day
        if 4 <= length <= 20:
            sunset_c = low + (high - low) * sin(pi * length / (length + 4))
            night = 24 - rise - length + (after[2] if 4 <= after[3] <= 20 else 2)
            return sunset_c - (sunset_c - after[0]) * log(since - rise - length + 1) / log(night + 1)
        night = 24 - 14 + (after[2] if 4 <= after[3] <= 20 else 2)
        return high - (high - after[0]) * (1 - cos(pi * (since - 14) / night)) / 2

    low, high, rise, length = days[number]
    sun_rules = 4 <= length <= 20
    starts, ends = (rise, rise + length) if sun_rules else (2.0, 14.0)
    if hour < starts:
        return min(evening(neighbour(number - 1), days[number], hour + 24), high)
    if hour > ends:
        return min(evening(days[number], neighbour(number + 1), hour), high)
    if sun_rules:
        return low + (high - low) * sin(pi * (hour - rise) / (length + 4))
    return low + (high - low) * (1 - cos(pi * (hour - 2) / 12)) / 2


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(extremes, st.floats(0, 24)), min_size=1, max_size=5))
def test_curve_is_the_formula_written_out(drawn: list[tuple[tuple[float, float], float]]) -> None:
    """Hour by hour, through nights of every length, the arrays say what the plain formulas say."""
    days = [(low, high, 12 - length / 2, length) for (low, high), length in drawn]
    found = curve_from_sun(*zip(*days, strict=True))
    wanted = [[plainly(hour, days, number) for hour in range(24)] for number in range(len(days))]
    assert found == pytest.approx(np.array(wanted), abs=1e-9)


@settings(max_examples=100, deadline=None)
@given(
    st.lists(extremes, min_size=1, max_size=6),
    st.lists(st.integers(1, 3), max_size=6),
    latitudes,
    st.dates(date(1990, 1, 1), date(2040, 1, 1)),
)
def test_no_hour_leaves_its_bounds(
    pairs: list[tuple[float, float]], steps: list[int], latitude: float, first: date
) -> None:
    """At any latitude and date, no hour is above its day's maximum or below the lowest minimum that bounds it."""
    days = days_of(pairs, first, steps)
    curve = hourly_curve(days, latitude)
    assert curve.shape == (len(days), 24) and np.isfinite(curve).all()
    known = {day: low for day, low, _ in days}
    for (day, low, high), hours in zip(days, curve, strict=True):
        around = [known.get(day + timedelta(days=step), low) for step in (-1, 0, 1)]
        assert hours.max() <= high
        assert hours[12] >= low
        assert hours.min() >= min(around)


@settings(deadline=None)
@given(extremes, st.floats(-66, 66), st.integers(0, 364))
def test_equal_days_never_fall_below_their_minimum(pair: tuple[float, float], latitude: float, number: int) -> None:
    """The hours before dawn, where a missing 1 in one logarithm would undershoot, stay at the minimum or above."""
    curve = hourly_curve(days_of([pair] * 3, FIRST + timedelta(days=number)), latitude)
    assert curve.min() >= pair[0]


@pytest.mark.parametrize("edge_h", [0, 1e-9])
def test_night_joins_day_at_both_ends(edge_h: float) -> None:
    """The hour of sunrise has the minimum and that of sunset the sine's value, just before as just after."""
    low, high = [3.0, 5.0, -2.0], [11.0, 9.0, 8.0]
    for shift_h in (-edge_h, edge_h):
        curve = curve_from_sun(low, high, [6 + shift_h] * 3, [12.0] * 3)
        assert curve[:, 6] == pytest.approx(low, abs=1e-6)
        wanted = [sunset_temperature_c(a, b, 12) for a, b in zip(low, high, strict=True)]
        assert curve[:, 18] == pytest.approx(wanted, abs=1e-6)


def test_warmest_hour_is_two_after_noon() -> None:
    """The sine peaks at the maximum two hours after noon (the source's 4 in the length of its half wave)."""
    curve = curve_from_sun([2.0], [14.0], [5.0], [14.0])
    assert curve[0].argmax() == 14
    assert curve[0, 14] == pytest.approx(14.0, abs=1e-12)


def test_night_runs_to_the_next_minimum() -> None:
    """A cold next day draws the evening down; a day apart by a gap does not."""
    mild, cold = (4.0, 12.0), (-8.0, 1.0)
    alone = hourly_curve(days_of([mild]), 45)[0]
    joined = hourly_curve(days_of([mild, cold]), 45)[0]
    apart = hourly_curve(days_of([mild, cold], steps=[2]), 45)[0]
    assert joined[:18] == pytest.approx(alone[:18])
    assert joined[23] < alone[23] - 3
    assert apart.tolist() == alone.tolist()


def test_a_day_known_beside_the_run_shapes_its_edges() -> None:
    """Days in pieces with their neighbours told give the hours of one run, also across a gap."""
    days = days_of([(2, 9), (4, 8), (-1, 5), (0, 12), (3, 7)], steps=[1, 1, 2])
    whole = hourly_curve(days, 50.4)
    pieces = [
        hourly_curve(days[:2], 50.4, day_after=days[2]),
        hourly_curve(days[2:3], 50.4, day_before=days[1]),
        hourly_curve(days[3:], 50.4),
    ]
    assert np.vstack(pieces).tolist() == whole.tolist()


@pytest.mark.parametrize(("latitude", "month"), [(75, 12), (75, 6), (-75, 12), (90, 12), (-90, 6), (68, 1)])
def test_polar_day_and_night_are_a_wave(latitude: float, month: int) -> None:
    """Where the sun does not rise or set, the minimum is at 2 h, the maximum at 14 h, and the mean halfway."""
    day = date(2025, month, 21 if month != 1 else 1)
    hours = hourly_curve(days_of([(-20, -10)] * 3, day), latitude)[1]
    assert (hours[2], hours[14]) == (pytest.approx(-20), pytest.approx(-10))
    assert hours.mean() == pytest.approx(-15)


def test_short_days_still_reach_their_maximum() -> None:
    """With a day of just under four hours the wave takes over, and no day loses its maximum."""
    for length in np.linspace(0, 24, 97):
        hours = curve_from_sun([-9.0], [-1.0], [12 - length / 2], [length])[0]
        assert hours.max() == pytest.approx(-1.0, abs=1e-9)


def test_south_mirrors_north() -> None:
    """A December day at 40° south is a June day at 40° north, and no June day of the south."""
    south, north = (
        hourly_curve([(date(2025, month, 21), 5, 20)], latitude)[0] for month, latitude in ((12, -40), (6, 40))
    )
    assert south == pytest.approx(north, abs=0.3)
    assert abs(south - hourly_curve([(date(2025, 6, 21), 5, 20)], -40)[0]).max() > 3


def test_sunrise_of_one_year_serves_every_year() -> None:
    """At 52° the same date of 2024 is right within two and a half minutes, which moves no hour by 0.2 °C."""
    for year in (1999, 2000, 2023, 2027):
        for number in range(0, 365, 3):
            day = date(year, 1, 1) + timedelta(days=number)
            rise, down = daylight_h(day, 52.0)
            exact = curve_from_sun([5.0], [20.0], [rise], [down - rise])
            assert hourly_curve([(day, 5.0, 20.0)], 52.0) == pytest.approx(exact, abs=0.2)
            rise_2024, down_2024 = daylight_h(date(2024, day.month, day.day), 52.0)
            assert max(abs(rise - rise_2024), abs(down - down_2024)) < 2.5 / 60


def test_no_days_give_no_hours() -> None:
    """An empty run gives an empty array of the right width."""
    assert hourly_curve([], 45).shape == (0, 24)


@pytest.mark.parametrize(
    ("days", "told"),
    [
        ([(FIRST, 9.0, 3.0)], r"2023-10-01: minimum 9.0 °C and maximum 3.0 °C are no day's extremes; both must be num"),
        ([(FIRST, float("nan"), 3.0)], r"2023-10-01: minimum nan °C"),
        ([(FIRST, 1.0, float("inf"))], r"maximum inf °C"),
        ([(FIRST, 1.0, 3.0), (FIRST, 1.0, 3.0)], r"2023-10-01 follows 2023-10-01; give each date once, in order"),
        ([(FIRST, 1.0, 3.0), (date(2023, 9, 1), 1.0, 3.0)], r"days out of order: 2023-09-01 follows 2023-10-01"),
    ],
)
def test_days_that_cannot_be_are_refused(days: list[Day], told: str) -> None:
    """The first wrong day is named with what was given and what is wanted."""
    with pytest.raises(ValueError, match=told):
        hourly_curve(days, 45)


def test_a_neighbour_that_is_none_is_refused() -> None:
    """A day told as the next one must be the next one."""
    (day,) = days_of([(1, 3)])
    with pytest.raises(ValueError, match="2023-10-03 does not adjoin 2023-10-01; give the very next day or none"):
        hourly_curve([day], 45, day_after=(date(2023, 10, 3), 1, 3))
    with pytest.raises(ValueError, match="2023-09-29 does not adjoin 2023-10-01"):
        hourly_curve([day], 45, day_before=(date(2023, 9, 29), 1, 3))


def test_bad_latitude_and_day_length_are_refused() -> None:
    """A latitude beyond a pole and a day length without its sine are named."""
    with pytest.raises(ValueError, match="latitude 91"):
        hourly_curve(days_of([(1, 3)]), 91)
    with pytest.raises(ValueError, match="day length 3 h is not between 4 and 20 h"):
        sunset_temperature_c(1, 3, 3)
    with pytest.raises(ValueError, match="minimum 5 °C and maximum 3 °C are no day's extremes"):
        sunset_temperature_c(5, 3, 12)
