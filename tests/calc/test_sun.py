"""Sun at a spot: what can't be otherwise by geometry, the edges of the polar circle, and what is refused."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.calc.daylight import daylight_h, sun_grid, sun_position
from advisor.calc.horizon import Obstruction, Outlook
from advisor.calc.sun import (
    DAY_STEP_ERROR_H,
    MONTH_STEP_ERROR_H,
    clear_sky_w_m2,
    direct_sun_h,
    light_on_ground,
    light_on_wall,
    monthly_direct_sun_h,
    relative_air_mass,
    spring_months,
    sun_by_part_of_day,
    sun_spells,
)

OPEN = Outlook()
latitudes = st.floats(-89, 89)
days = st.dates(date(2020, 1, 1), date(2030, 12, 31))
bearings = st.floats(0, 359)
things = st.builds(
    lambda start, width, top, leaf: Obstruction(
        start, (start + width) % 360, top, from_month=leaf and 5, to_month=leaf and 10
    ),
    bearings,
    st.floats(1, 170),
    st.floats(0, 80),
    st.sampled_from([None, 1]),
)
spots = st.builds(
    lambda seen, wall, slope, aspect: Outlook(tuple(seen), wall, slope, aspect),
    st.lists(things, max_size=3),
    st.none() | bearings,
    st.floats(0, 40),
    bearings,
)
few = settings(max_examples=40, deadline=None)


@few
@given(spots, things, days, latitudes)
def test_an_obstruction_never_adds_sun(outlook: Outlook, thing: Obstruction, day: date, latitude: float) -> None:
    """With one thing more around a spot its hours are the same or fewer."""
    more = replace(outlook, obstructions=(*outlook.obstructions, thing))
    assert direct_sun_h(more, day, latitude, 0.0).value <= direct_sun_h(outlook, day, latitude, 0.0).value + 1e-9


@few
@given(spots, days, latitudes, st.floats(0, 30))
def test_raising_what_stands_around_never_adds_sun(outlook: Outlook, day: date, latitude: float, by: float) -> None:
    """With every top higher the hours are the same or fewer."""
    raised = direct_sun_h(outlook.raised(by), day, latitude, 0.0).value
    assert raised <= direct_sun_h(outlook, day, latitude, 0.0).value + 1e-9


@few
@given(bearings, days, latitudes, st.floats(-180, 180))
def test_both_sides_of_a_wall_share_the_open_hours(facing: float, day: date, latitude: float, longitude: float) -> None:
    """What one side of a wall does not get the other does, to a minute at the sun's passing."""
    sides = [
        direct_sun_h(Outlook(wall_facing_deg=f), day, latitude, longitude).value for f in (facing, (facing + 180) % 360)
    ]
    assert sum(sides) == pytest.approx(direct_sun_h(OPEN, day, latitude, longitude).value, abs=2 / 60)


@few
@given(spots, days, st.floats(-65, 65))
def test_hours_never_exceed_the_day(outlook: Outlook, day: date, latitude: float) -> None:
    """Hours lie between none and the day's length, in which the sun's upper limb counts."""
    rise, down = daylight_h(day, latitude)
    assert 0 <= direct_sun_h(outlook, day, latitude, 0.0).value <= down - rise


@few
@given(st.floats(-60, 60), st.floats(0, 180), st.floats(0, 30), st.floats(0, 60))
def test_east_and_west_mirror_each_other_at_the_equinox(
    latitude: float, facing: float, slope: float, top: float
) -> None:
    """A spot and its mirror image have the same hours on 20 March, but for the sun's own way north in the day."""
    thing = Obstruction(60, 110, top)
    mirrored = Obstruction(250, 300, top)
    here = direct_sun_h(Outlook((thing,), None, slope, facing), date(2025, 3, 20), latitude, 0.0)
    there = direct_sun_h(Outlook((mirrored,), None, slope, (360 - facing) % 360), date(2025, 3, 20), latitude, 0.0)
    assert abs(here.value - there.value) <= (here.plus_minus or 0) + 0.05


@few
@given(spots, st.floats(-66, 66))
def test_parts_of_the_day_lie_between_none_and_all(outlook: Outlook, latitude: float) -> None:
    """No part gets more than its possible sun, and open ground gets all of it."""
    parts = sun_by_part_of_day(outlook, [3, 12], latitude, 10.0)
    assert all(0 <= part.value <= 100 + 1e-9 for part in (parts.morning, parts.midday, parts.afternoon))
    whole = sun_by_part_of_day(OPEN, [12], latitude, 10.0)
    assert [whole.morning.value, whole.midday.value, whole.afternoon.value] == pytest.approx([100, 100, 100])


