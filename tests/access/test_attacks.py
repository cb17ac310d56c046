"""What somebody might try: each thing is sent as it would be, and opens nothing."""

from __future__ import annotations

import base64
import http.client
import io
import socket
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from http.cookies import SimpleCookie
from typing import Any

import pytest
from tests_shared import NOON

from advisor.doors.access.keys import written
from advisor.doors.access.sign_in import local_path
from advisor.doors.http import create_app

LOOK_ALIKE = "\u0430"
"""A Cyrillic letter that looks like a."""


def cookie_of(answer: Any) -> str:
    return SimpleCookie(answer.headers["Set-Cookie"])["grower"].value


# ---- keys


def test_a_key_is_asked_for_as_the_standard_says(service: Any) -> None:
    """RFC 6750, section 3: a challenge without an error where no key was sent, with invalid_token where one is no good."""
    bare = service.program().get("/messages/none")
    assert (bare.status_code, bare.content_type) == (401, "application/problem+json")
    assert bare.headers["WWW-Authenticate"] == 'Bearer realm="garden"'
    wrong = service.program(key=written(bytes(32))).get("/messages/none")
    assert wrong.status_code == 401
    assert 'error="invalid_token"' in wrong.headers["WWW-Authenticate"]


@pytest.mark.parametrize("scheme", ["Bearer", "bearer", "BEARER"])
def test_the_scheme_has_no_case(service: Any, scheme: str) -> None:
    """RFC 9110, section 11.1: the name of the scheme is compared without case."""
    sent = {"Authorization": f"{scheme} {service.keys['quill']}"}
    assert service.program().get("/health", headers=sent).get_json()["place"] == "Quillbarrow"


def test_a_key_that_ended_opens_nothing(service: Any) -> None:
    """Expired and revoked keys are refused from the moment on, and the refusal says which."""
    _, short = service.key("quill", expires=timedelta(days=1))
    key_id, lost = service.key("quill")
    assert [service.program(key=key).get("/messages/none").status_code for key in (short, lost)] == [404, 404]
    service.now += timedelta(days=1)
    service.revoke(key_id)
    said = [service.program(key=key).get("/messages/none") for key in (short, lost)]
    assert [answer.status_code for answer in said] == [401, 401]
    assert ["run out" in said[0].get_json()["found"], "taken back" in said[1].get_json()["found"]] == [True, True]


@pytest.mark.parametrize(
    ("sent", "status"),
    [
        ("Bearer", 400), ("Bearer ", 400), ("Bearer {key}, Bearer {key}", 400), ("Bearer {key},", 400),
        ("Bearer {key} {key}", 401), ("Basic {basic}", 401), ("{key}", 401), ("", 401), ("Bearer null", 401),
        ("Bearer {key}x", 401), ("Bearer {short}", 401), ("Bearer ' OR 1=1 --", 401), ("Digest {key}", 401),
    ],
)  # fmt: skip
def test_what_is_no_key_opens_nothing(service: Any, sent: str, status: int) -> None:
    """Two keys at once, half a key, another scheme, and what would be SQL elsewhere."""
    key = service.keys["quill"]
    basic = base64.b64encode(f"quill:{key}".encode()).decode()
    header = sent.format(key=key, basic=basic, short=key[:-6])
    answer = service.program().get("/messages/none", headers={"Authorization": header})
    assert answer.status_code == status
    assert answer.headers["WWW-Authenticate"].startswith("Bearer")


def test_a_key_in_the_address_or_the_body_is_not_read(service: Any) -> None:
    """RFC 6750, section 2.3, warns of keys in addresses, which are logged; they are not looked for."""
    key, client = service.keys["quill"], service.program()
    assert client.get("/messages/none", query_string={"access_token": key, "key": key}).status_code == 401
    assert client.post("/messages", data={"access_token": key, "text": "help"}).status_code == 401


def test_a_bad_key_beside_a_good_cookie_is_refused(service: Any) -> None:
    """The key that is sent counts; a session beside it does not mend it."""
    browser = service.browser("quill")
    assert browser.get("/messages/none", headers={"Authorization": "Bearer x"}).status_code == 401
    own = {"Authorization": f"Bearer {service.keys['quoin']}"}
    assert browser.get("/health", headers=own).get_json()["place"] == "Quoinbarrow"


# ---- cookies


