"""Rows out of use and back: retire, correct, undo. Nothing is changed or deleted; a ruling on a row is a row itself."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any

from advisor.errors import BadInput, NotFound
from advisor.facts import Recorded, Value
from advisor.records.schema import THINGS
from advisor.records.store import UNDONE, Garden, NewRow, Said
from advisor.records.weather_days import Moment, day_row, remade


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
    made = rulings(garden, kind, row_id)
    return not made or bool(made[-1]["in_use"])


def retire(garden: Garden, kind: str, row_id: int, said: Said, *, reason: str) -> None:
    """Take a row out of use; it stays in the file.

    Raises NotFound where there is none; BadInput where it is out of use already, or other records rest on the place,
    spot or plant that it tells of.
    """
    garden.row(kind, row_id)
    if not is_in_use(garden, kind, row_id):
        raise BadInput(f"retiring {kind}/{row_id}", "it is retired already", "Nothing to do")
    resting = _resting_on(garden, kind, row_id)
    if resting:
        do = "Retire or correct those first, or correct this row instead"
        raise BadInput(f"retiring {kind}/{row_id}", f"other records rest on it: {_shown(resting)}", do)
    with garden.writing("writing to"):
        said_id = garden.say(said)
        garden.rule(kind, row_id, said_id, in_use=False, reason=reason)
        _remake_days(garden, [(kind, row_id)], said_id)


def _resting_on(garden: Garden, kind: str, row_id: int) -> list[str]:
    """Return the rows in use that name the spot or plant of a row, or for the place all that there is."""
    if kind not in THINGS:
        return []
    name = garden.values_of(kind, row_id)["name"]
    found = []
    for other in garden.kinds.values():
        naming = [field.name for field in other.fields.values() if field.type == kind]
        if other.origin == "recorded" and (naming or (kind == "place" and other.name != "place")):
            for fact in garden.of(other.name):
                assert isinstance(fact.origin, Recorded)
                if kind == "place" or any(fact.get(field) == name for field in naming):
                    found.append(f"{other.name}/{fact.origin.row_ids[0]}")
    return found


def correct(
    garden: Garden, kind: str, row_id: int, changes: Mapping[str, Value | None], said: Said, *, reason: str
) -> int:
    """Record a row anew with some values changed (None takes one away), retire the old one, and return the new id.

    The values must have been checked by the kind's schema. A place, spot or plant stays the same thing under a
    corrected name. Raises NotFound where there is no such row, BadInput where it is out of use.
    """
    values: dict[str, Value | None] = {**garden.values_of(kind, row_id), **changes}
    if not is_in_use(garden, kind, row_id):
        raise BadInput(f"correcting {kind}/{row_id}", "it is retired", "Correct the row that stands for it")
    new = NewRow(kind, {name: value for name, value in values.items() if value is not None})
    with garden.writing("writing to"):
        things = garden.things()
        if kind in THINGS:
            (things[str(new.values["name"]), kind],) = garden.db.conn.execute(
                f"SELECT thing_id FROM {kind} WHERE id = ?", [row_id]
            ).fetchone()
        said_id = garden.say(said)
        ((_, new_id),) = garden.add_rows(said_id, [new], things)
        garden.rule(kind, row_id, said_id, in_use=False, reason=reason, replaced_by=new_id)
        _remake_days(garden, [(kind, row_id), (kind, new_id)], said_id)
    return new_id


def undo(garden: Garden, ref: str, said: Said) -> list[tuple[str, int]]:
    """Take back what was last said under a reference: its rows go out of use, what it retired comes back.

    Returns the rows taken back. Raises NotFound where nothing was said under it, or all of it is undone already;
    BadInput where later records rest on a spot or plant that it brought.
    """
    with garden.writing("writing to"):
        for run in _runs(garden, ref):
            taken, back = _effects(garden, run)
            if taken or back:
                break
        else:
            raise NotFound("undoing", f"nothing in use was said under {ref!r}", "Undo the latest thing said first")
        _refuse_if_others_rest(garden, ref, taken, back)
        (digest,) = garden.db.conn.execute("SELECT digest FROM said WHERE id = ?", [run[0]]).fetchone()
        said_id = garden.say(replace(said, digest=UNDONE + digest if digest else ""))
        for kind_name, row_id in taken:
            garden.rule(kind_name, row_id, said_id, in_use=False, reason="undone")
        for kind_name, row_id in back:
            garden.rule(kind_name, row_id, said_id, in_use=True, reason="undone")
        _remake_days(garden, [*taken, *back], said_id)
    return taken


def _refuse_if_others_rest(
    garden: Garden, ref: str, taken: Sequence[tuple[str, int]], back: Sequence[tuple[str, int]]
) -> None:
    """Raise BadInput where undoing would leave records without the spot or plant that they name."""
    coming = {(kind, str(garden.values_of(kind, row_id)["name"]).casefold()) for kind, row_id in back if kind in THINGS}
    going = {f"{kind}/{row_id}" for kind, row_id in taken}
    resting: list[str] = []
    for kind, row_id in taken:
        if kind in THINGS and (kind, str(garden.values_of(kind, row_id)["name"]).casefold()) not in coming:
            resting += [other for other in _resting_on(garden, kind, row_id) if other not in going]
    if resting:
        raise BadInput(f"undoing {ref}", f"later records rest on it: {_shown(resting)}", "Undo or retire those first")


def _shown(records: Sequence[str]) -> str:
    return ", ".join(records[:5]) + (f" and {len(records) - 5} more" if len(records) > 5 else "")


def _runs(garden: Garden, ref: str) -> Iterator[list[int]]:
    """Yield the sayings under a reference, the last first; those of one import stand side by side and go together."""
    rows = garden.db.conn.execute("SELECT id, digest FROM said WHERE ref = ? AND via != 'undo' ORDER BY id DESC", [ref])
    run: list[int] = []
    digest = ""
    for said_id, of in rows.fetchall():
        if run and (of != digest or said_id != run[-1] - 1):
            yield run
            run = []
        digest = of
        run.append(said_id)
    if run:
        yield run


def _effects(garden: Garden, run: Sequence[int]) -> tuple[list[tuple[str, int]], list[tuple[str, int]]]:
    """Return the rows in use that sayings brought, and those out of use that they retired."""
    mine = f"said_id BETWEEN {min(run)} AND {max(run)}"
    taken = [
        (kind.name, row_id)
        for kind in garden.kinds.values()
        if kind.origin == "recorded"
        for (row_id,) in garden.db.conn.execute(f"SELECT id FROM {kind.name} WHERE {mine}")
        if is_in_use(garden, kind.name, row_id)
    ]
    ruled = f"SELECT DISTINCT kind, row_id FROM ruling WHERE NOT in_use AND {mine}"
    retired = garden.db.conn.execute(ruled).fetchall()
    return taken, [(kind, row_id) for kind, row_id in retired if not is_in_use(garden, kind, row_id)]


def _remake_days(garden: Garden, rows: Iterable[tuple[str, int]], said_id: int) -> None:
    """Work out again, within a write that is held, the days of hours that went out of use or came back."""
    moments: list[Moment] = []
    for kind, row_id in rows:
        if kind == "weather_hour":
            values = garden.values_of(kind, row_id)
            at = values["at"]
            assert isinstance(at, datetime)
            moments.append((at, str(values.get("source", "")), str(values.get("spot", ""))))
    if not moments:
        return
    for one in remade(garden, garden.zone(), changed=moments):
        new_id = None
        if one.day is not None:
            ((_, new_id),) = garden.add_rows(said_id, [day_row(one.day)], garden.things())
        if one.row_id is not None:
            garden.rule(
                "weather_day", one.row_id, said_id, in_use=False, reason="its hours changed", replaced_by=new_id
            )
