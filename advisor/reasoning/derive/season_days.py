"""The garden's weather as seasons of chill and heat, by growing year."""

from __future__ import annotations

from advisor.calc.calendar import growing_year_start
from advisor.calc.chill_then_heat import Season, SeasonDay, season_from_days
from advisor.calc.day_curve import Day
from advisor.calc.kept_years import CHILL, KEPT, YearOfDays, heat_of
from advisor.reasoning.derive.scene import Scene
from advisor.reasoning.derive.weather import weather_of


def years_of(scene: Scene) -> dict[int, YearOfDays]:
    """Return the station's days up to the question by growing year, with what each gave."""
    return scene.remember(("years", "of days"), lambda: _years_of(scene))


def _years_of(scene: Scene) -> dict[int, YearOfDays]:
    by_year: dict[int, list[Day]] = {}
    for day, fact in sorted(weather_of(scene).days.items()):
        by_year.setdefault(scene.year_of(day), []).append(
            (day, fact.number("min_c") or 0.0, fact.number("max_c") or 0.0)
        )
    return {year: KEPT.year(scene.latitude_deg, tuple(days)) for year, days in by_year.items()}


def season_of_year(scene: Scene, year: int, chill_metric: str, heat_metric: str) -> Season | None:
    """Return a growing year as a season of chill and heat, None where it does not start at its start or has gaps."""
    found = years_of(scene).get(year)
    if found is None or found.days[0][0] != growing_year_start(year, scene.latitude_deg):
        return None
    chill = getattr(found.each, CHILL[chill_metric])
    heat = heat_of(found, heat_metric)
    days = [SeasonDay(day, float(c), float(h)) for (day, _, _), c, h in zip(found.days, chill, heat, strict=True)]
    try:
        return season_from_days(days, chill_metric, heat_metric)
    except ValueError:  # too many days are missing to say anything
        return None
