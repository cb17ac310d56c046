"""What is not known and worth asking for: at most two readings, the ones that settle most."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from advisor.answers import Because, Conclusion, Lacking, Told
from advisor.fact_base import Proof
from advisor.facts import Concluded, Fact, Firing, Recorded
from advisor.reasoning.asking import asked_apart, asked_of, known_of, subject_of, template_of
from advisor.reasoning.engine.conclude import fill, names_which
from advisor.reasoning.last_near import LastNear
from advisor.reasoning.reach import answers
from advisor.reasoning.rulebase import Block, RuleBase
from advisor.records.kinds import Kind, Vocabulary
from advisor.records.questions import QuestionKind

MOST_ASKED = 2
LEAST = 0.1
"""A wish that weighs less is not worth the grower's walk (house judgement)."""
BY_RULE, WEAKENED, NEARLY = 2.0, 3.0, 0.4
"""What a wish weighs: named by a rule; having weakened the leading conclusion (less for those after it); wanted by a
rule that stayed silent. House judgement; they only order the wishes."""


BEFORE_OTHERS = ("inspection", "weather_day", "soil_reading", "stage", "growth")
"""Of wishes that weigh the same, the kinds of record that are asked for first, in this order."""


@dataclass
class _Wish:
    """One reading that could be asked for, from everything that wants it."""

    kind: str
    ask: Told
    weight: float = 0.0
    wanted: int = 0
    settles: dict[str, None] = field(default_factory=dict)
    others: dict[str, None] = field(default_factory=dict)
    named: bool = False
    about: Mapping[str, str] = field(default_factory=dict)
    only: str = ""
    subject: str = ""

    def asked(self, kinds: Vocabulary) -> Lacking:
        """Return what is asked for, with the spots and plants that it is asked of."""
        spots, plants = asked_of(self.ask, self.about, kinds)
        (spots if self.of_spots else plants).update(self.others)
        others, settles = tuple(self.others), tuple(self.settles)
        return Lacking(self.kind, self.ask, settles, others, tuple(spots), tuple(plants), self.only)

    @property
    def of_spots(self) -> bool:
        """Return whether its further subjects are spots, not plants."""
        return "spot" in self.about


NOT_NEARLY = {"finding", "task", "keep_tip", "keep_tips"}
"""Conclusions that answer enough by themselves: what other rules for the same would have wanted is left alone."""
Key = tuple[str, str, str]
"""A wish by the kind of record, whom it is about, and the single field where that is asked for apart."""


