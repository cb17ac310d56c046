"""JSON that keeps its text is the JSON that would be written anew."""

from __future__ import annotations

import json

import pytest

from advisor.written import Written

PART = {"rule": "a-wall-is-warm", "tell": 'It says "über 5 °C"', "from": [{"fact": {"kind": "soil"}}]}


@pytest.mark.parametrize(
    "values",
    [
        {},
        {"because": [Written(PART), Written({})], "n": 1.5, "none": None},
        {"because": [Written(PART), PART]},
        {"because": [], "in": {"because": [Written(PART)]}},
        {'a "name"': "feige\n"},
    ],
)
def test_the_text_is_that_of_the_whole(values: dict[str, object]) -> None:
    """Whatever of it keeps a text of its own, the text is what JSON has for all of it."""
    assert Written(values).text == json.dumps(values, ensure_ascii=False)


def test_a_part_is_put_into_letters_once() -> None:
    """What is sent within something else is not written again."""
    part = Written(PART)
    first = Written({"because": [part]}).text
    part["rule"] = "changed, which nobody does"
    assert Written({"because": [part]}).text == first
