"""Rules, facts and runs written short, and child processes, for the tests of the engines."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any

from advisor.fact_base import Proof
from advisor.facts import Derived, Fact, Value
from advisor.reasoning.engine import ReferenceEngine, make_engine
from advisor.reasoning.rulebase import RuleBase, rule_from
from advisor.records.kinds import Kind

ROOT = Path(__file__).resolve().parents[2]


def rule(when: dict[str, Any], then: str = "found", unless: dict[str, Any] | None = None, **gives: Value) -> Any:
    """Return a rule; each block is its name and {kind, field: test}."""
    return {"when": when, "unless": unless or {}, "then": {"conclude": then, **gives}}


def base_of(*rules: dict[str, Any], about: tuple[str, ...] = (), absent_means: str = "no") -> RuleBase:
    """Return a rule base of such rules, numbered from r0, and the kinds that they speak of."""
    made = {}
    for number, given in enumerate(rules):
        raw = {"says": "", "how_it_works": "", "strength": "disputed", "sources": [], "cautions": [], **given}
        made[f"r{number}"] = rule_from({"id": f"r{number}", **raw}, "test", "making a rule of a test")
    blocks = [block for one in made.values() for block in (*one.when, *one.unless)]
    names = [block.kind for block in blocks] + [one.conclude for one in made.values()]
    return RuleBase(made, {name: Kind(name, "", "derived", about, {}, absent_means) for name in names})


def fact(kind: str, **values: Value | None) -> Fact:
    return Fact.of(kind, values, Derived("given", ()))


def run(base: RuleBase, facts: Iterable[Fact]) -> Proof:
    """Return what the fast engine proves, having seen that the plain evaluator proves the same."""
    given = list(facts)
    proof = make_engine(base).run(given)
    assert proof.signature() == ReferenceEngine(base).run(given).signature()
    assert len(proof.firings) == len(proof.signature())
    return proof


def in_order(proof: Proof) -> list[Any]:
    """Return a proof's firings in their order, as plain data."""
    return [
        [one.rule, [repr(fact.key) for fact in one.bound.values()], repr(one.conclusion.key), list(one.unknown)]
        for one in proof.firings
    ]


def child(script: str, switches: Mapping[str, str] | None = None) -> subprocess.CompletedProcess[str]:
    """Run a script in a process of its own, with switches in its environment; it may import what tests share."""
    paths = f"import sys\nsys.path[:0] = {[str(ROOT), str(ROOT / 'tests' / 'shared')]!r}\n"
    return subprocess.run(
        [sys.executable, "-c", paths + script],
        env={**os.environ, **(switches or {})}, capture_output=True, text=True, timeout=120, check=False,
    )  # fmt: skip


def in_child(function: Callable[[], object], switches: Mapping[str, str] | None = None) -> Any:
    """Return what a function of a test file returns in a process of its own, by way of JSON."""
    file, name = function.__code__.co_filename, function.__name__
    done = child(f"import json, runpy\nprint(json.dumps(runpy.run_path({file!r})[{name!r}]()))", switches)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout.splitlines()[-1])
