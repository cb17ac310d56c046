"""Engines with a planted fault: the random programs find each, and the program that shows it is cut down to a few lines."""

from __future__ import annotations

from contextlib import suppress

import pytest
from engine_agreement import differences
from engine_minimiser import shrink
from engine_programs import Program
from random_rules import random_program
from wrong_engines import FAULTS

from advisor.errors import BadRules
from advisor.reasoning.engine import ReferenceEngine

TRIES = 300


def found(engine: type[ReferenceEngine]) -> tuple[Program, int]:
    """Return the first random program over which an engine differs, and its seed."""
    for seed in range(TRIES):
        program = random_program(seed)
        if differences(program, {"wrong": engine}, seed):
            return program, seed
    pytest.fail(f"not found in {TRIES} programs")


@pytest.mark.parametrize("name", FAULTS)
def test_a_planted_fault_is_found_and_cut_down(name: str) -> None:
    """A wrong engine differs over one of a few hundred programs, and two rules and three facts are left to show it."""
    makers = {"wrong": FAULTS[name]}
    program, seed = found(FAULTS[name])
    sorts = set(differences(program, makers, seed))
    small = shrink(program, lambda cut: bool(sorts & set(differences(cut, makers, seed))))
    assert differences(small, makers, seed)
    assert len(small.rules) <= 2 and len(small.facts) <= 3, small.text()
    assert small.size() <= program.size()


def test_nothing_is_cut_from_what_shows_nothing() -> None:
    """A program over which no engine differs is refused, for everything could be cut from it."""
    with pytest.raises(ValueError, match="nothing to hold on to"):
        shrink(random_program(1), lambda cut: False)


def test_what_is_cut_stays_whole() -> None:
    """With a block go the joins and the templates that name it: a cut may have no sound order, but always a meaning."""
    tried: list[Program] = []

    def still(cut: Program) -> bool:
        tried.append(cut)
        return any(rule["unless"] for rule in cut.rules)

    small = shrink(random_program(22), still)
    assert [len(rule["when"]) for rule in small.rules] == [1] and not small.facts
    for cut in tried:
        with suppress(BadRules):
            assert ReferenceEngine(cut.base()).run(cut.given())
