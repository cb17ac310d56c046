"""Facts held together, and what a run of the rules proved from them.

Facts of one kind are held as one piece. A base copied, joined or followed from another one shares the pieces in which
they are alike, with all that was indexed of them, so that a copy costs by the kind and not by the fact.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import chain
from operator import attrgetter
from typing import NamedTuple
from weakref import ref

from advisor.facts import Fact, Firing, Key, Value, typed

FEW_OTHERS = 4
"""An index is taken over where at most one in so many facts is another one; else it is quicker made anew."""


class _Index:
    """The facts of a kind by the value of one field, and whether any leaves it open."""

    def __init__(self, facts: Iterable[Fact], field: str) -> None:
        self.told: dict[tuple[str, object], list[Fact]] = {}
        self.field, self.open = field, False
        for fact in facts:
            if field in fact.values:
                self.told.setdefault(typed(fact.values[field]), []).append(fact)
            else:
                self.open = True

    def altered(self, now: Sequence[Fact], gone: Iterable[Fact], new: Iterable[Fact]) -> _Index:
        """Return the index of the facts that there are now, those of before without some and with others."""
        after = _Index((), self.field)
        after.told, after.open = dict(self.told), self.open
        out = set(map(id, gone))
        touched: dict[tuple[str, object], list[Fact]] = {}
        for fact in gone:
            if self.field in fact.values:
                touched.setdefault(typed(fact.values[self.field]), [])
        for fact in new:
            if self.field in fact.values:
                touched.setdefault(typed(fact.values[self.field]), []).append(fact)
            else:
                after.open = True
        place: dict[int, int] = {}
        for value, more in touched.items():
            stay = [fact for fact in self.told.get(value, ()) if id(fact) not in out]
            if stay and more:
                place = place or {id(fact): at for at, fact in enumerate(now)}
                more = sorted([*stay, *more], key=lambda fact: place[id(fact)])
            after.told[value] = more or stay
        return after


class Differences(NamedTuple):
    """The facts that went and came between two pieces, and whether the others stand in the same order."""

    went: list[Fact]
    came: list[Fact]
    in_order: bool = True


class OfKind:
    """The facts of one kind in their order, one of each key. Once it is shared it is not changed, only indexed."""

    __slots__ = ("__weakref__", "_since", "facts", "indexes", "keys", "shared")

    def __init__(self, facts: list[Fact], keys: dict[Key, Fact]) -> None:
        self.facts, self.keys = facts, keys
        self.indexes: dict[str, _Index] = {}
        self.shared = False
        self._since: tuple[ref[OfKind], Differences] | None = None

    @classmethod
    def joined(cls, parts: Sequence[OfKind], before: OfKind | None = None, its: Sequence[OfKind] = ()) -> OfKind:
        """Return the facts of some pieces in their order, without working out again what each says.

        ``before`` is what was joined so of other pieces, most of them the same.
        """
        facts = list(chain.from_iterable(map(_FACTS, parts)))
        if before is not None and its:
            keys, known = before.keys.copy(), set(map(id, its))
            there = set(map(id, parts))
            for part in its:
                if id(part) not in there:
                    for key in part.keys:
                        keys.pop(key, None)
            for part in parts:
                if id(part) not in known:
                    keys.update(part.keys)
        else:
            keys = {}
            for part in parts:
                keys.update(part.keys)
        whole = cls(facts, keys)
        if len(keys) != len(facts):  # two say the same, and the first of them is to be kept
            whole = cls([], {})
            for fact in facts:
                whole.add(fact)
        elif before is not None and len(before.facts) == sum(len(part.facts) for part in its):
            whole._since = _since(before, its, parts)
        return whole

    def add(self, fact: Fact) -> bool:
        if fact.key in self.keys:
            return False
        self.keys[fact.key] = fact
        self.facts.append(fact)
        self.indexes.clear()
        return True

    def own(self) -> OfKind:
        """Return the same facts in a piece that may be changed."""
        return OfKind(list(self.facts), dict(self.keys)) if self.shared else self

    def index(self, field: str) -> _Index:
        found = self.indexes.get(field)
        if found is None:
            found = self.indexes[field] = _Index(self.facts, field)
        return found

    def after(self, before: OfKind) -> OfKind:
        """Return this piece with what was indexed of an earlier one, or that one where its facts are the very same."""
        if before.facts == self.facts:  # facts are equal to themselves alone
            return before
        if before.indexes:
            self.shared = True
            gone, new, in_order = before.differences(self)
            if in_order and FEW_OTHERS * (len(gone) + len(new)) <= len(self.facts):
                self.indexes = {name: one.altered(self.facts, gone, new) for name, one in list(before.indexes.items())}
        return self

    def differences(self, now: OfKind) -> Differences:
        """Return what is another in a later piece than here; looked at once, as long as that is shared."""
        since = now._since
        if since is None or since[0]() is not self:
            since = ref(self), _differences(self.facts, now.facts)
            if now.shared:
                now._since = since
        return since[1]


def _since(whole: OfKind, before: Sequence[OfKind], now: Sequence[OfKind]) -> tuple[ref[OfKind], Differences] | None:
    """Return what is another since pieces were joined; None where some do not stand where they or forerunners stood."""
    if len(before) != len(now):
        return None
    changed = [one.differences(other) for one, other in zip(before, now, strict=True) if one is not other]
    went = [fact for one in changed for fact in one.went]
    came = [fact for one in changed for fact in one.came]
    if not set(map(id, went)).isdisjoint(map(id, came)):  # a fact went from one piece into another
        return None
    return ref(whole), Differences(went, came, all(one.in_order for one in changed))


def _differences(before: list[Fact], now: list[Fact]) -> Differences:
    if before == now:  # facts are equal to themselves alone
        return Differences([], [])
    earlier, later = set(map(id, before)), set(map(id, now))
    went = [fact for fact in before if id(fact) not in later]
    came = [fact for fact in now if id(fact) not in earlier]
    stay = [fact for fact in before if id(fact) in later] if went else before
    return Differences(went, came, stay == ([fact for fact in now if id(fact) in earlier] if came else now))


def _one_of(known: OfKind, fact: Fact) -> Fact:
    """Return the fact of a piece that says the same as this one from the same facts, or else this one."""
    found = known.keys.get(fact.key)
    return found if found is not None and found.origin == fact.origin else fact


_FACTS = attrgetter("facts")
NONE = OfKind([], {})
NONE.shared = True


class FactBase:
    """Facts by kind, in the order they were added; one of each key."""

    def __init__(self, facts: Iterable[Fact] = ()) -> None:
        self._kinds: dict[str, OfKind] = {}
        self._texts: dict[str, frozenset[str]] = {}
        self._parts: dict[str, list[OfKind]] = {}
        if isinstance(facts, FactBase):
            for name, piece in facts._kinds.items():
                self.put(name, piece)
            return
        for fact in facts:
            self.add(fact)

    @classmethod
    def joined(cls, bases: Iterable[FactBase], before: FactBase | None = None) -> FactBase:
        """Return the facts of some bases in their order. ``before`` is what was joined so earlier: where the bases have
        the same pieces of a kind, its piece is shared."""
        whole = cls()
        parts = whole._parts
        for base in bases:
            for name, piece in base._kinds.items():
                if name in parts:
                    parts[name].append(piece)
                else:
                    parts[name] = [piece]
        for name, pieces in parts.items():
            known = before._kinds.get(name) if before else None
            if len(pieces) == 1:
                whole.put(name, pieces[0])
            elif before and known and before._parts.get(name) == pieces:  # pieces are equal to themselves alone
                whole.put(name, known)
            else:
                made = OfKind.joined(pieces, known, before._parts.get(name, ()) if before else ())
                whole.put(name, made.after(known) if known else made)
        return whole

    def like(self, before: FactBase) -> FactBase:
        """Return the same with the very facts of another base where they say the same from the same facts."""
        after = FactBase()
        for name, piece in self._kinds.items():
            known = before.piece(name)
            same = [_one_of(known, fact) for fact in piece.facts]
            made = OfKind(same, dict(zip(piece.keys, same, strict=True))).after(known)
            after.put(name, made)
        return after

    def texts(self, field: str) -> frozenset[str]:
        """Return what texts the facts have in a field, "" where one has none."""
        found = self._texts.get(field)
        if found is None:
            found = self._texts[field] = frozenset(fact.text(field) for fact in self)
        return found

    def add(self, fact: Fact) -> bool:
        """Add a fact and return True, or return False where one that says the same is there."""
        piece = self._kinds.get(fact.kind)
        if piece is None:
            piece = self._kinds[fact.kind] = OfKind([], {})
        elif piece.shared and fact.key not in piece.keys:
            piece = self._kinds[fact.kind] = piece.own()
        if not piece.add(fact):
            return False
        self._texts.clear()
        return True

    def of(self, kind: str, **wanted: Value) -> list[Fact]:
        """Return the facts of a kind whose named fields have the wanted values."""
        found = self.piece(kind).facts
        if not wanted:
            return list(found)
        want = {name: typed(value) for name, value in wanted.items()}
        return [
            fact
            for fact in found
            if all(name in fact.values and typed(fact.values[name]) == value for name, value in want.items())
        ]

    def having(self, kind: str, field: str, value: Value, *, or_open: bool = False) -> list[Fact]:
        """Return the facts of a kind with this value in a field, also those that leave it open where that is wanted.

        They come in the order of ``of``, and are found without looking at the others.
        """
        piece, want = self.piece(kind), typed(value)
        index = piece.index(field)
        found = index.told.get(want, [])
        if not or_open or not index.open:
            return found
        return [fact for fact in piece.facts if field not in fact.values or typed(fact.values[field]) == want]

    def known(self, fact: Fact) -> Fact:
        """Return the fact here that says the same. Raise KeyError where there is none."""
        return self.piece(fact.kind).keys[fact.key]

    def kinds(self) -> set[str]:
        return set(self._kinds)

    # ---- by the piece

    def piece(self, kind: str) -> OfKind:
        """Return the facts of a kind as one piece, not to be changed."""
        return self._kinds.get(kind, NONE)

    def pieces(self) -> Mapping[str, OfKind]:
        return self._kinds

    def put(self, kind: str, piece: OfKind) -> None:
        """Hold a piece, which from here on is shared, as the facts of a kind."""
        piece.shared = True
        self._kinds[kind] = piece

    def __iter__(self) -> Iterator[Fact]:
        """Yield the facts kind by kind, in the order in which the first of each was added."""
        for piece in self._kinds.values():
            yield from piece.facts

    def __len__(self) -> int:
        return sum(len(piece.facts) for piece in self._kinds.values())

    def __contains__(self, fact: Fact) -> bool:
        return fact.key in self.piece(fact.kind).keys


@dataclass
class Proof:
    """All facts of one run, given and concluded, and every firing in a fixed order."""

    facts: FactBase = field(default_factory=FactBase)
    firings: list[Firing] = field(default_factory=list)

    def of(self, kind: str, **wanted: Value) -> list[Fact]:
        return self.facts.of(kind, **wanted)

    def signature(self) -> frozenset[tuple[str, tuple[tuple[str, Key], ...], Key, tuple[str, ...]]]:
        """Return what was proved in a form that two engines can be compared by."""
        return frozenset(
            (
                firing.rule,
                tuple(sorted((name, fact.key) for name, fact in firing.bound.items())),
                firing.conclusion.key,
                firing.unknown,
            )
            for firing in self.firings
        )
