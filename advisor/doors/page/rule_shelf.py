"""What the rule book knows before anybody asks: every rule in words, what feeds what, which questions it serves.

None of it depends on a garden, so it is made once for an application, when its first page is asked for.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC
from functools import cached_property
from threading import Lock
from zoneinfo import ZoneInfo

from flask import current_app

from advisor.answers import Told
from advisor.conversation import Adviser
from advisor.doors.page.frame import Site, site
from advisor.errors import NotFound
from advisor.language.render import Speech
from advisor.language.sentences import with_article
from advisor.reasoning.condition_words import ConditionWords, load_condition_words
from advisor.reasoning.in_words import RuleInWords, in_words
from advisor.reasoning.reach import answers
from advisor.reasoning.rulebase import REFERENCE, Block, Rule, Source
from advisor.records.kinds import Kind
from advisor.records.store import Garden

STRENGTHS = {
    "well-supported": ("well supported", "what was read of the sources measured it, or shows it plainly"),
    "usual-practice": (
        "usual practice",
        "growers hold to it and it stands to reason, but nothing read here measured it",
    ),
    "disputed": ("disputed", "sources or growers disagree, so test it before you build on it"),
}
READ = {
    "table": "its table was read",
    "abstract": "its abstract was read",
    "excerpt": "an excerpt of it was read",
    "via-reference": "not read itself, only told by another work",
    "not yet": "not read yet",
}
CONCLUDES = {
    "cause": "a cause",
    "finding": "a finding",
    "task": "a task",
    "lacking": "a reading that is wanting",
    "point": "a point for or against a spot",
    "warning": "a warning",
    "expect": "what is to be expected",
    "doubt": "a doubt about records",
    "bar": "that a spot is ruled out",
    "keep_tip": "that a shoot keeps its tip",
    "keep_tips": "that a plant keeps its tips",
    "cold_root_zone": "that roots stand in cold soil",
}


@dataclass(frozen=True)
class Cited:
    """One source behind a rule, with the sentence that says how far it was read."""

    cite: str
    read: str
    backs: str


@dataclass(frozen=True)
class Shelf:
    """The rule base as a book."""

    adviser: Adviser
    words: ConditionWords
    told: Mapping[str, RuleInWords]

    @classmethod
    def of(cls, adviser: Adviser) -> Shelf:
        called = {one.id: with_article(one.name) for one in adviser.lore.species.values()}
        words = load_condition_words(adviser.settings.rules, adviser.base.kinds, called)
        rules = adviser.base.rules.values()
        return cls(adviser, words, {rule.id: in_words(rule, adviser.base.kinds, words) for rule in rules})

    @cached_property
    def topics(self) -> dict[str, list[Rule]]:
        """The rules by topic, in the order of their claims."""
        found: dict[str, list[Rule]] = {}
        for rule in sorted(self.adviser.base.rules.values(), key=lambda rule: (rule.topic, rule.says)):
            found.setdefault(rule.topic, []).append(rule)
        return found

    @cached_property
    def by_claim(self) -> dict[str, list[Rule]]:
        """The rules by the claim or task that they conclude."""
        found: dict[str, list[Rule]] = {}
        for rule in self.adviser.base.rules.values():
            found.setdefault(claim_of(rule), []).append(rule)
        return found

    @cached_property
    def by_source(self) -> dict[str, list[tuple[Rule, Source]]]:
        """Each published work with the rules that rest on it, in the order of the alphabet."""
        found: dict[str, list[tuple[Rule, Source]]] = {}
        for rule in self.adviser.base.rules.values():
            for source in rule.sources:
                if source.is_published:
                    found.setdefault(source.cite, []).append((rule, source))
        return dict(sorted(found.items(), key=lambda entry: entry[0].casefold()))

    @cached_property
    def source_numbers(self) -> dict[str, int]:
        """The number under which the list of sources names each work."""
        return {cite: number for number, cite in enumerate(self.by_source, start=1)}

    @cached_property
    def by_kind(self) -> dict[str, list[Rule]]:
        """The rules that look at each kind of fact."""
        found: dict[str, list[Rule]] = {}
        for rule in self.adviser.base.rules.values():
            for kind in dict.fromkeys(block.kind for block in (*rule.when, *rule.unless)):
                found.setdefault(kind, []).append(rule)
        return found

    def rule(self, rule_id: str) -> Rule:
        """Return a rule. Raise NotFound where there is none of that id."""
        found = self.adviser.base.rules.get(rule_id)
        if found is None:
            raise NotFound("opening the rule book", f"no rule {rule_id[:80]!r}", "Look for it in the list of rules")
        return found

    def answers(self, rule: Rule) -> list[str]:
        """Return the questions that a rule itself answers."""
        kinds = self.adviser.questions.values()
        return [one.id for one in kinds if any(answers(rule, wanted) for wanted in one.answered_by)]

    def helps(self, rule: Rule) -> list[str]:
        """Return the questions that a rule only helps to answer, through what other rules make of it."""
        direct = self.answers(rule)
        ids = self.adviser.questions
        return [one for one in ids if one not in direct and rule.id in self.adviser.engine_of(one)[0].rules]

    def fed_by(self, rule: Rule) -> list[Rule]:
        """Return the rules whose conclusions a rule looks at."""
        blocks = (*rule.when, *rule.unless)
        return [one for one in self.adviser.base.rules.values() if any(_gives(one, block) for block in blocks)]

    def feeds(self, rule: Rule) -> list[Rule]:
        """Return the rules that look at what a rule concludes."""
        looks = self.by_kind.get(rule.conclude, ())
        return [one for one in looks if any(_gives(rule, block) for block in (*one.when, *one.unless))]


def _gives(rule: Rule, block: Block) -> bool:
    """Return whether what a rule concludes may match a block, as far as its constants tell."""
    if rule.conclude != block.kind:
        return False
    for test in block.tests:
        given = rule.gives.get(test.field)
        if given is None or (isinstance(given, str) and REFERENCE.search(given)):
            continue
        wanted = test.operand if test.operator == "one_of" else (test.operand,)
        if test.operator in ("equals", "one_of") and test.field not in ("grade", "size") and given not in wanted:
            return False
    return True


def claim_of(rule: Rule) -> str:
    """Return what a rule's conclusion is known by: its claim, or the task."""
    return str(rule.gives.get("claim") or rule.gives.get("what") or rule.gives.get("reading") or rule.conclude)


