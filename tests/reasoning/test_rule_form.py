"""A rule's file of the wrong form is refused with every key that is wrong, and what it is to be."""

from __future__ import annotations

import tomllib
from typing import Any

import pytest

from advisor.config import find_rules
from advisor.errors import BadRules
from advisor.reasoning.rulebase import rule_from

WHOLE = min((find_rules() / "soil").glob("*.toml")).read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"says": 5}, "says is to be a text in quotes"),
        ({"since": "spring"}, "since is to be a date"),
        ({"sources": "a book"}, "sources is to be a list"),
        ({"sources": ["a book"]}, "a source is to be a table"),
        ({"sources": [{"backs": "all"}]}, "no key 'cite'"),
        ({"cautions": "none"}, "cautions is to be a list of texts"),
        ({"when": []}, "when is to be a table"),
        ({"then": {"conclude": "cause", "grade": [1]}}, "then.grade is to be one value"),
        ({"test": {"name": "x"}}, "test is to be written [[test]]"),
        ({"test": [{"name": "x", "given": []}]}, "case 1: expect is to be a list of tables"),
        ({"test": [{"name": "x", "given": [{"a": 1}], "expect": []}]}, "case 1: a fact given without its kind"),
        ({"test": [{"name": "x", "given": [], "expect": [], "lacks": "y"}]}, "case 1: lacks is to be a list of texts"),
    ],
)
def test_each_key_of_the_wrong_sort_is_named(changes: dict[str, Any], said: str) -> None:
    """The sentence names the key and what belongs there."""
    with pytest.raises(BadRules) as told:
        rule_from({**tomllib.loads(WHOLE), **changes}, "soil", "reading rule soil/x.toml")
    assert said in told.value.found


@pytest.mark.parametrize("key", ["id", "says", "how_it_works", "strength", "sources", "cautions", "when", "then"])
def test_a_missing_key_is_named(key: str) -> None:
    """Every key that a rule must have is asked for by name."""
    raw = {name: value for name, value in tomllib.loads(WHOLE).items() if name != key}
    with pytest.raises(BadRules, match=key):
        rule_from(raw, "soil", "reading rule soil/x.toml")
