"""The phrases of stages in a text, misspelt by a slip or not, and shares of flowers open; the longest ones count."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from rapidfuzz.distance import OSA

from advisor.language.said.stage_text import SENTENCE, SaidWord, whole_end
from advisor.records.stage_words import SHORTEST_MISSPELT, Guard, Manner, Phrase, StageWords

TENS = {"ten": 10, "fifteen": 15, "twenty": 20, "thirty": 30, "forty": 40, "fifty": 50, "sixty": 60, "seventy": 70,
        "eighty": 80, "ninety": 90, "hundred": 100, "one": 1, "two": 2, "three": 3, "five": 5}  # fmt: skip
ABOUT = frozenset({"at", "about", "around", "roughly", "is", "now", "maybe", "like", "say"})
MOST_FILLERS = 2
MOST_OF_WHAT = 4
BESIDE = 12
"""Words to either side that make one sentence for a phrase that may mean something else (house judgement)."""


@dataclass(frozen=True, slots=True)
class Hit:
    """A phrase found: its first and last word, how many words of its own it has, how many of them with a slip.

    ``denies`` marks a phrase that begins with a denial: "not awake".
    """

    first: int
    last: int
    size: int
    slips: int
    words: str
    guard: Guard
    codes: Mapping[str, int] = field(default_factory=dict)
    nothing: bool = False
    doubtful: bool = False
    denies: bool = False


def stage_hits(said: Sequence[SaidWord], words: StageWords) -> list[Hit]:
    """Return the phrases and shares that mean a stage, in the order of the text, none over another."""
    return _chosen([*_phrase_hits(said, words), *_share_hits(said, words)], said, words.manner)


def _phrase_hits(said: Sequence[SaidWord], words: StageWords) -> list[Hit]:
    meant = [_meant(word.text, words) for word in said]
    hits = []
    for at, first_words in enumerate(meant):
        for first in first_words:
            for phrase, stage in words.index.get(first, ()):
                end = _end(said, meant, at, phrase, words.manner)
                if end is None:
                    continue
                slips = end[1] + (first != said[at].text)
                codes, denies = stage.codes, phrase[0] in words.manner.denials
                hits.append(
                    Hit(at, end[0], len(phrase), slips, stage.words, stage.guard, codes, stage.nothing, False, denies)
                )
    return hits


def _meant(word: str, words: StageWords) -> tuple[str, ...]:
    """Return the words of phrases that a word may be: itself, or those that it is one slip from."""
    if word in words.known:
        return (word,)
    manner = words.manner
    if len(word) < SHORTEST_MISSPELT - 1 or word in manner.other_words | manner.fillers | manner.denial_links:
        return ()
    near = words.long.get(word[0], ())
    return tuple(other for other in near if abs(len(other) - len(word)) < 2 and OSA.distance(word, other) == 1)


def _end(
    said: Sequence[SaidWord], meant: Sequence[tuple[str, ...]], at: int, phrase: Phrase, manner: Manner
) -> tuple[int, int] | None:
    """Return the last word of a phrase that begins at a word, and its slips after the first; None if it is not there.

    Few fillers stand in a phrase that begins with a denial: "not all awake" is not "not awake".
    """
    slips = 0
    fillers = manner.denied_fillers if phrase[0] in manner.denials else manner.fillers
    for wanted in phrase[1:]:
        for step in range(1, MOST_FILLERS + 2):
            place = at + step
            if place >= len(said) or said[place].break_before:
                return None
            if wanted in meant[place] or wanted == said[place].text:
                slips += wanted != said[place].text
                at = place
                break
            if said[place].text not in fillers:
                return None
        else:
            return None
    return at, slips


def _share_hits(said: Sequence[SaidWord], words: StageWords) -> list[Hit]:
    """Return where a share of the flowers is said to be open: "30 % open", "half in bloom", "bloom at 10 percent"."""
    share, hits = words.share, []
    skipped = words.manner.fillers | share.of_what
    for at in range(len(said)):
        counted = _percent(said, at, share.spelt)
        if counted is None:
            continue
        percent, last, doubtful = counted
        first, end = at, None
        for place in range(last + 1, min(last + 2 + MOST_OF_WHAT, len(said))):
            if said[place].break_before:
                break
            end = max((e for p in share.phrases if (e := whole_end(said, place, p))), default=None) or end
            if end or said[place].text not in skipped:
                break
        if end is None:
            back = next((n for n in range(at - 1, max(at - 4, -1), -1) if said[n].text not in ABOUT), -1)
            starts = [back - len(p) + 1 for p in share.phrases if whole_end(said, back - len(p) + 1, p) == back + 1]
            if back < 0 or not starts or any(word.break_before for word in said[back + 1 : at + 1]):
                continue
            first, end = min(starts), last + 1
        code = share.code(percent)
        codes = dict.fromkeys(share.groups, code) if code is not None else {}
        hits.append(Hit(first, end - 1, end - first, 0, share.words, share.guard, codes, False, doubtful))
    return hits


def _percent(said: Sequence[SaidWord], at: int, spelt: Mapping[Phrase, int]) -> tuple[float, int, bool] | None:
    """Return a percentage that begins at a word, its last word, and whether it is one end of a range."""
    for phrase, percent in spelt.items():
        end = whole_end(said, at, phrase)
        if end:
            return percent, end - 1, False
    number = _number(said[at].text)
    rest = [word.text for word in said[at + 1 : at + 4]]
    added = TENS.get(rest[0], 0) if rest and said[at].text in TENS and number and number >= 20 else 0
    unit = 1 if added else 0
    if number is None or (rest[unit : unit + 1] != ["percent"] and rest[unit : unit + 2] != ["per", "cent"]):
        return None
    before = [word.text for word in said[max(at - 2, 0) : at]]
    ranged = bool(before) and (
        _number(before[-1]) is not None
        or (before[-1] in ("to", "or", "and", "between", "percent") and _number(before[0]) is not None)
    )
    return number + added, at + unit + (1 if rest[unit] == "percent" else 2), ranged


def _number(word: str) -> float | None:
    if word in TENS:
        return float(TENS[word])
    return float(word.replace(",", ".")) if re.fullmatch(r"\d{1,3}(?:[.,]\d+)?", word) else None


def _chosen(hits: Iterable[Hit], said: Sequence[SaidWord], manner: Manner) -> list[Hit]:
    """Return the hits that mean what they say, longest first and none over another, in the order of the text.

    Where a slip could be of two stages, the words say too little.
    """
    taken: set[int] = set()
    chosen: dict[tuple[int, int], Hit] = {}
    for hit in sorted(hits, key=lambda hit: (-hit.size, hit.slips, hit.first, hit.last)):
        other = chosen.get((hit.first, hit.last))
        if other is not None and other.slips == hit.slips and other.size == hit.size and other.codes != hit.codes:
            chosen[hit.first, hit.last] = replace(other, codes={})
        places = range(hit.first, hit.last + 1)
        if not taken.isdisjoint(places):
            continue
        if _means_else(said, hit, manner.fillers):
            if not hit.denies:
                taken.update(places)
            continue
        taken.update(places)
        doubtful = hit.doubtful or not hit.guard.doubt_beside.isdisjoint(_beside(said, hit))
        chosen[hit.first, hit.last] = replace(hit, doubtful=doubtful)
    return sorted(chosen.values(), key=lambda hit: hit.first)


def _means_else(said: Sequence[SaidWord], hit: Hit, fillers: frozenset[str]) -> bool:
    """Return whether the words about a hit make something else of it."""
    guard = hit.guard
    for step, start, wrong in ((-1, hit.first - 1, guard.not_after), (1, hit.last + 1, guard.not_before)):
        at = start
        while wrong and 0 <= at < len(said) and not said[at + 1 if step < 0 else at].break_before:
            if said[at].text in wrong:
                return True
            if said[at].text not in fillers:
                break
            at += step
    return not guard.not_beside.isdisjoint(_beside(said, hit))


def _beside(said: Sequence[SaidWord], hit: Hit) -> set[str]:
    """Return the words of a hit's sentence, its own left out."""
    found: set[str] = set()
    for at in range(hit.first - 1, max(hit.first - BESIDE, 0) - 1, -1):
        if said[at + 1].break_before == SENTENCE:
            break
        found.add(said[at].text)
    for at in range(hit.last + 1, min(hit.last + BESIDE, len(said))):
        if said[at].break_before == SENTENCE:
            break
        found.add(said[at].text)
    return found