def cited(source: Source) -> Cited:
    """Return a source as the book tells it."""
    if source.is_house:
        whose = "your own judgement" if source.cite.startswith("grower") else "house judgement: a threshold of our own"
        return Cited(whose, "", source.backs)
    if source.is_common_practice:
        return Cited("common practice in the trade, no source", "", source.backs)
    return Cited(source.cite, READ.get(source.read, source.read), source.backs)


def origin_words(kind: Kind) -> str:
    """Return where facts of a kind come from."""
    if kind.origin == "recorded":
        return "told by you"
    return "reckoned from your records" if kind.origin == "derived" else "concluded by rules"


_MAKING = Lock()


def shelf() -> Shelf:
    """Return the book of the application that serves this request."""
    kept = current_app.extensions
    with _MAKING:
        if "rule_book" not in kept:
            kept["rule_book"] = Shelf.of(site().adviser)
    found = kept["rule_book"]
    assert isinstance(found, Shelf)
    return found


def speech_of(here: Site, garden: Garden) -> Speech:
    """Return how the grower is spoken to; metric, in universal time, where no place is told yet."""
    if garden.of("place"):
        return here.speech(garden)
    called = {one.id: one.name for one in here.adviser.lore.species.values()}
    return Speech("metric", ZoneInfo("UTC"), here.now().astimezone(UTC).date(), here.adviser.base.kinds, called=called)


def say(template: str, speech: Speech) -> str:
    """Return a template without references as a sentence in the grower's units."""
    return speech.tell(Told(template, {}))


def said_rules(rules: list[Rule]) -> Iterator[tuple[str, str]]:
    """Yield (id, claim) of rules."""
    return ((rule.id, rule.says) for rule in rules)
