"""What stands beside a place for a tree: room for its crown, partners, air, shade, and when its soil was read.

All gardens are invented.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from small_garden import SmallGarden

from advisor.config import find_rules
from advisor.facts import Derived, Fact, Recorded
from advisor.reasoning.derive import Scene, derive
from advisor.records.kinds import load_kinds
from advisor.records.species import load_lore

KINDS, LORE = load_kinds(find_rules()), load_lore(find_rules())
TODAY = date(2026, 4, 24)


def facts_of(garden: SmallGarden, kind: str, species: str = "peach", plant: str = "") -> list[Fact]:
    scene = Scene(garden, LORE, TODAY, "where-to-plant", plant, species)
    facts = derive(scene, [kind], KINDS).of(kind)
    for fact in facts:
        fields = KINDS[kind].fields
        assert all(fields[name].fits(value) for name, value in fact.values.items()), fact
        assert all(name in fact.values for name, field in fields.items() if field.required), fact
    return facts


def only(garden: SmallGarden, kind: str, species: str = "peach") -> Mapping[str, Any]:
    (fact,) = facts_of(garden, kind, species)
    return fact.values


def rests_on(fact: Fact) -> set[tuple[str, int]]:
    assert isinstance(fact.origin, Derived)
    leaves = [one.origin for one in fact.origin.facts]
    return {(one.kind, row) for one in leaves if isinstance(one, Recorded) for row in one.row_ids}


# ---- room


def test_a_row_is_shared_by_the_crowns_it_will_have() -> None:
    """Two peaches of 4.5 m want 7.2 m of a row of ten; 2.8 m are left, and a third wants 3.6."""
    garden = SmallGarden().spot("row", room_m=10.0).plant("one", "row", "peach").plant("two", "row", "peach")
    found = only(garden, "crown_room")
    assert (found["trees"], found["room_m"], found["left_m"], found["needs_m"]) == (2, 10.0, 2.8, 3.6)
    assert found["short_m"] == pytest.approx(0.8) and found["dwarf_fits"] is False
    assert rests_on(facts_of(garden, "crown_room")[0]) == {("spot", 1), ("plant", 1), ("plant", 2)}


def test_what_is_in_a_pot_or_grafted_or_still_to_be_planted_takes_no_row() -> None:
    """A pot is carried off, a limb stands on its tree, and a tree of next autumn is not there yet; a move counts."""
    garden = SmallGarden().spot("row", room_m=10.0).spot("other").plant("old apple", "row", "apple")
    garden.plant("tub", "row", "fig", "pot").plant("limb", "row", "apple", grafted_on="old apple")
    garden.plant("next", "row", "pear", planted=date(2026, 11, 5)).plant("gone", "row", "peach")
    garden.move("gone", "other", "2026-03-01")
    row, other = facts_of(garden, "crown_room")
    assert (row.get("trees"), other.get("trees")) == (1, 1)


def test_a_dwarf_stock_takes_less_and_may_fit() -> None:
    """An apple on dwarf stock takes 1.7 m of three; for another common apple that is too little, not for a dwarf."""
    garden = SmallGarden().spot("row", room_m=3.5).plant("small", "row", "apple", rootstock="dwarfing")
    found = only(garden, "crown_room", "apple")
    assert (found["left_m"], found["dwarf_fits"]) == (1.8, True) and found["short_m"] == pytest.approx(1.78)
    assert only(SmallGarden().spot("row", room_m=1.6), "crown_room", "apple")["dwarf_fits"] is False


def test_what_was_not_told_of_a_spot_stays_open() -> None:
    """Without its length nothing is said of room, without a distance nothing of the wall; soil is open till denied."""
    garden = SmallGarden().spot("row").spot("yard", plantable=False).spot("shed", under_cover="shelter")
    row, yard = facts_of(garden, "crown_room")
    assert not {"room_m", "left_m", "short_m", "dwarf_fits", "wall_short_m"} & set(row.values)
    assert (row.get("open_soil"), row.get("room_told"), yard.get("open_soil")) == (True, False, False)
    assert facts_of(garden, "crown_room", species="") == []


@given(st.floats(0, 60), st.integers(0, 6), st.integers(1, 4))
def test_one_more_tree_never_leaves_more_room(room_m: float, trees: int, more: int) -> None:
    """What is left falls with every tree, never below nought."""

    def left(count: int) -> float:
        garden = SmallGarden().spot("row", room_m=room_m)
        for n in range(count):
            garden.plant(f"t{n}", "row", "peach")
        return float(only(garden, "crown_room")["left_m"])

    assert 0 <= left(trees + more) <= left(trees) <= room_m + 0.05


def test_a_wall_within_half_a_crown_is_too_near() -> None:
    """A peach of 4.5 m wants 2.25 m; a metre leaves it 1.25 short, and three metres are enough and no wall at all."""
    garden = SmallGarden().spot("near", wall_side="S", wall_distance_m=1.0)
    garden.spot("far", wall_side="S", wall_distance_m=3.0).spot("not told", wall_side="S")
    near, far, _ = facts_of(garden, "crown_room")
    assert (near.get("wall_short_m"), far.get("wall_short_m")) == (1.25, -0.75)
    warm = {fact.text("spot"): fact.get("warm_wall") for fact in facts_of(garden, "site")}
    assert warm == {"near": True, "far": False, "not told": True}


# ---- partners


def test_partners_are_those_of_its_kind_outdoors() -> None:
    """A limb counts, a tree under glass flowers apart, another kind is none; near means in the ground at the spot."""
    garden = SmallGarden().spot("row").spot("house", under_cover="unheated glass").spot("yard")
    assert only(garden, "partners", "apple") == {"species": "apple", "trees": 0}
    garden.plant("old apple", "row", "apple").plant("limb", "row", "apple", grafted_on="old apple")
    garden.plant("glass apple", "house", "apple").plant("long pear", "yard", "pear")
    garden.plant("tub apple", "yard", "apple", "pot")
    assert only(garden, "partners", "apple") == {"species": "apple", "trees": 3, "plant": "old apple"}
    near = [(fact.text("spot"), fact.text("plant")) for fact in facts_of(garden, "partner_near", "apple")]
    assert near == [("row", "old apple")]
    assert facts_of(garden, "partners", "") == [] == facts_of(garden, "partner_near", "quince")


def test_traits_of_a_tree_go_by_its_stock() -> None:
    """A pear on quince is a small pear; what it needs and hates is its kind's."""
    garden = (
        SmallGarden().spot("row").plant("wall pear", "row", "pear", rootstock="quince").plant("pear", "row", "pear")
    )
    small, large = (facts_of(garden, "traits", "", name)[0] for name in ("wall pear", "pear"))
    assert (small.get("mature_spread_m"), large.get("mature_spread_m")) == (3.5, 9.0)
    assert (small.get("self_fertile"), small.get("damp_hater"), small.get("thirsty")) == ("no", True, True)


