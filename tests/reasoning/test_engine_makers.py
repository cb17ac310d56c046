"""Which library makes the engine is chosen by a setting, and otherwise by what is installed."""

from __future__ import annotations

from pathlib import Path

import pytest
from small_rules import base_of, fact, rule

from advisor.config import Settings, find_rules
from advisor.conversation import Adviser
from advisor.errors import BadInput
from advisor.reasoning.engine import make_engine, makers, makers_here

RULES = base_of(rule({"a": {"kind": "a", "n": {"above": 2}}}, n="{a.n}"))


@pytest.mark.parametrize("maker", makers_here())
def test_each_maker_makes_an_engine(maker: str) -> None:
    """Every maker that is installed concludes the same from the same facts."""
    (found,) = make_engine(RULES, maker).run([fact("a", n=1), fact("a", n=3)]).of("found")
    assert found.get("n") == 3


def test_the_preferred_maker_is_taken_and_the_next_where_it_is_missing(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without a choice the first maker that is installed makes the engine, in the end the plain evaluator."""
    preferred = type(make_engine(RULES))
    assert preferred is type(make_engine(RULES, makers_here()[0]))
    monkeypatch.setitem(makers.LIBRARIES, makers_here()[0], "a_library_that_nobody_has")
    assert type(make_engine(RULES)) is not preferred
    for maker, library in makers.LIBRARIES.items():
        if library:
            monkeypatch.setitem(makers.LIBRARIES, maker, "a_library_that_nobody_has")
    assert makers_here() == ("plain",)
    assert make_engine(RULES).run([fact("a", n=3)]).firings


@pytest.mark.parametrize("chosen", ["durabel", "missing"])
def test_a_maker_that_is_not_there_is_refused(chosen: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """A misspelt maker, or one whose library is not installed, is refused with those that can be had."""
    monkeypatch.setitem(makers.LIBRARIES, "missing", "a_library_that_nobody_has")
    with pytest.raises(BadInput, match=f"choosing the engine.*{chosen}.*Set ADVISOR_ENGINE to .*plain"):
        make_engine(RULES, chosen)


def test_the_setting_chooses_the_maker(tmp_path: Path) -> None:
    """ADVISOR_ENGINE names the maker of every engine of an adviser."""
    settings = Settings.from_environment(
        {"ADVISOR_ENGINE": " Plain ", "ADVISOR_GARDEN": str(tmp_path / "g.db"), "ADVISOR_RULES": str(find_rules())}
    )
    adviser = Adviser.load(settings)
    assert {adviser.engine_of(question)[1].engine.makers for question in adviser.questions} == {("plain",)}
