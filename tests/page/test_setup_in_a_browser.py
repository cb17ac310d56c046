"""The whole set-up on a small phone, as a grower goes through it, and what a browser adds to it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from tests_shared import NOON

from advisor.conversation import Adviser

SPOTS = (
    ("south wall", {"aspect": "S", "wall_material": "stone"}),
    ("north bed", {"aspect": "N", "soil_texture": "clay"}),
    ("hollow", {"low_lying": "yes"}),
    ("orchard", {"aspect": "SE", "soil_texture": "loam"}),
    ("glasshouse", {"under_cover": "unheated glass"}),
    ("shed", {"under_cover": "shelter"}),
)
PLANTS = (
    ("wall fig", "fig", "south wall", {"planted": "2019"}),
    ("north pear", "pear", "north bed", {"planted": "2016"}),
    ("hollow apple", "apple", "hollow", {}),
    ("gate apricot", "apricot", "orchard", {"planted": "2025-11"}),
    ("glass peach", "peach", "glasshouse", {}),
    ("tub 1", "fig", "shed", {"pot_litres": "40"}),
    ("tub 2", "fig", "shed", {"pot_litres": "30"}),
    ("tub 3", "fig", "shed", {"pot_litres": "20"}),
    ("long row plum", "european-plum", "orchard", {}),
    ("mulberry", "mulberry", "orchard", {}),
    ("porch kaki", "persimmon", "south wall", {}),
    ("old quince", "quince", "north bed", {"planted": "1998"}),
)


@pytest.fixture
def new_site(serve: Callable[[Path], str], tmp_path: Path) -> Iterator[str]:
    """A served garden of which there is no file yet."""
    yield serve(tmp_path / "new.db")


class Grower:
    """A grower with a phone: every tap and every field typed is counted."""

    def __init__(self, page: Any) -> None:
        self.page, self.taps, self.typed, self.letters = page, 0, 0, 0

    def tap(self, name: str, role: str = "button") -> None:
        self.taps += 1
        self.page.get_by_role(role, name=name, exact=True).click()

    def type(self, field: str, text: str) -> None:
        self.taps, self.typed, self.letters = self.taps + 1, self.typed + 1, self.letters + len(text)
        self.page.locator(f"[name='{field}']").fill(text)

    def choose(self, field: str, value: str) -> None:
        self.taps += 2  # the list opened, the word chosen
        self.page.locator(f"select[name='{field}']").select_option(value)

    @property
    def minutes(self) -> float:
        """What it takes at an unhurried pace: three seconds a tap, a second for two letters."""
        return (3 * self.taps + self.letters / 2) / 60


def set_up(grower: Grower, site: str) -> None:
    """Go from an empty page to a garden of six spots and twelve plants."""
    page = grower.page
    page.goto(site)
    grower.tap("Begin", "link")
    grower.type("name", "Hill End")
    grower.type("at", "47°04'N 15°26'E")
    grower.choose("units", "metric")
    grower.tap("Check it")
    grower.taps += 1
    page.locator("input[value='Europe/Vienna']").check()
    grower.tap("Yes, record it")
    for number, (name, fields) in enumerate(SPOTS, 1):
        grower.type(f"{number}-name", name)
        for field, value in fields.items():
            grower.choose(f"{number}-{field}", value)
    grower.tap("Record and go on")
    for number, (name, species, spot, fields) in enumerate(PLANTS):
        row = number % 6 + 1
        grower.type(f"{row}-name", name)
        grower.choose(f"{row}-species", species)
        grower.choose(f"{row}-spot", spot)
        for field, value in fields.items():
            grower.type(f"{row}-{field}", value)
        if number == 5:
            grower.tap("Record, then more plants")
    grower.tap("Record and go on")
    grower.tap("Skip this for now", "link")


def test_a_garden_is_set_up_on_a_phone_in_under_ten_minutes(
    phone: Any, new_site: str, adviser: Adviser, tmp_path: Path
) -> None:
    """Six spots and twelve plants are told on a phone and the first question is answered from them."""
    grower = Grower(phone)
    set_up(grower, new_site)
    assert phone.get_by_role("heading", level=1).inner_text() == "Hill End is ready to be asked"
    question = phone.get_by_role("link", name="Where do I put a new fig?")
    assert question.is_visible()
    reply = adviser.message({"text": question.inner_text()}, NOON, tmp_path / "new.db")
    print(f"{grower.taps} taps, {grower.typed} fields typed, {grower.letters} letters: {grower.minutes:.1f} minutes")
    assert reply["outcome"] == "answered"
    assert "south wall" in reply["reply"]
    assert grower.minutes < 10
