"""Signing in on a page: the form, the cookie, what ends it, and what the browser is made to forget."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from http.cookies import SimpleCookie
from typing import Any

import pytest
from tests_shared import NOON

from advisor.doors.access.keys import written
from advisor.doors.access.limits import Limits, Rate
from advisor.doors.http import create_app


def test_the_page_is_asked_for_a_key_and_comes_back(service: Any) -> None:
    """A page without a session leads to the form, and the key leads back to the page that was wanted."""
    browser = service.browser()
    away = browser.get("/records?kind=work")
    assert (away.status_code, away.headers["Location"]) == (303, "/sign-in?next=/records%3Fkind%3Dwork")
    form = browser.get(away.headers["Location"]).get_data(as_text=True)
    assert 'name="next" value="/records?kind=work"' in form and 'type="password"' in form
    assert 'href="/garden"' not in form
    back = browser.post("/sign-in", data={"key": service.keys["quill"], "next": "/records?kind=work"})
    assert (back.status_code, back.headers["Location"]) == (303, "/records?kind=work")
    page = browser.get("/records?kind=work")
    assert page.status_code == 200 and 'href="/sign-out"' in page.get_data(as_text=True)
    assert browser.get("/sign-in").status_code == 303


def test_each_browser_reaches_its_own_garden(service: Any) -> None:
    """Two browsers at one service see two places."""
    assert service.browser("quill").get("/health").get_json()["place"] == "Quillbarrow"
    assert service.browser("quoin").get("/health").get_json()["place"] == "Quoinbarrow"


def test_the_cookie_is_kept_close(service: Any) -> None:
    """No script reads it, no other site's form sends it, and by https it is bound to this very host."""
    plain = SimpleCookie(service.browser().post("/sign-in", data={"key": service.keys["quill"]}).headers["Set-Cookie"])
    assert plain["grower"]["httponly"] and plain["grower"]["samesite"] == "Lax" and plain["grower"]["path"] == "/"
    assert not plain["grower"]["secure"] and not plain["grower"]["domain"]
    browser = service.browser(**{"wsgi.url_scheme": "https", "HTTP_ORIGIN": "https://localhost"})
    answer = browser.post("https://localhost/sign-in", data={"key": service.keys["quill"]})
    secure = SimpleCookie(answer.headers["Set-Cookie"])["__Host-grower"]
    assert secure["secure"] and secure["httponly"] and secure["path"] == "/" and not secure["domain"]
    assert browser.get("https://localhost/health").get_json()["place"] == "Quillbarrow"


@pytest.mark.parametrize(("behind_proxy", "name"), [(True, "__Host-grower"), (False, "grower")])
def test_https_before_a_proxy_is_believed_only_when_set(
    make_service: Callable[..., Any], behind_proxy: bool, name: str
) -> None:
    """What a forwarded header says of https counts with ADVISOR_BEHIND_PROXY, and is anybody's word without it."""
    service = make_service(behind_proxy=behind_proxy)
    browser = service.browser(HTTP_X_FORWARDED_PROTO="https", HTTP_ORIGIN="https://localhost")
    cookie = SimpleCookie(browser.post("/sign-in", data={"key": service.keys["quill"]}).headers["Set-Cookie"])
    assert list(cookie) == [name]


@pytest.mark.parametrize("behind_proxy", [True, False])
def test_a_forwarded_address_is_believed_only_when_set(make_service: Callable[..., Any], behind_proxy: bool) -> None:
    """Without the setting nobody gets a fresh allowance by naming another address."""
    plenty = Rate(1e6, 1e6)
    service = make_service(Limits(plenty, Rate(1, 0.01), plenty), behind_proxy=behind_proxy)
    client = service.program()
    sent = [client.get("/messages/none", headers={"X-Forwarded-For": f"192.0.2.{n}"}).status_code for n in range(3)]
    assert sent == ([401, 401, 401] if behind_proxy else [401, 429, 429])


