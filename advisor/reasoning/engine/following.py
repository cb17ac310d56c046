"""What one more record changes in what was proved: a proof followed from one set of facts to the next.

A grower tells one thing between two questions, and most of what was proved still holds. Only firings that rest on a
fact that came or went, or that such a fact could block or settle, are drawn again; the outcome is the proof that a run
of all the facts gives, firing by firing and in the same order (``tests/reasoning/test_following.py``).

Kinds are taken in the order in which they rest on each other, so that each is settled before anything is concluded
from it. Rules that feed themselves have no such order: they are run anew each time.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from graphlib import CycleError, TopologicalSorter

from advisor.fact_base import FactBase, OfKind, Proof
from advisor.facts import Fact, Firing
from advisor.reasoning.engine.conclude import MOST_FACTS
from advisor.reasoning.engine.makers import Engine
from advisor.reasoning.engine.pass_order import Course, Layers, mark_of
from advisor.reasoning.engine.touched import Changes, drawn_again, in_order_again
from advisor.reasoning.rulebase import Rule, RuleBase

MOST_CHANGED = 0.3
"""The share of the facts that may come or go; with more of them a run is quicker."""


@dataclass
class Followed(Proof):
    """A proof with where its firings stand, from which the next one goes on."""

    course: Course = field(default_factory=Course)


class Following:
    """An engine, and the way from its last proof of some facts to that of others; safe to share between threads."""

    def __init__(self, engine: Engine) -> None:
        self.engine = engine
        self.base = engine.base
        self._kinds = _in_order(self.base)
        self._layers = Layers(self.base)

    def run(self, facts: Iterable[Fact], before: Proof | None = None) -> Proof:
        """Return everything that follows from the facts. ``before`` is a proof of this engine, not to be changed."""
        facts = facts if isinstance(facts, FactBase) else FactBase(facts)
        if before is not None and self._kinds is not None:
            course = before.course if isinstance(before, Followed) else self._course(before)
            followed = _Step(self.base, self._layers, before, course, facts).followed(self._kinds)
            if followed is not None:
                return followed
        return self.engine.run(facts)

    def _course(self, proof: Proof) -> Course:
        """Return where the firings of a proof stand that an engine came to by itself."""
        course = Course()
        for firing in proof.firings:
            course.marks.setdefault(firing.rule, {})[mark_of(firing.bound)] = firing
        for rules in self._kinds or ():
            for rule in rules:
                fired = course.marks.get(rule.id, {}).values()
                course.rows[rule.id] = self._layers.rows(rule, fired, course.told_in)
            told_in: dict[int, tuple[int, int]] = {}
            there = set(map(id, proof.facts.piece(rules[0].conclude).facts))
            for layer, at, rule_id in self._layers.places(rules, course.rows):
                for firing in course.rows[rule_id][at]:
                    if id(firing.conclusion) in there:
                        told_in.setdefault(id(firing.conclusion), (layer, at + 1))
            course.told_in[rules[0].conclude] = told_in
        return course


def _in_order(base: RuleBase) -> list[list[Rule]] | None:
    """Return the rules by the kind that they conclude, each kind after those it rests on; None where there is none."""
    rests_on: dict[str, set[str]] = {}
    by_kind: dict[str, list[Rule]] = {}
    for rule in base.rules.values():
        by_kind.setdefault(rule.conclude, []).append(rule)
        rests_on.setdefault(rule.conclude, set()).update(block.kind for block in (*rule.when, *rule.unless))
    try:
        return [by_kind[kind] for kind in TopologicalSorter(rests_on).static_order() if kind in by_kind]
    except CycleError:
        return None


class _Step:
    """One way from a proof to the next."""

    def __init__(self, base: RuleBase, layers: Layers, before: Proof, course: Course, facts: FactBase) -> None:
        self.base, self.layers, self.facts = base, layers, facts
        self.before, self.earlier = before, course
        self.course = Course(dict(course.marks), dict(course.rows), dict(course.told_in))
        self.now = FactBase(facts)
        self.changes = Changes()
        self.moved: set[str] = set()

    def followed(self, kinds: list[list[Rule]]) -> Followed | None:
        """Return the proof of the facts as they are now, or None where a run is called for."""
        concluded = {rules[0].conclude for rules in kinds}
        if not self._given(concluded):
            return None
        for rules in kinds:
            if not self._settle(rules[0].conclude, rules):
                return None
        proof = Followed(FactBase(self.facts), [], self.course)
        put: set[str] = set()
        for _, at, rule_id in self.layers.places(self.base.rules.values(), self.course.rows):
            proof.firings += self.course.rows[rule_id][at]
            kind = self.base.rules[rule_id].conclude
            if kind not in put:
                put.add(kind)
                proof.facts.put(kind, self.now.piece(kind))
        return proof if max(len(proof.facts), len(proof.firings)) <= MOST_FACTS else None

    def _given(self, concluded: set[str]) -> bool:
        """Note what came and went of what is given; return whether the proof can be followed from there."""
        for kind in concluded:  # what was given of it stands before what was concluded
            given, known = self.facts.piece(kind).facts, self.before.facts.piece(kind).facts
            told_in = self.earlier.told_in.get(kind, {})
            if [fact for fact in known if id(fact) not in told_in] != given:
                return False
        names = {*self.before.facts.pieces(), *self.facts.pieces()} - concluded
        changed = sum(self.changes.note(kind, self.before.facts.piece(kind), self.facts.piece(kind)) for kind in names)
        return changed <= MOST_CHANGED * len(self.facts)

    def _settle(self, kind: str, rules: list[Rule]) -> bool:
        """Bring the firings of all rules that conclude one kind up to date, and its facts.

        Return False where another firing would conclude a fact first than the one that it is known from.
        """
        gone: set[int] = set()
        kept: set[int] = set()
        again = False
        for rule in rules:
            marks = self.earlier.marks.get(rule.id, {})
            out: list[Firing] = []
            new: list[Firing] = []
            if self.changes.touch(block.kind for block in (*rule.when, *rule.unless)):
                marks, out, new = drawn_again(rule, marks, self.now, self.changes, self.base.kinds)
            if any(block.kind in self.changes.reordered for block in rule.unless):
                marks, out, new = in_order_again(rule, marks, out, new, self.now, self.base.kinds)
            moves = self.layers.moves(rule, self.moved)
            if out or new or moves:
                known = self.earlier.rows.get(rule.id, {})
                told_in = self.course.told_in
                self.course.marks[rule.id] = marks
                self.course.rows[rule.id] = (
                    self.layers.rows(rule, marks.values(), told_in)
                    if moves
                    else self.layers.rows_after(rule, known, out, new, told_in)
                )
                gone |= {id(one.conclusion) for one in out}
                kept |= {id(one.conclusion) for one in new}
                again = True
        before = self.before.facts.piece(kind)
        if not again:
            if before.facts:
                self.now.put(kind, before)
            return True
        return self._tell(kind, rules, before, gone - kept)

    def _tell(self, kind: str, rules: list[Rule], before: OfKind, gone: set[int]) -> bool:
        """Take the facts of a kind as its rules conclude them now, in the order of a run. ``gone`` are the identities
        of conclusions that are no longer drawn; another may say the same, and is what is known then."""
        given = self.facts.piece(kind).facts
        facts, there = list(given), set(map(id, before.facts))
        told_in: dict[int, tuple[int, int]] = {}
        keys = dict(before.keys)
        first: set[int] = set(map(id, given))
        for layer, at, rule_id in self.layers.places(rules, self.course.rows):
            for firing in self.course.rows[rule_id][at]:
                fact = firing.conclusion
                if id(fact) not in there:
                    known = keys.get(fact.key)
                    if known is not None and id(known) in first:
                        continue
                    if known is not None and id(known) in there and id(known) not in gone:
                        return False
                    keys[fact.key] = fact
                elif id(fact) in first:
                    continue
                first.add(id(fact))
                facts.append(fact)
                told_in[id(fact)] = (layer, at + 1)
        for fact in before.facts:
            if id(fact) not in first and keys.get(fact.key) is fact:
                del keys[fact.key]
        now = OfKind(facts, keys).after(before)
        if facts:
            self.now.put(kind, now)
        self.changes.note(kind, before, now)
        earlier = self.earlier.told_in.get(kind, {})
        if any(told_in.get(key, when) != when for key, when in earlier.items()):
            self.moved.add(kind)
        self.course.told_in[kind] = told_in
        return True
