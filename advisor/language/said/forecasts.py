"""Evenings and forecasts as records."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta

from advisor.facts import Value
from advisor.language.quantities import Quantity, in_celsius, metres_per_second
from advisor.language.said.drafts import Draft, Open, Way
from advisor.language.said.events import temperatures
from advisor.language.said.unit import Ears, Unit
from advisor.language.said.whom import Result, day_of, said_time
from advisor.language.when import Said

AIR_C = (-35.0, 42.0)
"""What a figure without a unit may be, in °C, to be taken in the unit of the place (house judgement)."""
WEEKDAY = re.compile(r"(?:mon|tues?|wednes|thurs?|fri|satur|sun)day|\b(?:mon|tue|wed|thu|fri|sat|sun)\b", re.IGNORECASE)
THIS_NIGHT = re.compile(r"\b(?:this|the coming) night\b", re.IGNORECASE)
DAY_H = (9, 18)
"""Outside these hours a figure foretold for an hour is neither the day's high nor surely the night's low."""


def day_told(value: Value) -> str:
    """Return a day as one says it: 24 April."""
    assert isinstance(value, date)
    return f"{value.day} {value:%B}"


def read_evening(unit: Unit, ears: Ears, shared: Sequence[Said]) -> Result:
    """Return an evening's air and dew point; the figure after "dew" is the dew point."""
    temps = temperatures(unit)
    dew_at = ears.talk.pattern("ground", "dew").search(unit.text)
    if len(temps) != 2 or dew_at is None:
        return Result.asking("An evening reading is two figures: the air and the dew point, two hours after sunset.")
    position = unit.start + dew_at.start()
    after = [temp for temp in temps if _place(temp, unit) > position - unit.start]
    dew = after[0] if after else temps[-1]
    air = temps[0] if dew is temps[1] else temps[1]
    day = day_of(unit, ears, shared)
    if isinstance(day, Open):
        return Result(open=[day])
    air_c, dew_c = (in_celsius(one, ears.yard.units) for one in (air, dew))
    if air_c is None or dew_c is None or dew_c > air_c + 0.5 or not AIR_C[0] <= air_c <= AIR_C[1]:
        return Result.asking("The dew point lies below the air's temperature. Which is which?")
    return Result([Draft("evening", {"on": day, "temp_c": round(air_c, 2), "dew_point_c": round(dew_c, 2)})])


def _of_issue(unit: Unit, time: Said) -> bool:
    """Return whether a time is when the forecast was given: "issued today for 25 April"."""
    text = unit.text
    at = text.find(time.text)
    return at > 0 and bool(re.search(r"\b(?:issued|given|as of|made)\s+(?:on\s+)?$", text[:at], re.IGNORECASE))


def _place(temp: Quantity, unit: Unit) -> int:
    """Return where a figure stands in its unit's text."""
    at = unit.text.find(temp.text)
    return at if at >= 0 else temp.start


def read_forecast(unit: Unit, ears: Ears, shared: Sequence[Said]) -> Result:
    """Return a forecast: its low or high, its sky and wind, for the night or day that it tells."""
    talk, text = ears.talk, unit.text
    told = [time for time in (*unit.times, *shared) if not _of_issue(unit, time)]
    said = said_time(replace(unit, times=told), []) if told else said_time(unit, shared)
    today = ears.now.date()
    night = (said is not None and said.part in ("night", "evening")) or bool(THIS_NIGHT.search(text))
    for_day = said.day if said else today + timedelta(days=1)
    if night and said is not None:
        for_day = said.day + timedelta(days=1)
    if for_day < today and said is not None and WEEKDAY.search(said.text):
        for_day += timedelta(days=7)
    if for_day < today:
        return Result.asking("A forecast is for a day to come. For which day?")
    values: dict[str, Value] = {"issued": today, "for_day": for_day}
    temps = temperatures(unit)
    span: list[float] = []
    for temp in temps:
        for value in (temp.value, temp.high):
            if value is not None:
                one = in_celsius(Quantity(temp.start, temp.end, temp.text, value, unit=temp.unit), ears.yard.units)
                if one is None or not AIR_C[0] - 10 <= one <= AIR_C[1] + 8:
                    return Result.asking(f"{temp.text} cannot be right for a forecast. What is it?")
                span.append(round(one, 2))
    if len(span) > 2:
        return Result.asking("Which of these is the low, and for which day?")
    if len(span) == 2:
        values |= {"min_c": min(span), "max_c": max(span)}
    elif span:
        low = night or talk.has("ground", "low", text) or "frost" in text.casefold() or span[0] < 0
        high = talk.has("ground", "high", text)
        if not (low or high) and said is not None and said.clock is not None and said.clock.hour not in range(*DAY_H):
            ways = [
                Way(f"the {which} of {day_told(for_day)}", (Draft("forecast_day", {**values, name: span[0]}),))
                for which, name in (("low", "min_c"), ("high", "max_c"))
            ]
            return Result.asking(f"Is {temps[0].text} the low or the high that is foretold?", *ways)
        values["max_c" if high or not low else "min_c"] = span[0]
    for word, sky in (("part_cloud", "part cloud"), ("clear", "clear"), ("cloud", "cloud")):
        if talk.has("ground", word, text):
            values["sky"] = sky
            break
    winds = [metres_per_second(q, ears.yard.units) for q in unit.quantities if q.unit in ("m_s", "km_h", "mph")]
    if winds and winds[0] is not None:
        values["wind_m_s"] = round(winds[0], 2)
    if any(q.unit in ("min", "h") for q in unit.quantities):
        return Result.asking("Which of these figures is the low, and which the high?")
    if len(values) == 2:
        return Result.asking("What does the forecast say: the low, the sky, the wind?")
    return Result([Draft("forecast_day", values)])
