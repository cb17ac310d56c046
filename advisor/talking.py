"""The reply to one message: a choice made, something taken back or put right, things told, questions asked.

What is told is recorded before a question in the same message is answered, so that the answer rests on it.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import cached_property
from typing import Any, Protocol

from advisor.answers import Answer
from advisor.errors import AdvisorError
from advisor.language.names import tokens
from advisor.language.render import Speech, listed
from advisor.language.reply import answer_reply
from advisor.language.said.corrected import changed_values, read_correction
from advisor.language.said.drafts import Draft, Heard
from advisor.language.said.hear import hear
from advisor.language.said.pieces import LONGEST
from advisor.language.said.replies import (
    asked_back,
    declined_reply,
    joined,
    noted_reply,
    recorded_reply,
    sentence_reply,
    undone_reply,
)
from advisor.language.said.said_back import all_said_back
from advisor.language.said.subjects import find_subjects
from advisor.language.said.units import Ears
from advisor.language.unclear import ask_back
from advisor.language.understand import Understood, Words, answering, chosen, understand
from advisor.reasoning.derive.scene import Records
from advisor.records.messages import Message, message_before
from advisor.records.questions import QuestionKinds
from advisor.records.species import Lore
from advisor.records.stage_words import StageWords
from advisor.records.store import Garden, Said
from advisor.records.talk_words import TalkWords
from advisor.supposing import Supposed, changed, in_lines, suppose
from advisor.telling import (
    drafts_from,
    faults_of,
    record,
    records_about,
    spoken_before,
    take_back,
    told_before,
    yard_of,
)

MOST_SHOWN = 12
CHOICE_HOURS = 12
"""A choice put back is answered within this time; "2" next week is not about it."""
Row = tuple[str, int]


AGAIN = re.compile(r"(?:and|also)\b.*?(?:too|as well|also)?\s*[?.!]*|.*\b(?:too|as well)\s*[?.!]*", re.IGNORECASE)


class Answerer(Protocol):
    """What a talk needs of the adviser."""

    questions: QuestionKinds
    lore: Lore
    talk_words: TalkWords
    stage_words: StageWords

    def words(self, garden: Garden, today: date) -> Words: ...
    def speech(self, garden: Garden, today: date) -> Speech: ...
    def answer(self, records: Records, meant: Understood, today: date) -> Answer: ...
    def asleep_first(self, garden: Garden, meant: Understood, today: date) -> Understood: ...


@dataclass
class Talk:
    """One message in its garden, and the talk before it."""

    adviser: Answerer
    garden: Garden
    message_id: str
    text: str
    at: datetime

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
        if last is None or last.reply is None or abs(self.at - last.received_at) > timedelta(hours=CHOICE_HOURS):
            return None
        return last

    @cached_property
    def ears(self) -> Ears:
        spoken = spoken_before(self.garden, self.message_id, self.at - timedelta(hours=CHOICE_HOURS))
        yard = yard_of(self.garden, self.adviser.lore, self.today, spoken)
        return Ears(yard, self.adviser.talk_words, self.adviser.stage_words, self.now, not yard.us)

    def reply(self) -> dict[str, Any]:
        """Return the reply, not yet kept."""
        for way in (self._choice, self._undo, self._follow_up, self._correction, self._again):
            done = way()
            if done is not None:
                return done
        return self._hear()

    # ---- a choice among what was put back

    def _choice(self) -> dict[str, Any] | None:
        if self.before is None or self.before.outcome != "asked-back":
            return None
        reply = self.before.reply or {}
        choices = reply.get("choices", [])
        choice = chosen(self.text, choices) or named_choice(self.text, choices)
        if choice is None and tokens(self.text) == ["both"] and len(choices) == 2 and "log" in choices[0]["means"]:
            drafts = [draft for one in choices for draft in drafts_from(one["means"]["log"], self.garden)]
            return self._record(drafts, self.before.text)
        if choice is None:
            return self._answering(reply) or self._completing()
        means = choice["means"]
        if "log" in means:
            drafts = drafts_from(means["log"], self.garden)
            return self._record(drafts, self.before.text)
        return self._answer(Understood(means["kind"], plant=means.get("plant", ""), species=means.get("species", "")))

    def _answering(self, reply: Mapping[str, Any]) -> dict[str, Any] | None:
        """Return the answer to a question put back that this message completes by a name."""
        kind = reply.get("question", {}).get("kind", "")
        if not kind or self.adviser.talk_words.first("follow", self.text) == "undo":
            return None
        heard = hear(self.text, self.ears)
        if heard.drafts or heard.asks or heard.declined:
            return None
        meant = answering(understand(self.text, self.words), kind, self.adviser.questions)
        return self._answer(meant) if meant else None

    def _completing(self) -> dict[str, Any] | None:
        """Return what the message before records with this one put behind it: "call it new pot", "in the shade"."""
        assert self.before is not None
        alone = hear(self.text, self.ears)
        if alone.drafts or alone.asks or alone.declined or alone.noted or self._says("undo"):
            return None
        both = hear(f"{self.before.text.rstrip(' .!,')}, {self.text}", self.ears)
        if both.drafts and not both.open and not both.noted:
            known = {(one["kind"], one["id"]) for one in (self.before.reply or {}).get("recorded", [])}
            return self._record(both.drafts, f"{self.before.text} {self.text}") if not known else None
        return None

    def _again(self) -> dict[str, Any] | None:
        """Return the last thing told or asked once more, of another plant: "and the other pear too"."""
        found = AGAIN.fullmatch(self.text.strip())
        if found is None or self.before is None or self.before.reply is None:
            return None
        mentions = find_subjects(self.text, self.ears.yard).mentions
        if len(mentions) != 1 or not mentions[0].sure or mentions[0].kind != "plant":
            return None
        asked = self.before.reply.get("question", {})
        if self.before.outcome == "answered" and asked.get("plant"):
            return self._answer(Understood(asked["kind"], plant=mentions[0].names[0]))
        last = told_before(self.garden, self.message_id)
        if last is None or last[0].id != self.before.id:
            return None
        drafts = []
        for kind, row in last[1]:
            values = self.garden.values_of(kind, row)
            if "plant" in values:
                drafts += [Draft(kind, {**values, "plant": name}) for name in mentions[0].names]
        return self._record(drafts, self.text) if drafts else None

    # ---- taking back and putting right

    def _says(self, what: str) -> bool:
        """Return whether the message is nothing but such a word."""
        pattern = self.adviser.talk_words.pattern("follow", what)
        return bool(pattern.fullmatch(self.text.strip().strip(".!?, ").casefold()))

    def _starts(self, what: str) -> str | None:
        """Return what follows where the message starts with such a word, None where it does not."""
        text = self.text.strip()
        found = self.adviser.talk_words.pattern("follow", what).match(text)
        return text[found.end() :].strip(" ,.:;-") if found else None

    def _undo(self) -> dict[str, Any] | None:
        if not self._says("undo"):
            return None
        last = told_before(self.garden, self.message_id)
        if last is None:
            return sentence_reply("not-understood", "There is nothing told lately to take back.")
        message, rows = last
        values = [(kind, self.garden.values_of(kind, row)) for kind, row in rows]
        try:
            take_back(self.garden, message.id, self.at, self.message_id)
        except AdvisorError as error:
            return sentence_reply("asked-back", f"That cannot be taken back: {error.found}. {error.do}.")
        return undone_reply(values, self.speech)

    def _correction(self) -> dict[str, Any] | None:
        if self.before is None or not self.before.reply or not self.before.reply.get("recorded"):
            return None
        rest = self._starts("correct")
        if rest is None:
            return None
        last = told_before(self.garden, self.message_id)
        if last is None or last[0].id != self.before.id:
            return None
        changes = read_correction(rest or self.text, self.ears)
        if changes.ask:
            return sentence_reply("asked-back", changes.ask)
        if changes.empty:
            return None
        return self._put_right(last[1], changes)

    def _put_right(self, rows: Sequence[Row], changes: Any) -> dict[str, Any]:
        new: list[Draft] = []
        wrong: list[str] = []
        for kind, row in rows:
            done = changed_values(self.garden.kinds[kind], self.garden.values_of(kind, row), changes, self.ears)
            if isinstance(done, str):
                wrong.append(done)
            elif done != self.garden.values_of(kind, row):
                new.append(Draft(kind, done, row))
        if not new:
            return sentence_reply("asked-back", wrong[0] if wrong else "That is what I have already.")
        if len(new) > 1 and changes.time is None:
            return sentence_reply("asked-back", "Your last message told several things. Which one shall I put right?")
        return self._record(new, self.text, corrected=True)

    # ---- following up an answer

    def _follow_up(self) -> dict[str, Any] | None:
        said = self._starts("said")
        if said is not None:
            return self._show_records(said)
        answered = self._last_answer()
        if answered is None:
            return None
        if self._says("more"):
            return {**answered, "short": answered["reply"], "outcome": "answered", "recorded": []}
        if self._says("why"):
            return self._why(answered)
        rest = self._starts("what_if")
        if rest is not None:
            return self._what_if(answered)
        rest = self._starts("why_not")
        if rest and answered["question"].get("kind") == "where-to-plant":
            return self._why_not(answered, rest)
        return None

    def _show_records(self, text: str) -> dict[str, Any]:
        """Return the last records about what is named, said back with their own words."""
        mentions = find_subjects(text, self.ears.yard).mentions
        if not mentions:
            return sentence_reply("asked-back", "The records of which plant or spot?")
        if any(not one.sure or not one.names for one in mentions):
            names = [name for one in mentions for name in one.names]
            which = f" {', '.join(names)}?" if names else ""
            return sentence_reply("asked-back", f"Which plant or spot do you mean?{which}")
        names = [name for one in mentions for name in one.names]
        rows = records_about(self.garden, names, MOST_SHOWN)
        if not rows:
            return sentence_reply(
                "answered", f"Nothing is recorded of {listed([self.speech.name(n) for n in names])} yet."
            )
        told = all_said_back([(kind, self.garden.values_of(kind, row)) for kind, row in rows], self.speech)
        text = f"Of {listed([self.speech.name(n) for n in names])}, the last first:\n{told}"
        reply = sentence_reply("answered", text)
        asked = {"kind": "show-records", **({"plant": names[0]} if mentions[0].kind == "plant" else {"spots": names})}
        return {**reply, "question": asked, "records": [{"kind": kind, "id": row} for kind, row in rows]}

    def _last_answer(self) -> dict[str, Any] | None:
        """Return the reply that a "why" is about: the message before, or the one that it followed up."""
        if self.before is None or self.before.reply is None or self.before.outcome != "answered":
            return None
        return self.before.reply

    def _why(self, answered: Mapping[str, Any]) -> dict[str, Any]:
        lines = []
        for entry in answered.get("because", [])[:3]:
            lines.append(f"{entry['says']} {entry['how_it_works']}")
            records = [f"{one['kind'].replace('_', ' ')} {one['id']}" for one in answered.get("records", [])[:6]]
            if records and not any(line.startswith("It rests on") for line in lines):
                lines.append(f"It rests on: {', '.join(records)}.")
            if entry.get("sources"):
                lines.append(f"Source: {entry['sources'][0]}.")
        text = "\n".join(dict.fromkeys(lines)) or "No rule fired for that; it is what your records say, and no more."
        kept = {name: answered.get(name, []) for name in ("because", "records", "conclusions")}
        return {**sentence_reply("answered", text), "question": answered["question"], **kept}

    def _why_not(self, answered: Mapping[str, Any], rest: str) -> dict[str, Any] | None:
        meant = self._meant_again(answered)
        answer = self.adviser.answer(self.garden, meant, self.today)
        spots = [one.names[0] for one in self._spots_in(rest)]
        verdict = next((v for v in answer.verdicts if v.spot in spots), None)
        if verdict is None:
            known = [v.spot for v in answer.verdicts]
            return sentence_reply("asked-back", f"Which spot do you mean? I weighed {', '.join(known)}.")
        told = [self.speech.tell(point.because[0].told) for point in verdict.points]
        place = f"It came {_ordinal(verdict.place)}." if verdict.place else "It is ruled out."
        return {**sentence_reply("answered", " ".join([place, *told])), "question": answered["question"]}

    def _spots_in(self, text: str) -> list[Any]:
        return [one for one in find_subjects(text, self.ears.yard).spots if one.sure]

    def _meant_again(self, answered: Mapping[str, Any]) -> Understood:
        asked = answered["question"]
        return Understood(asked["kind"], plant=asked.get("plant", ""), species=asked.get("species", ""))

    def _what_if(self, answered: Mapping[str, Any]) -> dict[str, Any]:
        meant = self._meant_again(answered)
        supposed = suppose(self.text, self.garden, self.ears.yard, self.ears.talk, meant.plant, self.today)
        if isinstance(supposed, str):
            return sentence_reply("asked-back", supposed)
        before = self.adviser.answer(self.garden, meant, self.today)
        after = self.adviser.answer(Supposed(self.garden, supposed), meant, self.today)
        gone, come, other = changed(before, after)
        lines = [f"With {supposed.says}, nothing recorded:"]
        lines += [f"falls away: {line}" for line in in_lines(gone)]
        lines += [f"comes up: {self.speech.tell(one.because[0].told)}" for one in come]
        lines += [f"{old.claim.replace('-', ' ')}: {old.grade} becomes {new.grade}" for old, new in other]
        if len(lines) == 1:
            lines.append("nothing in the answer would change by my rules.")
        return {**sentence_reply("answered", "\n".join(lines)), "question": answered["question"]}

    # ---- telling and asking

    def _hear(self) -> dict[str, Any]:
        heard = hear(self.text, self.ears)
        if heard.declined:
            return declined_reply(heard.declined)
        parts: list[dict[str, Any]] = []
        if heard.drafts:
            parts.append(self._record(heard.drafts, self.text))
        parts += self._asked(heard)
        if heard.open:
            parts.append(asked_back(heard.open, self.text))
        if heard.noted and not parts:
            parts.append(noted_reply(heard.noted[0]))
        if not parts:
            return self._not_read(heard)
        return joined(parts)

    def _asked(self, heard: Heard) -> list[dict[str, Any]]:
        """Return the answers to a message's questions, and to stretches that ask without the form of a question."""
        found = []
        for text in heard.asks:
            found.append(self._question(text, heard.spoken_plants))
        if not heard.asks and not heard.noted:
            for text in heard.unread:
                meant = understand(text, self.words)
                if meant.question and not meant.unclear:
                    found.append(self._answer(meant))
                elif meant.question or meant.several:
                    found.append(self._ask_back(meant))
        return found

    def _question(self, text: str, spoken: Sequence[str]) -> dict[str, Any]:
        meant = understand(text, self.words)
        spoken = spoken or self.ears.yard.spoken_plants
        if meant.unclear == "plant" and not meant.found.names and len(spoken) == 1:
            meant = Understood(meant.question, plant=spoken[0])
        if meant.unclear:
            return self._ask_back(meant)
        return self._answer(meant)

    def _ask_back(self, meant: Understood) -> dict[str, Any]:
        return ask_back(self.adviser.asleep_first(self.garden, meant, self.today), self.words, self.speech)

    def _answer(self, meant: Understood) -> dict[str, Any]:
        if meant.question == "show-records":
            return self._show_records(self.text)
        return answer_reply(self.adviser.answer(self.garden, meant, self.today), self.speech)

    def _not_read(self, heard: Heard) -> dict[str, Any]:
        meant = understand(self.text[:LONGEST], self.words)
        if meant.question and not meant.unclear:
            return self._answer(meant)
        return self._ask_back(meant)

    def _record(self, drafts: Sequence[Draft], text: str, *, corrected: bool = False) -> dict[str, Any]:
        """Record drafts and say them back; where one of them cannot be, nothing is recorded and it is asked about."""
        faults = faults_of(self.garden, self.adviser.lore, drafts, self.now)
        if faults:
            return sentence_reply("asked-back", f"I cannot record that as it stands: {'; '.join(faults)}.")
        said = Said("message", self.message_id, self.at)
        rows = record(self.garden, self.adviser.lore, drafts, said, text, self.now)
        shown = [(row, draft) for row, draft in zip(rows, drafts, strict=True) if corrected or not draft.replaces]
        values = [(kind, self.garden.values_of(kind, row)) for (kind, row), _ in shown]
        return recorded_reply(rows, values, self.speech, corrected=corrected)


def named_choice(text: str, choices: Sequence[Mapping[str, Any]]) -> Mapping[str, Any] | None:
    """Return the one choice that has all the words said, the small ones left out: "the young one" for young pear."""
    said = [word for word in tokens(text) if word not in SMALL]
    fitting = [one for one in choices if said and set(said) <= set(tokens(str(one["text"])))]
    return fitting[0] if len(fitting) == 1 else None


SMALL = {"the", "1", "please", "i", "mean", "meant", "that", "it", "was", "is", "in"}


def _ordinal(place: int) -> str:
    return {1: "first", 2: "second", 3: "third"}.get(place, f"{place}th")
