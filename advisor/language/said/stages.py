"""Stages of buds, leaves, flowers and fruit that a message tells, with where they stand in it. Never a guess.

What is denied carries no code, and what is doubtful, conditional or asked is marked, so that nobody logs it.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache

from rapidfuzz.distance import OSA

from advisor.language.names import BARE, CONTRACTED
from advisor.records.stage_words import SHORTEST_MISSPELT, Guard, Manner, Phrase, StageWords

WORD = re.compile(r"\d+/\d+|[½¼¾⅓⅔]|1st\b|\d+(?:[.,]\d+)?|%|[^\W\d_](?:[^\W_]|['’´`](?=[^\W_]))*")
LONGER = {"'ll": " will", "'d": " would", "'m": " am"}
SPELT_OUT = {
    **BARE, "didnt": "did not", "wasnt": "was not", "werent": "were not", "dont": "do not", "aint": "is not",
    "wouldnt": "would not", "theyre": "they are", "thats": "that is", "im": "i am", "ive": "i have", "pct": "percent",
    "%": "percent", "½": "half", "1/2": "half", "¼": "one quarter", "1/4": "one quarter", "¾": "three quarters",
    "3/4": "three quarters", "⅓": "one third", "1/3": "one third", "⅔": "two thirds", "2/3": "two thirds",
    "1st": "first",
}  # fmt: skip
TENS = {"ten": 10, "fifteen": 15, "twenty": 20, "thirty": 30, "forty": 40, "fifty": 50, "sixty": 60, "seventy": 70,
        "eighty": 80, "ninety": 90, "hundred": 100, "one": 1, "two": 2, "three": 3, "five": 5}  # fmt: skip
ABOUT = frozenset({"at", "about", "around", "roughly", "is", "now", "maybe", "like", "say"})
MOST_FILLERS = 2
MOST_OF_WHAT = 4
BESIDE = 12
"""Words to either side that make one sentence for a phrase that may mean something else (house judgement)."""
DENIED_WITHIN, DOUBTED_WITHIN, GIVEN_WITHIN, AFTER_WITHIN = 6, 14, 30, 5
"""How many words off a denial, a doubt or a condition still reaches a stage (house judgement)."""
CLAUSE, SENTENCE = 1, 2


@dataclass(frozen=True, slots=True)
class SaidStage:
    """A stage that a text tells: the words as they stand there, where, and the code by group or species.

    ``words`` are its standing words. ``codes`` is empty where the stage is denied, or where the words say too little.
    ``hedged`` marks what is nearly so, thought, expected, asked or under a condition: to be asked, not logged.
    """

    phrase: str
    start: int
    end: int
    codes: Mapping[str, int]
    words: str = ""
    negated: bool = False
    hedged: bool = False

    @property
    def unclear(self) -> bool:
        """Whether the words are about a stage and say too little to tell which."""
        return not self.codes and not self.negated


@dataclass(frozen=True, slots=True)
class _Word:
    """A word as it is compared. ``break_before`` is what ends between it and the word before; ``asked`` ends in "?"."""

    text: str
    start: int
    end: int
    break_before: int = 0
    asked: bool = False


@dataclass(frozen=True, slots=True)
class _Hit:
    """A phrase found: its first and last word, how many words of its own it has, how many of them with a slip."""

    first: int
    last: int
    size: int
    slips: int
    words: str
    guard: Guard
    codes: Mapping[str, int] = field(default_factory=dict)
    nothing: bool = False
    doubtful: bool = False


def find_stages(text: str, words: StageWords) -> list[SaidStage]:
    """Return the stages that a text tells, in its order: the longest phrases, none overlapping another.

    >>> from pathlib import Path
    >>> from advisor.records.stage_words import load_stage_words
    >>> words = load_stage_words(Path("rules"))
    >>> [(said.phrase, said.codes["fig"]) for said in find_stages("wall fig: buds are swellling", words)]
    [('buds are swellling', 1)]
    >>> [(said.words, said.negated, said.hedged) for said in find_stages("not in bloom yet, nearly at pink bud", words)]
    [('in bloom', True, False), ('pink bud', False, True)]
    """
    said = _words(text)
    hits = _chosen([*_phrase_hits(said, words), *_share_hits(said, words)], said, words.manner)
    found: list[SaidStage] = []
    denied_by_nothing = False
    for number, hit in enumerate(hits):
        before = hits[number - 1] if number else None
        after = hits[number + 1] if number + 1 < len(hits) else None
        if hit.nothing and after is not None and _only(said, hit.last + 1, after.first, words.manner.fillers):
            denied_by_nothing = True
            continue
        earlier = found[-1] if found and not denied_by_nothing else None
        negated, doubted = _denied(said, hit, before, earlier, words.manner)
        negated = negated or denied_by_nothing or _denied_after(said, hit, after, words.manner)
        denied_by_nothing = False
        hedged = doubted or hit.doubtful or _hedged(said, hits, number, words.manner)
        start, end = said[hit.first].start, said[hit.last].end
        codes = {} if negated else dict(hit.codes)
        found.append(SaidStage(text[start:end], start, end, codes, hit.words, negated, hedged and not negated))
    return found


def code_for(said: SaidStage, species_id: str, words: StageWords) -> int | None:
    """Return the BBCH code that a stage means for a species, or None: denied, unclear, or no stage of this kind."""
    return said.codes.get(species_id, said.codes.get(words.group_of.get(species_id, "")))


def _words(text: str) -> list[_Word]:
    """Return a text's words: folded, contractions and fractions spelt out, each with its place and the break before."""
    found: list[_Word] = []
    ends = 0
    asked_from: list[tuple[int, int]] = []
    for match in WORD.finditer(text):
        gap = text[ends : match.start()]
        found_break = _break(gap) if found else 0
        if "?" in gap:
            asked_from.append((len(found), found_break))
        for part in _spelt_out(match.group()):
            found.append(_Word(part, match.start(), match.end(), found_break))
            found_break = 0
        ends = match.end()
    if "?" in text[ends:]:
        asked_from.append((len(found), SENTENCE))
    return _asked(found, asked_from)


