"""The fields of each kind of record as a schema, made from ``rules/kinds``: what may be sent, and of what sort."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from marshmallow import Schema, fields, validate

from advisor.doors.api.members import WANTED, Day, Moment, Number, Sent, Whole, YesNo, one_of, said, text
from advisor.doors.page.records_words import NOT_BY_HAND
from advisor.facts import Value
from advisor.records.kinds import Field, Kind, Vocabulary

UNIT_WORDS = {
    "c": "°C", "k": "K", "cm": "cm", "mm": "mm", "m": "m", "deg": "degrees", "litres": "litres", "kg": "kg", "h": "h",
    "cm_h": "cm/h", "m_s": "m/s", "days": "days", "dd": "°C·day", "share": "share of 1", "portions": "chill portions",
}  # fmt: skip
NAMES = {
    "spot": "the name of a recorded spot",
    "plant": "the name of a recorded plant",
    "species": "a kind of tree, by its id",
}
MONTH_DAY = r"^\d\d-\d\d$"


def can_be_sent(kinds: Vocabulary) -> Iterator[Kind]:
    """Yield the kinds that a grower tells; the adviser's own records are not sent."""
    return (kind for kind in kinds.values() if kind.origin == "recorded" and kind.name not in NOT_BY_HAND)


def values_schema(kind: Kind) -> type[Schema]:
    """Return the schema of a kind's fields as they are sent."""
    made: type[Schema] = type(component(kind.name), (Sent,), {one.name: _member(one) for one in kind.fields.values()})
    made.__doc__ = kind.says
    return made


def component(kind: str) -> str:
    """Return what a kind's values are called in the document.

    >>> component("soil_reading")
    'SoilReadingValues'
    """
    return "".join(part.title() for part in kind.split("_")) + "Values"


def changes_schema(kind: Kind, names: Any) -> Schema:
    """Return the schema of some of a kind's fields, each of which may be null."""
    made = {one.name: _member(one, may_be_null=True) for one in kind.fields.values() if one.name in names}
    return type("Changes", (Sent,), made)(partial=True)  # type: ignore[no-any-return]  # a schema made here


def _member(field: Field, *, may_be_null: bool = False) -> fields.Field[Any]:
    unit = UNIT_WORDS.get(field.unit or "", "")
    says = "; ".join(part for part in (field.says, NAMES.get(field.type, ""), f"in {unit}" if unit else "") if part)
    more: dict[str, Any] = {"required": field.required, "allow_none": may_be_null}
    match field.type:
        case "number" | "whole":
            checks = _bounds(field)
            made = Whole if field.type == "whole" else Number
            return made(validate=checks, error_messages=WANTED, metadata=said(says), **more)
        case "yes_no":
            return YesNo(error_messages=WANTED, metadata=said(says), **more)
        case "date":
            return Day(error_messages=WANTED, metadata=said(says), **more)
        case "time":
            return Moment(error_messages=WANTED, metadata=said(says), **more)
        case "word":
            return one_of(field.one_of, says, **more)
        case "month_day":
            wanted = "a day of the year as MM-DD"
            return text(pattern=MONTH_DAY, wanted=wanted, says=says or wanted, **more)
    return text(shortest=1, pattern=r"\S", says=says, **more)


def _bounds(field: Field) -> list[validate.Range]:
    if field.min is None and field.max is None:
        return []
    ends = [f"{end:g}" for end in (field.min, field.max) if end is not None]
    one_end = f"{ends[0]} at the {'least' if field.max is None else 'most'}"
    wanted = f"between {' and '.join(ends)}" if len(ends) == 2 else one_end
    return [validate.Range(field.min, field.max, error=wanted)]


def as_cells(values: Mapping[str, Any]) -> dict[str, str]:
    """Return checked values as the cells of a form; null is an empty one."""
    return {name: _cell(value) for name, value in values.items()}


def _cell(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(value)


def as_sent(values: Mapping[str, Value]) -> dict[str, Any]:
    """Return a record's values as JSON has them: dates and times as ISO 8601."""
    return {name: value.isoformat() if hasattr(value, "isoformat") else value for name, value in values.items()}


def kind_data(kind: Kind) -> dict[str, Any]:
    """Return a kind as data."""
    return {
        "name": kind.name,
        "says": kind.says,
        "origin": kind.origin,
        "can_be_sent": kind.origin == "recorded" and kind.name not in NOT_BY_HAND,
        "holds_on": kind.holds_on or None,
        "needs_one_of": list(kind.needs_one_of),
        "same_when": list(kind.same_when),
        "fields": [
            {
                "name": one.name, "type": one.type, "unit": UNIT_WORDS.get(one.unit or ""), "says": one.says,
                "required": one.required, "one_of": list(one.one_of), "min": one.min, "max": one.max,
            }
            for one in kind.fields.values()
        ],
        "example": None if kind.example is None else as_sent(kind.example),
    }  # fmt: skip