@pytest.mark.parametrize(
    "value", ["", "x", "0" * 43, "a" * 5000, "../../keys", "null", "1' OR '1'='1", "\udcff", "é", LOOK_ALIKE * 43]
)
def test_a_forged_cookie_opens_nothing(service: Any, value: str) -> None:
    """Whatever stands in it: only a secret that was given out is a session."""
    client = service.program()
    answer = client.get("/messages/none", environ_overrides={"HTTP_COOKIE": f"grower={value}"})
    assert answer.status_code == 401


def test_an_altered_cookie_opens_nothing(service: Any) -> None:
    """A session with one letter changed, cut short, or said twice with another before it."""
    browser = service.browser()
    secret = cookie_of(browser.post("/sign-in", data={"key": service.keys["quill"]}))
    changed = ("A" if secret[0] != "A" else "B") + secret[1:]
    client = service.program()

    def status(header: str) -> int:
        return client.get("/messages/none", environ_overrides={"HTTP_COOKIE": header}).status_code

    assert status(f"grower={secret}") == 404
    assert [status(f"grower={one}") for one in (changed, secret[:-1], secret + "A", secret.swapcase())] == [401] * 4
    assert status(f"grower={changed}; grower={secret}") in (401, 404)  # never another garden, whichever is read
    assert status(f"__Host-grower={secret}") == 401  # by http that name cannot have been set by us


def test_a_cookie_is_dead_after_sign_out(service: Any) -> None:
    """Who copied the cookie before has nothing after."""
    browser = service.browser()
    secret = cookie_of(browser.post("/sign-in", data={"key": service.keys["quill"]}))
    stolen = {"HTTP_COOKIE": f"grower={secret}"}
    assert service.program().get("/messages/none", environ_overrides=stolen).status_code == 404
    browser.post("/sign-out")
    assert service.program().get("/messages/none", environ_overrides=stolen).status_code == 401


def test_a_planted_session_is_not_taken_over(service: Any) -> None:
    """Session fixation: signing in gives a new secret, and a session that was there before is ended."""
    attacker = service.browser()
    planted = cookie_of(attacker.post("/sign-in", data={"key": service.keys["quoin"]}))
    victim = service.browser()
    victim.set_cookie("grower", planted)
    fresh = cookie_of(victim.post("/sign-in", data={"key": service.keys["quill"]}))
    assert fresh != planted
    assert attacker.get("/records").status_code == 303
    assert victim.get("/health").get_json()["place"] == "Quillbarrow"
    again = cookie_of(victim.post("/sign-in", data={"key": service.keys["quill"]}))
    assert again != fresh


# ---- other sites

FORMS: dict[str, Callable[[], dict[str, Any]]] = {
    "a form": lambda: {"data": {"text": "undo"}},
    "JSON as a form of plain text": lambda: {"data": '{"text": "undo", "x": "="}', "content_type": "text/plain"},
    "JSON": lambda: {"json": {"text": "undo"}},
    "a file": lambda: {"data": {"file": (io.BytesIO(b"name\nx"), "spot.csv")}},
}


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "https://elsewhere.example", "Sec-Fetch-Site": "cross-site"},
        {"Origin": "http://garden.localhost", "Sec-Fetch-Site": "same-site"},
        {"Origin": "http://localhost:8000", "Sec-Fetch-Site": ""},
        {"Origin": "http://localhost.elsewhere.example", "Sec-Fetch-Site": ""},
        {"Origin": "http://localhost@elsewhere.example", "Sec-Fetch-Site": ""},
        {"Origin": "http://elsewhere.example,http://localhost", "Sec-Fetch-Site": ""},
        {"Origin": "file://", "Sec-Fetch-Site": ""},
        {"Origin": "null", "Sec-Fetch-Site": ""},
        {"Origin": "", "Sec-Fetch-Site": ""},
        {"Origin": "http://[", "Sec-Fetch-Site": ""},
        {"Origin": "http://localhost", "Sec-Fetch-Site": "cross-site"},
        {"Origin": "http://localhost", "Sec-Fetch-Site": "same-origin, cross-site"},
    ],
)
@pytest.mark.parametrize("form", FORMS)
def test_a_page_of_another_site_does_nothing(service: Any, headers: dict[str, str], form: str) -> None:
    """Whatever another page sends with the reader's cookie, by whatever kind of form, is refused before it is read."""
    browser = service.browser("quill")
    told = {name: value for name, value in headers.items() if value or name == "Origin"}
    if not headers["Sec-Fetch-Site"]:
        browser.environ_base.pop("HTTP_SEC_FETCH_SITE")
    assert browser.post("/messages", headers=told, **FORMS[form]()).status_code == 403
    assert browser.post("/sign-out", headers=told).status_code == 403
    assert browser.get("/records").status_code == 200


