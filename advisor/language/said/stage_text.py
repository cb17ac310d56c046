"""The words of a message as they are compared, each with its place in the text and what ends before it."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from advisor.language.names import BARE, CONTRACTED
from advisor.records.stage_words import Phrase

INCH = '"”″'
WORD = re.compile(rf"\d+/\d+|[½¼¾⅓⅔]|1st\b|\d+(?:[.,]\d+)?|%|(?<=[\d½¼¾])[{INCH}]|[^\W\d_](?:[^\W_]|['’´`](?=[^\W_]))*")
LONGER = {"'ll": " will", "'d": " would", "'m": " am"}
SPELT_OUT = {
    **BARE, **dict.fromkeys(INCH, "inch"),
    "didnt": "did not", "wasnt": "was not", "werent": "were not", "dont": "do not", "aint": "is not",
    "wouldnt": "would not", "theyre": "they are", "thats": "that is", "im": "i am", "ive": "i have", "pct": "percent",
    "%": "percent", "½": "half", "1/2": "half", "¼": "one quarter", "1/4": "one quarter", "¾": "three quarters",
    "3/4": "three quarters", "⅓": "one third", "1/3": "one third", "⅔": "two thirds", "2/3": "two thirds",
    "1st": "first",
}  # fmt: skip
CLAUSE, SENTENCE = 1, 2


@dataclass(frozen=True, slots=True)
class SaidWord:
    """A word as it is compared. ``break_before`` is what ends between it and the word before; ``asked`` ends in "?"."""

    text: str
    start: int
    end: int
    break_before: int = 0
    asked: bool = False


def said_words(text: str) -> list[SaidWord]:
    """Return a text's words: folded, contractions and fractions spelt out, each with its place and the break before."""
    found: list[SaidWord] = []
    ends = 0
    asked_from: list[tuple[int, int]] = []
    for match in WORD.finditer(text):
        gap = text[ends : match.start()]
        found_break = _break(gap) if found else 0
        if "?" in gap:
            asked_from.append((len(found), found_break))
        for part in _spelt_out(match.group()):
            found.append(SaidWord(part, match.start(), match.end(), found_break))
            found_break = 0
        ends = match.end()
    if "?" in text[ends:]:
        asked_from.append((len(found), SENTENCE))
    return _asked(found, asked_from)


def _asked(said: list[SaidWord], ends: Iterable[tuple[int, int]]) -> list[SaidWord]:
    """Mark the words of each clause that ends in a question mark; a short tag asks the clause before it too."""
    for end, _ in ends:
        at, clauses = end - 1, 1
        while at >= 0:
            said[at] = replace(said[at], asked=True)
            if said[at].break_before == SENTENCE:
                break
            if said[at].break_before == CLAUSE:
                clauses -= 1
                if clauses < 0 or end - at > 3:
                    break
            at -= 1
    return said


def _break(gap: str) -> int:
    if any(mark in gap for mark in ".!?;\n…"):
        return SENTENCE
    return CLAUSE if any(mark in gap for mark in ",()/–—") or " - " in gap or "--" in gap else 0


@lru_cache(maxsize=4096)
def _spelt_out(token: str) -> tuple[str, ...]:
    plain = SPELT_OUT.get(token) or unicodedata.normalize("NFKC", token).casefold()
    plain = re.sub("[’´`]", "'", plain)
    if "'" in plain:
        for short, long in (*CONTRACTED, *LONGER.items()):
            plain = plain.replace(short, long)
        plain = plain.replace("'", "")
    return tuple(part for word in plain.split() for part in SPELT_OUT.get(word, word).split())


def whole_end(said: Sequence[SaidWord], at: int, phrase: Phrase) -> int | None:
    """Return the word after a phrase that stands whole at a word, or None."""
    end = at + len(phrase)
    whole = at >= 0 and end <= len(said) and all(said[at + n].text == word for n, word in enumerate(phrase))
    return end if whole and not any(word.break_before for word in said[at + 1 : end]) else None