@few
@given(spots, st.floats(-60, 60))
def test_light_on_the_ground_falls_with_an_obstruction(outlook: Outlook, latitude: float) -> None:
    """Beam and whole light are never negative and never grow by a thing that stands in the way."""
    thing = Obstruction(80, 280, 25)
    more = replace(outlook, obstructions=(*outlook.obstructions, thing))
    before, after = (light_on_ground(seen, [4], latitude, 10.0) for seen in (outlook, more))
    assert 0 <= after.beam.value <= before.beam.value + 1e-9
    assert 0 <= after.whole.value <= before.whole.value + 1e-9


def test_grid_agrees_with_single_positions() -> None:
    """The grid stands where the library puts the sun at the same moment, within 0.01° and refraction apart."""
    for latitude, longitude in ((41.5, -75.0), (-43.0, 172.0), (68.0, 20.0)):
        grid = sun_grid((date(2025, 3, 1), date(2025, 9, 22)), latitude, longitude, 96)
        for n in range(0, len(grid.utc_h), 5):
            midnight = datetime.combine(grid.days[grid.day_index[n]], datetime.min.time(), UTC)
            up, bearing = sun_position(midnight + timedelta(hours=float(grid.utc_h[n])), latitude, longitude)
            assert abs((grid.azimuth_deg[n] - bearing + 180) % 360 - 180) < 0.02
            assert -0.01 < grid.elevation_deg[n] - up < 0.6
            if up > 10:
                assert grid.elevation_deg[n] == pytest.approx(up, abs=0.1)


def test_grid_cannot_be_written_to() -> None:
    """Whoever holds a shared grid cannot spoil it for others."""
    grid = sun_grid((date(2025, 3, 1),), 41.5, 0.0, 96)
    with pytest.raises(ValueError, match="read-only"):
        grid.elevation_deg[0] = 0


def test_monthly_hours_are_means_of_single_days() -> None:
    """The five-minute year agrees with the one-minute days of a month within the error that is stated for it."""
    spot = Outlook((Obstruction(0, 360, 30),), slope_deg=10, aspect_deg=20)
    monthly = monthly_direct_sun_h(spot, 47.0, 15.0)
    for month, length in ((2, 28), (4, 30), (10, 31)):
        mean = np.mean([direct_sun_h(spot, date(2025, month, d), 47.0, 15.0).value for d in range(1, length + 1)])
        assert monthly[month - 1].value == pytest.approx(float(mean), abs=MONTH_STEP_ERROR_H)


def test_the_north_wall_is_the_sunny_one_in_the_south() -> None:
    """At 41.5° south in July the wall facing north has the sun from rise to set, as the south wall in a northern January."""
    north, south = (monthly_direct_sun_h(Outlook(wall_facing_deg=f), -41.5, 172.0) for f in (0, 180))
    mirror = monthly_direct_sun_h(Outlook(wall_facing_deg=180), 41.5, 172.0)
    assert north[6].value > 9 and south[6].value == 0
    assert north[6].value == pytest.approx(mirror[0].value, abs=0.1)
    assert light_on_wall(Outlook(wall_facing_deg=0), [7], -41.5, 172.0).beam.value > 1.5
    assert light_on_wall(Outlook(wall_facing_deg=180), [7], -41.5, 172.0).beam.value == 0


def test_polar_night_and_day() -> None:
    """At 75° December has no sun and no spells, and June has it around the clock; nothing fails."""
    monthly = monthly_direct_sun_h(OPEN, 75.0, 20.0)
    assert (monthly[11].value, monthly[5].value) == (0, pytest.approx(24))
    assert direct_sun_h(OPEN, date(2025, 12, 21), 75.0, 20.0).value == 0
    assert sun_spells(OPEN, date(2025, 12, 21), 75.0, 20.0) == ()
    ((first, last),) = sun_spells(OPEN, date(2025, 6, 21), 75.0, 20.0)
    assert (last - first).total_seconds() / 3600 == pytest.approx(24, abs=0.05)
    assert direct_sun_h(Outlook(wall_facing_deg=180), date(2025, 6, 21), 90.0, 0.0).value == pytest.approx(12, abs=0.1)


def test_spells_add_up_to_the_hours() -> None:
    """A barn in the morning makes two spells; together they last as long as the hours say."""
    barn = Outlook((Obstruction(95, 130, 50),))
    spells = sun_spells(barn, date(2025, 4, 20), 47.2, 15.3)
    lasting = sum((last - first).total_seconds() for first, last in spells) / 3600
    assert len(spells) == 2
    assert lasting == pytest.approx(direct_sun_h(barn, date(2025, 4, 20), 47.2, 15.3).value, abs=0.05)
    rise, down = daylight_h(date(2025, 4, 20), 47.2)
    midnight = datetime(2025, 4, 20, tzinfo=UTC)
    assert abs(spells[0][0] - midnight - timedelta(hours=rise - 15.3 / 15)) < timedelta(minutes=4)
    assert abs(spells[-1][1] - midnight - timedelta(hours=down - 15.3 / 15)) < timedelta(minutes=4)


