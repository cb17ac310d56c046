"""What was told together taken back together: one message, one form, one import."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from advisor.errors import BadInput, NotFound
from advisor.records.schema import THINGS
from advisor.records.standing import MOST_RESTING, TRIAL, Row, missing, moment_of, resting_on, stands_for
from advisor.records.store import UNDONE, Garden, Said
from advisor.records.weather_days import day_row, remade

NAMED = (*THINGS, TRIAL)
"""Kinds whose rows others name."""


@dataclass(frozen=True, slots=True)
class Effects:
    """What taking sayings back would do.

    ``taken`` are their rows in use, ``back`` the rows that they took out of use and that come back; ``stays`` are rows
    told later that stand for what they told, and stay. ``resting`` are later records without which nothing could be
    taken back; ``lacking`` what a row that comes back rests on and is not there.
    """

    taken: tuple[Row, ...] = ()
    back: tuple[Row, ...] = ()
    stays: tuple[Row, ...] = ()
    resting: tuple[Row, ...] = ()
    lacking: tuple[str, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.taken or self.back)


@dataclass(frozen=True, slots=True)
class Run:
    """Sayings that stand side by side and were told together, from the first number to the last."""

    first: int
    last: int
    digests: tuple[str, ...] = ()


def run_of(garden: Garden, said_id: int) -> Run:
    """Return the sayings that came with one: of its import or its message. Raise NotFound where there is none."""
    found = garden.db.conn.execute("SELECT ref, via FROM said WHERE id = ?", [said_id]).fetchone()
    if found is None:
        raise NotFound("looking up what was told", f"nothing under number {said_id}", "Go back to the records")
    if found[1] == "undo":
        return Run(said_id, said_id)
    return next((run for run in _runs(garden, found[0]) if run.first <= said_id <= run.last), Run(said_id, said_id))


def run_between(garden: Garden, first: int, last: int) -> Run:
    """Return the sayings from one number to another. Raise NotFound where there is none of them."""
    rows = garden.db.conn.execute("SELECT digest FROM said WHERE id BETWEEN ? AND ?", [first, last]).fetchall()
    if not rows:
        raise NotFound("looking up what was told", f"nothing under numbers {first} to {last}", "Go back to the records")
    return Run(first, last, tuple(dict.fromkeys(digest for (digest,) in rows if digest)))


def undo(garden: Garden, ref: str, said: Said) -> list[Row]:
    """Take back what was last said under a reference: its rows go out of use, what it retired comes back.

    Returns the rows taken back. Raises NotFound where nothing was said under it, or all of it is undone already;
    BadInput where later records rest on a spot or plant that it brought.
    """
    with garden.writing("writing to"):
        for run in _runs(garden, ref):
            if effects := effects_of(garden, run):
                return _take_back(garden, run, effects, said)
    raise NotFound("undoing", f"nothing in use was said under {ref!r}", "Undo the latest thing said first")


def undo_run(garden: Garden, run: Run, said: Said) -> list[Row]:
    """Take back sayings that were told together, and return the rows taken back. Raises as ``undo`` does."""
    with garden.writing("writing to"):
        effects = effects_of(garden, run)
        if not effects:
            raise NotFound("undoing", "nothing of it is in use", "Nothing to do")
        return _take_back(garden, run, effects, said)


def _take_back(garden: Garden, run: Run, effects: Effects, said: Said) -> list[Row]:
    done = f"undoing {said.ref}"
    if effects.resting:
        raise BadInput(done, f"later records rest on it: {shown(effects.resting)}", "Undo or retire those first")
    if effects.lacking:
        found = f"what would come back rests on what is not in use: {', '.join(effects.lacking)}"
        raise BadInput(done, found, "Bring that back first")
    said_id = garden.say(replace(said, digest=UNDONE + run.digests[0] if run.digests else ""))
    for digest in run.digests[1:]:
        garden.say(replace(said, digest=UNDONE + digest))
    for kind, row_id in effects.taken:
        garden.rule(kind, row_id, said_id, in_use=False, reason="undone")
    for kind, row_id in effects.back:
        garden.rule(kind, row_id, said_id, in_use=True, reason="undone")
    remake_days(garden, [*effects.taken, *effects.back], said_id)
    return list(effects.taken)


def _runs(garden: Garden, ref: str) -> Iterator[Run]:
    """Yield the sayings under a reference, the last first; those of one import stand side by side and go together."""
    rows = garden.db.conn.execute("SELECT id, digest FROM said WHERE ref = ? AND via != 'undo' ORDER BY id DESC", [ref])
    run: list[int] = []
    digest = ""
    for said_id, of in rows.fetchall():
        if run and (of != digest or said_id != run[-1] - 1):
            yield Run(run[-1], run[0], (digest,) if digest else ())
            run = []
        digest = of
        run.append(said_id)
    if run:
        yield Run(run[-1], run[0], (digest,) if digest else ())


def effects_of(garden: Garden, run: Run) -> Effects:
    """Return what taking sayings back would do now."""
    between = [run.first, run.last]
    taken: list[Row] = []
    for kind in garden.kinds.values():
        if kind.origin == "recorded":
            in_use, known = garden.in_use(kind.name)
            rows = garden.db.conn.execute(
                f"SELECT id FROM {kind.name} WHERE said_id BETWEEN ? AND ? AND {in_use}", [*between, *known]
            )
            taken += [(kind.name, int(row_id)) for (row_id,) in rows]
    going = set(taken)
    back: list[Row] = []
    stays: list[Row] = []
    for kind_name, row_id, stand_in in _retired_by(garden, run):
        if stand_in is None or (kind_name, stand_in) in going:
            back.append((kind_name, row_id))
        else:
            stays.append((kind_name, stand_in))
    return Effects(
        tuple(taken), tuple(back), tuple(stays), tuple(_left_hanging(garden, run, taken, back)),
        tuple(dict.fromkeys(name for row in back for name in missing(garden, *row, coming=back))),
    )  # fmt: skip


def _retired_by(garden: Garden, run: Run) -> Iterator[tuple[str, int, int | None]]:
    """Yield the rows that sayings took out of use and that still are, each with the row in use that stands for it."""
    ruled = "SELECT DISTINCT kind, row_id FROM ruling WHERE NOT in_use AND said_id BETWEEN ? AND ?"
    latest = "SELECT in_use FROM ruling WHERE kind = ? AND row_id = ? ORDER BY id DESC LIMIT 1"
    for kind, row_id in garden.db.conn.execute(ruled, [run.first, run.last]).fetchall():
        if not garden.db.conn.execute(latest, [kind, row_id]).fetchone()[0]:
            yield kind, int(row_id), stands_for(garden, kind, row_id)


def _left_hanging(garden: Garden, run: Run, taken: Sequence[Row], back: Sequence[Row]) -> list[Row]:
    """Return later records that would be left without the spot, plant or trial that they name."""
    coming = {_name(garden, row) for row in back if row[0] in NAMED}
    resting: dict[Row, None] = {}
    for row in taken:
        if row[0] in NAMED and _name(garden, row) not in coming:
            resting |= dict.fromkeys(resting_on(garden, *row, but=(run.first, run.last)))
            if len(resting) >= MOST_RESTING:
                break
    return list(resting)


def _name(garden: Garden, row: Row) -> tuple[str, str]:
    return row[0], str(garden.values_of(*row)["name"]).casefold()


def shown(records: Sequence[Row]) -> str:
    """Return some of many rows, as answers name them."""
    more = f" and {len(records) - 5} more" if len(records) > 5 else ""
    return ", ".join(f"{kind}/{row_id}" for kind, row_id in records[:5]) + more


def remake_days(garden: Garden, rows: Iterable[Row], said_id: int) -> None:
    """Work out again, within a write that is held, the days of hours that went out of use or came back."""
    moments = [moment_of(garden.values_of(kind, row_id)) for kind, row_id in rows if kind == "weather_hour"]
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
