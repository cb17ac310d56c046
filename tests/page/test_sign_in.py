"""Signing in and out as it is done: on a phone, in a real browser, against the real server."""

from __future__ import annotations

import shutil
import threading
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from tests_shared import NOON

from advisor.conversation import Adviser
from advisor.doors.access.keys import new_secret, written
from advisor.doors.access.server import make_server
from advisor.doors.http import create_app
from advisor.records.keys import KeyStore


@pytest.fixture
def site_and_key(adviser: Adviser, demo_file: Path, tmp_path: Path) -> Iterator[tuple[str, str]]:
    """A service for growers with one of them, whose garden is the demo; where it is, and the key."""
    with KeyStore(tmp_path / "growers", create=True) as store:
        grower = store.add_grower("orchard", NOON)
        secret = new_secret(grower.id)
        store.add_key(grower.id, secret, "adv-x", "phone", NOON)
        shutil.copy(demo_file, store.garden_path(grower.id))
    own = replace(adviser, settings=replace(adviser.settings, growers=tmp_path / "growers"))
    server = make_server(create_app(own, lambda: NOON), "127.0.0.1", 0)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    yield f"http://localhost:{server.effective_port}", written(secret)
    server.close()
    server.task_dispatcher.shutdown()
    thread.join(5)


def test_a_grower_signs_in_and_out(site_and_key: tuple[str, str], phone: Any) -> None:
    """The key opens the page that was wanted; signing out closes it; the way back in shows nothing kept."""
    site, key = site_and_key
    phone.goto(f"{site}/records")
    assert phone.url == f"{site}/sign-in?next=/records"
    phone.get_by_label("Key").fill(key.upper().replace("-", " "))
    phone.get_by_role("button", name="Sign in").click()
    phone.wait_for_url(f"{site}/records")
    phone.get_by_role("link", name="Sign out").click()
    phone.get_by_role("button", name="Sign out").click()
    phone.wait_for_url(f"{site}/sign-in")
    assert phone.context.cookies() == []
    phone.go_back()
    phone.wait_for_load_state()
    phone.goto(f"{site}/garden")
    assert "/sign-in" in phone.url


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing(
    site_and_key: tuple[str, str], browser: Any, axe: Callable[[Any], list[str]], scheme: str
) -> None:
    """Neither the form, nor the form with a fault, nor the page for signing out has a fault of accessibility."""
    site, key = site_and_key
    page = browser.new_page(color_scheme=scheme)
    page.goto(f"{site}/sign-in")
    assert axe(page) == []
    page.get_by_label("Key").fill("adv-1")
    page.get_by_role("button", name="Sign in").click()
    assert "letters and digits" in page.get_by_role("alert").inner_text()
    assert axe(page) == []
    page.get_by_label("Key").fill(key)
    page.get_by_role("button", name="Sign in").click()
    page.goto(f"{site}/sign-out")
    assert axe(page) == []
    page.close()


def test_nothing_runs_off_a_small_phone(site_and_key: tuple[str, str], phone: Any) -> None:
    """At 360 pixels, and with text at twice its size, the form does not scroll sideways."""
    phone.goto(site_and_key[0] + "/sign-in")
    for size in ("100%", "200%"):
        phone.evaluate("size => { document.documentElement.style.fontSize = size }", size)
        assert phone.evaluate("document.documentElement.scrollWidth") <= 360
