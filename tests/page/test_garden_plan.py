"""The plan of the garden as it is drawn, and as it is told to who does not see it."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any
from xml.etree.ElementTree import Element

import pytest
from flask.testing import FlaskClient
from garden_pages import ODD, client_for, drawing, page, told, words
from tests_shared import NOON

from advisor.conversation import Adviser
from advisor.doors.page.plan import CONDITIONS, MARKS
from advisor.facts import Value

Rows = list[tuple[str, dict[str, Value]]]


def tiles(plan: Element) -> dict[str, Element]:
    """Return the drawn spots by what they are called to who does not see them."""
    return {link.get("aria-label", ""): link for link in plan.findall("a")}


def places(adviser: Adviser, path: Path, spots: Rows) -> dict[str, tuple[float, float]]:
    """Return where spots are drawn, by name."""
    plan = drawing(page(client_for(adviser, told(adviser, path, *spots), NOON), "/garden/plan"))
    found = {}
    for says, tile in tiles(plan).items():
        x, y = re.findall(r"-?[\d.]+", tile.find("g").get("transform", ""))  # type: ignore[union-attr]
        found[says.split(";")[0]] = (float(x), float(y))
    return found


@pytest.mark.parametrize("count", [1, 5, 30, 100])
def test_drawn_tiles_do_not_overlap_and_lie_in_view(adviser: Adviser, tmp_path: Path, count: int) -> None:
    """As drawn, rounding and all, no two tiles of 94 by 80 meet, and each lies in the view box."""
    spots: Rows = [
        (
            "spot",
            {"name": f"s{n}", "aspect": "S"}
            | ({"bearing_deg": n * 7.0 % 360, "distance_m": n % 9.0} if n % 3 == 0 else {}),
        )
        for n in range(count)
    ]
    found = sorted(places(adviser, tmp_path / "g.db", spots).values())
    assert len(found) == count
    for n, (x, y) in enumerate(found):
        assert all(abs(x - other_x) > 94 or abs(y - other_y) > 80 for other_x, other_y in found[:n])
    plan = drawing(page(client_for(adviser, tmp_path / "g.db", NOON), "/garden/plan"))
    left, top, width, height = map(float, plan.get("viewBox", "").split())
    for x, y in found:
        assert left <= x - 47 and x + 47 <= left + width and top <= y - 40 and y + 40 <= top + height


def test_north_is_up(adviser: Adviser, tmp_path: Path) -> None:
    """A spot told to lie to the north is drawn above the house, one to the east right of it; so are those only guessed."""
    spots: Rows = [
        ("spot", {"name": "n", "bearing_deg": 0.0}), ("spot", {"name": "e", "bearing_deg": 90.0}),
        ("spot", {"name": "gs", "wall_side": "S"}), ("spot", {"name": "gw", "aspect": "W"}),
    ]  # fmt: skip
    found = places(adviser, tmp_path / "g.db", spots)
    assert found["n"][1] < -80 < 80 < found["gs"][1]
    assert found["gw"][0] < -94 < 94 < found["e"][0]


def test_told_and_guessed_are_told_apart(adviser: Adviser, tmp_path: Path) -> None:
    """A spot with a bearing has a solid edge and says so; one without has a dashed edge and says that it is placed by how it lies."""
    spots: Rows = [("spot", {"name": "told", "bearing_deg": 120.0}), ("spot", {"name": "not told"})]
    text = page(client_for(adviser, told(adviser, tmp_path / "g.db", *spots), NOON), "/garden")
    found = tiles(drawing(text))
    (is_told,) = [one for one in found if "placed at 120 degrees from the house door" in one]
    (guessed,) = [one for one in found if "placed by how it lies" in one]
    assert "guess" in (found[guessed].get("class") or "") and "guess" not in (found[is_told].get("class") or "")
    assert "1 placed in the direction you told (solid edge), 1 only placed by how they lie (dashed edge)" in words(text)


def test_what_a_tile_shows_is_said_in_words(client: FlaskClient) -> None:
    """Walls, roofs, slope, cold air and the plants by state are in the name of a tile's link; the list says the rest."""
    found = "\n".join(tiles(drawing(page(client, "/garden"))))
    assert (
        "south wall; on the S side of a wall; falls to the S; 3 plants: 1 asleep and 2 awake; placed by how it lies"
        in found
    )
    assert "glasshouse; under unheated glass; 3 plants: 3 awake" in found
    assert "hollow; cold air gathers there; 2 plants: 1 awake and 1 not looked at" in found
    assert "store; under a shelter" in found


