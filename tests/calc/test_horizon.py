"""What a spot sees of the sky: angles of things, what they hide, the months of leaf, and what is refused."""

from __future__ import annotations

from dataclasses import replace
from math import atan, cos, degrees, isclose, pi, radians, sin, tan

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.calc.horizon import (
    BARE_LIGHT_SHARE,
    Obstruction,
    Outlook,
    directions,
    elevation_of_top_deg,
    incidence_deg,
    light_share,
    obstruction_of_size,
    sky_share,
)

bearings = st.floats(0, 359.9)
tops = st.floats(0, 90)


def seen(thing: Obstruction, elevation_deg: float, azimuth_deg: float, month: int = 6) -> float:
    """Return the share of light from one direction."""
    return float(light_share(Outlook((thing,)), directions([elevation_deg], [azimuth_deg]), month)[0])


def test_angles_of_simple_triangles() -> None:
    """A top as high as it is far stands at 45°, one half as high at atan(1/2), one of no height on the horizon."""
    assert elevation_of_top_deg(10, 10) == pytest.approx(45)
    assert elevation_of_top_deg(5, 10) == pytest.approx(26.565, abs=0.001)
    assert elevation_of_top_deg(0, 10) == 0


def test_width_of_a_front_by_its_ends() -> None:
    """A front 20 m wide at 10 m spans 90°, and over north its bearings wrap."""
    front = obstruction_of_size(7, 10, bearing_deg=0, width_m=20)
    assert (front.bearing_from_deg, front.bearing_to_deg) == (pytest.approx(315), pytest.approx(45))
    assert front.width_deg == pytest.approx(90)
    assert front.straight


@given(st.floats(1, 30), st.floats(2, 60), bearings, st.floats(2, 40), st.floats(0.02, 0.98))
def test_straight_front_against_points_on_its_ridge(
    height_m: float, distance_m: float, bearing_deg: float, width_m: float, along: float
) -> None:
    """Just under any point of a level ridge the sky is hidden and just over it open, worked out from its coordinates."""
    front = obstruction_of_size(height_m, distance_m, bearing_deg, width_m)
    aside = (along - 0.5) * width_m
    azimuth = (bearing_deg + degrees(np.arctan2(aside, distance_m))) % 360
    top = degrees(atan(height_m / (distance_m**2 + aside**2) ** 0.5))
    assert seen(front, top - 0.01, azimuth) == 0
    assert seen(front, top + 0.01, azimuth) == 1


def test_band_is_hidden_between_its_bearings_and_below_its_top() -> None:
    """A hill from 300 to 60°, over north, hides what lies under it and nothing beside or above it."""
    hill = Obstruction(300, 60, 15)
    assert [seen(hill, 10, a) for a in (299, 301, 0, 59, 61, 180)] == [1, 0, 0, 0, 1, 1]
    assert [seen(hill, e, 0) for e in (14.9, 15.1)] == [0, 1]


def test_all_round() -> None:
    """From 0 to 360° every bearing is behind it, and turning it changes nothing."""
    ring = Obstruction(0, 360, 20)
    assert all(seen(ring, 10, a) == 0 for a in range(0, 360, 7))
    assert Outlook((ring,)).turned(33).obstructions == (ring,)


@pytest.mark.parametrize(
    ("first", "last", "leafy"), [(5, 10, {5, 6, 7, 8, 9, 10}), (10, 4, {10, 11, 12, 1, 2, 3, 4}), (6, 6, {6})]
)
def test_months_in_leaf(first: int, last: int, leafy: set[int]) -> None:
    """A tree is dark in its months of leaf, over the turn of the year too, and lets its share through in the others."""
    tree = Obstruction(90, 180, 40, from_month=first, to_month=last, bare_light_share=0.6)
    assert {n for n in range(1, 13) if tree.in_leaf(n)} == leafy
    assert [seen(tree, 20, 120, n) for n in range(1, 13)] == [0.0 if n in leafy else 0.6 for n in range(1, 13)]


