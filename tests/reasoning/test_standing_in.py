"""Where one maker's engine fails at a question, the next maker's answers it, and the log says which failed at what."""

from __future__ import annotations

import logging
from collections.abc import Iterable

import pytest
from small_rules import base_of, fact, rule

from advisor.errors import BadRules, EngineFailed, TooManyFacts
from advisor.fact_base import Proof
from advisor.facts import Fact
from advisor.reasoning.engine import Engine, StandIns, make_engine, standing_in, trying
from advisor.reasoning.engine.conclude import too_many_facts
from advisor.reasoning.rulebase import RuleBase

RULES = base_of(rule({"a": {"kind": "a", "n": {"above": 2}}}, n="{a.n}"))
GIVEN = [fact("a", n=3, words="the lane fig")]
MAKERS = ("first", "second", "last")


class Planted:
    """Makers made for a test: each fails as it is told to, and what was made and run is noted."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, **faults: Exception) -> None:
        self.faults, self.made, self.ran = faults, list[str](), list[str]()
        monkeypatch.setattr(standing_in, "makers_here", lambda: MAKERS)
        monkeypatch.setattr(standing_in, "make_engine", self.make)

    def make(self, base: RuleBase, maker: str = "") -> Engine:
        self.made.append(maker)
        if isinstance(self.faults.get(maker), BadRules):
            raise self.faults[maker]
        return Failing(self, base, maker)


class Failing:
    def __init__(self, planted: Planted, base: RuleBase, maker: str) -> None:
        self.planted, self.base, self.maker = planted, base, maker

    def run(self, facts: Iterable[Fact]) -> Proof:
        self.planted.ran.append(self.maker)
        if self.maker in self.planted.faults:
            raise self.planted.faults[self.maker]
        return make_engine(self.base, "plain").run(facts)


class Told:
    """Who watches the runs."""

    def __init__(self) -> None:
        self.heard: list[tuple[object, ...]] = []

    def begins(self, maker: str, question: str) -> None:
        self.heard.append((maker, question))

    def ends(self, maker: str, question: str, *, failed: bool) -> None:
        self.heard.append((maker, question, failed))


def refused(found: str = "the core said 101") -> EngineFailed:
    return EngineFailed("running the rules", found, "Ask again")


def test_the_next_maker_answers(monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture) -> None:
    """What the first refuses the second answers at once, made once and only when needed; the log names what failed."""
    planted = Planted(monkeypatch, first=refused())
    engines = StandIns(RULES, "why-late")
    assert planted.made == ["first"]
    for _ in range(3):
        assert [one.get("n") for one in engines.run(GIVEN).of("found")] == [3]
    assert planted.made == ["first", "second"]
    assert planted.ran == ["first", "second"] * 3
    assert caplog.messages[0].startswith("the engine of first failed at why-late")
    assert "the core said 101" in caplog.messages[0]


def test_a_fault_that_nobody_foresaw_is_told_without_words(
    monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    """An error whose text may hold a grower's words is logged by its kind and place alone."""
    Planted(monkeypatch, first=KeyError("the lane fig"), second=MemoryError())
    with caplog.at_level(logging.WARNING):
        assert StandIns(RULES, "why-late").run(GIVEN).of("found")
    assert "KeyError in test_standing_in.py" in caplog.messages[0] and "MemoryError" in caplog.messages[1]
    assert "lane fig" not in caplog.text


def test_a_maker_that_cannot_take_the_rules_is_passed_by(monkeypatch: pytest.MonkeyPatch) -> None:
    """A stand-in that cannot be made for these rules leaves the question to the one after it."""
    planted = Planted(monkeypatch, first=refused(), second=BadRules("compiling", "too many", "Split"))
    assert StandIns(RULES, "why-late").run(GIVEN).of("found")
    assert planted.ran == ["first", "last"]


def test_too_many_facts_are_not_put_to_the_next(monkeypatch: pytest.MonkeyPatch) -> None:
    """Too many facts are of the garden and not of a maker: that is said at once."""
    planted = Planted(monkeypatch, first=too_many_facts())
    with pytest.raises(TooManyFacts, match="more than"):
        StandIns(RULES, "why-late").run(GIVEN)
    assert planted.ran == ["first"]


def test_what_the_last_says_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where all fail, the error of the last one stands."""
    Planted(monkeypatch, first=refused(), second=refused(), last=refused("the last word"))
    with pytest.raises(EngineFailed, match="the last word"):
        StandIns(RULES, "why-late").run(GIVEN)


@pytest.mark.parametrize(
    ("chosen", "died", "over", "ran"),
    [
        ("", (), (), "first"),
        ("second", (), (), "second"),
        ("", ("first",), (), "second"),
        ("", ("first", "second"), (), "last"),
        ("", (), ("first",), "second"),
        ("", ("second",), ("first",), "last"),
        ("", ("first", "second", "last"), (), "last"),
        ("last", ("last",), ("last",), "last"),
    ],
)
def test_makers_that_ended_the_process_are_not_asked_again(
    chosen: str, died: tuple[str, ...], over: tuple[str, ...], ran: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A try passes over the makers that died of its message and those that die too often, but never over all."""
    planted = Planted(monkeypatch)
    monkeypatch.setattr(standing_in, "PASSED_OVER", set(over))
    with trying(died, Told()):
        assert StandIns(RULES, "why-late", chosen).run(GIVEN).of("found")
    assert planted.ran == [ran]


def test_each_run_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """Who watches the process and who watches the message hear of each run, its end, and whether it failed."""
    Planted(monkeypatch, first=refused())
    everyone, own = Told(), Told()
    monkeypatch.setattr(standing_in, "WATCHERS", [everyone])
    with trying((), own):
        StandIns(RULES, "why-late").run(GIVEN)
    runs = [("first", "why-late"), ("first", "why-late", True), ("second", "why-late"), ("second", "why-late", False)]
    assert everyone.heard == own.heard == runs
    StandIns(RULES, "why-late").run(GIVEN)
    assert own.heard == runs
