"""Facts held together are the same facts however they came together, and sharing changes nothing for who shares."""

from __future__ import annotations

from random import Random

import pytest

from advisor.fact_base import FactBase, OfKind
from advisor.facts import Derived, Fact

NONE = Derived("test", ())
KINDS, NAMES = ("plant", "stage", "look"), ("a", "b", "c", "d")


def fact(kind: str, **values: str | int | float | bool | None) -> Fact:
    return Fact.of(kind, values, NONE)


def some_fact(chance: Random) -> Fact:
    number = chance.choice((0, 0.0, False, 1, True, 2, None))
    return fact(chance.choice(KINDS), name=chance.choice((*NAMES, None)), number=number)


def one_by_one(bases: list[FactBase]) -> FactBase:
    """Return the facts of some bases, each added by itself."""
    return FactBase([one for base in bases for one in base])


def differences(found: FactBase, wanted: FactBase) -> list[str]:
    """Return in what two bases differ for whoever asks them."""
    wrong = [kind for kind in KINDS if found.of(kind) != wanted.of(kind)]
    wrong += [str(one) for one in wanted if found.known(one) is not one]
    for kind in KINDS:
        for field, values in (("name", NAMES), ("number", (0, False, 1, 2, 7))):
            for value in values:
                for or_open in (False, True):
                    asked = kind, field, value
                    if found.having(*asked, or_open=or_open) != wanted.having(*asked, or_open=or_open):
                        wrong.append(f"{asked} {or_open}")
    return wrong + (["their number"] if len(found) != len(wanted) else [])


@pytest.mark.parametrize("seed", range(40))
def test_joined_from_step_to_step_is_added_one_by_one(seed: int) -> None:
    """Parts that change, come, go and say what others say give the facts, their order and what is found of them."""
    chance = Random(seed)
    parts = [FactBase(some_fact(chance) for _ in range(chance.randrange(5))) for _ in range(12)]
    before: FactBase | None = None
    for _ in range(8):
        joined = FactBase.joined(parts, before)
        assert differences(joined, one_by_one(parts)) == []
        for kind in KINDS if before is not None else ():
            was, now = before.piece(kind), joined.piece(kind)
            assert was.differences(now) == was.differences(OfKind(now.facts, now.keys))
        before = joined
        for _ in range(chance.randrange(3)):
            place = chance.randrange(len(parts))
            parts[place] = FactBase([*list(parts[place])[1:], some_fact(chance)])
        if chance.random() < 0.3:
            parts.insert(chance.randrange(len(parts)), FactBase([some_fact(chance)]))
        if chance.random() < 0.2:
            chance.shuffle(parts)


def test_what_is_added_to_a_copy_is_in_the_copy_alone() -> None:
    """Neither the first base nor its index sees what is added to a copy, nor the copy what is added to the first."""
    first = FactBase([fact("plant", name="a")])
    assert len(first.having("plant", "name", "a")) == 1
    copy = FactBase(first)
    assert copy.add(fact("plant", name="a", number=2)) and first.add(fact("plant", name="b"))
    assert [len(one.having("plant", "name", "a")) for one in (first, copy)] == [1, 2]
    assert [len(one.having("plant", "name", "b")) for one in (first, copy)] == [1, 0]
    assert not copy.add(fact("plant", name="a"))


def test_what_nothing_changed_is_shared() -> None:
    """Joined again, a kind of which each part is as before is the very piece; another kind's change leaves it so."""
    parts = [FactBase([fact("plant", name=name), fact("stage", name=name)]) for name in NAMES]
    before = FactBase.joined(parts)
    parts[2] = FactBase([*parts[2].of("plant"), fact("stage", name="e")])
    after = FactBase.joined(parts, before)
    assert after.piece("plant") is before.piece("plant")
    assert after.piece("stage") is not before.piece("stage")


def test_differences_are_what_went_what_came_and_whether_the_rest_kept_its_order() -> None:
    """Facts are told apart by what they are, not by what they say."""
    a, b, c = (fact("plant", name=name) for name in "abc")
    again = fact("plant", name="b")

    def piece(*facts: Fact) -> OfKind:
        return OfKind(list(facts), {one.key: one for one in facts})

    assert piece(a, b, c).differences(piece(a, b, c)) == ([], [], True)
    assert piece(a, b, c).differences(piece(a, again, c)) == ([b], [again], True)
    assert piece(a, b, c).differences(piece(c, a)) == ([b], [], False)
