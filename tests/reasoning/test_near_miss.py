"""How near a rule came: what it lacks, or the one thing that stood in its way."""

from __future__ import annotations

import tomllib
from typing import Any

import pytest

from advisor.fact_base import FactBase
from advisor.reasoning.cases import fact_from
from advisor.reasoning.near_miss import near_misses
from advisor.reasoning.rulebase import rule_from
from advisor.records.kinds import Field, Kind

RULE = rule_from(
    tomllib.loads("""
id = "r"
says = "s"
how_it_works = "h"
strength = "usual-practice"
sources = []
cautions = []
[when.lag]
kind = "lag"
days = { at_least = 5 }
[when.cover]
kind = "cover"
plant = { same_as = "lag.plant" }
group = "organic"
[unless.wound]
kind = "look"
plant = { same_as = "lag.plant" }
scratch = "brown"
[then]
conclude = "cause"
plant = "{lag.plant}"
tell = "t"
"""),
    "test",
    "reading",
)


def kind(name: str, absent_means: str = "unknown", **fields: str) -> Kind:
    made = {field: Field(field, type_) for field, type_ in {"plant": "text", **fields}.items()}
    return Kind(name, "", "derived", ("plant",), made, absent_means)


KINDS = {
    "lag": kind("lag", days="number"),
    "cover": kind("cover", group="text"),
    "look": kind("look", scratch="text"),
    "cause": kind("cause", "no"),
}


def misses(*given: dict[str, Any]) -> list[tuple[list[str], str]]:
    found = near_misses(RULE, FactBase(fact_from(raw) for raw in given), KINDS)
    return sorted((sorted(map(str, miss.lacks)), miss.failed[0] if miss.failed else "") for miss in found)


LATE = {"kind": "lag", "plant": "f", "days": 9}
CHIPS = {"kind": "cover", "plant": "f", "group": "organic"}


@pytest.mark.parametrize(
    ("given", "expected"),
    [
        ((LATE, CHIPS), []),
        ((LATE,), [(["cover"], "")]),
        ((CHIPS,), [(["lag"], "")]),
        ((LATE, {"kind": "cover", "plant": "f"}), [(["cover.group"], "")]),
        (({"kind": "lag", "plant": "f"}, {"kind": "cover", "plant": "f"}), [(["cover.group", "lag.days"], "")]),
        (({**LATE, "days": 4.9}, CHIPS), [([], "lag")]),
        ((LATE, {**CHIPS, "group": "bare"}), [([], "cover")]),
        (({**LATE, "days": 1}, {**CHIPS, "group": "bare"}), []),
        ((LATE, {**CHIPS, "plant": "g"}), [(["cover"], "")]),
        ((LATE, CHIPS, {"kind": "look", "plant": "f", "scratch": "brown"}), [([], "wound")]),
        ((LATE, {"kind": "look", "plant": "f", "scratch": "brown"}), []),
        ((), []),
    ],
)
def test_what_stood_in_the_way(given: tuple[dict[str, Any], ...], expected: list[tuple[list[str], str]]) -> None:
    """Missing records and failed tests are never mixed; two failed tests are no near miss; nor is a rule at rest."""
    assert misses(*given) == expected


def test_a_complete_kind_is_never_lacking() -> None:
    """Where a missing fact means no, the rule is simply not met."""
    complete = {**KINDS, "cover": kind("cover", "no", group="text")}
    assert near_misses(RULE, FactBase([fact_from(LATE)]), complete) == []
