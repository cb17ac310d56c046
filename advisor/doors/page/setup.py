"""Setting up a garden: its place, spots, plants and weather, in five steps that can be left and come back to.

The garden itself is all that is kept of how far one has come: nothing is remembered beside it.
"""

from __future__ import annotations

from uuid import uuid4

from flask import Blueprint, Response, abort, redirect, render_template, request

from advisor.doors.page.forms import is_us
from advisor.doors.page.frame import Site, site, wants_page
from advisor.doors.page.setup_left import askable, brings, held, next_step
from advisor.doors.page.setup_place import PlaceForm, place_of, record_place, typed_of, version
from advisor.doors.page.setup_rows import STEPS, RowsForm, record_rows
from advisor.language.render import listed
from advisor.language.said.said_back import said_back
from advisor.records.store import Garden, Said
from advisor.records.time_zones import zone_places

pages = Blueprint("setup", __name__)

WANT_A_PLACE = ("garden", "")
"""Main pages that have nothing to show before there is a place, by the first part of their path. Records and
pictures are not among them: a garden may get its place from files, and pictures say themselves what is lacking."""
AFTER = {"spots": "plants", "plants": "weather"}


def needs_setup(site: Site) -> bool:
    """Return whether the garden of this request has no file or no place yet."""
    if not site.garden_path().exists():
        return True
    with site.open() as garden:
        return not garden.of("place")


@pages.before_app_request
def lead_to_start() -> Response | None:
    """Lead a browser that asks for a main page of a garden without a place to where it is set up."""
    if request.method != "GET" or request.path.split("/")[1] not in WANT_A_PLACE or not wants_page():
        return None
    return _to("/start") if needs_setup(site()) else None


@pages.get("/start")
def start() -> str:
    """Show what the steps are and how far the garden is."""
    if needs_setup(site()):
        return render_template("setup.html", steps=held(None), then="place", place="")
    with site().open() as garden:
        steps = held(garden)
        return render_template("setup.html", steps=steps, then=next_step(steps), place=garden.place().text("name"))


# ---- the place


@pages.get("/start/place")
def place() -> str:
    """Ask for name, position and units."""
    typed = dict(request.args)
    if not typed and not needs_setup(site()):
        with site().open() as garden:
            typed = typed_of(garden)
    form = PlaceForm.of(typed)
    form.faults.clear()
    return _place_page(form)


@pages.get("/start/place/check")
def check_place() -> Response | str:
    """Say the position back, with the clocks that may hold there, or what is wrong with what was typed."""
    form = PlaceForm.of(request.args)
    if form.faults:
        return Response(_place_page(form), 422)
    return _check_page(form)


@pages.post("/start/place")
def tell_place() -> Response:
    """Record the place and go on to the spots."""
    form = PlaceForm.of(request.form)
    if form.faults:
        return Response(_place_page(form), 422)
    with site().open(create=True) as garden:
        done = record_place(site().adviser, garden, form, request.form.get("seen", ""), _said(), site().now())
    return _to("/start/spots") if done else Response(_check_page(form), 422)


def _place_page(form: PlaceForm) -> str:
    kept = {name: form.typed[name] for name in ("time_zone", "elevation", "usual_last_frost", "usual_first_frost")}
    return render_template("setup_place.html", step="place", inputs=form.first_half(), kept=kept, faults=form.faults)


def _check_page(form: PlaceForm) -> str:
    seen = ""
    if site().garden_path().exists():
        with site().open() as garden:
            seen = version(place_of(garden))
            if not form.typed["time_zone"] and request.method == "GET":
                form.typed = {**typed_of(garden), **{name: text for name, text in form.typed.items() if text}}
                form.typed = {**dict.fromkeys(PlaceForm.of({}).typed, ""), **form.typed}
    browser = request.values.get("browser_zone", "")
    zones = form.zones(browser, site().now())
    return render_template(
        "setup_check.html", step="place", form=form, zones=zones, all_zones=sorted(zone_places()),
        inputs=form.second_half(), browser=browser, seen=seen,
    )  # fmt: skip


# ---- spots and plants


@pages.get("/start/<any(spots, plants):name>")
def rows(name: str) -> Response | str:
    """Show blank rows of a step, and what is recorded of it."""
    if needs_setup(site()):
        return _to("/start")
    with site().open() as garden:
        return _rows_page(name, RowsForm.of(STEPS[name], {}), garden)


@pages.post("/start/<any(spots, plants):name>")
def tell_rows(name: str) -> Response:
    """Record the rows of a step, all or none, and go on, or show the step again."""
    if needs_setup(site()):
        return _to("/start")
    form = RowsForm.of(STEPS[name], request.form)
    keep = request.form.get("keep") == "yes"
    with site().open() as garden:
        new = form.rows(site().adviser, garden, site().now(), keep_names=keep)
        if form.faults or form.alike:
            return Response(_rows_page(name, form, garden), 422)
        record_rows(garden, new, _said())
    return _to(f"/start/{name}" if request.form.get("then") == "more" else f"/start/{AFTER[name]}")


def _rows_page(name: str, form: RowsForm, garden: Garden) -> str:
    adviser, kind = site().adviser, STEPS[name].kind
    speech = site().speech(garden)
    told = [said_back(kind, fact.values, speech).removeprefix(f"new {kind} ") for fact in garden.of(kind)]
    row_faults = any(form.faults) or bool(form.alike)
    return render_template(
        "setup_rows.html", step=name, kind=kind, rows=form.shown(adviser, garden), told=told, us=is_us(garden),
        spots=garden.names("spot"), place=said_back("place", garden.place().values, speech), wrong=row_faults,
        alike=bool(form.alike),
    )  # fmt: skip


# ---- weather, and what there is now


@pages.get("/start/weather")
def weather() -> Response | str:
    """Say what a weather file brings and where to send it."""
    if needs_setup(site()):
        return _to("/start")
    with site().open() as garden:
        return render_template("setup_weather.html", step="weather", us=is_us(garden), steps=held(garden))


@pages.get("/start/done")
def done() -> Response | str:
    """Say what can be asked now, and what one more record would bring."""
    if needs_setup(site()):
        return _to("/start")
    with site().open() as garden:
        steps = held(garden)
        told = listed([one.holds for one in steps[1:] if one.holds])
        asks = askable(site().adviser, garden, site().speech(garden))
        return render_template(
            "setup_done.html", step="done", asks=asks, brings=brings(garden, is_us(garden)), told=told,
            place=garden.place().text("name"),
        )  # fmt: skip


def _said() -> Said:
    return Said("page", f"start-{uuid4().hex}", site().now())


def _to(path: str) -> Response:
    found = redirect(path, 303)
    if not isinstance(found, Response):  # pragma: no cover - flask's own type is wider than ours
        abort(500)
    return found
