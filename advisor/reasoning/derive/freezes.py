"""When it last freezes in spring and first in autumn, from the station's own years."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from functools import lru_cache

from advisor.calc.calendar import heat_start, set_in_year
from advisor.calc.freeze_dates import FreezeDates, autumn_freezes, spring_freezes
from advisor.facts import Fact
from advisor.reasoning.derive.scene import Scene, derivation, derived
from advisor.reasoning.derive.weather import as_one, weather_of

THRESHOLDS_C = (0.0, -2.2)
"""Ice at the screen, and 28 °F, from which open blossom suffers."""
FREEZING_C = THRESHOLDS_C[0]
TROPICS_DEG = 10.0
ONE_IN_TEN = 0.1


@lru_cache(maxsize=32)
def _dates(season: str, minima: tuple[tuple[date, float], ...], latitude_deg: float, threshold_c: float) -> FreezeDates:
    reckon = spring_freezes if season == "spring" else autumn_freezes
    return reckon(dict(minima), latitude_deg, threshold_c)


def freezes_of(scene: Scene, season: str, threshold_c: float) -> FreezeDates | None:
    """Return the freeze dates of a season, None without weather or near the equator, where the season means nothing."""
    days = weather_of(scene).days
    if not days or abs(scene.latitude_deg) < TROPICS_DEG:
        return None
    minima = scene.remember(("freezes", "minima"), lambda: _minima(scene))
    return _dates(season, minima, scene.latitude_deg, threshold_c)


def _minima(scene: Scene) -> tuple[tuple[date, float], ...]:
    return tuple((day, fact.number("min_c") or 0.0) for day, fact in weather_of(scene).days.items())


def day_of_risk(scene: Scene, found: FreezeDates, probability: float) -> date | None:
    """Return a risk's day set into the growing year of the question, None where it is not known."""
    for risk in found.risks:
        if abs(risk.probability - probability) < 1e-9 and risk.month_day:
            month, day = risk.month_day
            return set_in_year(date(2023, month, min(day, 28 if month == 2 else day)), _start(scene, found.season))
    return None


def _start(scene: Scene, season: str) -> date:
    """Return the day from which a season's freezes of this growing year are counted."""
    if season == "spring":
        return heat_start(scene.year, scene.latitude_deg)
    return date(scene.year, 8, 1) if scene.latitude_deg >= 0 else date(scene.year + 1, 2, 1)


@derivation
def freeze_date(scene: Scene) -> Iterable[Fact]:
    """Derive the last freeze of spring and the first of autumn for each threshold."""
    for season in ("spring", "autumn"):
        for threshold_c in THRESHOLDS_C:
            found = freezes_of(scene, season, threshold_c)
            if found is None or not found.by_year:
                continue
            seen = [day for _, day in found.by_year if day is not None]
            in_year = sorted(set_in_year(day, _start(scene, season)) for day in seen)
            yield derived(
                "freeze_date",
                "freeze_date",
                as_one(_days_behind(scene, seen)),
                season=season,
                threshold_c=threshold_c,
                years=len(found.by_year),
                with_freeze=len(seen),
                earliest=in_year[0] if in_year else None,
                latest=in_year[-1] if in_year else None,
                middle=day_of_risk(scene, found, 0.5),
                one_in_ten=day_of_risk(scene, found, ONE_IN_TEN),
                caution=found.caution or None,
            )


def _days_behind(scene: Scene, seen: list[date]) -> list[Fact]:
    days = weather_of(scene).days
    return [days[day] for day in sorted(seen) if day in days]


@dataclass(frozen=True)
class Odds:
    """The day after which (before which, in autumn) it freezes in one year of ten only, of how many years, and their
    rows."""

    day: date
    years: int
    rows: tuple[Fact, ...]

    def ahead_days(self, scene: Scene) -> int:
        return (self.day - scene.today).days


def one_in_ten(scene: Scene, season: str, threshold_c: float) -> Odds | None:
    """Return a season's one-in-ten day in this growing year; None without the years that it takes."""
    return scene.remember(("one in ten", (season, threshold_c)), lambda: _one_in_ten(scene, season, threshold_c))


def _one_in_ten(scene: Scene, season: str, threshold_c: float) -> Odds | None:
    found = freezes_of(scene, season, threshold_c)
    day = day_of_risk(scene, found, ONE_IN_TEN) if found else None
    if found is None or day is None:
        return None
    seen = [when for _, when in found.by_year if when is not None]
    return Odds(day, len(found.by_year), tuple(as_one(_days_behind(scene, seen))))


def first_autumn_freeze(scene: Scene) -> date | None:
    """Return the day by which this growing year's first freeze of autumn comes in one year of ten."""
    found = one_in_ten(scene, "autumn", FREEZING_C)
    return found.day if found else None
