"""Which plants and spots a stretch of a message speaks of: by name, in lists, by kind, all but some. Never a guess."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from rapidfuzz import fuzz
from rapidfuzz.distance import OSA

from advisor.language.names import OTHER_PLANTS, tokens
from advisor.language.said.pieces import Word, words_of
from advisor.language.said.yard import Yard

LONG_WORD, LONG_NAME = 7, 6
"""Letters from which one replaced is still a slip, and from which a name all of whose words slipped is still it."""
LIKE_ENOUGH = 50
"""Likeness from which a name is offered to someone whose own is not known (house judgement)."""
ALL = {"all", "every", "both", "each"}
BEFORE_A_KIND = {*"23456789", "the", "my", "our", "potted", "other", "of"}
PRONOUNS = {"it", "that", "this", "them", "they", "same", "there"}
SIZES = {"small", "big", "tall", "little", "large", "old", "young", "new", "short"}
BEFORE_A_KIND |= SIZES | ALL
POT_WORDS = {"pot", "pots", "potted", "tub", "tubs", "container", "containers", "ones"}


@dataclass(frozen=True, slots=True)
class Mention:
    """One thing spoken of, with its place. ``names`` are the plants or spots that it means, or may mean where not sure.

    ``kind`` is plant or spot. ``unknown`` is what was said where nothing in the garden is called so.
    """

    kind: str
    names: tuple[str, ...]
    start: int
    end: int
    sure: bool = True
    unknown: str = ""
    all_of_kind: bool = False


@dataclass(frozen=True)
class Subjects:
    """Plants and spots of a stretch, in order."""

    mentions: tuple[Mention, ...] = field(default_factory=tuple)

    @property
    def plants(self) -> list[Mention]:
        return [one for one in self.mentions if one.kind == "plant"]

    @property
    def spots(self) -> list[Mention]:
        return [one for one in self.mentions if one.kind == "spot"]


def find_subjects(text: str, yard: Yard, offset: int = 0) -> Subjects:
    """Return what a stretch of a message speaks of."""
    words = words_of(text, offset)
    found: list[Mention] = []
    taken = [False] * len(words)
    _take_numbered(words, taken, yard, found)
    _take_names(words, taken, yard, found)
    _take_tails(words, taken, yard, found)
    _take_described(words, taken, yard, found)
    _take_slips(words, taken, yard, found)
    _take_kinds(words, taken, yard, found)
    if not any(one.kind == "plant" for one in found):
        _take_pronoun(words, taken, yard, found)
    kept = _but_for(words, sorted(found, key=lambda one: one.start), yard)
    return Subjects(tuple(_either(text, offset, _without_kinds(kept, yard))))


# ---- numbered names: "small pots 1, 3 and 4"


def _take_numbered(words: Sequence[Word], taken: list[bool], yard: Yard, found: list[Mention]) -> None:
    """Take several names that differ by their number, told as one with a list of numbers."""
    bases: dict[tuple[str, ...], dict[str, str]] = {}
    for plant in yard.plants:
        own = tokens(plant.name)
        if len(own) > 1 and own[-1].isdigit():
            bases.setdefault(tuple(own[:-1]), {})[own[-1]] = plant.name
    for base, by_number in bases.items():
        plural = (*base[:-1], f"{base[-1]}s")
        for place in range(len(words) - len(base)):
            if tuple(word.text for word in words[place : place + len(base)]) not in (base, plural):
                continue
            end = place + len(base)
            numbers: list[str] = []
            while end < len(words) and (
                words[end].text == "and" or (words[end].text.isdigit() and _listed(words, end, numbers))
            ):
                numbers += [words[end].text] if words[end].text.isdigit() else []
                end += 1
            while end > place and words[end - 1].text == "and":
                end -= 1
            if len(numbers) < 2 or any(taken[place:end]):
                continue
            names = tuple(by_number[number] for number in numbers if number in by_number)
            sure = len(names) == len(numbers)
            found.append(Mention("plant", names, words[place].start, words[end - 1].end, sure, all_of_kind=True))
            taken[place:end] = [True] * (end - place)


def _listed(words: Sequence[Word], place: int, numbers: Sequence[str]) -> bool:
    """Return whether a number is the first of a list, or stands after "and" or a comma in it."""
    return not numbers or words[place - 1].text == "and" or words[place].after_stop


# ---- whole names


def _take_names(words: Sequence[Word], taken: list[bool], yard: Yard, found: list[Mention]) -> None:
    """Take whole names, the longest at each place."""
    names = [(tuple(tokens(p.name)), "plant", p.name) for p in yard.plants]
    names += [(tuple(tokens(s.name)), "spot", s.name) for s in yard.spots]
    names.sort(key=lambda entry: -len(entry[0]))
    place = 0
    while place < len(words):
        for own, kind, name in names:
            end = place + len(own)
            if own and _reads(words, place, end, own) and not any(taken[place:end]):
                longer = _longer_misspelt(words, place, end, name, kind, yard)
                extra = 1 if longer else 0
                sure = not longer
                found.append(
                    Mention(
                        kind, (name, *longer), words[place].start, words[min(end + extra, len(words)) - 1].end, sure
                    )
                )
                taken[place : end + extra] = [True] * (end + extra - place)
                place = end - 1
                break
        place += 1


def _reads(words: Sequence[Word], place: int, end: int, own: Sequence[str]) -> bool:
    """Return whether a name stands at a place, with no comma in it."""
    there = words[place:end]
    return tuple(word.text for word in there) == tuple(own) and not any(word.after_stop for word in there[1:])


def _longer_misspelt(words: Sequence[Word], place: int, end: int, name: str, kind: str, yard: Yard) -> tuple[str, ...]:
    """Return longer names that begin with a found one and whose next word stands there misspelt: "porch fig tow"."""
    if end >= len(words):
        return ()
    nxt = words[end].text
    others = [p.name for p in yard.plants] if kind == "plant" else [s.name for s in yard.spots]
    own = tokens(name)
    found = []
    for other in others:
        rest = tokens(other)[len(own) :]
        if len(rest) == 1 and tokens(other)[: len(own)] == own:
            spelt = {"1": "one", "2": "two", "3": "three", "4": "four", "5": "five"}.get(rest[0], rest[0])
            near = OSA.distance(nxt, spelt) == 1 and nxt not in _PLAIN_WORDS
            if nxt != rest[0] and (near or (nxt in ("to", "too") and spelt == "two" and end + 1 >= len(words))):
                found.append(other)
    return tuple(found)


_PLAIN_WORDS = {"to", "too", "for", "on", "in", "is", "now", "at", "the", "so", "as"}


def _take_tails(words: Sequence[Word], taken: list[bool], yard: Yard, found: list[Mention]) -> None:
    """Take the last words of one long name where no other name has them: "red limb"."""
    names = [("plant", plant.name) for plant in yard.plants] + [("spot", spot.name) for spot in yard.spots]
    for kind, name in names:
        own = tokens(name)
        for size in range(len(own) - 1, 1, -1):
            tail = own[-size:]
            others = [other for _, other in names if other != name and tokens(other)[-size:] == tail]
            place = next((n for n in range(len(words) - size + 1) if _reads(words, n, n + size, tail)), -1)
            if others or place < 0 or any(taken[place : place + size]):
                continue
            found.append(Mention(kind, (name,), words[place].start, words[place + size - 1].end))
            taken[place : place + size] = [True] * size
            break


# ---- described: "the peach by the gate", "the Verdino at the porch"


def _take_described(words: Sequence[Word], taken: list[bool], yard: Yard, found: list[Mention]) -> None:
    """Take a kind or a cultivar with a word of a place or name beside it that tells one plant apart."""
    for place, word in enumerate(words):
        if taken[place]:
            continue
        candidates = [plant for plant in yard.plants if word.text in _kind_words(yard, plant.species)]
        by_cultivar = [p for p in yard.plants if p.cultivar and tokens(p.cultivar)[0] == word.text]
        by_cultivar = [p for p in by_cultivar if _stands(words, place, tokens(p.cultivar))]
        if by_cultivar and not (OTHER_PLANTS & {w.text for w in words[max(0, place - 1) : place + 2]}):
            size = max(len(tokens(p.cultivar)) for p in by_cultivar)
            end = place + size
            if end < len(words) and not taken[end] and words[end].text in _kind_words(yard, by_cultivar[0].species):
                end += 1
            names = tuple(p.name for p in by_cultivar)
            found.append(Mention("plant", names, words[place].start, words[end - 1].end, len(names) == 1))
            taken[place:end] = [True] * (end - place)
            continue
        if len(candidates) < 1 or (word.text.endswith("s") and word.text not in ("mulberries",)):
            continue
        window = range(max(0, place - 3), min(len(words), place + 5))
        near = [n for n in window if n != place and not _stop_between(words, n, place)]
        beside = {words[n].text: n for n in near if not taken[n] or _is_spot_word(found, words[n])}
        told = []
        for plant in candidates:
            own = [w for w in tokens(plant.name) if w not in _kind_words(yard, plant.species)]
            spot = tokens(plant.spot)
            by_name = bool(own) and all(w in beside for w in own)
            by_spot = bool(spot) and all(w in beside for w in spot)
            if by_name or by_spot:
                told.append((by_name, plant.name, own if by_name else spot))
        best = [entry for entry in told if entry[0]] or told
        if best:
            used = {place, *(beside[w] for _, _, own in best for w in own)}
            first, last = min(used), max(used)
            if any(taken[n] and not _is_spot_word(found, words[n]) for n in range(first, last + 1)):
                continue
            inside = [one for one in found if one.kind == "spot" and words[first].start <= one.start <= words[last].end]
            for one in inside:
                found.remove(one)
            names = tuple(dict.fromkeys(name for _, name, _ in best))
            found.append(Mention("plant", names, words[first].start, words[last].end, len(names) == 1))
            taken[first : last + 1] = [True] * (last + 1 - first)


def _stop_between(words: Sequence[Word], one: int, other: int) -> bool:
    return any(word.after_stop for word in words[min(one, other) + 1 : max(one, other) + 1])


def _is_spot_word(found: Sequence[Mention], word: Word) -> bool:
    return any(one.kind == "spot" and one.start <= word.start < one.end for one in found)


def _stands(words: Sequence[Word], place: int, own: Sequence[str]) -> bool:
    return [word.text for word in words[place : place + len(own)]] == list(own)


def _kind_words(yard: Yard, species: str) -> set[str]:
    """Return the single words by which a kind goes: fig, figs; cherry for sweet cherry."""
    names = next((names for key, names in yard.species if key == species), ())
    return {tokens(name)[-1] for name in names if tokens(name)}


# ---- kinds: "figs", "all pots", "the four small ones"


def _take_kinds(words: Sequence[Word], taken: list[bool], yard: Yard, found: list[Mention]) -> None:
    place = 0
    while place < len(words):
        if taken[place]:
            place += 1
            continue
        hit = _kind_at(words, taken, place, yard)
        if hit is None:
            place += 1
            continue
        mention, first, end = hit
        found.append(mention)
        taken[first:end] = [True] * (end - first)
        place = end


def _kind_at(
    words: Sequence[Word], taken: Sequence[bool], place: int, yard: Yard
) -> tuple[Mention, int, int] | None:  # fmt: skip
    """Return a mention of a kind of plant or of pots that ends at a word, with the words that it takes."""
    word = words[place].text
    species = [key for key, _ in yard.species if word in _kind_words(yard, key)]
    if not species and len(word) >= 4:
        species = [
            key
            for key, _ in yard.species
            if any(len(own) >= 5 and _word_slip(word, own) for own in _kind_words(yard, key))
        ]
    pots = word in POT_WORDS or (word == "1" and place > 0 and words[place - 1].text in SIZES | {"other"})
    if not species and not pots:
        return None
    first = place
    while first > 0 and not taken[first - 1] and _as_size(words[first - 1].text) in BEFORE_A_KIND:
        first -= 1
    before = [_as_size(w.text) for w in words[first:place]]
    if word == "ones" and not (set(before) & (SIZES | ALL)) and not any(b.isdigit() for b in before):
        return None
    if OTHER_PLANTS & {w.text for w in words[max(0, place - 1) : place + 1]}:
        return None
    plants = (
        [p for p in yard.plants if p.species in species]
        if species
        else [p for p in yard.plants if p.in_pot or word == "1"]
    )
    if species and place + 1 < len(words) and words[place + 1].text in ("pot", "pots") and not taken[place + 1]:
        plants, place = [p for p in plants if p.in_pot], place + 1
    if "other" in before:
        spoken = {p.species for p in yard.plants if p.name in yard.spoken_plants}
        alike = plants if species else [p for p in yard.plants if p.species in spoken]
        plants = [p for p in alike if p.name not in yard.spoken_plants]
    if "potted" in before:
        plants = [p for p in plants if p.in_pot]
    sizes = [b for b in before if b in SIZES]
    if sizes:
        sized = [p for p in plants if all(size in tokens(p.name) for size in sizes)]
        plants = sized or (plants if not species else [])
        if not sized:
            plants = []
    count = next((int(b) for b in before if b.isdigit()), None)
    plural = (word.endswith("s") and word != "citrus") or bool(ALL & set(before)) or (count or 0) > 1
    names = tuple(p.name for p in plants)
    start, end = words[first].start, words[place].end
    said = " ".join(w.text for w in words[first : place + 1])
    if not names:
        return (Mention("plant", (), start, end, False, unknown=said), first, place + 1) if species or sizes else None
    whole = plural and (count is None or count == len(names)) and not ("both" in before and len(names) != 2)
    sure = (len(names) == 1 and not (plural and ALL & set(before) and count not in (None, 1))) or whole
    if pots and not plural:
        sure = len(names) == 1
    return Mention("plant", names, start, end, sure, all_of_kind=plural), first, place + 1


def _as_size(word: str) -> str:
    """Return the size that a word with a slip means, "small" for "smal"; else the word."""
    if word in BEFORE_A_KIND or len(word) < 4:
        return word
    return next((size for size in sorted(SIZES) if _word_slip(word, size)), word)


# ---- slips of the thumb


def _take_slips(words: Sequence[Word], taken: list[bool], yard: Yard, found: list[Mention]) -> None:
    """Take names spelt with a slip or cut short; those spelt with more are offered, not taken."""
    names = [(tokens(p.name), "plant", p.name) for p in yard.plants] + [
        (tokens(s.name), "spot", s.name) for s in yard.spots
    ]
    hits: list[tuple[int, int, int, str, str]] = []
    for own, kind, name in names:
        for start in range(len(words) - len(own) + 1):
            end = start + len(own)
            if any(taken[start:end]) or any(word.after_stop for word in words[start + 1 : end]):
                continue
            slips = _slips([word.text for word in words[start:end]], own)
            if slips:
                hits.append((slips, start, end, kind, name))
    hits += _joined_or_parted(words, taken, names)
    for slips, start, end, kind, name in sorted(hits, key=lambda hit: (-(hit[2] - hit[1]), hit[0])):
        if any(taken[start:end]):
            continue
        rivals = {
            other
            for s, a, b, k, other in hits
            if k == kind and a < end and b > start and b - a == end - start and s <= slips
        }
        taken[start:end] = [True] * (end - start)
        found.append(
            Mention(
                kind, (name, *sorted(rivals - {name}))[:4], words[start].start, words[end - 1].end, len(rivals) == 1
            )
        )


def _slips(said: Sequence[str], own: Sequence[str]) -> int:
    """Return in how many words a stretch differs from a name by a slip or a shortening, 0 where it is no such stretch."""
    count = 0
    for there, wanted in zip(said, own, strict=True):
        if there == wanted:
            continue
        if (
            wanted.isdigit()
            or there.isdigit()
            or there in _PLAIN_WORDS
            or not (_word_slip(there, wanted) or _shortened(there, wanted))
        ):
            return 0
        count += 1
    return count if count <= 2 and (count < len(own) or len("".join(own)) >= LONG_NAME) else 0


def _word_slip(said: str, own: str) -> bool:
    """Return whether a word is another with one letter left out, added or swapped: "prch", "paer".

    A letter replaced by another may make another word (wall and hall), so it counts in long words only.
    """
    if said[:1] != own[:1] or len(own) < 3:
        return False
    if OSA.distance(said, own) != 1:
        return False
    return len(said) != len(own) or sorted(said) == sorted(own) or len(own) >= LONG_WORD


NO_SHORTENINGS = {
    "my",
    "by",
    "try",
    "dry",
    "why",
    "cm",
    "mm",
    "ft",
    "lb",
    "kg",
    "hrs",
    "sky",
    "fry",
    "pls",
    "th",
    "st",
    "nd",
    "rd",
}


def _shortened(said: str, own: str) -> bool:
    """Return whether a word is another's consonants, as thumbs write them: "sth" for south, "blk" for black."""
    if (
        said in NO_SHORTENINGS
        or len(said) < 2
        or said[0] != own[0]
        or any(letter in "aeiou" for letter in said)
        or len(said) >= len(own)
    ):
        return False
    rest = iter(own)
    return all(letter in rest for letter in said)


