"""The talk on a phone in the yard: without a reload, without a signal, by keyboard alone, small over a thin line."""

from __future__ import annotations

import re
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from advisor.conversation import Adviser

expect = pytest.importorskip("playwright.sync_api").expect
WHY = "why is the shed fig late?"
LOG = "soil shed bed 8.1 10 cm"


def send(page: Any, text: str) -> None:
    """Type and send, and wait for the answer to stand on the page."""
    before = page.locator(".exchange").count()
    page.get_by_label("Tell me what you see, or ask").fill(text)
    page.get_by_role("button", name="Send").click()
    page.wait_for_function("n => document.querySelectorAll('.exchange').length > n", arg=before)
    page.wait_for_function("() => document.querySelectorAll('#outbox li').length === 0")


def kept(adviser: Adviser, path: Path) -> list[str]:
    """Return the words of every message in the file."""
    with adviser.open(path) as garden:
        return [text for (text,) in garden.db.conn.execute("SELECT text FROM message ORDER BY rowid")]


def wait_until(true: Callable[[], bool], page: Any, seconds: float = 15) -> None:
    end = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < end, "it never came"
        page.wait_for_timeout(100)


def with_worker(page: Any, site: str) -> None:
    """Open the talk and wait until the worker keeps it."""
    page.goto(site)
    page.evaluate("navigator.serviceWorker.ready.then(() => 0)")
    page.wait_for_function("() => navigator.serviceWorker.controller !== null")


def test_a_reading_is_logged_and_said_back(phone: Any, demo_site: str) -> None:
    """The answer appears without a reload, in view, and the words are gone from the box."""
    phone.goto(demo_site)
    phone.evaluate("window.same = true")
    send(phone, LOG)
    last = phone.locator(".exchange").last
    assert "soil at shed bed 8.1 °C, 10 cm deep, 24 April 12:00" in last.inner_text()
    assert last.locator("h2").inner_text().endswith(LOG)
    assert phone.evaluate("window.same") is True
    assert phone.get_by_label("Tell me what you see, or ask").input_value() == ""
    phone.wait_for_timeout(800)  # it scrolls there
    top, box_top = (one.bounding_box()["y"] for one in (last, phone.locator("#box")))
    assert 0 <= top < top + last.bounding_box()["height"] <= box_top + 1
    expect(phone.locator("#status")).to_contain_text("soil at shed bed")


def test_the_reasons_unfold_down_to_a_row(phone: Any, demo_site: str) -> None:
    """Two taps under an answer stand the rule, the facts, and a row with the words that were jotted down."""
    phone.goto(demo_site)
    send(phone, WHY)
    last = phone.locator(".exchange").last
    jotted = phone.locator("q", has_text="chips parted by hand, probe in the soil below").first
    assert not jotted.is_visible()
    last.get_by_text("Why, down to your records").click()
    assert last.get_by_text("A fig whose roots stand under mulch in soil measured colder than bare").is_visible()
    first = last.locator(".reason").first
    for fact in ("Cold root zone", "Soil contrast"):
        first.locator("li", has_text=fact).last.locator("summary").first.click()
    row = first.locator("li", has=jotted).last
    row.wait_for(state="visible")
    assert re.search(r"/records/soil_reading/\d+$", row.locator("a").get_attribute("href"))


def test_put_right_the_answer_changes(phone: Any, demo_site: str) -> None:
    """A look that was another tree's is taken back by its button, and the question asked again tells otherwise."""
    phone.goto(demo_site)
    send(phone, "shed fig bud break")
    send(phone, WHY)
    awake = phone.locator(".exchange").last.locator(".answer").inner_text()
    assert "still asleep" not in awake
    phone.locator(".exchange", has_text="Recorded").first.get_by_role("button", name="Undo").click()
    phone.locator(".answer", has_text="Taken back, and out of use").wait_for()
    phone.locator(".exchange", has=phone.locator("h2", has_text=WHY)).get_by_role("button", name="Ask again").click()
    phone.wait_for_function("() => document.querySelectorAll('.exchange').length === 4")
    assert "still asleep on 22 April" in phone.locator(".exchange").last.locator(".answer").inner_text()


def test_a_word_puts_right_too(phone: Any, demo_site: str) -> None:
    """ "No, that was ..." after a reading is said back as put right."""
    phone.goto(demo_site)
    send(phone, LOG)
    send(phone, "no, that was 9.1")
    assert "Put right" in phone.locator(".exchange").last.inner_text()
    assert "9.1 °C" in phone.locator(".exchange").last.inner_text()