def _asked(said: list[_Word], ends: Iterable[tuple[int, int]]) -> list[_Word]:
    """Mark the words of each clause that ends in a question mark; a short tag asks the clause before it too."""
    for end, _ in ends:
        at, clauses = end - 1, 1
        while at >= 0:
            said[at] = _Word(said[at].text, said[at].start, said[at].end, said[at].break_before, True)
            if said[at].break_before == SENTENCE:
                break
            if said[at].break_before == CLAUSE:
                clauses -= 1
                if clauses < 0 or end - at > 3:
                    break
            at -= 1
    return said


def _break(gap: str) -> int:
    if any(mark in gap for mark in ".!?;\n…"):
        return SENTENCE
    return CLAUSE if any(mark in gap for mark in ",()/–—") or " - " in gap or "--" in gap else 0


@lru_cache(maxsize=4096)
def _spelt_out(token: str) -> tuple[str, ...]:
    plain = SPELT_OUT.get(token) or unicodedata.normalize("NFKC", token).casefold()
    plain = re.sub("[’´`]", "'", plain)
    if "'" in plain:
        for short, long in (*CONTRACTED, *LONGER.items()):
            plain = plain.replace(short, long)
        plain = plain.replace("'", "")
    return tuple(part for word in plain.split() for part in SPELT_OUT.get(word, word).split())


def _phrase_hits(said: Sequence[_Word], words: StageWords) -> list[_Hit]:
    meant = [_meant(word.text, words) for word in said]
    hits = []
    for at, first_words in enumerate(meant):
        for first in first_words:
            for phrase, stage in words.index.get(first, ()):
                end = _end(said, meant, at, phrase, words.manner.fillers)
                if end is None:
                    continue
                slips = end[1] + (first != said[at].text)
                hits.append(_Hit(at, end[0], len(phrase), slips, stage.words, stage.guard, stage.codes, stage.nothing))
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
    said: Sequence[_Word], meant: Sequence[tuple[str, ...]], at: int, phrase: Phrase, fillers: frozenset[str]
) -> tuple[int, int] | None:
    """Return the last word of a phrase that begins at a word, and its slips after the first; None if it is not there."""
    slips = 0
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


def _share_hits(said: Sequence[_Word], words: StageWords) -> list[_Hit]:
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
            end = max((e for p in share.phrases if (e := _plain_end(said, place, p))), default=None) or end
            if end or said[place].text not in skipped:
                break
        if end is None:
            back = next((n for n in range(at - 1, max(at - 4, -1), -1) if said[n].text not in ABOUT), -1)
            starts = [back - len(p) + 1 for p in share.phrases if _plain_end(said, back - len(p) + 1, p) == back + 1]
            if back < 0 or not starts or any(word.break_before for word in said[back + 1 : at + 1]):
                continue
            first, end = min(starts), last + 1
        code = share.code(percent)
        codes = dict.fromkeys(share.groups, code) if code is not None else {}
        hits.append(_Hit(first, end - 1, end - first, 0, share.words, share.guard, codes, False, doubtful))
    return hits


def _plain_end(said: Sequence[_Word], at: int, phrase: Phrase) -> int | None:
    """Return the word after a phrase that stands whole at a word, or None."""
    end = at + len(phrase)
    whole = at >= 0 and end <= len(said) and all(said[at + n].text == word for n, word in enumerate(phrase))
    return end if whole and not any(word.break_before for word in said[at + 1 : end]) else None


def _percent(said: Sequence[_Word], at: int, spelt: Mapping[Phrase, int]) -> tuple[float, int, bool] | None:
    """Return a percentage that begins at a word, its last word, and whether it is one end of a range."""
    for phrase, percent in spelt.items():
        end = _plain_end(said, at, phrase)
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