def _joined_or_parted(
    words: Sequence[Word], taken: Sequence[bool], names: Sequence[tuple[list[str], str, str]]
) -> list[tuple[int, int, int, str, str]]:  # fmt: skip
    """Return names of which the space went astray: "southwall", "sout hwall"."""
    hits = []
    for own, kind, name in names:
        whole = "".join(own)
        if len(whole) < LONG_NAME or any(word.isdigit() for word in own):
            continue
        for size in {1, len(own)}:
            for start in range(len(words) - size + 1):
                stretch = [word.text for word in words[start : start + size]]
                if "".join(stretch) == whole and stretch != own and not any(taken[start : start + size]):
                    hits.append((1, start, start + size, kind, name))
    return hits


# ---- pronouns and exceptions


def _take_pronoun(words: Sequence[Word], taken: Sequence[bool], yard: Yard, found: list[Mention]) -> None:
    """Take "it", "that one", "the same spot" for what was spoken of last, where that was one thing."""
    for place, word in enumerate(words):
        if word.text in PRONOUNS and not taken[place]:
            if found and word.text not in ("it", "them", "they", "that", "this"):
                continue
            if word.text == "there" and yard.spoken_spots:
                found.append(Mention("spot", yard.spoken_spots, word.start, word.end, len(yard.spoken_spots) == 1))
                return
            alone = {"it", "them", "they"}
            nxt = words[place + 1].text if place + 1 < len(words) else ""
            if word.text not in alone and nxt not in ("1", "spot", "place", "plant", "tree", "fig", "bed"):
                continue
            if yard.spoken_plants and nxt not in ("spot", "place", "bed"):
                sure = len(yard.spoken_plants) == 1 or word.text in ("them", "they")
                found.append(Mention("plant", yard.spoken_plants, word.start, word.end, sure))
            elif yard.spoken_spots and not found:
                found.append(Mention("spot", yard.spoken_spots, word.start, word.end, len(yard.spoken_spots) == 1))
            return


