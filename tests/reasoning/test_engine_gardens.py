"""Every engine gives the same answers about random gardens, to every question of the real rule base.

Here some twenty gardens are asked about; ``python tests/fuzz/engine_gardens.py`` asks about as many as are wanted.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest
from gardens_agree import Grown, as_program, grown, the_adviser
from random_gardens import random_garden

from advisor.facts import Derived, Recorded
from advisor.reasoning.derive import DERIVATIONS
from advisor.records.questions import SHOWS_RECORDS

GARDENS = 20


@cache
def asked() -> Grown:
    return grown(0, GARDENS)


def test_engines_agree_about_gardens() -> None:
    """Whatever is asked of a garden, all engines give one proof, whatever the order of the facts."""
    assert asked().differ == {}


def test_most_rules_fire_in_some_garden() -> None:
    """The gardens are not idle: in twenty of them nine rules of ten fire, many times."""
    rules = the_adviser().base.rules
    assert len(asked().fired) > 0.85 * len(rules), sorted(set(rules) - asked().fired)
    assert asked().firings > 3000 and asked().gardens == GARDENS


def test_gardens_hold_facts_of_records_too(tmp_path: Path) -> None:
    """Beside facts of cases, half of the gardens have facts that are recorded or derived from rows told."""
    real, gardens = 0, []
    for seed in range(8):
        folder = tmp_path / str(seed)
        folder.mkdir()
        facts = [fact for found in random_garden(the_adviser(), seed, folder).values() for fact in found]
        gardens.append({fact.key for fact in facts})
        of_rows = [
            f
            for f in facts
            if isinstance(f.origin, Recorded) or (isinstance(f.origin, Derived) and f.origin.function in DERIVATIONS)
        ]
        real += len({fact.kind for fact in of_rows}) > 15
    assert real >= 3
    assert len({frozenset(keys) for keys in gardens}) == 8


@pytest.mark.parametrize("question", sorted({*the_adviser().questions} - {SHOWS_RECORDS}))
def test_a_garden_is_a_program_too(question: str) -> None:
    """The rules of a question, written as a program to be cut down, are the rules that they were."""
    base = the_adviser().engine_of(question)[1].base
    again = as_program(base, []).base()
    for name, rule in base.rules.items():
        made = again.rules[name]
        assert (made.when, made.unless, made.conclude, made.gives) == (
            rule.when,
            rule.unless,
            rule.conclude,
            rule.gives,
        )
    assert {name: kind.about for name, kind in again.kinds.items()} == {n: kind.about for n, kind in base.kinds.items()}