def test_sun_through_bare_branches() -> None:
    """A bare tree halves the hours behind it and leaves the first and last sun; in leaf it takes them."""
    tree = Obstruction(0, 360, 89, from_month=5, to_month=10)
    bare, leafy = date(2025, 3, 10), date(2025, 7, 10)
    assert direct_sun_h(Outlook((tree,)), bare, 47.0, 15.0).value == pytest.approx(
        direct_sun_h(OPEN, bare, 47.0, 15.0).value / 2
    )
    assert sun_spells(Outlook((tree,)), bare, 47.0, 15.0) == sun_spells(OPEN, bare, 47.0, 15.0)
    assert direct_sun_h(Outlook((tree,)), leafy, 47.0, 15.0).value == 0
    assert sun_spells(Outlook((tree,)), leafy, 47.0, 15.0) == ()


def test_the_part_in_shade_is_named() -> None:
    """An east wall loses the afternoon, a tall house to the west too, and something to the east the morning."""
    assert sun_by_part_of_day(Outlook(wall_facing_deg=90), [5], 47.0, 15.0).shaded == ("afternoon",)
    assert sun_by_part_of_day(Outlook((Obstruction(200, 320, 70),)), [5], 47.0, 15.0).shaded == ("afternoon",)
    assert sun_by_part_of_day(Outlook((Obstruction(40, 140, 70),)), [5], 47.0, 15.0).shaded == ("morning",)
    assert sun_by_part_of_day(Outlook((Obstruction(130, 230, 80),)), [12], -47.0, 15.0).shaded == ()
    assert sun_by_part_of_day(OPEN, range(1, 13), 47.0, 15.0).shaded == ()


def test_thirds_of_the_day_are_alike() -> None:
    """The shares in the three thirds of a day, weighed alike, give the share of the whole day."""
    spot = Outlook((Obstruction(100, 150, 40),), wall_facing_deg=200)
    parts = sun_by_part_of_day(spot, [4], 47.0, 15.0)
    share = monthly_direct_sun_h(spot, 47.0, 15.0)[3].value / monthly_direct_sun_h(OPEN, 47.0, 15.0)[3].value
    assert (parts.morning.value + parts.midday.value + parts.afternoon.value) / 300 == pytest.approx(share, abs=0.01)


def test_width_is_what_two_degrees_would_change() -> None:
    """``plus_minus`` covers the hours of spots read 2° wrong either way, and open ground keeps the steps' error alone."""
    spot, day = Outlook((Obstruction(100, 170, 35),)), date(2025, 4, 1)
    here = direct_sun_h(spot, day, 47.0, 15.0)
    for wrong in (spot.turned(2), spot.turned(-2), spot.raised(2), spot.raised(-2)):
        assert abs(direct_sun_h(wrong, day, 47.0, 15.0).value - here.value) <= (here.plus_minus or 0)
    assert direct_sun_h(OPEN, day, 47.0, 15.0).plus_minus == DAY_STEP_ERROR_H
    assert (here.plus_minus or 0) > DAY_STEP_ERROR_H


def test_light_on_open_ground_is_one() -> None:
    """Open level ground has the light of open level ground in each month."""
    for month in range(1, 13):
        light = light_on_ground(OPEN, [month], 47.0, 15.0)
        assert light.beam.value == pytest.approx(1) and light.whole.value == pytest.approx(1)


def test_slopes_in_spring() -> None:
    """A slope to the equator gains light in spring and one from it loses, in both hemispheres alike."""
    for latitude, sunny, dark in ((47.0, 180.0, 0.0), (-47.0, 0.0, 180.0)):
        months = spring_months(latitude)
        gains, loses = (
            light_on_ground(Outlook(slope_deg=15, aspect_deg=a), months, latitude, 15.0) for a in (sunny, dark)
        )
        assert gains.beam.value > gains.whole.value > 1 > loses.whole.value > loses.beam.value


def test_light_of_several_months_lies_between_theirs() -> None:
    """The spring window is a mean of its months, weighed by their light."""
    spot = Outlook(wall_facing_deg=180)
    window = light_on_wall(spot, [3, 4, 5], 47.0, 15.0).whole.value
    single = [light_on_wall(spot, [month], 47.0, 15.0).whole.value for month in (3, 4, 5)]
    assert min(single) < window < max(single)


def test_clear_sky_by_hand() -> None:
    """At 30° the air mass is near 2, so 0.7^(2^0.678) of 1353 W/m² comes straight, and 0.5·1098·e^-0.118 in all."""
    beam, sky = clear_sky_w_m2(30.0)
    assert float(beam) == pytest.approx(1353 * 0.7 ** (2**0.678), rel=0.003)
    assert float(beam) * 0.5 + float(sky) == pytest.approx(487.9, abs=0.2)


