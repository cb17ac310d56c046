"""Engines that fail as a test wants, planted in a process of its own: at one kind of question, by chosen makers.

``python -c planted.LAUNCH PLAN WORDS...`` runs the command line with them; PLAN is a JSON object of maker to fate.
"""

from __future__ import annotations

import ctypes
import json
import os
import signal
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from advisor.errors import EngineFailed
from advisor.fact_base import Proof
from advisor.facts import Fact
from advisor.reasoning.derive.memory import Memories, Memory
from advisor.reasoning.engine import Engine, StandIns

POISON, POISONED = "when was the last frost?", "frost-dates"
"""A message, and the kind of question that it is: planted engines fail at this kind and at no other."""
HERE = Path(__file__).resolve().parent
LAUNCH = f"""
import sys
sys.path.insert(0, {str(HERE)!r})
import planted
from advisor.doors import standing_by
from advisor.doors.command_line import main
if "stuck" in sys.argv[1]:  # else a machine that halts for a moment would end what is not stuck
    standing_by.STUCK_S = 5.0
planted.plant(sys.argv.pop(1))
main()
"""


def plant(plan: str) -> None:
    """Let the engines of some makers meet a fate of ``FATES`` at poisoned questions, in this process from now on."""
    fates: Mapping[str, str] = json.loads(plan)
    if "memory" in fates:  # nothing is remembered, so that each question runs an engine
        Memories.of = lambda self, records, today: Memory(records)  # type: ignore[method-assign]
    sound = StandIns._engine

    def engine(self: StandIns, maker: str) -> Engine:
        made = sound(self, maker)
        return Planted(made, fates[maker]) if maker in fates and self.question == POISONED else made

    StandIns._engine = engine  # type: ignore[method-assign]


class Planted:
    def __init__(self, engine: Engine, fate: str) -> None:
        self.base, self.fate = engine.base, fate

    def run(self, facts: Iterable[Fact]) -> Proof:
        FATES[self.fate]()
        raise AssertionError("it was to die of that")


def read_nowhere() -> None:
    ctypes.string_at(0)


def refuse() -> None:
    raise EngineFailed("running the rules", "the engine stopped: planted", "Ask again")


def never_come_back() -> None:
    """Hold the interpreter for minutes, as compiled code does that never comes back."""
    ctypes.PyDLL(None).sleep(600)


FATES: dict[str, Any] = {
    "SIGSEGV": read_nowhere,
    "SIGABRT": os.abort,
    "SIGKILL": lambda: os.kill(os.getpid(), signal.SIGKILL),  # as the system does where memory runs out
    "refused": refuse,
    "stuck": never_come_back,
}
