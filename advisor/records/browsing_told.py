"""What was told, the latest first: each telling with its rows, and the rows in which words are found."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, field

from advisor.records.browsing import PAGE, Page, Saying, Shown, read_mark, recorded_kinds, rows_where, saying
from advisor.records.kinds import Kind
from advisor.records.store import Garden

NOT_SEARCHED = ("source",)
"""Fields of text that thousands of rows share, in which nobody searches."""


@dataclass
class Together:
    """What was told at one time: rows by kind, the first of them, and how many rows it took out of use or back."""

    said: Saying
    counts: dict[str, int] = field(default_factory=dict)
    rows: list[Shown] = field(default_factory=list)
    taken_out: int = 0
    brought_back: int = 0


def told_lately(garden: Garden, before: int | None = None, size: int = PAGE, first_rows: int = 3) -> list[Together]:
    """Return what was told, the latest telling first, each with its first rows; ``before`` is a saying's number."""
    below, given = ("WHERE id < ?", [before]) if before is not None else ("", [])
    with garden.trouble("reading"):
        sql = f"SELECT id, via, ref, said_by, said_at FROM said {below} ORDER BY id DESC LIMIT ?"
        found = [Together(saying(*row)) for row in garden.db.conn.execute(sql, [*given, size])]
        _fill(garden, found, first_rows)
    return found


def told_in(garden: Garden, first: int, last: int, first_rows: int = 10) -> list[Together]:
    """Return the sayings from one number to another, in the order told, each with its first rows of each kind."""
    with garden.trouble("reading"):
        sql = "SELECT id, via, ref, said_by, said_at FROM said WHERE id BETWEEN ? AND ? ORDER BY id"
        found = [Together(saying(*row)) for row in garden.db.conn.execute(sql, [first, last])]
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
            one.rows += rows_where(garden, kind, "k.said_id = ?", [said_id], "k.id", first_rows)
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
    mark = read_mark(older)
    found: list[Shown] = []
    with garden.trouble("reading"):
        things = garden.things()
        named = [
            json.dumps([thing for (name, _), thing in things.items() if word in name.casefold()]) for word in words
        ]
        for kind in recorded_kinds(garden):
            where, given = _holding(kind, words, named)
            if mark:
                beyond, more = _told_before(kind, *mark)
                where, given = f"{where} AND {beyond}", [*given, *more]
            found += rows_where(garden, kind, where, given, "k.said_id DESC, k.id DESC", size + 1)
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


def _holding(kind: Kind, words: Sequence[str], named: Sequence[str]) -> tuple[str, list[object]]:
    """Return the condition for rows that hold every one of some words; ``named`` are the things so called, as JSON."""
    texts = [
        f.name for f in kind.fields.values() if f.type in ("text", "word", "species") and f.name not in NOT_SEARCHED
    ]
    texts = [f'k."{name}"' for name in dict.fromkeys(["words", *texts])]
    names = [f.name for f in kind.fields.values() if f.type in ("spot", "plant")]
    parts, given = [], []
    for word, things in zip(words, named, strict=True):
        one = [f"({column} IS NOT NULL AND holds_text({column}, ?))" for column in texts]
        one += [f'k."{name}" IN (SELECT value FROM json_each(?))' for name in names]
        parts.append(f"({' OR '.join(one)})")
        given += [*[word] * len(texts), *[things] * len(names)]
    return " AND ".join(parts), list(given)


def _holds_text(text: str, word: str) -> bool:
    return word in text.casefold()