# ---- what the sky and the air of a spot are like


def test_shade_is_told_by_part_of_the_day_only_where_its_causes_are() -> None:
    """A wood to the west takes the afternoon, one to the east the morning; of a spot without any it is not known."""
    garden = SmallGarden().spot("west", air="still", soil_texture="clay", sun_h=7.0).spot("east").spot("open")
    for spot, first in (("west", 180), ("east", 0)):
        garden.tell("obstruction", spot=spot, bearing_from_deg=first, bearing_to_deg=first + 180, elevation_deg=60)
    west, east, clear = facts_of(garden, "site")
    assert (west.get("morning_shade"), west.get("evening_shade")) == (False, True)
    assert (east.get("morning_shade"), east.get("evening_shade")) == (True, False)
    assert not {"morning_shade", "evening_shade", "air", "soil_texture"} & set(clear.values)
    assert (west.get("air"), west.get("soil_texture"), west.get("sun_h")) == ("still", "clay", 7.0)


def test_south_of_the_equator_morning_is_still_in_the_east() -> None:
    """Nothing turns round but north and south."""
    garden = SmallGarden(-41.0).spot("east")
    garden.tell("obstruction", spot="east", bearing_from_deg=0, bearing_to_deg=180, elevation_deg=60)
    (east,) = facts_of(garden, "site")
    assert (east.get("morning_shade"), east.get("evening_shade")) == (True, False)


# ---- readings


def pairs(*hours: str, cover: str = "stones") -> SmallGarden:
    """Return gravel and a yard bed read together on days of April, at the clock's hours."""
    garden = SmallGarden().spot("gravel").spot("yard").cover("gravel", cover, "2025-01-01")
    garden.cover("yard", "bare", "2025-01-01")
    for n, hour in enumerate(hours):
        garden.soil("gravel", f"2026-04-{10 + n}T{hour}:00", 12.0).soil("yard", f"2026-04-{10 + n}T{hour}:30", 11.0)
    return garden


@pytest.mark.parametrize(
    ("hours", "part"),
    [
        (("15", "16"), "warm half"),
        (("07", "08"), "cold half"),
        (("07", "16"), "both"),
        (("12", "12"), "cold half"),  # solar 11:00 at 15° east, in summer time
        (("13", "13"), "warm half"),
        (("22", "22"), "warm half"),  # 21:00 by the sun
        (("23", "23"), "cold half"),
    ],
)
def test_pairs_of_one_half_of_the_day_are_told_as_such(hours: tuple[str, ...], part: str) -> None:
    """Half past eleven and half past nine by the sun part the halves."""
    found = only(pairs(*hours), "pair_hours")
    assert (found["part"], found["pairs"], found["stone"]) == (part, len(hours), True)


def test_stone_is_told_where_one_side_lies_under_it() -> None:
    """Chips beside bare soil are no stones, and neither are stones beside stones; readings apart are no pair."""
    assert only(pairs("15", cover="wood chips"), "pair_hours")["stone"] is False
    both = pairs("15").cover("yard", "stones", "2025-06-01")
    assert only(both, "pair_hours")["stone"] is False
    apart = SmallGarden().spot("gravel").spot("yard").soil("gravel", "2026-04-10T08:00", 9.0)
    apart.soil("yard", "2026-04-10T15:00", 12.0, sky="shade")
    assert facts_of(apart, "pair_hours") == []


def test_a_reading_of_last_season_is_stale_and_one_of_this_is_not() -> None:
    """Sixty days are the limit; a spot read again is no longer stale."""
    garden = SmallGarden().spot("yard").spot("wall").soil("yard", "2025-04-13T13:00", 12.0)
    garden.soil("wall", "2025-04-13T13:00", 12.0).soil("wall", "2026-04-20T13:00", 12.0)
    assert only(garden, "stale_soil") == {"spot": "yard", "on": date(2025, 4, 13), "age_days": 376}
    limit = SmallGarden().spot("yard").soil("yard", "2026-02-23T13:00", 2.0)
    assert facts_of(limit, "stale_soil") == []
    assert only(SmallGarden().spot("yard").soil("yard", "2026-02-22T13:00", 2.0), "stale_soil")["age_days"] == 61
