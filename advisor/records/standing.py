"""How a row stands in its garden: in use or not, which row stands for it, what rests on it, what it rests on."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import datetime
from typing import Any

from advisor.facts import Value
from advisor.records.beside import Beside
from advisor.records.schema import THINGS
from advisor.records.store import Garden, NewRow
from advisor.records.weather_import import WEATHER

Row = tuple[str, int]
"""A row by its kind and its number."""
TRIAL = "trial"
MOST_RESTING = 1000
"""Rows that rest on another are told by name only so far; one is enough to hold it."""
MOMENT = ("source", "spot")
"""Beside its day or hour, what two rows of weather share that tell of one moment."""


def rulings(garden: Garden, kind: str, row_id: int) -> list[dict[str, Any]]:
    """Return every ruling on a row, oldest first, with who made it."""
    return list(
        garden.db.query(
            "SELECT ruling.*, said.said_at, said.said_by, said.via, said.ref FROM ruling JOIN said"
            " ON said.id = ruling.said_id WHERE kind = ? AND row_id = ? ORDER BY ruling.id",
            [kind, row_id],
        )
    )


def is_in_use(garden: Garden, kind: str, row_id: int) -> bool:
    """Return whether a row is in use now."""
    latest = "SELECT in_use FROM ruling WHERE kind = ? AND row_id = ? ORDER BY id DESC LIMIT 1"
    found = garden.db.conn.execute(latest, [kind, row_id]).fetchone()
    return found is None or bool(found[0])


def stands_for(garden: Garden, kind: str, row_id: int) -> int | None:
    """Return the row in use that stands for one that is out of use, by one change or by several; else None."""
    latest = "SELECT in_use, replaced_by FROM ruling WHERE kind = ? AND row_id = ? ORDER BY id DESC LIMIT 1"
    seen = {row_id}
    at = row_id
    while True:
        found = garden.db.conn.execute(latest, [kind, at]).fetchone()
        if found is None or found[0]:
            return at if at != row_id else None
        if found[1] is None or found[1] in seen:
            return None
        at = int(found[1])
        seen.add(at)


def resting_on(
    garden: Garden, kind: str, row_id: int, *, but: tuple[int, int] = (0, 0), most: int = MOST_RESTING
) -> list[Row]:
    """Return the rows in use that name the spot, plant or trial of a row; for the place all that there is.

    Rows of the sayings ``but``, from the first number to the last, are left out; more than ``most`` are not looked for.
    """
    if kind not in (*THINGS, TRIAL):
        return []
    stored = garden.row(kind, row_id)
    found: list[Row] = []
    for other in garden.kinds.values():
        if other.origin != "recorded":
            continue
        naming = [field.name for field in other.fields.values() if field.type == kind]
        asked: list[object] = [stored.get("thing_id")] * len(naming)
        where = " OR ".join(f'"{name}" = ?' for name in naming)
        if kind == "place":
            where, asked = ("1", []) if other.name != "place" else ("", [])
        elif kind == TRIAL and other.name == "trial_member":
            where, asked = '"trial" = ? COLLATE NOCASE', [stored["name"]]
        if where:
            in_use, known = garden.in_use(other.name)
            rows = garden.db.conn.execute(
                f"SELECT id FROM {other.name} WHERE ({where}) AND said_id NOT BETWEEN ? AND ? AND {in_use} LIMIT ?",
                [*asked, *but, *known, most - len(found)],
            )
            found += [(other.name, int(number)) for (number,) in rows]
        if len(found) >= most:
            break
    return found


def missing(garden: Garden, kind: str, row_id: int, coming: Collection[Row] = ()) -> list[str]:
    """Return the names of the spots and plants that a row speaks of and that are not in use.

    ``coming`` are rows that are about to come back into use.
    """
    stored = garden.row(kind, row_id)
    back = {(other, garden.row(other, number)["thing_id"]) for other, number in coming if other in THINGS}
    found = []
    for field in garden.kinds[kind].fields.values():
        thing = stored[field.name] if field.type in ("spot", "plant") else None
        if thing is not None and (field.type, thing) not in back and not _thing_in_use(garden, field.type, thing):
            found.append(f"{field.type} {garden.name_of(thing)}")
    if kind != "place" and not any(other == "place" for other, _ in back) and not garden.of("place"):
        found.append("place")
    return found


def _thing_in_use(garden: Garden, kind: str, thing_id: int) -> bool:
    in_use, known = garden.in_use(kind)
    sql = f"SELECT 1 FROM {kind} WHERE thing_id = ? AND {in_use} LIMIT 1"
    return garden.db.conn.execute(sql, [thing_id, *known]).fetchone() is not None


def second_of(garden: Garden, kind: str, values: Mapping[str, Value], but: int = 0) -> int | None:
    """Return the row in use, other than ``but``, that tells of the same thing as these values would, or None.

    Where a kind has rows about one thing, that is the thing; of weather it is the moment; else the very same row.
    """
    spec = garden.kinds[kind]
    if spec.same_when:
        wanted = _folded([values.get(name) for name in spec.same_when])
        for row_id in _rows_in_use(garden, kind, but):
            there = garden.values_of(kind, row_id)
            if _folded([there.get(name) for name in spec.same_when]) == wanted:
                return row_id
        return None
    only = (spec.holds_on, *MOMENT) if kind in WEATHER else tuple(spec.fields)
    same = same_rows(garden, kind, {name: values[name] for name in only if name in values}, only)
    in_use = [row_id for row_id in same if row_id != but and is_in_use(garden, kind, row_id)]
    return in_use[0] if in_use else None


def same_rows(garden: Garden, kind: str, values: Mapping[str, Value], fields: Sequence[str] = ()) -> list[int]:
    """Return every row of a kind, in use or not, with just these values in some fields, or in all of them."""
    things = garden.things()
    for field in garden.kinds[kind].fields.values():
        if (
            field.type in ("spot", "plant")
            and field.name in values
            and (str(values[field.name]), field.type) not in things
        ):
            return []
    columns = list(fields or garden.kinds[kind].fields)
    stored = dict(zip(garden.columns(kind), garden.stored(NewRow(kind, values), 0, 0, _lenient(things, kind, values)),
                      strict=True))  # fmt: skip
    where = " AND ".join(f'"{name}" IS ?' for name in columns)
    rows = garden.db.conn.execute(
        f"SELECT id FROM {kind} WHERE {where} ORDER BY id DESC", [stored[name] for name in columns]
    )
    return [int(row_id) for (row_id,) in rows]


def _lenient(
    things: Mapping[tuple[str, str], int], kind: str, values: Mapping[str, Value]
) -> Mapping[tuple[str, str], int]:
    """Return the things with one for the name of a place, spot or plant that may be new, so that it can be compared."""
    return {(str(values.get("name", "")), kind): 0, **things} if kind in THINGS else things


def _rows_in_use(garden: Garden, kind: str, but: int) -> list[int]:
    in_use, known = garden.in_use(kind)
    rows = garden.db.conn.execute(f"SELECT id FROM {kind} WHERE id != ? AND {in_use}", [but, *known])
    return [int(row_id) for (row_id,) in rows]


def _folded(values: Sequence[Value | None]) -> list[object]:
    return [value.casefold() if isinstance(value, str) else value for value in values]


def unfit(garden: Garden, kind: str, values: Mapping[str, Value]) -> tuple[str, str] | None:
    """Return what is found and what is wanted where a row, sound in itself, cannot stand in this garden; else None."""
    fault = Beside(garden).fault(kind, NewRow(kind, values))
    return (f"{fault.field} {fault.found}", fault.wanted) if fault else None


def moment_of(values: Mapping[str, Value]) -> tuple[datetime, str, str]:
    """Return the moment, station and spot of an hour's weather."""
    at = values["at"]
    assert isinstance(at, datetime)
    return at, str(values.get("source", "")), str(values.get("spot", ""))
