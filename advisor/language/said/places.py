"""What is told of a garden's place: its name, where it lies, its units, its clock, its height and usual frosts."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from advisor.facts import Value
from advisor.records.coordinates import find_position
from advisor.records.remembered import MONTHS, month_day
from advisor.records.talk_words import TalkWords
from advisor.records.time_zones import zone_called

HEIGHT = re.compile(
    r"(?<![\d.,])(\d{1,4}(?:[.,]\d)?)\s*(m|metres?|meters?|ft|feet)\b"
    r"(?:\s+(?:up|high|above (?:the )?sea(?: level)?|asl))?",
    re.IGNORECASE,
)
ZONE = re.compile(r"\b([A-Za-z]+/[A-Za-z_-]+(?:/[A-Za-z_-]+)?)\b|\b([A-Z][a-z]+(?: [A-Z][a-z]+)?) time\b")
MONTH = rf"(?:{'|'.join(MONTHS)})[a-z]*"
FROST = re.compile(
    rf"\b(last|first)\s+frost\s+(?:is\s+)?(?:usually\s+)?(?:about\s+|around\s+|on\s+|in\s+)?"
    rf"(\d\d?(?:st|nd|rd|th)?\s+(?:of\s+)?{MONTH}|{MONTH}\s+\d\d?(?:st|nd|rd|th)?|\d\d-\d\d)\b",
    re.IGNORECASE,
)
NAME = (
    r"\s*:?\s+(?:the\s+)?['‘\"“]?([\w][\w .&'’-]{0,40}?)['’\"”]?"
    r"(?=\s*(?:[,;!]|\.(?:\s|$)|$)|\s+(?:at|in|is|lies|near|and|on)\s)"
)
SMALL = frozenset(("of", "the", "by", "on", "and", "in", "at", "am", "an", "der", "de", "la"))
"""Words within a name that need no capital."""
LONGEST_NAME = 5
FOOT_M = 0.3048


@dataclass
class PlaceTold:
    """What a message tells of a place, in the fields of its kind; ``ask`` is what has to be asked about it."""

    values: dict[str, Value] = field(default_factory=dict)
    ask: str = ""


def read_place(text: str, talk: TalkWords, asked: str = "") -> PlaceTold:
    """Return what a message tells of a place. ``asked`` is the field that was asked for before it, "" for none."""
    told = PlaceTold()
    values = told.values
    for frost in FROST.finditer(text):
        values[f"usual_{frost[1].casefold()}_frost"] = month_day(frost[2])
    left = FROST.sub(",", text)
    if zone := ZONE.search(left):
        name = zone_called(zone[1] or zone[2])
        if name:
            values["time_zone"] = name
            left = left.replace(zone[0], ",")
        elif zone[1] and (asked == "time_zone" or "zone" in text.casefold()):
            told.ask = f"I know no time zone {zone[1]!r}. Name one such as Europe/Vienna."
    if height := HEIGHT.search(left):
        metres = float(height[1].replace(",", ".")) * (FOOT_M if height[2].casefold().startswith("f") else 1.0)
        values["elevation_m"] = round(metres, 1)
        left = left.replace(height[0], ",")
    if found := find_position(left):
        at, left = found
        if isinstance(at, ValueError):
            told.ask = f"I cannot read where that is: I want {at}."
        else:
            values |= {"latitude_deg": at.latitude_deg, "longitude_deg": at.longitude_deg}
    units = [one for one in ("metric", "us") if talk.has("place", one, left)]
    if asked == "units" and text.strip(" .!").casefold() in ("us", "usa", "american"):
        values["units"] = "us"
    elif len(units) == 1:
        values["units"] = units[0]
        left = talk.pattern("place", units[0]).sub(",", left)
    if asked == "units" and values.get("units") == "us":
        left = left.replace(text.strip(" .!"), "")
    if name := _name(left, talk, asked, bool(values)):
        values["name"] = name
    if asked == "time_zone" and not values and (zone_name := zone_called(text.strip(" .!"))):
        values["time_zone"] = zone_name
    return told


def _name(left: str, talk: TalkWords, asked: str, told: bool) -> str:
    """Return the garden's name: after a word that names it, or where it stands alone, with capitals or asked for."""
    named = re.search(talk.pattern("place", "named").pattern + NAME, left, re.IGNORECASE)
    if named:
        return " ".join(named[1].split())
    if "?" in left or not (told or asked == "name"):
        return ""
    parts = [re.sub(r"^(?:it['’]?s|it is)\s+", "", part.strip(" .!'\"“”‘’")) for part in re.split(r"[,;\n]|\.\s", left)]
    for words in (part.split() for part in parts if part):
        capitals = all(word[:1].isupper() or (at and word in SMALL) for at, word in enumerate(words))
        if 0 < len(words) <= LONGEST_NAME and (capitals or asked == "name") and words != ["I"]:
            return " ".join(words)
    return ""
