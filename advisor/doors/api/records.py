"""Records read by the page, one with all that became of it, and new ones."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any

from flask import Blueprint, Response, request

from advisor.doors.api.answering import as_json, asked, checked, fault, key_sent, new_key, next_link, sent, shown
from advisor.doors.api.described import Answer, described
from advisor.doors.api.kind_schemas import as_cells, as_sent, changes_schema, values_schema
from advisor.doors.api.schemas import (
    ALL,
    IN_USE,
    OUT_OF_USE,
    Correction,
    Recorded,
    RecordsAsked,
    RecordSent,
    RecordWhole,
    Ruled,
)  # fmt: skip
from advisor.doors.api.schemas import Records as RecordsFound
from advisor.doors.page.frame import site
from advisor.doors.page.records_shared import MOST_ID
from advisor.doors.page.records_words import NOT_BY_HAND
from advisor.errors import BadInput, NotFound
from advisor.records import browsing
from advisor.records.browsing import Saying, Shown, Wanted, page_of, read_mark, shown_row, told_instead_of
from advisor.records.by_form import Told, corrected_values, tell
from advisor.records.corrections import bring_back, correct, retire
from advisor.records.keyed import digest_of, once
from advisor.records.kinds import Kind
from advisor.records.standing import rulings, stands_for
from advisor.records.store import Garden, Said

routes = Blueprint("api_records", __name__)
TOPIC = "Records"
ONE = f"/records/<kind>/<int(max={MOST_ID}):row_id>"
STATES = {IN_USE: browsing.IN_USE, OUT_OF_USE: browsing.OUT_OF_USE, ALL: browsing.ALL}


def _kind(name: str, *, to_send: bool = False) -> Kind:
    found = site().adviser.base.kinds.get(name)
    if found is None or found.origin != "recorded":
        raise NotFound("looking up records", f"no kind {shown(name)}", "GET /v1/kinds?origin=recorded lists them")
    if to_send and name in NOT_BY_HAND:
        raise BadInput(f"writing {name}", "the adviser's own record", "Send one of the kinds that can_be_sent")
    return found


# ---- read


@routes.get("/records/<kind>")
@described(
    "List records",
    topic=TOPIC,
    query=RecordsAsked,
    answers={200: Answer("The records", RecordsFound)},
    refuses=(404, 422),
)
def list_records(kind: str) -> Response:
    """List the records of a kind, what holds last first. Follow next: what is told meanwhile moves nothing."""
    spec, done = _kind(kind), f"listing {kind}"
    wanted = asked(RecordsAsked(), done)
    if wanted["after"] and read_mark(wanted["after"]) is None:
        raise fault(done, "after", wanted["after"], "the mark in the last page's next")
    for name in ("since", "until"):
        if name in wanted and not spec.holds_on:
            raise fault(done, name, request.args[name], f"nothing: a {kind} holds on no day of its own")
    with site().open() as garden:
        plant, spot = (_named(garden, spec, of, wanted[of], done) if of in wanted else "" for of in ("plant", "spot"))
        which = Wanted(plant, spot, wanted.get("since"), wanted.get("until"), STATES[wanted["state"]])
        page = page_of(garden, spec, which, older=wanted["after"], size=wanted["limit"])
    rows = [record_data(row) for row in page.rows]
    return as_json({"records": rows, "total": page.total, "next": next_link(page.older)})


def _named(garden: Garden, kind: Kind, of: str, name: str, done: str) -> str:
    """Return a plant's or spot's name as it is recorded. Raise BadFields where there is none, or none is told of."""
    if kind.name != of and not any(one.type == of for one in kind.fields.values()):
        raise fault(done, of, name, f"nothing: a {kind.name} is about no {of}")
    known = [known for known, sort in garden.things() if sort == of]
    found = name if name in known else next((one for one in known if one.casefold() == name.casefold()), None)
    if found is None:
        raise fault(done, of, name, f"the name of a {of} that is recorded")
    return found


@routes.get(ONE)
@described(
    "Read one record", topic=TOPIC, answers={200: Answer("The record", RecordWhole)}, refuses=(404,)
)  # fmt: skip
def get_record(kind: str, row_id: int) -> Response:
    """Return a record, who said it, and what became of it."""
    spec = _kind(kind)
    with site().open() as garden:
        return as_json(whole(garden, spec.name, row_id))


# ---- written


@routes.post("/records/<kind>")
@described(
    "Add a record",
    topic=TOPIC,
    body=RecordSent,
    answers={201: Answer("It is recorded", Recorded), 200: Answer("The same was recorded before", Recorded)},
    refuses=(404, 409, 413, 415, 422),
    once=True,
    example={
        "id": "probe-17",
        "values": {"spot": "shed bed", "at": "2026-04-24T11:30:00+02:00", "temp_c": 12.5, "depth_cm": 10},
    },
)
def post_record(kind: str) -> Response:
    """Add a record, checked as in an import. Of a thing that is recorded already it stands for the older record."""
    spec, done = _kind(kind, to_send=True), f"adding a {kind.replace('_', ' ')}"
    raw = sent(RecordSent(), done)
    checked(values_schema(spec)(), raw["values"], done)

    def add(garden: Garden, said: Said, now: datetime) -> dict[str, Any]:
        cells, lore = as_cells(raw["values"]), site().adviser.lore
        return _came_of(garden, spec, tell(garden, lore, kind, cells, said, now, words=raw.get("words", "")), done)

    return _written(raw, add)


@routes.post(f"{ONE}/retire")
@described(
    "Take a record out of use",
    topic=TOPIC,
    body=Ruled,
    answers={200: Answer("It is out of use", RecordWhole)},
    refuses=(404, 409, 413, 415, 422),
    once=True,
    example={"reason": "wrong tree"},
)
def retire_record(kind: str, row_id: int) -> Response:
    """Take a record out of use. It stays in the file and can be brought back."""
    return _ruled(kind, row_id, retire)


@routes.post(f"{ONE}/restore")
@described(
    "Bring a record back",
    topic=TOPIC,
    body=Ruled,
    answers={200: Answer("It is in use", RecordWhole)},
    refuses=(404, 409, 413, 415, 422),
    once=True,
    example={"reason": "it was right"},
)
def restore_record(kind: str, row_id: int) -> Response:
    """Bring a record that is out of use back, where no other stands for it."""
    return _ruled(kind, row_id, bring_back)


@routes.post(f"{ONE}/correct")
@described(
    "Put a record right",
    topic=TOPIC,
    body=Correction,
    answers={201: Answer("The new record, which stands for the old one", Recorded)},
    refuses=(404, 409, 413, 415, 422),
    once=True,
    example={"changes": {"temp_c": 11.5}, "reason": "misread"},
)
def correct_record(kind: str, row_id: int) -> Response:
    """Record it anew with some fields otherwise. The old record stays in the file, out of use."""
    spec, done = _kind(kind, to_send=True), f"correcting {kind}/{row_id}"
    raw = sent(Correction(), done)
    changes: dict[str, Any] = raw["changes"]
    checked(changes_schema(spec, changes), changes, done)

    def put_right(garden: Garden, said: Said, now: datetime) -> dict[str, Any]:
        before = garden.values_of(kind, row_id)
        values = corrected_values(garden, site().adviser.lore, kind, row_id, as_cells(changes), now)
        if {name: value for name, value in values.items() if value is not None} == before:
            raise BadInput(done, "nothing is otherwise than before", "Change a field, or leave the record alone")
        new = correct(garden, kind, row_id, values, said, reason=raw["reason"])
        return _came_of(garden, spec, Told(((kind, new),)), done)

    return _written(raw, put_right)


def _ruled(kind: str, row_id: int, rule: Callable[..., None]) -> Response:
    spec = _kind(kind)
    raw = sent(Ruled(), f"ruling on {kind}/{row_id}")

    def act(garden: Garden, said: Said, now: datetime) -> dict[str, Any]:
        rule(garden, spec.name, row_id, said, reason=raw["reason"])
        return {"status": 200, "body": whole(garden, spec.name, row_id)}

    return _written(raw, act)


def _written(raw: dict[str, Any], act: Callable[[Garden, Said, datetime], dict[str, Any]]) -> Response:
    """Return what came of writing what was sent, once under its key."""
    key, now = key_sent(raw) or new_key(), site().now()
    own = {name: value for name, value in raw.items() if name != "id"}
    with site().open() as garden:
        said = Said("api", key, now, raw.get("said_by", ""))
        done = once(garden, key, digest_of(request.path, own), now, lambda: act(garden, said, now))
    headers = {"Location": done["at"]} if "at" in done else {}
    return as_json(done["body"], done["status"], **headers)


def _came_of(garden: Garden, kind: Kind, told: Told, done: str) -> dict[str, Any]:
    """Return what came of telling a record: its own row first, else what was recorded of it instead."""
    rows = sorted(told.rows, key=lambda row: row[0] != kind.name)
    row = rows[0] if rows else told.same
    if row is None:
        raise BadInput(done, "the same was told before and taken out of use", "Bring that record back instead")
    refs = [{"kind": name, "id": row_id} for name, row_id in told.rows]
    outcome = "recorded" if rows else "known"
    record = whole(garden, *row)
    made = {"status": 201 if rows else 200, "body": {"outcome": outcome, "record": record, "recorded": refs}}
    return {**made, "at": record["href"]} if rows else made


# ---- as data


def record_data(row: Shown) -> dict[str, Any]:
    """Return a record as data."""
    return {
        "kind": row.kind,
        "id": row.id,
        "in_use": row.in_use,
        "values": as_sent(row.values),
        "words": row.words,
        "said": _said_data(row.said, row.line),
        "href": f"/v1/records/{row.kind}/{row.id}",
    }


def whole(garden: Garden, kind: str, row_id: int) -> dict[str, Any]:
    """Return a record as data, with what became of it and how it stands to others. Raise NotFound."""
    row = shown_row(garden, kind, row_id)
    ruled = [
        {
            "in_use": bool(one["in_use"]),
            "reason": one["reason"] or "",
            "replaced_by": one["replaced_by"],
            "said": _said_data(
                Saying(one["said_id"], one["via"], one["ref"], one["said_by"] or "",
                       datetime.fromisoformat(one["said_at"])),
            ),
        }
        for one in rulings(garden, kind, row_id)
    ]  # fmt: skip
    stood_for_by = None if row.in_use else stands_for(garden, kind, row_id)
    standing = {"rulings": ruled, "stood_for_by": stood_for_by, "stands_for": told_instead_of(garden, row)}
    return {**record_data(row), **standing}


def _said_data(said: Saying, line: int | None = None) -> dict[str, Any]:
    return {"by": said.by, "at": said.at.isoformat(), "via": said.via, "ref": said.ref, "line": line}
