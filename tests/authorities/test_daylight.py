"""Sun position and day length beside pvlib's solar position algorithm (NREL SPA, Reda & Andreas 2004)."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pandas as pd
import pytest
from pvlib import solarposition

from advisor.calc.daylight import daylight_h, sun_position


@pytest.mark.parametrize("latitude", [-43.5, -12.0, 0.0, 23.0, 41.5, 50.4, 64.0])
def test_position_agrees_with_spa(latitude: float) -> None:
    """Within 0.1° over a year, sampled at odd hours; near the zenith the azimuth is not asked."""
    times = [datetime(2025, 1, 1, tzinfo=UTC) + timedelta(hours=61.7 * n) for n in range(142)]
    theirs = solarposition.get_solarposition(pd.DatetimeIndex(times), latitude, 15.3, altitude=0)
    for when, up, bearing in zip(times, theirs["elevation"], theirs["azimuth"], strict=True):
        elevation, azimuth = sun_position(when, latitude, 15.3)
        assert elevation == pytest.approx(up, abs=0.1)
        if abs(up) < 85:
            assert abs((azimuth - bearing + 180) % 360 - 180) < 0.2


@pytest.mark.parametrize("latitude", [-43.5, 0.0, 41.5, 60.0])
def test_day_length_agrees_with_spa(latitude: float) -> None:
    """Within two minutes on every tenth day: the two differ in refraction at the horizon."""
    days = [date(2025, 1, 1) + timedelta(days=10 * n) for n in range(36)]
    index = pd.DatetimeIndex(days).tz_localize("UTC")
    theirs = solarposition.sun_rise_set_transit_spa(index, latitude, 0.0)
    hours = (theirs["sunset"] - theirs["sunrise"]).dt.total_seconds() / 3600 % 24
    for day, wanted in zip(days, hours, strict=True):
        rise, down = daylight_h(day, latitude)
        assert down - rise == pytest.approx(wanted, abs=2 / 60)


def test_where_the_sun_stays_down_or_up() -> None:
    """At 75° the day has no length in December and all of it in June."""
    assert daylight_h(date(2025, 12, 21), 75.0)[0] == daylight_h(date(2025, 12, 21), 75.0)[1]
    rise, down = daylight_h(date(2025, 6, 21), 75.0)
    assert down - rise == 24


def test_bad_input_is_named() -> None:
    """A latitude beyond a pole and a time without a zone are refused."""
    with pytest.raises(ValueError, match="latitude 95"):
        daylight_h(date(2025, 6, 21), 95.0)
    with pytest.raises(ValueError, match="without its zone"):
        sun_position(datetime(2025, 6, 21, 12), 40.0, 0.0)  # noqa: DTZ001  # the missing zone is what is tested
