"""The garden on a day, and records that cannot all be true."""

from __future__ import annotations

from datetime import date

from small_garden import LORE, SmallGarden

from advisor.conversation import Adviser
from advisor.reasoning.state import garden_state

DAY = date(2026, 4, 24)


def says(garden: SmallGarden, day: date = DAY) -> list[str]:
    return [one.says for one in garden_state(garden, LORE, day).contradictions]


def test_the_latest_of_everything() -> None:
    """Cover, place, stage and reading as they stood, each with its age."""
    garden = SmallGarden().spot("bed").spot("wall").plant("f", "bed").plant("p", "bed", growing="pot")
    garden.cover("bed", "wood chips", "2025-10-01", depth_cm=10.0).move("p", "wall", "2026-04-01")
    garden.stage("f", "2026-04-10", 1).stage("f", "2026-04-20", 7).stage("f", "2026-04-30", 11)
    garden.soil("bed", "2026-04-22 13:00", 9.5).soil("", "2026-04-22 13:10", 15.0, plant="p")
    state = garden_state(garden, LORE, DAY)
    assert state.spots[0] == {"spot": "bed", "cover": "wood chips", "depth_cm": 10.0, "soil_c": 9.5, "soil_age_days": 2}
    plant, pot = state.plants
    assert (plant["stage"], plant["stage_age_days"], plant["spot"]) == ("BBCH 07", 4, "bed")
    assert (pot["spot"], pot["growing"], pot["pot_c"], pot["stage"]) == ("wall", "pot", 15.0, None)


def test_contradictions() -> None:
    """Bare and covered at once, two spots on a day, a stage going backwards, a harvest before bloom."""
    garden = SmallGarden().spot("bed").spot("wall").plant("f", "bed").plant("a", "bed", species="apricot")
    garden.cover("bed", "bare", "2025-01-01").cover("bed", "wood chips", "2025-10-01")
    garden.move("f", "wall", "2026-04-01").move("f", "bed", "2026-04-01")
    garden.stage("f", "2026-04-10", 9).stage("f", "2026-04-12", 3)
    garden.tell("crop", plant="a", on=date(2026, 3, 1)).stage("a", "2026-04-02", 60)
    assert says(garden) == [
        "bed is recorded bare and covered at once from 2025-10-01: bare and wood chips",
        "f was moved to bed and to wall on one day, 2026-04-01",
        "f goes backwards: BBCH 09 on 2026-04-10, 03 on 2026-04-12",
        "a was picked on 2026-03-01, before it bloomed on 2026-04-02",
    ]


def test_what_is_no_contradiction() -> None:
    """A cover taken off in time, chips on top of compost, flowers before leaves, leaf fall, and a new year's rest."""
    garden = SmallGarden().spot("bed").plant("f", "bed").plant("a", "bed", species="apricot")
    garden.cover("bed", "bare", "2025-01-01", "2025-10-01").cover("bed", "wood chips", "2025-10-01")
    garden.stage("a", "2026-04-02", 65).stage("a", "2026-04-12", 11).stage("f", "2025-10-20", 95).stage(
        "f", "2026-03-01", 0
    )
    assert says(garden) == []


def test_a_file_and_a_list_tell_the_same_state(adviser: Adviser, demo_file) -> None:
    """The quick read of a garden file gives what reading every row gives."""

    class Listed:
        def __init__(self, garden) -> None:
            self.of = garden.of

    with adviser.open(demo_file) as garden:
        for day in (DAY, date(2025, 4, 20), date(2024, 3, 1)):
            assert garden_state(garden, adviser.lore, day) == garden_state(Listed(garden), adviser.lore, day)


def test_two_stages_on_one_day() -> None:
    """Asleep and in leaf on one day cannot both be; flowers and the first leaves on one day can."""
    garden = SmallGarden().spot("bed").plant("f", "bed").plant("a", "bed", species="apricot")
    garden.stage("f", "2026-04-10", 7).stage("f", "2026-04-10", 9)
    garden.stage("a", "2026-04-02", 10).stage("a", "2026-04-02", 60)
    assert says(garden) == ["f is said to have been at BBCH 07 and 09 on one day, 2026-04-10"]
