"""One message through all of it; the only module that knows the order.

keep the message → understand → derive → run the rules → explain → reply → keep the reply
"""

from __future__ import annotations

import logging
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from functools import cached_property
from pathlib import Path
from typing import Any

from advisor.answers import Answer, History
from advisor.calc import distributions
from advisor.config import Settings
from advisor.errors import AdvisorError
from advisor.fact_base import FactBase, Proof
from advisor.facts import Fact
from advisor.language.last_told import LastTold
from advisor.language.render import Speech
from advisor.language.reply import answer_reply
from advisor.language.said.spelling import Spelling
from advisor.language.understand import Understood, Words
from advisor.reasoning.derive import Records, Scene, derive
from advisor.reasoning.derive.memory import Memories
from advisor.reasoning.derive.stages import reach_of
from advisor.reasoning.disputes import Opposite, load_opposites
from advisor.reasoning.engine import Following, StandIns
from advisor.reasoning.explain import explain, weigh_spots
from advisor.reasoning.lint import refuse_unsound
from advisor.reasoning.merging import LastLook
from advisor.reasoning.outcomes import OutcomeRule, histories, load_outcomes
from advisor.reasoning.planting import WHAT_TO_PLANT, WRONG_SPOT, Weighed, kinds_for, trees_astray
from advisor.reasoning.reach import Reach, reach
from advisor.reasoning.rulebase import RuleBase, load_rules
from advisor.records.attempts import BeingThought
from advisor.records.messages import Sent, texts_since, waiting
from advisor.records.questions import QuestionKinds, load_questions
from advisor.records.species import Lore, load_lore
from advisor.records.stage_words import StageWords, load_stage_words
from advisor.records.store import Garden
from advisor.records.talk_words import TalkWords, load_talk_words
from advisor.talk.facts_asked import facts_asked
from advisor.talk.naming import speech_of, words_of
from advisor.talk.once import MOST_DEATHS, Answerer, answered_once
from advisor.talk.posted import read_posted
from advisor.talk.starting import Starting, with_next_step
from advisor.talk.suggesting import Suggestion, suggestions
from advisor.talk.supposing import Supposed
from advisor.talk.talking import Talking

LOG = logging.getLogger("advisor.conversation")
ASKED_HOURS = 18
MOST_ASKED = 20
"""A question of these hours, among so many last messages, is not suggested again."""


