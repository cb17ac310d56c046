"""Rows out of use and back: retire, correct, undo. Nothing is changed or deleted; a ruling on a row is a row itself."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from advisor.errors import BadInput, NotFound
from advisor.facts import Value
from advisor.records.schema import THINGS
from advisor.records.store import Garden, NewRow, Said


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
    """Take a row out of use; it stays in the file. Raise NotFound where there is none, BadInput if done before."""
    garden.row(kind, row_id)
    if not is_in_use(garden, kind, row_id):
        raise BadInput(f"retiring {kind}/{row_id}", "it is retired already", "Nothing to do")
    with garden.writing("writing to"):
        garden.rule(kind, row_id, garden.say(said), in_use=False, reason=reason)


def correct(
    garden: Garden, kind: str, row_id: int, changes: Mapping[str, Value | None], said: Said, *, reason: str
) -> int:
    """Record a row anew with some values changed (None takes one away), retire the old one, and return the new id.

    The values must have been checked by the kind's schema. A place, spot or plant stays the same thing under a
    corrected name. Raises as ``retire`` does.
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
        (new_id,) = garden.db.conn.execute(f"SELECT MAX(id) + 1 FROM {kind}").fetchone()
        said_id = garden.say(said)
        columns = ", ".join(f'"{name}"' for name in garden.columns(kind))
        row = garden.stored(new, new_id, said_id, things)
        garden.db.conn.execute(f"INSERT INTO {kind} ({columns}) VALUES ({', '.join('?' * len(row))})", row)
        garden.rule(kind, row_id, said_id, in_use=False, reason=reason, replaced_by=new_id)
    return int(new_id)


def undo(garden: Garden, ref: str, said: Said) -> list[tuple[str, int]]:
    """Take back everything said under a reference: its rows go out of use, what it retired comes back.

    Returns the rows taken back. Raises NotFound where nothing was said under it, or it is undone already.
    """
    with garden.writing("writing to"):
        mine = "said_id IN (SELECT id FROM said WHERE ref = ?)"
        taken = [
            (kind.name, row_id)
            for kind in garden.kinds.values()
            if kind.origin == "recorded"
            for (row_id,) in garden.db.conn.execute(f"SELECT id FROM {kind.name} WHERE {mine}", [ref])
            if is_in_use(garden, kind.name, row_id)
        ]
        retired = garden.db.conn.execute(
            f"SELECT DISTINCT kind, row_id FROM ruling WHERE NOT in_use AND {mine}", [ref]
        ).fetchall()
        back = [(kind, row_id) for kind, row_id in retired if not is_in_use(garden, kind, row_id)]
        if not taken and not back:
            raise NotFound("undoing", f"nothing in use was said under {ref!r}", "Undo the latest thing said first")
        said_id = garden.say(said)
        for kind_name, row_id in taken:
            garden.rule(kind_name, row_id, said_id, in_use=False, reason="undone")
        for kind_name, row_id in back:
            garden.rule(kind_name, row_id, said_id, in_use=True, reason="undone")
    return taken