EXCEPT = {"except", "but", "excluding", "apart", "without", "save", "bar"}


def _but_for(words: Sequence[Word], found: list[Mention], yard: Yard) -> list[Mention]:
    """Take away what stands after "except" from the group before it."""
    at = next((w.start for w in words if w.text in EXCEPT), None)
    if at is None:
        return found
    before = [one for one in found if one.start < at]
    after = [one for one in found if one.start > at]
    group = next((one for one in reversed(before) if one.kind == "plant" and len(one.names) > 1), None)
    if group is None:
        return found
    out: set[str] = set()
    sure = bool(after) and group.sure
    for one in after:
        inside = [name for name in one.names if name in group.names]
        if len(inside) == 1 or (one.sure and inside):
            out |= set(inside)
        else:
            sure = False
    names = tuple(name for name in group.names if name not in out)
    left = Mention("plant", names, group.start, group.end, sure and bool(names), all_of_kind=True)
    return [*(one for one in before if one is not group), left]


def _without_kinds(found: Sequence[Mention], yard: Yard) -> list[Mention]:
    """Leave out a kind that only says again what a named plant is: "first ripe fig off the wall fig"."""
    named = {plant.species for plant in yard.plants for one in found if one.sure and one.names == (plant.name,)}
    kept = []
    for one in found:
        kinds = {plant.species for plant in yard.plants if plant.name in one.names}
        vague = one.kind == "plant" and not one.sure and len(one.names) > 1 and not one.all_of_kind
        if not (vague and len(kinds) == 1 and kinds <= named):
            kept.append(one)
    return kept


