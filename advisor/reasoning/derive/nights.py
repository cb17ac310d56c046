"""The night to come: how cold, at which spot, and what that does to a plant at its stage."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache

from advisor.calc.cold_spots import CLEAR_RANGE_K, MinimumPair, SpotOffset, offsets_by_sky, spot_min
from advisor.calc.critical_temperature import critical, share_killed
from advisor.calc.figure import Figure
from advisor.calc.night import FEWEST_NIGHTS, Night, best_fit, night_kind, predicted_min, rough_min
from advisor.calc.night_hours import hours_to_sunrise_h, reached_after_h
from advisor.facts import Fact
from advisor.reasoning.derive.plants import stand_of
from advisor.reasoning.derive.scene import Scene, derivation, derived
from advisor.reasoning.derive.stages import reach_of
from advisor.reasoning.derive.weather import weather_of

CLOUD_SHARE = {"clear": 0.0, "part cloud": 0.5, "cloud": 1.0}
"""What the words of a forecast mean as a share of the sky (house judgement)."""
FREEZING_C = 0.0


@dataclass(frozen=True)
class Low:
    """A night's low somewhere: the figure, the rows behind it, and how the station's was come by."""

    figure: Figure
    because: tuple[Fact, ...]
    nights: int
    sky: str
    rough: bool

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
        if _offset_of(scene, spot):
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
        frost_after_h=_reached(scene, evening, low.figure.value, FREEZING_C),
    )


def _reached(scene: Scene, evening_c: float, low_c: float, critical_c: float) -> float | None:
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
    told = [row for row in scene.told_by_today("forecast_day") if row.day("for_day") in (evening, _next(evening))]
    if not told:
        return "unknown"
    return night_kind(told[-1].number("wind_m_s"), CLOUD_SHARE.get(told[-1].text("sky")))


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
        found = _offset_of(scene, spot)
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


def _offset_of(scene: Scene, spot: str) -> tuple[SpotOffset, tuple[Fact, ...]] | None:
    return scene.remember(("cold offset", spot), lambda: _read_offset(scene, spot))


def _read_offset(scene: Scene, spot: str) -> tuple[SpotOffset, tuple[Fact, ...]] | None:
    station = weather_of(scene).days
    pairs: dict[date, tuple[MinimumPair, tuple[Fact, Fact]]] = {}
    for row in days_at(scene, spot):
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


def days_at(scene: Scene, spot: str) -> list[Fact]:
    """Return a spot's own days of weather up to the question, oldest first. Grouped once a question."""
    groups = scene.remember(
        ("days", "by spot"), lambda: scene.grouped("weather_day", lambda fact: fact.text("spot"))
    )  # fmt: skip
    return groups.get(spot, [])


def low_at(scene: Scene, spot: str) -> Low | None:
    """Return tonight's low at a spot: the station's, less the spot's offset where that is known."""
    station = _station_low(scene)
    found = _offset_of(scene, spot) if spot else None
    if station is None or found is None:
        return station
    offset, rows = found
    figure = spot_min(station.figure, offset)
    return Low(figure, (*station.because, *rows), station.nights, station.sky, station.rough)


# ---- plants


@derivation
def critical_now(scene: Scene) -> Iterable[Fact]:
    """Derive what cold each plant, or the one asked about, stands at the stage that it was last seen at."""
    for plant in _asked(scene):
        found = _critical(scene, plant)
        if found is not None:
            yield found


def _asked(scene: Scene) -> list[str]:
    return [scene.plant] if scene.focus else list(scene.plants)


def _critical(scene: Scene, plant: str) -> Fact | None:
    return scene.remember(("critical", plant), lambda: _read_critical(scene, plant))


def _read_critical(scene: Scene, plant: str) -> Fact | None:
    way = reach_of(scene, plant, scene.year, "waking")
    species = scene.plants[plant].text("species")
    if way is None:
        return None
    bbch = int(way.last.number("bbch") or 0)
    told: dict[str, object] = {}
    buds, growth = scene.lore.hardiness.buds.get(species), scene.lore.hardiness.new_growth.get(species)
    if buds is not None:
        found = critical(buds, bbch)
        told = {"stage": found.stage, "kill10_c": _tenth(found.kill10_c), "kill90_c": _tenth(found.kill90_c)}
        told |= {"source": found.source, "unknown": found.unknown}
    elif growth is not None and way.there is not None:
        cites = "; ".join(source["cite"] for source in growth.sources)
        told = {"alert_c": _tenth(growth.alert_c), "damage_c": _tenth(growth.damage_c), "source": cites}
    else:
        why = "its buds are still closed" if growth else scene.lore.hardiness.not_published.get(species, "no table")
        told = {"unknown": why}
    values = {name: value for name, value in told.items() if value not in (None, "")}
    return derived(
        "critical_now", "critical_now", (way.last,), plant=plant, bbch=bbch, on=way.last.day("on"), **values,  # type: ignore[arg-type]  # texts and numbers
    )  # fmt: skip


def _tenth(value: float | None) -> float | None:
    return None if value is None else round(value, 1)


@derivation
def frost_risk(scene: Scene) -> Iterable[Fact]:
    """Derive for each plant outdoors with a known stage what the night to come may do to it."""
    for plant in _asked(scene):
        stands = _critical(scene, plant)
        stand = stand_of(scene, scene.plants[plant], scene.today)
        low = low_at(scene, stand.spot)
        if stands is None or low is None or stand.under_cover not in ("", "none"):
            continue
        hurts = stands.number("kill10_c")
        hurts = stands.number("damage_c") if hurts is None else hurts
        if hurts is None:
            continue
        evening = low.because[0].number("temp_c") or 0.0
        yield derived(
            "frost_risk",
            "frost_risk",
            (stands, *low.because, *stand.because),
            plant=plant,
            spot=stand.spot or None,
            expected_c=round(low.figure.value, 1),
            low_c=round(low.low_c, 1),
            high_c=round(low.high_c, 1),
            hurts_at_c=hurts,
            risk="likely" if low.high_c <= hurts else "possible" if low.low_c <= hurts else "unlikely",
            killed=_killed(scene, plant, low),
            reached_after_h=_reached(scene, evening, low.figure.value, hurts),
        )


def _killed(scene: Scene, plant: str, low: Low) -> str | None:
    buds = scene.lore.hardiness.buds.get(scene.plants[plant].text("species"))
    way = reach_of(scene, plant, scene.year, "waking")
    if buds is None or way is None:
        return None
    at = critical(buds, int(way.last.number("bbch") or 0))
    return share_killed(low.figure.value, at, temp_plus_minus_k=low.figure.plus_minus or 0.0).words
