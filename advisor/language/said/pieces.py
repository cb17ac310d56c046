"""A message cut into sentences and pieces, each with its place in the text."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass

from advisor.language.names import NUMBERS
from advisor.records.talk_words import TalkWords

LONGEST = 4000
"""Letters of a message that are looked at; nobody types more in the yard (house judgement)."""
HARD_STOP = re.compile(
    r"[;!\n]+|\?+|(?<!\bin)(?<!\bft)(?<!\blb)(?<!\blbs)(?<!\boz)(?<!\bdeg)(?<!\bno)(?<!\bapprox)(?<!\bst)\.(?=\s|$)"
    r"|\s+(?:then|also|whereas|while)\s+",
    re.IGNORECASE,
)
SOFT_STOP = re.compile(
    r"\s*,\s*(?:and\s+|but\s+)?|\s+(?:and|but|plus|&|vs\.?|versus)\s+|\s*\+\s*|\s*/\s*(?=[a-z])|\s+-\s+",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class Word:
    """One word as names are compared by: folded, with its place, and the comma or the like before it."""

    text: str
    start: int
    end: int
    stop: str = ""

    @property
    def after_stop(self) -> bool:
        return bool(self.stop)


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of a message. ``asks`` says that it is a question."""

    text: str
    start: int
    end: int
    asks: bool = False


def words_of(text: str, offset: int = 0) -> list[Word]:
    """Return a text's words with their places, folded, small numbers as digits.

    >>> [(word.text, word.start) for word in words_of("the Two-pot fig")]
    [('the', 0), ('2', 4), ('pot', 8), ('fig', 12)]
    """
    found: list[Word] = []
    last = 0
    for match in re.finditer(r"[^\W_]+", text):
        word = unicodedata.normalize("NFKC", match[0]).casefold()
        stop = re.search(r"[,;:.!?\n]", text[last : match.start()]) if found else None
        found.append(
            Word(NUMBERS.get(word, word), match.start() + offset, match.end() + offset, stop[0] if stop else "")
        )
        last = match.end()
    return found


def sentences(text: str, talk: TalkWords) -> list[Piece]:
    """Return the sentences of a message, questions marked; a question that starts in mid-sentence is cut off."""
    found: list[Piece] = []
    at = 0
    stops = [(match.start(), match.end(), "?" in match[0]) for match in HARD_STOP.finditer(text)]
    for start, end, asked in [*stops, (len(text), len(text), False)]:
        if text[at:start].strip():
            found += _cut_at_question(text, at, start, asked, talk)
        at = end
    return found


def _cut_at_question(text: str, start: int, end: int, asked: bool, talk: TalkWords) -> Iterable[Piece]:
    whole = text[start:end]
    first = re.search(r"\w", whole)
    at = first.start() if first else 0
    while polite := talk.pattern("sorts", "polite").match(whole, at):
        rest = re.search(r"\w", whole[polite.end() :])
        if rest is None:
            break
        at = polite.end() + rest.start()
    if talk.pattern("sorts", "asks_first").match(whole, at) or (
        asked and talk.pattern("sorts", "asked").match(whole, at)
    ):
        return [_piece(text, start, end, asks=True)]
    inside = talk.pattern("sorts", "asks").search(whole)
    for comma in re.finditer(r"[,:]\s*", whole) if inside is None and asked else ():
        if talk.pattern("sorts", "asks_first").match(whole, comma.end()):
            middle = start + comma.end()
            return [_piece(text, start, start + comma.start(), asks=False), _piece(text, middle, end, asks=True)]
    if inside and len(words_of(whole[inside.start() :])) < 3 and asked:
        return [_piece(text, start, end, asks=True)]  # "the shed fig is late, why?"
    if inside and inside.start() > 0:
        before = _piece(text, start, start + inside.start(), asks=False)
        return [*([before] if before.text else []), _piece(text, start + inside.start(), end, asks=True)]
    return [_piece(text, start, end, asks=asked)]


def _piece(text: str, start: int, end: int, *, asks: bool) -> Piece:
    while start < end and not text[start].isalnum() and text[start] not in "-−+~°½¼¾'\"":
        start += 1
    while end > start and (text[end - 1].isspace() or text[end - 1] in ",:;-"):
        end -= 1
    return Piece(text[start:end], start, end, asks)


def pieces(sentence: Piece) -> list[Piece]:
    """Return a sentence cut at its commas and at "and".

    >>> [piece.text for piece in pieces(Piece("wall fig swelling, old pear asleep and 6 leaves", 0, 47))]
    ['wall fig swelling', 'old pear asleep', '6 leaves']
    """
    found = []
    at = 0
    for match in [*SOFT_STOP.finditer(sentence.text), None]:
        stop = match.start() if match else len(sentence.text)
        if sentence.text[at:stop].strip():
            found.append(_piece(sentence.text, at, stop, asks=sentence.asks))
        at = match.end() if match else stop
    return [Piece(p.text, p.start + sentence.start, p.end + sentence.start, p.asks) for p in found if p.text]
