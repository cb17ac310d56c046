"""Who makes the engine: libraries that find which facts match, each behind the same ``run``.

What an engine proves does not turn on its maker (``tests/reasoning/test_engine_agrees.py``), so a grower never needs to
choose. An operator may, and the next maker steps in where one cannot be installed.
"""

from __future__ import annotations

from collections.abc import Iterable
from importlib.util import find_spec
from typing import Protocol

from advisor.errors import BadInput
from advisor.fact_base import Proof
from advisor.facts import Fact
from advisor.reasoning.rulebase import RuleBase

LIBRARIES = {"durable": "durable_rules_engine", "clips": "clips", "plain": ""}
"""What each maker needs to be installed, the preferred one first."""


class Engine(Protocol):
    """Runs a rule base over facts; safe to share between threads, and each run leaves nothing behind."""

    base: RuleBase

    def run(self, facts: Iterable[Fact]) -> Proof:
        """Return everything that follows from the facts, with every firing in a fixed order. Raise EngineFailed."""
        ...


def makers_here() -> tuple[str, ...]:
    """Return the makers that can be used on this machine, the preferred one first."""
    return tuple(maker for maker, library in LIBRARIES.items() if not library or find_spec(library))


def make_engine(base: RuleBase, maker: str = "") -> Engine:
    """Return an engine of a maker, the preferred one unless another is named.

    Raise BadInput for a maker that is unknown or not installed, BadRules where the rules cannot be run.
    """
    here = makers_here()
    if maker and maker not in here:
        found = f"{maker!r}, which is not installed" if maker in LIBRARIES else repr(maker)
        raise BadInput("choosing the engine", found, f"Set ADVISOR_ENGINE to {' or '.join(here)}")
    match maker or here[0]:
        case "durable":
            from advisor.reasoning.engine.durable import DurableEngine  # only where it is installed

            return DurableEngine(base)
        case "clips":
            from advisor.reasoning.engine.clips import ClipsEngine

            return ClipsEngine(base)
        case _:
            from advisor.reasoning.engine.reference import ReferenceEngine

            return ReferenceEngine(base)
