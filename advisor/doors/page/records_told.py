"""What was told together: one message, one form, one import, with what taking it back would do."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from flask import Blueprint, render_template, request
from werkzeug.wrappers import Response as Answer

from advisor.doors.page.frame import site
from advisor.doors.page.records_shared import form_id, see, speech_of
from advisor.doors.page.records_words import HowSaid, how_said, kind_called, line_of, row_link
from advisor.errors import BadInput, NotFound
from advisor.language.render import Speech, counted, listed
from advisor.records.browsing_told import Together, told_in
from advisor.records.by_form import said_by_form
from advisor.records.standing import Row
from advisor.records.store import Garden, Said
from advisor.records.undoing import Effects, Run, effects_of, run_between, run_of, undo_run

pages = Blueprint("records_told", __name__)
MOST_SHOWN = 12


@dataclass(frozen=True, slots=True)
class Entry:
    """What was told at one time: how, the first rows in a line each, and how many more there are by kind."""

    link: str
    how: HowSaid
    rows: list[tuple[str, str, bool]]
    more: list[tuple[str, int, str]]
    did: str


def entries(told: Sequence[Together], speech: Speech, first_rows: int = 3) -> list[Entry]:
    """Return what was told, each time an entry."""
    found = []
    for one in told:
        rows = one.rows if len(one.rows) <= first_rows + 1 else one.rows[:first_rows]
        left = dict(one.counts)
        for row in rows:
            left[row.kind] -= 1
        at = f"use=all&told={one.said.id}"
        more = [(kind_called(kind), count, f"/records/{kind}?{at}") for kind, count in left.items() if count]
        lines = [(row_link(row.kind, row.id), line_of(row.kind, row.values, speech), row.in_use) for row in rows]
        found.append(Entry(f"/records/told/{one.said.id}", how_said(one.said, speech), lines, more, _did(one)))
    return found


def _did(one: Together) -> str:
    parts = [f"took {counted(one.taken_out, 'record')} out of use"] if one.taken_out else []
    parts += [f"brought {counted(one.brought_back, 'record')} back"] if one.brought_back else []
    return listed(parts)


@pages.get("/records/told/<int(max=4611686018427387904):first>")
@pages.get("/records/told/<int(max=4611686018427387904):first>-<int(max=4611686018427387904):last>")
def show_told(first: int, last: int | None = None) -> str:
    """Show what was told together, and what taking it back would do."""
    with site().open() as garden:
        return _page(garden, _run(garden, first, last))


def _run(garden: Garden, first: int, last: int | None) -> Run:
    return run_of(garden, first) if last is None else run_between(garden, first, last)


def _page(garden: Garden, run: Run, fault: str = "") -> str:
    speech = speech_of(garden)
    told = told_in(garden, run.first, run.last)
    effects = effects_of(garden, run) if told and all(one.said.via != "undo" for one in told) else Effects()
    return render_template(
        "records_told.html",
        at=f"/records/told/{run.first}-{run.last}", told=entries(told, speech, 10), effects=effects, fault=fault,
        taken=_lines(garden, effects.taken, speech), back=_lines(garden, effects.back, speech),
        stays=_lines(garden, effects.stays, speech), resting=_lines(garden, effects.resting, speech),
        form=form_id(), most=MOST_SHOWN, fresh="new" in request.args, undone="undone" in request.args,
        counts=_counts(effects.taken), is_undo=any(one.said.via == "undo" for one in told),
        left_out=request.args.get("left", ""),
    )  # fmt: skip


def _lines(garden: Garden, rows: Sequence[Row], speech: Speech) -> list[tuple[str, str]]:
    """Return the first of some rows, each with where it leads."""
    return [(row_link(*row), line_of(row[0], garden.values_of(*row), speech)) for row in rows[:MOST_SHOWN]]


def _counts(rows: Sequence[Row]) -> list[tuple[str, int]]:
    kinds = list(dict.fromkeys(kind for kind, _ in rows))
    return [(kind_called(kind), sum(one == kind for one, _ in rows)) for kind in kinds]


@pages.post("/records/told/<int(max=4611686018427387904):first>-<int(max=4611686018427387904):last>/undo")
def undo_told(first: int, last: int) -> Answer | tuple[str, int]:
    """Take back what was told together. Told again by the same form, it says what was done."""
    form = form_id()
    there = f"/records/told/{first}-{last}?undone=1"
    with site().open() as garden:
        if said_by_form(garden, form) is not None:
            return see(there)
        run = run_between(garden, first, last)
        try:
            undo_run(garden, run, Said("undo", form, site().now()))
        except (BadInput, NotFound) as error:
            if said_by_form(garden, form) is not None:
                return see(there)
            return _page(garden, run, f"{error.found}. {error.do}"), error.status
    return see(there)
