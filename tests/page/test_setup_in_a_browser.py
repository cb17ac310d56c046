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


def begin(page: Any, site: str, zone: str = "Europe/Vienna") -> None:
    """Tell the place, as quickly as it goes."""
    page.goto(f"{site}/start/place/check?name=Hill+End&at=47.07+N+15.44+E&units=metric")
    page.locator(f"input[value='{zone}']").check()
    page.get_by_role("button", name="Yes, record it").click()
    page.wait_for_url("**/start/spots")


def test_the_position_is_asked_for_on_a_tap_only(browser: Any, new_site: str) -> None:
    """The button fills in where the device is, and nothing asks before; the device's zone is offered first."""
    context = browser.new_context(
        viewport={"width": 360, "height": 740}, timezone_id="Europe/Vienna", permissions=["geolocation"],
        geolocation={"latitude": 47.07123, "longitude": 15.44123, "accuracy": 20},
    )  # fmt: skip
    page = context.new_page()
    asked = "navigator.geolocation.getCurrentPosition = ((real) => function (...a) { window.asked = true;" \
            " return real.apply(navigator.geolocation, a); })(navigator.geolocation.getCurrentPosition)"  # fmt: skip
    page.add_init_script(asked)
    page.goto(f"{new_site}/start/place")
    assert page.evaluate("window.asked") is None
    page.get_by_role("button", name="Use this device’s position").click()
    page.wait_for_function("document.querySelector('[name=at]').value")
    assert page.locator("[name=at]").input_value() == "47.0712, 15.4412"
    page.locator("[name=name]").fill("Hill End")
    page.locator("[name=units]").select_option("metric")
    page.get_by_role("button", name="Check it").click()
    first = page.locator("label.pick").first
    assert "Europe/Vienna" in first.inner_text() and "as this device has it" in first.inner_text()
    assert not first.locator("input").is_checked()
    context.close()


def test_a_device_that_does_not_say_where_it_is(browser: Any, new_site: str) -> None:
    """It says so, and the position can be typed."""
    context = browser.new_context(viewport={"width": 360, "height": 740}, permissions=[])
    page = context.new_page()
    page.add_init_script(
        "navigator.geolocation.getCurrentPosition = (found, failed) => failed({ code: 1, message: 'denied' })"
    )
    page.goto(f"{new_site}/start/place")
    page.get_by_role("button", name="Use this device’s position").click()
    assert "Type the position instead" in page.get_by_role("status").inner_text()
    context.close()


def test_it_is_all_done_without_scripts(browser: Any, new_site: str) -> None:
    """With scripts off the same steps lead to the same end, and no button is shown that does nothing."""
    context = browser.new_context(viewport={"width": 360, "height": 740}, java_script_enabled=False)
    page = context.new_page()
    page.goto(f"{new_site}/start/place")
    assert page.get_by_role("button", name="Use this device’s position").count() == 0
    set_up(Grower(page), new_site)
    assert page.get_by_role("heading", level=1).inner_text() == "Hill End is ready to be asked"
    context.close()


def test_back_and_reload_send_nothing_twice(phone: Any, new_site: str, adviser: Adviser, tmp_path: Path) -> None:
    """After the spots are recorded one may reload, go back, and send the old form again: each stands once."""
    begin(phone, new_site)
    phone.locator("[name='1-name']").fill("south wall")
    phone.get_by_role("button", name="Record and go on").click()
    phone.wait_for_url("**/start/plants")
    phone.reload()
    phone.go_back()
    phone.wait_for_url("**/start/spots")
    phone.locator("[name='1-name']").fill("south wall")
    phone.get_by_role("button", name="Record and go on").click()
    phone.wait_for_url("**/start/plants")
    phone.go_back()
    phone.go_back()
    phone.go_back()
    with adviser.open(tmp_path / "new.db") as garden:
        assert garden.names("spot") == ["south wall"]
        assert garden.db.conn.execute("SELECT COUNT(*) FROM spot").fetchone() == (1,)
        assert garden.db.conn.execute("SELECT COUNT(*) FROM place").fetchone() == (1,)


def test_two_windows_set_up_one_garden(browser: Any, new_site: str, adviser: Adviser, tmp_path: Path) -> None:
    """Spots told in two windows are all there; a place told otherwise in the second is asked about, not taken."""
    one, two = browser.new_page(), browser.new_page()
    two.goto(f"{new_site}/start/place/check?name=Other&at=47.07+N+15.44+E&units=metric")
    begin(one, new_site)
    two.locator("input[value='Europe/Vienna']").check()
    two.get_by_role("button", name="Yes, record it").click()
    assert "in another window" in two.locator("main").inner_text()
    two.goto(f"{new_site}/start/spots")
    for page, name in ((one, "south wall"), (two, "north bed")):
        page.locator("[name='1-name']").fill(name)
        page.get_by_role("button", name="Record and go on").click()
        page.wait_for_url("**/start/plants")
    with adviser.open(tmp_path / "new.db") as garden:
        assert garden.place().text("name") == "Hill End"
        assert garden.names("spot") == ["south wall", "north bed"]
    one.close()
    two.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_on_any_step(
    browser: Any, new_site: str, axe: Callable[[Any], list[str]], scheme: str
) -> None:
    """Blank, filled and with faults, in light and in dark, at a phone's width and with text at twice its size."""
    page = browser.new_page(color_scheme=scheme, viewport={"width": 360, "height": 740})
    seen: list[str] = []

    def look(what: str) -> None:
        seen.extend(f"{what}: {one}" for one in axe(page))
        for size in ("200%", "100%"):
            page.evaluate("size => { document.documentElement.style.fontSize = size }", size)
            width = page.evaluate("document.documentElement.scrollWidth")
            seen.extend([f"{what}: {width} pixels wide at {size}"] if width > 360 else [])

    def send(button: str) -> None:
        page.get_by_role("button", name=button).click()

    page.goto(f"{new_site}/start")
    look("start")
    page.goto(f"{new_site}/start/place")
    look("place")
    page.goto(f"{new_site}/start/place/check?name=&at=47.07&units=")
    look("place, faults")
    page.goto(f"{new_site}/start/place/check?name=Hill+End&at=40.1+N+76.5+E&units=metric")
    look("check")
    page.locator("[name=other_zone]").fill("New York")
    send("Yes, record it")
    page.wait_for_selector(".fault")
    look("check, faults")
    begin(page, new_site)
    look("spots")
    page.locator("[name='1-wall_material']").select_option("stone")
    send("Record and go on")
    page.wait_for_selector(".fault")
    look("spots, faults")
    page.goto(f"{new_site}/start/spots")
    page.locator("[name='1-name']").fill("south wall")
    send("Record and go on")
    page.wait_for_url("**/start/plants")
    look("plants")
    for row, name in ((1, "wall fig"), (2, "hall fig")):
        page.locator(f"[name='{row}-name']").fill(name)
        page.locator(f"[name='{row}-species']").select_option("fig")
    send("Record and go on")
    page.wait_for_selector(".fault")
    look("plants, nearly alike")
    page.get_by_label("Keep the names as they are").check()
    send("Record and go on")
    page.wait_for_url("**/start/weather")
    look("weather")
    page.goto(f"{new_site}/start/done")
    look("done")
    page.goto(f"{new_site}/start")
    look("start again")
    assert seen == []
    page.close()
