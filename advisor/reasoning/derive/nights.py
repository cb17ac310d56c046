"""The night to come: how cold, at which spot, and what that does to a plant at its stage."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache

from advisor.calc.cold_spots import (
    CLEAR_RANGE_K,
    MinimumPair,
    SpotOffset,
    offsets_by_sky,
    spot_min,
    supposed_hollow_min,
)
from advisor.calc.critical_temperature import Critical, critical
from advisor.calc.figure import Figure
from advisor.calc.night import FEWEST_NIGHTS, WINDY_M_S, Night, best_fit, night_kind, predicted_min, rough_min
from advisor.calc.night_hours import hours_to_sunrise_h, reached_after_h
from advisor.facts import Fact
from advisor.reasoning.derive.each import each_plant
from advisor.reasoning.derive.meanwhile import GREEN, SWELLING, stage_to_reckon_with
from advisor.reasoning.derive.scene import Scene, derivation, derived
from advisor.reasoning.derive.weather import forecasts_told, weather_of
from advisor.records.hardiness import BudHardiness, NewGrowth

CLOUD_SHARE = {"clear": 0.0, "part cloud": 0.5, "cloud": 1.0}
"""What the words of a forecast mean as a share of the sky (house judgement)."""
FREEZING_C = 0.0
COLD_AIR_K_H = -1.0
"""A night that is to freeze in wind is taken as cold air on its way, since mixed air loses little warmth to the sky
(house judgement; only that it falls counts, not how fast)."""


@dataclass(frozen=True)
class Low:
    """A night's low somewhere: the figure, the rows behind it, and how the station's was come by.

    ``offset`` says whether a spot's difference from the station is "measured", "supposed" of a hollow that nobody
    measured, or "none".
    """

    figure: Figure
    because: tuple[Fact, ...]
    nights: int
    sky: str
    rough: bool
    offset: str = "none"

    @property
    def low_c(self) -> float:
        return self.figure.value - (self.figure.plus_minus or 0.0)

    @property
    def high_c(self) -> float:
        return self.figure.value + (self.figure.plus_minus or 0.0)


@derivation
def night_low(scene: Scene) -> Iterable[Fact]:
    """Derive tonight's low at the station from this evening's reading, and at each spot whose offset is known."""
    station = _station_low(scene)
    if station is None:
        return
    yield _low_fact(scene, "", station)
    for spot in scene.spots:
        if offset_of(scene, spot):
            low = low_at(scene, spot)
            assert low is not None
            yield _low_fact(scene, spot, low)


def _low_fact(scene: Scene, spot: str, low: Low) -> Fact:
    evening = low.because[0].number("temp_c") or 0.0
    return derived(
        "night_low",
        "night_low",
        low.because,
        spot=spot or None,
        on=scene.today,
        expected_c=round(low.figure.value, 1),
        low_c=round(low.low_c, 1),
        high_c=round(low.high_c, 1),
        nights=low.nights,
        sky=low.sky,
        rough=low.rough,
        beyond="Beyond experience" in low.figure.caution,
        frost_after_h=reached_h(scene, evening, low.figure.value, FREEZING_C),
    )


def reached_h(scene: Scene, evening_c: float, low_c: float, critical_c: float) -> float | None:
    """Return after how many hours the expected curve reaches a temperature, None where it does not."""
    length = hours_to_sunrise_h(scene.today, scene.latitude_deg)
    after = reached_after_h(evening_c, min(low_c, evening_c), length, critical_c) if length > 0 else None
    return None if after is None else round(after, 1)


def _station_low(scene: Scene) -> Low | None:
    return scene.remember(("night", "station"), lambda: _read_station_low(scene))


def _read_station_low(scene: Scene) -> Low | None:
    tonight = [row for row in scene.told_by_today("evening") if not row.get("spot") and row.day("on") == scene.today]
    if not tonight or (tonight[-1].number("dew_point_c") is None):
        return None
    evening = tonight[-1]
    sky = sky_of(scene, scene.today)
    air, dew = evening.number("temp_c") or 0.0, evening.number("dew_point_c") or 0.0
    nights = list(_clear_nights(scene))
    told = tuple(fact for _, facts in nights for fact in facts)
    try:
        if len(nights) >= FEWEST_NIGHTS:
            figure = predicted_min(_fit(tuple(night for night, _ in nights)), air, min(dew, air))
            return Low(figure, (evening, *told), len(nights), sky, rough=False)
    except ValueError:  # the evenings are all alike: nothing to fit
        pass
    return Low(rough_min(air, min(dew, air)), (evening, *told), len(nights), sky, rough=True)


_fit = lru_cache(maxsize=64)(best_fit)
"""Fits are kept by the nights that they rest on, so that only a new night is fitted anew."""


def sky_of(scene: Scene, evening: date) -> str:
    """Return what kind of cold the night after an evening brings, by the last forecast for it."""
    last = scene.remember(("forecasts", "last"), lambda: _last_forecasts(scene))
    told = [last[day] for day in (evening, _next(evening)) if day in last]
    if not told:
        return "unknown"
    _, row = max(told, key=lambda entry: entry[0])
    wind, low = row.number("wind_m_s"), row.number("min_c")
    arriving = COLD_AIR_K_H if low is not None and low <= FREEZING_C and (wind or 0.0) >= WINDY_M_S else None
    return night_kind(wind, CLOUD_SHARE.get(row.text("sky")), arriving)


def _last_forecasts(scene: Scene) -> dict[date, tuple[int, Fact]]:
    """Return the forecast told last for each day, with its place in the order of telling."""
    rows = enumerate(forecasts_told(scene))
    return {day: (place, row) for place, row in rows if (day := row.day("for_day"))}


def _clear_nights(scene: Scene) -> Iterator[tuple[Night, tuple[Fact, Fact]]]:
    """Yield the calm clear nights of which evening and low are recorded, each with its two rows.

    Where no forecast told the sky, a day's range of ten degrees or more stands for it.
    """
    days = weather_of(scene).days
    for row in scene.told_by_today("evening"):
        on, air, dew = row.day("on"), row.number("temp_c"), row.number("dew_point_c")
        after = days.get(_next(on)) if on and on < scene.today else None
        if on is None or after is None or air is None or dew is None or row.get("spot") or dew > air + 0.5:
            continue
        low, highest = after.number("min_c"), days[on].number("max_c") if on in days else None
        if low is None or low > air:
            continue
        sky = sky_of(scene, on)
        if sky == "radiation" or (sky == "unknown" and highest is not None and highest - low >= CLEAR_RANGE_K):
            yield Night(air, min(dew, air), low), (row, after)


def _next(day: date) -> date:
    return day + timedelta(days=1)


# ---- spots


@derivation
def cold_offset(scene: Scene) -> Iterable[Fact]:
    """Derive how much colder each spot with a thermometer of its own ran than the station on calm clear nights."""
    for spot in scene.spots:
        found = offset_of(scene, spot)
        if found:
            offset, rows = found
            yield derived(
                "cold_offset",
                "cold_offset",
                rows,
                spot=spot,
                colder_by_k=round(offset.colder_by_k, 1),
                low_k=round(offset.low_k, 1),
                high_k=round(offset.high_k, 1),
                nights=offset.nights,
                differs=offset.differs,
            )


def offset_of(scene: Scene, spot: str) -> tuple[SpotOffset, tuple[Fact, ...]] | None:
    """Return how much colder a spot ran than the station on calm clear nights, with the rows; None for too few."""
    return scene.remember(("cold offset", spot), lambda: _read_offset(scene, spot))


def _read_offset(scene: Scene, spot: str) -> tuple[SpotOffset, tuple[Fact, ...]] | None:
    station = weather_of(scene).days
    pairs: dict[date, tuple[MinimumPair, tuple[Fact, Fact]]] = {}
    for row in spot_days(scene, spot):
        on, low = row.day("on"), row.number("min_c")
        beside = station.get(on) if on else None
        before = station.get(on - timedelta(days=1)) if on else None
        if on is None or low is None or beside is None:
            continue
        base = beside.number("min_c") or 0.0
        highest = before.number("max_c") if before else None
        sky = sky_of(scene, on - timedelta(days=1))
        highest = highest if highest is not None and highest >= base else None
        pairs[on] = (MinimumPair(on, low, base, sky, highest), (row, beside))
    clear = [entry for entry in pairs.values() if entry[0].sky == "clear"]
    offset = offsets_by_sky([pair for pair, _ in clear]).get("clear")
    if not isinstance(offset, SpotOffset):
        return None
    return offset, tuple(fact for _, facts in clear for fact in facts)


def spot_days(scene: Scene, spot: str) -> list[Fact]:
    """Return the days that a thermometer at a spot recorded."""
    return scene.of_spot("weather_day", spot)


def low_at(scene: Scene, spot: str) -> Low | None:
    """Return tonight's low at a spot: the station's, less the spot's offset where that is measured.

    A spot that is told to gather cold and was never measured is taken for two degrees colder, give or take two. In
    wind no cold air gathers, so that all spots have the station's low.
    """
    station = _station_low(scene)
    if station is None or not spot or station.sky == "advection":
        return station
    found, row = offset_of(scene, spot), scene.spots.get(spot)
    if found is not None:
        offset, rows = found
        figure, more, how = spot_min(station.figure, offset), rows, "measured"
    elif row is not None and row.get("low_lying"):
        figure, more, how = supposed_hollow_min(station.figure), (row,), "supposed"
    else:
        return station
    return Low(figure, (*station.because, *more), station.nights, station.sky, station.rough, how)


# ---- plants


@each_plant
def critical_now(scene: Scene, plant: str) -> Fact | None:
    """Derive what cold each plant, or the one asked about, stands at the stage that it may have reached by today."""
    return critical_of(scene, plant)


def critical_of(scene: Scene, plant: str, day: date | None = None) -> Fact | None:
    """Return what cold a plant stands today, or stood on another day; None where no look at it is recorded."""
    day = day or scene.today
    return scene.remember(("critical", (plant, day)), lambda: _read_critical(scene, plant, day))


def _read_critical(scene: Scene, plant: str, day: date) -> Fact | None:
    found = stage_to_reckon_with(scene, plant, day)
    if found is None:
        return None
    species = scene.plants[plant].text("species")
    buds, growth = scene.lore.hardiness.buds.get(species), scene.lore.hardiness.new_growth.get(species)
    if buds is not None:
        told = _of_buds(buds, critical(buds, found.bbch))
    elif growth is not None:
        told = _of_growth(growth, found.bbch)
    elif found.bbch < SWELLING:
        told = {"stage": "buds closed", "organ": "flower buds", "stands_c": _tenth(scene.lore.hardiness.closed_c)}
    else:
        told = {"unknown": scene.lore.hardiness.not_published.get(species, "no table")}
    values = {name: value for name, value in told.items() if value not in (None, "")}
    return derived(
        "critical_now",
        "critical_now",
        (found.row,),
        plant=plant,
        bbch=found.bbch,
        on=found.row.day("on"),
        age_days=found.age_days,
        assumed=found.assumed,
        **values,  # type: ignore[arg-type]  # texts and numbers
    )


def _of_buds(buds: BudHardiness, found: Critical) -> dict[str, object]:
    """Return what flower buds stand; closed ones stand at least what they do at the first stage."""
    if found.bbch < SWELLING:
        first = critical(buds, buds.stages[0].bbch_from)
        closed = {"stage": "buds closed", "organ": "flower buds"}
        return closed | {"stands_c": _tenth(first.kill10_c), "source": first.source}
    return {
        "stage": found.stage,
        "organ": "flower buds",
        "kill10_c": _tenth(found.kill10_c),
        "kill90_c": _tenth(found.kill90_c),
        "source": found.source,
        "unknown": found.unknown,
    }


def _of_growth(growth: NewGrowth, bbch: int) -> dict[str, object]:
    cites = "; ".join(source["cite"] for source in growth.sources)
    told: dict[str, object] = {"organ": "new growth", "source": cites}
    if bbch < SWELLING:
        return told | {"stage": "buds closed", "stands_c": _tenth(growth.closed_c)}
    if bbch < GREEN:
        return told | {"stage": "buds swelling", "damage_c": _tenth(growth.swelling_c)}
    return told | {"stage": "green growth", "alert_c": _tenth(growth.alert_c), "damage_c": _tenth(growth.damage_c)}


def _tenth(value: float | None) -> float | None:
    return None if value is None else round(value, 1)
