"""Names as they are typed: whole, by their last words, in the plural, misspelt or cut short. Never a guess."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from rapidfuzz.distance import OSA

from advisor.language.names import heads_in, tokens
from advisor.language.said.mentions import Mention
from advisor.language.said.pieces import Word
from advisor.language.said.yard import Yard

LONG_WORD, LONG_NAME = 7, 6
"""Letters from which one replaced is still a slip, and from which a name all of whose words slipped is still it."""
NEAR_WORD = 4
"""Letters from which a word two slips off a name's word may still be it."""
PARTED_NAMES = frozenset(
    (
        "little", "small", "smaller", "lil", "young", "younger", "old", "older", "ol", "oldest", "other", "big",
        "bigger", "tall", "new",
    )
)  # fmt: skip
"""Words of size or age, one of which may stand for another in a name."""
POTS = frozenset(("pots", "tubs", "containers", "ones"))


# ---- whole names


def take_names(words: Sequence[Word], taken: list[bool], yard: Yard, found: list[Mention]) -> None:
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
                fuller = _fuller(words, place, name, kind, yard)
                if fuller:
                    found.append(Mention(kind, fuller, words[place - 1].start, words[end - 1].end, len(fuller) == 1))
                    taken[place - 1 : end] = [True] * (end - place + 1)
                    place = end - 1
                    break
                found.append(
                    Mention(
                        kind, (name, *longer), words[place].start, words[min(end + extra, len(words)) - 1].end, sure
                    )
                )
                taken[place : end + extra] = [True] * (end + extra - place)
                place = end - 1
                break
        place += 1


def _fuller(words: Sequence[Word], place: int, name: str, kind: str, yard: Yard) -> tuple[str, ...]:
    """Return the longer name that ends in this one where the word before may belong to it: "litle Dauphin".

    A slip of the longer name's word means that one; another word of size or age may mean either.
    """
    before = words[place - 1].text if place and not words[place].stop else ""
    own = tokens(name)
    names = [p.name for p in yard.plants] if kind == "plant" else [s.name for s in yard.spots]
    longer = [other for other in names if tokens(other)[1:] == own]
    if not before or not longer:
        return ()
    slipped = [
        other for other in longer if word_slip(before, tokens(other)[0]) or OSA.distance(before, tokens(other)[0]) == 1
    ]
    if slipped:
        return tuple(slipped)
    return (
        (name, *longer)
        if before in PARTED_NAMES or (len(before) >= NEAR_WORD and OSA.distance(before, tokens(longer[0])[0]) == 2)
        else ()
    )


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


def take_tails(words: Sequence[Word], taken: list[bool], yard: Yard, found: list[Mention]) -> None:
    """Take the last words of one long name where no other name has them: "red limb"."""
    names = [("plant", plant.name) for plant in yard.plants] + [("spot", spot.name) for spot in yard.spots]
    ends: Counter[tuple[str, ...]] = Counter()
    for name in {name for _, name in names}:
        own = tokens(name)
        ends.update(tuple(own[-size:]) for size in range(2, len(own) + 1))
    said = {word.text for word in words}
    for kind, name in names:
        own = tokens(name)
        if own[-1] not in said:
            continue
        for size in range(len(own) - 1, 1, -1):
            tail = own[-size:]
            place = next((n for n in range(len(words) - size + 1) if _reads(words, n, n + size, tail)), -1)
            if ends[tuple(tail)] > 1 or place < 0 or any(taken[place : place + size]):
                continue
            found.append(Mention(kind, (name,), words[place].start, words[place + size - 1].end))
            taken[place : place + size] = [True] * size
            break


def take_heads(words: Sequence[Word], taken: list[bool], yard: Yard, found: list[Mention]) -> None:
    """Take the first words of one long name, its kind left out, where no other name has them: "tall pot"."""
    spots = [spot.name for spot in yard.spots]
    said = [word.text for word in words]
    for name, own in heads_in(said, [*(plant.name for plant in yard.plants), *spots], yard.species):
        place = next((n for n in range(len(words) - len(own) + 1) if _reads(words, n, n + len(own), own)), -1)
        if place >= 0 and name not in spots and not any(taken[place : place + len(own)]):
            found.append(Mention("plant", (name,), words[place].start, words[place + len(own) - 1].end))
            taken[place : place + len(own)] = [True] * len(own)


# ---- slips of the thumb


def take_slips(words: Sequence[Word], taken: list[bool], yard: Yard, found: list[Mention]) -> None:
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
    _take_plurals(words, taken, yard, found)
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


def _take_plurals(words: Sequence[Word], taken: list[bool], yard: Yard, found: list[Mention]) -> None:
    """Take the plural of a word that several names end in: "both Dauphins"; sure with "both" or "all" before it."""
    for place, word in enumerate(words):
        if taken[place] or not word.text.endswith("s") or word.text in POTS:
            continue
        spots = tuple(s.name for s in yard.spots if tokens(s.name)[-1] == word.text[:-1])
        names = spots or tuple(p.name for p in yard.plants if tokens(p.name)[-1] == word.text[:-1])
        if len(names) < 2 or any(word.text[:-1] in tokens(name) for _, kinds in yard.species for name in kinds):
            continue
        before = words[place - 1].text if place else ""
        sure = before == "all" or (before in ("both", "2") and len(names) == 2)
        found.append(Mention("spot" if spots else "plant", names, word.start, word.end, sure, all_of_kind=True))
        taken[place] = True


def _slips(said: Sequence[str], own: Sequence[str]) -> int:
    """Return in how many words a stretch differs from a name by slips or shortenings, 0 where it is no such name."""
    count = 0
    for there, wanted in zip(said, own, strict=True):
        if there == wanted:
            continue
        if (
            wanted.isdigit()
            or there.isdigit()
            or there in _PLAIN_WORDS
            or not (word_slip(there, wanted) or _shortened(there, wanted))
        ):
            return 0
        count += 1
    return count if count <= 2 and (count < len(own) or len("".join(own)) >= LONG_NAME) else 0


def word_slip(said: str, own: str) -> bool:
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