def test_an_https_page_is_not_posted_to_from_http(service: Any) -> None:
    """A page of the same name without https, which anyone on the way can write, is another site."""
    https = {"wsgi.url_scheme": "https"}
    browser = service.browser(**https)
    browser.environ_base.pop("HTTP_SEC_FETCH_SITE")
    assert browser.post("https://localhost/sign-in", headers={"Origin": "http://localhost"}).status_code == 403
    assert browser.post("https://localhost/sign-in", headers={"Origin": "https://localhost"}).status_code == 422


def test_a_browser_that_says_nothing_must_hold_the_token(service: Any) -> None:
    """With a cookie and none of the headers: our own page as the referrer or the form's token, else nothing."""
    browser = service.browser("quill")
    token = browser.get("/sign-out").get_data(as_text=True).split('name="form_token" value="')[1].split('"')[0]
    other = service.browser("quoin")
    others = other.get("/sign-out").get_data(as_text=True).split('name="form_token" value="')[1].split('"')[0]
    for name in ("HTTP_ORIGIN", "HTTP_SEC_FETCH_SITE"):
        browser.environ_base.pop(name)
    assert token[:16] != browser.get("/sign-out").get_data(as_text=True).split('name="form_token" value="')[1][:16]
    refused = [
        {"data": {"form_token": token[:16]}}, {"data": {"form_token": token[:-1]}},
        {}, {"data": {"form_token": ""}}, {"data": {"form_token": others}}, {"data": {"form_token": "é"}},
        {"headers": {"Referer": "http://elsewhere.example/?http://localhost/"}}, {"headers": {"Referer": ""}},
    ]  # fmt: skip
    assert [browser.post("/sign-out", **sent).status_code for sent in refused] == [403] * len(refused)
    assert browser.post("/messages", json={"text": "help"}).status_code == 403
    own = {"Referer": "http://localhost/"}
    assert browser.post("/messages", json={"text": "help"}, headers=own).status_code == 200
    assert browser.post("/sign-out", data={"form_token": token}).status_code == 303


def test_nobody_is_signed_in_by_another_site(service: Any) -> None:
    """A foreign page cannot sign a reader in to its own garden, also where the browser is too old to say whose it is."""
    browser = service.browser()
    for name in ("HTTP_ORIGIN", "HTTP_SEC_FETCH_SITE"):
        browser.environ_base.pop(name)
    sent = {"key": service.keys["quoin"]}
    assert browser.post("/sign-in", data=sent).status_code == 403
    assert browser.post("/sign-in", data=sent, headers={"Referer": "http://elsewhere.example/"}).status_code == 403
    assert browser.post("/sign-in", data=sent, headers={"Referer": "http://localhost/sign-in"}).status_code == 303


def test_a_program_with_a_key_needs_no_headers(service: Any) -> None:
    """A key is no cookie: no page can make a browser send it, so nothing else is asked."""
    assert service.program("quill").post("/messages", json={"text": "help"}).status_code == 200


# ---- names of hosts

HOSTS = [
    ("elsewhere.example", 421), ("localhost.elsewhere.example", 421), ("127.0.0.1.elsewhere.example", 421),
    ("localhost:80:80", 421), ("localhost@elsewhere.example", 421), ("a b", 421), ("localhost, elsewhere.example", 421),
    ("localhost/../x", 421), ("", 421), ("l" + "o" * 5000, 421), ("garden.example.", 200), ("[::1", 421),
    ("0x7f000001.elsewhere.example", 421), ("localhost:99999999", 421), ("1ocalhost", 421), ("loc\u0430lhost", 421),
    ("localhost", 200), ("LOCALHOST:8470", 200), ("127.0.0.1:8470", 200), ("[::1]:8470", 200), ("192.0.2.7", 200),
    ("garden.example", 200), ("garden.example:443", 200),
]  # fmt: skip


