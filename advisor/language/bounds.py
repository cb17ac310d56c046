"""How much of an answer is sent as data: all of a common one; of a whole large garden's what the text tells, and a
bounded rest.

A reply goes over a thin line to a phone and is kept for good. Reasons for hundreds of plants that the text only names
or counts serve nobody there; how many are left out is said, and how to get at them.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from advisor.answers import Because, Conclusion
from advisor.facts import Fact
from advisor.language.render import counted, listed

MOST_WHOLE = 100
"""Conclusions, reasons, or entries of records up to which nothing is left out; the demo's gardens stay below."""
MOST_KEPT = 24
"""Conclusions that are sent of more than that, each with its first reason at least (house judgement)."""
MOST_REASONS = 28
"""Reasons that are sent then in all."""
MOST_ROWS = 40
"""Entries of records that are sent of more than that."""
MOST_FACTS = 200
"""Facts under one reason that are sent, down to recorded rows."""
ALWAYS = 10
"""Conclusions of the highest rank that are sent in any case: a follow-up "why" tells the first ones' reasons."""
ASK = "ask about one plant for its own"


@dataclass(frozen=True)
class Kept:
    """What of an answer's conclusions is sent, with their reasons, and how many of both are not."""

    conclusions: Sequence[Conclusion]
    because: Sequence[Because]
    left_conclusions: int = 0
    left_reasons: int = 0

    @property
    def weighed(self) -> list[Fact]:
        """What was weighed beside the reasons that are sent."""
        return [fact for entry in self.because if entry.firing for fact in entry.firing.settled]

    @property
    def places(self) -> dict[int, int]:
        """Where each reason stands, by its identity."""
        return {id(entry): place for place, entry in enumerate(self.because)}


def kept_of(conclusions: Sequence[Conclusion], heard: Collection[int]) -> Kept:
    """Return what is sent of ranked conclusions: all of a common answer, else first what the text tells.

    ``heard`` are the identities of what was told. They stay in their order.
    """
    reasons = sum(len(one.because) for one in conclusions)
    if len(conclusions) <= MOST_WHOLE and reasons <= MOST_WHOLE:
        return Kept(conclusions, [entry for one in conclusions for entry in one.because])
    told = [n for n, one in enumerate(conclusions) if any(id(entry.told) in heard for entry in one.because)]
    order = dict.fromkeys([*range(min(ALWAYS, len(conclusions))), *told, *_in_turn(conclusions)])
    kept = [conclusions[place] for place in sorted(list(order)[:MOST_KEPT])]
    more = MOST_REASONS - len(kept)
    because: list[Because] = []
    for one in kept:
        further = one.because[1 : 1 + more]
        more -= len(further)
        because += [*one.because[:1], *further]
    return Kept(kept, because, len(conclusions) - len(kept), reasons - len(because))


def _in_turn(conclusions: Sequence[Conclusion]) -> list[int]:
    """Return places in their order, but of each claim the first before of any the second: a warning of 300 plants
    leaves room for what else there is."""
    seen: dict[tuple[str, str], int] = {}
    turns = []
    for place, one in enumerate(conclusions):
        claim = one.kind, one.claim
        seen[claim] = turn = seen.get(claim, -1) + 1
        turns.append((turn, place))
    return [place for _, place in sorted(turns)]


def left_out(**counts: int) -> dict[str, Any]:
    """Return what of a reply is left out, with a sentence that says so; nothing where it is whole."""
    return {"left_out": {**counts, "says": says_left_out(counts)}} if any(counts.values()) else {}


def says_left_out(counts: Mapping[str, int]) -> str:
    """Say how much is left out, and how to get at it.

    >>> says_left_out({"conclusions": 875, "reasons": 941})
    'Left out here, as too much for one reply: 875 conclusions and 941 reasons; ask about one plant for its own.'
    >>> says_left_out({"conclusions": 0, "reasons": 0, "records": 1, "weighed": 20})
    'Left out here, as too much for one reply: 1 record and 20 weighed beside it; ask about one plant for its own.'
    """
    names = {"conclusions": "conclusion", "reasons": "reason", "records": "record", "disputes": "dispute"}
    told = [counted(counts[one], name) for one, name in names.items() if counts.get(one)]
    told += [f"{counts['weighed']} weighed beside it"] if counts.get("weighed") else []
    return f"Left out here, as too much for one reply: {listed(told)}; {ASK}."


def joined_left_out(parts: Iterable[Mapping[str, Any]]) -> dict[str, Any]:
    """Return what is left out of the replies to the parts of one message together."""
    sums: dict[str, int] = {}
    for part in parts:
        for name, count in part.get("left_out", {}).items():
            if isinstance(count, int):
                sums[name] = sums.get(name, 0) + count
    return left_out(**sums)
