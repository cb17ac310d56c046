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
    r"[!\n]+|\?+|(?<!\bin)(?<!\bft)(?<!\blb)(?<!\blbs)(?<!\boz)(?<!\bdeg)(?<!\bno)(?<!\bapprox)(?<!\bst)(?<!\d\.\d)(?<!\d\.\d\d)\.(?=\s|$)"
    r"|(?:(?<=\d\.\d)|(?<=\d\.\d\d))\.(?=\s*$|\s*\n|\s+(?-i:[A-Z]))"
    r"|\s+(?:then|also|whereas|while)\s+",
    re.IGNORECASE,
)
SOFT_STOP = re.compile(
    r"\s*[,;]\s*(?:and\s+|but\s+)?|\s+(?:and|but|plus|&|vs\.?|versus)\s+|\s*\+\s*|\s*/\s*(?=[a-z])|\s+-\s+",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class Word:
    """One word as names are compared by: folded, with its place, and the comma, "&" or dash before it."""

    text: str
    start: int
    end: int
    stop: str = ""

    @property
    def after_stop(self) -> bool:
        return self.stop not in ("", "&", "-")


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
        stop = re.search(r"[,;:.!?\n&]|[-–]", text[last : match.start()]) if found else None
        found.append(
            Word(
                NUMBERS.get(word, word),
                match.start() + offset,
                match.end() + offset,
                stop[0].replace("–", "-") if stop else "",
            )
        )
        last = match.end()
    return found


def as_sentences(text: str) -> str:
    """Return a message with what is put before or behind it as note takers do put where it is read.

    >>> as_sentences("24 Apr, 14:10. Soil, gate, 10 cm: 14.6; 20 cm: 12.1 (sun).")
    '24 Apr, 14:10, Soil, gate, 10 cm: 14.6, sun; 20 cm: 12.1, sun'
    >>> as_sentences("soil gate 9.7 bank 12.1 both 10cm"), as_sentences("Could you note that I fed tub 2?")
    ('10cm: soil gate 9.7 bank 12.1', 'I fed tub 2')
    """
    text = FORGOT.sub("", text)
    if NOTE_THIS.match(text):
        text = NOTE_THIS.sub("", text).rstrip("? ")
    text = DATED.sub(r"\1, ", text)
    aside = ASIDE.search(text)
    if aside and ";" in text[: aside.start()]:
        text = ";".join(f"{part.rstrip()}, {aside[1]}" for part in text[: aside.start()].split(";"))
    text = NOT_THIS.sub(r", \1", text)
    text = IN_FIRST.sub(r"\3 \1 \2", text)
    text = OTHER_NOT_YET.sub(r"\1not awake yet", text)
    text = HIGH_LOW.sub(r"\1, \2", text)
    text = AND_N.sub(r"\1 and \2", text)
    of_all = OF_ALL.search(text)
    if of_all and ":" not in text:
        text = f"{of_all[1] or of_all[2]}: {text[: of_all.start()].rstrip(' ,')}"
    return text


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


FORGOT = re.compile(r"^\s*(?:i )?forgot to (?:tell|say|mention|note|log)(?: you)?(?: that)?\s*[:,-]?\s*", re.IGNORECASE)
IN_FIRST = re.compile(
    r"(?:\b(?:i|we|i['’]ve|we['’]ve|have|just)\s+)*\b(brought|carried|wheeled|dragged|lugged)\s+((?:back\s+)?(?:in|out|inside|outside))\s+"
    r"((?!of\b|to\b|the (?:open|sun|shade|ground|garden|yard)\b)"
    r"(?:(?!\b(?:in|out|into|to|onto|under|and then)\b)[^.;!?\n])+?)(?=\s*(?:$|[.;!?\n]))",
    re.IGNORECASE,
)
"""Out or in told before who: "brought in the tall pot, the pot peach"."""
OTHER_NOT_YET = re.compile(
    r"(\bawake\s*(?:,|;|and|but|,\s*but)\s+(?:the\s+)?[a-z][\w' -]{2,40}?\s+(?:is\s+|are\s+)?)"
    r"(?:not yet|not|isn['’]?t|isn['’]?t yet)"
    r"(?=\s*(?:[.,;!]|$))",
    re.IGNORECASE,
)
"""One awake and another not: "porch fig awake, porch fig two not yet"."""
NOTE_THIS = re.compile(
    r"^\s*(?:(?:please|hi|hello|hey)[,!]?\s+)?(?:would|could|can|will) you (?:please )?"
    r"(?:put down|note down|note|log|record|write down|jot down|add) (?:that )?",
    re.IGNORECASE,
)
"""A wish to have something noted, which is no question."""
DATED = re.compile(
    r"^(\s*(?:\d{1,2} [A-Z][a-z]+|[A-Z][a-z]+ \d{1,2}|\d{4}-\d\d-\d\d|\d{1,2}/\d{1,2})"
    r"(?: \d{4})?(?:,? (?:at )?\d{1,2}:\d\d)?)"
    r"\s*[.:]\s+(?=\S)"
)
"""The day, and perhaps the hour, that a note begins with."""
ASIDE = re.compile(r"\s*\(([^()]{1,40})\)\s*\.?\s*$")
HIGH_LOW = re.compile(r"\b((?:max|high) -?\d+(?:[.,]\d+)?) ((?:min|low) -?\d)", re.IGNORECASE)
AND_N = re.compile(r"(\d) n (\d)")
NOT_THIS = re.compile(r"\s*\((not [^()]{1,40})\)", re.IGNORECASE)
LENGTH = r"\d+(?:[.,]\d+)?\s?(?:cm|mm|in|inch|inches|\")"
OF_ALL = re.compile(
    rf",?\s+(?:(?:both|all|each)(?: at)? ({LENGTH})"
    rf"|(?:at )?({LENGTH}(?:,? (?:in )?(?:the )?(?:sun|shade))?) (?:on |for |of |in )?(?:both|each))\s*[.!]?\s*$",
    re.IGNORECASE,
)


FORETOLD_AFTER = re.compile(
    r"[,;]\s*(?=(?:they say |it'?s |low )?(?:calling for |forecast )?[-−]?\d+\S*(?: \w+)? (?:is )?"
    r"(?:forecast|expected|predicted)\b|"
    r"(?:they(?:'re| are) )?calling for [-−]?\d)",
    re.IGNORECASE,
)
"""Where a question ends in what is foretold."""


def _cut_at_question(text: str, start: int, end: int, asked: bool, talk: TalkWords) -> Iterable[Piece]:
    whole = text[start:end]
    first = re.search(r"\w", whole)
    at = first.start() if first else 0
    while polite := talk.pattern("sorts", "polite").match(whole, at):
        rest = re.search(r"\w", whole[polite.end() :])
        if rest is None:
            break
        at = polite.end() + rest.start()
    tail = FORETOLD_AFTER.search(whole, at)
    if tail is not None and talk.pattern("sorts", "asks_first").match(whole, at):  # "is it ok tonight, 26 forecast"
        cut = start + tail.start()
        return [_piece(text, start, cut, asks=True), _piece(text, start + tail.end(), end, asks=False)]
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
