"""Firings that claim the same as one conclusion, and conclusions in their order.

What was made of the last proof is kept: where the same firings claim a thing again, it is the same conclusion.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import count

from advisor.answers import LOSSES, Because, Conclusion, Dispute
from advisor.facts import Firing
from advisor.reasoning.grounds import BASES, STRENGTHS, Grounds
from advisor.reasoning.lacking import LastWeak
from advisor.reasoning.last_near import LastNear
from advisor.reasoning.rulebase import RuleBase

GRADES = ("likely", "possible", "weak", "", "ruled out")
SIZES = {"strong": 3, "fair": 2, "slight": 1}
"""What a point weighs in the order of spots (house judgement; the order only, never shown as a score)."""
ON_GROUND = {
    "measured": "it rests on what was measured here",
    "computed": "it rests on this garden's own weather",
    "known": "what rules a cause out is taken before what is only usual",
}
"""Why the better ground is taken where a cause is both supported and ruled out."""
SUBJECTS = ("plant", "spot", "species", "trial")
Turn = tuple[object, ...]
"""What conclusions are put in order by."""


class LastLook:
    """What was seen in the last proof that was explained: what each firing claims, what they claim together, how near
    silent rules came. Another proof may share most of its firings, and these are not looked at again."""

    def __init__(self) -> None:
        self.near = LastNear()
        self.weak = LastWeak()
        self._numbers: dict[object, int] = {}
        self._next = count()
        self._by_firing: dict[int, tuple[Firing, Conclusion, int]] = {}
        self._merged: dict[int, tuple[Sequence[Conclusion], Conclusion, Sequence[Dispute]]] = {}
        self._turns: dict[int, tuple[Conclusion, Turn]] = {}
        self._placed: dict[int, tuple[Conclusion, Conclusion]] = {}

    def merged(self, firings: Iterable[Firing], base: RuleBase) -> tuple[list[Conclusion], list[Dispute]]:
        """Return one conclusion for each thing claimed, the best first, and where rules claimed the opposite of it."""
        known, now = self._merged, {}
        best: list[Conclusion] = []
        disputes: list[Dispute] = []
        for number, group in self._claims(firings, base).items():
            made = known.get(number)
            if made is None or not _are_the_same(made[0], group):
                made = group, *_best(group)
            now[number] = made
            best.append(made[1])
            disputes += made[2]
        self._merged = now
        return best, disputes

    def _claims(self, firings: Iterable[Firing], base: RuleBase) -> dict[int, list[Conclusion]]:
        """Return what firings claim, by a number for each thing claimed."""
        grounds = Grounds(base)
        groups: dict[int, list[Conclusion]] = {}
        known, now = self._by_firing, {}
        for firing in firings:
            found = known.get(id(firing))  # the firing is kept beside, so that no other has its id
            if found is None:
                single = _single(firing, grounds)
                found = firing, single, self._numbers.setdefault(single.key, next(self._next))
            now[id(firing)] = found
            if found[2] in groups:
                groups[found[2]].append(found[1])
            else:
                groups[found[2]] = [found[1]]
        self._by_firing = now
        return groups

    def in_order(self, conclusions: Sequence[Conclusion], spots: dict[str, int], *, by_cost: bool) -> list[Conclusion]:
        """Return conclusions in order: of spots that have one in theirs, then perhaps by what a miss costs, then by
        how sure they are. Asked in one way always."""
        known, turns = self._turns, {}
        for one in conclusions:
            turns[id(one)] = known.get(id(one)) or (one, (cost(one) if by_cost else (), *rank(one)))
        self._turns = turns
        if not spots:
            return sorted(conclusions, key=lambda one: turns[id(one)][1])
        return sorted(
            conclusions, key=lambda one: (spots.get(one.about.get("spot", ""), len(spots)), turns[id(one)][1])
        )

    def placed(self, conclusions: Iterable[Conclusion]) -> list[Conclusion]:
        """Return conclusions with their place in the order."""
        known, now = self._placed, {}
        found = []
        for place, one in enumerate(conclusions, start=1):
            pair = known.get(id(one))
            if pair is None or pair[1].rank != place:
                pair = one, _placed(one, place)
            now[id(one)] = pair
            found.append(pair[1])
        self._placed = now
        return found


def _are_the_same(some: Sequence[Conclusion], others: Sequence[Conclusion]) -> bool:
    return len(some) == len(others) and all(one is other for one, other in zip(some, others, strict=True))


def _single(firing: Firing, grounds: Grounds) -> Conclusion:
    fact = firing.conclusion
    about = {name: fact.text(name) for name in SUBJECTS if fact.get(name)}
    claim = fact.text("claim") or fact.text("what") or fact.text("settles")
    return Conclusion(
        kind=fact.kind,
        about=about,
        claim=claim,
        strength=grounds.strength(fact),
        basis=grounds.basis(fact),
        because=(grounds.because(firing),),
        grade=fact.text("grade") or fact.text("size"),
        side=fact.text("side"),
        effect=abs(fact.number("effect_k") or fact.number("effect_days") or 0.0),
        within_days=7 if (days := fact.number("within_days")) is None else int(days),
        loss=fact.text("loss"),
        minutes=int(fact.number("minutes") or 0),
    )


def _best(group: Sequence[Conclusion]) -> tuple[Conclusion, Sequence[Dispute]]:
    """Merge conclusions that claim the same, and tell where some support it and some rule it out.

    A cause that one record rules out stays ruled out unless another stands on better ground.
    """
    if len(group) == 1:
        return group[0], ()
    out = [one for one in group if one.grade == "ruled out"]
    kept = [one for one in group if one.grade != "ruled out"]
    if out and kept:
        ground = min(BASES.index(one.basis) for one in out)
        kept = [one for one in kept if BASES.index(one.basis) < ground]
    chosen = sorted(kept or out, key=lambda one: (cost(one), rank(one)))
    seen: dict[tuple[str, tuple[object, ...]], Because] = {}
    for one in chosen:
        for because in one.because:
            seen.setdefault((because.rule, tuple(fact.key for fact in because.facts)), because)
    best = replace(
        chosen[0],
        because=tuple(seen.values()),
        within_days=min(one.within_days for one in chosen),
        loss=min((one.loss for one in chosen), key=LOSSES.index),
        minutes=max(one.minutes for one in chosen),
    )
    against = sorted((one for one in group if (one.grade == "ruled out") != (best.grade == "ruled out")), key=rank)
    return best, [Dispute(best, against[0], ON_GROUND[best.basis])] if against else ()


def rank(one: Conclusion) -> tuple[object, ...]:
    """Order: surer before weaker; measured here before computed before usual; better rule; larger effect; by name."""
    grade = -SIZES[one.grade] if one.grade in SIZES else GRADES.index(one.grade)
    return (grade, BASES.index(one.basis), STRENGTHS.index(one.strength), -one.effect, one.kind, one.claim)


def cost(one: Conclusion) -> tuple[int, int]:
    """Order of tasks: the gravest loss first, then the nearest day."""
    return (LOSSES.index(one.loss), one.within_days) if one.kind == "task" else (-1, 0)


def _placed(one: Conclusion, rank: int) -> Conclusion:
    """Return a conclusion at its place in the order; as ``replace`` does, and for hundreds of them quicker."""
    made = object.__new__(Conclusion)
    made.__dict__.update(one.__dict__, rank=rank)
    return made
