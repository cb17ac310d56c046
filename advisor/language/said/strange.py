"""Words of a message that nothing in the garden or the word lists accounts for, and trees that are somebody else's."""

from __future__ import annotations

import re

from rapidfuzz.distance import OSA

from advisor.language.said.pieces import words_of
from advisor.language.said.unit import Ears, Unit

OWNER = re.compile(r"(?:\b(?:his|her|their|the neighbours?['’]s?)|([\w]+)['’]s)\s+(?:\w+\s+){0,1}$", re.IGNORECASE)
NO_OWNERS = frozenset(
    (
        "it",
        "that",
        "what",
        "here",
        "there",
        "today",
        "yesterday",
        "he",
        "she",
        "let",
        "who",
        "where",
        "tomorrow",
        "week",
    )
)
OWN_PLACE = re.compile(
    r"\b(?:at|in)\s+(?:my\s+)?(\w+)['’]s\b(?:\s+(?:place|garden|house|yard|farm|plot))?", re.IGNORECASE
)
ABOUT_TREES = frozenset(("stage", "crop", "harm", "work"))
NOT_KNOWN = ("sorts", "declined", "follow")
"""Sections of the word lists that say what sort of sentence it is, not what it is about."""
ELSEWHERE = re.compile(
    r"\b(?:at|in|from)\s+(?!years\b|ages\b|weeks\b|days\b|burlap\b|fleece\b|hessian\b|sacking\b)(?:the\s+|my\s+|a\s+)?([A-Za-z][\w'’-]+(?:\s+[a-z][\w'’-]+)?)",
    re.IGNORECASE,
)


def strange_words(unit: Unit, ears: Ears) -> list[str]:
    """Return the words of a unit that no name, figure, time, stage or word list accounts for."""
    spans = spoken_for(unit)
    left = []
    for piece in unit.pieces:
        known = spans + [
            (hit.start() + piece.start, hit.end() + piece.start)
            for section, lists in ears.talk.sections.items()
            if section not in NOT_KNOWN
            for pattern in lists.values()
            for hit in pattern.finditer(piece.text)
        ]
        for word in words_of(piece.text, piece.start):
            if not word.text.isdigit() and not any(start <= word.start < end for start, end in known):
                left.append(word.text)
    return left


def spoken_for(unit: Unit) -> list[tuple[int, int]]:
    """Return the stretches of a unit that its names, figures, times and stages take."""
    return [
        *((one.start, one.end) for one in unit.mentions),
        *((one.start, one.end) for one in unit.quantities),
        *((one.start, one.end) for one in unit.times),
        *((one.start, one.end) for one in unit.stages),
    ]


def others(unit: Unit, ears: Ears) -> str:
    """Return words that put what is said into another garden: "Anna's", "her", "at the arboretum"; "" for none."""
    names = {word for name in ears.names for word in name.casefold().split()}
    spans = spoken_for(unit)
    for piece in unit.pieces:
        for mention in unit.plants():
            if piece.start <= mention.start < piece.end:
                owner = OWNER.search(piece.text[: mention.start - piece.start])
                if owner and (owner[1] or "").casefold() not in NO_OWNERS | names:
                    return owner[0].strip()
        place_of = OWN_PLACE.search(piece.text)
        if place_of and place_of[1].casefold() not in NO_OWNERS | names:
            return place_of[0]
        if not ABOUT_TREES & set(unit.events):
            continue
        strange = set(strange_words(unit, ears))
        for place in ELSEWHERE.finditer(piece.text):
            at = place.start(1) + piece.start
            first = place[1].casefold().split()[0]
            if first in strange and first not in names and not any(start <= at < end for start, end in spans):
                return place[0]
    return ""


def unknown_in_list(unit: Unit, ears: Ears) -> str:
    """Return what a list of plants has that is nothing in the garden: "the plum and the quince"; "" for none."""
    if not ABOUT_TREES & set(unit.events) and "move" not in unit.events:
        return ""
    strange = set(strange_words(unit, ears))
    spans = spoken_for(unit)
    for piece in unit.pieces:
        named = LISTED.fullmatch(piece.text)
        if named is None or any(piece.start <= start < piece.end for start, _ in spans):
            continue
        if any(OSA.distance(named[1].casefold(), name.casefold()) <= 1 for name in ears.names):
            continue  # "all pots but the store fig"
        if {word.casefold() for word in named[1].split()} <= strange:
            return named[1]
    return ""


LISTED = re.compile(r"(?:the|my|our)\s+([a-z]{3,}(?:\s+[a-z]{3,})?)(?:\s+too)?", re.IGNORECASE)
