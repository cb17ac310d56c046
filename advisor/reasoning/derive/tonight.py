"""What a forecast that was told says of the night to come, and how far off the end of spring frost is."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import timedelta

from advisor.facts import Fact
from advisor.reasoning.derive.freezes import one_in_ten
from advisor.reasoning.derive.nights import sky_of
from advisor.reasoning.derive.scene import Scene, derivation, derived
from advisor.reasoning.derive.weather import forecasts_told


def told_low(scene: Scene) -> Fact | None:
    """Return the last forecast row that gives the coming night's low.

    The low falls toward morning, so a forecast for tomorrow is taken before one for today.
    """
    return scene.remember(("told low", ""), lambda: _told_low(scene))


def _told_low(scene: Scene) -> Fact | None:
    told = [row for row in forecasts_told(scene) if row.number("min_c") is not None]
    for day in (scene.today + timedelta(days=1), scene.today):
        rows = [row for row in told if row.day("for_day") == day]
        if rows:
            return rows[-1]
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


def spring_odds(scene: Scene, kind: str, threshold_c: float) -> Iterator[Fact]:
    """Yield a kind that tells how far off the one-in-ten day of spring's last freeze at a threshold is."""
    odds = one_in_ten(scene, "spring", threshold_c)
    if odds is not None:
        yield derived(
            kind,
            kind,
            odds.rows,
            threshold_c=threshold_c,
            one_in_ten=odds.day,
            ahead_days=odds.ahead_days(scene),
            years=odds.years,
        )