def test_typed_without_a_signal_it_is_sent_once(phone: Any, demo_site: str, adviser: Adviser, demo_copy: Path) -> None:
    """The page opens from what is kept, with what was typed and what waits; back in reach it is sent, one time."""
    with_worker(phone, demo_site)
    phone.context.set_offline(True)
    box = phone.get_by_label("Tell me what you see, or ask")
    box.fill(LOG)
    phone.get_by_role("button", name="Send").click()
    phone.locator("#outbox li", has_text="sent when the signal is back").wait_for()
    box.fill("half a thou")
    phone.reload()
    assert phone.locator("#outbox li").inner_text().startswith(LOG)
    assert phone.get_by_label("Tell me what you see, or ask").input_value() == "half a thou"
    assert kept(adviser, demo_copy) == []
    phone.context.set_offline(False)
    phone.locator(".exchange", has_text="soil at shed bed 8.1 °C").wait_for()
    assert phone.locator("#outbox li").count() == 0
    phone.wait_for_timeout(500)
    assert kept(adviser, demo_copy) == [LOG]
    phone.wrong[:] = [line for line in phone.wrong if "ERR_INTERNET_DISCONNECTED" not in line]


def test_a_page_that_is_not_kept_says_so(phone: Any, demo_site: str) -> None:
    """Without a signal another page tells what to do; with one it is as ever."""
    with_worker(phone, demo_site)
    phone.context.set_offline(True)
    phone.goto(f"{demo_site}/rules")
    assert phone.get_by_role("heading", name="No signal").is_visible()
    phone.get_by_role("link", name="To the talk").click()
    phone.get_by_label("Tell me what you see, or ask").wait_for()
    phone.context.set_offline(False)
    phone.wrong[:] = [line for line in phone.wrong if "ERR_INTERNET_DISCONNECTED" not in line]


def test_two_tabs_send_once(phone: Any, demo_site: str, adviser: Adviser, demo_copy: Path) -> None:
    """Two tabs that come back into reach together send what waits once, and both show it."""
    phone.goto(demo_site)
    other = phone.context.new_page()
    other.goto(demo_site)
    phone.context.set_offline(True)
    for page, text in ((phone, LOG), (other, "soil south wall 12 10 cm")):
        page.get_by_label("Tell me what you see, or ask").fill(text)
        page.get_by_role("button", name="Send").click()
        page.locator("#outbox li", has_text=text).wait_for()
    phone.context.set_offline(False)
    wait_until(lambda: len(kept(adviser, demo_copy)) >= 2, phone)
    for page in (phone, other):
        page.locator(".exchange", has_text="soil at shed bed 8.1 °C").wait_for()
        page.locator(".exchange", has_text="soil at south wall 12 °C").wait_for()
    assert sorted(kept(adviser, demo_copy)) == sorted([LOG, "soil south wall 12 10 cm"])
    phone.wrong[:] = [line for line in phone.wrong if "ERR_INTERNET_DISCONNECTED" not in line]


def test_a_fault_of_ours_keeps_the_words(phone: Any, demo_site: str, adviser: Adviser, demo_copy: Path) -> None:
    """While the adviser answers with faults the words wait; the next try that works sends them, once."""
    phone.goto(demo_site)
    tries = []

    def unwell(route: Any) -> None:
        tries.append(route.request.post_data)
        route.fulfill(status=503, body="not now") if len(tries) < 3 else route.continue_()

    phone.route("**/talk", unwell)
    phone.get_by_label("Tell me what you see, or ask").fill(LOG)
    phone.get_by_role("button", name="Send").click()
    phone.locator("#outbox li", has_text="tried again by itself").wait_for()
    phone.locator(".exchange", has_text="soil at shed bed 8.1 °C").wait_for(timeout=30_000)
    assert kept(adviser, demo_copy) == [LOG]
    assert len({re.search(r"id=(\w+)", sent)[1] for sent in tries}) == 1  # type: ignore[index]  # each has one
    phone.wrong[:] = [line for line in phone.wrong if "503" not in line]


def test_a_sign_in_page_in_between_is_no_answer(phone: Any, demo_site: str, adviser: Adviser, demo_copy: Path) -> None:
    """A network that answers with a page of its own has not taken the words."""
    phone.goto(demo_site)
    phone.route(
        "**/talk", lambda route: route.fulfill(status=200, content_type="text/html", body="<h1>Accept terms</h1>")
    )
    phone.get_by_label("Tell me what you see, or ask").fill(LOG)
    phone.get_by_role("button", name="Send").click()
    phone.locator("#outbox li", has_text="this network wants something first").wait_for()
    phone.unroute("**/talk")
    phone.evaluate("dispatchEvent(new Event('online'))")
    phone.locator(".exchange", has_text="soil at shed bed 8.1 °C").wait_for()
    assert kept(adviser, demo_copy) == [LOG]


def test_what_is_refused_can_be_mended(phone: Any, demo_site: str) -> None:
    """A message that cannot be taken says why, and goes back into the box by a tap."""
    phone.goto(demo_site)
    phone.evaluate("document.getElementById('text').removeAttribute('maxlength')")
    phone.get_by_label("Tell me what you see, or ask").fill("soil " * 500)
    phone.get_by_role("button", name="Send").click()
    phone.locator("#outbox .fault", has_text="2000 is the most").wait_for()
    phone.get_by_role("button", name="Put it back into the box").click()
    phone.locator("#outbox li").wait_for(state="detached")
    assert phone.get_by_label("Tell me what you see, or ask").input_value().startswith("soil soil")
    phone.wrong[:] = [line for line in phone.wrong if "413" not in line]


