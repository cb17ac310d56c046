"""The garden on a day, and records that cannot all be true."""

from __future__ import annotations

import random
from datetime import UTC, date, datetime, timedelta

from small_garden import LORE, SmallGarden

from advisor.conversation import Adviser
from advisor.reasoning.state import garden_now, garden_state
from advisor.records.corrections import retire
from advisor.records.store import Garden, NewRow, Said

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
    assert pot["pot_age_days"] == 2


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


class Listed:
    """A garden file read whole, row by row."""

    def __init__(self, garden: Garden) -> None:
        self.of = garden.of


def test_a_file_and_a_list_tell_the_same_state(adviser: Adviser, demo_file) -> None:
    """The quick read of a garden file gives what reading every row gives."""

    with adviser.open(demo_file) as garden:
        for day in (DAY, date(2025, 4, 20), date(2024, 3, 1)):
            assert garden_state(garden, adviser.lore, day) == garden_state(Listed(garden), adviser.lore, day)


def test_two_stages_on_one_day() -> None:
    """Asleep and in leaf on one day cannot both be; flowers and the first leaves on one day can."""
    garden = SmallGarden().spot("bed").plant("f", "bed").plant("a", "bed", species="apricot")
    garden.stage("f", "2026-04-10", 7).stage("f", "2026-04-10", 9)
    garden.stage("a", "2026-04-02", 10).stage("a", "2026-04-02", 60)
    assert says(garden) == ["f is said to have been at BBCH 07 and 09 on one day, 2026-04-10"]


def test_the_quick_read_finds_every_contradiction(adviser: Adviser, garden: Garden) -> None:
    """Whatever looks, crops, moves and covers were told, a file's quick read finds what reading every row finds."""
    draw, said = random.Random(7), Said("file", "drawn", datetime(2026, 4, 24, tzinfo=UTC))
    place = {"name": "P", "latitude_deg": 47.0, "longitude_deg": 15.0, "time_zone": "UTC", "units": "metric"}
    things = [NewRow("place", place), *(NewRow("spot", {"name": name}) for name in "xyz")]
    kinds = {"a": "apricot", "b": "fig", "c": "peach", "d": "apple"}
    things += [NewRow("plant", {"name": name, "species": kind, "spot": "x"}) for name, kind in kinds.items()]

    def day() -> date:
        return DAY - timedelta(days=draw.choice((0, 1, 2, 3, 9, 30, 60, 200, 400)))

    rows = [
        NewRow("stage", {"plant": draw.choice("abcd"), "on": day(), "bbch": draw.choice((0, 1, 9, 11, 53, 60, 65, 95))})
        for _ in range(60)
    ]
    rows += [NewRow("crop", {"plant": draw.choice("abcd"), "on": day()}) for _ in range(6)]
    rows += [
        NewRow("move", {"plant": draw.choice("abcd"), "to_spot": draw.choice("xyz"), "on": day()}) for _ in range(20)
    ]
    materials = ("bare", "wood chips", "stones")
    for _ in range(12):
        off = {"taken_off": DAY - timedelta(days=draw.randrange(200))} if draw.random() < 0.5 else {}
        cover = {"spot": draw.choice("xyz"), "material": draw.choice(materials), "put_on": DAY - timedelta(days=300)}
        rows.append(NewRow("cover", {**cover, **off}))
    garden.add([(said, things), (said, rows)])
    for row_id in draw.sample(range(1, 61), 10):
        retire(garden, "stage", row_id, said, reason="drawn")
    found = set()
    for back in (0, 1, 2, 5, 40):
        on = DAY - timedelta(days=back)
        quick = garden_state(garden, adviser.lore, on)
        assert quick == garden_state(Listed(garden), adviser.lore, on)
        found |= {one.says.split(" ", 2)[1] for one in quick.contradictions}
    assert found >= {"goes", "is", "was"}  # looks, covers, moves and crops at odds are all among what was drawn


def test_how_far_a_plant_is_in_a_word() -> None:
    """Asleep until its buds break, in bloom only where flowers are seen, and not looked at where the look is old."""
    garden = SmallGarden().spot("bed")
    for name, species, on, bbch, _ in (told := [
        ("a", "fig", "2026-04-10", 1, "asleep"),
        ("b", "fig", "2026-04-10", 9, "awake"),
        ("c", "fig", "2026-04-10", 65, "awake"),
        ("d", "apricot", "2026-04-10", 65, "in bloom"),
        ("e", "apricot", "2026-04-10", 69, "awake"),
        ("i", "apricot", "2026-04-03", 60, "in bloom"),
        ("j", "apricot", "2026-04-02", 60, "awake"),
        ("f", "fig", "2025-10-20", 95, "not looked at"),
        ("g", "fig", "2025-11-10", 97, "asleep"),
    ]):  # fmt: skip
        garden.plant(name, species=species).stage(name, on, bbch)
    garden.plant("h")
    conditions = {one["plant"]: one["condition"] for one in garden_now(garden, LORE, DAY).plants}
    assert conditions == {**{one[0]: one[-1] for one in told}, "h": "not looked at"}
