"""Pictures of the garden's records, each with what it shows in words and the table behind it.

The pages draw nothing: a browser fetches each drawing by itself, in the size and the theme that it wants.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from urllib.parse import urlencode

from flask import Blueprint, Response, render_template, request

from advisor.doors.drawing import library
from advisor.doors.drawing.catalogue import PICTURES, Gallery, check_name, read_choice
from advisor.doors.drawing.look import Look
from advisor.doors.drawing.telling import Telling
from advisor.doors.page.forms import LONG_LIST, Input
from advisor.doors.page.frame import Site, site
from advisor.errors import AdvisorError, NotFound
from advisor.reasoning.pictures import Choice
from advisor.records.store import Garden

pages = Blueprint("pictures", __name__)

SVG_SECURITY = "default-src 'none'; style-src 'unsafe-inline'"
"""A drawing holds no script and fetches nothing; its own style attributes are all that it may have."""
MOST_ROWS = 60
"""Rows of a table on a page; all of them are in the file."""
LABELS = {"spot": "Spot", "plant": "Plant", "kind": "Kind of tree", "year": "Year"}
TYPES = {"csv": "text/csv; charset=utf-8", "json": "application/json", "png": "image/png", "svg": "image/svg+xml"}
SOURCES = (
    ("wide", "dark", "(min-width: 40rem) and (prefers-color-scheme: dark)"),
    ("wide", "light", "(min-width: 40rem)"),
    ("phone", "dark", "(prefers-color-scheme: dark)"),
    ("phone", "light", ""),
)
"""What a browser may choose from, the first that fits taken."""


@dataclass(frozen=True, slots=True)
class Source:
    """One drawing that a browser may fetch: where, for which screens, and how large it is."""

    to: str
    media: str
    width: int
    height: int


@dataclass(frozen=True, slots=True)
class Framed:
    """A telling with the addresses of its drawings and files."""

    telling: Telling
    sources: tuple[Source, ...]
    page: str
    csv: str
    json: str

    @property
    def rows(self) -> tuple[tuple[object, ...], ...]:
        return self.telling.rows[:MOST_ROWS]


@pages.get("/pictures")
def show_pictures() -> str:
    """Show every picture, what matters today first."""
    here = site()
    try:
        with here.open() as garden:
            garden.place()
            gallery = Gallery(here.adviser, garden, here.today(garden))
            framed = [_framed(telling, {}) for telling in gallery.tell_all()]
            forms = {one.telling.name: _inputs(here, garden, one.telling, {}, {}) for one in framed}
            place, today = garden.place().text("name"), here.speech(garden).day(gallery.today)
    except AdvisorError as error:
        if isinstance(error, NotFound) or error.found == "no place is recorded":
            return render_template("pictures.html", framed=[], questions=PICTURES, place="")
        raise
    return render_template("pictures.html", framed=framed, forms=forms, place=place, today=today)


@pages.get("/pictures/<name>")
def show_picture(name: str) -> tuple[str, int]:
    """Show one picture by itself, of what is chosen."""
    here = site()
    check_name(name)
    with here.open() as garden:
        given = _given()
        choice, faults = _choice(here, garden, name, given)
        gallery = Gallery(here.adviser, garden, here.today(garden))
        framed = _framed(gallery.tell(name, choice), given if not faults else {})
        inputs = _inputs(here, garden, framed.telling, given, faults)
        return render_template("pictures_one.html", one=framed, inputs=inputs), 422 if faults else 200


@pages.get("/pictures/<name>.<any(svg, png, csv, json):form>")
def send_picture(name: str, form: str) -> Response:
    """Send one picture as a drawing, or what is behind it as a table or as data."""
    here = site()
    check_name(name)
    with here.open() as garden:
        choice = read_choice(here.adviser, garden, _given())
        telling = Gallery(here.adviser, garden, here.today(garden)).tell(name, choice)
    if form in ("csv", "json"):
        text = telling.csv() if form == "csv" else json.dumps(telling.as_data(), ensure_ascii=False) + "\n"
        response = Response(text, content_type=TYPES[form])
        if form == "csv":
            response.headers["Content-Disposition"] = f'attachment; filename="{name}.csv"'
        response.add_etag()
        response.make_conditional(request)
        return response
    look = Look(request.args.get("theme", "light"), request.args.get("size", "wide"))
    sheet = telling.sheet(look)
    name_of_state = library.fingerprint(sheet)
    if request.if_none_match.contains(name_of_state):
        response = Response(status=304)
    else:
        response = Response(library.svg(sheet) if form == "svg" else library.png(sheet), content_type=TYPES[form])
    response.set_etag(name_of_state)
    response.headers["Content-Security-Policy"] = SVG_SECURITY
    return response


# ---- what is chosen


def _given() -> dict[str, list[str]]:
    """Return what was asked to be pictured, by field, empty ones left out."""
    found = {key: [value for value in request.args.getlist(key) if value.strip()] for key in LABELS}
    return {key: values for key, values in found.items() if values}


def _choice(here: Site, garden: Garden, name: str, given: dict[str, list[str]]) -> tuple[Choice, dict[str, str]]:
    """Return the choice, and by field what is wrong with it; then the picture chooses for itself."""
    faults = {}
    for key, values in given.items():
        try:
            read_choice(here.adviser, garden, {key: values})
        except AdvisorError as error:
            faults[key] = f"{error.found[0].upper()}{error.found[1:]}. {error.do}"
    return (Choice() if faults else read_choice(here.adviser, garden, given)), faults


def _inputs(
    here: Site, garden: Garden, telling: Telling, given: dict[str, list[str]], faults: dict[str, str]
) -> list[Input]:
    """Return the fields by which a picture's subject is chosen, those with nothing to choose left out."""
    made = []
    for key in PICTURES[telling.name].choices:
        options = _options(here, garden, key, telling)
        if len(options) < 2 and key not in given:
            continue
        kind = "list" if len(options) > LONG_LIST or key in faults else "choice"
        choices = (("", "the picture's own choice"), *((one, one) for one in options))
        value = given.get(key, [""])[0]
        made.append(Input(key, LABELS[key], kind, value, fault=faults.get(key, ""), choices=choices))
    return made


def _options(here: Site, garden: Garden, key: str, telling: Telling) -> list[str]:
    if key == "year":
        return [str(year) for year in reversed(telling.years)]
    if key != "kind":
        return sorted(garden.names(key))
    species = here.adviser.lore.species
    if telling.name == "stages":
        planted = {plant.text("species") for plant in garden.of("plant")}
        species = {kind: one for kind, one in species.items() if kind in planted}
    return sorted(one.name for one in species.values())


# ---- where it is fetched


def _framed(telling: Telling, given: dict[str, list[str]]) -> Framed:
    base = f"/pictures/{telling.name}"
    asked = [(key, value) for key, values in given.items() for value in values]

    def to(form: str, **more: str) -> str:
        query = urlencode([*asked, *more.items()])
        return f"{base}{form}{'?' if query else ''}{query}"

    sources = []
    for size, theme, media in SOURCES if not telling.nothing else ():
        about = telling.sheet(Look(theme, size))["usermeta"]
        sources.append(Source(to(".svg", size=size, theme=theme), media, about["width"], about["height"]))
    return Framed(telling, tuple(sources), to(""), to(".csv"), to(".json"))
