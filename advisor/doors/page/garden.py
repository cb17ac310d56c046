"""The garden: its spots and plants, a plan of them, each with its state, its advice and its history."""

from __future__ import annotations

import re
import uuid
from urllib.parse import urlencode

from flask import Blueprint, redirect, render_template, request
from werkzeug.wrappers import Response

from advisor.doors.page.frame import site
from advisor.doors.page.garden_about import asks, at_odds, history_page, known
from advisor.doors.page.garden_list import (
    PLANTS_A_PAGE,
    SPOTS_A_PAGE,
    STATES,
    Wanted,
    paged,
    plant_rows,
    spot_rows,
    steps_for,
)
from advisor.doors.page.garden_plant import plant_page
from advisor.doors.page.garden_spot import spot_page
from advisor.doors.page.garden_today import night_line, season_line
from advisor.doors.page.plan import CONDITIONS, TILE, plan_of, plant_link, spot_link
from advisor.errors import BadInput
from advisor.facts import Fact
from advisor.language.render import sentence_case
from advisor.language.said.said_back import said_back
from advisor.reasoning.state import contradictions_on, garden_now
from advisor.records.by_form import tell
from advisor.records.corrections import undo
from advisor.records.store import Garden, Said

pages = Blueprint("garden", __name__)
SPOTS_ON_PLAN = 40
"""Spots that the plan on the garden's own page may have; of more it has a page to itself."""
MOST_ODDS = 10
REF = re.compile(r"[A-Za-z0-9-]{1,64}")


def _number(name: str) -> int:
    text = request.args.get(name, "1")
    return int(text) if text.isdecimal() and len(text) < 7 else 1


@pages.get("/garden")
def show_garden() -> str:
    """Show the day, the plan, and the spots and plants with their state."""
    here = site()
    with here.open() as garden:
        today, speech = here.today(garden), here.speech(garden)
        now = garden_now(garden, here.adviser.lore, today)
        facts = {fact.text("name"): fact for fact in garden.of("plant")}
        wanted = Wanted(*(request.args.get(name, "") for name in ("kind", "place", "state")))
        rows = plant_rows(here.adviser, [one for one in now.plants if wanted.takes(one)], facts, speech)
        spots = spot_rows(now.spots, now.plants, speech)
        kinds = sorted({(speech.called.get(one["species"], one["species"]), one["species"]) for one in now.plants})
        odds = contradictions_on(garden, here.adviser.lore, today)
        night = night_line(here.adviser, garden, today, speech)
        return render_template(
            "garden.html",
            place=garden.place().text("name"),
            season=season_line(here.adviser, garden, today, speech),
            night=night,
            ask=asks("Will it freeze tonight?", "What should I do next?"),
            odds=at_odds(here.adviser, garden, odds[:MOST_ODDS], speech),
            more_odds=max(0, len(odds) - MOST_ODDS),
            plan=plan_of(garden.of("spot"), now.plants, speech) if 0 < len(now.spots) <= SPOTS_ON_PLAN else None,
            tile=TILE,
            spots=paged(spots, _number("spots"), SPOTS_A_PAGE, "/garden", "spots", wanted.query),
            plants=paged(rows, _number("page"), PLANTS_A_PAGE, "/garden", "page", wanted.query),
            count=len(now.plants),
            wanted=wanted,
            kinds=kinds,
            places=sorted(one["spot"] for one in now.spots),
            states=STATES,
            conditions=CONDITIONS,
        )


@pages.get("/garden/plan")
def show_plan() -> str:
    """Show the plan by itself, however many spots it has."""
    here = site()
    with here.open() as garden:
        now = garden_now(garden, here.adviser.lore, here.today(garden))
        plan = plan_of(garden.of("spot"), now.plants, here.speech(garden))
        return render_template("plan.html", plan=plan, tile=TILE, conditions=CONDITIONS)


@pages.get("/garden/spot/<path:name>", merge_slashes=False)
def show_spot(name: str) -> str:
    """Show one spot."""
    here = site()
    with here.open() as garden:
        known(garden, "spot", name)
        speech = here.speech(garden)
        now = garden_now(garden, here.adviser.lore, here.today(garden))
        page = spot_page(here.adviser, garden, now, name, speech)
        history = history_page(here.adviser, garden, "spot", name, _number("page"), spot_link(name), speech)
        return render_template(
            "spot.html", page=page, history=history, pictures=f"/pictures?{urlencode({'spot': name})}"
        )


@pages.get("/garden/plant/<path:name>", merge_slashes=False)
def show_plant(name: str) -> str:
    """Show one plant; after a stage was told from it, what was recorded, with a way back."""
    here = site()
    with here.open() as garden:
        known(garden, "plant", name)
        speech = here.speech(garden)
        page = plant_page(here.adviser, garden, here.today(garden), name, speech)
        history = history_page(here.adviser, garden, "plant", name, _number("page"), plant_link(name), speech)
        told = [
            sentence_case(said_back("stage", fact.values, speech))
            for fact in _told_under(garden, request.args.get("said", ""))
            if fact.text("plant") == name
        ]
        return render_template(
            "plant.html",
            page=page,
            history=history,
            told=told,
            ref=request.args.get("said", ""),
            undone="undone" in request.args,
            again="again" in request.args or bool(request.args.get("said") and not told),
            form_id=uuid.uuid4().hex,
            pictures=f"/pictures?{urlencode({'plant': name})}",
        )


def _told_under(garden: Garden, ref: str) -> list[Fact]:
    """Return the stages in use that were told under a form's reference."""
    if not ref:
        return []
    return garden.picked("stage", "said_id IN (SELECT id FROM said WHERE via = 'page' AND ref = ?)", [ref])


@pages.post("/garden/stage")
def tell_stage() -> Response:
    """Record a stage seen today, once however often it is sent, and show the plant with what was recorded."""
    here, name = site(), request.form.get("plant", "")
    code, ref = request.form.get("bbch", ""), request.form.get("id", "")
    if not REF.fullmatch(ref) or not code.isdecimal():
        raise BadInput(
            "recording a stage", "a form that is not whole", "Open the plant's page again, then tap the stage"
        )
    with here.open() as garden:
        row = known(garden, "plant", name)
        steps = steps_for(here.adviser.stage_words, here.adviser.lore, row.text("species"), row.text("cultivar"))
        words = dict(steps).get(int(code))
        if words is None:
            raise BadInput("recording a stage", f"no stage {code} of this kind", "Tap one of those on the plant's page")
        now, on = here.now(), here.today(garden).isoformat()
        cells = {"plant": name, "on": on, "bbch": str(int(code)), "words": words}
        said = Said("page", f"{ref}-{int(code)}", now)
        told = tell(garden, here.adviser.lore, "stage", cells, said, now)
    query = {"said": said.ref} if told.rows else {"again": "1"}
    return redirect(f"{plant_link(name)}?{urlencode(query)}", 303)


@pages.post("/garden/undo")
def take_back() -> Response:
    """Take back what was told from a plant's page; a second tap finds it taken back already."""
    here, name, ref = site(), request.form.get("plant", ""), request.form.get("ref", "")
    with here.open() as garden:
        known(garden, "plant", name)
        if _told_under(garden, ref):
            undo(garden, ref, Said("undo", ref, here.now()))
    return redirect(f"{plant_link(name)}?undone=1", 303)
