"""Where engines differ over a program: each must prove the same, in the same order, whatever the order of the facts.

The plain evaluator judges. An engine must give its firings, once each and in its order; what each was bound to,
concluded, could not know and weighed; and the same facts with the same origins. Values are compared as they are
written, so that a 5 does not pass for a 5.0. Facts that say the same are one fact, of which the first told is kept; so
facts are mixed without them.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import suppress
from functools import partial
from random import Random
from unittest import mock

from engine_programs import Program

from advisor.errors import AdvisorError, TooManyFacts
from advisor.fact_base import FactBase, Proof
from advisor.facts import Concluded, Fact, Firing
from advisor.reasoning.engine import Engine, ReferenceEngine, following, make_engine, makers_here
from advisor.reasoning.engine.following import Following
from advisor.reasoning.rulebase import RuleBase

Maker = Callable[[RuleBase], Engine]
Differences = dict[str, str]
"""What sort of difference → the engine, and the first thing in which it differs."""
FEW_BLOCKS = 8
"""Blocks in a ruleset of the compiled core where rules are to be spread over many."""


def _spread(base: RuleBase) -> Engine:
    from advisor.reasoning.engine import durable_program  # only where it is installed

    with mock.patch.object(durable_program, "MOST_BLOCKS", FEW_BLOCKS):
        return make_engine(base, "durable")


class Followed:
    """An engine that comes to the facts by way of others: some left out, some said differently, some beside them."""

    followed = 0
    """How often a proof was followed, and not run anew."""

    def __init__(self, base: RuleBase) -> None:
        self.base = base
        self._following = Following(make_engine(base))
        self._chance = Random(len(base.rules))

    def run(self, facts: Iterable[Fact]) -> Proof:
        wanted = FactBase(facts)
        with mock.patch.object(following, "MOST_CHANGED", 10.0):
            before = None
            for _ in range(2):
                with suppress(TooManyFacts):  # others than those wanted may be more than one run takes
                    before = self._next(FactBase(self._otherwise(list(wanted))), before)
            return self._next(wanted, before)

    def _next(self, facts: FactBase, before: Proof | None) -> Proof:
        proof = self._following.run(facts, before)
        known = set(map(id, before.firings)) if before else ()
        Followed.followed += any(id(one) in known for one in proof.firings)
        return proof

    def _otherwise(self, facts: list[Fact]) -> Iterator[Fact]:
        concluded = self.base.concluded_kinds()
        for fact in facts:
            chance = self._chance.random() if fact.kind not in concluded else 0.5  # where such change all is run anew
            if chance < 0.1:  # the same, told anew
                yield Fact(fact.kind, fact.values, fact.origin)
            elif chance < 0.2:
                like = self._chance.choice(facts)
                yield Fact(fact.kind, {**fact.values, **like.values} if like.kind == fact.kind else {}, fact.origin)
            if 0.1 < chance < 0.9:
                yield fact


def engines(*, spread: bool = True) -> dict[str, Maker]:
    """Return each way of making an engine on this machine, the judge aside.

    With ``spread`` the compiled core is tried a second time, with the rules spread over many rulesets. One comes to the
    facts by way of others.
    """
    found: dict[str, Maker] = {maker: partial(make_engine, maker=maker) for maker in makers_here() if maker != "plain"}
    if spread and "durable" in found:
        found["durable over many rulesets"] = _spread
    found["followed"] = Followed
    return found


def differences(program: Program, makers: Mapping[str, Maker], mixed_by: int = 0) -> Differences:
    """Return how the engines differ from the plain evaluator, or from themselves once the facts are mixed."""
    return compare(program.base(), program.given(), makers, mixed_by)


def compare(base: RuleBase, facts: list[Fact], makers: Mapping[str, Maker], mixed_by: int = 0) -> Differences:
    """Return how engines differ over rules and facts, as ``differences`` does."""
    once = list({fact.key: fact for fact in reversed(facts)}.values())[::-1]
    mixed = Random(mixed_by).sample(once, k=len(once))
    words = _Words()
    found: Differences = {}
    judged = _ran(ReferenceEngine, base, facts, words)
    if isinstance(judged, str) and not judged.startswith(TooManyFacts.__name__):  # by which all are to be stopped
        found["the plain evaluator failed"] = judged
    for name, make in {**makers, "plain": ReferenceEngine}.items():
        ran = _ran(make, base, facts, words) if name != "plain" else judged
        found |= {sort: f"{name}: {text}" for sort, text in _between(judged, ran).items() if sort not in found}
        if not found and (apart := _between(ran, _ran(make, base, mixed, words), mixed=True)):
            found["by the order of the facts"] = f"{name}: {apart}"
    return found


class _Words:
    """Facts as text, each told once: engines share most of them."""

    def __init__(self) -> None:
        self._said: dict[int, tuple[Fact, str]] = {}

    def said(self, fact: Fact) -> str:
        known = self._said.get(id(fact))
        if known is None:  # the fact is kept too, so that no other comes to bear its id
            text = f"{fact.kind} {sorted((name, repr(value)) for name, value in fact.values.items())}"
            known = self._said[id(fact)] = (fact, text)
        return known[1]

    def source(self, fact: Fact) -> str:
        if isinstance(fact.origin, Concluded):
            return f"{self.said(fact)} by {fact.origin.rule} from {[self.said(one) for one in fact.origin.facts]}"
        return self.said(fact)

    def fired(self, firing: Firing) -> str:
        bound = [(name, self.said(fact)) for name, fact in firing.bound.items()]
        return f"{firing.rule} on {bound} concludes {self.said(firing.conclusion)}"

    def past(self, firing: Firing) -> str:
        return f"{firing.unknown}, past {sorted(self.said(fact) for fact in firing.settled)}"


class _Proved:
    """A proof as text: its firings, facts and sources in order, and past what each firing went."""

    def __init__(self, proof: Proof, words: _Words) -> None:
        self.fired = [words.fired(firing) for firing in proof.firings]
        self.past = [words.past(firing) for firing in proof.firings]
        self.facts = [words.said(fact) for fact in proof.facts]
        self.sources = {words.source(fact) for fact in proof.facts}


def _ran(make: Maker, base: RuleBase, facts: Iterable[Fact], words: _Words) -> _Proved | str:
    try:
        return _Proved(make(base).run(facts), words)
    except AdvisorError as error:
        return f"{type(error).__name__}: {error}"
    except Exception as error:  # whatever it is, it is a fault that the run is to report
        return f"crashed with {error!r}"


def _between(one: _Proved | str, other: _Proved | str, *, mixed: bool = False) -> Differences:
    """Return how one proof differs from another."""
    if isinstance(one, str) or isinstance(other, str):
        same = isinstance(one, str) and isinstance(other, str)
        return {} if same else {"failed": one if isinstance(one, str) else str(other)}
    found: Differences = {}
    if apart := (Counter(one.fired) - Counter(other.fired)) + (Counter(other.fired) - Counter(one.fired)):
        found["firings"] = f"{len(other.fired)} firings for {len(one.fired)}; {next(iter(apart))}"
    elif one.fired != other.fired:
        pairs = zip(one.fired, other.fired, strict=True)
        found["order"] = next(f"{there} where {here} is due" for here, there in pairs if here != there)
    if len(set(other.fired)) != len(other.fired):
        found["twice"] = next(text for text, count in Counter(other.fired).items() if count > 1)
    if set(one.facts) != set(other.facts):
        found["facts"] = str(set(one.facts) ^ set(other.facts))
    elif not mixed and one.facts != other.facts:
        found["order of facts"] = next(there for here, there in zip(one.facts, other.facts, strict=True)
                                       if here != there)  # fmt: skip
    elif one.sources != other.sources:
        found["origins"] = str(one.sources ^ other.sources)
    if not found and one.past != other.past:
        found["unknown or settled"] = next(f"{there} where {here} is due" for here, there in
                                           zip(one.past, other.past, strict=True) if here != there)  # fmt: skip
    return found
