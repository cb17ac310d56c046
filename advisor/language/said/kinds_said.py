"""Plants spoken of by kind: "the peach by the gate", "all figs", "both pots", "the four small ones"."""

from __future__ import annotations

from collections.abc import Sequence

from advisor.language.names import OTHER_PLANTS, tokens
from advisor.language.said.called import word_slip
from advisor.language.said.mentions import Mention
from advisor.language.said.pieces import Word
from advisor.language.said.yard import Yard, YardPlant

ALL = {"all", "every", "both", "each"}
SIZES = {"small", "big", "tall", "little", "large", "old", "young", "new", "short"}
BEFORE_A_KIND = {*"23456789", "the", "my", "our", "potted", "other", "of"} | SIZES | ALL
PARTS = {"1", "some", "most", "few", "several", "many", "half", "any", "none", "part", "couple", "lots", "only"}
"""Words before a group that leave open which of it are meant: "one of the tubs"."""
POT_WORDS = {"pot", "pots", "potted", "tub", "tubs", "container", "containers", "ones"}


# ---- described: "the peach by the gate", "the Verdino at the porch"


def take_described(words: Sequence[Word], taken: list[bool], yard: Yard, found: list[Mention]) -> None:
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


def take_kinds(words: Sequence[Word], taken: list[bool], yard: Yard, found: list[Mention]) -> None:
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
            if any(len(own) >= 5 and word_slip(word, own) for own in _kind_words(yard, key))
        ]
    pots = word in POT_WORDS or (word == "1" and place > 0 and words[place - 1].text in SIZES | {"other"})
    if not species and not pots:
        return None
    after = words[place + 1].text if place + 1 < len(words) and not taken[place + 1] else ""
    if pots and word in ("pot", "tub") and any(after in _kind_words(yard, key) for key, _ in yard.species):
        return None  # "in the pot fig": the kind comes after it
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
    if species and first and words[first - 1].text in ("pot", "tub") and not taken[first - 1]:
        plants, first = [p for p in plants if p.in_pot], first - 1
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
    beside = _told_apart(words, first, plants) if species and not sizes else None
    if beside is not None:
        plants, first = beside, first - 1
    count = next((int(b) for b in before if b.isdigit()), None)
    plural = (word.endswith("s") and word != "citrus") or bool(ALL & set(before)) or (count or 0) > 1
    names = tuple(p.name for p in plants)
    start, end = words[first].start, words[place].end
    said = " ".join(w.text for w in words[first : place + 1])
    if not names:
        return (Mention("plant", (), start, end, False, unknown=said), first, place + 1) if species or sizes else None
    if first > 0 and words[first - 1].text in PARTS and not words[first].after_stop:
        return Mention("plant", names, start, end, sure=False, all_of_kind=True), first, place + 1
    whole = plural and (count is None or count == len(names)) and not ("both" in before and len(names) != 2)
    whole = whole and beside is None
    sure = (len(names) == 1 and not (plural and ALL & set(before) and count not in (None, 1))) or whole
    if pots and not plural:
        sure = len(names) == 1
    return Mention("plant", names, start, end, sure, all_of_kind=plural), first, place + 1


def _told_apart(words: Sequence[Word], first: int, plants: Sequence[YardPlant]) -> list[YardPlant] | None:
    """Return the plants of a kind that the word before tells apart, by their own names or their spot: "porch figs"."""
    if not first or words[first].after_stop:
        return None
    word = words[first - 1].text
    if len(word) < NAMING or word in BEFORE_A_KIND | PARTS:
        return None
    return [plant for plant in plants if word in tokens(plant.name) or word in tokens(plant.spot)] or None


NAMING = 4
"""Letters from which a word before a kind may be of a name: not "at" or "the"."""


def _as_size(word: str) -> str:
    """Return the size that a word with a slip means, "small" for "smal"; else the word."""
    if word in BEFORE_A_KIND or len(word) < 4:
        return word
    return next((size for size in sorted(SIZES) if word_slip(word, size)), word)