def _chosen(hits: Iterable[_Hit], said: Sequence[_Word], manner: Manner) -> list[_Hit]:
    """Return the hits that mean what they say, longest first and none over another, in the order of the text.

    Where a slip could be of two stages, the words say too little.
    """
    taken: set[int] = set()
    chosen: dict[tuple[int, int], _Hit] = {}
    for hit in sorted(hits, key=lambda hit: (-hit.size, hit.slips, hit.first, hit.last)):
        other = chosen.get((hit.first, hit.last))
        if other is not None and other.slips == hit.slips and other.size == hit.size and other.codes != hit.codes:
            chosen[hit.first, hit.last] = _Hit(hit.first, hit.last, hit.size, hit.slips, other.words, other.guard)
        places = range(hit.first, hit.last + 1)
        if not taken.isdisjoint(places) or _means_else(said, hit, manner.fillers):
            continue
        taken.update(places)
        doubtful = hit.doubtful or not hit.guard.doubt_beside.isdisjoint(_beside(said, hit))
        chosen[hit.first, hit.last] = _Hit(
            hit.first, hit.last, hit.size, hit.slips, hit.words, hit.guard, hit.codes, hit.nothing, doubtful
        )
    return sorted(chosen.values(), key=lambda hit: hit.first)


def _means_else(said: Sequence[_Word], hit: _Hit, fillers: frozenset[str]) -> bool:
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


def _beside(said: Sequence[_Word], hit: _Hit) -> set[str]:
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


def _only(said: Sequence[_Word], start: int, end: int, allowed: frozenset[str]) -> bool:
    """Return whether only allowed words stand from one word to another, and no break."""
    return all(word.text in allowed for word in said[start:end]) and not any(
        word.break_before for word in said[start : end + 1]
    )


def _denied(
    said: Sequence[_Word], hit: _Hit, before: _Hit | None, earlier: SaidStage | None, manner: Manner
) -> tuple[bool, bool]:
    """Return whether a word before a hit denies it, and whether it may do so."""
    stop = before.last if before else -1
    linked = True
    for at in range(hit.first - 1, max(hit.first - 1 - DENIED_WITHIN, stop), -1):
        if said[at + 1].break_before or said[at].text in manner.dividers:
            return False, False
        if said[at].text in manner.denials:
            return linked, not linked
        linked = linked and said[at].text in manner.fillers | manner.denial_links
    between = [word.text for word in said[stop + 1 : hit.first]]
    joined = bool(between) and between[0] in manner.joiners and _only(said, stop + 2, hit.first - 1, manner.fillers)
    if earlier is None or not joined or any(word.break_before for word in said[stop + 1 : hit.first + 1]):
        return False, False
    either = earlier.negated and between[0] in ("or", "nor")
    return either, earlier.hedged or (earlier.negated and not either)


def _denied_after(said: Sequence[_Word], hit: _Hit, after: _Hit | None, manner: Manner) -> bool:
    """Return whether the rest of the clause, or the next short one, says no: "bud break: not yet"."""
    stop = after.first if after else len(said)
    run: list[str] = []
    for at in range(hit.last + 1, min(hit.last + 2 + AFTER_WITHIN, len(said))):
        if at == stop:
            return False
        ended = said[at].break_before
        if (ended and run) or ended == SENTENCE or said[at].text in manner.dividers:
            break
        run.append(said[at].text)
    return tuple(run) in manner.denials_after


def _hedged(said: Sequence[_Word], hits: Sequence[_Hit], number: int, manner: Manner) -> bool:
    """Return whether a hit is nearly so, doubted, expected, asked or under a condition."""
    hit = hits[number]
    if said[hit.last].asked:
        return True
    crossed = True
    stops = {other.last for other in hits[:number]}
    clear = True
    for at in range(hit.first - 1, max(hit.first - GIVEN_WITHIN, 0) - 1, -1):
        if said[at + 1].break_before == SENTENCE or said[at].text in manner.dividers:
            break
        within = not said[at + 1].break_before and hit.first - at <= DOUBTED_WITHIN
        if at in stops and not (at + 1 < len(said) and said[at + 1].text in manner.joiners):
            within = False
        crossed = crossed and within
        if _ends_at(said, at, manner.conditions) or (crossed and _ends_at(said, at, manner.doubt_before)):
            return True
        if crossed and clear and _ends_at(said, at, manner.near_before):
            return True
        clear = clear and said[at].text in manner.fillers | manner.denial_links
    stop = hits[number + 1].first if number + 1 < len(hits) else len(said)
    run: list[str] = []
    for at in range(hit.last + 1, min(hit.last + 1 + AFTER_WITHIN, stop)):
        if said[at].break_before or said[at].text in manner.dividers:
            break
        run.append(said[at].text)
    if run[-1:] == ["yet"]:
        return True
    spaced = f" {' '.join(run)} "
    return any(f" {' '.join(phrase)} " in spaced for phrase in manner.doubt_after) if run else False


def _ends_at(said: Sequence[_Word], at: int, phrases: tuple[Phrase, ...]) -> bool:
    """Return whether one of some phrases ends at a word."""
    return any(
        _plain_end(said, at - len(phrase) + 1, phrase) == at + 1 for phrase in _by_last(phrases).get(said[at].text, ())
    )


@lru_cache(maxsize=16)
def _by_last(phrases: tuple[Phrase, ...]) -> dict[str, list[Phrase]]:
    found: dict[str, list[Phrase]] = {}
    for phrase in phrases:
        found.setdefault(phrase[-1], []).append(phrase)
    return found
