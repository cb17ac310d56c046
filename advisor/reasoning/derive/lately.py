"""What was done lately, how the air was in the last days, and what is forecast for those to come."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date, datetime, timedelta
from operator import itemgetter
from statistics import mean

from advisor.calc.calendar import past_midsummer_days
from advisor.facts import Fact, Key
from advisor.reasoning.derive.scene import Scene, derivation, derived
from advisor.reasoning.derive.weather import as_one, forecasts_told, weather_of

LATELY_DAYS = 7
FEWEST_DAYS = 5
"""Of the last seven days; fewer say too little of a week (house judgement)."""
WARM_C = 15.0
"""A day that reaches this counts as warm, both behind and ahead (house judgement; the practice's working value)."""
NEAR_FROST_C = 2.0
"""A forecast at or below this is near frost: forecasts miss by a degree or two (house judgement)."""
AHEAD_DAYS = 10


@derivation
def last_work(scene: Scene) -> Iterable[Fact]:
    """Derive the latest work of each kind for each plant and spot, with how often it was done this growing year."""
    names = scene.named_in("work", "plant") if not scene.plant else ("", scene.plant)
    found = [one for name in names for one in _last_works(scene, name)]
    for _, _, fact in sorted(found, key=itemgetter(0, 1)):
        yield fact


def _last_works(scene: Scene, plant: str) -> list[tuple[datetime, Key, Fact]]:
    """Return each last work of a plant, or of spots for "", with what puts it in order: its kind's first work."""
    return scene.remember(("last works", plant), lambda: list(_read_last_works(scene, plant)))


def _read_last_works(scene: Scene, plant: str) -> Iterator[tuple[datetime, Key, Fact]]:
    groups: dict[tuple[str, str], list[Fact]] = {}
    for row in scene.of_plant("work", plant):
        groups.setdefault((row.text("spot"), row.text("what")), []).append(row)
    for (spot, what), rows in groups.items():
        on = rows[-1].day("on") or scene.today
        this_year = [row for row in rows if (day := row.day("on")) and day >= scene.year_start]
        last = derived(
            "last_work",
            "last_work",
            this_year or rows[-1:],
            plant=plant or None,
            spot=spot or None,
            what=what,
            on=on,
            age_days=(scene.today - on).days,
            times=len(this_year),
            this_year=bool(this_year),
            past_midsummer_days=past_midsummer_days(on, scene.latitude_deg),
        )
        yield scene.when(rows[0]), rows[0].key, last


@derivation
def recent_air(scene: Scene) -> Iterable[Fact]:
    """Derive the air of the last seven days from the station's days; nothing where too few are in."""
    days = weather_of(scene).span(scene.today - timedelta(days=LATELY_DAYS - 1), scene.today)
    if len(days) < FEWEST_DAYS:
        return
    lows = [day.number("min_c") or 0.0 for day in days]
    highs = [day.number("max_c") or 0.0 for day in days]
    newest = days[-1].day("on") or scene.today
    yield derived(
        "recent_air",
        "recent_air",
        as_one(days),
        place=scene.place.text("name"),
        days=len(days),
        mean_c=round(mean((low + high) / 2 for low, high in zip(lows, highs, strict=True)), 1),
        lowest_c=min(lows),
        highest_c=max(highs),
        warm_days=sum(high >= WARM_C for high in highs),
        last_night_c=lows[-1] if (scene.today - newest).days <= 1 else None,
    )


@derivation
def forecast_ahead(scene: Scene) -> Iterable[Fact]:
    """Derive what the last forecast issued for each day from today on told, ten days at most."""
    last: dict[date, Fact] = {}
    for row in forecasts_told(scene):
        day = row.day("for_day")
        if day is not None and scene.today <= day <= scene.today + timedelta(days=AHEAD_DAYS):
            last[day] = row
    if not last:
        return
    rows = [last[day] for day in sorted(last)]
    lows = [(day, low) for day, row in sorted(last.items()) if (low := row.number("min_c")) is not None]
    highs = [
        (day, high, row.text("sky")) for day, row in sorted(last.items()) if (high := row.number("max_c")) is not None
    ]
    frost = next((day for day, low in lows if low <= NEAR_FROST_C), None)
    sunny = next((day for day, high, sky in highs if high >= WARM_C and sky == "clear"), None)
    yield derived(
        "forecast_ahead",
        "forecast_ahead",
        rows,
        place=scene.place.text("name"),
        reach_days=(max(last) - scene.today).days,
        lowest_c=min((low for _, low in lows), default=None),
        highest_c=max((high for _, high, _ in highs), default=None),
        frost_in_days=(frost - scene.today).days if frost else None,
        sunny_warm_in_days=(sunny - scene.today).days if sunny else None,
    )
