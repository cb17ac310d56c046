"""Rows out of use and back: retire, bring back, correct. Nothing is changed or deleted; a ruling is a row itself."""

from __future__ import annotations

from collections.abc import Mapping

from advisor.errors import BadInput
from advisor.facts import Value
from advisor.records.schema import THINGS
from advisor.records.standing import (
    TRIAL,
    is_in_use,
    missing,
    resting_on,
    rulings,
    second_of,
    stands_for,
    unfit,
)
from advisor.records.store import Garden, NewRow, Said
from advisor.records.undoing import remake_days, shown, undo

__all__ = ["bring_back", "correct", "is_in_use", "retire", "rulings", "undo"]


def retire(garden: Garden, kind: str, row_id: int, said: Said, *, reason: str) -> None:
    """Take a row out of use; it stays in the file.

    Raises NotFound where there is none; BadInput where it is out of use already, or other records rest on the place,
    spot, plant or trial that it tells of.
    """
    done = f"retiring {kind}/{row_id}"
    with garden.writing("writing to"):
        garden.row(kind, row_id)
        if not is_in_use(garden, kind, row_id):
            raise BadInput(done, "it is retired already", "Nothing to do")
        resting = resting_on(garden, kind, row_id)
        if resting:
            do = "Retire or correct those first, or correct this row instead"
            raise BadInput(done, f"other records rest on it: {shown(resting)}", do)
        said_id = garden.say(said)
        garden.rule(kind, row_id, said_id, in_use=False, reason=reason)
        remake_days(garden, [(kind, row_id)], said_id)


def bring_back(garden: Garden, kind: str, row_id: int, said: Said, *, reason: str) -> None:
    """Bring a row back into use, by a ruling.

    Raises NotFound where there is none; BadInput where it is in use, where a row in use tells of the same thing, or
    where what it rests on is not in use itself.
    """
    done = f"bringing back {kind}/{row_id}"
    with garden.writing("writing to"):
        values = garden.values_of(kind, row_id)
        if is_in_use(garden, kind, row_id):
            raise BadInput(done, "it is in use", "Nothing to do")
        second = stands_for(garden, kind, row_id) or second_of(garden, kind, values)
        if second is not None:
            do = "Correct that row, or take it out of use first"
            raise BadInput(done, f"{kind}/{second} stands for it now, and both cannot hold", do)
        lacking = missing(garden, kind, row_id)
        if lacking:
            raise BadInput(done, f"it rests on what is not in use: {', '.join(lacking)}", "Bring that back first")
        wrong = unfit(garden, kind, values)
        if wrong:
            raise BadInput(done, wrong[0], f"It needs {wrong[1]}")
        said_id = garden.say(said)
        garden.rule(kind, row_id, said_id, in_use=True, reason=reason)
        remake_days(garden, [(kind, row_id)], said_id)


def correct(
    garden: Garden, kind: str, row_id: int, changes: Mapping[str, Value | None], said: Said, *, reason: str
) -> int:
    """Record a row anew with some values changed (None takes one away), retire the old one, and return the new id.

    The values must have been checked by the kind's schema. A place, spot or plant stays the same thing under a
    corrected name. Raises NotFound where there is no such row; BadInput where it is out of use, where another row in
    use tells of the same thing, or where what it would say cannot stand in this garden.
    """
    done = f"correcting {kind}/{row_id}"
    with garden.writing("writing to"):
        values: dict[str, Value | None] = {**garden.values_of(kind, row_id), **changes}
        if not is_in_use(garden, kind, row_id):
            raise BadInput(done, "it is retired", "Correct the row that stands for it")
        new = NewRow(kind, {name: value for name, value in values.items() if value is not None})
        _refuse_unsound(garden, new, row_id, done)
        things = garden.things()
        if kind in THINGS:
            (things[str(new.values["name"]), kind],) = garden.db.conn.execute(
                f"SELECT thing_id FROM {kind} WHERE id = ?", [row_id]
            ).fetchone()
        said_id = garden.say(said)
        ((_, new_id),) = garden.add_rows(said_id, [new], things)
        garden.rule(kind, row_id, said_id, in_use=False, reason=reason, replaced_by=new_id)
        remake_days(garden, [(kind, row_id), (kind, new_id)], said_id)
    return new_id


def _refuse_unsound(garden: Garden, new: NewRow, row_id: int, done: str) -> None:
    """Raise BadInput where a corrected row would tell of another row's thing, or could not stand in this garden."""
    second = second_of(garden, new.kind, new.values, but=row_id)
    if second is not None:
        found = f"{new.kind}/{second} tells of the same thing already"
        raise BadInput(done, found, "Correct that row instead, or take one of them out of use")
    before = garden.values_of(new.kind, row_id)
    if new.kind == TRIAL and before["name"] != new.values["name"] and (members := resting_on(garden, TRIAL, row_id)):
        raise BadInput(done, f"its members are recorded under its name: {shown(members)}", "Correct those first")
    wrong = unfit(garden, new.kind, new.values) if new.kind != "place" else None
    if wrong:
        raise BadInput(done, wrong[0], f"It needs {wrong[1]}")