@dataclass
class _Wishes:
    """The wishes of one answer. ``spots`` is the order of the spots, where there is one: the leading ones matter.

    Of a spot that is ruled out nothing is asked but what may lift its bar; where all are, nothing else at all.
    """

    base: RuleBase
    spots: Mapping[str, int]
    barred: frozenset[str] = frozenset()
    by_key: dict[Key, _Wish] = field(default_factory=dict)
    named: list[_Wish] = field(default_factory=list)
    """Those that a rule asks for: few, where what weakened conclusions may be wished for each plant of a garden."""

    def weight_of(self, spot: str) -> float:
        return 1.0 / (1 + self.spots[spot]) if spot in self.spots else 1.0

    def needless(self, spot: str) -> bool:
        """Return whether nothing asked of this spot, or of the garden, changes which spots are left."""
        return spot in self.barred if spot else bool(self.barred) and self.barred >= set(self.spots)

    def named_by_rule(self, one: Conclusion, reading: str) -> None:
        """Add what a rule concluded to be lacking; the same rule's wish for several subjects is one wish."""
        if self.needless(one.about.get("spot", "")):
            return
        rule = one.because[0].rule
        subject = next((one.about[name] for name in ("spot", "plant", "trial") if name in one.about), "")
        same = next((wish for key, wish in self.by_key.items() if key[2] == f"by {rule}"), None)
        weight = BY_RULE * self.weight_of(one.about.get("spot", ""))
        if same is None:
            key = (reading, subject, f"by {rule}" if subject else "")
            only = self.field_wanted(rule, reading)
            wish = _Wish(reading, one.because[0].told, about=one.about, only=only, subject=subject)
            same = self.by_key.setdefault(key, wish)
        elif subject:
            same.others[subject] = None
        same.weight = max(same.weight, weight)
        same.wanted += 1
        same.settles[one.claim] = None
        if not same.named:
            same.named = True
            self.named.append(same)

    def field_wanted(self, rule: str, reading: str) -> str:
        """Return the field that a rule asks for: the one of the record that its ``unless`` blocks look at."""
        fields = self.base.kinds[reading].fields if reading in self.base.kinds else {}
        tests = [(test, block) for block in self.base.rules[rule].unless for test in block.tests]
        wanted = [t.field for t, block in tests if t.field in fields and not names_which(t, block, self.base.kinds)]
        return wanted[0] if len(set(wanted)) == 1 else ""

    def for_block(
        self,
        block: Block,
        only: str,
        bound: Mapping[str, Fact],
        weight: float,
        settles: str,
        *,
        lifts: bool = False,
    ) -> None:
        """Add the record behind a block, if the kind says how to ask for it and its subject is known.

        ``only`` is the one field that is wanted, or "" for the record as a whole; ``lifts`` that it may lift a bar. A
        record as a whole that a rule asks for already is not asked for again.
        """
        kind = self.base.kinds[block.kind]
        known = dict(known_of(block, bound))
        if not lifts and self.needless(known.get("spot") or known.get("where", "")):
            return
        only, apart = asked_apart(block, only, self.base.kinds)
        template = template_of(apart or kind.ask, known)
        if not template:
            return
        if not apart and self.is_named(kind.ask_kind or kind.name, subject_of(known)):
            return
        wish = self._wish(kind, known, only if apart else "", template)
        wish.weight += weight * self.weight_of(known.get("spot", ""))
        if settles:
            wish.settles[settles] = None

    def is_named(self, reading: str, subject: str) -> bool:
        """Return whether a rule asks for this kind of record of this subject already."""
        return any(wish.kind == reading and (subject in (wish.subject, *wish.others)) for wish in self.named)

    def _wish(self, kind: Kind, known: Mapping[str, str], only: str, template: str) -> _Wish:
        reading, subject = kind.ask_kind or kind.name, subject_of(known)
        key = (reading, subject, only)
        if key not in self.by_key:
            ask = Told(template, {"it": Fact.of(kind.name, known, Recorded(kind.name, ()))})
            about = {name: known[name] for name in ("spot", "plant") if known.get(name)}
            self.by_key[key] = _Wish(reading, ask, about=about, only=only, subject=subject)
        return self.by_key[key]


class LastWeak:
    """Which firings behind the last answer something unknown weakened, or rest on what rules said."""

    def __init__(self) -> None:
        self._kept: dict[int, tuple[tuple[Because, ...], tuple[Firing, ...]]] = {}

    def of(self, conclusions: Sequence[Conclusion], base: RuleBase) -> Iterator[tuple[int, tuple[Firing, ...]]]:
        """Yield the place of each conclusion that rests on such firings, with these."""
        known, now = self._kept, {}
        for place, one in enumerate(conclusions):
            key = id(one.because)  # the reasons are kept beside, so that no others have their id
            now[key] = found = known.get(key) or (one.because, tuple(_worth_a_look(one.because, base)))
            if found[1]:
                yield place, found[1]
        self._kept = now


def _worth_a_look(because: Sequence[Because], base: RuleBase) -> Iterator[Firing]:
    for entry in because:
        firing = entry.firing
        if firing is not None and (firing.unknown or firing.rule in base.resting_on_rules):
            yield firing


def lacking(
    conclusions: Sequence[Conclusion],
    wanting: Sequence[Conclusion],
    spots: Mapping[str, int],
    proof: Proof,
    base: RuleBase,
    barred: frozenset[str],
    near: LastNear,
    weak: LastWeak,
) -> tuple[Lacking, ...]:
    """Return what to ask for: what rules name as lacking, what weakened a conclusion, what silent rules want.

    ``wanting`` are the conclusions of rules about what is lacking. Where a cause is likely already, what silent rules
    want is left alone; so is a record that a rule asks for. ``near`` is how near silent rules came in an earlier proof,
    ``weak`` what was weakened in it.
    """
    wishes = _Wishes(base, spots, barred)
    for one in wanting:
        wishes.named_by_rule(one, str(base.rules[one.because[0].rule].gives["reading"]))
    for place, firing in _weakened(weak.of(conclusions, base), proof, base):
        for name in firing.unknown:
            claim = firing.conclusion.text("claim") or conclusions[place].claim
            block, lifts = base.rules[firing.rule].block(name), conclusions[place].kind == "bar"
            wishes.for_block(block, "", firing.bound, WEAKENED / (1 + place), claim, lifts=lifts)
    if not any(one.grade == "likely" for one in conclusions):
        _from_silent_rules(wishes, {one.kind for one in conclusions}, proof, base, near)
    worth = [(key, wish) for key, wish in wishes.by_key.items() if wish.weight >= LEAST]
    worth.sort(key=lambda entry: (*_merit(entry[1]), entry[0]))
    said: dict[str, Lacking] = {}
    for _, wish in worth:  # two rules may ask for one reading in the same words
        text = str(fill(wish.ask.template, wish.ask.bound))
        if text not in said:
            said[text] = wish.asked(base.kinds)
        if len(said) == MOST_ASKED:
            break
    return tuple(said.values())