def _either(text: str, offset: int, found: Sequence[Mention]) -> list[Mention]:
    """Put two mentions with "or" between them into one that is not sure."""
    kept: list[Mention] = []
    for one in found:
        last = kept[-1] if kept else None
        if (
            last
            and last.kind == one.kind
            and re.fullmatch(
                r"\s*,?\s*or\s+(?:the\s+|was\s+it\s+)*", text[last.end - offset : one.start - offset], re.IGNORECASE
            )
        ):
            kept[-1] = Mention(one.kind, (*last.names, *one.names), last.start, one.end, sure=False)
        else:
            kept.append(one)
    return kept


def nearest_names(said: str, names: Iterable[str]) -> list[str]:
    """Return the names most like what was said, nearest first, for offering and never for taking."""
    scored = [(fuzz.ratio(" ".join(tokens(said)), " ".join(tokens(name))), name) for name in names]
    best = sorted(scored, key=lambda entry: (-entry[0], entry[1]))[:4]
    return [name for score, name in best if score >= LIKE_ENOUGH]


def unnamed_place(text: str, subjects: Subjects, offset: int = 0) -> str:
    """Return the words after "at", "by" and the like that name nothing in the garden, "" for none.

    They keep a message from being logged at the only spot that it does name.
    """
    for match in NAMED_PLACE.finditer(text):
        start, end = match.start(1) + offset, match.end(1) + offset
        if any(one.start < end and start < one.end for one in subjects.mentions):
            continue
        if match[1].split()[0].casefold() not in NO_PLACES:
            return match[1]
    return ""


NAMED_PLACE = re.compile(
    r"\b(?:at|by|near|beside|behind)\s+(?:the\s+)?([a-z][a-z'-]*(?:\s+[a-z][a-z'-]*)?)",
    re.IGNORECASE,
)
NO_PLACES = {
    "noon", "midday", "night", "dawn", "dusk", "last", "least", "most", "about", "around", "sunset", "sunrise",
    "lunch", "lunchtime", "all", "once", "first", "hand", "half", "quarter", "eight", "nine", "ten", "eleven",
    "twelve", "one", "two", "three", "four", "five", "six", "seven", "it", "that", "this", "them", "nodes", "node",
    "base", "tip", "tips", "bottom", "top", "depth", "tea", "breakfast", "day", "frost", "mistake", "itself", "far",
    "now", "then", "present", "ground", "soil", "level", "midnight",
}  # fmt: skip
"""Words after "at" and "by" that are times and the like."""
