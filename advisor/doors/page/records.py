"""The records: browse, add, put right, take out of use, import and download."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any
from urllib.parse import urlencode

from flask import Blueprint, render_template, request

from advisor.doors.page import records_add, records_download, records_import, records_row, records_told
from advisor.doors.page.frame import site
from advisor.doors.page.records_shared import args_but, garden_if_any, recorded, speech_of
from advisor.doors.page.records_told import entries
from advisor.doors.page.records_words import NOT_BY_HAND, called, first_told, kind_called, line_of, row_link
from advisor.language.render import Speech
from advisor.records.browsing import (
    ALL,
    IN_USE,
    OUT_OF_USE,
    PAGE,
    Page,
    Shown,
    Wanted,
    overview,
    page_of,
)
from advisor.records.browsing_told import search, told_lately
from advisor.records.kinds import Kind
from advisor.records.moments import read_date
from advisor.records.store import Garden

pages = Blueprint("records", __name__)
for part in (records_add, records_row, records_told, records_import, records_download):
    pages.register_blueprint(part.pages)

USES = ((IN_USE, "in use"), (OUT_OF_USE, "out of use"), (ALL, "all"))
LONGEST_SEARCH = 200
THINGS = ("place", "spot", "plant")


@pages.get("/records")
def show_records() -> str:
    """Show the kinds, what was told last, or what a search finds."""
    text = request.args.get("q", "").strip()[:LONGEST_SEARCH]
    with garden_if_any() as garden:
        if garden is None:
            return render_template("records.html", empty=True, q=text, kinds=[], none=[])
        speech = speech_of(garden)
        counts = overview(garden)
        kinds = [
            (one.kind, one.in_use, speech.value("on", one.last) if one.last and one.kind.name not in THINGS else "")
            for one in counts
            if one.in_use
        ]
        none = [one.kind for one in counts if not one.in_use and one.kind.name not in NOT_BY_HAND]
        more: dict[str, Any] = {}
        if text:
            found = search(garden, text, older=request.args.get("older", ""))
            more = {
                "found": [_found(row, speech) for row in found.rows],
                "older": link("/records", {"q": text, "older": found.older}) if found.older else "",
                "on": bool(request.args.get("older")),
            }
        else:
            before = number(request.args.get("before", ""))
            told = told_lately(garden, before)
            more = {
                "told": entries(told, speech),
                "before": link("/records", {"before": str(told[-1].said.id)}) if len(told) == PAGE else "",
                "on": before is not None,
            }
        empty = not kinds and not text and not more.get("told")
        return render_template(
            "records.html", empty=empty, q=text, kinds=kinds, none=none, kind_called=kind_called, **more
        )


@dataclass(frozen=True, slots=True)
class Found:
    """A row in a list: where it leads, its kind, itself in a line, its own words, and whether it is in use."""

    link: str
    kind: str
    line: str
    words: str
    in_use: bool


def _found(row: Shown, speech: Speech) -> Found:
    words = "" if "words" in row.values else row.words
    return Found(
        row_link(row.kind, row.id), kind_called(row.kind), line_of(row.kind, row.values, speech), words, row.in_use
    )


@pages.get("/records/<kind_name>")
def show_kind(kind_name: str) -> str:
    """Show the rows of a kind, the latest first."""
    kind = recorded(kind_name)
    with site().open() as garden:
        wanted, faults = _wanted(garden, kind)
        page = page_of(garden, kind, wanted, older=request.args.get("older", ""), newer=request.args.get("newer", ""))
        speech = speech_of(garden)
        at = f"/records/{kind.name}"
        columns, rows = _table(kind, page, speech)
        return render_template(
            "records_kind.html",
            kind=kind, title=kind_called(kind.name), page=page, columns=columns, rows=rows, wanted=wanted,
            faults=faults, typed=request.args, uses=USES, first=link(at, args_but("older", "newer")),
            older=link(at, {**args_but("older", "newer"), "older": page.older}) if page.older else "",
            newer=link(at, {**args_but("older", "newer"), "newer": page.newer}) if page.newer else "",
            plants=_names(garden, kind, "plant"), spots=_names(garden, kind, "spot"),
            by_hand=kind.name not in NOT_BY_HAND, filtered=wanted != Wanted(),
        )  # fmt: skip


def link(path: str, args: Any) -> str:
    """Return an address with what stands behind its question mark."""
    return f"{path}?{urlencode(args)}" if args else path


def _names(garden: Garden, kind: Kind, of: str) -> list[str]:
    has = kind.name != of and any(field.type == of for field in kind.fields.values())
    return sorted(garden.names(of), key=str.casefold) if has else []


def _wanted(garden: Garden, kind: Kind) -> tuple[Wanted, dict[str, str]]:
    """Return which rows the address asks for, and what is wrong with it by field."""
    days: dict[str, date | None] = {}
    faults = {}
    for name in ("from", "to"):
        text = request.args.get(name, "").strip()
        try:
            days[name] = read_date(text, None) if text else None
        except ValueError:
            days[name], faults[name] = None, f"{text!r} is no day: wanted one like 2026-04-20"
    if days["from"] and days["to"] and days["from"] > days["to"]:
        faults["to"] = "wanted a day after the first one"
    for name in ("plant", "spot"):
        if (text := request.args.get(name, "")) and text not in garden.names(name):
            faults[name] = f"no {name} in use is called {text!r}"
    use = request.args.get("use", IN_USE)
    told = request.args.get("told", "")
    first, _, last = told.partition("-")
    between = (number(first), number(last or first))
    return Wanted(
        request.args.get("plant", ""), request.args.get("spot", ""), days["from"], days["to"],
        use if use in (IN_USE, OUT_OF_USE, ALL) else IN_USE,
        None if between[0] is None or between[1] is None else (between[0], between[1]),
    ), faults  # fmt: skip


def number(text: str) -> int | None:
    """Return a number from an address, None where it is none that a row could have."""
    return int(text) if text.isascii() and text.isdigit() and len(text) < 18 else None


@dataclass(frozen=True, slots=True)
class Line:
    """A row of the table: where it leads and what it is called, its cells by column, and whether it is in use."""

    link: str
    name: str
    cells: list[tuple[str, str, bool]]
    in_use: bool


def _table(kind: Kind, page: Page, speech: Speech) -> tuple[list[tuple[str, bool]], list[Line]]:
    """Return the columns in which any row of a page has something, and the rows."""
    heading = kind.holds_on if kind.holds_on and kind.holds_on != "planted" else "name"
    shown = [
        field for field in kind.fields.values()
        if field.name != heading and any(field.name in row.values for row in page.rows)
    ]  # fmt: skip
    words = any(row.words for row in page.rows) and "words" not in kind.fields
    columns = [(called(field.name), field.is_number) for field in shown] + ([("words", False)] if words else [])
    rows = []
    for row in page.rows:
        values = {name: speech.value(name, value, article=False) for name, value in row.values.items()}
        cells = [(called(field.name), values.get(field.name, ""), field.is_number) for field in shown]
        cells += [("words", row.words, False)] if words else []
        rows.append(Line(row_link(kind.name, row.id), first_told(row, kind, speech), cells, row.in_use))
    return [(called(heading) if heading in kind.fields else "number", False), *columns], rows
