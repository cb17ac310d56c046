"""Which plants and spots a stretch of a message speaks of: by name, in lists, by kind, all but some. Never a guess."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from itertools import pairwise

from rapidfuzz import fuzz

from advisor.language.names import tokens
from advisor.language.said.called import take_heads, take_names, take_slips, take_tails
from advisor.language.said.kinds_said import take_described, take_kinds
from advisor.language.said.mentions import Mention, Subjects
from advisor.language.said.numbered import take_numbered
from advisor.language.said.pieces import Word, words_of
from advisor.language.said.yard import Yard

LIKE_ENOUGH = 50
"""Likeness from which a name is offered to someone whose own is not known (house judgement)."""
PRONOUNS = {"it", "that", "this", "them", "they", "same", "there"}


def find_subjects(text: str, yard: Yard, offset: int = 0) -> Subjects:
    """Return what a stretch of a message speaks of."""
    words = words_of(text, offset)
    found: list[Mention] = []
    taken = [False] * len(words)
    take_numbered(words, taken, yard, found)
    take_names(words, taken, yard, found)
    take_tails(words, taken, yard, found)
    take_heads(words, taken, yard, found)
    take_described(words, taken, yard, found)
    take_slips(words, taken, yard, found)
    take_kinds(words, taken, yard, found)
    _take_limb(words, taken, yard, found)
    if not any(one.kind == "plant" for one in found):
        _take_pronoun(words, taken, yard, found)
    kept = _but_for(words, sorted(found, key=lambda one: one.start), yard)
    kept = _without_kinds(text, offset, _narrowed(text, offset, kept, yard), yard)
    kept = _without_trees(text, offset, kept)
    return Subjects(tuple(_either(text, offset, kept)))


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
        at = _denied_from(words, found)
        if at is None:
            return found
        denied = {name for one in found if one.start > at for name in one.names}
        told = [one for one in found if one.start < at]
        if not any(len(one.names) > 1 and denied & set(one.names) for one in told):
            return told  # "pinched the glass fig not the corner fig"
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


def _denied_from(words: Sequence[Word], found: Sequence[Mention]) -> int | None:
    """Return where a plant is named after a "not" that stands between it and those before: "not the corner fig"."""
    plants = [one for one in found if one.kind == "plant"]
    for before, after in pairwise(plants):
        between = [word for word in words if before.end <= word.start < after.start]
        if [word.text for word in between if word.text not in ("the", "my", "but", "and")] == ["not"]:
            return between[0].start
    return None


def _narrowed(text: str, offset: int, found: Sequence[Mention], yard: Yard) -> list[Mention]:
    """Narrow groups by what follows: "all figs in the ground", "the figs at the bank", "the figs Dauphin and ..."."""
    kept: list[Mention] = []
    skip: Mention | None = None
    for place, one in enumerate(found):
        if one is skip:
            continue
        after = found[place + 1] if place + 1 < len(found) else None
        rest = text[one.end - offset :]
        between = text[one.end - offset : after.start - offset] if after else ""
        if not one.all_of_kind or len(one.names) < 2:
            kept.append(one)
        elif after and after.kind == "plant" and not between.strip(" :,") and set(after.names) <= set(one.names):
            continue  # the names say which of the group are meant
        elif after and after.kind == "plant" and FRUIT_OF.fullmatch(between):
            continue  # "the figs on the wall fig" are its fruit
        elif how := GROWN.match(rest):
            names = tuple(
                p.name for p in yard.plants if p.name in one.names and p.in_pot == (how[1][0].casefold() != "g")
            )
            kept.append(
                Mention("plant", names, one.start, one.end + how.end(), one.sure and bool(names), all_of_kind=True)
            )
        elif after and after.kind == "spot" and BROUGHT.search(text[: one.start - offset]) and INTO.fullmatch(between):
            kept.append(one)  # "brought all pots in the store": there is where they went
        elif after and after.kind == "spot" and STANDING.fullmatch(between):
            names = tuple(p.name for p in yard.plants if p.name in one.names and p.spot in after.names)
            kept.append(Mention("plant", names, one.start, after.end, one.sure and bool(names), all_of_kind=True))
            skip = after
        elif STANDING.match(rest) and not SEEN_IN.match(rest):
            kept.append(Mention("plant", one.names, one.start, one.end, sure=False, all_of_kind=True))
        else:
            kept.append(one)
    return kept


BROUGHT = re.compile(r"\b(?:brought|carried|moved|took|put|got|wheeled|lugged|dragged|hauled)\b", re.IGNORECASE)
INTO = re.compile(r"\s+in\s+(?:the\s+)?", re.IGNORECASE)
FRUIT_OF = re.compile(r"\s+(?:on|of|from|off)\s+(?:the\s+|my\s+)?", re.IGNORECASE)
GROWN = re.compile(
    r"\s+(?:that are |which are |standing |growing )?in\s+(?:the\s+)?(ground|pots?|tubs?|containers?)\b", re.IGNORECASE
)
STANDING = re.compile(
    r"\s+(?:that are |which are |standing |growing )?(?:in|on|at|by|under)\s+(?:the\s+)?", re.IGNORECASE
)
SEEN_IN = re.compile(
    r"\s+(?:in|on|at)\s+(?:the\s+)?(?:full|leaf|bloom|flower|blossom|bud|pink|white|green|tight|first|fruit|petal|\d|monday|tuesday|wednesday"
    r"|thursday|friday|saturday|sunday|sun|shade|morning|afternoon|evening|april|march|may|last|half|tonight|again|now|today|yesterday|for|before|silver|mouse|balloon|noon)",
    re.IGNORECASE,
)


def _without_kinds(text: str, offset: int, found: Sequence[Mention], yard: Yard) -> list[Mention]:
    """Leave out a kind that only says again what a named plant is: "first ripe fig off the wall fig"."""
    named = {plant.species for plant in yard.plants for one in found if one.sure and one.names == (plant.name,)}
    kept = []
    for one in found:
        kinds = {plant.species for plant in yard.plants if plant.name in one.names}
        vague = one.kind == "plant" and not one.sure and len(one.names) > 1 and not one.all_of_kind
        last = tokens(text[one.start - offset : one.end - offset])[-1:]
        by_name = any(tokens(name) == last for name in one.names)  # "lil Dauphin" is no kind, though two are meant
        if by_name or not (vague and len(kinds) == 1 and kinds <= named):
            kept.append(one)
    return kept


def _without_trees(text: str, offset: int, found: Sequence[Mention]) -> list[Mention]:
    """Leave out a tree that is named only to say whose limb it is: "the top limb of the family apple"."""
    kept = list(found)
    for one, after in pairwise(found):
        limb, tree = (one, after) if len(" ".join(one.names)) > len(" ".join(after.names)) else (after, one)
        if one.kind != "plant" or after.kind != "plant" or len(one.names) != 1 or len(after.names) != 1:
            continue
        between = text[one.end - offset : after.start - offset]
        joined = PART_OF.fullmatch(between) if limb is one else WHOSE.fullmatch(between)
        whole = tokens(tree.names[0])
        said = tokens(text[limb.start - offset : limb.end - offset])
        if joined and _begins(limb.names[0], whole) and said[: len(whole)] != whole and tree in kept:
            kept.remove(tree)
    return kept


def _begins(name: str, whole: Sequence[str]) -> bool:
    return tokens(name)[: len(whole)] == list(whole)


def _take_limb(words: Sequence[Word], taken: Sequence[bool], yard: Yard, found: list[Mention]) -> None:
    """Take "the green limb", where limbs of the garden have names and that is none of them, for any of those.

    A tree that is named says whose limb; a limb of which nothing more is said, or that broke, is a limb and no plant.
    """
    limbs = [plant.name for plant in yard.plants if tokens(plant.name)[-1] in LIMBS and len(tokens(plant.name)) > 1]
    trees = [one for one in found if one.kind == "plant"]
    if len(trees) == 1 and len(trees[0].names) == 1:
        limbs = [name for name in limbs if _begins(name, tokens(trees[0].names[0])) and name != trees[0].names[0]]
    elif trees:
        return
    for place, word in enumerate(words):
        before = words[place - 1].text if place else ""
        near = {one.text for one in words[max(place - 2, 0) : place]}
        if word.text in LIMBS and not taken[place] and limbs and not near & ANY_LIMB:
            start = place if before in ("", "the", "my") or taken[place - 1] or word.after_stop else place - 1
            for one in trees:
                found.remove(one)
            spans = [(one.start, one.end) for one in trees] + [(words[start].start, word.end)]
            first, last = min(at for at, _ in spans), max(at for _, at in spans)
            found.append(Mention("plant", tuple(limbs), first, last, sure=False))
            return


LIMBS = {"limb", "branch", "arm"}
ANY_LIMB = {"a", "an", "1", "any", "some", "each", "every", "no", "broken", "dead", "torn", "whole", "that", "this"}


PART_OF = re.compile(r"\s+(?:of|on|from|off|in)\s+(?:the\s+|my\s+|our\s+)?", re.IGNORECASE)
WHOSE = re.compile(r"(?:['’]s|:|,)?\s+(?:the\s+)?", re.IGNORECASE)


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
