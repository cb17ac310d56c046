"""Rows by the page: found, sorted and cut by SQL, so that showing fifty costs the same however many there are."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from types import MappingProxyType
from typing import Any
from zoneinfo import ZoneInfo

from advisor.facts import Value
from advisor.records.kinds import Kind
from advisor.records.store import Garden

PAGE = 50
IN_USE, OUT_OF_USE, ALL = "in", "out", "all"
SAYING = "s.via, s.ref, s.said_by, s.said_at"


@dataclass(frozen=True, slots=True)
class Saying:
    """Who told something, when and how."""

    id: int
    via: str
    ref: str
    by: str
    at: datetime


@dataclass(frozen=True, slots=True)
class Shown:
    """One row as told, with who told it. ``values`` as a fact has them."""

    kind: str
    id: int
    values: MappingProxyType[str, Value]
    words: str
    line: int | None
    in_use: bool
    said: Saying


@dataclass(frozen=True, slots=True)
class Wanted:
    """Which rows of a kind: about a plant or spot, from and to a day, in use or not, of some sayings."""

    plant: str = ""
    spot: str = ""
    first: date | None = None
    last: date | None = None
    use: str = IN_USE
    told: tuple[int, int] | None = None


@dataclass(frozen=True, slots=True)
class Page:
    """Some rows, how many there are in all, and where the older and the newer ones begin ("" for none)."""

    rows: tuple[Shown, ...]
    total: int
    older: str = ""
    newer: str = ""


@dataclass(frozen=True, slots=True)
class Count:
    """How many rows of a kind are in use, and when the last of them holds."""

    kind: Kind
    in_use: int
    last: date | datetime | None


def recorded_kinds(garden: Garden) -> list[Kind]:
    """Return the kinds that have rows of their own."""
    return [kind for kind in garden.kinds.values() if kind.origin == "recorded"]


def overview(garden: Garden) -> list[Count]:
    """Return for each recorded kind how many rows are in use, and when the last one holds."""
    latest = "SELECT MAX(id) FROM ruling WHERE kind = r.kind AND row_id = r.row_id"
    sql = f"SELECT kind, COUNT(*) FROM ruling r WHERE NOT in_use AND id = ({latest}) GROUP BY kind"
    counts = []
    with garden.trouble("reading"):
        out = dict(garden.db.conn.execute(sql).fetchall())
        for kind in recorded_kinds(garden):
            (every,) = garden.db.conn.execute(f"SELECT COUNT(*) FROM {kind.name}").fetchone()
            last = None
            if kind.holds_on and every > out.get(kind.name, 0):
                in_use, known = garden.in_use(kind.name)
                when = (
                    f'SELECT "{kind.holds_on}" FROM {kind.name} WHERE {in_use} ORDER BY "{kind.holds_on}" DESC LIMIT 1'
                )
                (stored,) = garden.db.conn.execute(when, known).fetchone()
                read = datetime if kind.fields[kind.holds_on].type == "time" else date
                last = read.fromisoformat(stored) if stored else None
            counts.append(Count(kind, every - out.get(kind.name, 0), last))
    return counts


# ---- one kind


def page_of(garden: Garden, kind: Kind, wanted: Wanted, *, older: str = "", newer: str = "", size: int = PAGE) -> Page:
    """Return a page of a kind's rows, the latest first, what holds on no day last.

    ``older`` and ``newer`` are marks that an earlier page gave; one that cannot be read is passed over.
    """
    where, given = _where(garden, kind, wanted)
    with garden.trouble("reading"):
        (total,) = garden.db.conn.execute(f"SELECT COUNT(*) FROM {kind.name} k WHERE {where}", given).fetchone()
        mark, forward = read_mark(older or newer), bool(newer)
        beyond, more = _beyond(kind, mark, forward) if mark else ("", [])
        rows = list(rows_where(garden, kind, f"{where}{beyond}", [*given, *more], _order(kind, forward), size + 1))
    further = len(rows) > size
    rows = rows[:size]
    if forward and mark:
        rows.reverse()
    if not rows:
        return Page((), total)
    back, on = (further, True) if forward and mark else (mark is not None, further)
    first, last = _mark_of(kind, rows[0]), _mark_of(kind, rows[-1])
    return Page(tuple(rows), total, older=last if on else "", newer=first if back else "")


def _where(garden: Garden, kind: Kind, wanted: Wanted) -> tuple[str, list[object]]:
    """Return the condition for the rows that are wanted, without those beyond a mark."""
    parts: list[str] = []
    given: list[object] = []
    if wanted.use != ALL:
        in_use, known = garden.in_use(kind.name, "k.id")
        parts.append(in_use if wanted.use == IN_USE else f"NOT ({in_use})")
        given += known
    for of, name in (("plant", wanted.plant), ("spot", wanted.spot)):
        if name:
            thing = garden.things().get((name, of), -1)  # no thing has that number
            naming = [f'k."{one.name}"' for one in kind.fields.values() if one.type == of]
            naming += ["k.thing_id"] if kind.name == of else []
            parts.append("(" + " OR ".join(f"{column} = ?" for column in naming or ["0"]) + ")")
            given += [thing] * len(naming or ["0"])
    if kind.holds_on:
        bounds = _bounds(garden, kind, wanted)
        parts += [f'k."{kind.holds_on}" {sign} ?' for sign, _ in bounds]
        given += [bound for _, bound in bounds]
    if wanted.told:
        parts.append("k.said_id BETWEEN ? AND ?")
        given += wanted.told
    return " AND ".join(parts) or "1", given


def _bounds(garden: Garden, kind: Kind, wanted: Wanted) -> list[tuple[str, str]]:
    """Return what a row's day or time must be, as stored; a day begins at midnight where the garden is."""
    zone: ZoneInfo | Any = garden.zone() if garden.of("place") else UTC
    timed = kind.fields[kind.holds_on].type == "time"

    def start(day: date) -> str:
        return datetime.combine(day, time(), zone).astimezone(UTC).isoformat() if timed else day.isoformat()

    first = [(">=", start(wanted.first))] if wanted.first else []
    return [*first, ("<", start(wanted.last + timedelta(days=1)))] if wanted.last else first