@pytest.mark.parametrize(
    ("side", "edges"), [("S", ["M-47-40H47"]), ("N", ["M-47 40H47"]), ("NW", ["M-47 40H47", "M47-40V40"]), ("flat", [])]
)
def test_a_wall_stands_behind_its_spot(adviser: Adviser, tmp_path: Path, side: str, edges: list[str]) -> None:
    """A spot on the south side of a wall has the wall on its north edge, and so round the compass."""
    row: Rows = [("spot", {"name": "s", "wall_side": side} if side != "flat" else {"name": "s", "aspect": side})]
    plan = drawing(page(client_for(adviser, told(adviser, tmp_path / "g.db", *row), NOON), "/garden"))
    assert [one.get("d") for one in plan.iter("path") if one.get("class") == "wall"] == edges


@pytest.mark.parametrize("count", [1, MARKS, MARKS + 1, 60])
def test_each_plant_has_a_mark_of_its_state(adviser: Adviser, tmp_path: Path, count: int) -> None:
    """Few plants are drawn one by one, of many each state once with its number; the four states differ by shape."""
    rows: Rows = [("spot", {"name": "s"})]
    for n in range(count):
        rows.append(("plant", {"name": f"p{n}", "species": "apricot", "spot": "s"}))
        if code := (0, 53, 65, None)[n % 4]:
            rows.append(("stage", {"plant": f"p{n}", "on": NOON.date(), "bbch": code}))
    text = page(client_for(adviser, told(adviser, tmp_path / "g.db", *rows), NOON), "/garden")
    plan = drawing(text)
    marks = [one.get("href", "") for one in plan.iter("use")]
    numbers = [int(one.text or "") for one in plan.iter("text") if one.get("class") == "n"]
    assert sum(numbers) == count if count > MARKS else len(marks) == count
    shapes = re.findall(r'<(circle|path|rect) id="m(\d)" [^>]*?(?:d="([^"]*)")?/', text)
    assert len({(shape, line) for shape, _, line in shapes}) == len(shapes) == len(CONDITIONS)


def test_names_of_any_length_fit_their_tile(
    adviser: Adviser, tmp_path: Path, serve: Callable[[Path], str], phone: Any
) -> None:
    """As a browser draws them, no text leaves its tile or the view box, and none is smaller than 12 pixels on a phone."""
    long = (
        "mmmmmmmmmmmm wwwwwwwwwwww",
        "the old bed behind the second greenhouse by the lane",
        "x" * 60,
        "ÄÖÜ ÄÖÜ ÄÖÜ ÄÖÜ",
        "🍐🍐🍐🍐🍐🍐🍐🍐🍐",
    )
    rows: Rows = [("spot", {"name": name}) for name in (*ODD, *long)]
    phone.goto(serve(told(adviser, tmp_path / "g.db", *rows)) + "/garden")
    out = phone.evaluate(
        """() => { const plan = document.querySelector('.plan svg[role=group]'), box = plan.getBoundingClientRect();
        return [...plan.querySelectorAll('.spot text')].filter(text => {
          const tile = text.closest('.spot').querySelector('.t').getBoundingClientRect(), own = text.getBoundingClientRect();
          return own.left < tile.left - 1 || own.right > tile.right + 1 || own.top < tile.top || own.bottom > tile.bottom
            || own.left < box.left || own.right > box.right;
        }).map(text => text.textContent) }"""
    )
    assert out == []
    scale = "document.querySelector('.plan svg[role=group]').getScreenCTM().a"
    assert phone.evaluate(scale) * 12 >= 12
