"""The reply of a frosty evening: who is at risk, and what to do in an hour, in which order. All plants are invented."""

from __future__ import annotations

import re
from datetime import date
from typing import Any
from zoneinfo import ZoneInfo

from hypothesis import given
from hypothesis import strategies as st
from small_garden import ZONE

from advisor.answers import Answer, Because, Conclusion, Told
from advisor.config import find_rules
from advisor.facts import Derived, Fact
from advisor.language.render import Speech
from advisor.language.tonight import HOUR_MINUTES, MOST_NAMED, MOST_TOLD, frost_tonight
from advisor.records.kinds import load_kinds

KINDS = load_kinds(find_rules())


def risk(plant: str, expected_c: float, hurts_at_c: float = -2.8, **more: Any) -> Fact:
    return Fact.of("frost_risk", {"plant": plant, "expected_c": expected_c, "hurts_at_c": hurts_at_c, **more},
                   Derived("frost_risk", ()))  # fmt: skip


def concluded(kind: str, plant: str, claim: str, tell: str, *facts: Fact, **more: Any) -> Conclusion:
    bound = {"it": Fact.of("it", {"plant": plant}, Derived("it", ()))}
    because = Because("a-rule", "says", "it works so.", "usual-practice", (), (), Told(tell, bound), facts)
    about = {"plant": plant} if plant else {}
    return Conclusion(kind, about, claim, "usual-practice", "computed", (because,), **more)


def warning(plant: str, expected_c: float, grade: str = "likely", **more: Any) -> Conclusion:
    told = "{it.plant} is in danger."
    return concluded("warning", plant, "frost-at-its-stage", told, risk(plant, expected_c, **more), grade=grade)


def task(plant: str, what: str = "cover-to-the-ground", minutes: int = 15) -> Conclusion:
    return concluded("task", plant, what, "See to {it.plant}.", within_days=0, loss="crop", minutes=minutes)


def stands(plant: str) -> Conclusion:
    fact = risk(plant, 1.0, -6.7, stage="tips separate")
    return concluded("finding", plant, "stands-the-night", "{it.plant} should stand it.", fact)


def low(spot: str = "") -> Conclusion:
    one = concluded("expect", "", "night-low", f"About nought {spot}.".replace(" .", "."))
    return Conclusion(one.kind, {"spot": spot} if spot else {}, one.claim, one.strength, one.basis, one.because)


def told(*conclusions: Conclusion, **about: Any) -> tuple[str, list[str]]:
    names = frozenset(one.about.get("plant", "") for one in conclusions)
    speech = Speech("metric", ZoneInfo(ZONE.key), date(2026, 4, 24), KINDS, names)
    draft = frost_tonight(Answer("frost-tonight", "", conclusions, about=about, not_known="Not known."), speech)
    return draft.head, draft.body


def test_what_is_sure_goes_first_then_what_is_quick_then_the_coldest() -> None:
    """A pot in sure danger, then the trees in sure danger with the one worst off first, then a pot that may be hurt."""
    head, body = told(
        task("mild tree"), task("cold tree"), task("sure pot", "pot-under-a-roof", 5), task("odd pot", "pot-under-a-roof", 5),
        warning("odd pot", -2.0, "possible"), warning("mild tree", -3.0), warning("cold tree", -5.0), warning("sure pot", -3.0),
    )  # fmt: skip
    steps = [line for line in body if line[:2] in ("1.", "2.", "3.")]
    assert steps == [
        "1. See to the sure pot. (5 minutes)",
        "2. See to the cold tree. The same for the mild tree. (15 minutes each)",
        "3. See to the odd pot. (5 minutes)",
    ]
    assert "That is 40 minutes in all." in body
    assert head == (
        "In danger, so first: carry in the sure pot, then cover the cold tree and the mild tree. "
        "Perhaps in danger, so next: carry in the odd pot."
    )


def test_what_an_hour_does_not_hold_is_named_and_left() -> None:
    """Four trees of a quarter of an hour fill it; the fifth and sixth are told of, and not in the first sentence."""
    trees = [f"tree {n}" for n in range(1, 7)]
    head, body = told(*(task(name) for name in trees), *(warning(name, -9.0 + n) for n, name in enumerate(trees)))
    assert "That is 60 minutes. What no longer fits into the hour: cover tree 5 and tree 6." in body
    assert head == (
        "In danger, so first: cover tree 1, tree 2, tree 3 and tree 4. "
        "The hour is too short to cover tree 5 and tree 6 as well."
    )


def test_a_small_task_fits_where_a_long_one_does_not() -> None:
    """After three trees and a long one, ten minutes are left for two pots that may be hurt."""
    names = ["t1", "t2", "t3", "big"]
    tasks = [task(name) for name in names[:3]] + [task("big", minutes=30)]
    pots = [task(name, "pot-under-a-roof", 5) for name in ("p1", "p2")]
    risks = [warning(name, -5.0) for name in names] + [warning(name, -2.0, "possible") for name in ("p1", "p2")]
    _, body = told(*tasks, *pots, *risks)
    assert "That is 55 minutes. What no longer fits into the hour: cover the big." in body


