"""Temperatures as records: soil and air readings."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from advisor.facts import Value
from advisor.language.quantities import Quantity, in_celsius, in_cm
from advisor.language.said.drafts import Draft, Open, Way
from advisor.language.said.events import WAS_READ, temperatures
from advisor.language.said.forecasts import AIR_C, day_told, read_forecast
from advisor.language.said.unit import LENGTH_UNITS, Ears, Unit
from advisor.language.said.whom import Result, for_spots, said_time, time_of
from advisor.language.when import Said, moment_of

SOIL_C = (-5.0, 38.0)
"""What a figure without a unit may be, in °C, to be taken in the unit of the place (house judgement)."""
BY_HAND = "by hand"
MORNING_H = 6
DAWN_H, DARK_H = 6, 20
"""Between these hours "it got down to -2 tonight" can hardly be of the night to come (house judgement)."""
UNREAD_HOUR = re.compile(r"(?<![\d.,:/-])(?:[01]\d|2[0-3])[0-5]\d(?![\d.,:/-]|\s*(?:h|hrs?|hours?)\b)")


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
    low = talk.has("ground", "low", plain) or (not soil and not air and _froze_by_night(temps, unit, ears, shared))
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
    hour = UNREAD_HOUR.search(plain)
    if hour and not unit.times:
        return Result.asking(f"Is {hour[0]!r} an hour? Write it as {hour[0][:2]}:{hour[0][2:]}, and I record it.")
    moment = time_of(unit, ears, shared)
    said = said_time(unit, shared)
    if isinstance(moment, Open):
        if said is not None and said.to_come and not said.unclear and not soil:
            return _not_yet(unit, ears, temps[0], said, air=air, in_pot=in_pot)
        return Result(open=[moment])
    if said is not None and _night_to_come(said, unit, ears) and not soil:
        return _not_yet(unit, ears, temps[0], said, air=air, in_pot=in_pot)
    of_night = said is not None and said.part in ("night", "last night", "morning")
    if low and said is not None and said.part == "" and said.day < ears.now.date() and not said.since:
        of_night = True  # "a low of -2 on Tuesday" is of its morning
    if low and not soil and said is not None and of_night and said.clock is None:
        morning = moment if said.part in ("morning", "") else moment + timedelta(days=1 if moment.hour >= 12 else 0)
        moment = morning.replace(hour=MORNING_H, minute=0)
        if moment > ears.now:
            moment = ears.now
    if not soil and not air and not low:
        return _soil_or_air(unit, ears, temps[0], moment, in_pot=in_pot)
    return _reading(unit, ears, temps[0], depth, moment, soil=soil, in_pot=in_pot)


def _froze_by_night(temps: Sequence[Quantity], unit: Unit, ears: Ears, shared: Sequence[Said]) -> bool:
    """Return whether a bare figure is of a night past and no warmer than freezing: so cold is air, and soil hardly."""
    said = said_time(unit, shared)
    if len(temps) != 1 or said is None or said.part not in ("night", "last night", "morning") or said.to_come:
        return False
    value = in_celsius(temps[0], ears.yard.units)
    return value is not None and value <= 0.0


def _not_yet(unit: Unit, ears: Ears, temp: Quantity, said: Said, *, air: bool, in_pot: bool) -> Result:
    """Ask of a figure of a time to come when it was read, or whether it is foretold."""
    ways: list[Way] = []

    def add(shown: str, moment: datetime, *, soil: bool) -> None:
        made = _reading(unit, ears, temp, None, moment, soil=soil, in_pot=soil and in_pot).drafts
        if made:
            ways.append(Way(f"in the {'soil' if soil else 'air'} {shown}", tuple(made)))

    ask = f"That time has not come yet. When was {temp.text} read{'' if unit.mentions else ', and where'}?"
    yesterday = ears.now.date() - timedelta(days=1)
    if said.clock is not None and said.day == ears.now.date():
        before = moment_of(replace(said, day=yesterday, to_come=False), ears.now)
        for soil in (False,) if air else (True, False):
            add(f"yesterday, {day_told(yesterday)}, at {before:%H:%M}", before, soil=soil)
    elif WAS_READ.search(unit.text):
        add("last night", ears.now.replace(hour=MORNING_H, minute=0), soil=False)
    else:
        ask = f"Was {temp.text} read there, or is it foretold?"
        for draft in read_forecast(replace(unit, times=[said]), ears, []).drafts:
            which = "low" if "min_c" in draft.values else "high"
            ways.append(Way(f"the {which} foretold for {day_told(draft.values['for_day'])}", (draft,)))
    for soil in (False,) if air or in_pot or not ways else (False, True):
        add("just now", ears.now, soil=soil)
    return Result.asking(ask, *ways)


def _night_to_come(said: Said | None, unit: Unit, ears: Ears) -> bool:
    """Return whether a figure is of a night that has hardly begun, or is not said to have been."""
    if said is None or not said.to_come or said.part != "night" or said.clock is not None:
        return False
    return DAWN_H <= ears.now.hour < DARK_H or not WAS_READ.search(unit.text)


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
    if {ears.talk.has("ground", "low", unit.text), ears.talk.has("ground", "high", unit.text)} == {True} and not named:
        return (
            "A day's low and high of the whole garden come with a weather file. Of a spot I keep the low: low -2 at "
            f"the {spots[0] if spots else 'hollow'}."
        )
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


def _soil_or_air(unit: Unit, ears: Ears, temp: Quantity, moment: object, *, in_pot: bool) -> Result:
    """Ask whether a bare figure at a place is of the soil or of the air."""
    ways = []
    for text, soil in (("the soil", True), ("the air", False)):
        result = _reading(unit, ears, temp, None, moment, soil=soil, in_pot=soil and in_pot)
        if len(result.drafts) == 1:
            ways.append(Way(text, tuple(result.drafts)))
    if len(ways) == 2 or (ways and in_pot):
        return Result.asking(f"Is {temp.text} the soil's temperature or the air's?", *ways)
    return Result.asking(f"Where was {temp.text} read, and in the soil or in the air?")


def asked_of_all(opened: Sequence[Open]) -> list[Open]:
    """Return what is open, with figures of which it is asked alike whether they are of soil or air asked of at once."""
    alike = [one for one in opened if SOIL_OR_AIR.fullmatch(one.ask) and len(one.ways) > 1]
    if len(alike) < 2 or len({tuple(way.text for way in one.ways) for one in alike}) > 1:
        return list(opened)
    figures = [found[1] for one in alike if (found := SOIL_OR_AIR.fullmatch(one.ask))]
    ways = [
        Way(same[0].text, tuple(draft for way in same for draft in way.drafts))
        for same in zip(*(one.ways for one in alike), strict=True)
    ]
    whole = Open(f"Are {', '.join(figures[:-1])} and {figures[-1]} of the soil or of the air?", tuple(ways))
    return [whole if one is alike[0] else one for one in opened if one not in alike[1:]]


SOIL_OR_AIR = re.compile(r"Is (.+) the soil's temperature or the air's\?")


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