@pytest.mark.parametrize(("host", "status"), HOSTS)
def test_only_our_own_names_are_answered(make_service: Callable[..., Any], host: str, status: int) -> None:
    """A name that leads here by somebody else's doing is refused: RFC 9110's 421, Misdirected Request."""
    service = make_service(hosts=("garden.example",))
    answer = service.program("quill").get("/health", environ_overrides={"HTTP_HOST": host.encode().decode("latin-1")})
    assert answer.status_code == status


def test_one_garden_is_safe_from_a_rebound_name(adviser: Any, demo_copy: Any) -> None:
    """Without keys, a page whose own name was made to lead to this machine reads nothing and writes nothing."""
    own = replace(adviser, settings=replace(adviser.settings, garden=demo_copy))
    client = create_app(own, lambda: NOON).test_client()
    name = "rebound.example:8470"
    sent = {"Host": name, "Origin": f"http://{name}", "Sec-Fetch-Site": "same-origin"}
    assert client.get("/health", headers=sent).status_code == 421
    assert client.post("/messages", json={"text": "undo"}, headers=sent).status_code == 421
    assert client.get("/static/style.css", headers=sent).status_code == 421
    assert client.get("/health", headers={"Host": "127.0.0.1:8470"}).status_code == 200


# ---- where one is led to

AWAY = [
    "https://elsewhere.example", "//elsewhere.example", "/\\elsewhere.example", "\\\\elsewhere.example",
    "///elsewhere.example", "/\t/elsewhere.example", "\n//elsewhere.example", " //elsewhere.example",
    "javascript:alert(1)", "/ok\r\nSet-Cookie: grower=x", "/ok\x00", "http:/elsewhere.example", "elsewhere.example",
    "/" + "x" * 3000, "http://[", "data:text/html,x", "/\u2028/elsewhere.example", "/sign-out", "/sign-in?next=/sign-in",
]  # fmt: skip


@pytest.mark.parametrize("path", AWAY)
def test_signing_in_leads_nowhere_else(service: Any, path: str) -> None:
    """Only a path of our own is gone on to; the header is one line, whatever was sent."""
    assert local_path(path) == "/"
    browser = service.browser()
    answer = browser.post("/sign-in", data={"key": service.keys["quill"], "next": path})
    assert (answer.status_code, answer.headers["Location"]) == (303, "/")
    assert len(answer.headers.getlist("Set-Cookie")) == 1
    assert browser.get("/sign-in", query_string={"next": path}).headers["Location"] == "/"


@pytest.mark.parametrize("path", ["/records?plant=a%2Fb&x=%3Cb%3E", "/garden/plants/caf%C3%A9", "/rules"])
def test_signing_in_leads_back(service: Any, path: str) -> None:
    """Paths of ours survive, quoted as they were."""
    browser = service.browser()
    form = browser.get(browser.get(path).headers["Location"]).get_data(as_text=True)
    assert path.split("?")[0].split("%")[0] in form
    answer = browser.post("/sign-in", data={"key": service.keys["quill"], "next": path})
    assert answer.headers["Location"] == path


def test_what_was_typed_comes_back_as_text(service: Any) -> None:
    """A key or a way on that holds markup is shown as typed."""
    answer = service.browser().post("/sign-in", data={"key": '"><script>alert(1)</script>', "next": '/"><b>x'})
    text = answer.get_data(as_text=True)
    assert "<script>alert" not in text and "<b>x" not in text and "&lt;script&gt;" in text


# ---- paths and methods

PATHS = [
    "/../keys.db", "/..%2fkeys.db", "/static/../../../keys.db", "/static/..%2f..%2fkeys.db", "/static/%2e%2e/http.py",
    "/static/..%5c..%5chttp.py", "/static//etc/passwd", "/messages/..%2f..%2fkeys.db", "/messages/%00", "/messages/a%00b",
    "/messages/" + "x" * 5000, "/messages/%ff%fe", "/messages/caf%C3%A9", "/messages/%F0%9F%8C%B3", "/%2e%2e/%2e%2e/etc/passwd",
    "/messages/{quill}", "/messages/quill%2fx", "//messages/x", "/messages//x", "/messages/%D0%B0", "/keys.db", "/{quill}.db",
]  # fmt: skip


