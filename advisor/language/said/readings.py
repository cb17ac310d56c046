"""Temperatures as records: soil and air readings, evenings, forecasts."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta

from advisor.facts import Value
from advisor.language.quantities import Quantity, in_celsius, in_cm, metres_per_second
from advisor.language.said.drafts import Draft, Open, Way
from advisor.language.said.events import temperatures
from advisor.language.said.unit import LENGTH_UNITS, Ears, Unit
from advisor.language.said.whom import Result, day_of, for_spots, said_time, time_of
from advisor.language.when import Said

SOIL_C, AIR_C = (-5.0, 38.0), (-35.0, 42.0)
"""What a figure without a unit may be, in °C, to be taken in the unit of the place (house judgement)."""
BY_HAND = "by hand"
WEEKDAY = re.compile(r"(?:mon|tues?|wednes|thurs?|fri|satur|sun)day|\b(?:mon|tue|wed|thu|fri|sat|sun)\b", re.IGNORECASE)
THIS_NIGHT = re.compile(r"\b(?:this|the coming) night\b", re.IGNORECASE)
MORNING_H = 6


def read_temperature(unit: Unit, ears: Ears, shared: Sequence[Said], soil_elsewhere: bool) -> Result:
    """Return the soil or air readings of a unit. ``soil_elsewhere`` says that the message speaks of soil."""
    temps = temperatures(unit)
    depth = _depth_cm(unit, ears)
    talk, text = ears.talk, unit.text
    plain = _without_names(unit)
    air = talk.has("ground", "air", plain)
    named = [name for one in unit.plants() for name in one.names]
    in_pot = bool(named) and not unit.spots() and all(_is_pot(name, ears) for name in named)
    soil = not air and (talk.has("ground", "soil", text) or depth is not None or soil_elsewhere)
    low = talk.has("ground", "low", plain)
    air = air or (low and not soil)
    lengths = {q.value for q in unit.quantities if q.unit in LENGTH_UNITS}
    if len(lengths) > 1 and len(temps) == 1:
        return Result.asking("Two lengths and one temperature: how deep was it read?")
    if len(temps) != 1 or temps[0].high is not None:
        return Result.asking(_each_its_place(temps, unit, ears))
    doubtful = next((q for q in unit.quantities if q.doubt and not (q.doubt == "inches" and ears.yard.us)), None)
    if doubtful is not None:
        return Result.asking(
            f"What does {doubtful.text!r} measure there: a depth, a time, a temperature? Say it with its unit."
        )
    moment = time_of(unit, ears, shared)
    if isinstance(moment, Open):
        return Result(open=[moment])
    said = said_time(unit, shared)
    if low and not soil and said is not None and said.part in ("night", "last night", "morning") and said.clock is None:
        morning = moment if said.part == "morning" else moment + timedelta(days=1 if moment.hour >= 12 else 0)
        moment = morning.replace(hour=MORNING_H, minute=0)
        if moment > ears.now:
            moment = ears.now
    if not soil and not air and not low:
        return _soil_or_air(unit, ears, temps[0], moment)
    return _reading(unit, ears, temps[0], depth, moment, soil=soil, in_pot=in_pot)


def _without_names(unit: Unit) -> str:
    """Return what is said without the names in it: a reading "at the low bed" is no low."""
    names = {name for one in unit.mentions for name in one.names}
    return (
        re.sub("|".join(rf"\b{re.escape(name)}\b" for name in names), " ", unit.text, flags=re.I)
        if names
        else unit.text
    )


def _each_its_place(temps: Sequence[Quantity], unit: Unit, ears: Ears) -> str:
    """Return how to tell several figures that were read in a row: each with a spot of its own."""
    named = [name for one in unit.spots() for name in one.names]
    spots = [*named, *(spot.name for spot in ears.yard.spots if spot.name not in named)]
    if len(temps) != 2 or len(spots) < 2:
        return "One reading at a time, please: which temperature, and where?"
    shown = f"soil {temps[0].text} at the {spots[0]}, {temps[1].text} at the {spots[1]}"
    return f"Two readings want two places: send each with its spot, as in: {shown}."


def _reading(
    unit: Unit, ears: Ears, temp: Quantity, depth_cm: float | None, moment: object, *, soil: bool, in_pot: bool
) -> Result:
    temp_c = _celsius(temp, ears, SOIL_C if soil else AIR_C)
    if isinstance(temp_c, Open):
        return _both_units(unit, ears, temp, depth_cm, moment, soil=soil, in_pot=in_pot)

    def build(names: Sequence[str]) -> list[Draft]:
        return _drafts(unit, ears, names, temp_c, depth_cm, moment, soil=soil, in_pot=in_pot)

    if soil and in_pot:
        unsure = [one for one in unit.plants() if not one.sure]
        if unsure:
            ways = [Way(name, tuple(build([name]))) for name in unsure[0].names]
            return Result.asking("In which pot was that read?", *ways)
        names = [name for one in unit.plants() for name in one.names]
        return Result(drafts=build(names)) if len(names) == 1 else Result.asking("In which pot was that read?")
    result = for_spots(unit, ears, build, "was that read at")
    both = any(one.all_of_kind and one.sure for one in unit.spots())
    if len(result.drafts) > 1 and not both:
        ways = [Way(str(draft.values["spot"]), (draft,)) for draft in result.drafts]
        return Result.asking("One reading is of one spot. Which?", *ways)
    return result


def _drafts(
    unit: Unit,
    ears: Ears,
    names: Sequence[str],
    temp_c: float,
    depth_cm: float | None,
    moment: object,
    *,
    soil: bool,
    in_pot: bool,
) -> list[Draft]:
    values: dict[str, Value] = {"temp_c": round(temp_c, 2), "at": moment}  # type: ignore[dict-item]  # a time
    if not soil:
        return [Draft("weather_hour", {"spot": name, **values, "source": BY_HAND}) for name in names]
    if depth_cm is not None:
        values["depth_cm"] = round(depth_cm, 1)
    sky = ears.talk.first("sky", unit.text)
    if sky:
        values["sky"] = sky
    return [Draft("soil_reading", {"plant" if in_pot else "spot": name, **values}) for name in names]


def _soil_or_air(unit: Unit, ears: Ears, temp: Quantity, moment: object) -> Result:
    """Ask whether a bare figure at a place is of the soil or of the air."""
    ways = []
    for text, soil in (("the soil", True), ("the air", False)):
        result = _reading(unit, ears, temp, None, moment, soil=soil, in_pot=False)
        if len(result.drafts) == 1:
            ways.append(Way(text, tuple(result.drafts)))
    if len(ways) == 2:
        return Result.asking(f"Is {temp.text} the soil's temperature or the air's?", *ways)
    return Result.asking(f"Where was {temp.text} read, and in the soil or in the air?")


def _both_units(
    unit: Unit, ears: Ears, temp: Quantity, depth_cm: float | None, moment: object, *, soil: bool, in_pot: bool
) -> Result:
    """Ask for the unit of a figure that cannot be in the place's own."""
    ways = []
    for name, value in (("°C", temp.value), ("°F", (temp.value - 32) / 1.8)):
        low, high = SOIL_C if soil else AIR_C
        if low <= value <= high:

            def build(names: Sequence[str], value: float = value) -> list[Draft]:
                return _drafts(unit, ears, names, value, depth_cm, moment, soil=soil, in_pot=in_pot)

            made = for_spots(unit, ears, build, "was that read at").drafts
            if made:
                ways.append(Way(f"{temp.value:g} {name}", tuple(made)))
    return Result.asking(f"{temp.text} cannot be right in {'°F' if ears.yard.us else '°C'} there. What is it?", *ways)


def _celsius(temp: Quantity, ears: Ears, span: tuple[float, float]) -> float | Open:
    """Return a temperature in °C, by its own unit or the place's; a question where it cannot be."""
    value = in_celsius(temp, ears.yard.units)
    if value is None or not span[0] <= value <= span[1]:
        return Open(f"{temp.text} cannot be right")
    return value


def _depth_cm(unit: Unit, ears: Ears) -> float | None:
    lengths = [q for q in unit.quantities if q.unit in LENGTH_UNITS]
    return in_cm(lengths[0], ears.yard.units) if len(lengths) == 1 and lengths[0].high is None else None


def _is_pot(name: str, ears: Ears) -> bool:
    plant = ears.yard.plant(name)
    return bool(plant and plant.in_pot)


# ---- evenings and forecasts


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
        high = talk.has("ground", "high", text) or not low
        values["max_c" if high else "min_c"] = span[0]
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