def test_a_reading_in_two_taps(phone: Any, demo_site: str) -> None:
    """A number and one button; said back with undo, and the first question asked again by a tap."""
    phone.goto(demo_site)
    send(phone, "compare the shed bed and the south wall")
    form = phone.locator(".exchange form[action$='/reading']").first
    form.get_by_label("temperature", exact=False).first.fill("10.5")
    form.get_by_role("button", name="Record it").click()
    done = phone.locator(".exchange", has_text="soil at shed bed 10.5 °C")
    done.wait_for()
    assert done.get_by_role("button", name="Undo").is_visible()
    done.get_by_role("button", name="Ask again").click()
    phone.wait_for_function("() => document.querySelectorAll('.exchange').length === 3")


def test_a_fault_in_a_reading_keeps_the_number(phone: Any, demo_site: str) -> None:
    """A number that cannot be right stays in its field, the fault beside it, and the focus on it."""
    phone.goto(demo_site)
    send(phone, "compare the shed bed and the south wall")
    form = phone.locator(".exchange form[action$='/reading']").first
    form.get_by_label("temperature", exact=False).first.fill("150")
    form.get_by_role("button", name="Record it").click()
    phone.locator(".exchange .fault").wait_for()
    assert phone.evaluate("document.activeElement.value") == "150"
    phone.wrong[:] = [line for line in phone.wrong if "422" not in line]


def test_a_line_to_complete_fills_the_box(phone: Any, demo_site: str) -> None:
    """What is worth telling is put into the box, with the gap marked for the number to be typed over it."""
    phone.goto(demo_site)
    phone.evaluate("""() => {
        const link = document.createElement('a');
        link.dataset.fills = 'soil shed bed … °C at 10 cm'; link.href = '/?say=x'; link.textContent = 'soil';
        document.querySelector('#talk').prepend(link); link.click();
    }""")
    phone.keyboard.type("8.1")
    assert phone.get_by_label("Tell me what you see, or ask").input_value() == "soil shed bed 8.1 °C at 10 cm"


def test_by_keyboard_alone(browser: Any, demo_site: str) -> None:
    """Typed and sent with Enter, the answer's reasons are reached by Tab and unfolded by Enter; nothing traps."""
    page = browser.new_page()
    page.goto(demo_site)
    for _ in range(40):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.id") == "text":
            break
    page.keyboard.type(WHY)
    page.keyboard.press("Enter")
    page.locator(".exchange").wait_for()
    found = False
    for _ in range(40):
        page.keyboard.press("Shift+Tab")
        if page.evaluate("document.activeElement.textContent") == "Why, down to your records":
            found = True
            break
    assert found
    page.keyboard.press("Enter")
    assert page.get_by_text("A fig whose roots stand under mulch in soil measured colder than bare").is_visible()
    page.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_in_an_unfolded_answer(
    browser: Any, demo_site: str, axe: Callable[[Any], list[str]], scheme: str
) -> None:
    """An answer with all its reasons open, and one with a form and choices, have no fault that axe-core knows."""
    page = browser.new_page(color_scheme=scheme, viewport={"width": 360, "height": 740})
    page.goto(demo_site)
    for text in (WHY, "compare the shed bed and the south wall", LOG, "fig swelling"):
        send(page, text)
    page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
    assert axe(page) == []
    for size in ("100%", "200%"):
        page.evaluate("size => { document.documentElement.style.fontSize = size }", size)
        assert page.evaluate("document.documentElement.scrollWidth") <= 360
    page.goto(f"{demo_site}/talk")
    assert axe(page) == []
    page.close()


def test_the_first_view_is_small(browser: Any, demo_site: str) -> None:
    """The page with an answer on it and all that it loads come to less than 60 kB over the wire."""
    page = browser.new_page()
    page.goto(demo_site)
    send(page, WHY)
    page.close()
    context = browser.new_context()
    page = context.new_page()
    wire = context.new_cdp_session(page)
    wire.send("Network.enable")
    came: list[float] = []
    wire.on("Network.loadingFinished", lambda event: came.append(event["encodedDataLength"]))
    page.goto(demo_site)
    page.wait_for_load_state("networkidle")
    assert "was still asleep" in page.content()
    assert 8_000 < sum(came) < 60_000, came
    assert len(came) >= 3
    context.close()


def test_without_a_script_a_double_tap_logs_once(
    browser: Any, demo_site: str, adviser: Adviser, demo_copy: Path
) -> None:
    """With scripts off, a button hit twice sends its words once, and a reload of the answer sends nothing."""
    context = browser.new_context(java_script_enabled=False, viewport={"width": 360, "height": 740})
    page = context.new_page()
    page.goto(demo_site)
    page.get_by_label("Tell me what you see, or ask").fill(LOG)
    page.get_by_role("button", name="Send").dblclick(no_wait_after=True)
    page.get_by_text("soil at shed bed 8.1 °C").wait_for()
    page.reload()
    assert kept(adviser, demo_copy) == [LOG]
    page.get_by_role("button", name="Undo").click()
    page.locator(".answer", has_text="Taken back, and out of use").wait_for()
    context.close()