@pytest.mark.parametrize("path", PATHS)
def test_odd_paths_find_nothing(service: Any, path: str) -> None:
    """Steps upwards, zero bytes, long names and look-alikes lead to no file and to no fault of ours."""
    path = path.format(quill=service.growers["quill"])
    for client in (service.program("quoin"), service.program()):
        answer = client.get("http://localhost" + path)
        assert answer.status_code in (301, 308, 401, 404), path
        assert b"SQLite" not in answer.get_data() and b"def create_app" not in answer.get_data()


@pytest.mark.parametrize(
    "method", ["HEAD", "OPTIONS", "TRACE", "PUT", "DELETE", "PATCH", "CONNECT", "PROPFIND", "undo"]
)
@pytest.mark.parametrize("path", ["/", "/messages", "/messages/none", "/records"])
def test_no_method_goes_round_the_key(service: Any, method: str, path: str) -> None:
    """Without a key every method is refused, HEAD and OPTIONS too; TRACE says nothing back with one either."""
    answer = service.program().open(path, method=method)
    assert answer.status_code in (401, 405)
    with_key = service.program("quill").open(path, method=method)
    assert with_key.status_code in (200, 404, 405)
    assert service.keys["quill"] not in with_key.get_data(as_text=True) + str(with_key.headers)


def test_a_method_is_the_one_that_was_sent(service: Any) -> None:
    """No header or field turns a GET into a POST."""
    headers = {"X-HTTP-Method-Override": "POST", "X-HTTP-Method": "POST", "X-Method-Override": "POST"}
    client = service.program("quill")
    assert client.get("/messages", headers=headers, json={"text": "undo"}).status_code == 405
    assert client.get("/messages", query_string={"_method": "POST"}).status_code == 405
    browser = service.browser("quill")
    assert browser.get("/sign-out", headers=headers).status_code == 200
    assert browser.get("/records").status_code == 200


# ---- too much


@pytest.mark.parametrize(
    ("body", "kind"),
    [
        ("[" * 60_000, "application/json"), ('{"text":' * 8_000, "application/json"),
        ('{"text": "' + "\\u0041" * 9_000 + '"}', "application/json"), ("1" * 60_000, "application/json"),
        ('{"text": 1e' + "9" * 5_000 + "}", "application/json"), ("&".join(f"f{n}=1" for n in range(7_000)), "application/x-www-form-urlencoded"),
        ("--x\r\n" * 12_000, "multipart/form-data; boundary=x"), ("x" * 60_000, "multipart/form-data; boundary=" + "b" * 3000),
        ("\x00" * 60_000, "application/json"), ('{"text": "a", "text": "b"}', "application/json; charset=utf-7"),
    ],
)  # fmt: skip
def test_bodies_made_to_hurt_are_answered_quickly(service: Any, body: str, kind: str) -> None:
    """Deep, wide or odd bodies within the longest one: a plain answer within two seconds' work, and no fault of ours."""
    start = time.thread_time()
    answers = [
        service.program("quill").post("/messages", data=body, content_type=kind),
        service.browser().post("/sign-in", data=body[:4000], content_type=kind),
    ]
    assert time.thread_time() - start < 4.0
    assert all(400 <= answer.status_code < 500 or answer.status_code == 200 for answer in answers)


# ---- against the real server


def ask(port: int, raw: bytes, wait_s: float = 10.0) -> bytes:
    """Send bytes as they are and return what comes back."""
    with socket.create_connection(("127.0.0.1", port), timeout=wait_s) as conn:
        conn.sendall(raw)
        got = b""
        try:
            while piece := conn.recv(65536):
                got += piece
        except (TimeoutError, ConnectionResetError):
            pass
    return got


def status_of(port: int, key: str = "", path: str = "/health") -> int:
    conn = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    conn.request("GET", path, headers={"Authorization": f"Bearer {key}"} if key else {})
    status = conn.getresponse().status
    conn.close()
    return status


def test_headers_and_bodies_are_bounded(service: Any, serve_app: Callable[..., int]) -> None:
    """A long address, a long header, many headers and a body that says it is huge are refused, by their standard code."""
    port = serve_app(service.app, threads=4)
    close = b"Host: localhost\r\nConnection: close\r\n"
    assert b" 431 " in ask(port, b"GET /" + b"x" * 20_000 + b" HTTP/1.1\r\n" + close + b"\r\n")[:40]
    assert b" 431 " in ask(port, b"GET / HTTP/1.1\r\n" + close + b"X-Long: " + b"x" * 20_000 + b"\r\n\r\n")[:40]
    many = b"".join(b"X-%d: 1\r\n" % n for n in range(3_000))
    assert b" 431 " in ask(port, b"GET / HTTP/1.1\r\n" + close + many + b"\r\n")[:40]
    huge = b"POST /messages HTTP/1.1\r\n" + close + b"Content-Length: 99999999999\r\n\r\n"
    assert b" 413 " in ask(port, huge)[:40]


