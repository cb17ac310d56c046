"""From a proof to an answer: conclusions merged and ranked, each with its because, and the two things worth asking.

The explanation follows origins and firings and nothing else, so it cannot say what the reasoning did not use.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace

from advisor.answers import LOSSES, Answer, Because, Conclusion, Dispute, Told, Verdict
from advisor.fact_base import Proof
from advisor.facts import Concluded, Fact, Firing, Recorded
from advisor.reasoning.disputes import Opposite, settled
from advisor.reasoning.engine.reference import bindings
from advisor.reasoning.lacking import lacking, waited_for
from advisor.reasoning.near_miss import LastNear
from advisor.reasoning.reach import answers
from advisor.reasoning.rulebase import RuleBase
from advisor.reasoning.weighed import weighed
from advisor.records.kinds import Vocabulary
from advisor.records.questions import QuestionKind

GRADES = ("likely", "possible", "weak", "", "ruled out")
BASES = ("measured", "computed", "known")
STRENGTHS = ("well-supported", "usual-practice", "disputed")
SIZES = {"strong": 3, "fair": 2, "slight": 1}
"""What a point weighs in the order of spots (house judgement; the order only, never shown as a score)."""
ON_GROUND = {
    "measured": "it rests on what was measured here",
    "computed": "it rests on this garden's own weather",
    "known": "what rules a cause out is taken before what is only usual",
}
"""Why the better ground is taken where a cause is both supported and ruled out."""
SUBJECTS = ("plant", "spot", "species", "trial")
BY_COST = ("what-next",)
"""Questions whose tasks stand in the order of what a miss would cost, then of their day, then as all others."""


def explain(
    question: QuestionKind,
    subject: str,
    proof: Proof,
    base: RuleBase,
    state: Mapping[str, Fact] | None = None,
    about: Mapping[str, str | tuple[str, ...]] | None = None,
    opposites: Sequence[Opposite] = (),
    last: LastLook | None = None,
) -> Answer:
    """Return the answer that a proof gives to a question about what it named.

    Where no rule has anything to say, the records are asked for that its rules waited for. ``last`` is
    what was seen in an earlier proof, and afterwards what was seen in this one.
    """
    merged, disputes = _merge(_firings(question, proof, base), base, last)
    merged, opposed = settled(merged, opposites)
    verdicts = _verdicts(proof, merged)
    order = {verdict.spot: place for place, verdict in enumerate(verdicts)}
    by_cost = question.id in BY_COST
    ranked = sorted(
        merged,
        key=lambda c: (order.get(c.about.get("spot", ""), len(order)), _cost(c) if by_cost else (), *_rank(c)),
    )
    told = (one for one in ranked if one.kind != "lacking")
    conclusions = tuple(_placed(one, place) for place, one in enumerate(told, start=1))
    by_key = {_merge_key(one): one for one in conclusions} if verdicts else {}
    verdicts = [replace(v, points=tuple(by_key[_merge_key(p)] for p in v.points)) for v in verdicts]
    wanting = [one for one in ranked if one.kind == "lacking"]
    barred = frozenset(verdict.spot for verdict in verdicts if not verdict.place)
    asked = lacking(conclusions, wanting, order, proof, base, barred, last.near if last else None)
    if not conclusions and not asked and not by_cost:  # what a week's tasks wait for is no work of that week
        asked = waited_for(question, proof, base, about or {})
    return Answer(
        question=question.id,
        subject=subject,
        conclusions=conclusions,
        lacking=asked,
        verdicts=tuple(verdicts),
        state=state or {},
        about=about or {},
        not_known=question.not_known,
        disputes=(*disputes, *opposed),
        weighed=weighed(proof, base),
        silent=tuple(_silent_for_ours(question, proof, base)),
    )


def weigh_spots(question: QuestionKind, proof: Proof, base: RuleBase) -> tuple[list[Verdict], list[Conclusion]]:
    """Return how each spot fares by a proof, best first, and the findings beside that."""
    merged, _ = _merge(_firings(question, proof, base), base)
    return _verdicts(proof, merged), [one for one in merged if one.kind == "finding"]


def _silent_for_ours(question: QuestionKind, proof: Proof, base: RuleBase) -> Iterator[tuple[str, str]]:
    """Yield the grower's rules that say nothing where the rule of ours for which they stand would have spoken."""
    fired = {firing.rule for firing in proof.firings}
    for key, ours in base.set_aside.items():
        asked = any(answers(ours, wanted) for wanted in question.answered_by)
        if asked and key not in fired and next(bindings(ours, proof.facts), None) is not None:
            yield key, base.rules[key].says


def _firings(question: QuestionKind, proof: Proof, base: RuleBase) -> Iterator[Firing]:
    speaks: dict[str, bool] = {}
    for firing in proof.firings:
        if firing.rule not in speaks:
            speaks[firing.rule] = any(answers(base.rules[firing.rule], wanted) for wanted in question.answered_by)
        if speaks[firing.rule]:
            yield firing


