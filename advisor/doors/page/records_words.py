"""Records in the grower's words: what a field is called, a row in one line, who said it and how."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from urllib.parse import quote

from advisor.doors.page.forms import Input
from advisor.facts import Value
from advisor.language.render import Speech, label, sentence_case
from advisor.language.said.said_back import said_back
from advisor.records.browsing import Saying, Shown
from advisor.records.kinds import Field, Kind

CALLED: Mapping[str, str] = {
    "on": "day",
    "at": "time",
    "to_spot": "moved to",
    "bbch": "BBCH code",
    "for_day": "for the day",
    "from_day": "from",
    "to_day": "until",
    "min_c": "lowest temperature",
    "max_c": "highest temperature",
    "low_c": "coldest foretold",
    "high_c": "mildest foretold",
    "temp_c": "temperature",
    "sun_h": "sun in midsummer",
    "spring_sun_h": "sun in spring",
    "room_m": "room for trees",
    "by_lot": "drawn by lot",
    "source": "station",
    "pot_litres": "size of the pot",
    "weight_kg": "weight",
    "fruits": "number of fruits",
    "low_lying": "cold air gathers",
    "wall_side": "side of the wall",
    "wall_distance_m": "distance to the wall",
    "words": "in words",
    "what": "what it was",
    "differs": "what differs",
    "elevation_m": "height above the sea",
    "elevation_deg": "height over the horizon",
    "usual_last_frost": "usual last frost of spring",
    "usual_first_frost": "usual first frost of autumn",
    "put_on": "since",
    "taken_off": "taken off",
    "why": "why it is doubted",
}
HINTS: Mapping[str, str] = {
    "material": "what lies on the soil; bare for nothing",
    "bearing_to_deg": "clockwise from north, past the first one",
    "time_zone": "the name of its time zone, such as Europe/Vienna or America/New_York",
    "bbch": "0 asleep, 7 buds breaking, 9 green tips, 10 to 19 leaves, 51 to 59 flower buds, 60 to 69 in flower",
    "what": "",
}
"""In place of a kind's own words where these speak of files."""
KIND_WORDS: Mapping[str, str] = {
    "weather_day": "weather of a day",
    "weather_hour": "weather of an hour",
    "weather_doubt": "doubtful weather",
    "forecast_day": "forecast",
    "obstruction": "thing that hides the sky",
    "trial_member": "member of a trial",
    "stage": "stage of a plant",
}
EXACT = ("latitude_deg", "longitude_deg")
NOT_BY_HAND = ("advice", "weather_doubt")
"""Kinds that the adviser itself records; a grower takes them out of use, and tells none."""


def called(name: str) -> str:
    """Return what a field is called.

    >>> called("to_spot"), called("depth_cm")
    ('moved to', 'depth')
    """
    return CALLED.get(name) or label(name)


def kind_called(kind: str) -> str:
    """Return what a kind is called.

    >>> kind_called("soil_reading"), kind_called("weather_day")
    ('soil reading', 'weather of a day')
    """
    return KIND_WORDS.get(kind) or kind.replace("_", " ")


def spoken(made: Sequence[Input], kind: Kind) -> list[Input]:
    """Return the inputs of a form under the names that a grower has for them."""
    fields = {label(field.name): field for field in kind.fields.values()}
    found = []
    for one in made:
        field = _field_of(one, kind) or fields.get(one.label)
        name = field.name if field else one.name
        found.append(replace(one, label=sentence_case(called(name)), hint=HINTS.get(name, one.hint)))
    return found


def _field_of(one: Input, kind: Kind) -> Field | None:
    if one.name in kind.fields:
        return kind.fields[one.name]
    return next((f for f in kind.fields.values() if f.unit and label(f.name) == one.label), None)


def told(values: Mapping[str, Value], kind: Kind, speech: Speech) -> list[tuple[str, str]]:
    """Return the values of a row, each with what it is called; what is not known is not there."""
    found = []
    for name in kind.fields:
        if name in values:
            exact = f"{values[name]:.6g} degrees" if name in EXACT else speech.value(name, values[name], article=False)
            found.append((called(name), exact))
    return found


def line_of(kind: str, values: Mapping[str, Value], speech: Speech) -> str:
    """Return a row as a line, with a capital and without a full stop."""
    writer = _LINES.get(kind)
    if writer:
        return sentence_case(writer(values, speech))
    said = said_back(kind, values, speech)
    return sentence_case(said.removeprefix("new plant ").removeprefix("new spot "))


