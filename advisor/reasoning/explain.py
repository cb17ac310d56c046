"""From a proof to an answer: conclusions merged and ranked, each with its because, and the two things worth asking.

The explanation follows origins and firings and nothing else, so it cannot say what the reasoning did not use.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from advisor.answers import Answer, Conclusion, Verdict
from advisor.fact_base import Proof
from advisor.facts import Fact, Firing
from advisor.reasoning.disputes import Opposite, settled
from advisor.reasoning.engine.reference import bindings
from advisor.reasoning.lacking import lacking, waited_for
from advisor.reasoning.merging import SIZES, LastLook, rank
from advisor.reasoning.reach import answers
from advisor.reasoning.rulebase import RuleBase
from advisor.reasoning.weighed import weighed
from advisor.records.questions import QuestionKind

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
    look = last or LastLook()
    merged, disputes = look.merged(_firings(question, proof, base), base)
    merged, opposed = settled(merged, opposites)
    verdicts = _verdicts(proof, merged)
    order = {verdict.spot: place for place, verdict in enumerate(verdicts)}
    by_cost = question.id in BY_COST
    ranked = look.in_order(merged, order, by_cost=by_cost)
    conclusions = tuple(look.placed(one for one in ranked if one.kind != "lacking"))
    by_key = {one.key: one for one in conclusions} if verdicts else {}
    verdicts = [replace(v, points=tuple(by_key[p.key] for p in v.points)) for v in verdicts]
    wanting = [one for one in ranked if one.kind == "lacking"]
    barred = frozenset(verdict.spot for verdict in verdicts if not verdict.place)
    asked = lacking(conclusions, wanting, order, proof, base, barred, look.near, look.weak)
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


def weigh_spots(
    question: QuestionKind, proof: Proof, base: RuleBase, look: LastLook
) -> tuple[list[Verdict], list[Conclusion]]:
    """Return how each spot fares by a proof, best first, and the findings beside that; ``look`` as in ``explain``."""
    merged, _ = look.merged(_firings(question, proof, base), base)
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
        found.append(Verdict(spot, at, -minus, tuple(sorted(points, key=rank))))
    return found
