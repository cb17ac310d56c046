"""Which of the grower's plants, spots and kinds of tree a message names. Never a guess: doubt stays doubt."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

from rapidfuzz import fuzz
from rapidfuzz.distance import OSA

CONTRACTED = (
    ("won't", "will not"),
    ("can't", "can not"),
    ("n't", " not"),
    ("'s", " is"),
    ("'re", " are"),
    ("'ve", " have"),
)
BARE = {"isnt": "is not", "hasnt": "has not", "arent": "are not", "havent": "have not", "doesnt": "does not",
        "wont": "will not", "cant": "can not", "whys": "why is", "wheres": "where is", "whats": "what is",
        "hows": "how is", "whens": "when is", "tonite": "tonight", "tonights": "tonight is",
        "gonna": "going to"}  # fmt: skip
OTHER_PLANTS = {"mint", "potato", "potatoes", "corn", "prickly", "custard", "maple", "maples", "rose", "roses", "thyme",
                "cactus", "grass", "tomato", "tomatoes", "laurel", "rowan", "pea", "peas", "bean", "beans"}  # fmt: skip
"""Words that make another plant of a tree's name: apple mint, prickly pear, custard apple, cherry tomato."""
NUMBERS = {"one": "1", "two": "2", "three": "3", "four": "4", "five": "5", "six": "6", "seven": "7", "eight": "8",
           "nine": "9", "ten": "10", "eleven": "11", "twelve": "12"}  # fmt: skip
SPELT = {number: word for word, number in NUMBERS.items()}
CLOSE = 84
"""Likeness from which a misspelt name counts as near; 100 is equal (house judgement, tried on the demo's names)."""
ARTICLES = {"the", "a", "an", "my", "our"}
"""Words that are no part of a name, however like one they are: "the apricot" is no misspelt gate apricot."""
MOST_BETWEEN = 2
"""Words that may stand between those of a name (house judgement, like the other figures here)."""
SUGGESTED = 72
"""Likeness from which a name is worth offering to someone whose own was not found."""
CLOSE_ENDING = 70
"""The same for the few letters that tell a longer name from a shorter one."""


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
    return list(_tokens(text))


@lru_cache(maxsize=8192)
def _spaced(name: str) -> str:
    """Return a name's words as they stand in a message, with a blank before and after; "" for one without words."""
    words = _tokens(name)
    return f" {' '.join(words)} " if words else ""


@lru_cache(maxsize=8192)
def _tokens(text: str) -> tuple[str, ...]:
    """Return tokens once for each text: a garden's names come again with every word of a message."""
    text = unicodedata.normalize("NFKC", text).casefold().replace("’", "'")
    for short, long in CONTRACTED:
        text = text.replace(short, long)
    words = re.findall(r"[^\W_]+", text)
    return tuple(part for word in words for part in BARE.get(word, NUMBERS.get(word, word)).split())


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
    there = set(said)
    scattered = [
        plant.name for plant in plants if there.issuperset(own := _tokens(plant.name)) and _close_together(said, own)
    ]
    longest = max((len(tokens(name)) for name in scattered), default=0)
    scattered = [name for name in scattered if len(tokens(name)) == longest]
    if scattered and longest > 1:
        return Found(tuple(scattered), len(scattered) == 1, "name")
    heads = [name for name, _ in heads_in(said, [plant.name for plant in plants], species)]
    if len(heads) == 1:
        return Found(tuple(heads), True, "name")
    kinds = {key for key, names in species if _whole(said, names) or any(tokens(n)[-1] in said for n in names)}
    described = _described(said, plants, kinds)
    if described:
        return Found(tuple(described), len(described) == 1, "description")
    near = _near([word for word in said if word not in ARTICLES], [plant.name for plant in plants])
    of_kind = [plant.name for plant in plants if plant.species in kinds]
    told = [name for name in of_kind if _own_words(name, species) & set(said)]
    of_kind = told or of_kind
    if len(of_kind) == 1:
        return Found(tuple(of_kind), True, "kind")
    if near and near[0][1] >= CLOSE:
        close = [name for name, score in near if score >= CLOSE or _starts_near(said, name)]
        sure = len(close) == 1 and _is_slip(said, close[0])
        return Found(tuple(close[:4]), sure, "near")
    if of_kind:
        return Found(tuple(of_kind), len(of_kind) == 1, "kind")
    return Found(tuple(name for name, score in near[:4] if score >= SUGGESTED), False, "unknown")


