"""Every engine proves the same, to the last detail: random programs, and the cases that such programs once came to.

What is compared, and what each program is made of, is told in ``engine_agreement`` and ``random_rules``. Here some hundred
programs are run; ``python tests/fuzz/engines.py`` runs as many as are asked for.
"""

from __future__ import annotations

from collections import Counter
from datetime import date
from pathlib import Path

import pytest
from engine_agreement import compare, differences, engines
from engine_coverage import ALL, held
from engine_minimiser import shrink
from engine_programs import Program, read_program
from random_rules import random_program
from small_rules import base_of, fact, rule

from advisor.reasoning.engine import ReferenceEngine, make_engine, makers_here

CASES = sorted((Path(__file__).parent / "engine_cases").glob("*.json"))
PROGRAMS = 400
ENGINES = engines()


def smallest(program: Program, mixed_by: int) -> str:
    """Return a program over which engines differ, cut down to a case to keep."""
    sorts = set(differences(program, ENGINES, mixed_by))
    small = shrink(program, lambda cut: bool(sorts & set(differences(cut, ENGINES, mixed_by))))
    return small.text(differs=differences(small, ENGINES, mixed_by))


@pytest.mark.parametrize("first", range(0, PROGRAMS, 100))
def test_engines_agree(first: int) -> None:
    """A hundred random programs a turn: one proof from all engines, with the same order, origins, unknowns and figures."""
    for seed in range(first, first + 100):
        program = random_program(seed)
        if differences(program, ENGINES, seed):
            pytest.fail(f"program {seed}: {smallest(program, seed)}")


@pytest.mark.parametrize("path", CASES, ids=lambda path: path.stem)
def test_kept_cases(path: Path) -> None:
    """A program over which engines once differed fires its rules in the order that it tells, in every engine."""
    program, said = read_program(path.read_text(encoding="utf-8"))
    assert differences(program, ENGINES) == {}
    for maker in makers_here():
        assert [one.rule for one in make_engine(program.base(), maker).run(program.given()).firings] == said["fires"]


def test_the_random_programs_are_not_idle() -> None:
    """Most programs fire; joins, chains, layers, unknowns, odd names and values, and each operator come up often."""
    seen: Counter[str] = Counter()
    for seed in range(PROGRAMS):
        program = random_program(seed)
        seen.update(held(program, ReferenceEngine(program.base()).run(program.given())))
    assert seen["fired"] > 0.7 * PROGRAMS and seen["silent"] > 0.1 * PROGRAMS
    assert set(seen) == ALL
    assert min(seen.values()) >= 4, seen.most_common()[-5:]


def test_a_seed_makes_one_program() -> None:
    """The same seed makes the same program, and another seed another."""
    assert random_program(7).text() == random_program(7).text()
    assert len({random_program(seed).text() for seed in range(50)}) == 50


@pytest.mark.parametrize("seed", range(20))
def test_a_program_is_kept_as_it_is(seed: int) -> None:
    """A program read back from its case is the one that was written, its values to the last sign."""
    program = random_program(seed)
    again, said = read_program(program.text(says="kept"))
    assert repr(again.facts) == repr(program.facts) and again.text() == program.text()
    assert said == {"says": "kept"}


def test_a_conclusion_carries_values_and_words() -> None:
    """A whole reference keeps its value's type, words around one take its text, and what is not known says nothing."""
    base = base_of(
        rule({"a": {"kind": "a"}}, n="{a.n}", on="{a.on}", gone="{a.gone}", said="{a.n} of {a.k} on {a.on}{a.gone}")
    )
    facts = [fact("a", n=0, k=False, on=date(2026, 4, 1))]
    assert compare(base, facts, ENGINES) == {}
    (found,) = make_engine(base).run(facts).of("found")
    assert dict(found.values) == {"n": 0, "on": date(2026, 4, 1), "said": "0 of False on 2026-04-01"}
