"""A marshmallow schema for each kind, made from its file: raw cells or JSON in, checked values out.

Each error message says what is wanted; the reader of it names the file, the line and what was found.
"""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from marshmallow import RAISE, Schema, ValidationError, fields, validates_schema

from advisor.records.kinds import Field, Kind
from advisor.records.moments import read_date, read_time
from advisor.records.species import Lore
from advisor.records.units import plain_number

YES = {"yes", "y", "true", "1", True}
NO = {"no", "n", "false", "0", False}


@dataclass
class Known:
    """What a value may refer to: the spots and plants recorded or sent beside it, the place's zone and its dates.

    ``day_first`` is the order of day and month there and ``us`` whether it uses US units, None where no place is known
    yet; ``today`` the day after which nothing can have been seen.
    """

    lore: Lore
    spots: set[str] = field(default_factory=set)
    plants: set[str] = field(default_factory=set)
    zone: ZoneInfo | None = None
    day_first: bool | None = None
    us: bool | None = None
    today: date | None = None

    def settle(self, time_zone: str, units: str) -> None:
        """Take zone and order of dates from a place: month first with US units, else day first."""
        self.zone, self.us = ZoneInfo(time_zone), units == "us"
        self.day_first = not self.us


class KindSchema(Schema):
    """Base of all kinds' schemas; fields that are not of the kind are refused."""

    kind: Kind
    known: Known

    class Meta:
        unknown = RAISE

    @validates_schema(skip_on_field_errors=True)
    def _names_one(self, data: Mapping[str, Any], **_: object) -> None:
        wanted = self.kind.needs_one_of
        if wanted and not any(name in data for name in wanted):
            raise ValidationError(f"one of {' or '.join(wanted)}", " or ".join(wanted))

    @validates_schema(skip_on_field_errors=True)
    def _can_be(self, data: Mapping[str, Any], **_: object) -> None:
        for low, high in (("min_c", "max_c"), ("put_on", "taken_off"), ("from_day", "to_day"), ("issued", "for_day")):
            if low in data and high in data and data[high] < data[low]:
                raise ValidationError(f"{high} no earlier and no lower than {low}; were the two swapped?", high)
        if data.get("buds_dead", 0) > data.get("buds_cut", math.inf):
            raise ValidationError("no more dead buds than were cut", "buds_dead")
        seen = data.get(self.kind.holds_on)
        latest = self.known.today + timedelta(days=1) if self.known.today else None
        if latest and seen is not None and (seen.date() if isinstance(seen, datetime) else seen) > latest:
            raise ValidationError("a day that has come; is the year right?", self.kind.holds_on)
        if "grafted_on" in data and str(data["grafted_on"]).casefold() == str(data.get("name", "")).casefold():
            raise ValidationError("another plant than itself", "grafted_on")


def schema_for(kind: Kind, known: Known) -> Schema:
    """Return a schema that loads one row of a kind."""
    made = {spec.name: _Value(spec, known) for spec in kind.fields.values()}
    schema: Schema = type(f"{kind.name}_schema", (KindSchema,), {**made, "kind": kind, "known": known})()
    return schema


class _Value(fields.Field[Any]):
    """One field of a kind, checked by its type."""

    def __init__(self, spec: Field, known: Known) -> None:
        wanted = spec.says or "a value; every row needs one"
        super().__init__(required=spec.required, error_messages={"required": wanted, "null": wanted})
        self.spec, self.known = spec, known

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **_: Any) -> Any:
        match self.spec.type:
            case "number" | "whole":
                return _number(value, self.spec)
            case "yes_no":
                return _yes_no(value)
            case "date":
                return _date(value, self.known.day_first)
            case "time":
                return _time(value, self.known)
        if isinstance(value, list | dict | bool):
            raise ValidationError("one name or text")
        text = str(value).strip()
        match self.spec.type:
            case "word":
                return _one_of(text, self.spec.one_of)
            case "month_day":
                return _month_day(text)
            case "spot":
                return _name(text, self.known.spots, "spot")
            case "plant":
                return _name(text, self.known.plants, "plant")
            case "species":
                species = self.known.lore.species_called(text)
                if species is None:
                    raise ValidationError(f"a species of rules/species: {', '.join(self.known.lore.species)}")
                return species.id
        if self.spec.name == "material":
            material = self.known.lore.material_called(text)
            if material is None:
                raise ValidationError(f"a material of rules/materials.toml: {', '.join(self.known.lore.materials)}")
            return material.id
        return _zone_name(text) if self.spec.name == "time_zone" else text


def _number(value: Any, spec: Field) -> float | int:
    number = plain_number(value, False) if isinstance(value, str) else value
    if isinstance(number, bool) or not isinstance(number, int | float) or not math.isfinite(number):
        raise ValidationError("a number, with a point for decimals")
    if (spec.min is not None and number < spec.min) or (spec.max is not None and number > spec.max):
        raise ValidationError(f"{spec.name} between {spec.min:g} and {spec.max:g}; is it in another unit?")
    if spec.type == "whole":
        if number != int(number):
            raise ValidationError("a whole number")
        return int(number)
    return round(number, 4)


def _yes_no(value: Any) -> bool:
    key = value.strip().casefold() if isinstance(value, str) else value
    if isinstance(key, list | dict):
        raise ValidationError("yes or no")
    if key in YES:
        return True
    if key in NO:
        return False
    raise ValidationError("yes or no")


def _one_of(text: str, words: Collection[str]) -> str:
    word = next((word for word in words if word.casefold() == text.casefold()), None)
    if word is None:
        raise ValidationError(f"one of {', '.join(words)}")
    return word


def _date(value: Any, day_first: bool | None) -> date:
    if isinstance(value, date) and not isinstance(value, datetime):
        return value
    try:
        return read_date(str(value), day_first)
    except ValueError as error:
        raise ValidationError(str(error)) from None


def _time(value: Any, known: Known) -> datetime:
    text = value.isoformat() if isinstance(value, datetime) else str(value)
    try:
        return read_time(text, known.zone, known.day_first)
    except ValueError as error:
        raise ValidationError(str(error)) from None


def _month_day(text: str) -> str:
    try:
        if not re.fullmatch(r"\d\d-\d\d", text):
            raise ValueError(text)
        return date.fromisoformat(f"2024-{text}").strftime("%m-%d")
    except ValueError:
        raise ValidationError("a day of the year like 05-10 (month-day)") from None


def _zone_name(text: str) -> str:
    try:
        return ZoneInfo(text).key
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise ValidationError("a time zone name such as Europe/Vienna") from None


def _name(text: str, names: Collection[str], called: str) -> str:
    folded = {name.casefold(): name for name in names}
    if text.casefold() in folded:
        return folded[text.casefold()]
    near = difflib.get_close_matches(text.casefold(), folded, n=1, cutoff=0.6)
    hint = f"; did you mean {folded[near[0]]!r}?" if near else ""
    raise ValidationError(f"a {called} that is recorded or in {called}.csv{hint}")
