"""The stages of a kind of tree one after the other, each with the word that the trade says most."""

from __future__ import annotations

from advisor.records.stage_words import StageWord, StageWords

FLOWERS = range(50, 70)
BEFORE, AFTER = 1, 4
"""Stages offered before and after the present one: a slip can be put right, a week not looked at be caught up."""

Step = tuple[int, str]
"""A BBCH code and its word."""


def steps_of(words: StageWords, species: str, *, flowers_first: bool) -> list[Step]:
    """Return a species' stages in the order in which it goes through them.

    Of several words for one code the one with the most phrases is taken, since it is said in the most ways; for rest
    the first. Where flowers come first the leaves follow them.
    """
    group = words.group_of.get(species, "")
    best: dict[int, StageWord] = {}
    for stage in words.stages:
        code = stage.codes.get(species, stage.codes.get(group))
        if code is not None and (code not in best or (code and len(stage.phrases) > len(best[code].phrases))):
            best[code] = stage
    return sorted(
        ((code, best[code].words) for code in best), key=lambda step: (_part(step[0], flowers_first), step[0])
    )


def _part(code: int, flowers_first: bool) -> int:
    """Return which part of the year a code belongs to: rest, the flowers or leaves that come first, the rest, fruit."""
    if code == 0:
        return 0
    if code in FLOWERS:
        return 1 if flowers_first else 2
    return (2 if flowers_first else 1) if code < 50 else 3


def near(steps: list[Step], bbch: int | None) -> list[Step]:
    """Return the steps about a present stage, or the first ones where none is known.

    >>> near([(0, "asleep"), (1, "swelling"), (9, "bud break")], 1)
    [(0, 'asleep'), (1, 'swelling'), (9, 'bud break')]
    """
    codes = [code for code, _ in steps]
    if bbch is None or bbch >= 90 or not codes:
        return steps[: AFTER + 1]
    if bbch in codes:
        at = codes.index(bbch)
    else:  # a code for which no word is known stands behind the last one before it in its own part of the year
        same = [n for n, code in enumerate(codes) if code // 50 == bbch // 50 and code < bbch]
        at = same[-1] if same else 0
    return steps[max(0, at - BEFORE) : at + AFTER + 1]


def word_of(steps: list[Step], bbch: int) -> str:
    """Return the word of a code, or the code itself where the trade has none for it.

    Leaves turn and fall from 91 on (Meier (ed.), BBCH Monograph, 2nd ed., 2001).
    """
    if bbch > 90:
        return "leaves falling"
    return dict(steps).get(bbch, f"BBCH {bbch:02d}")
