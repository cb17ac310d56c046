"""One message in its garden and the talk before it: what every way of replying needs."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import cached_property
from typing import Any, Protocol

from advisor.answers import Answer
from advisor.language.render import Speech, listed
from advisor.language.reply import answer_reply
from advisor.language.said.drafts import Draft
from advisor.language.said.replies import (
    cannot_reply,
    recorded_reply,
    sentence_reply,
)
from advisor.language.said.said_back import all_said_back
from advisor.language.said.spelling import Spelling
from advisor.language.said.subjects import find_subjects
from advisor.language.said.unit import Ears
from advisor.language.text_message import shortened
from advisor.language.unclear import ask_back, can_do
from advisor.language.understand import Understood, Words, understand
from advisor.language.when import find_times
from advisor.reasoning.derive.scene import Records, Scene
from advisor.records.messages import Message, Sent, message_before
from advisor.records.questions import Deed, QuestionKinds
from advisor.records.species import Lore
from advisor.records.stage_words import StageWords
from advisor.records.store import Garden, Said
from advisor.records.talk_words import TalkWords
from advisor.talk.advising import keep_advice
from advisor.talk.leading import (
    COMPARES,
    FROST_TONIGHT,
    NIGHT,
    POTS,
    deed_in,
    known_of_spot,
    of_another_night,
    of_nights,
    only_deed,
    side_asked,
)
from advisor.talk.telling import (
    faults_of,
    record,
    records_about,
    spoken_of,
    told_on,
    yard_of,
)

MOST_SHOWN = 12
SHOWN = {"kind": "show-records"}
YESTERDAY = re.compile(r"\byesterday(?:'?s)?\b", re.IGNORECASE)
DAY_TOLD = re.compile(r"\b(?:today|yesterday)(?:'?s)?\b", re.IGNORECASE)
WHAT_IF_OF_WHAT = (
    "Of which question? A what-if is tried on an answer: ask, for instance, why a tree is late, or where a new one "
    "would go, and then say it again."
)
CHOICE_HOURS = 12
"""A choice put back is answered within this time; "2" next week is not about it."""
Row = tuple[str, int]


class Answerer(Protocol):
    """What a talk needs of the adviser."""

    questions: QuestionKinds
    lore: Lore
    talk_words: TalkWords
    stage_words: StageWords

    @property
    def spelling(self) -> Spelling: ...
    def scene(self, records: Records, today: date) -> Scene: ...
    def words(self, garden: Garden, today: date) -> Words: ...
    def speech(self, garden: Garden, today: date) -> Speech: ...
    def answer(self, records: Records, meant: Understood, today: date) -> Answer: ...
    def told(self, garden: Garden, meant: Understood, today: date) -> tuple[Answer, Sent]: ...
    def asleep_first(self, garden: Garden, meant: Understood, today: date) -> Understood: ...


@dataclass
class Talk:
    """One message in its garden, and the talk before it."""

    adviser: Answerer
    garden: Garden
    message_id: str
    typed: str
    at: datetime

    @cached_property
    def text(self) -> str:
        """The message as it was meant to be typed; what was typed is what is kept."""
        return self._mended(self.typed)

    def _mended(self, text: str) -> str:
        return self.adviser.spelling.mended(text, self.adviser.talk_words, self.ears.names)

    @cached_property
    def now(self) -> datetime:
        return self.at.astimezone(self.garden.zone())

    @cached_property
    def today(self) -> date:
        return self.now.date()

    @cached_property
    def words(self) -> Words:
        return self.adviser.words(self.garden, self.today)

    @cached_property
    def speech(self) -> Speech:
        return self.adviser.speech(self.garden, self.today)

    @cached_property
    def before(self) -> Message | None:
        """The message before this one, if it is recent enough to be followed up."""
        last = message_before(self.garden, self.message_id)
        if last is None or last.answer is None or abs(self.at - last.received_at) > timedelta(hours=CHOICE_HOURS):
            return None
        return last

    @cached_property
    def ears(self) -> Ears:
        spoken = spoken_of(self.garden, self.message_id, self.at - timedelta(hours=CHOICE_HOURS))
        scene = self.adviser.scene(self.garden, self.today)
        yard = yard_of(self.garden, self.adviser.lore, self.today, spoken, scene)
        return Ears(yard, self.adviser.talk_words, self.adviser.stage_words, self.now, not yard.us)

    def _says(self, what: str) -> bool:
        """Return whether the message is nothing but such a word."""
        pattern = self.adviser.talk_words.pattern("follow", what)
        return bool(pattern.fullmatch(self.text.strip().strip(".!?, ").casefold()))

    def _starts(self, what: str) -> str | None:
        """Return what follows where the message starts with such a word, None where it does not."""
        text = self.text.strip()
        found = self.adviser.talk_words.pattern("follow", what).match(text)
        return text[found.end() :].strip(" ,.:;-") if found else None

    def _show_records(self, text: str) -> dict[str, Any]:
        """Return the last records about what is named, said back with their own words."""
        mentions = find_subjects(text, self.ears.yard).mentions
        if not mentions:
            day = self.today - timedelta(days=1) if YESTERDAY.search(text) else self.today
            of_day = DAY_TOLD.search(text) is not None
            return (
                self._records_told(day)
                if of_day
                else sentence_reply("asked-back", "The records of which plant or spot?")
            )
        if any(not one.sure or not one.names for one in mentions):
            names = [name for one in mentions for name in one.names]
            which = f" {', '.join(names)}?" if names else ""
            return sentence_reply("asked-back", f"Which plant or spot do you mean?{which}")
        names = [name for one in mentions for name in one.names]
        deed = self._deed_asked(text)
        rows = records_about(self.garden, names, MOST_SHOWN, deed)
        asked = {"kind": "show-records", **({"plant": names[0]} if mentions[0].kind == "plant" else {"spots": names})}
        if not rows:
            them = listed([self.speech.name(n) for n in names])
            none = f"Not that I was told: nothing is recorded of {them} being {deed}."
            none = none if deed else f"Nothing is recorded of {them} yet."
            return {**sentence_reply("answered", none), "question": asked}
        told = all_said_back([(kind, self.garden.values_of(kind, row)) for kind, row in rows], self.speech)
        text = f"Of {listed([self.speech.name(n) for n in names])}, the last first:\n{told}"
        reply = sentence_reply("answered", text)
        return {**reply, "question": asked, "records": [{"kind": kind, "id": row} for kind, row in rows]}

    def _records_told(self, day: date) -> dict[str, Any]:
        """Return what was told by message on a day and is still in use, the last first."""
        rows = told_on(self.garden, self.message_id, day, MOST_SHOWN)
        when = "today" if day == self.today else "yesterday"
        if not rows:
            return {**sentence_reply("answered", f"You told me nothing by message {when}."), "question": SHOWN}
        said = all_said_back([(kind, self.garden.values_of(kind, row)) for kind, row in rows], self.speech)
        reply = sentence_reply("answered", f"Told {when}, the last first:\n{said}")
        return {**reply, "question": SHOWN, "records": [{"kind": kind, "id": row} for kind, row in rows]}

    def _deed_asked(self, text: str) -> str:
        """Return the deed that a question asks about: "when did I last prune the pear" asks of what was pruned."""
        asked = self.adviser.talk_words.pattern("follow", "deed").match(text.strip())
        return self.adviser.talk_words.first("asked", text) if asked else ""

    def _question(self, text: str, spoken: Sequence[str]) -> dict[str, Any]:
        meant = understand(text, self.words)
        spoken = spoken or self.ears.yard.spoken_plants
        if meant.unclear == "plant" and not meant.found.names and len(spoken) == 1:
            meant = Understood(meant.question, plant=spoken[0])
        if meant.unclear:
            return self._ask_back(meant)
        return self._answer(meant)

    def _ask_back(self, meant: Understood) -> dict[str, Any]:
        if meant.unclear == "question" and not meant.choices and not meant.several:
            beyond = self.adviser.talk_words.first("cannot", self.text)
            if beyond:
                mine = [*meant.found.names, *(plant.name for plant in self.ears.yard.plants)]
                return cannot_reply(beyond, *(self.speech.name(name) for name in mine[:1]))
            if self._starts("what_if"):
                return sentence_reply("asked-back", WHAT_IF_OF_WHAT)
            if self.adviser.talk_words.has("follow", "help", self.text):
                return sentence_reply("answered", can_do(self.words, self.speech))
        named = [name for one in find_subjects(self.text, self.ears.yard).mentions if one.sure for name in one.names]
        meant = self.adviser.asleep_first(self.garden, meant, self.today)
        return ask_back(meant, self.words, self.speech, self.text, named)

    def _answer(self, meant: Understood) -> dict[str, Any]:
        if meant.question == "show-records":
            return self._show_records(self.text)
        answer, sent = self.adviser.told(self.garden, meant, self.today)
        reply: dict[str, Any] = sent
        deed = deed_in(self.text, self.adviser.questions[meant.question])
        lead = ""
        if deed is not None and not meant.plant:
            own = self._only_deed(answer, deed)
            lead = self._not_due(meant, own, deed)
            if own is not answer:
                lead = f"Only {deed.said} is told here; ask what next for the rest."
                answer, reply = own, answer_reply(own, self.speech)
        elif deed is not None:
            lead = self._not_due(meant, answer, deed)
        elif meant.question == COMPARES:
            scene = self.adviser.scene(self.garden, self.today)
            lead = known_of_spot(scene, meant.spots, self.text, self.speech)
            own = answer if lead else side_asked(answer, self.text)
            if lead and NIGHT.search(self.text):
                own, lead = of_nights(answer, lead), ""
            if own is not answer:
                answer, reply = own, answer_reply(own, self.speech)
        elif meant.question == FROST_TONIGHT:
            lead = of_another_night(find_times(self.text, self.now, self.ears.day_first), self.today)
        scene = self.adviser.scene(self.garden, self.today)
        keep_advice(self.garden, scene, answer, Said("message", self.message_id, self.at))
        if not lead:
            return reply
        short = shortened(f"{lead} {reply['short']}") if reply is sent and deed else reply["short"]
        return {**reply, "reply": f"{lead}\n{reply['reply']}", "short": short}

    def _only_deed(self, answer: Answer, deed: Deed) -> Answer:
        """Return an answer with the asked deed's tasks alone, where there are any: of pots if pots are meant."""
        pots = {plant.name for plant in self.ears.yard.plants if plant.in_pot} if POTS.search(self.text) else set()
        return only_deed(answer, deed, pots)

    def _not_due(self, meant: Understood, answer: Answer, deed: Deed) -> str:
        """Say that nothing calls for the deed that a question names, where no task of the answer is that deed."""
        tasks = {one.claim for one in answer.conclusions if one.kind == "task"}
        if tasks & set(deed.tasks):
            return ""
        of = f" of {self.speech.name(meant.plant)}" if meant.plant else ""
        return f"Nothing in your records{of} calls for {deed.said} now."

    def _record(self, drafts: Sequence[Draft], text: str, *, corrected: bool = False) -> dict[str, Any]:
        """Record drafts and say them back; where one of them cannot be, nothing is recorded and it is asked about."""
        faults = faults_of(self.garden, self.adviser.lore, drafts, self.now)
        if faults:
            return sentence_reply("asked-back", f"I cannot record that as it stands: {'; '.join(faults)}.")
        said = Said("message", self.message_id, self.at)
        rows = record(self.garden, self.adviser.lore, drafts, said, text, self.now)
        shown = [
            (row, draft)
            for row, draft in zip(rows, drafts, strict=True)
            if corrected or not draft.replaces or draft.kind == "spot"
        ]
        again = {row: "spot_again" for row, draft in shown if draft.kind == "spot" and draft.replaces}
        values = [(again.get((kind, row), kind), self.garden.values_of(kind, row)) for (kind, row), _ in shown]
        reply = recorded_reply(rows, values, self.speech, corrected=corrected)
        laid = any(d.kind == "cover" and not d.replaces and d.values.get("material") != "bare" for d in drafts)
        gone = [d.replaces for d in drafts if d.kind == "cover" and d.replaces]
        off = [str(self.garden.values_of("cover", row).get("material", "a cover")) for row in gone]
        if laid and off and not corrected:
            lay = listed(list(dict.fromkeys(off)))
            reply = {**reply, "reply": f"{reply['reply']}\nWhat lay there before, {lay}, counts as off since then."}
        return reply
