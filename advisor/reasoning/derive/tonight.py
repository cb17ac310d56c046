"""What a forecast that was told says of the night to come, and how far off the end of spring frost is."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import timedelta

from advisor.facts import Fact
from advisor.reasoning.derive.freezes import FREEZING_C, day_of_risk, freezes_of
from advisor.reasoning.derive.nights import sky_of
from advisor.reasoning.derive.scene import Scene, derivation, derived
from advisor.reasoning.derive.weather import as_one, weather_of

ONE_IN_TEN = 0.1


def told_low(scene: Scene) -> Fact | None:
    """Return the last forecast row that gives the coming night's low.

    The low falls toward morning, so a forecast for tomorrow is taken before one for today.
    """
    told = [row for row in scene.told_by_today("forecast_day") if row.number("min_c") is not None]
    for day in (scene.today + timedelta(days=1), scene.today):
        rows = [row for row in told if row.day("for_day") == day]
        if rows:
            return max(rows, key=lambda row: (row.day("issued"), row.key))
    return None


@derivation
def forecast_low(scene: Scene) -> Iterable[Fact]:
    """Derive the low that the last forecast for the night gives."""
    row = told_low(scene)
    if row is not None:
        yield derived(
            "forecast_low",
            "forecast_low",
            (row,),
            on=scene.today,
            issued=row.day("issued"),
            min_c=row.number("min_c"),
            sky=sky_of(scene, scene.today),
            wind_m_s=row.number("wind_m_s"),
        )


@derivation
def frost_ahead(scene: Scene) -> Iterable[Fact]:
    """Derive how far off the one-in-ten date of the last spring freeze is; nothing without ten years of weather."""
    found = freezes_of(scene, "spring", FREEZING_C)
    day = day_of_risk(scene, found, ONE_IN_TEN) if found else None
    if found is None or day is None:
        return
    days = weather_of(scene).days
    seen = sorted(when for _, when in found.by_year if when is not None and when in days)
    yield derived(
        "frost_ahead",
        "frost_ahead",
        as_one([days[when] for when in seen]),
        threshold_c=FREEZING_C,
        one_in_ten=day,
        ahead_days=(day - scene.today).days,
        years=len(found.by_year),
    )