def test_light_through_two_bare_trees() -> None:
    """Two bare crowns behind each other let through the share of a share."""
    tree = Obstruction(90, 180, 40, from_month=5, to_month=10)
    row = Outlook((tree, replace(tree, bearing_to_deg=150.0)))
    share = light_share(row, directions([20, 20], [120, 170]), 1)
    assert share.tolist() == [BARE_LIGHT_SHARE**2, BARE_LIGHT_SHARE]


def test_wall_and_slope_hide_what_is_behind_them() -> None:
    """A wall facing south hides the northern half; a 20° slope to the south hides the north sky below 20°."""
    toward = directions([10, 10, 30, 80], [179, 1, 0, 0])
    assert light_share(Outlook(wall_facing_deg=180), toward, 6).tolist() == [1, 0, 0, 0]
    assert light_share(Outlook(slope_deg=20, aspect_deg=180), toward, 6).tolist() == [1, 0, 1, 1]


def test_incidence_by_hand() -> None:
    """Light from straight above meets a wall at 90° and a slope at the slope's angle; from behind, over 90°."""
    assert incidence_deg(90, 0, 90, 180) == pytest.approx(90)
    assert incidence_deg(90, 0, 25, 77) == pytest.approx(25)
    assert incidence_deg(0, 0, 90, 180) == pytest.approx(180)
    assert incidence_deg(65, 180, 25, 180) == pytest.approx(0, abs=1e-5)


@pytest.mark.parametrize("top", [5, 20, 45, 70])
@pytest.mark.parametrize("width", [40, 120, 360])
def test_sky_hidden_by_a_band_against_its_integral(top: float, width: float) -> None:
    """A band up to h over w degrees takes w/360 · sin²h of an even sky: the integral of sin e cos e. Cells are 2°."""
    assert sky_share(Outlook((Obstruction(0, width, top),)), 6) == pytest.approx(
        1 - width / 360 * sin(radians(top)) ** 2, abs=0.02
    )


@pytest.mark.parametrize("slope", [10, 30, 60])
def test_sky_over_a_slope_against_its_formula(slope: float) -> None:
    """A plane tilted by b sees (1 + cos b) / 2 of an even sky, whichever way it faces (B. Y. H. Liu and R. C. Jordan, 1963; from memory)."""
    for facing in (0, 77, 180):
        share = sky_share(Outlook(slope_deg=slope, aspect_deg=facing), 6, slope, facing)
        assert share == pytest.approx((1 + cos(radians(slope))) / 2, abs=0.002)


def test_sky_beside_a_wall() -> None:
    """The ground at a long wall sees half of the sky, and so does the wall; bare trees give sky back in winter."""
    wall = Outlook(wall_facing_deg=140)
    assert sky_share(wall, 6) == pytest.approx(0.5, abs=0.001)
    assert sky_share(wall, 6, 90, 140) == pytest.approx(0.5, abs=0.005)
    tree = Outlook((Obstruction(90, 270, 40, from_month=5, to_month=10),))
    assert sky_share(tree, 1) - sky_share(tree, 7) == pytest.approx(0.25 * sin(radians(40)) ** 2, abs=0.01)
    assert sky_share(tree, 1) == sky_share(tree, 12)


@given(bearings, st.floats(1, 359), tops, st.floats(-20, 20))
def test_turning_turns_what_is_hidden(start: float, width: float, top: float, by: float) -> None:
    """A turned outlook hides a turned direction as the first hid the first, away from the edges."""
    thing = Obstruction(start, (start + width) % 360, top)
    outlook = Outlook((thing,), wall_facing_deg=30.0, slope_deg=12, aspect_deg=200.0)
    turns = np.array(
        [
            a
            for a in np.arange(0.5, 360, 7)
            if all(abs((a - e + 180) % 360 - 180) > 1e-6 for e in (start, start + width, 120, 300))
        ]
    )
    before = light_share(outlook, directions(np.full_like(turns, 25.0), turns), 6)
    after = light_share(outlook.turned(by), directions(np.full_like(turns, 25.0), (turns + by) % 360), 6)
    assert before.tolist() == after.tolist()


