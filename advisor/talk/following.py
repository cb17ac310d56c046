"""What follows up the talk: taken back, put right, said again of another plant, asked why, why not and what if."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from advisor.answers import Answer, Conclusion, Verdict
from advisor.errors import AdvisorError
from advisor.language.names import find_species, tokens
from advisor.language.replay_writer import (
    beside,
    changes,
    judged_wall,
    order_line,
    replayed,
    rests_on_replays,
    told_otherwise,
)
from advisor.language.said.corrected import Changes, changed_values, has_figure, read_correction
from advisor.language.said.drafts import Draft
from advisor.language.said.replies import (
    sentence_reply,
    undone_reply,
)
from advisor.language.said.subjects import find_subjects
from advisor.language.understand import Understood
from advisor.talk.base import Row, Talk
from advisor.talk.supposing import Supposed, changed, in_lines, suppose
from advisor.talk.supposing_sites import WHAT_CAN_BE_TRIED, suppose_site
from advisor.talk.telling import (
    take_back,
    told_before,
)

AGAIN = re.compile(r"(?:and|also)\b.*?(?:too|as well|also)?\s*[?.!]*|.*\b(?:too|as well)\s*[?.!]*", re.IGNORECASE)


NOT_THIS_BUT = re.compile(r"(?:no[,.]?\s+)?not\s+[^,;]+[,;]\s*(?:but\s+)?(.+)", re.IGNORECASE)
WHY_LATE = "why-late"
IS_IT = re.compile(r"\s*(?:so |and |but |or )*is it (?:because of |down to )?(?:the|its|my)\b", re.IGNORECASE)
"""Asked after why a plant is late: "is it the mulch or the wall"; else it asks of soils."""
WHAT_ABOUT = re.compile(r"\s*(?:and\s+|so\s+)?(?:what|how) about\b", re.IGNORECASE)
NOTHING_OF = re.compile(
    r"no\s+(?!(?:it|that|the|on|at|i|make|sorry|wait|not|was|\d|-|yesterday|today|last|this|mon|tue|wed|thu|fri|sat|sun))",
    re.IGNORECASE,
)
"""A "no" that denies what follows, and puts nothing right: "no frost damage on the peach"."""
ONCE_MORE = frozenset(("and", "also", "too", "as", "well", "the", "my", "same", "for", "on", "of", "with", "so", "is"))

ONE_MORE = ONCE_MORE | {"a", "an", "another", "new", "one"}


class Following(Talk):
    """A message that may follow up the one before it."""

    # ---- taking back and putting right

    def _undo(self) -> dict[str, Any] | None:
        if not self._says("undo"):
            return None
        last = told_before(self.garden, self.message_id)
        if last is None:
            return sentence_reply("not-understood", "There is nothing told lately to take back.")
        message, rows = last
        values, speech = [(kind, self.garden.values_of(kind, row)) for kind, row in rows], self.speech
        try:
            take_back(self.garden, message.id, self.at, self.message_id)
        except AdvisorError as error:
            return sentence_reply("asked-back", f"That cannot be taken back: {error.found}. {error.do}.")
        return undone_reply(values, speech)

    def _correction(self) -> dict[str, Any] | None:
        rest = self._starts("correct")
        if rest is None or NOTHING_OF.match(self.text.strip()):
            return None
        if self.before is None or not self.before.reply or not self.before.reply.get("recorded"):
            return None
        denied = NOT_THIS_BUT.fullmatch(self.text.strip())
        rest = denied[1] if denied else rest
        last = told_before(self.garden, self.message_id)
        if last is None or last[0].id != self.before.id:
            return None
        changes = read_correction(rest or self.text, self.ears)
        if changes.ask:
            return sentence_reply("asked-back", changes.ask)
        if changes.empty:
            return None
        return self._put_right(last[1], changes)

    def _put_right(self, rows: Sequence[Row], changes: Changes) -> dict[str, Any]:
        new: list[Draft] = []
        wrong: list[str] = []
        for kind, row in self._meant_rows(rows, changes):
            done = changed_values(self.garden.kinds[kind], self.garden.values_of(kind, row), changes, self.ears)
            if isinstance(done, str):
                wrong.append(done)
            elif done != self.garden.values_of(kind, row):
                new.append(Draft(kind, done, row))
        if not new:
            return sentence_reply("asked-back", wrong[0] if wrong else "That is what I have already.")
        if len(new) > 1 and changes.time is None:
            return sentence_reply("asked-back", "Your last message told several things. Which one shall I put right?")
        return self._record(new, self.typed, corrected=True)

    def _meant_rows(self, rows: Sequence[Row], changes: Changes) -> Sequence[Row]:
        """Return the rows of several that a correction names: by what they are of, or by the figure that it denies."""
        if len(rows) < 2:
            return rows
        values = {(kind, row): self.garden.values_of(kind, row) for kind, row in rows}
        own = [one for one in rows if changes.mention and set(changes.mention.names) & set(values[one].values())]
        if own and (changes.figures or changes.stage or changes.sky):
            return own
        denied = [one for one in rows if has_figure(values[one], changes.denied, self.ears)]
        return denied if len(denied) == 1 else rows

    def _again(self) -> dict[str, Any] | None:
        """Return the last thing told or asked once more, of another plant: "and the other pear too"."""
        found = AGAIN.fullmatch(self.text.strip())
        if found is None or self.before is None or self.before.reply is None:
            return None
        another = self._another_kind()
        if another is not None:
            return another
        mentions = find_subjects(self.text, self.ears.yard).mentions
        if len(mentions) != 1 or not mentions[0].sure or mentions[0].kind != "plant":
            return None
        left = self.text[: mentions[0].start] + " " + self.text[mentions[0].end :]
        if not set(tokens(left)) <= ONCE_MORE:
            return None  # "and the crooked fig 4 leaves" tells something of its own
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
        return self._record(drafts, self.typed) if drafts else None

    def _another_kind(self) -> dict[str, Any] | None:
        """Return the place for another kind of tree, where one was asked for last: "and a persimmon?"."""
        reply = (self.before and self.before.reply) or {}
        asked = reply.get("question", {})
        if reply.get("outcome") != "answered" or asked.get("kind") != "where-to-plant":
            return None
        found = find_species(self.text, self.words.species)
        names = {
            word for key, every in self.words.species if key in found.names for one in every for word in tokens(one)
        }
        if not found.sure or found.via != "name" or not set(tokens(self.text)) - names <= ONE_MORE:
            return None
        return self._answer(Understood(asked["kind"], species=found.names[0]))

    # ---- following up an answer

    def _follow_up(self) -> dict[str, Any] | None:
        said = self._starts("said")
        if said is not None:
            return self._show_records(said)
        starts = {what: self._starts(what) for what in ("what_if", "why_not")}
        says = self._says("more") or self._says("why") or IS_IT.match(self.text)
        if not (says or starts["what_if"] is not None or starts["why_not"]):
            return None  # the answer before is long: it is read where it is followed up
        answered = self._last_answer()
        if answered is None:
            return None
        if IS_IT.match(self.text):
            late = answered["question"].get("kind") == WHY_LATE
            return self._answer(Understood.asked(answered["question"])) if late else None
        if self._says("more"):
            return {**answered, "short": answered["reply"], "outcome": "answered", "recorded": []}
        if self._says("why"):
            return self._why(answered)
        asked = answered["question"].get("kind")  # an answer such as help is to no question
        if starts["what_if"] is not None and asked:
            return self._what_if(answered)
        if starts["why_not"] and asked in ("where-to-plant", "what-to-plant"):
            return self._why_not(answered, starts["why_not"])
        if starts["why_not"] and asked and WHAT_ABOUT.match(self.text):
            return self._of_another(asked, starts["why_not"])
        return None

    def _of_another(self, asked: str, rest: str) -> dict[str, Any] | None:
        """Return the answer to the question before, asked of another plant: "what about the lane fig"."""
        question = self.adviser.questions.get(asked)
        plants = find_subjects(rest, self.ears.yard).plants
        if question is None or "plant" not in (question.must_name, *question.may_name):
            return None
        if len(plants) != 1 or not plants[0].sure or len(plants[0].names) != 1:
            return None
        return self._answer(Understood(asked, plant=plants[0].names[0]))

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
        kept |= {name: answered[name] for name in ("left_out",) if name in answered}
        return {**sentence_reply("answered", text), "question": answered["question"], **kept}

    def _why_not(self, answered: Mapping[str, Any], rest: str) -> dict[str, Any] | None:
        meant = Understood.asked(answered["question"])
        answer = self.adviser.answer(self.garden, meant, self.today)
        if meant.question == "what-to-plant":
            what, named = "kind", list(find_species(rest, self.words.species).names)
            weighed = {v.species: v for v in answer.verdicts}
        else:
            what, named = "spot", [one.names[0] for one in self._spots_in(rest)]
            weighed = {v.spot: v for v in answer.verdicts}
        verdict = next((weighed[name] for name in named if name in weighed), None)
        if verdict is None:
            known = [self.words.called.get(name, name) for name in weighed]
            return sentence_reply("asked-back", f"Which {what} do you mean? I weighed {', '.join(known)}.")
        place = f"It came {_ordinal(verdict.place)}." if verdict.place else "It is ruled out."
        if what == "kind":
            parts = [place, *(self.speech.tell(point.because[0].told) for point in verdict.points)]
        else:
            first = answer.verdicts[0].spot if answer.verdicts[0].place else verdict.spot
            parts = [place, *beside(verdict.spot, first, answer, self.speech), *self._for_and_against(verdict, answer)]
        return {**sentence_reply("answered", " ".join(parts)), "question": answered["question"]}

    def _for_and_against(self, verdict: Verdict, answer: Answer) -> list[str]:
        """Return what rules a spot out, and what speaks against and for it, but for what its count of springs says."""
        bars = [one for one in answer.conclusions if one.kind == "bar" and one.about.get("spot") == verdict.spot]
        told = list(dict.fromkeys(self.speech.tell(one.because[0].told) for one in bars))
        for side, says in (("against", "Against it:"), ("for", "For it:")):
            lines = [self.speech.tell(one.because[0].told) for one in verdict.points
                     if one.side == side and not _is_counted(one, answer)]  # fmt: skip
            told += [says, *lines] if lines else []
        return told

    def _spots_in(self, text: str) -> list[Any]:
        return [one for one in find_subjects(text, self.ears.yard).spots if one.sure]

    def _what_if(self, answered: Mapping[str, Any]) -> dict[str, Any]:
        meant = Understood.asked(answered["question"])
        if meant.question == "where-to-plant":
            there = self._what_if_there(answered, meant)
            if there is not None:
                return there
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

    def _what_if_there(self, answered: Mapping[str, Any], meant: Understood) -> dict[str, Any] | None:
        """Return what a supposition changes in where to plant: first in the counts, then in what rules say.

        None where it is none about a place for a tree but names a plant of the garden.
        """
        before = self.adviser.answer(self.garden, meant, self.today)
        first = before.verdicts[0].spot if before.verdicts else ""
        lore, yard, talk = self.adviser.lore, self.ears.yard, self.ears.talk
        supposed = suppose_site(self.text, self.garden, yard, talk, lore, meant.species, first, self.today)
        if isinstance(supposed, str):
            subjects = find_subjects(self.text, self.ears.yard)
            if supposed == WHAT_CAN_BE_TRIED and any(one.sure and len(one.names) == 1 for one in subjects.plants):
                return None
            if supposed == WHAT_CAN_BE_TRIED and any(one.sure for one in subjects.spots):
                return self._why_not(answered, self.text)
            return sentence_reply("asked-back", supposed)
        then = replace(meant, species=supposed.species or meant.species)
        after = self.adviser.answer(Supposed(self.garden, supposed), then, self.today)
        lines = [f"With {supposed.says}, nothing recorded:", *supposed.notes]
        lines += changes(before, after, self.speech)
        lines += judged_wall(supposed.built_at, after, self.speech)
        if then == meant:
            lines += told_otherwise(before, after, self.speech)
        lines.append(order_line(before, after, self.speech))
        return {**sentence_reply("answered", "\n".join(filter(None, lines))), "question": answered["question"]}


def _is_counted(point: Conclusion, answer: Answer) -> bool:
    """Return whether a point only tells the count that is told beside the first spot's already."""
    return bool(replayed(answer)) and rests_on_replays(point.because[0].facts)


def _ordinal(place: int) -> str:
    return {1: "first", 2: "second", 3: "third"}.get(place, f"{place}th")