def test_a_look_goes_before_the_cloth_that_hangs_on_it() -> None:
    """Two minutes at the tree come before a quarter of an hour of cloth."""
    _, body = told(task("tree"), task("tree", "look-tonight", 2), warning("tree", -3.0, "possible"))
    assert body[1:4] == [
        "In one hour, in this order:",
        "1. See to the tree. (2 minutes)",
        "2. See to the tree. (15 minutes)",
    ]


def test_what_stands_the_night_is_left_alone() -> None:
    """With nothing at risk the head says so and no hour is laid out; beside a risk it stands in one line."""
    head, body = told(low(), stands("pear"))
    assert head == "About nought. The pear should stand it."
    assert not any(line.startswith(("In one hour", "What to do")) for line in body)
    _, body = told(low(), stands("pear"), warning("fig", -3.0), task("fig", "pot-under-a-roof", 5))
    assert "Leave alone: the pear (tips separate, harm from -6.7 °C)." in body
    assert "What to do: See to the fig. (5 minutes)" in body


def test_a_question_about_one_plant_is_answered_of_it() -> None:
    """Its own case leads, and is not told twice."""
    head, body = told(low(), warning("fig", -3.0, killed="about 50%"), task("fig"), plant="fig")
    assert head.startswith("The fig is in danger. Of its flower buds about 50% would die. First cover the fig.")
    assert not any("is in danger" in line for line in body)
    head, body = told(low(), stands("fig"), plant="fig")
    assert head == "The fig should stand it." and not any("Leave alone" in line for line in body)


def test_a_share_that_tells_nothing_new_is_not_told() -> None:
    """That less than a tenth dies, or that it is not known, the harm's own figure says."""
    for killed in ("not known", "less than a tenth"):
        assert "flower buds" not in " ".join(told(warning("fig", -3.0, killed=killed))[1])


def test_the_low_of_the_spot_asked_about_is_told() -> None:
    """Else the station's, whichever was concluded first."""
    assert told(low("hollow"), low(), stands("pear"), spots=("hollow",))[0].startswith("About nought hollow.")
    assert told(low("hollow"), low(), stands("pear"))[0].startswith("About nought. ")


def test_a_low_alone_judges_no_plant() -> None:
    """And with no conclusion at all that is said."""
    assert told(low()) == ("About nought. What it does to your plants I cannot judge.", [])
    assert told() == ("Not known.", [])


def test_wind_is_told_in_the_head_and_explained_below() -> None:
    """Its first sentence leads; the rest is not said twice."""
    wind = concluded("finding", "", "cloth-will-not-help", "Cloth will not help. Move what can be moved.")
    head, body = told(low(), warning("fig", -4.0), wind)
    assert "Cloth will not help." in head and "Move what can be moved." in body
    assert not any("Cloth" in line for line in body)


def test_danger_without_anything_to_do_is_told_by_name() -> None:
    """A tree in the wind stands beside the pot that can be moved; limbs of one tree stand for its one task."""
    head, _ = told(warning("tree", -4.0), warning("pot", -4.0), task("pot", "pot-under-a-roof", 5))
    assert head.endswith("In danger, so first: carry in the pot. In danger too: the tree.")
    both = [Fact.of("warning", {"plant": limb}, Derived("w", ())) for limb in ("limb a", "limb b")]
    cover = concluded("task", "trunk", "cover-to-the-ground", "See to {it.plant}.", *both, minutes=15)
    head, body = told(warning("limb a", -4.0, "possible"), warning("limb b", -4.0), cover)
    assert head.endswith("In danger, so first: cover the trunk.")
    assert "What to do: See to the trunk. (15 minutes)" in body


def test_a_large_garden_stays_readable() -> None:
    """Some cases in full, the names of the others, and no more names than a line holds."""
    head, body = told(*(warning(f"tree {n}", -3.0) for n in range(20)))
    assert sum("is in danger" in line for line in body) == MOST_TOLD
    assert head.count("tree ") == MOST_NAMED and "12 more" in head
    assert any(line.startswith("Likewise: ") for line in body)


@given(st.lists(st.tuples(st.integers(1, 90), st.booleans()), max_size=12))
def test_the_hour_holds_what_it_says(minutes: list[tuple[int, bool]]) -> None:
    """Whatever the tasks, those laid out take an hour at most, and each one is laid out or named as left."""
    names = [f"tree {n}" for n in range(len(minutes))]
    tasks = [task(name, f"work-{name}", length) for name, (length, _) in zip(names, minutes, strict=True)]
    risks = [
        warning(name, -4.0, "likely" if sure else "possible") for name, (_, sure) in zip(names, minutes, strict=True)
    ]
    _, body = told(*tasks, *risks)
    lines = [line for line in body if " minutes)" in line]
    used = sum(int(line.rsplit("(", 1)[1].split()[0]) for line in lines)
    assert used <= HOUR_MINUTES
    said = " ".join(line for line in body if "See to" in line or "no longer fits" in line)
    assert all(re.search(rf"\b{name}\b", said) for name in names)