def waited_for(
    question: QuestionKind, proof: Proof, base: RuleBase, about: Mapping[str, str | tuple[str, ...]]
) -> tuple[Lacking, ...]:
    """Return the records behind the derived kinds that a question's rules look at and of which there is no fact.

    Those that most rules wait for come first; a kind that asks about a plant or spot needs one to be named.
    """
    named = {name: value for name, value in about.items() if isinstance(value, str)}
    spots = about.get("spots", ())
    named |= {"spot": spots[0], "where": spots[0]} if spots else {}
    it = Fact.of("asked", named, Recorded("asked", ()))
    claims: dict[str, dict[str, None]] = {}
    for rule in base.rules.values():
        if rule.conclude == "lacking" or not any(answers(rule, wanted) for wanted in question.answered_by):
            continue
        for block in rule.when:
            kind = base.kinds[block.kind]
            if kind.origin == "derived" and kind.absent_means == "unknown" and kind.ask and not proof.of(kind.name):
                claim = str(rule.gives.get("claim") or rule.gives.get("what") or "")
                claims.setdefault(kind.name, {})[claim] = None
    found: dict[str, Lacking] = {}
    for name in sorted(claims, key=lambda name: (-len(claims[name]), name)):
        kind = base.kinds[name]
        template = template_of(kind.ask, named)
        if template:
            ask = Told(template, {"it": it})
            of_spots, of_plants = asked_of(ask, {}, base.kinds)
            asked = Lacking(
                kind.ask_kind or name, ask, tuple(claims[name]), spots=tuple(of_spots), plants=tuple(of_plants)
            )
            found.setdefault(kind.ask_kind or name, asked)
    return tuple(found.values())[:MOST_ASKED]


def _weakened(
    found: Iterable[tuple[int, tuple[Firing, ...]]], proof: Proof, base: RuleBase
) -> Iterator[tuple[int, Firing]]:
    """Yield each firing that a conclusion rests on and that something unknown weakened, with the conclusion's place;
    each firing once."""
    below: dict[str, dict[int, list[Firing]]] = {}
    seen: set[int] = set()
    for place, firings in found:
        todo = list(firings)
        for firing in todo:
            if id(firing) in seen:
                continue
            seen.add(id(firing))
            if firing.unknown:
                yield place, firing
            if firing.rule in base.resting_on_rules:
                for fact in firing.bound.values():
                    if id(fact) not in seen and isinstance(fact.origin, Concluded):
                        seen.add(id(fact))
                        todo += _concluding(fact, proof, below)


def _concluding(fact: Fact, proof: Proof, known: dict[str, dict[int, list[Firing]]]) -> list[Firing]:
    """Return the firings that conclude what a fact says; ``known`` are those of kinds that were looked for before."""
    if fact.kind not in known:
        piece = proof.facts.piece(fact.kind)
        there = set(map(id, piece.facts))
        found: dict[int, list[Firing]] = {}
        for firing in proof.firings:
            one = firing.conclusion
            if one.kind == fact.kind:
                found.setdefault(id(one if id(one) in there else piece.keys[one.key]), []).append(firing)
        known[fact.kind] = found
    return known[fact.kind][id(fact)]


def _from_silent_rules(wishes: _Wishes, kinds: set[str], proof: Proof, base: RuleBase, near: LastNear) -> None:
    fired = {firing.rule for firing in proof.firings}
    for rule in base.rules.values():
        if rule.id in fired or rule.conclude not in kinds - NOT_NEARLY:
            continue
        for miss in near.of(rule, proof.facts, base.kinds):
            if miss.lacks:
                lack = miss.lacks[0]
                wishes.for_block(
                    rule.block(lack.block), lack.field, miss.bound, NEARLY, str(rule.gives.get("claim", ""))
                )


def _merit(wish: _Wish) -> tuple[float, int, int]:
    """Order: what weighs most; of equals what settles more, then what is wanted for more plants or spots."""
    place = BEFORE_OTHERS.index(wish.kind) if wish.kind in BEFORE_OTHERS else len(BEFORE_OTHERS)
    return (-round(wish.weight, 6), place, -wish.wanted)
