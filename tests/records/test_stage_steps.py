"""The stages of a kind of tree one after the other, in words of the trade."""

from __future__ import annotations

import pytest

from advisor.conversation import Adviser
from advisor.records.stage_steps import near, steps_of, word_of


def test_each_step_is_heard_as_the_stage_that_it_is(adviser: Adviser) -> None:
    """For every kind of tree, each step's word is one of the phrases that mean its own code, and no code comes twice."""
    for species, lore in adviser.lore.species.items():
        group = adviser.stage_words.group_of[species]
        steps = steps_of(adviser.stage_words, species, flowers_first=lore.flowers_first)
        assert len({code for code, _ in steps}) == len({word for _, word in steps}) == len(steps) > 8
        for code, word in steps:
            (entry,) = [one for one in adviser.stage_words.stages if one.words == word]
            assert entry.codes.get(species, entry.codes.get(group)) == code


@pytest.mark.parametrize(
    ("species", "flowers_first", "order"),
    [
        ("fig", False, ["dormant", "buds swelling", "bud break", "leafing out", "ripe"]),
        (
            "apricot",
            True,
            ["dormant", "buds swelling", "bud break", "pink bud", "full bloom", "leafing out", "fruit set"],
        ),
        ("persimmon", False, ["dormant", "bud break", "leafing out", "first flowers open", "fruit set"]),
    ],
)
def test_stages_stand_in_the_order_of_the_year(
    adviser: Adviser, species: str, flowers_first: bool, order: list[str]
) -> None:
    """Flowers come before leaves where the kind flowers first, else after them (common practice, no source)."""
    words = [word for _, word in steps_of(adviser.stage_words, species, flowers_first=flowers_first)]
    assert [word for word in words if word in order] == order


def test_only_those_near_the_present_one_are_offered() -> None:
    """One before and four after; the first ones where nothing is known; a code without a word stands after the last."""
    steps = [(code, str(code)) for code in (0, 1, 5, 9, 11, 15, 19, 71, 75)]
    assert [code for code, _ in near(steps, 9)] == [5, 9, 11, 15, 19, 71]
    assert [code for code, _ in near(steps, None)] == [code for code, _ in near(steps, 95)] == [0, 1, 5, 9, 11]
    assert [code for code, _ in near(steps, 13)] == [9, 11, 15, 19, 71, 75]
    assert [code for code, _ in near(steps, 75)] == [71, 75]
    assert near([], 9) == []


def test_a_code_without_a_word_is_told_as_the_code(adviser: Adviser) -> None:
    """No word is made up for a code that the trade has none for."""
    steps = steps_of(adviser.stage_words, "fig", flowers_first=False)
    assert (word_of(steps, 9), word_of(steps, 7), word_of(steps, 95)) == ("bud break", "BBCH 07", "leaves falling")