def heads_in(
    said: Sequence[str], names: Iterable[str], species: Iterable[tuple[str, Sequence[str]]]
) -> list[tuple[str, list[str]]]:
    """Return names of three words or more of which all but the kind stands in a message, where no other name has that.

    >>> heads_in(["the", "tall", "pot"], ["tall pot fig", "porch fig two", "wall fig"], [("fig", ("fig",))])
    [('tall pot fig', ['tall', 'pot'])]
    """
    kinds = {_tokens(name)[-1] for _, called in species for name in called if _tokens(name)}
    text = f" {' '.join(said)} "
    listed = list(dict.fromkeys(names))
    there = [
        (name, own[:-1])
        for name in listed
        if len(own := _tokens(name)) > 2 and own[-1] in kinds and f" {' '.join(own[:-1])} " in text
    ]
    return [
        (name, list(head))
        for name, head in there
        if sum(f" {' '.join(head)} " in _spaced(other) for other in listed) == 1
    ]


def find_species(message: str, species: Iterable[tuple[str, Sequence[str]]]) -> Found:
    """Return which kind of tree a message names.

    A word that several kinds share names them all; a name spelt nearly so is offered, not taken. A word that makes
    another plant of it (apple mint, prickly pear) leaves nothing.
    """
    said = tokens(message)
    if OTHER_PLANTS & set(said):
        return Found()
    listed = list(species)
    every = {name: key for key, names in listed for name in names}
    whole = _whole(said, list(every))
    if whole:
        keys = list(dict.fromkeys(every[name] for name in whole))
        return Found(tuple(keys), len(keys) == 1, "name")
    nouns = {word for word in said if len(word) > 3}
    shared = [key for key, names in listed if any(len(tokens(n)) > 1 and tokens(n)[-1] in nouns for n in names)]
    if shared:
        return Found(tuple(dict.fromkeys(shared)), False, "part")
    near = _near(said, list(every))
    close = [name for name, score in near if score >= CLOSE and len(name) > 3]
    if close:
        keys = list(dict.fromkeys(every[name] for name in close))
        return Found(tuple(keys), len(keys) == 1 and _is_slip(said, close[0]), "near")
    return Found()


def find_spots(message: str, spots: Sequence[str], others: Iterable[str] = ()) -> Found:
    """Return the spots that a message names, in the order of the message; several may be named at once.

    ``others`` are names of plants: what stands inside one of them names no spot, as the porch in "porch fig". Whole
    names come first; a name with one slip in it is sure, one spelt only nearly so is a candidate.

    >>> find_spots("is the shed bed warmer than the sout wall", ["shed bed", "south wall"]).names
    ('shed bed', 'south wall')
    """
    said = _without(tokens(message), _whole(tokens(message), others))
    whole = _whole(said, spots)
    left = _without(said, whole)
    slips = [name for name in spots if name not in whole and _is_slip(left, name)]
    near = [name for name, score in _near(left, spots) if score >= CLOSE and name not in (*whole, *slips)]
    if slips or not near:
        names = sorted([*whole, *slips], key=lambda name: _place_of(said, name))
        return Found(tuple(names), bool(names), "near" if slips else "name" if names else "")
    return Found(tuple([*whole, *near][:4]), False, "near")


