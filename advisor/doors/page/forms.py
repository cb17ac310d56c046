"""A kind's fields as a form: labels and units as the grower has them, choices to pick, faults by field."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from advisor.conversation import Adviser
from advisor.errors import RowFault
from advisor.facts import Value
from advisor.language.render import METRIC, US, label
from advisor.records.kinds import Field
from advisor.records.store import Garden

US_ENDINGS = {
    "c": "_f",
    "cm": "_in",
    "m": "_ft",
    "mm": "_in",
    "cm_h": "_in_h",
    "litres": "_gal",
    "kg": "_lb",
    "m_s": "_mph",
}
LONG_LIST = 40
"""Choices beyond which one types the first letters instead of scrolling."""
YES_NO = (("", "not known"), ("yes", "yes"), ("no", "no"))


@dataclass(frozen=True, slots=True)
class Input:
    """One field to fill in. ``name`` is the column as posted, its unit in it; ``choices`` are (value, label)."""

    name: str
    label: str
    type: str
    value: str = ""
    unit: str = ""
    hint: str = ""
    fault: str = ""
    required: bool = False
    choices: tuple[tuple[str, str], ...] = ()
    keypad: str = ""


def is_us(garden: Garden) -> bool:
    """Return whether the garden's grower measures in US units; metric where no place is told yet."""
    return bool(garden.of("place")) and garden.place().text("units") == "us"


def inputs(
    adviser: Adviser,
    garden: Garden,
    kind: str,
    *,
    given: Mapping[str, str] | None = None,
    values: Mapping[str, Value] | None = None,
    faults: Sequence[RowFault] = (),
    only: Sequence[str] = (),
) -> list[Input]:
    """Return the inputs for one row of a kind.

    ``given`` is what was typed before, by column; ``values`` a row's own values, in the units inside; ``only`` limits
    the fields, in the kind's own order. A fault stands by its field.
    """
    us, made = is_us(garden), []
    for field in adviser.base.kinds[kind].fields.values():
        if only and field.name not in only:
            continue
        name = column_of(field, us=us)
        typed = (given or {}).get(name)
        if typed is None:
            value = (values or {}).get(field.name)
            typed = "" if value is None else as_typed(field, value, garden, us=us)
        fault = "; ".join(f"{one.found}: wanted {one.wanted}" for one in faults if one.field in (name, field.name))
        made.append(_input(adviser, garden, field, name, typed, fault, us=us))
    return made


def column_of(field: Field, *, us: bool) -> str:
    """Return the column under which a form posts a field, in the grower's unit.

    >>> column_of(Field("depth_cm", "number"), us=True), column_of(Field("sky", "word"), us=True)
    ('depth_in', 'sky')
    """
    ending = US_ENDINGS.get(field.unit or "") if us else None
    return field.name.removesuffix(f"_{field.unit}") + ending if ending else field.name


def as_typed(field: Field, value: Value, garden: Garden, *, us: bool) -> str:
    """Return a value as one would type it into its input."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return value.astimezone(garden.zone()).strftime("%Y-%m-%dT%H:%M")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, int | float):
        number = US[field.unit][0](float(value)) if us and field.unit in US_ENDINGS and field.unit else float(value)
        return f"{round(number, 2):g}"
    return value


def _input(adviser: Adviser, garden: Garden, field: Field, name: str, typed: str, fault: str, *, us: bool) -> Input:
    choices = _choices(adviser, garden, field)
    unit = _unit(field, us=us)
    kind, keypad = "text", ""
    if choices:
        kind = "list" if len(choices) > LONG_LIST else "choice"
    elif field.type == "date":
        kind = "date"
    elif field.type == "time":
        kind = "datetime-local"
    elif field.is_number:  # a number pad has no minus sign on some phones
        keypad = "decimal" if field.min is not None and field.min >= 0 else ""
    hint = field.says + (", as month-day: 05-10" if field.type == "month_day" else "")
    return Input(name, label(field.name), kind, typed, unit, hint, fault, field.required, choices, keypad)


def _unit(field: Field, *, us: bool) -> str:
    unit = field.unit or ""
    return US[unit][1] if us and unit in US else METRIC.get(unit, "")


def _choices(adviser: Adviser, garden: Garden, field: Field) -> tuple[tuple[str, str], ...]:
    match field.type:
        case "yes_no":
            return YES_NO
        case "word":
            found = [(word, word) for word in field.one_of]
        case "spot" | "plant":
            found = [(name, name) for name in sorted(garden.names(field.type))]
        case "species":
            found = sorted(((one.id, one.name) for one in adviser.lore.species.values()), key=lambda one: one[1])
        case _:
            if field.name != "material":
                return ()
            found = [(one.id, one.id) for one in adviser.lore.materials.values()]
    return (("", "choose" if field.required else "not known"), *found)


def cells(adviser: Adviser, garden: Garden, kind: str, form: Mapping[str, str]) -> dict[str, str]:
    """Return what a form posted of a kind's fields, by column; other names in it are no part of the row."""
    us = is_us(garden)
    columns = [column_of(field, us=us) for field in adviser.base.kinds[kind].fields.values()]
    return {name: form[name].strip() for name in columns if name in form}