def _merge_key(one: Conclusion) -> tuple[str, tuple[tuple[str, str], ...], str, str]:
    return (one.kind, tuple(sorted(one.about.items())), one.claim, one.side)


class LastLook:
    """What was seen in the last proof that was explained, to be looked at once: what each firing claims, which it also
    claims in the next proof, and how near silent rules came."""

    def __init__(self) -> None:
        self.near = LastNear()
        self._by_firing: dict[int, tuple[Firing, Conclusion]] = {}

    def claims(self, firings: Iterable[Firing], base: RuleBase) -> list[Conclusion]:
        """Return what firings claim."""
        grounds = Grounds(base)
        known, now = self._by_firing, {}
        for firing in firings:
            found = known.get(id(firing))  # the firing is kept beside, so that no other has its id
            now[id(firing)] = found or (firing, _single(firing, grounds))
        self._by_firing = now
        return [one for _, one in now.values()]


def _merge(
    firings: Iterable[Firing], base: RuleBase, last: LastLook | None = None
) -> tuple[list[Conclusion], list[Dispute]]:
    """Return one conclusion for each thing claimed, the best first, and where rules claimed the opposite of it."""
    groups: dict[object, list[Conclusion]] = {}
    for single in (last or LastLook()).claims(firings, base):
        groups.setdefault(_merge_key(single), []).append(single)
    disputes: list[Dispute] = []
    return [_best(group, disputes) for group in groups.values()], disputes


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


def _best(group: list[Conclusion], disputes: list[Dispute]) -> Conclusion:
    """Merge conclusions that claim the same, adding to ``disputes`` where some support it and some rule it out.

    A cause that one record rules out stays ruled out unless another stands on better ground.
    """
    if len(group) == 1:
        return group[0]
    out = [one for one in group if one.grade == "ruled out"]
    kept = [one for one in group if one.grade != "ruled out"]
    if out and kept:
        ground = min(BASES.index(one.basis) for one in out)
        kept = [one for one in kept if BASES.index(one.basis) < ground]
    chosen = sorted(kept or out, key=lambda one: (_cost(one), _rank(one)))
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
    against = sorted((one for one in group if (one.grade == "ruled out") != (best.grade == "ruled out")), key=_rank)
    if against:
        disputes.append(Dispute(best, against[0], ON_GROUND[best.basis]))
    return best


def _rank(one: Conclusion) -> tuple[object, ...]:
    """Order: surer before weaker; measured here before computed before usual; better rule; larger effect; by name."""
    grade = -SIZES[one.grade] if one.grade in SIZES else GRADES.index(one.grade)
    return (grade, BASES.index(one.basis), STRENGTHS.index(one.strength), -one.effect, one.kind, one.claim)


def _cost(one: Conclusion) -> tuple[int, int]:
    """Order of tasks: the gravest loss first, then the nearest day."""
    return (LOSSES.index(one.loss), one.within_days) if one.kind == "task" else (-1, 0)


def leaves(fact: Fact) -> Iterator[Fact]:
    """Yield the recorded facts that a fact rests on."""
    if isinstance(fact.origin, Recorded):
        yield fact
    else:
        for below in fact.origin.facts:
            yield from leaves(below)


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


def _placed(one: Conclusion, rank: int) -> Conclusion:
    """Return a conclusion at its place in the order; as ``replace`` does, and for hundreds of them quicker."""
    made = object.__new__(Conclusion)
    made.__dict__.update(one.__dict__, rank=rank)
    return made


def _cited(cite: str, read: str) -> str:
    return f"{cite} (not read yet)" if read == "not yet" else cite


def _verdicts(proof: Proof, conclusions: list[Conclusion]) -> list[Verdict]:
    """Return how each spot fares, best first; spots of equal weight share a place, barred ones come last.

    A spot that is no site, such as a paved one, is only told where a rule bars it.
    """
    sites = {site.text("spot") for site in proof.of("site")}
    spots: dict[str, list[Conclusion]] = {spot: [] for spot in sites}
    spots |= {one.about["spot"]: [] for one in conclusions if one.kind == "bar" and "spot" in one.about}
    for one in conclusions:
        if one.kind in ("point", "bar") and one.about.get("spot") in spots:
            spots[one.about["spot"]].append(one)
    if not any(spots.values()):
        return []
    scored = []
    for spot, points in spots.items():
        barred = any(one.kind == "bar" for one in points)
        score = sum(SIZES[one.grade] * (1 if one.side == "for" else -1) for one in points if one.kind == "point")
        scored.append((barred, spot not in sites, -score, spot, points))
    scored.sort(key=lambda entry: entry[:4])
    found: list[Verdict] = []
    for place, (barred, _, minus, spot, points) in enumerate(scored, start=1):
        equal = found and found[-1].place and found[-1].score == -minus
        at = 0 if barred else found[-1].place if equal else place
        found.append(Verdict(spot, at, -minus, tuple(sorted(points, key=_rank))))
    return found
