"""The fast engine: durable_rules' compiled core finds which facts match; the conclusion is drawn in ``conclude``.

The only module that knows the core. It is driven without the library's own host, threads and decorators, which
cannot be trusted in a service (see ``tests/reasoning/test_engine_points.py``).
"""

from __future__ import annotations

import itertools
import json
import threading
import weakref
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import durable_rules_engine as core

from advisor.errors import EngineFailed
from advisor.fact_base import Proof
from advisor.facts import Fact
from advisor.reasoning.engine.conclude import matches
from advisor.reasoning.engine.durable_program import LAYER, START, Program
from advisor.reasoning.engine.passes import Match, proof_of
from advisor.reasoning.rulebase import Rule, RuleBase

Sent = tuple[str, str]
"""The kind of a fact or signal, and its text."""


class _Sessions:
    """Names of sessions, each used again once it is given back: few, so that they are known to be told apart."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._free: list[int] = []
        self._made = itertools.count()

    def take(self) -> int:
        with self._lock:
            return self._free.pop() if self._free else next(self._made)

    def give_back(self, number: int) -> None:
        with self._lock:
            self._free.append(number)


_sessions = _Sessions()
_names = itertools.count()


class _Trouble(Exception):
    """The core refused something; neither the session nor the rulesets are to be trusted any more."""


class DurableEngine:
    """Runs a rule base over facts; safe to share between threads, and each run leaves nothing behind."""

    def __init__(self, base: RuleBase) -> None:
        """Compile the rules. Raise BadRules where they cannot be ordered or compiled."""
        self.base = base
        self.program = Program.of(base)
        self._lock = threading.Lock()
        self._rulesets: Rulesets | None = None
        self._open()

    def run(self, facts: Iterable[Fact]) -> Proof:
        """Return everything that follows from the facts, with every firing in a fixed order.

        Raise EngineFailed where the core gives no usable answer; the next run starts on a fresh one (point 12).
        """
        rulesets = self._open()
        try:
            return _Run(self, rulesets).proof(facts)
        except _Trouble as trouble:
            with self._lock:
                if self._rulesets is rulesets:
                    self._rulesets = None
            raise EngineFailed(
                "running the rules", f"the engine stopped: {trouble}", "Ask again; report it if it stays"
            ) from trouble

    def _open(self) -> Rulesets:
        with self._lock:
            if self._rulesets is None:
                self._rulesets = Rulesets(self.program)
            return self._rulesets


@dataclass(frozen=True)
class Compiled:
    """One ruleset in the core, and the kinds of fact it looks at."""

    handle: int
    kinds: frozenset[str]


class Rulesets:
    """A program in the core's memory, kept from run to run and freed once no engine and no run holds it."""

    def __init__(self, program: Program) -> None:
        self.all: list[Compiled] = []
        weakref.finalize(self, _free, self.all).atexit = False
        for ruleset in program.sets:
            try:
                handle = core.create_ruleset(f"adviser{next(_names)}", ruleset.text)
            except Exception as error:  # the core raises bare exceptions with a number
                raise EngineFailed("compiling the rules", f"the engine refused them: {error}", "Report it") from error
            self.all.append(Compiled(handle, ruleset.kinds))
        self.kinds = frozenset(kind for one in self.all for kind in one.kinds)


def _free(compiled: list[Compiled]) -> None:
    for one in compiled:
        core.delete_ruleset(one.handle)


class _Run:
    """One question put to the core, in a session of its own: a ``Matcher``."""

    def __init__(self, engine: DurableEngine, rulesets: Rulesets) -> None:
        self.base, self.program, self.rulesets = engine.base, engine.program, rulesets
        self.session = _sessions.take()
        self.sid = f"s{self.session}"
        self.numbers = itertools.count()
        self.tokens = dict(engine.program.tokens)
        self.sent: dict[int, Fact] = {}
        self.opened: list[Compiled] = []

    def proof(self, facts: Iterable[Fact]) -> Proof:
        try:
            proof = proof_of(self.base, self.program.layers, self.rulesets.kinds, self, facts)
        finally:
            for one in self.opened:
                self._close(one)
        _sessions.give_back(self.session)  # not reached after an error: what the core holds of it is not known
        return proof

    def tell(self, facts: Sequence[Fact]) -> list[Match]:
        """Take facts and return each match that they complete."""
        return self._send(self._wire(facts))

    def close_layer(self, layer: int, facts: Sequence[Fact]) -> list[Match]:
        """Take facts, the last given to a layer, and return what is matched now."""
        sign = self._sign(f"{LAYER}{layer}")  # last: what is not there by now is not so (point 2)
        return self._send([*self._wire(facts), sign])

    # ---- to the core

    def _send(self, fresh: Sequence[Sent]) -> list[Match]:
        found: list[Match] = []
        for one in self.rulesets.all:
            batch = [text for kind, text in fresh if kind in one.kinds]
            if batch:  # an empty one would end the process (point 10)
                found += self._matches(one, batch)
        return found

    def _wire(self, facts: Iterable[Fact]) -> list[Sent]:
        """Return facts as they are sent, each under a number of its own (point 4)."""
        wired = []
        for fact in facts:
            number = next(self.numbers)
            self.sent[number] = fact
            wired.append((fact.kind, self.program.wire(number, self.sid, fact, self.tokens)))
        return wired

    def _sign(self, name: str) -> Sent:
        return name, self.program.sign(next(self.numbers), self.sid, name)

    def _matches(self, one: Compiled, batch: list[str]) -> list[Match]:
        try:
            if one not in self.opened:
                self._tell(one, [self._sign(START)[1]])
                self.opened.append(one)  # only now can it be closed (point 3)
            return [match for text in self._tell(one, batch) for match in self._read(text)]
        except Exception as error:  # the core raises bare exceptions with a number
            raise _Trouble(str(error)) from error

    @staticmethod
    def _tell(one: Compiled, batch: list[str]) -> list[str]:
        """Send facts, and return what fired as the core's own texts."""
        code, offset = core.assert_facts(one.handle, f"[{', '.join(batch)}]")
        if code not in (0, 1):  # 1: some fact met no rule
            raise _Trouble(f"facts were answered with {code}")
        fired: list[str] = []
        first = core.start_action_for_state(one.handle, offset)
        text = first[1] if first else None
        while text:
            fired.append(text)
            text = core.complete_and_start_action(one.handle, offset)
        return fired

    def _close(self, one: Compiled) -> None:
        try:
            core.delete_state(one.handle, self.sid)
        except Exception as error:
            raise _Trouble(str(error)) from error

    # ---- from the core

    def _read(self, text: str) -> list[Match]:
        found: dict[str, list[dict[str, Any]]] = json.loads(text)
        matched: list[Match] = []
        for name, firings in found.items():
            rule = self.program.rules[int(name.removeprefix("r"))]
            for parts in firings:
                places = enumerate(rule.when)
                bound = {block.name: self.sent[int(parts[f"p{place}"]["id"])] for place, block in places}
                if not _denied_by_its_own(rule, bound):
                    matched.append((rule, bound))
        return matched


def _denied_by_its_own(rule: Rule, bound: Mapping[str, Fact]) -> bool:
    """Return whether a fact that a ``when`` block matched meets an ``unless``; the core looks at the others only."""
    return any(
        fact.kind == block.kind and matches(block, fact, bound) for block in rule.unless for fact in bound.values()
    )
