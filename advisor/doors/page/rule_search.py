"""Finding rules: words that bear a slip of the finger, and filters."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from rapidfuzz import fuzz, process

from advisor.answers import History
from advisor.doors.page.rule_shelf import Shelf
from advisor.reasoning.rulebase import Rule

WORD = re.compile(r"\w+(?:[.,]\w+)*", re.UNICODE)
LONGEST_SEARCH, MOST_WORDS = 200, 12
LEAST_ALIKE = 80
"""How alike a word must be to the one typed, of 100: one slip in five letters."""
SHORT = 4
"""A shorter word is looked for as it was typed."""
IN_CLAIM = 3
"""What a word in a rule's claim weighs beside one further down (house judgement; the order only)."""


@dataclass(frozen=True)
class Wanted:
    """What is looked for. ``here`` keeps to rules with a history in this garden, ``own`` to the grower's."""

    words: str = ""
    topic: str = ""
    strength: str = ""
    concludes: str = ""
    question: str = ""
    here: bool = False
    own: bool = False

    @classmethod
    def of(cls, args: Mapping[str, str]) -> Wanted:
        """Read what a form asks for."""
        return cls(
            words=args.get("q", "").strip()[:LONGEST_SEARCH],
            topic=args.get("topic", ""),
            strength=args.get("strength", ""),
            concludes=args.get("concludes", ""),
            question=args.get("question", ""),
            here=args.get("here") == "yes",
            own=args.get("own") == "yes",
        )

    @property
    def anything(self) -> bool:
        return self != Wanted()


class Finder:
    """The words of a rule base, to be searched."""

    def __init__(self, rules: Iterable[Rule]) -> None:
        self._claims: dict[str, frozenset[str]] = {}
        self._words: dict[str, frozenset[str]] = {}
        for rule in rules:
            said = [rule.says, rule.id.replace("-", " "), rule.id]
            more = [rule.how_it_works, *rule.cautions, rule.topic]
            more += [f"{source.cite} {source.backs}" for source in rule.sources]
            self._claims[rule.id] = frozenset(_words(" ".join(said)))
            self._words[rule.id] = self._claims[rule.id] | frozenset(_words(" ".join(more)))
        self._all = sorted({word for words in self._words.values() for word in words})

    def weights(self, text: str) -> dict[str, int]:
        """Return the rules in which every word of a text is found, each with how well it fits."""
        alike = [self._alike(word) for word in dict.fromkeys(_words(text))][:MOST_WORDS]
        found = {}
        for rule, words in self._words.items():
            if all(words & near for near in alike):
                found[rule] = sum(IN_CLAIM if self._claims[rule] & near else 1 for near in alike)
        return found

    def _alike(self, word: str) -> frozenset[str]:
        within = {known for known in self._all if word in known}
        if not within and len(word) >= SHORT and not any(letter.isdigit() for letter in word):
            near = process.extract(word, self._all, scorer=fuzz.ratio, score_cutoff=LEAST_ALIKE, limit=8)
            within = {known for known, _, _ in near}
        return frozenset(within)


def _words(text: str) -> list[str]:
    return [word.casefold() for word in WORD.findall(text)]


def find(wanted: Wanted, shelf: Shelf, finder: Finder, histories: Mapping[str, History]) -> list[Rule]:
    """Return the rules that are looked for: by how well they fit where words are given, else by topic and claim."""
    rules = [rule for topic in shelf.topics.values() for rule in topic]
    kept = [rule for rule in rules if _fits(rule, wanted, shelf, histories)]
    if not wanted.words:
        return kept
    weights = finder.weights(wanted.words)
    return sorted((rule for rule in kept if rule.id in weights), key=lambda rule: -weights[rule.id])


def _fits(rule: Rule, wanted: Wanted, shelf: Shelf, histories: Mapping[str, History]) -> bool:
    if (wanted.here and rule.id not in histories) or (wanted.own and not rule.own):
        return False
    given = ((wanted.topic, rule.topic), (wanted.strength, rule.strength), (wanted.concludes, rule.conclude))
    if any(asked and asked != has for asked, has in given):
        return False
    reached = shelf.adviser.questions
    if not wanted.question:
        return True
    return wanted.question in reached and rule.id in shelf.adviser.engine_of(wanted.question)[0].rules