@given(st.lists(st.floats(0, 90), min_size=1, max_size=20))
def test_clear_sky_is_never_negative(elevations: list[float]) -> None:
    """At any elevation beam and sky are at least nought and the beam below that outside the air."""
    beam, sky = clear_sky_w_m2(elevations)
    assert bool(np.all((beam >= 0) & (beam < 1353) & (sky >= 0) & np.isfinite(sky)))


def test_what_cannot_be_reckoned_is_refused() -> None:
    """Each refusal says what was given and what is wanted."""
    noon = date(2025, 6, 21)
    with pytest.raises(ValueError, match="latitude 91"):
        direct_sun_h(OPEN, noon, 91.0, 0.0)
    with pytest.raises(ValueError, match="longitude nan° is not between -180 and 180"):
        direct_sun_h(OPEN, noon, 41.0, float("nan"))
    with pytest.raises(ValueError, match="7 steps a day: an even number of them is wanted"):
        sun_grid((noon,), 41.0, 0.0, 7)
    with pytest.raises(ValueError, match=r"latitude 66\.1° is beyond 66°"):
        sun_by_part_of_day(OPEN, [6], 66.1, 0.0)
    with pytest.raises(ValueError, match="no month was given"):
        light_on_ground(OPEN, [], 41.0, 0.0)
    with pytest.raises(ValueError, match="month 13 is not between 1 and 12"):
        sun_by_part_of_day(OPEN, [4, 13], 41.0, 0.0)
    with pytest.raises(ValueError, match="no wall stands at this spot"):
        light_on_wall(OPEN, [4], 41.0, 0.0)
    with pytest.raises(ValueError, match=r"the sun does not rise at latitude 75.0° in months \[12\]"):
        light_on_ground(OPEN, [12], 75.0, 0.0)
    with pytest.raises(ValueError, match="a sun's elevation is not between 0 and 90°"):
        relative_air_mass([-1.0])


def test_parts_of_the_day_hold_to_the_edge_of_their_range() -> None:
    """At 66° exactly all months are answered, midwinter's short day too."""
    for latitude in (66.0, -66.0):
        for month in range(1, 13):
            assert sun_by_part_of_day(OPEN, [month], latitude, 0.0).midday.value == pytest.approx(100)


def test_a_spell_starts_and_ends_half_a_step_outside_its_steps() -> None:
    """On open ground the spell lasts as long as the hours say, over forty days to a fifth of a minute in the mean."""
    off = []
    for n in range(40):
        day = date(2025, 1, 1) + timedelta(days=9 * n)
        ((first, last),) = sun_spells(OPEN, day, 47.2, 15.3)
        off.append((last - first).total_seconds() / 60 - direct_sun_h(OPEN, day, 47.2, 15.3).value * 60)
    assert abs(float(np.mean(off))) < 0.2


def test_a_narrow_thing_parts_two_spells() -> None:
    """A chimney 2° wide due south takes some minutes at noon."""
    morning, afternoon = sun_spells(Outlook((Obstruction(179, 181, 80),)), date(2025, 12, 21), 47.2, 15.3)
    assert timedelta(minutes=5) < afternoon[0] - morning[1] < timedelta(minutes=12)


def test_a_slope_read_wrong_widens_hours_and_light() -> None:
    """On a bare north slope in winter the width covers what a slope 2° off would give."""
    slope = Outlook(slope_deg=15, aspect_deg=0)
    here, light = monthly_direct_sun_h(slope, 47.0, 15.0)[1], light_on_ground(slope, [2], 47.0, 15.0)
    for by in (-2, 2):
        wrong = slope.steepened(by)
        assert abs(monthly_direct_sun_h(wrong, 47.0, 15.0)[1].value - here.value) <= (here.plus_minus or 0)
        moved = abs(light_on_ground(wrong, [2], 47.0, 15.0).beam.value - light.beam.value)
        assert 0.05 < moved <= (light.beam.plus_minus or 0)


def test_parts_of_open_ground_keep_the_steps_error() -> None:
    """A tenth of an hour in a third of a 15.8 h day is 1.9 %."""
    midday = sun_by_part_of_day(OPEN, [6], 47.0, 15.0).midday
    assert midday.plus_minus == pytest.approx(10 / (15.8 / 3), abs=0.03)


def test_half_of_the_possible_sun_is_the_edge_of_shade() -> None:
    """A thing that leaves the morning a little over half of its sun does not count, one that leaves a little less does."""
    for last, value, shaded in ((80, 52, ()), (85, 43.5, ("morning",))):
        parts = sun_by_part_of_day(Outlook((Obstruction(50, last, 89),)), [6], 47.0, 15.0)
        assert parts.morning.value == pytest.approx(value, abs=1)
        assert parts.shaded == shaded