def _all(values: Mapping[str, Value], speech: Speech, first: str) -> str:
    rest = [
        f"{called(name)}{':' if isinstance(value, bool) else ''} {speech.value(name, value)}"
        for name, value in values.items()
        if name != first
    ]
    return f"{values[first]}" + (f": {', '.join(rest)}" if rest else "")


def _weather(values: Mapping[str, Value], speech: Speech) -> str:
    when = "on" if "on" in values else "at"
    parts = [f"{speech.value('min_c', values['min_c'])} to {speech.value('max_c', values['max_c'])}"]
    parts += [f"rain {speech.value('rain_mm', values['rain_mm'])}"] if "rain_mm" in values else []
    parts += [f"at {speech.value('spot', values['spot'])}"] if "spot" in values else []
    return f"{speech.value(when, values[when])}: {', '.join(parts)}"


def _advice(values: Mapping[str, Value], speech: Speech) -> str:
    about = values.get("plant") or values.get("spot")
    of = f" for {speech.name(str(about))}" if about else ""
    return (
        f"advised on {speech.value('on', values['on'])}{of}: {str(values['claim']).replace('-', ' ').replace('_', ' ')}"
    )


def _doubt(values: Mapping[str, Value], speech: Speech) -> str:
    told = [f"{called(n)} {speech.value(n, values[n])}" for n in ("min_c", "max_c", "temp_c", "rain_mm") if n in values]
    return f"{speech.value('at', values['at'])}: {', '.join(told)}, doubted: {values['why']}"


def _obstruction(values: Mapping[str, Value], speech: Speech) -> str:
    what = values.get("what") or "something"
    span = f"{speech.value('bearing_from_deg', values['bearing_from_deg']).removesuffix(' degrees')} to"
    to = speech.value("bearing_to_deg", values["bearing_to_deg"])
    return f"{what} seen from {speech.value('spot', values['spot'])}, {span} {to} clockwise from north"


def _member(values: Mapping[str, Value], speech: Speech) -> str:
    who = values.get("plant") or values.get("spot")
    return f"{who} on side {values['side']} of {speech.name(str(values['trial']))}"


_LINES: Mapping[str, Callable[[Mapping[str, Value], Speech], str]] = {
    "place": lambda values, speech: _all(values, speech, "name"),
    "spot": lambda values, speech: _all(values, speech, "name"),
    "trial": lambda values, speech: _all(values, speech, "name"),
    "weather_station": lambda values, speech: _all(values, speech, "name"),
    "weather_day": _weather,
    "weather_doubt": _doubt,
    "obstruction": _obstruction,
    "trial_member": _member,
    "advice": _advice,
}


def differences(before: Mapping[str, Value], now: Mapping[str, Value], kind: Kind, speech: Speech) -> list[str]:
    """Return what a row says otherwise than the one that it stands for."""
    found = []
    for name in kind.fields:
        if before.get(name) == now.get(name):
            continue
        if name not in now:
            found.append(f"{called(name)} is no longer told")
        elif name not in before:
            found.append(f"{called(name)} is now told: {speech.value(name, now[name], article=False)}")
        else:
            old, new = (speech.value(name, one[name], article=False) for one in (before, now))
            found.append(f"{called(name)} was {old} and is now {new}")
    return found


@dataclass(frozen=True, slots=True)
class HowSaid:
    """Who told something, when and how; ``link`` leads to where it was told, "" for nowhere."""

    text: str
    when: str
    by: str
    link: str = ""


def how_said(said: Saying, speech: Speech, line: int | None = None) -> HowSaid:
    """Return who told something, when and how, as a grower would read it."""
    at = f", line {line}" if line else ""
    link = ""
    match said.via:
        case "message":
            text, link = "in a message", f"/talk/{quote(said.ref, safe='')}"
        case "file":
            text = f"in the file {said.ref}{at}"
        case "page":
            text = "on a page"
        case "undo":
            text = "by taking something back"
        case "command":
            text = f"by the command {said.ref}"
        case _:
            text = f"by {said.via} {said.ref}{at}"
    return HowSaid(text, speech.value("said_at", said.at), said.by, link)


def row_link(kind: str, row_id: int) -> str:
    return f"/records/{quote(kind, safe='')}/{row_id}"


def first_told(row: Shown, kind: Kind, speech: Speech) -> str:
    """Return what a row is found by in a list: its day, else its name, else its number."""
    for name in (kind.holds_on, "name"):
        if name and name in row.values and name != "planted":
            return speech.value(name, row.values[name], article=False)
    return str(row.values.get("name") or f"No. {row.id}")
