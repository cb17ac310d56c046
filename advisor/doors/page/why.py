"""The reasons of an answer as HTML, kept while the garden stays as it is: they are most of a page, and asked for again
with every look at it.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from dataclasses import dataclass
from hashlib import sha256

from flask import current_app
from markupsafe import Markup, escape

from advisor.language.render import Speech
from advisor.records.messages import Message
from advisor.records.store import Garden
from advisor.talk.unfolding import ConclusionLine, disputes, says_not_shown, unfold

WHOSE = "of-the-message"
"""Stands for the message's id while its reasons are kept, since the next one like it has the same: no text of a grower
stands unescaped where it is looked for."""
IN_MARKS = ('id="{}-', 'href="#{}-')
MOST_KEPT = 32
"""Reasons kept of all gardens, a few hundred kilobytes each at most, those looked at longest ago given up first."""


@dataclass(frozen=True)
class Why:
    """What the reasons are made from. ``not_shown`` says how many are not there, "" where all are."""

    id: str
    conclusions: list[ConclusionLine]
    disputes: list[tuple[str, str]]
    not_shown: str


class KeptReasons:
    """Reasons as HTML by the answer, all that is recorded in its garden, and how its grower is spoken to that day."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._kept: OrderedDict[tuple[object, ...], Markup] = OrderedDict()

    def of(self, garden: Garden, kept: Message, speech: Speech) -> Markup:
        """Return the reasons of an answer, with the places of its message in them."""
        # an id has no comma: what follows the first is the answer without it
        told = sha256((kept.answer or "").partition(",")[2].encode()).digest()
        key = (garden.identity, garden.state(), told, speech.today, speech.units)
        with self._lock:
            found = self._kept.get(key)
        if found is None:
            found = _made(garden, kept, speech)
            if garden.identity is not None:
                with self._lock:
                    self._kept[key] = found
                    while len(self._kept) > MOST_KEPT:
                        self._kept.popitem(last=False)
        else:
            with self._lock:
                if key in self._kept:
                    self._kept.move_to_end(key)
        text = str(found)
        for mark in IN_MARKS:
            text = text.replace(mark.format(WHOSE), mark.format(escape(kept.id)))
        return Markup(text)


KEPT = KeptReasons()


def why_of(garden: Garden, kept: Message, speech: Speech) -> Markup:
    """Return the reasons of a kept message's answer as HTML; "" where it has none."""
    if not (kept.reply or {}).get("conclusions"):
        return Markup()
    return KEPT.of(garden, kept, speech)


def _made(garden: Garden, kept: Message, speech: Speech) -> Markup:
    reply = kept.reply or {}
    why = Why(WHOSE, unfold(reply, garden, speech), disputes(reply), says_not_shown(reply))
    module = current_app.jinja_env.get_template("reasons.html").module
    made: Markup = module.reasons(why)  # type: ignore[attr-defined]  # a macro of the template
    return made
