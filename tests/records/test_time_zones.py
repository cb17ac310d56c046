"""Which clock a garden may keep, and what a clock says against a position."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from advisor.records.coordinates import Position
from advisor.records.time_zones import clock_fault, clock_shown, distance_km, meant_instead, zone_called, zones_near

NOW = datetime(2026, 4, 24, 10, tzinfo=UTC)


@pytest.mark.parametrize(
    ("at", "zone"),
    [
        (Position(47.07, 15.44), "Europe/Vienna"),
        (Position(40.1, -76.5), "America/New_York"),
        (Position(38.0, -122.5), "America/Los_Angeles"),
        (Position(46.6, -112.0), "America/Boise"),
        (Position(-37.7, 145.1), "Australia/Melbourne"),
        (Position(-33.9, 18.6), "Africa/Johannesburg"),
        (Position(35.6, 139.5), "Asia/Tokyo"),
        (Position(51.4, -0.5), "Europe/London"),
    ],
)
def test_the_zone_that_holds_is_among_those_offered(at: Position, zone: str) -> None:
    """Near the places that the time zone database itself names, on both hemispheres and in the west."""
    assert zone in zones_near(at, NOW)


def test_offered_zones_show_their_clocks() -> None:
    """At ten in UTC it is noon in Vienna in April, by its summer time."""
    assert clock_shown("Europe/Vienna", NOW) == "Europe/Vienna: it is 12:00 there"


def test_distance_by_a_known_arc() -> None:
    """A quarter of a great circle on a sphere of 6371 km is 10,007.5 km; a degree of a meridian 111.19 km."""
    assert distance_km(Position(0, 0), Position(0, 90)) == pytest.approx(10007.5, abs=0.1)
    assert distance_km(Position(47, 15), Position(48, 15)) == pytest.approx(111.19, abs=0.01)


@pytest.mark.parametrize(
    ("told", "zone", "meant"),
    [
        (Position(40.1, 76.5), "America/New_York", Position(40.1, -76.5)),
        (Position(37.81, 144.96), "Australia/Melbourne", Position(-37.81, 144.96)),
        (Position(15.44, 47.07), "Europe/Vienna", Position(47.07, 15.44)),
        (Position(-33.9, -18.6), "Africa/Johannesburg", Position(-33.9, 18.6)),
    ],
)
def test_a_wrong_sign_or_a_swap_is_caught_by_the_clock(told: Position, zone: str, meant: Position) -> None:
    """East for west, north for south, latitude for longitude: the clock that is kept tells which was meant."""
    assert meant_instead(told, zone) == meant
    assert f"Did you mean {meant}?" in clock_fault(zone, told, NOW)


def test_a_clock_of_the_other_side_of_the_world_is_refused() -> None:
    """New York's clock at a garden in Austria puts the sun's highest place far from noon."""
    assert "far from noon" in clock_fault("America/New_York", Position(47.07, 15.44), NOW)


@pytest.mark.parametrize(
    ("at", "zone"),
    [
        (Position(39.5, 76.0), "Asia/Shanghai"),
        (Position(43.4, -8.4), "Europe/Madrid"),
        (Position(47.07, 15.44), "Europe/Vienna"),
        (Position(64.1, -21.9), "Atlantic/Reykjavik"),
        (Position(-31.9, 115.9), "Australia/Perth"),
    ],
)
def test_wide_zones_are_let_be(at: Position, zone: str) -> None:
    """The west of a wide zone, where noon comes hours late, is no mistake."""
    assert clock_fault(zone, at, NOW) == ""


def test_a_zone_is_found_by_its_place() -> None:
    """Also with a space and in small letters; a place that is none finds nothing."""
    assert (zone_called("new york"), zone_called("America/New_York")) == ("America/New_York", "America/New_York")
    assert zone_called("Hill End") == ""