def _order(kind: Kind, forward: bool) -> str:
    way = "ASC" if forward else "DESC"
    return f'k."{kind.holds_on}" {way}, k.id {way}' if kind.holds_on else f"k.id {way}"


def _mark_of(kind: Kind, row: Shown) -> str:
    held = row.values.get(kind.holds_on) if kind.holds_on else None
    stored = held.isoformat() if isinstance(held, date) else ""
    return f"{stored}~{row.id}"


def read_mark(text: str) -> tuple[str, int] | None:
    """Return when and which row a page ended with, None where it is no mark of ours."""
    when, _, number = text.rpartition("~")
    return (when, int(number)) if number.isascii() and number.isdigit() and len(number) < 18 else None


def _beyond(kind: Kind, mark: tuple[str, int], forward: bool) -> tuple[str, list[object]]:
    """Return the condition for rows after a mark in the order of the pages, or before it."""
    when, number = mark
    sign = ">" if forward else "<"
    if not kind.holds_on:
        return f" AND k.id {sign} ?", [number]
    column = f'k."{kind.holds_on}"'
    if not when:
        undated = f"{column} IS NULL AND k.id {sign} ?"
        return (f" AND ({undated} OR {column} IS NOT NULL)" if forward else f" AND {undated}"), [number]
    dated = f"({column}, k.id) {sign} (?, ?)"
    if forward or kind.fields[kind.holds_on].required:
        return f" AND {dated}", [when, number]
    return f" AND ({dated} OR {column} IS NULL)", [when, number]


# ---- rows read


def shown_row(garden: Garden, kind: str, row_id: int) -> Shown:
    """Return one row, in use or not. Raise NotFound where there is none."""
    garden.row(kind, row_id)
    return next(rows_where(garden, garden.kinds[kind], "k.id = ?", [row_id], "k.id", 1))


def told_instead_of(garden: Garden, row: Shown) -> int | None:
    """Return the older row for which a row was told to stand, None where it was told of something new."""
    sql = "SELECT row_id FROM ruling WHERE said_id = ? AND kind = ? AND replaced_by = ? ORDER BY id LIMIT 1"
    found = garden.db.conn.execute(sql, [row.said.id, row.kind, row.id]).fetchone()
    return None if found is None else int(found[0])


def rows_in_use(garden: Garden, kind: Kind) -> Iterator[Shown]:
    """Yield every row of a kind that is in use, in the order told, without holding them all."""
    in_use, known = garden.in_use(kind.name, "k.id")
    with garden.trouble("reading"):
        yield from rows_where(garden, kind, in_use, known, "k.id", -1)


def rows_where(
    garden: Garden, kind: Kind, where: str, given: Sequence[object], order: str, most: int
) -> Iterator[Shown]:
    """Yield the rows ``k`` of a kind, told by the sayings ``s``, for which a condition holds; -1 for all of them."""
    fields = [one for one in kind.fields.values() if one.name != "words"]
    columns = "".join(f', k."{one.name}"' for one in fields)
    in_use, known = garden.in_use(kind.name, "k.id")
    sql = (
        f"SELECT k.id, k.said_id, k.words, k.line, {in_use}, {SAYING}{columns} FROM {kind.name} k"
        f" JOIN said s ON s.id = k.said_id WHERE {where} ORDER BY {order} LIMIT ?"
    )
    read = [(one.name, garden.converter(one)) for one in fields]
    for row_id, said_id, words, line, used, via, ref, by, at, *stored in garden.db.conn.execute(
        sql, [*known, *given, most]
    ):
        values = {
            name: convert(value) if convert else value
            for (name, convert), value in zip(read, stored, strict=True)
            if value is not None
        }
        if words and "words" in kind.fields:
            values["words"] = words
        said = saying(said_id, via, ref, by, at)
        yield Shown(kind.name, row_id, MappingProxyType(values), words or "", line, bool(used), said)


def saying(said_id: int, via: str, ref: str, by: str | None, at: str) -> Saying:
    """Return who told something, from its row as stored."""
    return Saying(said_id, via, ref, by or "", datetime.fromisoformat(at))