def test_faults_stand_by_the_field(service: Any) -> None:
    """A slip keeps what was typed, to be mended; a key that ran out or was taken back says so and is not shown again."""
    browser = service.browser()

    def said(key: str) -> str:
        answer = browser.post("/sign-in", data={"key": key})
        assert answer.status_code == 422
        return answer.get_data(as_text=True)

    slip = service.keys["quill"][:-1]
    assert "59 letters and digits" in said(slip) and 'type="text"' in said(slip) and f'value="{slip}"' in said(slip)
    key_id, revoked = service.key("quill")
    service.revoke(key_id)
    assert "was taken back" in said(revoked) and revoked not in said(revoked)
    _, short = service.key("quill", expires=timedelta(days=1))
    service.now += timedelta(days=2)
    assert "has run out" in said(short)
    assert "not known here" in said(written(bytes(32)))
    assert "No key" in said("")


def test_signing_out_ends_it_and_clears_the_browser(service: Any) -> None:
    """The page asks first; then the session is over on the server, the cookie gone, and kept pages are forgotten."""
    browser = service.browser("quill")
    assert "not sent yet" in browser.get("/sign-out").get_data(as_text=True)
    answer = browser.post("/sign-out")
    assert answer.status_code == 303
    assert answer.headers["Clear-Site-Data"] == '"cache", "storage"'
    assert SimpleCookie(answer.headers["Set-Cookie"])["grower"]["max-age"] == "0"
    assert browser.get("/records").status_code == 303


def test_a_session_ends_with_its_key(service: Any) -> None:
    """Revoking a device's key signs that device out, and no other."""
    key_id, text = service.key("quill")
    lost, other = service.browser(), service.browser("quill")
    lost.post("/sign-in", data={"key": text})
    assert lost.get("/records").status_code == 200
    service.revoke(key_id)
    assert lost.get("/records").status_code == 303
    assert other.get("/records").status_code == 200


@pytest.mark.parametrize(("days", "status"), [(29, 200), (31, 303)])
def test_a_session_ends_when_unused(service: Any, days: int, status: int) -> None:
    """Thirty days without use end it."""
    browser = service.browser("quill")
    service.now += timedelta(days=days)
    assert browser.get("/records").status_code == status


def test_signing_in_anew_keeps_what_is_ones_own(service: Any) -> None:
    """The same grower's unsent words stay on the phone; another grower on it, or an unknown cookie, finds nothing."""
    browser = service.browser("quill")
    service.now += timedelta(days=100)
    assert browser.get("/records").status_code == 303
    again = browser.post("/sign-in", data={"key": service.keys["quill"]})
    assert "Clear-Site-Data" not in again.headers
    other = browser.post("/sign-in", data={"key": service.keys["quoin"]})
    assert other.headers["Clear-Site-Data"] == '"cache", "storage"'
    planted = service.browser()
    planted.set_cookie("grower", "planted")
    assert "Clear-Site-Data" in planted.post("/sign-in", data={"key": service.keys["quill"]}).headers


def test_every_posted_form_carries_the_token(service: Any) -> None:
    """A session's forms hold its token without any page's doing; where nobody is signed in there is none."""
    browser = service.browser("quill")
    page = browser.get("/sign-out").get_data(as_text=True)
    assert re.search(
        r'<form method="post" action="/sign-out"><input type="hidden" name="form_token" value="[0-9a-f]{80}">', page
    )
    assert "form_token" not in service.browser().get("/sign-in").get_data(as_text=True)


def test_one_garden_needs_no_key(adviser: Any, demo_copy: Any) -> None:
    """Where one garden is served there is nothing to sign in to, and no page says there is."""
    own = replace(adviser, settings=replace(adviser.settings, garden=demo_copy))
    client = create_app(own, lambda: NOON).test_client()
    client.environ_base["HTTP_ACCEPT"] = "text/html"
    assert client.get("/sign-in").status_code == 404
    page = client.get("/garden")
    assert page.status_code == 200 and "Sign out" not in page.get_data(as_text=True)
