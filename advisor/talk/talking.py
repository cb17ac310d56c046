"""The reply to one message: a choice made, something taken back or put right, things told, questions asked.

What is told is recorded before a question in the same message is answered, so that the answer rests on it.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from advisor.language.names import tokens
from advisor.language.said.drafts import Heard
from advisor.language.said.hear import hear
from advisor.language.said.pieces import LONGEST
from advisor.language.said.replies import (
    asked_back,
    cannot_reply,
    declined_reply,
    joined,
    noted_reply,
    sentence_reply,
)
from advisor.language.unclear import can_do
from advisor.language.understand import Understood, answering, chosen, understand
from advisor.talk.as_it_stands import as_it_stands
from advisor.talk.following import Following
from advisor.talk.telling import (
    drafts_from,
)

AND_ASKS = re.compile(
    r"\s*,?\s+and\s+(?=(?:why|where|when|what|how|which|is|are|should|can|will|does|do)\b)", re.IGNORECASE
)
"""Where a second question begins."""


WHICH_STAGE = re.compile(r"Which stage do you mean by '(.+?)'\?")
"""Words of the message before that this one says in other words."""
FEWEST = 3
"""Words from which a stretch that was not read is named: fewer are a greeting or a sigh."""


class Talking(Following):
    """A message being replied to."""

    def reply(self) -> dict[str, Any]:
        """Return the reply, not yet kept."""
        for way in (
            self._choice,
            self._courtesy,
            self._undo,
            self._follow_up,
            self._correction,
            self._again,
            self._stands,
        ):
            done = way()
            if done is not None:
                return done
        return self._hear()

    def _courtesy(self) -> dict[str, Any] | None:
        """Answer a call for help, or thanks."""
        if self._says("help"):
            return sentence_reply("answered", can_do(self.words, self.speech))
        return sentence_reply("noted", "Glad to help.") if self._says("thanks") else None

    def _stands(self) -> dict[str, Any] | None:
        """Answer by the records alone where something is, how old, or which plants are awake."""
        found = as_it_stands(self.text, self.adviser.scene(self.garden, self.today), self.ears.yard, self.speech)
        if found is None:
            return None
        reply = sentence_reply("answered", found.text)
        return {**reply, "question": {"kind": "show-records", **found.about}, "records": found.records}

    # ---- a choice among what was put back

    def _choice(self) -> dict[str, Any] | None:
        if self.before is None or self.before.outcome != "asked-back":
            return None
        reply = self.before.reply or {}
        choices = reply.get("choices", [])
        choice = chosen(self.text, choices) or named_choice(self.text, choices, self.ears.names)
        if choice is None and tokens(self.text) == ["both"] and len(choices) == 2 and "log" in choices[0]["means"]:
            drafts = [draft for one in choices for draft in drafts_from(one["means"]["log"], self.garden)]
            return self._record(drafts, self.before.text)
        if choice is None or "place" in choice["means"]:  # the place is told by now
            return self._answering(reply) or self._completing()
        means = choice["means"]
        if "log" in means:
            drafts = drafts_from(means["log"], self.garden)
            return self._still_open(self._record(drafts, self.before.text), reply)
        return self._answer(Understood.asked(means))

    def _still_open(self, recorded: dict[str, Any], asked: Mapping[str, Any]) -> dict[str, Any]:
        """Return a reply with what else was asked back in the same message, of which nothing is recorded."""
        then = AND_THEN.search(asked.get("reply", ""))
        if then is None:
            return recorded
        left = sentence_reply("recorded", f"Still open: {then[1]} Send that part again, so that it is recorded too.")
        return joined([recorded, left])

    def _answering(self, reply: Mapping[str, Any]) -> dict[str, Any] | None:
        """Return the answer to a question put back that this message completes by a name."""
        kind = reply.get("question", {}).get("kind", "")
        if not kind or self.adviser.talk_words.first("follow", self.text) == "undo":
            return None
        heard = hear(self.text, self.ears)
        if heard.drafts or heard.asks or heard.declined:
            return None
        spots = self._spots_in(self.text)
        if kind in self.adviser.questions and self.adviser.questions[kind].must_name == "spot" and len(spots) == 1:
            return self._answer(Understood(kind, spots=spots[0].names))
        meant = answering(understand(self.text, self.words), kind, self.adviser.questions)
        return self._answer(meant) if meant else None

    def _completing(self) -> dict[str, Any] | None:
        """Return what the message before records with this one put behind it: "call it new pot", "in the shade"."""
        assert self.before is not None
        other = NOT_THAT.fullmatch(self.text)
        if other is not None:
            told = self._mended(self.before.text)
            wrong = re.compile(rf"(?<![\d.,]){re.escape(other['old'])}(?!\d|[.,]\d)")
            heard, known = hear(wrong.sub(other["new"], told, count=1), self.ears), hear(told, self.ears).drafts
            drafts = [draft for draft in heard.drafts if draft not in known]  # what was recorded then stays one row
            if drafts and not heard.open:
                return self._record(drafts, f"{self.before.text} {self.typed}")
        alone = hear(self.text, self.ears)
        if alone.drafts or alone.asks or alone.declined or alone.noted or self._says("undo"):
            return None
        first, reply = self._mended(self.before.text).rstrip(" .!,"), self.before.reply or {}
        if reply.get("recorded"):
            return None
        asked = WHICH_STAGE.search(reply.get("reply", ""))
        ways = [re.sub(re.escape(asked[1]), self.text, first, flags=re.IGNORECASE)] if asked else []
        for text in (*ways, f"{first}, {self.text}"):
            both = hear(text, self.ears)
            if both.drafts and not both.open and not both.noted:
                return self._record(both.drafts, f"{self.before.text} {self.typed}")
        return None

    # ---- telling and asking

    def _hear(self) -> dict[str, Any]:
        heard = hear(self.text, self.ears)
        if heard.declined:
            return declined_reply(heard.declined)
        parts: list[dict[str, Any]] = []
        if heard.drafts:
            parts.append(self._record(heard.drafts, self.typed))
            parts += [sentence_reply("recorded", said) for said in heard.beside if parts[0]["recorded"]]
        parts += self._asked(heard)
        parts += [sentence_reply("recorded", left) for left in self._not_read_of(heard) if len(parts) == 1]
        if heard.open:
            parts.append(asked_back(heard.open, self.text))
        if heard.noted and not parts:
            beyond = self.adviser.talk_words.first("cannot", self.text) if heard.noted[0] == "intends" else ""
            parts.append(cannot_reply(beyond) if beyond in ("humidity", "rain") else noted_reply(heard.noted[0]))
        if not parts:
            return self._not_read(heard)
        return joined(parts)

    def _not_read_of(self, heard: Heard) -> list[str]:
        """Return what of a recorded message could not be read and may have told something, as one sentence."""
        if not heard.drafts or heard.asks:
            return []
        talk = self.adviser.talk_words
        left = [
            text
            for text in heard.unread
            if len(text.split()) >= FEWEST and (talk.has("known", "parts", text) or any(c.isdigit() for c in text))
        ]
        said = " and ".join(f'"{text.strip()}"' for text in left[:2])
        return [f"I could not read {said}, so nothing of that is recorded."] if left else []

    def _asked(self, heard: Heard) -> list[dict[str, Any]]:
        """Return the answers to a message's questions, and to stretches that ask without the form of a question."""
        found = []
        asks = list(heard.asks)
        if len(asks) == 1 and len(asks[0].split()) < FEWEST and not understand(asks[0], self.words).question:
            whole = understand(self.text[:LONGEST].replace(".", ","), self.words)
            if whole.question and not whole.unclear:
                return [self._answer(whole)]  # "the shed fig is still asleep. why?"
        if len(asks) == 1 and heard.unread and not heard.drafts and not understand(asks[0], self.words).question:
            asks = [self.text[:LONGEST]]
        elif len(asks) == 1 and heard.unread and not heard.drafts and understand(asks[0], self.words).unclear:
            asks = [self.text[:LONGEST]]  # "north bed or south wall, which warms first?"
        elif len(asks) == 1 and heard.unread and not heard.drafts:
            part, whole = understand(asks[0], self.words), understand(self.text[:LONGEST], self.words)
            if part.question == whole.question and not part.spots and whole.spots:
                asks = [self.text[:LONGEST]]  # "porch bed vs south wall, which soil is warmer?"
        if len(asks) == 1 and heard.drafts and understand(asks[0], self.words).unclear:
            whole = understand(self.text[:LONGEST], self.words)
            asks = [self.text[:LONGEST]] if whole.question else asks  # "-4 tonight, clear. is the apricot ok"
        for text in asks:
            parts = [self._question(part, heard.spoken_plants) for part in AND_ASKS.split(text)]
            read = [part for part in parts if part["outcome"] != "not-understood"]
            found += read or parts[:1]  # "which shoot to pinch, and which to let catch up" asks one thing
        if not heard.asks and not heard.noted:
            for text in heard.unread:
                meant = understand(text, self.words)
                if meant.question and not meant.unclear:
                    found.append(self._answer(meant))
                elif meant.question or meant.several:
                    found.append(self._ask_back(meant))
        return found

    def _not_read(self, heard: Heard) -> dict[str, Any]:
        meant = understand(self.text[:LONGEST], self.words)
        if meant.question and not meant.unclear:
            return self._answer(meant)
        return self._ask_back(meant)


def named_choice(
    text: str, choices: Sequence[Mapping[str, Any]], names: Sequence[str]
) -> Mapping[str, Any] | None:  # fmt: skip
    """Return the one choice that has all the words said, the small ones left out: "the young one" for young pear.

    What is the whole name of something that was not offered picks nothing: the shed is not the shed bed.
    """
    said = [word for word in tokens(text) if word not in SMALL]
    offered = {tuple(tokens(str(one["text"]))) for one in choices}
    if any(tokens(name) == said and tuple(said) not in offered for name in names):
        return None
    fitting = [one for one in choices if said and set(said) <= set(tokens(str(one["text"])))]
    return fitting[0] if len(fitting) == 1 else None


NOT_THAT = re.compile(
    r"\W*(?:no,?\s+)?(?:it(?:'s| was| is)\s+)?(?P<new>-?\d[\d.,½¼¾]*)\s*,?\s*not\s+(?P<old>-?\d[\d.,½¼¾]*)\W*",
    re.IGNORECASE,
)
"""A figure put right in what was asked back: "no, 41 not 14"."""
AND_THEN = re.compile(r"^And then: (.+)$", re.MULTILINE)
SMALL = {"the", "1", "please", "i", "mean", "meant", "that", "it", "was", "is", "in"}
