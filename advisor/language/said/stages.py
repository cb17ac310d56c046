"""Stages of buds, leaves, flowers and fruit that a message tells, with where they stand in it. Never a guess.

What is denied carries no code, and what is doubtful, conditional or asked is marked, so that nobody logs it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from advisor.language.said.stage_phrases import Hit, stage_hits
from advisor.language.said.stage_text import SENTENCE, SaidWord, said_words, whole_end
from advisor.records.stage_words import Manner, Phrase, StageWords

DENIED_WITHIN, DOUBTED_WITHIN, GIVEN_WITHIN, AFTER_WITHIN = 6, 14, 30, 5
"""How many words off a denial, a doubt or a condition still reaches a stage (house judgement)."""


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
    said = said_words(text)
    hits = stage_hits(said, words)
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
        negated = (
            negated
            or denied_by_nothing
            or (hit.denies and not hit.codes)
            or _denied_after(said, hit, after, words.manner)
        )
        denied_by_nothing = False
        hedged = doubted or hit.doubtful or _hedged(said, hits, number, words.manner)
        start, end = said[hit.first].start, said[hit.last].end
        codes = {} if negated else dict(hit.codes)
        found.append(SaidStage(text[start:end], start, end, codes, hit.words, negated, hedged and not negated))
    return found


def code_for(said: SaidStage, species_id: str, words: StageWords) -> int | None:
    """Return the BBCH code that a stage means for a species, or None: denied, unclear, or no stage of this kind."""
    return said.codes.get(species_id, said.codes.get(words.group_of.get(species_id, "")))


def _only(said: Sequence[SaidWord], start: int, end: int, allowed: frozenset[str]) -> bool:
    """Return whether only allowed words stand from one word to another, and no break."""
    return all(word.text in allowed for word in said[start:end]) and not any(
        word.break_before for word in said[start : end + 1]
    )


def _denied(
    said: Sequence[SaidWord], hit: Hit, before: Hit | None, earlier: SaidStage | None, manner: Manner
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


def _denied_after(said: Sequence[SaidWord], hit: Hit, after: Hit | None, manner: Manner) -> bool:
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


def _hedged(said: Sequence[SaidWord], hits: Sequence[Hit], number: int, manner: Manner) -> bool:
    """Return whether a hit is nearly so, doubted, expected, asked or under a condition."""
    hit = hits[number]
    if said[hit.last].asked:
        return True
    crossed = True
    stops = {other.last for other in hits[max(number - GIVEN_WITHIN, 0) : number]}
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


def _ends_at(said: Sequence[SaidWord], at: int, phrases: tuple[Phrase, ...]) -> bool:
    """Return whether one of some phrases ends at a word."""
    return any(
        whole_end(said, at - len(phrase) + 1, phrase) == at + 1 for phrase in _by_last(phrases).get(said[at].text, ())
    )


@lru_cache(maxsize=16)
def _by_last(phrases: tuple[Phrase, ...]) -> dict[str, list[Phrase]]:
    found: dict[str, list[Phrase]] = {}
    for phrase in phrases:
        found.setdefault(phrase[-1], []).append(phrase)
    return found
