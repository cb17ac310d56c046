"""Advice is held against what was recorded afterwards, and every rule has its history in the garden."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import pytest
from small_garden import LORE, SmallGarden

from advisor.config import find_rules
from advisor.conversation import Adviser
from advisor.errors import BadRules
from advisor.reasoning.derive.scene import Scene
from advisor.reasoning.outcomes import CameOf, came_of, histories, load_outcomes
from advisor.records.kinds import load_kinds

KINDS = load_kinds(find_rules())
OUTCOMES = load_outcomes(find_rules(), KINDS)
GIVEN = date(2026, 4, 20)


def garden() -> SmallGarden:
    return SmallGarden().spot("bed").plant("old fig")


def advised(claim: str, **more: Any) -> SmallGarden:
    values = {"on": GIVEN, "plant": "old fig", "claim": claim, "rules": "some-rule"}
    return garden().tell("advice", **values, **more)


def outcome(told: SmallGarden, today: date) -> CameOf:
    (one,) = came_of(Scene(told, LORE, today, "what-next"), OUTCOMES)
    return one


def shoot(told: SmallGarden, bbch: int, on: str) -> SmallGarden:
    return told.stage("old fig", on, bbch)


def test_a_task_done_and_followed_by_what_it_was_for_held() -> None:
    """Pinched within the weeks after, fruitlets seen within four: the advice held."""
    told = advised("pinch-the-shoot").tell("work", plant="old fig", on=date(2026, 4, 21), what="pinched")

    one = outcome(shoot(told, 71, "2026-05-08"), date(2026, 5, 10))

    assert (one.followed, one.result) == (True, "held")
    assert {fact.kind for fact in one.shown_by} == {"work", "stage"}


def test_a_task_done_without_what_it_was_for_failed_once_its_days_are_over() -> None:
    """Pinched, and no fruitlet in four weeks: failed, but not before the four weeks are out."""
    told = advised("pinch-the-shoot").tell("work", plant="old fig", on=date(2026, 4, 21), what="pinched")

    assert outcome(told, date(2026, 5, 18)).result == "open"
    assert outcome(told, date(2026, 5, 19)).result == "failed"


def test_advice_that_was_not_followed_neither_held_nor_failed() -> None:
    """Nothing was done: what came later says nothing of the advice."""
    one = outcome(shoot(advised("pinch-the-shoot"), 71, "2026-05-08"), date(2026, 6, 10))

    assert (one.followed, one.result) == (False, "open")


def test_what_happened_to_another_plant_or_before_says_nothing() -> None:
    """Only records of the same plant, from the day of the advice on, are held against it."""
    told = advised("pinch-the-shoot").plant("new fig")
    told.tell("work", plant="new fig", on=date(2026, 4, 21), what="pinched")
    told.tell("work", plant="old fig", on=date(2026, 4, 19), what="pinched")

    assert outcome(told, date(2026, 4, 30)).followed is None


def test_a_pot_put_out_and_frosted_is_a_failure_and_one_unharmed_held() -> None:
    """The days over without harm, advice to put out held; frost within them, and it failed."""
    told = advised("out-for-good").tell("move", plant="old fig", to_spot="bed", on=date(2026, 4, 22))
    assert outcome(told, date(2026, 5, 20)).result == "held"

    told.tell("harm", plant="old fig", on=date(2026, 4, 30), cause="frost")
    assert outcome(told, date(2026, 5, 20)).result == "failed"


@pytest.mark.parametrize(("min_c", "result"), [(-1.0, "held"), (0.5, "held"), (0.6, "failed"), (-1.1, "failed")])
def test_a_night_that_was_foretold_is_held_against_the_night_that_came(min_c: float, result: str) -> None:
    """Within the range that was told, ends counted, it held."""
    told = advised("night-low", low_c=-1.0, high_c=0.5).weather("2026-04-21", min_c, 12.0)

    assert outcome(told, date(2026, 4, 22)).result == result


def test_of_a_spot_s_night_the_station_says_nothing() -> None:
    """The station's low is no witness for the hollow."""
    told = advised("night-low", spot="bed", low_c=-1.0, high_c=0.5).weather("2026-04-21", 5.0, 12.0)

    assert outcome(told, date(2026, 4, 22)).result == "open"


@pytest.mark.parametrize(
    ("seen", "result"),
    [
        ([(0, "2026-05-01"), (9, "2026-05-04")], "held"),  # between the looks, and the range begins on the 3rd
        ([(0, "2026-05-01"), (9, "2026-05-02")], "failed"),  # too early
        ([(0, "2026-05-12"), (9, "2026-05-14")], "failed"),  # too late
        ([(0, "2026-05-12")], "failed"),  # asleep past the range
        ([(0, "2026-05-09")], "open"),
    ],
)
def test_a_range_of_days_is_held_against_the_looks(seen: list[tuple[int, str]], result: str) -> None:
    """Waking lies between the last look without and the first look with leaves; the range must meet that span."""
    told = advised("date-by-own-years", earliest=date(2026, 5, 3), latest=date(2026, 5, 10))
    for bbch, on in seen:
        told.stage("old fig", on, bbch)

    assert outcome(told, date(2026, 5, 20)).result == result


def test_a_history_counts_what_each_rule_advised() -> None:
    """Given, followed, held, failed, and when it failed last."""
    told = advised("night-low", low_c=-1.0, high_c=0.5).weather("2026-04-21", 5.0, 12.0)
    told.tell("advice", on=date(2026, 4, 22), claim="night-low", rules="some-rule other-rule", low_c=0.0, high_c=3.0)
    told.weather("2026-04-23", 1.0, 12.0)

    found = histories(Scene(told, LORE, date(2026, 5, 1), "what-next"), OUTCOMES)

    assert (found["some-rule"].given, found["some-rule"].held, found["some-rule"].failed) == (2, 1, 1)
    assert found["some-rule"].last_failed == GIVEN
    assert (found["other-rule"].given, found["other-rule"].failed) == (1, 0)


def test_every_claim_that_is_judged_is_one_that_some_rule_makes(adviser: Adviser) -> None:
    """An entry for a claim that no rule makes would judge nothing."""
    made = {str(rule.gives.get("claim") or rule.gives.get("what")) for rule in adviser.base.rules.values()}

    assert [claim for claim in OUTCOMES if claim not in made] == []


def test_an_entry_that_names_no_record_is_refused(tmp_path: Path) -> None:
    """The file is checked against the vocabulary as rules are."""
    (tmp_path / "outcomes.toml").write_text(
        '[[outcome]]\nclaim = "x"\ndays = 3\n[outcome.held]\nkind = "stage"\nbbhc = 9\n', encoding="utf-8"
    )
    with pytest.raises(BadRules, match="bbhc"):
        load_outcomes(tmp_path, KINDS)
