"""The garden's pages in a real browser: no fault that axe knows, nothing runs off a phone, the keyboard is enough."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from big_garden import fill
from garden_pages import ODD, imported, stages_of, to, told

from advisor.conversation import Adviser

expect = pytest.importorskip("playwright.sync_api").expect
SUBPAGES = ("/garden/plan", to("spot", "south wall"), to("plant", "shed fig"), to("plant", "family apple top limb"))


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("path", SUBPAGES)
def test_axe_finds_nothing(
    browser: Any, demo_site: str, axe: Callable[[Any], list[str]], path: str, scheme: str
) -> None:
    """No page of a spot, a plant or the plan has a fault of accessibility that axe-core knows, in light and in dark."""
    page = browser.new_page(color_scheme=scheme)
    page.goto(demo_site + path)
    assert axe(page) == []
    page.close()


def test_axe_finds_nothing_in_other_gardens(
    adviser: Adviser, browser: Any, serve: Callable[[Path], str], tmp_path: Path, axe: Callable[[Any], list[str]]
) -> None:
    """Neither in the US garden, nor in an empty one, nor in one of odd names, nor after a stage was told."""
    odd = [("spot", {"name": name}) for name in ODD]
    plants = [("plant", {"name": name, "species": "fig", "spot": ODD[0]}) for name in ODD]
    page = browser.new_page()
    for garden in (
        imported(adviser, "demo_us", tmp_path / "us.db"), told(adviser, tmp_path / "empty.db"),
        told(adviser, tmp_path / "odd.db", *odd, *plants), tmp_path / "none.db",
    ):  # fmt: skip
        site = serve(garden)
        page.goto(f"{site}/garden")
        assert axe(page) == []
    page.goto(f"{serve(tmp_path / 'odd.db')}{to('plant', ODD[1])}")
    page.get_by_role("button", name="bud break").click()
    expect(page.get_by_role("status")).to_contain_text("Recorded")
    assert axe(page) == []
    page.close()


@pytest.mark.parametrize("path", SUBPAGES)
def test_nothing_runs_off_a_small_phone(phone: Any, demo_site: str, path: str) -> None:
    """At 360 pixels, and with text at twice its size, no page of the garden scrolls sideways."""
    phone.goto(demo_site + path)
    for size in ("100%", "200%"):
        phone.evaluate("size => { document.documentElement.style.fontSize = size }", size)
        assert phone.evaluate("document.documentElement.scrollWidth") <= 360


def test_a_wide_plan_scrolls_in_its_own_box(
    adviser: Adviser, phone: Any, serve: Callable[[Path], str], tmp_path: Path
) -> None:
    """A plan of many spots is wider than a phone, and the page around it is not."""
    path = tmp_path / "large.db"
    with adviser.open(path, create=True) as garden:
        fill(garden, 300, years=1)
    site = serve(path)
    for address in ("/garden", "/garden/plan"):
        phone.goto(site + address)
        assert phone.evaluate("document.querySelector('.plan svg[role=group]').getBoundingClientRect().width") > 360
        assert phone.evaluate("document.documentElement.scrollWidth") <= 360


@pytest.mark.parametrize("path", ["/garden", *SUBPAGES])
def test_what_is_tapped_is_large_enough(phone: Any, demo_site: str, path: str) -> None:
    """Buttons, fields and spots on the plan are at least 44 pixels high and wide: WCAG 2.2, 2.5.5 asks for 44."""
    phone.goto(demo_site + path)
    small = phone.evaluate(
        """() => [...document.querySelectorAll('main button, main .button, main select, .plan .spot .t')]
        .map(one => [one.textContent, one.getBoundingClientRect()])
        .filter(([, box]) => box.width < 44 || box.height < 44).map(([text]) => text)"""
    )
    assert small == []


def test_the_keyboard_alone_goes_from_plan_to_spot_to_plant_to_a_record(
    adviser: Adviser, phone: Any, demo_site: str, demo_copy: Path
) -> None:
    """With Tab and Enter a spot is reached on the plan, a plant from it, a stage is told and taken back."""

    def reach(wanted: str) -> None:
        for _ in range(150):
            phone.keyboard.press("Tab")
            if phone.evaluate("wanted => document.activeElement.matches(wanted)", wanted):
                return
        raise AssertionError(f"{wanted} was not reached")

    phone.goto(f"{demo_site}/garden")
    reach('.plan a[href="/garden/spot/shed%20bed"]')
    assert phone.evaluate("document.activeElement.getAttribute('aria-label')").startswith("shed bed; ")
    phone.keyboard.press("Enter")
    phone.wait_for_url("**/garden/spot/shed%20bed")
    reach('a[href="/garden/plant/shed%20fig"]')
    phone.keyboard.press("Enter")
    phone.wait_for_url("**/garden/plant/shed%20fig")
    before = stages_of(adviser, demo_copy, "shed fig")
    reach('button[name="bbch"][value="9"]')
    phone.keyboard.press("Enter")
    expect(phone.get_by_role("status")).to_contain_text("Recorded: Shed fig bud break, 24 April.")
    assert stages_of(adviser, demo_copy, "shed fig") == [*before, (date(2026, 4, 24).isoformat(), 9)]
    reach('form[action="/garden/undo"] button')
    phone.keyboard.press("Enter")
    expect(phone.get_by_role("status")).to_contain_text("Taken back")
    assert stages_of(adviser, demo_copy, "shed fig") == before