@dataclass(repr=False)
class Adviser:
    """The rule base and its engines, made once; answers messages about a garden file from any thread."""

    settings: Settings
    base: RuleBase
    questions: QuestionKinds
    lore: Lore
    talk_words: TalkWords
    stage_words: StageWords
    outcomes: Mapping[str, OutcomeRule] = field(default_factory=dict)
    opposites: tuple[Opposite, ...] = ()
    _engines: dict[str, tuple[Reach, Following]] = field(default_factory=dict)
    _memories: Memories = field(default_factory=Memories)

    @classmethod
    def load(cls, settings: Settings) -> Adviser:
        """Read the rule base of the settings and make an engine for each kind of question."""
        base = load_rules(settings.rules, settings.own_rules)
        questions = load_questions(settings.rules)
        refuse_unsound(base, questions)
        adviser = cls(
            settings,
            base,
            questions,
            load_lore(settings.rules),
            load_talk_words(settings.rules),
            load_stage_words(settings.rules),
            load_outcomes(settings.rules, base.kinds),
            load_opposites(settings.rules),
        )
        for question in adviser.questions.values():
            found = reach(base, question.answered_by)
            engine = StandIns(base.only(set(found.rules)), question.id, settings.engine)
            adviser._engines[question.id] = (found, Following(engine))
        return adviser

    def ready(self) -> Adviser:
        """Return this once what it needs later is imported too: a server waits for that before it takes requests."""
        distributions.ready()
        return self

    def open(self, path: Path | None = None, *, create: bool = False) -> Garden:
        """Open a garden file, the one of the settings unless another is named."""
        return Garden(path or self.settings.garden, self.base.kinds, busy_s=self.settings.busy_s, create=create)

    @cached_property
    def spelling(self) -> Spelling:
        kinds = [name for one in self.lore.species.values() for name in one.names]
        return Spelling.of(self.talk_words, self.stage_words, kinds)

    # ---- messages

    def message(self, raw: object, now: datetime, path: Path | None = None) -> dict[str, Any]:
        """Answer one posted message, once: a message of an id seen before gets the first answer again.

        ``now`` is aware. The message is kept before it is thought about, its answer before it is returned. What it
        records is kept together with its answer, so that a message that was cut short is as if not yet read.
        """
        return self.once(raw, now, self.reply, path)

    def once(
        self, raw: object, now: datetime, answer: Answerer, path: Path | None = None, wait_s: float | None = None
    ) -> dict[str, Any]:
        """Keep what was posted and what ``answer`` makes of it, once for each id; see ``answered_once``."""
        sent = read_posted(raw, self.settings.longest_message)
        with self.open(path) as garden:
            return answered_once(garden, sent, now, answer, wait_s=self.settings.busy_s if wait_s is None else wait_s)

    def worth_asking(self, garden: Garden, now: datetime) -> list[Suggestion]:
        """Return what is worth asking or telling in a garden now, but for what was asked today."""
        since = now - timedelta(hours=ASKED_HOURS)
        asked = texts_since(garden, since, MOST_ASKED)
        today = _day_in(garden, now)
        return suggestions(garden, self.scene(garden, today), self.questions, self.speech(garden, today), now, asked)

    def answer_waiting(self, now: datetime, path: Path | None = None) -> list[str]:
        """Answer the messages that were kept and never answered, and return their ids.

        One that somebody is thinking about is left to them. One that cannot be answered is logged and keeps no other
        from its turn; after some tries it is left to whoever sends it again.
        """
        with self.open(path) as garden:
            left = waiting(garden, MOST_DEATHS + 1)
        answered = []
        for one in left:
            try:
                self.once({"id": one.id, "text": one.text}, now, self.reply, path, wait_s=0.0)
            except BeingThought:
                continue
            except Exception as error:  # whatever it is, the next message has its turn
                found = error if isinstance(error, AdvisorError) else type(error).__name__
                LOG.warning("the message %s, which was left unanswered, still is: %s", one.id, found)
            else:
                answered.append(one.id)
        return answered

    def reply(self, garden: Garden, message_id: str, text: str, at: datetime) -> dict[str, Any]:
        """Return the reply to a message, not yet kept."""
        if not garden.of("place"):
            return Starting(self, garden, message_id, text, at).reply()
        reply = Talking(self, garden, message_id, text, at).reply()
        return with_next_step(reply, garden.of("spot"), garden.of("plant"))

    def asleep_first(self, garden: Garden, meant: Understood, today: date) -> Understood:
        """Put the plants that sleep, or that nobody has looked at, first among those a message may mean."""
        if meant.unclear != "plant" or len(meant.found.names) < 2:
            return meant
        scene = self.scene(garden, today)

        def awake(name: str) -> bool:
            way = reach_of(scene, name, scene.year, "waking")
            return way is not None and way.there is not None

        return meant.choosing(sorted(meant.found.names, key=awake))

    # ---- the stages

    def scene(self, records: Records, today: date) -> Scene:
        """Return records as they stand on a day, with what earlier questions worked out of a garden file."""
        kept = self._memories.of(records, today) if isinstance(records, Garden) and records.as_of is None else None
        return Scene(records, self.lore, today, "", memory=kept)

    def words(self, garden: Garden, today: date) -> Words:
        """Return the names that messages about a garden may use."""
        return words_of(self.scene(garden, today), self.questions)

    def speech(self, garden: Garden, today: date) -> Speech:
        """Return how this grower is spoken to. Raises BadInput where no place is told yet."""
        garden.place()
        return speech_of(self.scene(garden, today), self.base.kinds)

    def answer(self, records: Records, meant: Understood, today: date) -> Answer:
        """Return the answer to an understood question."""
        return self._answer(self._asked(records, meant, today), meant)

    def told(self, garden: Garden, meant: Understood, today: date) -> tuple[Answer, Sent]:
        """Return the answer to an understood question and its reply, made once while what they rest on stays."""
        scene = self._asked(garden, meant, today)
        return scene.remember(("told", meant.key), lambda: self._told(scene, meant))

    def _told(self, scene: Scene, meant: Understood) -> tuple[Answer, Sent]:
        answer = self._answer(scene, meant)
        last = _last(scene, meant)
        return answer, Sent(answer_reply(answer, speech_of(scene, self.base.kinds), last.told if last else None))

    def _asked(self, records: Records, meant: Understood, today: date) -> Scene:
        """Return the records as a question finds them."""
        scene = replace(self.scene(records, today), question=meant.question, plant=meant.plant, species=meant.species)
        if isinstance(records, Supposed):
            made = records.supposition
            return replace(scene, sort=made.sort, as_told=records.records if made.from_now else None)
        return scene

    def _answer(self, scene: Scene, meant: Understood) -> Answer:
        answer = scene.remember(("answer", meant.key), lambda: self._answered(scene, meant))
        return self._with_histories(answer, scene)

    def _answered(self, scene: Scene, meant: Understood) -> Answer:
        """Return the answer to an understood question, without what came of earlier advice."""
        engine = self._engines[meant.question][1]
        question = self.questions[meant.question]
        if question.id in (WHAT_TO_PLANT, WRONG_SPOT):
            return self._weighed(scene, meant)
        last = _last(scene, meant)
        facts = self.facts(scene, meant, like=last.facts if last else None)
        proof = engine.run(facts, last.proof if last else None)
        look = last.look if last else LastLook()
        scene.keep_earlier(("proof", meant.key), Last(facts, proof, look, last.told if last else LastTold()))
        about: dict[str, str | tuple[str, ...]] = {"plant": meant.plant, "species": meant.species}
        about["spots"] = meant.spots
        answer = explain(
            question,
            meant.plant or meant.species,
            proof,
            engine.base,
            self.state_of(facts) if meant.plant else {},
            {name: value for name, value in about.items() if value},
            self.opposites,
            look,
        )
        replays = tuple(fact for kind in ("spot_replay", "replay_gap") for fact in facts.of(kind))
        return replace(answer, replays=replays)

    def _weighed(self, scene: Scene, meant: Understood) -> Answer:
        """Return the answer to a question for which many places are weighed: of all kinds, or of all trees."""
        question = self.questions[meant.question]
        found, engine = self._engines[question.id]

        last = _last(scene, meant)

        def weigh(scene: Scene) -> Weighed:
            nonlocal last
            facts = derive(scene, found.kinds, self.base.kinds)
            facts = facts.like(last.facts) if last else facts
            proof = engine.run(facts, last.proof if last else None)
            last = Last(facts, proof, last.look if last else LastLook(), last.told if last else LastTold())
            return weigh_spots(question, proof, engine.base, last.look)

        spot = meant.spots[0] if meant.spots else ""
        answer = kinds_for(scene, spot, weigh) if question.id == WHAT_TO_PLANT else trees_astray(scene, weigh)
        if last is not None:
            scene.keep_earlier(("proof", meant.key), last)
        return replace(answer, not_known=question.not_known)

    def _with_histories(self, answer: Answer, scene: Scene) -> Answer:
        cited = {entry.rule for one in answer.conclusions for entry in one.because}
        return replace(answer, history={r: one for r, one in self._histories(scene).items() if r in cited})

    def engine_of(self, question: str) -> tuple[Reach, Following]:
        """Return what a question can reach, and the engine of its rules."""
        return self._engines[question]

    def facts(
        self, scene: Scene, meant: Understood, only: Collection[str] = (), like: FactBase | None = None
    ) -> FactBase:
        """Return the facts that a question's rules are asked of; ``only`` keeps to some kinds of them. ``like`` are
        those of an earlier question, which these share where nothing changed."""
        wanted = frozenset(only) or self._engines[meant.question][0].kinds
        return facts_asked(scene, meant, self.questions[meant.question], wanted, self.base.kinds, like)

    def histories(self, records: Records, today: date) -> dict[str, History]:
        """Return what came of the advice given in a garden before a day, by rule."""
        return self._histories(self.scene(records, today))

    def _histories(self, scene: Scene) -> dict[str, History]:
        return scene.remember(("histories", ""), lambda: histories(scene, self.outcomes))

    @staticmethod
    def state_of(facts: FactBase) -> dict[str, Fact]:
        """Return the facts with which an answer about a plant opens: its stage, and the lag that says most."""
        state = {fact.kind: fact for kind in ("stage_now", "kin_awake") for fact in facts.of(kind)}
        flowers = any(fact.get("flowers_first") for fact in facts.of("traits"))
        order = ("waking", "bloom") if flowers else ("waking",)  # the last one found is told
        for milestone in order:
            for against in ("own years", "kin"):
                for fact in facts.of("stage_lag", milestone=milestone, against=against):
                    state["stage_lag"] = fact
        return state


@dataclass(frozen=True)
class Last:
    """What a question was asked of last, what was proved, and what was made of that: the next time goes on from it."""

    facts: FactBase
    proof: Proof
    look: LastLook
    told: LastTold


def _last(scene: Scene, meant: Understood) -> Last | None:
    found: Last | None = scene.earlier(("proof", meant.key))
    return found


def _day_in(garden: Garden, now: datetime) -> date:
    """Return the day that it is where a garden lies."""
    return now.astimezone(garden.zone()).date()
