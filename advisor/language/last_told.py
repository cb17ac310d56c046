"""What was put into words last, kept for the next reply: of a large garden most of it is the same again.

A sentence stays the same while it is of the same facts and the grower is spoken to in the same way; so does a reason.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, fields
from typing import Any

from advisor.answers import Because, History, Told
from advisor.language.render import Speech
from advisor.written import Written

Sentences = dict[int, tuple[Told, str]]
Reasons = dict[int, tuple[Because, History | None, Written]]


@dataclass
class LastTold:
    """The sentences and reasons of the last reply to a question, and to whom; may be shared between threads."""

    kept: tuple[Speech | None, Sentences, Reasons] = (None, {}, {})


@dataclass(frozen=True)
class Listening(Speech):
    """A speech that notes what it tells: ``heard`` has the identities of what was put into sentences.

    ``last`` is what was told last; what of it is told again is not made again.
    """

    last: tuple[Sentences, Reasons] = ({}, {})
    heard: Sentences = field(default_factory=dict)
    reasons: Reasons = field(default_factory=dict)

    @classmethod
    def to(cls, speech: Speech, last: LastTold | None = None) -> Listening:
        """Return the same speech, listened to; what is told from here on is kept in ``last``."""
        whose, sentences, reasons = last.kept if last else (None, {}, {})
        same = {one.name: getattr(speech, one.name) for one in fields(Speech)}
        made = cls(**same, last=(sentences, reasons)) if whose is speech else cls(**same)
        if last is not None:
            last.kept = speech, made.heard, made.reasons
        return made

    def tell(self, told: Told) -> str:
        key = id(told)  # what is told is kept beside, so that no other has its id
        found = self.heard.get(key) or self.last[0].get(key) or (told, super().tell(told))
        self.heard[key] = found
        return found[1]

    def reason(self, entry: Because, history: History | None, make: Callable[[], dict[str, Any]]) -> Written:
        """Return a reason as data, made unless the last reply had it with the same history. Not to be changed."""
        found = self.last[1].get(id(entry))
        if found is None or found[1] != history:
            found = entry, history, Written(make())
        self.reasons[id(entry)] = found
        return found[2]