def whole_plants(message: str, plants: Sequence[NamedPlant]) -> list[NamedPlant]:
    """Return the plants whose whole names stand in a message."""
    names = _whole(tokens(message), [plant.name for plant in plants])
    return [plant for plant in plants if plant.name in names]


def _without(said: Sequence[str], names: Iterable[str]) -> list[str]:
    """Return a message's words with each name's stretch replaced by a mark, so that nothing joins across it."""
    left = list(said)
    for own in map(tokens, names):
        for start in range(len(left) - len(own), -1, -1):
            if left[start : start + len(own)] == own:
                left[start : start + len(own)] = ["|"]
    return left


def _place_of(said: Sequence[str], name: str) -> int:
    """Return where in a message the first word of a name, or something like it, stands."""
    first = tokens(name)[0]
    return max(range(len(said)), key=lambda place: (fuzz.ratio(said[place], first), -place), default=0)


def _own_words(name: str, species: Iterable[tuple[str, Sequence[str]]]) -> set[str]:
    """Return the words of a plant's name that say more than its kind: "red" of "red tub fig"."""
    common = {word for _, names in species for kind in names for word in tokens(kind)}
    return {word for word in tokens(name) if word not in common and len(word) > 2}


def _is_slip(said: Sequence[str], name: str) -> bool:
    """Return whether a stretch of the message is a name with one letter left out, doubled, added or swapped.

    A letter replaced by another may be another word (wall and hall), so it is none.
    """
    own = " ".join(tokens(name))
    for start in range(len(said)):
        for end in range(start + 1, min(len(said), start + 6) + 1):
            stretch = " ".join(said[start:end])
            if stretch[:1] != own[:1]:
                continue
            if OSA.distance(stretch, own) == 1 and (len(stretch) != len(own) or sorted(stretch) == sorted(own)):
                return True
    return False


def _starts_near(said: Sequence[str], name: str) -> bool:
    """Return whether a longer name begins with something like what was said: "padock fig" and "paddock fig two"."""
    own = tokens(name)
    return any(score >= CLOSE for _, score in _near(said, [" ".join(own[:size]) for size in range(2, len(own))]))


def _whole(said: Sequence[str], names: Iterable[str]) -> list[str]:
    """Return the names whose words stand together in the message, without those inside a longer one."""
    text = f" {' '.join(said)} "
    there = [name for name in dict.fromkeys(names) if (own := _spaced(name)) and own in text]
    return [name for name in there if not any(other != name and _spaced(name) in _spaced(other) for other in there)]


def _close_together(said: Sequence[str], own: Sequence[str]) -> bool:
    """Return whether all words of a name stand within a few words of each other: "the fig at the shed"."""
    size = len(own) + MOST_BETWEEN
    return any(set(own) <= set(said[start : start + size]) for start in range(max(len(said) - len(own) + 1, 0)))


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
    stretches: dict[int, dict[tuple[str, ...], list[str]]] = {}
    scored = []
    for name in dict.fromkeys(names):
        own = _tokens(name)
        digits, spelt, best = _digits(own), " ".join(own), 0.0
        for size in {len(own) - 1, len(own), len(own) + 1} - {0}:
            if size not in stretches:
                stretches[size] = _stretches(said, size)
            for stretch in stretches[size].get(digits, ()):
                best = max(best, fuzz.ratio(stretch, spelt))
        scored.append((name, best))
    return sorted(scored, key=lambda entry: (-entry[1], entry[0]))


def _digits(words: Sequence[str]) -> tuple[str, ...]:
    return tuple(word for word in words if word.isdigit())


def _stretches(said: Sequence[str], size: int) -> dict[tuple[str, ...], list[str]]:
    """Return all stretches of so many words, by the numbers in them."""
    found: dict[tuple[str, ...], list[str]] = {}
    for start in range(max(len(said) - size + 1, 0)):
        stretch = said[start : start + size]
        found.setdefault(_digits(stretch), []).append(" ".join(stretch))
    return found
