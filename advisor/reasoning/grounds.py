"""What a conclusion stands on: the best ground below it, the weakest rule on the way, and the firing in words."""

from __future__ import annotations

from advisor.answers import Because, Told
from advisor.facts import Concluded, Fact, Firing, Recorded
from advisor.reasoning.rulebase import RuleBase
from advisor.records.kinds import Vocabulary

BASES = ("measured", "computed", "known")
STRENGTHS = ("well-supported", "usual-practice", "disputed")


def best_basis(fact: Fact, kinds: Vocabulary, known: dict[int, str] | None = None) -> str:
    """Return the best ground a fact rests on: "measured", "computed" or "known".

    ``known`` takes what was found, by the facts' identities, for the next one that rests on them.
    """
    known = {} if known is None else known
    best = known.get(id(fact))
    if best is not None:
        return best
    best = kinds[fact.kind].basis if fact.kind in kinds else "known"
    if best != BASES[0] and not isinstance(fact.origin, Recorded):  # what it rests on cannot better what is measured
        for one in fact.origin.facts:
            below = known.get(id(one)) or best_basis(one, kinds, known)
            if below != best and BASES.index(below) < BASES.index(best):
                best = below
                if best == BASES[0]:
                    break
    known[id(fact)] = best
    return best


def _weakest(fact: Fact, base: RuleBase, known: dict[int, str]) -> str:
    """Return the strength of the weakest rule that a fact was concluded by, "" where it was not concluded."""
    if not isinstance(fact.origin, Concluded):
        return ""
    found = known.get(id(fact))
    if found is None:
        found = base.rules[fact.origin.rule].strength
        for one in fact.origin.facts:
            below = _weakest(one, base, known)
            if below and STRENGTHS.index(below) > STRENGTHS.index(found):
                found = below
        known[id(fact)] = found
    return found


class Grounds:
    """What the conclusions of one run stand on; what facts and rules have in common is looked at once."""

    def __init__(self, base: RuleBase) -> None:
        self.base = base
        self._bases: dict[int, str] = {}
        self._strengths: dict[int, str] = {}
        self._sources: dict[str, tuple[str, ...]] = {}

    def basis(self, fact: Fact) -> str:
        return best_basis(fact, self.base.kinds, self._bases)

    def strength(self, fact: Fact) -> str:
        return _weakest(fact, self.base, self._strengths) or STRENGTHS[0]

    def because(self, firing: Firing) -> Because:
        rule, kinds = self.base.rules[firing.rule], self.base.kinds
        if rule.id not in self._sources:
            self._sources[rule.id] = tuple(_cited(source.cite, source.read) for source in rule.sources)
        return Because(
            rule=rule.id,
            says=rule.says,
            how_it_works=rule.how_it_works,
            strength=rule.strength,
            sources=self._sources[rule.id],
            cautions=rule.cautions,
            told=Told(rule.tell, firing.bound),
            facts=tuple(firing.bound.values()),
            unknown=tuple(kinds[rule.block(name).kind].says for name in firing.unknown),
            owner=("yours for ours" if rule.id in self.base.set_aside else "yours") if rule.own else "",
            firing=firing,
        )


def _cited(cite: str, read: str) -> str:
    return f"{cite} (not read yet)" if read == "not yet" else cite
