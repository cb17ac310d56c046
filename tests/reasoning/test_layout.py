"""Where spots lie on a plan."""

from __future__ import annotations

import math
import random
from itertools import combinations

import pytest

from advisor.facts import Fact, Recorded
from advisor.reasoning.layout import DIRECTIONS, GAP, HEIGHT, HOUSE, WIDTH, Layout, Lie, Place, lay_out, lie_of


def some(count: int, seed: int, share_told: float) -> list[Lie]:
    """Draw spots of which a share has a bearing told; several may share one."""
    draw = random.Random(seed)
    lies = []
    for n in range(count):
        told = draw.random() < share_told
        lies.append(
            Lie(
                f"spot {n}",
                draw.choice((0.0, 360.0, 90.0, draw.uniform(0, 360))) if told else None,
                draw.choice((None, 0.0, 3.0, draw.uniform(0, 200))) if told else None,
                draw.choice(("", *DIRECTIONS)),
                draw.random() < 0.2,
            )
        )
    return lies


def bearing(place: Place) -> float:
    return math.degrees(math.atan2(place.x, -place.y)) % 360


def turned(one: float, other: float) -> float:
    """Return the angle between two bearings. [°]"""
    return abs((one - other + 180) % 360 - 180)


def boxes(layout: Layout) -> list[Place]:
    return [HOUSE, *layout.places.values()]


@pytest.mark.parametrize("share_told", [0.0, 0.4, 1.0])
@pytest.mark.parametrize("count", [1, 5, 30, 100])
def test_no_two_spots_overlap(count: int, share_told: float) -> None:
    """However many spots, told or not, none lies on another or on the house, and all are in the box."""
    for seed in range(5):
        layout = lay_out(some(count, seed, share_told))
        assert len(layout.places) == count
        for one, other in combinations(boxes(layout), 2):
            apart = abs(one.x - other.x) >= WIDTH + GAP - 0.01 or abs(one.y - other.y) >= HEIGHT + GAP - 0.01
            assert apart, (one, other)
        for one in boxes(layout):
            assert layout.left - 0.01 <= one.x - WIDTH / 2 and one.x + WIDTH / 2 <= layout.left + layout.width + 0.01
            assert layout.top - 0.01 <= one.y - HEIGHT / 2 and one.y + HEIGHT / 2 <= layout.top + layout.height + 0.01


@pytest.mark.parametrize("count", [5, 30, 100])
def test_told_spots_stand_in_the_direction_told(count: int) -> None:
    """Each spot with a bearing lies on it, seen from the house, so that walking round they come in the order told."""
    lies = some(count, 3, 1.0)
    layout = lay_out(lies)
    for lie in lies:
        assert turned(bearing(layout.places[lie.name]), lie.bearing_deg or 0.0) < 0.01
        assert layout.places[lie.name].told


def test_the_nearer_of_two_in_one_direction_stands_nearer() -> None:
    """Of spots on one bearing the order of their distances is kept."""
    layout = lay_out([Lie(f"s{n}", 30.0, float(n)) for n in (40, 2, 9, 3, 100)])
    away = {n: math.hypot(layout.places[f"s{n}"].x, layout.places[f"s{n}"].y) for n in (2, 3, 9, 40, 100)}
    assert list(away.values()) == sorted(away.values())


@pytest.mark.parametrize("side", sorted(DIRECTIONS))
def test_a_spot_that_faces_somewhere_is_placed_on_that_side(side: str) -> None:
    """Without a bearing a spot lies on the side of the house that its wall or slope faces, and says that it is a guess."""
    (place,) = lay_out([Lie("bed", faces=side)]).places.values()
    assert turned(bearing(place), DIRECTIONS[side]) < 20
    assert not place.told


def test_told_spots_do_not_push_others_to_another_side() -> None:
    """A spot that faces east is placed in the east also where spots with a bearing stand there already."""
    told = [Lie(f"t{n}", away, 10.0) for n, away in enumerate((60.0, 80.0, 90.0, 100.0, 120.0))]
    assert turned(bearing(lay_out([*told, Lie("bed", faces="E")]).places["bed"]), 90) < 45


def test_what_is_known_of_how_a_spot_lies() -> None:
    """The side of a wall goes before the way the ground faces; flat faces nowhere; a roof stands near the house."""

    def lie(**values: object) -> Lie:
        return lie_of(Fact.of("spot", {"name": "bed", **values}, Recorded("spot", (1,))))  # type: ignore[dict-item]

    assert lie(aspect="E", wall_side="S").faces == "S"
    assert lie(aspect="flat").faces == lie().faces == ""
    assert lie(under_cover="shelter").near and not lie(under_cover="none").near
    assert (lie(bearing_deg=10.0).bearing_deg, lie().bearing_deg) == (10.0, None)


def test_the_plan_is_the_same_whatever_the_order() -> None:
    """The order in which spots were told changes nothing."""
    lies = some(40, 11, 0.5)
    assert lay_out(lies) == lay_out(list(reversed(lies)))


def test_a_garden_without_directions_is_as_wide_as_a_phone() -> None:
    """Up to fifteen spots that nobody gave a direction stand in three columns (328 pixels are left on a phone of 360)."""
    assert lay_out(some(15, 5, 0.0)).width <= 328