@pytest.mark.parametrize(
    "headers",
    [
        b"Content-Length: 3\r\nTransfer-Encoding: chunked\r\n", b"Content-Length: 3\r\nContent-Length: 30\r\n",
        b"Content-Length: -1\r\n", b"Content-Length: +3\r\n", b"Transfer-Encoding: xchunked\r\n", b"X : y\r\n",
        b"X: a\r\n b\r\n\x00: c\r\n", b"Host: elsewhere.example\r\n",
    ],
)  # fmt: skip
def test_one_request_is_not_read_as_two(service: Any, serve_app: Callable[..., int], headers: bytes) -> None:
    """Requests that two servers could read differently are refused, or answered as the one that they are."""
    port = serve_app(service.app, threads=4)
    inner = b"GET /inner HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n"
    raw = b"POST /messages HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n" + headers + b"\r\nabc" + inner
    got = ask(port, raw, 3.0)
    assert got.count(b"HTTP/1.1 ") <= 1
    assert b"/inner" not in got
    assert not got or got.split(b" ")[1] in (b"400", b"401", b"413", b"421", b"501")


def test_two_keys_in_two_headers_are_refused(service: Any, serve_app: Callable[..., int]) -> None:
    """A proxy and the service could each read another one, so neither counts."""
    port = serve_app(service.app, threads=4)
    one, two = (f"Authorization: Bearer {service.keys[who]}\r\n".encode() for who in ("quill", "quoin"))
    got = ask(port, b"GET /messages/none HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n" + one + two + b"\r\n")
    assert got.startswith(b"HTTP/1.1 400 ") and b"invalid_request" in got


def test_slow_clients_keep_nobody_waiting(service: Any, serve_app: Callable[..., int]) -> None:
    """Forty that trickle, ten times the threads, hold no thread: another is answered. After their time they are closed."""

    def trickling(port: int) -> list[socket.socket]:
        slow = [socket.create_connection(("127.0.0.1", port), timeout=60) for _ in range(40)]
        for conn in slow:
            conn.sendall(b"POST /messages HTTP/1.1\r\nHost: localhost\r\nContent-Length: 1000\r\n\r\n{")
        return slow

    port = serve_app(service.app, threads=4, request_s=600.0)  # so long that none of them is closed meanwhile
    slow = trickling(port)
    assert status_of(port, service.keys["quill"]) == 200
    for conn in slow:
        conn.close()
    port = serve_app(service.app, threads=4, request_s=1.0)
    slow, closed = trickling(port), 0
    until = time.monotonic() + 60
    while closed < len(slow) and time.monotonic() < until:  # each keeps sending a byte, so none is ever silent
        time.sleep(0.3)
        for conn in slow:
            if conn.fileno() < 0:
                continue
            try:
                conn.sendall(b" ")
                conn.setblocking(False)
                gone = conn.recv(100) == b""
            except BlockingIOError:
                gone = False
            except OSError:
                gone = True
            conn.setblocking(True) if not gone else conn.close()
            closed += gone
    assert closed == len(slow)
    assert status_of(port, service.keys["quill"]) == 200


def test_silent_clients_are_closed(service: Any, serve_app: Callable[..., int]) -> None:
    """A connection that says nothing is closed after its time."""
    port = serve_app(service.app, threads=2, channel_timeout=1, cleanup_interval=1)
    with socket.create_connection(("127.0.0.1", port), timeout=10) as conn:
        assert conn.recv(100) == b""


def test_the_server_does_not_say_what_it_is(service: Any, serve_app: Callable[..., int]) -> None:
    """No name or version of the server stands in an answer."""
    port = serve_app(service.app, threads=2)
    got = ask(port, b"GET /health HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n").lower()
    assert b" 200 " in got[:20] and b"waitress" not in got and b"werkzeug" not in got and b"python" not in got
