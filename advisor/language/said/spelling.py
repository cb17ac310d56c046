"""A message as it was meant to be typed: thumb shorthand written out, slips in the trade's words put right.

A word that is English, or near a name of the garden, is left as it stands: only what can be no other word is changed.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache, lru_cache

from rapidfuzz.distance import OSA
from spellchecker import SpellChecker

from advisor.records.stage_words import StageWords
from advisor.records.talk_words import TalkWords

SHORTEST = 4
"""Letters from which a word with one slip is still known (house judgement)."""
SHORTEST_DOUBLED = 3
"""Letters from which a word with one of them typed twice is still known: "fedd"."""
MOST_WORDS = 240
"""Words from which a message is left as it stands: nobody types so many in the yard (house judgement)."""
MEANT = ("work", "cover", "move", "look", "harm", "harm.cause", "crop", "ground", "sky", "new")
WHEN = (
    "yesterday today tonight tomorrow morning afternoon evening night monday tuesday wednesday thursday friday "
    "saturday sunday january february march april may june july august september october november december"
)
ORDINALS = (
    *("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth", "eleventh"),
    *("twelfth", "thirteenth", "fourteenth", "fifteenth", "sixteenth", "seventeenth", "eighteenth", "nineteenth"),
    *("twentieth", "twenty-first", "twenty-second", "twenty-third", "twenty-fourth", "twenty-fifth", "twenty-sixth"),
    *("twenty-seventh", "twenty-eighth", "twenty-ninth", "thirtieth", "thirty-first"),
)
MONTHS = WHEN.split()[-12:]
ORDINAL = re.compile(
    rf"\b({'|'.join(sorted(ORDINALS, key=len, reverse=True))})(?: of)?( (?:{'|'.join(MONTHS)}))\b",
    re.IGNORECASE,
)
"""A day of the month in words, as voices are written down."""
GLUED = re.compile(r"\b([A-Za-z]{2,})(\d{1,3})\b")
WORD = re.compile(r"(?<![\w'’@#-])[A-Za-z]{3,}(?![\w'’@-])")


@dataclass(frozen=True)
class Spelling:
    """The words that may be meant: those of the word lists, of stages and kinds, by their first letter."""

    meant: Mapping[str, tuple[str, ...]]
    known: frozenset[str]

    @classmethod
    def of(cls, talk: TalkWords, stages: StageWords, kinds: Iterable[str]) -> Spelling:
        """Return the spelling of a rule base."""
        words = {word for section in MEANT for word in talk.words.get(section, ())} | set(stages.known)
        words |= {word for kind in kinds for word in kind.casefold().split()} | set(WHEN.split())
        known = words | {word for listed in talk.words.values() for word in listed}
        by_first: dict[str, list[str]] = {}
        for word in sorted(words):
            if len(word) >= SHORTEST_DOUBLED and word.isalpha():
                by_first.setdefault(word[0], []).append(word)
        return cls({first: tuple(listed) for first, listed in by_first.items()}, frozenset(known))

    def mended(self, text: str, talk: TalkWords, names: Iterable[str]) -> str:
        """Return a message with shorthand written out and slips put right.

        >>> from pathlib import Path
        >>> from advisor.records.stage_words import load_stage_words
        >>> from advisor.records.talk_words import load_talk_words
        >>> talk, stages = load_talk_words(Path("rules")), load_stage_words(Path("rules"))
        >>> Spelling.of(talk, stages, ["peach"]).mended("watred the peech last nite, prune later", talk, ["tub 1"])
        'watered the peach last night, prune later'
        """
        for word, pattern in talk.sections["typed"].items():
            text = pattern.sub(word, text)
        numbered, own = _of_names(tuple(names))
        text = GLUED.sub(lambda match: _parted(match, numbered), text)
        text = ORDINAL.sub(lambda match: f"{ORDINALS.index(match[1].casefold()) + 1}{match[2]}", text)
        if len(WORD.findall(text)) > MOST_WORDS:
            return text
        return WORD.sub(lambda match: self._word(match[0], own), text)

    def _word(self, typed: str, own: frozenset[str]) -> str:
        word = typed.casefold()
        if word in self.known or word in own:
            return typed
        found = [other for other in self.meant.get(word[0], ()) if near(word, other)]
        swapped = word[1] + word[0] + word[2:]
        if not found and swapped in self.meant.get(swapped[0], ()):
            found = [swapped]
        if any(near(word, name) and name not in found for name in own):
            return typed  # a name's own slips are for the matching of names
        if len(found) > 1:
            found = [other for other in found if _doubled(word, other)] or [one for one in found if english(one)]
        if len(found) != 1 or english(word):
            return typed
        return found[0].capitalize() if typed[0].isupper() else found[0]


@lru_cache(maxsize=16)
def _of_names(names: tuple[str, ...]) -> tuple[frozenset[str], frozenset[str]]:
    """Return a garden's names in small letters, and the words in them: the same for each message."""
    small = frozenset(name.casefold() for name in names)
    return small, frozenset(word for name in small for word in re.findall(r"[a-z]+", name))


def near(word: str, other: str) -> bool:
    """Return whether a word is another with one slip of the thumb.

    >>> near("watred", "watered"), near("fedd", "fed"), near("bed", "fed"), near("awke", "awake")
    (True, True, False, True)
    """
    if abs(len(word) - len(other)) > 1 or word == other:
        return False
    if len(other) >= SHORTEST and len(word) >= SHORTEST:
        return OSA.distance(word, other, score_cutoff=1) == 1
    return len(other) >= SHORTEST_DOUBLED and (_doubled(word, other) or _doubled(other, word))


def _doubled(word: str, other: str) -> bool:
    """Return whether a word is another with one of its letters typed twice."""
    return any(word[:at] + word[at + 1 :] == other and word[at] == word[at - 1] for at in range(1, len(word)))


def _parted(match: re.Match[str], names: frozenset[str]) -> str:
    """Return "tub1" with its space where a plant is called "tub 1"."""
    apart = f"{match[1]} {match[2]}"
    ends = any(name == apart.casefold() or name.endswith(f" {apart.casefold()}") for name in names)
    return apart if ends else match[0]


@cache
def _english() -> SpellChecker:
    return SpellChecker(distance=1)


def english(word: str) -> bool:
    """Return whether a word is in the list of English words that comes with the spelling library.

    >>> english("moved"), english("mvoed")
    (True, False)
    """
    return word in _english()
