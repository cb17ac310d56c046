"""A record told by form: each field with its unit and its choices, faults by field, said back with a way to undo it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC
from types import MappingProxyType

from flask import Blueprint, render_template, request
from werkzeug.wrappers import Response as Answer

from advisor.doors.page.forms import cells, column_of, inputs, is_us
from advisor.doors.page.frame import site
from advisor.doors.page.records_shared import (
    form_id,
    garden_if_any,
    recorded,
    said_here,
    see,
    speech_of,
    today_of,
)
from advisor.doors.page.records_words import NOT_BY_HAND, kind_called, line_of, row_link, spoken
from advisor.errors import BadFields, BadInput, NotFound, RowFault
from advisor.facts import Value
from advisor.records.by_form import tell
from advisor.records.kinds import Kind
from advisor.records.standing import Row, is_in_use
from advisor.records.store import Garden

pages = Blueprint("records_add", __name__)
GROUPS: Sequence[tuple[str, Sequence[str]]] = (
    ("What you see", ("stage", "growth", "inspection", "harm", "crop")),
    ("What you measure", ("soil_reading", "evening", "weather_hour", "weather_day", "forecast_day")),
    ("What you do", ("work", "cover", "move")),
    ("What there is", ("plant", "spot", "obstruction", "place", "weather_station")),
    ("A comparison of your own", ("trial", "trial_member")),
)
NO_PLACE = "the garden has no place yet"


@pages.get("/records/new")
def choose_kind() -> str:
    """Show what can be told by form."""
    kinds = site().adviser.base.kinds
    named = {name for _, names in GROUPS for name in names}
    others = [n for n, kind in kinds.items() if kind.origin == "recorded" and n not in (*named, *NOT_BY_HAND)]
    groups = [(title, [kinds[name] for name in names if name in kinds]) for title, names in GROUPS]
    groups += [("Other records", [kinds[name] for name in others])] if others else []
    with garden_if_any() as garden:
        placed = garden is not None and bool(garden.of("place"))
    return render_template("records_new.html", groups=groups, kind_called=kind_called, placed=placed)


@pages.get("/records/new/<kind_name>")
def show_form(kind_name: str) -> str | Answer:
    """Show the form for a kind, with what its address says filled in, and today or now."""
    kind = _by_hand(kind_name)
    with garden_if_any() as garden:
        if garden is None or (not garden.of("place") and kind.name != "place"):
            return see("/records/new")
        return _form(garden, kind, given=request.args)


def _by_hand(kind_name: str) -> Kind:
    kind = recorded(kind_name)
    if kind.name in NOT_BY_HAND:
        raise NotFound(
            "adding a record", f"{kind_called(kind.name)} is what the adviser itself keeps", "Add another kind"
        )
    return kind


def _form(
    garden: Garden, kind: Kind, *, given: Mapping[str, str], faults: Sequence[RowFault] = (), same: Row | None = None,
    already: bool = False,
) -> str:  # fmt: skip
    made = inputs(
        site().adviser, garden, kind.name, given=given, values=_first_values(garden, kind) if not faults else None,
        faults=faults,
    )  # fmt: skip
    speech = speech_of(garden)
    shown = {one.name for one in made}
    return render_template(
        "records_add.html",
        kind=kind, title=kind_called(kind.name), fields=spoken(made, kind), form=form_id(),
        faults=[fault for fault in faults if fault.field not in shown and _column(garden, kind, fault) not in shown],
        at_fault=len({fault.field for fault in faults}), needs=kind.needs_one_of, already=already,
        same=(row_link(*same), line_of(same[0], garden.values_of(*same), speech), is_in_use(garden, *same))
        if same else None,
    )  # fmt: skip


def _column(garden: Garden, kind: Kind, fault: RowFault) -> str:
    """Return the column of a fault that is named by its field."""
    field = kind.fields.get(fault.field)
    return column_of(field, us=is_us(garden)) if field else fault.field


def _first_values(garden: Garden, kind: Kind) -> Mapping[str, Value]:
    """Return what a new record most likely says: today or now, the station that counts."""
    values: dict[str, Value] = {}
    field = kind.fields.get(kind.holds_on)
    if field is not None and field.required:
        values[field.name] = site().now().astimezone(UTC) if field.type == "time" else today_of(garden)
    station = garden.place().text("station") if "source" in kind.fields and garden.of("place") else ""
    return MappingProxyType({**values, **({"source": station} if station else {})})


@pages.post("/records/new/<kind_name>")
def add_record(kind_name: str) -> Answer | tuple[str, int]:
    """Record what the form tells, once, and show it."""
    kind, form = _by_hand(kind_name), form_id()
    adviser = site().adviser
    with site().open(create=kind.name == "place") as garden:
        if kind.name != "place" and not garden.of("place"):
            raise BadInput("adding a record", NO_PLACE, "Tell where the garden is first")
        posted = cells(adviser, garden, kind.name, request.form)
        try:
            told = tell(garden, adviser.lore, kind.name, posted, said_here(form), site().now())
        except BadFields as error:
            return _form(garden, kind, given=request.form, faults=error.faults), 422
        if not told.rows:
            return _form(garden, kind, given=request.form, same=told.same, already=True), 409
        first = next((row for row in told.rows if row[0] == kind.name), told.rows[0])
    return see(f"{row_link(*first)}?new=1")
