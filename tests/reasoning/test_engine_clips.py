"""What CLIPS is to be handled with, and what our use of it cures.

Seen with clipspy 1.0.6, the version that ``pyproject.toml`` asks for. The CLIPS reference manual (Basic Programming
Guide, 6.4) defines templates, patterns and the agenda; that facts made through clipspy's own calls are never freed is
written nowhere.
"""

from __future__ import annotations

import gc
import sys
from pathlib import Path

import pytest
from small_rules import base_of, fact, in_child, rule

clips = pytest.importorskip("clips")

from advisor.reasoning.engine.clips import ClipsEngine  # noqa: E402
from advisor.reasoning.engine.clips_program import ClipsProgram  # noqa: E402

JOINED = base_of(
    rule({"a": {"kind": "a", "k": 5}, "b": {"kind": "b", "k": {"same_as": "a.k"}, "n": {"above": 2}}}, n="{b.n}")
)


def resident_kb() -> float:
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * 4.0


def grown_by_stock() -> float:
    """Return what 2,000 rounds of the library's own calls add. [kB]"""
    environment = clips.Environment()
    environment.build("(deftemplate a (slot n))")
    environment.build("(defrule r (a (n ?n&:(> ?n 2))) =>)")
    template = environment.find_template("a")
    for round_ in range(2200):
        if round_ == 200:
            gc.collect()
            before = resident_kb()
        environment.reset()
        for n in range(20):
            template.assert_fact(n=n)
        environment.run()
    return resident_kb() - before


def grown_by_ours() -> float:
    """Return what 2,000 questions to one engine add. [kB]"""
    engine = ClipsEngine(JOINED)
    facts = [fact("a", k=5), *(fact("b", k=5, n=n) for n in range(20))]
    for round_ in range(2200):
        if round_ == 200:
            gc.collect()
            before = resident_kb()
        assert len(engine.run(facts).firings) == 17
    return resident_kb() - before


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="reads memory as Linux tells it")
def test_an_environment_is_used_again_without_growing() -> None:
    """Questions one after another in one environment leave nothing behind, as the library's own calls do."""
    ours = in_child(grown_by_ours)
    assert ours < 300
    assert in_child(grown_by_stock) > ours + 1000


def test_an_environment_is_made_once_and_used_again() -> None:
    """An environment is made for the first question, and the questions after it use the same."""
    engine = ClipsEngine(JOINED)
    assert engine._idle == []
    engine.run([fact("a", k=5)])
    (first,) = engine._idle
    engine.run([fact("a", k=5)])
    assert engine._idle == [first]


def test_nothing_of_a_question_is_there_in_the_next() -> None:
    """Facts of one question are not matched in the next."""
    engine = ClipsEngine(JOINED)
    assert len(engine.run([fact("a", k=5), fact("b", k=5, n=3)]).firings) == 1
    assert engine.run([fact("b", k=5, n=3)]).firings == []


@pytest.mark.parametrize("odd", ["nil", "?x", "(a b)", '"', "a;b", "&~|", "*", "TRUE", "\\", "\n", "", "é", "<-", "=>"])
def test_no_text_means_anything_to_clips(odd: str) -> None:
    """Text that CLIPS could read as its own language is a value like any other, in facts and in rules."""
    rules = base_of(
        rule({"a": {"kind": "a", "k": odd}, "b": {"kind": "b", "k": {"same_as": "a.k"}}}, then="found", k="{b.k}"),
        rule({"a": {"kind": "a", "k": {"not": odd}}}, then="other", k="{a.k}"),
    )
    proof = ClipsEngine(rules).run([fact("a", k=odd), fact("b", k=odd), fact("b", k="else"), fact("b"), fact("a")])
    assert [one.conclusion.get("k") for one in proof.firings] == [odd]


@pytest.mark.parametrize("odd", ["a b", "a(b", "9", "größe", "layer", "nil", "a;b", "?a"])
def test_kinds_and_fields_of_any_name_compile(odd: str) -> None:
    """Names of kinds and fields never reach CLIPS."""
    rules = base_of(rule({"a": {"kind": odd, odd: {"above": 1}}, "b": {"kind": "b", odd: {"same_as": f"a.{odd}"}}}))
    assert len(ClipsEngine(rules).run([fact(odd, **{odd: 2}), fact("b", **{odd: 2.0})]).firings) == 1


def test_a_field_that_is_not_known_joins_to_nothing() -> None:
    """Two facts that both leave a field open do not share it, and such a field blocks nothing."""
    joined = {"kind": "b", "k": {"same_as": "a.k"}}
    rules = base_of(
        rule({"a": {"kind": "a"}, "b": joined}), rule({"a": {"kind": "a"}}, then="free", unless={"b": joined})
    )
    fired = [one.rule for one in ClipsEngine(rules).run([fact("a", n=1), fact("b", n=1)]).firings]
    assert fired == ["r1"]


def test_each_kind_has_only_the_slots_that_rules_look_at() -> None:
    """A template holds what some rule compares, and no more."""
    program = ClipsProgram.of(JOINED)
    assert set(program.templates["a"].equal) == {"k"} and not program.templates["a"].compared
    assert set(program.templates["b"].compared) == {"n"}
