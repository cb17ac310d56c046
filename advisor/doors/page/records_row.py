"""One record: what it says, who said it, what became of it; put right, taken out of use, brought back."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from urllib.parse import urlencode

from flask import Blueprint, render_template, request
from werkzeug.wrappers import Response as Answer

from advisor.doors.page.forms import as_typed, cells, column_of, inputs, is_us
from advisor.doors.page.frame import site
from advisor.doors.page.records_shared import (
    MOST_ID,
    form_id,
    reason_given,
    recorded,
    said_here,
    see,
    speech_of,
)
from advisor.doors.page.records_words import (
    NOT_BY_HAND,
    HowSaid,
    differences,
    how_said,
    kind_called,
    line_of,
    row_link,
    spoken,
    told,
)
from advisor.errors import BadFields, BadInput, RowFault
from advisor.language.render import Speech, sentence_case
from advisor.records.browsing import Saying, Shown, shown_row, told_instead_of
from advisor.records.by_form import corrected_values, rows_said, said_by_form
from advisor.records.corrections import bring_back, correct, retire
from advisor.records.kinds import Kind
from advisor.records.standing import resting_on, rulings, stands_for
from advisor.records.store import Garden
from advisor.records.undoing import run_of

pages = Blueprint("records_row", __name__)
NO_REASON = "a reason is needed: a word will do"
STAYS = ("spot", "to_spot", "depth_cm", "sky", "source", "issued", "trial", "what", "cause", "species", "growing")
"""Fields that one often tells again with the next record of the same round."""


@dataclass(frozen=True, slots=True)
class Step:
    """One thing that became of a record: what, why, who said so, and the record that stands for it since."""

    what: str
    reason: str
    how: HowSaid
    told_link: str
    instead: str = ""


@dataclass(frozen=True, slots=True)
class StandsFor:
    """The older record that this one stands for, and what it says otherwise."""

    link: str
    line: str
    changes: list[str]


@pages.get(f"/records/<kind_name>/<int(max={MOST_ID}):row_id>")
def show_row(kind_name: str, row_id: int) -> str:
    """Show a record."""
    kind = recorded(kind_name)
    with site().open() as garden:
        return _page(garden, kind, shown_row(garden, kind.name, row_id))


def _page(garden: Garden, kind: Kind, row: Shown, *, faults: Mapping[str, str] | None = None) -> str:
    speech = speech_of(garden)
    stands = stands_for(garden, kind.name, row.id)
    run = run_of(garden, row.said.id)
    return render_template(
        "record.html",
        kind=kind, row=row, title=kind_called(kind.name), line=line_of(kind.name, row.values, speech),
        told=told(row.values, kind, speech), words="" if "words" in row.values else row.words,
        said=how_said(row.said, speech, row.line), told_link=f"/records/told/{run.first}-{run.last}",
        steps=_steps(garden, kind, row, speech), older=_older(garden, kind, row, speech),
        stands=(row_link(kind.name, stands), line_of(kind.name, garden.values_of(kind.name, stands), speech))
        if stands and not row.in_use else None,
        resting=len(resting_on(garden, kind.name, row.id)) if row.in_use else 0,
        at=row_link(kind.name, row.id), form=form_id(), faults=faults or {}, typed=request.form,
        fresh="new" in request.args, done=request.args.get("done", ""), by_hand=kind.name not in NOT_BY_HAND,
        another=another(garden, kind, row),
    )  # fmt: skip


def _steps(garden: Garden, kind: Kind, row: Shown, speech: Speech) -> list[Step]:
    """Return what became of a record, the first thing first."""
    found = []
    for one in rulings(garden, kind.name, row.id):
        said = Saying(
            one["said_id"], one["via"], one["ref"], one["said_by"] or "", datetime.fromisoformat(one["said_at"])
        )
        instead = row_link(kind.name, one["replaced_by"]) if one["replaced_by"] else ""
        what = "Brought back into use" if one["in_use"] else "Taken out of use"
        reason = {"changed": "told anew", "undone": "what was told with it was taken back"}.get(
            one["reason"] or "", one["reason"] or ""
        )
        found.append(Step(what, reason, how_said(said, speech), f"/records/told/{said.id}", instead))
    return found


def _older(garden: Garden, kind: Kind, row: Shown, speech: Speech) -> StandsFor | None:
    """Return the record that this one was told instead of, with what is otherwise."""
    number = told_instead_of(garden, row)
    if number is None:
        return None
    before = garden.values_of(kind.name, number)
    changes = differences(before, row.values, kind, speech)
    return StandsFor(row_link(kind.name, number), line_of(kind.name, before, speech), changes)


def another(garden: Garden, kind: Kind, row: Shown) -> str:
    """Return where to add a record like this one, with what stays the same from one to the next."""
    us = is_us(garden)
    kept = {
        column_of(field, us=us): as_typed(field, row.values[field.name], garden, us=us)
        for field in kind.fields.values()
        if field.name in STAYS and field.name in row.values
    }
    return f"/records/new/{kind.name}" + (f"?{urlencode(kept)}" if kept else "")


# ---- out of use and back


@pages.post(f"/records/<kind_name>/<int(max={MOST_ID}):row_id>/out")
def take_out(kind_name: str, row_id: int) -> Answer | tuple[str, int]:
    """Take a record out of use, for a reason."""
    return _ruled(kind_name, row_id, "out", retire)


@pages.post(f"/records/<kind_name>/<int(max={MOST_ID}):row_id>/back")
def take_back(kind_name: str, row_id: int) -> Answer | tuple[str, int]:
    """Bring a record back into use, for a reason."""
    return _ruled(kind_name, row_id, "back", bring_back)


def _ruled(kind_name: str, row_id: int, what: str, rule: Callable[..., None]) -> Answer | tuple[str, int]:
    """Make a ruling on a record; the same form sent again finds it made."""
    kind, form, reason = recorded(kind_name), form_id(), reason_given()
    there = f"{row_link(kind.name, row_id)}?done={what}"
    with site().open() as garden:
        if said_by_form(garden, form) is not None:
            return see(there)
        fault, status = NO_REASON, 422
        if reason:
            try:
                rule(garden, kind.name, row_id, said_here(form), reason=reason)
            except BadInput as error:
                if said_by_form(garden, form) is not None:
                    return see(there)
                fault, status = f"{sentence_case(error.found)}. {error.do}", error.status
            else:
                return see(there)
        return _page(garden, kind, shown_row(garden, kind.name, row_id), faults={what: fault}), status


# ---- put right


@pages.get(f"/records/<kind_name>/<int(max={MOST_ID}):row_id>/right")
def show_right(kind_name: str, row_id: int) -> str:
    """Show the form that puts a record right."""
    kind = recorded(kind_name)
    with site().open() as garden:
        return _right(garden, kind, shown_row(garden, kind.name, row_id))


def _right(
    garden: Garden, kind: Kind, row: Shown, *, faults: Sequence[RowFault] = (), fault: str = "", no_reason: str = ""
) -> str:
    given = request.form if request.method == "POST" else None
    made = spoken(inputs(site().adviser, garden, kind.name, given=given, values=row.values, faults=faults), kind)
    stands = stands_for(garden, kind.name, row.id)
    return render_template(
        "record_right.html",
        kind=kind, title=kind_called(kind.name), line=line_of(kind.name, row.values, speech_of(garden)), row=row,
        fields=made, at=row_link(kind.name, row.id), form=form_id(), said_reason=reason_given(), fault=fault,
        no_reason=no_reason, by_hand=kind.name not in NOT_BY_HAND,
        stands=row_link(kind.name, stands) if stands and not row.in_use else "",
    )  # fmt: skip


@pages.post(f"/records/<kind_name>/<int(max={MOST_ID}):row_id>/right")
def put_right(kind_name: str, row_id: int) -> Answer | tuple[str, int]:
    """Put a record right: a new one stands for it from now on."""
    kind, form, reason = recorded(kind_name), form_id(), reason_given()
    with site().open() as garden:
        row = shown_row(garden, kind.name, row_id)
        before = rows_said(garden, "page", form)
        if before:
            return see(f"{row_link(*before[0])}?done=right")
        if kind.name in NOT_BY_HAND:
            raise BadInput(f"correcting {kind.name}/{row_id}", "the adviser's own record", "Take it out of use instead")
        changes = _changes(garden, kind, row)
        if not reason or not changes:
            fault = "" if changes else "nothing is otherwise than before: change a field, or go back"
            return _right(garden, kind, row, fault=fault, no_reason="" if reason else NO_REASON), 422
        try:
            values = corrected_values(garden, site().adviser.lore, kind.name, row_id, changes, site().now())
            new = correct(garden, kind.name, row_id, values, said_here(form), reason=reason)
        except BadFields as error:
            return _right(garden, kind, row, faults=error.faults), 422
        except BadInput as error:
            before = rows_said(garden, "page", form)  # the same form came in twice at once
            if before:
                return see(f"{row_link(*before[0])}?done=right")
            return _right(garden, kind, row, fault=f"{sentence_case(error.found)}. {error.do}"), 422
    return see(f"{row_link(kind.name, new)}?done=right")


def _changes(garden: Garden, kind: Kind, row: Shown) -> dict[str, str]:
    """Return the columns that were posted otherwise than the form showed them.

    What was left alone keeps its exact value, although the form shows it rounded and in other units.
    """
    us, posted = is_us(garden), cells(site().adviser, garden, kind.name, request.form)
    shown = {
        column_of(field, us=us): as_typed(field, row.values[field.name], garden, us=us).strip()
        for field in kind.fields.values()
        if field.name in row.values
    }
    return {column: typed for column, typed in posted.items() if typed != shown.get(column, "")}
