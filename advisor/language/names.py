"""Which of the grower's plants, spots and kinds of tree a message names. Never a guess: doubt stays doubt."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from rapidfuzz import fuzz

CONTRACTED = (
    ("won't", "will not"),
    ("can't", "can not"),
    ("n't", " not"),
    ("'s", " is"),
    ("'re", " are"),
    ("'ve", " have"),
)
BARE = {"isnt": "is not", "hasnt": "has not", "arent": "are not", "havent": "have not", "doesnt": "does not",
        "wont": "will not", "cant": "can not", "whys": "why is", "wheres": "where is", "whats": "what is"}  # fmt: skip
NUMBERS = {"one": "1", "two": "2", "three": "3", "four": "4", "five": "5", "six": "6", "seven": "7", "eight": "8",
           "nine": "9", "ten": "10", "eleven": "11", "twelve": "12"}  # fmt: skip
SPELT = {number: word for word, number in NUMBERS.items()}
CLOSE = 84
"""Likeness from which a misspelt name counts as near; 100 is equal (house judgement, tried on the demo's names)."""
SUGGESTED = 72
"""Likeness from which a name is worth offering to someone whose own was not found."""
CLOSE_ENDING = 70
"""The same for the few letters that tell a longer name from a shorter one."""
LEAD = 6
"""How much closer the nearest name must be than the next one to be taken."""


@dataclass(frozen=True, slots=True)
class NamedPlant:
    """A plant as a message may name it."""

    name: str
    species: str
    spot: str = ""
    cultivar: str = ""


@dataclass(frozen=True)
class Found:
    """What a message may mean: ``sure`` when it can mean only one, else the candidates, nearest first."""

    names: tuple[str, ...] = ()
    sure: bool = False
    via: str = ""


def tokens(text: str) -> list[str]:
    """Return a message's words, folded, with contractions spelt out, small numbers as digits, and all else left out.

    >>> tokens("Why's the Shed-fig  so slow?!")
    ['why', 'is', 'the', 'shed', 'fig', 'so', 'slow']
    """
    text = unicodedata.normalize("NFKC", text).casefold().replace("’", "'")
    for short, long in CONTRACTED:
        text = text.replace(short, long)
    words = re.findall(r"[^\W_]+", text)
    return [part for word in words for part in BARE.get(word, NUMBERS.get(word, word)).split()]


def find_plant(message: str, plants: Sequence[NamedPlant], species: Iterable[tuple[str, Sequence[str]]]) -> Found:
    """Return which plant a message names.

    In order: a whole name, the longest one standing there; all words of one name in any order; a cultivar or a kind
    with its spot; a name spelt nearly so. A kind alone means all plants of it.
    """
    said = tokens(message)
    whole = _whole(said, [plant.name for plant in plants])
    if whole:
        meant = [*whole, *_misspelt_longer(said, whole, [plant.name for plant in plants])]
        return Found(tuple(meant), len(meant) == 1, "name")
    scattered = [plant.name for plant in plants if set(tokens(plant.name)) <= set(said)]
    longest = max((len(tokens(name)) for name in scattered), default=0)
    scattered = [name for name in scattered if len(tokens(name)) == longest]
    if scattered and longest > 1:
        return Found(tuple(scattered), len(scattered) == 1, "name")
    kinds = {key for key, names in species if _whole(said, names)}
    described = _described(said, plants, kinds)
    if described:
        return Found(tuple(described), len(described) == 1, "description")
    near = _near(said, [plant.name for plant in plants])
    of_kind = [plant.name for plant in plants if plant.species in kinds]
    if near and (near[0][1] >= CLOSE):
        lead = len(near) == 1 or near[0][1] - near[1][1] >= LEAD
        return Found(tuple(name for name, _ in near[:4]), lead, "near")
    if of_kind:
        return Found(tuple(of_kind), len(of_kind) == 1, "kind")
    return Found(tuple(name for name, score in near[:4] if score >= SUGGESTED), False, "unknown")


def find_species(message: str, species: Iterable[tuple[str, Sequence[str]]]) -> Found:
    """Return which kind of tree a message names; a word that several share names them all."""
    said = tokens(message)
    listed = list(species)
    every = {name: key for key, names in listed for name in names}
    whole = _whole(said, list(every))
    if whole:
        keys = list(dict.fromkeys(every[name] for name in whole))
        return Found(tuple(keys), len(keys) == 1, "name")
    shared = [
        key for key, names in listed if any(word in tokens(name) for name in names for word in said if len(word) > 3)
    ]
    if shared:
        return Found(tuple(dict.fromkeys(shared)), len(set(shared)) == 1, "part")
    near = _near(said, list(every))
    if near and near[0][1] >= CLOSE:
        keys = list(dict.fromkeys(every[name] for name, score in near if score >= CLOSE))
        return Found(tuple(keys), len(keys) == 1, "near")
    return Found()


def _whole(said: Sequence[str], names: Iterable[str]) -> list[str]:
    """Return the names whose words stand together in the message, without those inside a longer one."""
    text = f" {' '.join(said)} "
    there = [name for name in dict.fromkeys(names) if tokens(name) and f" {' '.join(tokens(name))} " in text]
    return [
        name
        for name in there
        if not any(other != name and f" {' '.join(tokens(name))} " in f" {' '.join(tokens(other))} " for other in there)
    ]


def _misspelt_longer(said: Sequence[str], whole: Sequence[str], names: Sequence[str]) -> list[str]:
    """Return longer names that begin with a found one and may be meant: "porch fig to" beside "porch fig two"."""
    found = []
    for short in (tokens(name) for name in whole):
        start = next(n for n in range(len(said)) if list(said[n : n + len(short)]) == short)
        after = said[start + len(short) :]
        for name in names:
            rest = tokens(name)[len(short) :]
            if rest and tokens(name)[: len(short)] == short and name not in whole and after:
                stretch = " ".join(after[: len(rest)])
                spelt = " ".join(SPELT.get(word, word) for word in rest)
                if fuzz.ratio(stretch, spelt) >= CLOSE_ENDING:
                    found.append(name)
    return found


def _described(said: Sequence[str], plants: Sequence[NamedPlant], kinds: set[str]) -> list[str]:
    """Return plants of a named kind that a cultivar or a spot in the message tells apart."""
    by_cultivar = [plant for plant in plants if plant.cultivar and set(tokens(plant.cultivar)) <= set(said)]
    if kinds:
        by_cultivar = [plant for plant in by_cultivar if plant.species in kinds]
    if by_cultivar:
        return [plant.name for plant in by_cultivar]
    spots = _whole(said, [plant.spot for plant in plants if plant.spot])
    return [plant.name for plant in plants if plant.spot in spots and plant.species in kinds]


def _near(said: Sequence[str], names: Sequence[str]) -> list[tuple[str, float]]:
    """Return names by likeness to any stretch of the message; digits must agree exactly."""
    scored = []
    for name in dict.fromkeys(names):
        own = tokens(name)
        digits = [word for word in own if word.isdigit()]
        best = 0.0
        for size in {len(own) - 1, len(own), len(own) + 1} - {0}:
            for start in range(max(len(said) - size + 1, 0)):
                stretch = said[start : start + size]
                if [word for word in stretch if word.isdigit()] == digits:
                    best = max(best, fuzz.ratio(" ".join(stretch), " ".join(own)))
        scored.append((name, best))
    return sorted(scored, key=lambda entry: (-entry[1], entry[0]))
