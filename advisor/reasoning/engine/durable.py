"""The fast engine: durable_rules' compiled core finds which facts match; the conclusion is drawn in ``conclude``.

The only module that knows the core. It is driven without the library's own host, threads and decorators, which
cannot be trusted in a service (see ``tests/reasoning/test_engine_points.py``).
"""

from __future__ import annotations

import itertools
import json
import threading
from collections.abc import Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from typing import Any

import durable_rules_engine as core

from advisor.errors import EngineFailed
from advisor.facts import Fact, FactBase, Proof
from advisor.reasoning.engine.conclude import fire, matches
from advisor.reasoning.engine.durable_program import Program
from advisor.reasoning.rulebase import Rule, RuleBase

MOST_FACTS = 20_000
"""Facts of one question; the core knows facts by a hash of their id that is safe up to about this (point 4)."""

_sessions = itertools.count()
_rulesets = itertools.count()


class DurableEngine:
    """Runs a rule base over facts; safe to share between threads, and each run leaves nothing behind."""

    def __init__(self, base: RuleBase) -> None:
        """Compile the rules. Raises BadRules where they cannot be ordered or compiled."""
        self.base = base
        self.program = Program.of(base)
        self._lock = threading.Lock()
        self._handles = self._make()

    def _make(self) -> list[tuple[Any, frozenset[str]]]:
        return [(core.create_ruleset(f"adviser{next(_rulesets)}", text), kinds) for text, kinds in self.program.sets]

    def run(self, facts: Iterable[Fact]) -> Proof:
        """Return everything that follows from the facts, with every firing.

        Raises EngineFailed where the core gives no usable answer; the next run starts on a fresh one (point 12).
        """
        handles = self._handles
        try:
            return _Run(self, handles).proof(facts)
        except EngineFailed:
            with self._lock:
                if self._handles is handles:
                    self._handles = self._make()
            raise


@dataclass
class _Run:
    """One question put to the core, in a session of its own."""

    engine: DurableEngine
    handles: list[tuple[Any, frozenset[str]]]
    sid: str = field(default_factory=lambda: f"s{next(_sessions)}")

    def __post_init__(self) -> None:
        self.numbers = itertools.count()
        self.tokens = dict(self.engine.program.tokens)
        self.sent: dict[int, Fact] = {}

    def proof(self, facts: Iterable[Fact]) -> Proof:
        proof = Proof(FactBase(facts))
        opened: list[Any] = []
        try:
            for handle, _ in self.handles:
                opened.append(handle)
                self._tell(handle, [Program.sign(next(self.numbers), self.sid, "$start")])
            fresh = [(fact.kind, self._wire(fact)) for fact in proof.facts]
            for layer in range(len(self.engine.program.layers)):
                fresh.append((f"$go{layer}", Program.sign(next(self.numbers), self.sid, f"$go{layer}")))
                while fresh:
                    fresh = self._round(fresh, proof)
        finally:
            for handle in opened:
                with suppress(core.error):  # a session that failed to open cannot be deleted, and need not be
                    core.delete_state(handle, self.sid)
        return proof

    def _wire(self, fact: Fact) -> str:
        number = next(self.numbers)
        if len(self.sent) >= MOST_FACTS:
            raise EngineFailed(
                "running the rules", f"more than {MOST_FACTS} facts", "Ask about one plant or one kind of tree"
            )
        self.sent[number] = fact
        return self.engine.program.wire(number, self.sid, fact, self.tokens)

    def _round(self, fresh: list[tuple[str, str]], proof: Proof) -> list[tuple[str, str]]:
        """Send facts, draw the conclusions of all that fired in a fixed order, and return the new facts."""
        fired: list[tuple[str, tuple[object, ...], Rule, dict[str, Fact]]] = []
        for handle, kinds in self.handles:
            batch = [text for kind, text in fresh if kind in kinds]
            if batch:
                for rule, bound in self._tell(handle, batch):
                    if not _denied_by_its_own(rule, bound):
                        fired.append((rule.id, tuple(fact.key for fact in bound.values()), rule, bound))
        fired.sort(key=lambda entry: entry[:2])  # the core's own order is not promised (point 11)
        new = []
        for _, _, rule, bound in fired:
            firing = fire(rule, bound, proof.facts, self.engine.base.kinds)
            proof.firings.append(firing)
            if proof.facts.add(firing.conclusion):
                new.append((firing.conclusion.kind, self._wire(firing.conclusion)))
        return new

    def _tell(self, handle: Any, batch: list[str]) -> Iterator[tuple[Rule, dict[str, Fact]]]:
        try:
            code, offset = core.assert_facts(handle, f"[{', '.join(batch)}]")
            if code not in (0, 1):  # 1: some fact met no rule
                raise EngineFailed(
                    "running the rules", f"the engine answered {code}", "Send it again; report it if it stays"
                )
            messages = []
            result = core.start_action_for_state(handle, offset)
            text = result[1] if result else None
            while text:
                messages.append(text)
                text = core.complete_and_start_action(handle, offset)
        except EngineFailed:
            raise
        except Exception as error:  # the core raises bare exceptions with a number
            raise EngineFailed("running the rules", f"the engine stopped: {error}", "Send it again") from error
        return iter([found for text in messages for found in self._read(text)])

    def _read(self, text: str) -> Iterator[tuple[Rule, dict[str, Fact]]]:
        for name, found in json.loads(text).items():
            if name == "start":
                continue
            rule = self.engine.program.rules[int(name[1:])]
            for match in found:
                yield (
                    rule,
                    {block.name: self.sent[int(match[f"p{place}"]["id"])] for place, block in enumerate(rule.when)},
                )


def _denied_by_its_own(rule: Rule, bound: dict[str, Fact]) -> bool:
    """Return whether a fact that a ``when`` block matched meets an ``unless``; the core looks at the others only."""
    return any(
        fact.kind == block.kind and matches(block, fact, bound) for block in rule.unless for fact in bound.values()
    )
