"""The talk: what was said, what was answered and why, and the box to go on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime, timedelta
from hashlib import sha256
from typing import Any

from flask import Blueprint, Response, redirect, render_template, request, url_for
from werkzeug.wrappers import Response as AnyResponse

from advisor.doors.page.exchange import Exchange, exchange, in_short, new_id, of_reading, said_when
from advisor.doors.page.frame import Site, site
from advisor.doors.page.readings import Asked, at_sending
from advisor.errors import BadFields, BadInput, NotFound
from advisor.records.messages import Message, latest_message, message, outlines_before_place
from advisor.records.store import Garden
from advisor.talk.tapping import filled_reply, rows_filled, told_in_words, undone_of

pages = Blueprint("talk", __name__)

A_PAGE = 20
FRESH = timedelta(hours=6)
"""An answer older than this is not what the page opens for: what is worth asking stands before it."""


@pages.get("/")
def home() -> str:
    """Show the last exchange, what is worth asking today, and the box."""
    return _page(site(), say=request.args.get("say", ""))


def _page(here: Site, *, say: str = "", fault: str = "") -> str:
    try:
        opened = here.open()
    except NotFound:
        return render_template("talk.html", empty=True)
    with opened as garden:
        if not garden.of("place"):
            return render_template("talk.html", empty=True)
        last = latest_message(garden)
        shown = exchange(here, garden, last) if last else None
        fresh = last is not None and here.now() - last.received_at < FRESH
        worth = here.adviser.worth_asking(garden, here.now())
        nothing = not garden.of("plant") and not garden.of("spot")
        return render_template(
            "talk.html",
            one=shown,
            fresh=fresh,
            worth=worth,
            say=say,
            fault=fault,
            nothing=nothing,
            **_now(here, garden),
        )


def _now(here: Site, garden: Garden) -> dict[str, Any]:
    """Return what every page with a form to send needs: ids made here, and the time that it was made at."""
    local = here.now().astimezone(garden.zone())
    return {"new_id": new_id, "opened_at": local.strftime("%Y-%m-%dT%H:%M"), "as_at": f"{local:%H:%M}"}


@pages.get("/talk")
def earlier() -> str:
    """List the exchanges, the last first, a page at a time."""
    text = request.args.get("before", "")
    place = int(text) if text.isdecimal() and len(text) < 16 else None
    with site().open() as garden:
        found = outlines_before_place(garden, place, A_PAGE + 1)
        speech = site().speech(garden)
        told = [
            {
                "id": one.id,
                "words": one.text,
                "at": said_when(one, speech, garden),
                "short": in_short(one),
            }
            for one in found[:A_PAGE]
        ]
    more = found[A_PAGE - 1].place if len(found) > A_PAGE else 0
    return render_template("earlier.html", told=told, more=more, first=place is None)


@pages.get("/talk/<message_id>")
def show(message_id: str) -> Response:
    """Show one exchange; ``part`` asks for it without the page around it."""
    with site().open() as garden:
        return _shown(site(), garden, message(garden, message_id))


@pages.post("/talk")
def say() -> AnyResponse | tuple[str, int]:
    """Take a message and lead to its answer. The id that its form carries makes it count once."""
    here, text = site(), _words(request.form.get("text", ""))
    sent: dict[str, Any] = {"text": text, "id": request.form.get("id") or new_id(), **_sent_at()}
    try:
        sent["id"] = _own_id(here, sent["id"], text)
        _still_open(here, request.form.get("answers", ""), sent["id"])
        reply = here.adviser.message(sent, here.now(), here.garden_path())
    except BadInput as error:
        if _wants_part():
            raise
        return _page(here, say=text, fault=f"{error.found.capitalize()}. {error.do}."), error.status
    return _lead_to(here, sent["id"], reply)


@pages.post("/talk/<message_id>/undo")
def undo(message_id: str) -> AnyResponse:
    """Take back what one message recorded."""
    here, own = site(), request.form.get("id") or new_id()
    with here.open() as garden:
        target = message(garden, message_id)
        speech, when = here.speech(garden), said_when(target, here.speech(garden), garden)

    def answer(garden: Garden, own: str, text: str, at: datetime) -> dict[str, Any]:
        return undone_of(garden, target, own, at, speech)

    # cut short, it is taken up again as words: these must tell nothing of their own
    sent = {"text": f"Take back what I said on {when}", "id": own, **_sent_at()}
    here.adviser.once(sent, here.now(), answer, here.garden_path())
    return _lead_to(here, own)


@pages.post("/talk/<message_id>/reading")
def reading(message_id: str) -> AnyResponse:
    """Record what an answer asked for; what cannot be is shown by its field, as it was typed."""
    here, form = site(), request.form.to_dict()
    own, now = form.get("id") or new_id(), here.now()
    with here.open() as garden:
        target = message(garden, message_id)
        lacking = (target.reply or {}).get("lacking", [])
        place = int(form["place"]) if form.get("place", "").isdecimal() else -1
        if not 0 <= place < len(lacking):
            raise NotFound("reading the form", "that answer asks for no such reading", "Open the answer again")
        try:
            asked = Asked(here, garden, place, lacking[place])
            filled = asked.rows(at_sending(form, garden, _sent_or(now)))
            rows = rows_filled(garden, here.adviser.lore, asked.kind, filled, now)
        except BadFields as error:
            again = exchange(here, garden, target, typed=form, error=error, at_fault=place)
            return _render(here, garden, again, error.status)
        speech = here.speech(garden)
        words = told_in_words(garden, rows, speech) or f"{asked.kind.replace('_', ' ')}, told again"
        own = _id_of(own, filled, asked.adviser.base.kinds[asked.kind].holds_on)

    def answer(garden: Garden, own: str, text: str, at: datetime) -> dict[str, Any]:
        made = filled_reply(garden, here.adviser.lore, asked.kind, filled, own, at, speech)
        return of_reading(made, target.id)

    here.adviser.once({"text": words, "id": own, **_sent_at()}, now, answer, here.garden_path())
    return _lead_to(here, own)


# ---- what the pages share


def _words(text: str) -> str:
    return text.replace("\r\n", "\n").strip()


def _own_id(here: Site, sent_id: str, text: str) -> str:
    """Return the id of a message: another one where a page gone back to sends other words under an id that is used."""
    with here.open() as garden:
        try:
            kept = message(garden, sent_id)
        except NotFound:
            return sent_id
    return sent_id if kept.text == text else new_id()


def _id_of(form_id: str, filled: Sequence[Mapping[str, str]], dated_by: str) -> str:
    """Return the id of what a form tells: the same for the same values sent twice, another for others."""
    told = repr([sorted((name, value) for name, value in row.items() if name != dated_by) for row in filled])
    return f"{form_id[:48]}-{sha256(told.encode()).hexdigest()[:12]}"


def _still_open(here: Site, answers: str, own: str) -> None:
    """Raise BadInput where a choice is made among what was put back before the last message: it would be misread."""
    if not answers:
        return
    with here.open() as garden:
        last = latest_message(garden)
    if last and last.id not in (answers, own):
        do = "Send your first words again, then choose"
        raise BadInput("choosing", "something else was said since that was asked", do)


def _sent_at() -> dict[str, str]:
    return {"sent_at": request.form["sent_at"]} if request.form.get("sent_at") else {}


def _sent_or(now: datetime) -> datetime:
    """Return when a form was sent, by the phone's clock where that may be right, else when it came in."""
    try:
        sent = datetime.fromisoformat(request.form.get("sent_at", ""))
    except ValueError:
        return now
    return sent if sent.tzinfo and abs(sent - now) <= timedelta(days=30) else now.astimezone(UTC)


def _wants_part() -> bool:
    return bool(request.values.get("part"))


def _lead_to(here: Site, message_id: str, reply: object = None) -> AnyResponse:
    """Lead to an exchange, or where a script asks for it show it at once: one way there and back is enough.

    ``reply`` is the message's, where it is at hand.
    """
    if not _wants_part():
        return redirect(url_for("talk.show", message_id=message_id), 303)
    with here.open() as garden:
        return _shown(here, garden, message(garden, message_id).knowing(reply))


def _shown(here: Site, garden: Garden, kept: Message) -> Response:
    return _render(here, garden, exchange(here, garden, kept), 200)


def _render(here: Site, garden: Garden, one: Exchange, status: int) -> Response:
    name = "exchange.html" if _wants_part() else "one_exchange.html"
    more: Mapping[str, Any] = _now(here, garden)
    response = Response(render_template(name, one=one, **more), status, mimetype="text/html")
    response.headers["X-Exchange"] = one.id
    return response
