"""The rule book in a real browser: no fault of accessibility, nothing off a phone, and all of it by the keyboard."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

COOL = "a-cool-spring-holds-all-back"
PAGES = (
    "/rules?q=mulch&topic=soil",
    f"/rules/{COOL}",
    f"/rules/{COOL}/try?case=3&also=why-late",
    f"/rules/{COOL}/try?units=metric&1.kind=heat_so_far&given=1&1.years=x&also=why-late",
    f"/rules/{COOL}/here?plant=shed+fig",
    "/rules/kinds",
    "/rules/kinds/stage_lag",
    "/rules/sources",
    "/rules/species/apricot",
)


@pytest.mark.parametrize("path", PAGES)
def test_each_sort_of_page_is_clean(browser: Any, demo_site: str, axe: Callable[[Any], list[str]], path: str) -> None:
    """Axe-core finds no fault, light or dark, with every fold of the page open."""
    for scheme in ("light", "dark"):
        page = browser.new_page(color_scheme=scheme)
        page.goto(demo_site + path)
        page.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true })")
        assert axe(page) == [], scheme
        page.close()


@pytest.mark.parametrize("path", PAGES)
def test_nothing_runs_off_a_phone(phone: Any, demo_site: str, path: str) -> None:
    """At 360 pixels, folds open, and with text at twice its size, no page scrolls sideways."""
    phone.goto(demo_site + path)
    phone.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true })")
    for size in ("100%", "200%"):
        phone.evaluate("size => { document.documentElement.style.fontSize = size }", size)
        assert phone.evaluate("document.documentElement.scrollWidth") <= 360, size


def tab_to(page: Any, what: str) -> None:
    """Press Tab until what a selector names has the focus."""
    for _ in range(200):
        page.keyboard.press("Tab")
        if page.evaluate("what => document.activeElement.matches(what)", what):
            return
    raise AssertionError(f"Tab never comes to {what}")


def test_search_open_and_try_by_the_keyboard_alone(phone: Any, demo_site: str) -> None:
    """Search with a slip, open the rule, try it, see it speak; change a value past its threshold, see it silent and why."""
    phone.goto(demo_site + "/rules")
    tab_to(phone, "#q")
    phone.keyboard.type("coool spring holds")
    phone.keyboard.press("Enter")
    phone.wait_for_url("**/rules?q=*")
    tab_to(phone, f'a[href="/rules/{COOL}"]')
    phone.keyboard.press("Enter")
    phone.wait_for_url(f"**/rules/{COOL}")
    tab_to(phone, 'a[href$="/try"]')
    phone.keyboard.press("Enter")
    phone.wait_for_url("**/try")
    assert "It speaks." in phone.inner_text("main")
    tab_to(phone, '[name="3.usual_share"]')
    phone.keyboard.press("Control+a")
    phone.keyboard.type("88")
    phone.keyboard.press("Enter")
    phone.wait_for_url("**/try?*")
    said = phone.inner_text("main")
    assert "It stays silent." in said
    assert "at most 85 % of the usual. Found: usual 88 %, off by 3 %." in said


def test_targets_are_large_enough_for_a_wet_thumb(phone: Any, demo_site: str) -> None:
    """Every button, field and fold that stands by itself is at least 24 pixels high (WCAG 2.2, 2.5.8), buttons 48."""
    phone.goto(demo_site + f"/rules/{COOL}/try")
    heights = phone.evaluate(
        "[...document.querySelectorAll('main button, main summary, main select, main .tick label')]"
        ".filter(one => one.offsetParent).map(one => [one.tagName, one.getBoundingClientRect().height])"
    )
    assert heights and all(height >= (24 if tag == "SUMMARY" else 48) for tag, height in heights), heights