def test_raising_and_steepening_stay_in_range() -> None:
    """Tops stay between the horizon and straight above, a slope between level and 60°, and level ground stays level."""
    outlook = Outlook((Obstruction(0, 90, 1), Obstruction(90, 180, 89)), slope_deg=59, aspect_deg=0)
    assert [thing.elevation_deg for thing in outlook.raised(-2).obstructions] == [0, 87]
    assert [thing.elevation_deg for thing in outlook.raised(2).obstructions] == [3, 90]
    assert outlook.steepened(2).slope_deg == 60
    assert Outlook().steepened(2) == Outlook()


@pytest.mark.parametrize(
    ("values", "says"),
    [
        ({"bearing_from_deg": -1}, "bearing_from_deg -1° is not between 0 and 360"),
        ({"bearing_to_deg": 361}, "bearing_to_deg 361° is not between 0 and 360"),
        ({"bearing_to_deg": 90}, "both bearings are 90°; for all round give 0 to 360"),
        ({"elevation_deg": 91}, "elevation_deg 91° is not between 0 and 90"),
        ({"elevation_deg": float("nan")}, "elevation_deg nan° is not between"),
        ({"bare_light_share": 1.5}, "bare_light_share 1.5 is not between 0 and 1"),
        ({"straight": True, "bearing_to_deg": 300}, "a straight front cannot fill 210° of the horizon"),
        ({"from_month": 5}, "of the months in leaf one is given without the other"),
        ({"from_month": 0, "to_month": 9}, "month 0 is not between 1 and 12"),
    ],
)
def test_impossible_obstructions_are_refused(values: dict[str, float], says: str) -> None:
    """Each refusal names the value and what is wanted."""
    with pytest.raises(ValueError, match=says):
        Obstruction(**{"bearing_from_deg": 90, "bearing_to_deg": 120, "elevation_deg": 20, **values})


@pytest.mark.parametrize(
    ("values", "says"),
    [
        ({"wall_facing_deg": 400}, "wall_facing_deg 400° is not between 0 and 360"),
        ({"aspect_deg": -5, "slope_deg": 5}, "aspect_deg -5° is not between"),
        ({"slope_deg": 61, "aspect_deg": 0}, "slope_deg 61° is not between 0 and 60"),
        ({"slope_deg": 8}, "a slope of 8° without the bearing it faces"),
    ],
)
def test_impossible_spots_are_refused(values: dict[str, float], says: str) -> None:
    """Each refusal names the value and what is wanted."""
    with pytest.raises(ValueError, match=says):
        Outlook(**values)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("size", "says"),
    [
        ((-1, 10, 90, 5), "height_m -1 m is below 0"),
        ((5, 0, 90, 5), "distance_m 0 m is not above 0"),
        ((5, 10, 90, 0), "width_m 0 m is not above 0"),
        ((5, 10, 390, 5), "bearing_deg 390° is not between"),
    ],
)
def test_impossible_sizes_are_refused(size: tuple[float, float, float, float], says: str) -> None:
    """Each refusal names the value and what is wanted."""
    with pytest.raises(ValueError, match=says):
        obstruction_of_size(*size)


def test_sky_of_a_straight_front_by_numbers() -> None:
    """A front's share of the sky equals an integral over its bearings, top atan(tan e cos(a)) in each."""
    front = obstruction_of_size(8, 10, 180, 30)
    half = front.width_deg / 2
    off = np.radians((np.arange(2000) + 0.5) / 2000 * 2 * half - half)
    tops_there = np.arctan(tan(radians(front.elevation_deg)) * np.cos(off))
    hidden = float((np.sin(tops_there) ** 2).mean()) * radians(2 * half) / (2 * pi)
    assert isclose(1 - sky_share(Outlook((front,)), 6), hidden, abs_tol=0.005)
