"""What is not known and worth asking for: at most two readings, the ones that settle most."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from advisor.answers import Conclusion, Lacking, Told
from advisor.facts import Fact, Firing, Proof, Recorded
from advisor.reasoning.near_miss import near_misses
from advisor.reasoning.rulebase import REFERENCE, Block, RuleBase

MOST_ASKED = 2


@dataclass
class _Wish:
    """One reading that could be asked for, from everything that wants it."""

    kind: str
    ask: Told
    subject: str
    weight: float = 0.0
    settles: dict[str, None] = field(default_factory=dict)
    others: dict[str, None] = field(default_factory=dict)


def lacking(
    conclusions: Sequence[Conclusion], spots: Mapping[str, int], proof: Proof, base: RuleBase
) -> tuple[Lacking, ...]:
    """Return what to ask for: what rules name as lacking, what weakened a conclusion, what silent rules want."""
    wishes: dict[str, _Wish] = {}
    by_claim = {(one.kind, one.claim): one for one in reversed(conclusions)}
    for one in conclusions:
        if one.kind == "lacking":
            _from_rule(one, spots, proof, base, wishes)
    for firing in proof.firings:
        fact = firing.conclusion
        parent = by_claim.get((fact.kind, fact.text("claim")))
        for name in firing.unknown:
            weight = 3.0 / (parent.rank if parent else 6) * _spot_weight(fact.text("spot"), spots)
            block = base.rules[firing.rule].block(name)
            _wish(wishes, block, firing.bound, base, weight, fact.text("claim"))
    fired = {firing.rule for firing in proof.firings}
    for rule in base.rules.values():
        if rule.id in fired or rule.conclude == "lacking":
            continue
        for miss in near_misses(rule, proof.facts, base.kinds):
            if len(miss.lacks) == 1:
                weight = 0.4 * _spot_weight(_spot_of(miss.bound), spots)
                block = rule.block(miss.lacks[0].block)
                _wish(wishes, block, miss.bound, base, weight, str(rule.gives.get("claim", "")))
    chosen = sorted(wishes.items(), key=lambda entry: (-round(entry[1].weight, 6), entry[0]))[:MOST_ASKED]
    return tuple(
        Lacking(wish.kind, wish.ask, tuple(wish.settles), tuple(wish.others)) for _, wish in chosen if wish.weight > 0
    )


def _from_rule(
    one: Conclusion, spots: Mapping[str, int], proof: Proof, base: RuleBase, wishes: dict[str, _Wish]
) -> None:
    because = one.because[0]
    reading = next(
        (f.conclusion.text("reading") for f in proof.firings if f.rule == because.rule and _about(f, one)), ""
    )
    subject = one.about.get("spot") or one.about.get("plant") or ""
    weight = 2.0 * _spot_weight(one.about.get("spot", ""), spots)
    wish = wishes.get(f"{reading} {because.rule}")
    if wish is None:
        wish = wishes[f"{reading} {because.rule}"] = _Wish(reading, because.told, subject)
    elif subject:
        wish.others[subject] = None
    wish.weight = max(wish.weight, weight) + 0.1
    wish.settles[one.claim] = None


def _about(firing: Firing, one: Conclusion) -> bool:
    return all(firing.conclusion.text(name) == value for name, value in one.about.items())


def _wish(
    wishes: dict[str, _Wish],
    block: Block,
    bound: Mapping[str, Fact],
    base: RuleBase,
    weight: float,
    settles: str,
) -> None:
    """Add to the wish for the record behind a block, if the kind says how to ask for it and its subject is known."""
    kind = base.kinds[block.kind]
    known: dict[str, str] = {}
    for test in block.tests:
        if test.operator == "same_as" and test.operand[0] in bound:
            known[test.field] = str(bound[test.operand[0]].get(test.operand[1]) or "")
        elif test.operator == "equals":
            known[test.field] = str(test.operand)
    template = kind.ask.replace("{", "{it.")
    if not template or any(not known.get(name) for _, name in REFERENCE.findall(template)):
        return
    subject = known.get("spot") or known.get("plant") or known.get("where") or ""
    asked = kind.ask_kind or kind.name
    same = next((wish for wish in wishes.values() if wish.kind == asked and wish.subject == subject), None)
    if same is None:
        ask = Told(template, {"it": Fact.of(kind.name, known, Recorded(kind.name, ()))})
        same = wishes[f"{asked} {subject}"] = _Wish(asked, ask, subject)
    same.weight += weight
    if settles:
        same.settles[settles] = None


def _spot_of(bound: Mapping[str, Fact]) -> str:
    return next((fact.text("spot") for fact in bound.values() if fact.text("spot")), "")


def _spot_weight(spot: str, spots: Mapping[str, int]) -> float:
    """Return how much a spot's unknowns matter: the leading ones most; all alike where no spots are ranked."""
    return 1.0 / (1 + spots[spot]) if spot in spots else 1.0
