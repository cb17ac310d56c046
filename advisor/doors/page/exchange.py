"""One exchange as a page shows it: the words, the answer, why, what is asked for, and what can be done about it."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from markupsafe import Markup

from advisor.doors.page.frame import Site
from advisor.doors.page.readings import Asked, ReadingForm
from advisor.doors.page.why import why_of
from advisor.errors import BadFields
from advisor.language.paragraphs import Paragraph, paragraphs
from advisor.language.render import Speech
from advisor.records.messages import Message, Outline, beside, message
from advisor.records.store import Garden
from advisor.talk.tapping import in_use_of


@dataclass(frozen=True)
class Exchange:
    """One message and its answer. ``again`` is what to ask for a new answer, "" where asking again is of no use.

    ``why`` are its reasons as HTML, "" where there are none.
    ``undo`` says whether something of it can be taken back, ``gone`` whether all that it recorded is out of use.
    ``choices`` are what can be picked, while nothing was said since.
    """

    id: str
    words: str
    at: str
    outcome: str
    paragraphs: list[Paragraph]
    why: Markup = field(default_factory=Markup)
    forms: list[ReadingForm] = field(default_factory=list)
    choices: tuple[str, ...] = ()
    undo: bool = False
    gone: bool = False
    again: str = ""
    again_why: str = ""
    waiting: bool = False
    earlier: str = ""
    later: str = ""


def new_id() -> str:
    """Return an id for a message that is to be sent, so that it counts once however often it arrives."""
    return uuid.uuid4().hex


def exchange(
    site: Site,
    garden: Garden,
    kept: Message,
    *,
    typed: Mapping[str, str] | None = None,
    error: BadFields | None = None,
    at_fault: int = -1,
) -> Exchange:
    """Return a kept message as an exchange. ``typed`` and ``error`` are of the form at ``at_fault``, if of any."""
    speech = site.speech(garden)
    reply = kept.reply or {}
    earlier, later = beside(garden, kept.id)
    rows = in_use_of(garden, kept)
    again, why = _again(site, garden, kept)
    forms = []
    for place, entry in enumerate(reply.get("lacking", [])):
        mine = place == at_fault
        form = Asked(site, garden, place, entry).form(typed if mine else None, error if mine else None)
        forms += [form] if form else []
    choices = [] if later else reply.get("choices", [])
    return Exchange(
        kept.id,
        kept.text,
        said_when(kept, speech, garden),
        reply.get("outcome", "waiting"),
        _without_choices(paragraphs(str(reply.get("reply", ""))), bool(choices)),
        why_of(garden, kept, speech),
        forms,
        tuple(str(one["text"]) for one in choices),
        undo=bool(rows),
        gone=bool(reply.get("recorded")) and not rows,
        again=again,
        again_why=why,
        waiting=kept.reply is None,
        earlier=earlier,
        later=later,
    )


def _without_choices(found: list[Paragraph], shown: bool) -> list[Paragraph]:
    """Return the paragraphs without the numbered ways, where these stand below as buttons."""
    return [one for one in found if not (shown and one.kind == "steps")]


def said_when(kept: Message | Outline, speech: Speech, garden: Garden) -> str:
    """Return when a message came in, as one says it there."""
    local = kept.received_at.astimezone(garden.zone())
    return f"{speech.day(local.date())} at {local:%H:%M}"


def _again(site: Site, garden: Garden, kept: Message) -> tuple[str, str]:
    """Return the question to ask anew, and why: of an answer its own, of a reading the one that asked for it."""
    reply = kept.reply or {}
    if reply.get("asked_by"):
        first = message(garden, reply["asked_by"])
        return _question_of(site, garden, first), "You were asked for this by an answer; ask again and see it change."
    if reply.get("outcome") == "answered" and not reply.get("recorded"):
        return _question_of(site, garden, kept), ""
    return "", ""


def _question_of(site: Site, garden: Garden, kept: Message) -> str:
    """Return a message's question so that it can be asked alone: its words, or with the name that "it" stood for."""
    reply = kept.reply or {}
    question = site.adviser.questions.get(reply.get("question", {}).get("kind", ""))
    if question is None or "state" not in reply:
        return ""
    plant = str(reply["question"].get("plant", ""))
    if not reply.get("recorded") and plant.casefold() in kept.text.casefold():
        return kept.text
    return question.suggest.format(plant=site.speech(garden).name(plant)) if plant else ""


def in_short(kept: Outline) -> str:
    """Return the start of an answer, for a list of many."""
    short = kept.short or "No answer yet."
    return short if len(short) <= 140 else f"{short[:140].rsplit(' ', 1)[0]} ..."


def of_reading(reply: dict[str, Any], asked_by: str) -> dict[str, Any]:
    """Return a reply that records what an answer asked for, with which answer that was."""
    return {**reply, "asked_by": asked_by}
