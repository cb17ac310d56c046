"""Rows by the page: found, sorted and cut by SQL, so that showing fifty costs the same however many there are."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from types import MappingProxyType
from typing import Any
from zoneinfo import ZoneInfo

from advisor.facts import Value
from advisor.records.kinds import Kind
from advisor.records.store import Garden

PAGE = 50
IN_USE, OUT_OF_USE, ALL = "in", "out", "all"
NOT_SEARCHED = ("source",)
"""Fields of text that thousands of rows share, in which nobody searches."""
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


@dataclass
class Together:
    """What was told at one time: rows by kind, the first of them, and how many rows it took out of use or back."""

    said: Saying
    counts: dict[str, int] = field(default_factory=dict)
    rows: list[Shown] = field(default_factory=list)
    taken_out: int = 0
    brought_back: int = 0


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
        mark, forward = _mark(older or newer), bool(newer)
        beyond, more = _beyond(kind, mark, forward) if mark else ("", [])
        rows = list(_rows(garden, kind, f"{where}{beyond}", [*given, *more], _order(kind, forward), size + 1))
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
            thing = garden.things().get((name, of), 0)
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


def _mark(text: str) -> tuple[str, int] | None:
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


# ---- what was told, the latest first


def told_lately(garden: Garden, before: int | None = None, size: int = PAGE, first_rows: int = 3) -> list[Together]:
    """Return what was told, the latest telling first, each with its first rows; ``before`` is a saying's number."""
    below, given = ("WHERE id < ?", [before]) if before is not None else ("", [])
    with garden.trouble("reading"):
        sql = f"SELECT id, via, ref, said_by, said_at FROM said {below} ORDER BY id DESC LIMIT ?"
        found = [Together(_saying(*row)) for row in garden.db.conn.execute(sql, [*given, size])]
        _fill(garden, found, first_rows)
    return found


def told_in(garden: Garden, first: int, last: int, first_rows: int = 10) -> list[Together]:
    """Return the sayings from one number to another, in the order told, each with its first rows of each kind."""
    with garden.trouble("reading"):
        sql = "SELECT id, via, ref, said_by, said_at FROM said WHERE id BETWEEN ? AND ? ORDER BY id"
        found = [Together(_saying(*row)) for row in garden.db.conn.execute(sql, [first, last])]
        _fill(garden, found, first_rows)
    return found


def _fill(garden: Garden, found: Sequence[Together], first_rows: int) -> None:
    if not found:
        return
    by_id = {one.said.id: one for one in found}
    between = [min(by_id), max(by_id)]
    for kind in recorded_kinds(garden):
        sql = f"SELECT said_id, COUNT(*) FROM {kind.name} WHERE said_id BETWEEN ? AND ? GROUP BY said_id"
        for said_id, count in garden.db.conn.execute(sql, between).fetchall():
            one = by_id[said_id]
            one.counts[kind.name] = count
            one.rows += _rows(garden, kind, "k.said_id = ?", [said_id], "k.id", first_rows)
    sql = "SELECT said_id, in_use, COUNT(*) FROM ruling WHERE said_id BETWEEN ? AND ? GROUP BY said_id, in_use"
    for said_id, in_use, count in garden.db.conn.execute(sql, between):
        if in_use:
            by_id[said_id].brought_back = count
        else:
            by_id[said_id].taken_out = count


def search(garden: Garden, text: str, *, older: str = "", size: int = PAGE) -> Page:
    """Return the rows in which every word of a text is found, the latest told first.

    Looked in are a row's own words, its texts, and the names of the plants and spots that it is about. ``total`` is
    the count on this page: all of them are not counted.
    """
    words = text.casefold().split()[:8]
    if not words:
        return Page((), 0)
    garden.db.conn.create_function("holds_text", 2, _holds_text, deterministic=True)
    mark = _mark(older)
    found: list[Shown] = []
    with garden.trouble("reading"):
        for kind in recorded_kinds(garden):
            where, given = _holding(garden, kind, words)
            if mark:
                beyond, more = _told_before(kind, *mark)
                where, given = f"{where} AND {beyond}", [*given, *more]
            found += _rows(garden, kind, where, given, "k.said_id DESC, k.id DESC", size + 1)
    found.sort(key=lambda row: (row.said.id, row.kind, row.id), reverse=True)
    rows = found[:size]
    last = rows[-1] if len(found) > size else None
    return Page(tuple(rows), len(rows), older=f"{last.said.id}.{last.kind}~{last.id}" if last else "")


def _told_before(kind: Kind, told: str, number: int) -> tuple[str, list[object]]:
    """Return the condition for a kind's rows after a mark of ``search``: by saying, then kind, then number."""
    saying, _, last_kind = told.partition(".")
    said_id = int(saying) if saying.isascii() and saying.isdigit() and len(saying) < 18 else 0
    if kind.name == last_kind:
        return "(k.said_id, k.id) < (?, ?)", [said_id, number]
    return f"k.said_id {'<=' if kind.name < last_kind else '<'} ?", [said_id]


def _holding(garden: Garden, kind: Kind, words: Sequence[str]) -> tuple[str, list[object]]:
    """Return the condition for rows that hold every one of some words."""
    texts = [
        f.name for f in kind.fields.values() if f.type in ("text", "word", "species") and f.name not in NOT_SEARCHED
    ]
    texts = [f'k."{name}"' for name in dict.fromkeys(["words", *texts])]
    names = [f.name for f in kind.fields.values() if f.type in ("spot", "plant")]
    parts, given = [], []
    for word in words:
        things = json.dumps([thing for (name, _), thing in garden.things().items() if word in name.casefold()])
        one = [f"({column} IS NOT NULL AND holds_text({column}, ?))" for column in texts]
        one += [f'k."{name}" IN (SELECT value FROM json_each(?))' for name in names]
        parts.append(f"({' OR '.join(one)})")
        given += [*[word] * len(texts), *[things] * len(names)]
    return " AND ".join(parts), list(given)


def _holds_text(text: str, word: str) -> bool:
    return word in text.casefold()


# ---- rows read


def shown_row(garden: Garden, kind: str, row_id: int) -> Shown:
    """Return one row, in use or not. Raise NotFound where there is none."""
    garden.row(kind, row_id)
    return next(_rows(garden, garden.kinds[kind], "k.id = ?", [row_id], "k.id", 1))


def told_instead_of(garden: Garden, row: Shown) -> int | None:
    """Return the older row for which a row was told to stand, None where it was told of something new."""
    sql = "SELECT row_id FROM ruling WHERE said_id = ? AND kind = ? AND replaced_by = ? ORDER BY id LIMIT 1"
    found = garden.db.conn.execute(sql, [row.said.id, row.kind, row.id]).fetchone()
    return None if found is None else int(found[0])


def rows_in_use(garden: Garden, kind: Kind) -> Iterator[Shown]:
    """Yield every row of a kind that is in use, in the order told, without holding them all."""
    in_use, known = garden.in_use(kind.name, "k.id")
    with garden.trouble("reading"):
        yield from _rows(garden, kind, in_use, known, "k.id", -1)


def _rows(garden: Garden, kind: Kind, where: str, given: Sequence[object], order: str, most: int) -> Iterator[Shown]:
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
        said = _saying(said_id, via, ref, by, at)
        yield Shown(kind.name, row_id, MappingProxyType(values), words or "", line, bool(used), said)


def _saying(said_id: int, via: str, ref: str, by: str | None, at: str) -> Saying:
    return Saying(said_id, via, ref, by or "", datetime.fromisoformat(at))
