"""How near silent rules came to firing, followed from one proof to the next.

What is found from a fact of a rule's first block hangs on that fact and on what was looked up from there. Only where a
fact came or went that such a look would meet is it searched again.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from advisor.fact_base import FactBase, OfKind
from advisor.facts import Fact, Value, typed
from advisor.reasoning.near_miss import NearMiss, Search, Way, absent
from advisor.reasoning.rulebase import Rule
from advisor.records.kinds import Vocabulary

Look = tuple[str, str | None, object]
"""Which facts were looked up: a kind, a field, and its value in comparable form."""
ALL, OPEN = None, ("open", "")
"""In place of a field: all facts of the kind; in place of a value: those that leave the field open."""


class LastNear:
    """How near silent rules came to firing at last."""

    def __init__(self) -> None:
        self._by_rule: dict[str, _Seen] = {}

    def of(self, rule: Rule, facts: FactBase, kinds: Vocabulary) -> list[NearMiss]:
        """Return the ways in which nothing but one missing record stands against a rule."""
        blocks = (*rule.when, *rule.unless)
        pieces = {block.kind: facts.piece(block.kind) for block in blocks}
        known = self._by_rule.get(rule.id)
        if known is None or known.pieces != pieces:  # pieces are equal to themselves alone
            known = self._by_rule[rule.id] = _Seen.after(known, rule, facts, kinds, pieces)
        return known.misses


@dataclass
class _Seen:
    """What was seen of a rule: in which facts, and by the first block's fact what was found from there."""

    pieces: dict[str, OfKind]
    misses: list[NearMiss] = field(default_factory=list)
    found: dict[int, tuple[Fact, list[NearMiss], tuple[Look, ...]]] = field(default_factory=dict)
    looked: dict[Look, frozenset[int]] = field(default_factory=dict)
    """By what was looked up the facts of the first block from which it was."""

    @classmethod
    def after(
        cls, before: _Seen | None, rule: Rule, facts: FactBase, kinds: Vocabulary, pieces: dict[str, OfKind]
    ) -> _Seen:
        """Return what is seen now; ``before`` is what was seen last, not to be changed."""
        now = cls(pieces)
        watched = _Watched(facts)
        search = Search(rule, watched, kinds, most_wrong=0, most_lacks=1)
        start = Way()
        meant = search.meant(0, start) if rule.when else None
        if meant is None or not meant.facts:
            now.misses += search.from_block(0, start)
            return now
        anew = before.touched(pieces) if before else None
        if before and anew is not None:
            now.found, now.looked = before.found.copy(), before.looked.copy()
            for key in anew:
                now._forget(key)
        for fact in meant.facts:
            known = now.found.get(id(fact))  # the fact is kept beside, so that no other has its id
            if known is None:
                watched.looks = {}
                misses = list(search.by_fact(0, start, meant, fact))
                if absent(meant.block, fact):  # another fact about the same thing may say more
                    watched.note(*_alike(fact, kinds[meant.block.kind].about))
                known = now._keep(fact, misses, tuple(watched.looks))
            now.misses += known[1]
        return now

    def touched(self, pieces: dict[str, OfKind]) -> set[int] | None:
        """Return from which facts it is to be searched again, given the facts as they are now; None for all."""
        fields: dict[str, set[str | None]] = {}
        for kind, name, _ in self.looked:
            fields.setdefault(kind, set()).add(name)
        touched: set[int] = set()
        for kind, piece in pieces.items():
            went, came, in_order = self.pieces[kind].differences(piece)
            if not in_order:
                return None
            for fact in (*went, *came):
                touched.add(id(fact))
                for name in fields.get(kind, ()):
                    touched |= self.looked.get(_look(fact, name), frozenset())
        return touched

    def _keep(
        self, fact: Fact, misses: list[NearMiss], looks: tuple[Look, ...]
    ) -> tuple[Fact, list[NearMiss], tuple[Look, ...]]:
        self.found[id(fact)] = made = fact, misses, looks
        for look in looks:
            self.looked[look] = self.looked.get(look, frozenset()) | {id(fact)}
        return made

    def _forget(self, key: int) -> None:
        for look in self.found.pop(key, (None, [], ()))[2]:
            others = self.looked[look] - {key}
            if others:
                self.looked[look] = others
            else:
                del self.looked[look]


class _Watched(FactBase):
    """Facts that note what is looked up among them."""

    def __init__(self, facts: FactBase) -> None:
        super().__init__(facts)
        self.looks: dict[Look, None] = {}

    def note(self, *looks: Look) -> None:
        self.looks.update(dict.fromkeys(looks))

    def of(self, kind: str, **wanted: Value) -> list[Fact]:
        self.note((kind, ALL, None))
        return super().of(kind, **wanted)

    def having(self, kind: str, field: str, value: Value, *, or_open: bool = False) -> list[Fact]:
        self.note((kind, field, typed(value)), *([(kind, field, OPEN)] if or_open else []))
        return super().having(kind, field, value, or_open=or_open)


def _look(fact: Fact, name: str | None) -> Look:
    """Return the look by a field that meets a fact."""
    if name is ALL:
        return (fact.kind, ALL, None)
    value = fact.get(name)
    return (fact.kind, name, OPEN if value is None else typed(value))


def _alike(fact: Fact, about: Sequence[str]) -> Iterable[Look]:
    """Return a look that meets every fact about the same thing."""
    return [_look(fact, about[0] if about and fact.get(about[0]) is not None else ALL)]
