"""The other fast engine: CLIPS finds which facts match, through clipspy.

The only module that knows clipspy. An environment is made once and used again, one question at a time; what matched is
read off the agenda. clipspy's own facts and templates are gone around, since they leave their builders undisposed: an
environment used through them grows by some 10 kB a question and slows down fivefold within 2,000
(``tests/reasoning/test_engine_clips.py``). The version in ``pyproject.toml`` is therefore exact.
"""

from __future__ import annotations

import threading
from collections.abc import Iterable, Sequence

import clips
from clips._clips import ffi, lib

from advisor.errors import EngineFailed
from advisor.fact_base import Proof
from advisor.facts import Fact
from advisor.reasoning.engine.clips_program import LAYER, ClipsProgram, Template, comparable
from advisor.reasoning.engine.passes import Match, proof_of
from advisor.reasoning.rulebase import RuleBase

NOWHERE = (b"", b"")
MOST_IDLE = 8
"""Environments kept for the next question."""


class ClipsEngine:
    """Runs a rule base over facts; safe to share between threads, and each run leaves nothing behind."""

    def __init__(self, base: RuleBase) -> None:
        """Compile the rules. Raise BadRules where they cannot be ordered or compiled."""
        self.base = base
        self.program = ClipsProgram.of(base)
        self._lock = threading.Lock()
        self._idle: list[_Environment] = []  # made when first asked: it takes tens of milliseconds

    def run(self, facts: Iterable[Fact]) -> Proof:
        """Return everything that follows from the facts, with every firing in a fixed order.

        Raise EngineFailed where CLIPS gives no usable answer; the next run starts on a fresh environment.
        """
        with self._lock:
            environment = self._idle.pop() if self._idle else None
        environment = environment or _Environment(self.program)
        with environment:
            proof = proof_of(self.base, self.program.layers, environment.kinds, environment, facts)
        with self._lock:  # not reached after an error: such an environment is not to be trusted
            if len(self._idle) < MOST_IDLE:
                self._idle.append(environment)
        return proof


def _slots(template: Template) -> dict[str, tuple[bytes, bytes]]:
    """Return by field the slots for its value as a symbol and as a number; empty where no rule looks at it so."""
    both = {**template.equal, **template.compared}
    return {name: (template.equal.get(name, "").encode(), template.compared.get(name, "").encode()) for name in both}


class _Environment:
    """A program in CLIPS's memory, for one question at a time: a ``Matcher``."""

    def __init__(self, program: ClipsProgram) -> None:
        self.program = program
        self.kinds = frozenset(program.templates)
        self._held = clips.Environment()
        self._env = self._held._env
        for construct in program.constructs:
            try:
                self._held.build(construct)
            except clips.CLIPSError as error:
                raise EngineFailed("compiling the rules", f"CLIPS refused {construct}: {error}", "Report it") from error
        self._templates = {kind: (one.name.encode(), _slots(one)) for kind, one in program.templates.items()}
        self._value = ffi.new("CLIPSValue *")

    def __enter__(self) -> _Environment:
        self._builder = lib.CreateFactBuilder(self._env, ffi.NULL)
        self._text = lib.CreateStringBuilder(self._env, 512)
        self._symbols = {value: self._symbol(name) for value, name in self.program.symbols.items()}
        self._told: dict[int, Fact] = {}
        return self

    def __exit__(self, *_: object) -> None:
        lib.FBDispose(self._builder)
        lib.SBDispose(self._text)
        lib.Reset(self._env)
        self._told = {}

    def tell(self, facts: Sequence[Fact]) -> list[Match]:
        """Take facts and return each match that they complete."""
        for fact in facts:
            self._assert(fact)
        return self._matches()

    def close_layer(self, layer: int, facts: Sequence[Fact]) -> list[Match]:
        """Take facts, the last given to a layer, and return what is matched now."""
        for fact in facts:
            self._assert(fact)
        self._begin(LAYER.encode())
        self._put(b"number", lib.CreateInteger(self._env, layer))
        self._done()
        return self._matches()

    # ---- to CLIPS

    def _assert(self, fact: Fact) -> None:
        template, slots = self._templates[fact.kind]
        self._begin(template)
        self._put(b"id", lib.CreateInteger(self._env, len(self._told)))
        for name, value in fact.key[1]:  # what is not known stays nil
            equal, compared = slots.get(name, NOWHERE)
            if equal:
                symbol = self._symbols.get(value)
                if symbol is None:
                    symbol = self._symbols[value] = self._symbol(f"t{len(self._symbols)}")
                self._put(equal, symbol)
            if compared and value[0] == "number" and isinstance(value[1], float):
                number = comparable(value[1])
                if number is not None:
                    self._put(compared, lib.CreateFloat(self._env, number))
        self._told[self._done()] = fact

    def _symbol(self, name: str) -> object:
        """Return a symbol of CLIPS; it stays as long as a fact has it, and that is until the question's end."""
        return lib.CreateSymbol(self._env, name.encode())

    def _begin(self, template: bytes) -> None:
        self._check(lib.FBSetDeftemplate(self._builder, template), lib.FBE_NO_ERROR)

    def _put(self, slot: bytes, value: object) -> None:
        self._value.value = value
        self._check(lib.FBPutSlot(self._builder, slot, self._value), lib.PSE_NO_ERROR)

    def _done(self) -> int:
        """Assert the fact that was begun and return its index."""
        fact = lib.FBAssert(self._builder)
        if fact == ffi.NULL:
            self._check(lib.FBError(self._env), None)
        return int(lib.FactIndex(fact))

    def _check(self, code: int, good: int | None) -> None:
        if code != good:
            raise EngineFailed("running the rules", f"CLIPS answered {code}", "Ask again; report it if it stays")

    # ---- from CLIPS

    def _matches(self) -> list[Match]:
        """Take all that is on the agenda off it."""
        found: list[Match] = []
        activation = lib.GetNextActivation(self._env, ffi.NULL)
        while activation != ffi.NULL:
            lib.SBReset(self._text)
            lib.ActivationPPForm(activation, self._text)
            found.append(self._read(ffi.string(self._text.contents)))
            activation = lib.GetNextActivation(self._env, activation)
        lib.Run(self._env, -1)
        return found

    def _read(self, text: bytes) -> Match:
        """Read an activation, such as ``0 r12: f-3,f-7,f-1,*``: the rule, then a fact or a star for each pattern."""
        head, _, basis = text.partition(b":")
        rule = self.program.rules[int(head.split()[1][1:])]
        facts = (self._told[int(part.strip()[2:])] for part in basis.split(b",")[: len(rule.when)])
        return rule, {block.name: fact for block, fact in zip(rule.when, facts, strict=False)}
