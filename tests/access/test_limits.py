"""Limits: one grower or one address cannot take the service from the others."""

from __future__ import annotations

import http.client
import threading
import time
from collections.abc import Callable
from typing import Any

import pytest
from flask import Response, request

from advisor.doors.access import request as access_request
from advisor.doors.access.limits import Buckets, Limits, Rate, Turns, body_up_to
from advisor.doors.access.request import no_key_needed

PLENTY = Rate(1e6, 1e6)


class Watch:
    def __init__(self) -> None:
        self.now = 0.0

    def __call__(self) -> float:
        return self.now


def wait_until(true: Callable[[], bool]) -> None:
    until = time.monotonic() + 60
    while not true():
        assert time.monotonic() < until, "it did not come to be so"
        time.sleep(0.01)


def test_a_bucket_fills_again() -> None:
    """Three at once, then one every two seconds; who waits as long as told is let in."""
    watch = Watch()
    bucket = Buckets(Rate(3, 0.5), time=watch)
    assert [bucket.take("a") for _ in range(3)] == [0.0] * 3
    wait_s = bucket.take("a")
    assert wait_s == pytest.approx(2.0)
    assert bucket.take("b") == 0.0
    watch.now += wait_s
    assert bucket.take("a") == 0.0
    watch.now += 1000
    assert [bucket.take("a") > 0 for _ in range(4)] == [False, False, False, True]


def test_buckets_are_bounded() -> None:
    """However many names send, only so many are kept."""
    bucket = Buckets(Rate(3, 0.5), most=100)
    for n in range(1000):
        bucket.take(str(n))
    assert len(bucket) == 100


def test_too_many_with_one_key(make_service: Callable[..., Any]) -> None:
    """The fourth request gets 429 with when to come again, and the other grower is served."""
    service = make_service(Limits(Rate(3, 0.1), PLENTY, PLENTY, time=Watch()))
    quill, quoin = service.program("quill"), service.program("quoin")
    assert [quill.get("/health").status_code for _ in range(3)] == [200] * 3
    refused = quill.get("/messages/none")
    assert (refused.status_code, refused.content_type) == (429, "application/problem+json")
    assert refused.headers["Retry-After"] == "10"
    assert {"done", "found", "do"} <= set(refused.get_json())
    assert quoin.get("/health").status_code == 200


def test_too_many_from_one_address(make_service: Callable[..., Any]) -> None:
    """Requests without a key count by address; another address is let in, and a household's IPv6 is one address."""
    service = make_service(Limits(PLENTY, Rate(3, 0.1), PLENTY, time=Watch()))
    client = service.program()

    def status(address: str) -> int:
        return client.get("/messages/none", environ_overrides={"REMOTE_ADDR": address}).status_code

    assert [status("192.0.2.1") for _ in range(4)] == [401, 401, 401, 429]
    assert status("192.0.2.2") == 401
    assert [status(f"2001:db8::{n}") for n in range(4)] == [401, 401, 401, 429]


def test_wrong_keys_are_throttled(make_service: Callable[..., Any]) -> None:
    """After so many unknown keys the address waits, on the page too; a good key sent by a program still opens."""
    service = make_service(Limits(PLENTY, PLENTY, Rate(2, 0.1), time=Watch()))
    wrong = service.key("quill")
    service.revoke(wrong[0])
    client = service.program(key=wrong[1])
    assert [client.get("/messages/none").status_code for _ in range(3)] == [401, 401, 429]
    page = service.browser().post("/sign-in", data={"key": service.keys["quill"]})
    assert page.status_code == 429 and int(page.headers["Retry-After"]) >= 1
    assert service.program("quill").get("/messages/none").status_code == 404


def test_a_slip_does_not_count(make_service: Callable[..., Any]) -> None:
    """Whoever mistypes a key may go on trying: a slip is no guess."""
    service = make_service(Limits(PLENTY, PLENTY, Rate(2, 0.001), time=Watch()))
    browser = service.browser()
    slip = service.keys["quill"][:-2]
    assert [browser.post("/sign-in", data={"key": slip}).status_code for _ in range(5)] == [422] * 5
    assert browser.post("/sign-in", data={"key": service.keys["quill"]}).status_code == 303


def test_turns_are_taken() -> None:
    """Two run at a time, a third waits for its turn, a fourth is turned away, and another name is not kept waiting."""
    turns = Turns(2, 3, 60.0)
    assert turns.enter("a") and turns.enter("a")
    got: list[bool] = []
    waiting = threading.Thread(target=lambda: got.append(turns.enter("a")))
    waiting.start()
    wait_until(lambda: turns._inside["a"] == 3)
    assert not turns.enter("a")
    assert turns.enter("b")
    turns.leave("a")
    waiting.join(60)
    assert got == [True]
    for name in ("a", "a", "b"):
        turns.leave(name)
    assert not turns._running and not turns._inside


def test_a_wait_ends() -> None:
    """Who gets no turn in time is turned away, and leaves no trace."""
    turns = Turns(1, 5, 0.05)
    assert turns.enter("a")
    assert not turns.enter("a")
    turns.leave("a")
    assert turns.enter("a")


def test_one_growers_slow_requests_leave_room(make_service: Callable[..., Any], serve_app: Callable[..., int]) -> None:
    """While one grower's answers hang, as many as may run, another grower is answered."""
    service = make_service(Limits(PLENTY, PLENTY, PLENTY, running=1, inside=2, longest_wait_s=60.0))
    free = threading.Event()
    service.app.add_url_rule("/hang", "hang", lambda: str(free.wait(60)))
    port = serve_app(service.app, threads=4)
    found: list[int] = []

    def get(path: str, who: str) -> int:
        conn = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
        conn.request("GET", path, headers={"Authorization": f"Bearer {service.keys[who]}"})
        status = conn.getresponse().status
        conn.close()
        return status

    threads = [threading.Thread(target=lambda: found.append(get("/hang", "quill"))) for _ in range(2)]
    for thread in threads:
        thread.start()
    wait_until(lambda: sum(service.limits.turns._inside.values()) == 2)
    assert get("/hang", "quill") == 429
    assert get("/health", "quoin") == 200
    free.set()
    for thread in threads:
        thread.join(60)
    assert found == [200, 200]


def test_a_slow_answer_is_counted_and_paid_for(
    make_service: Callable[..., Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    """It is not cut short; it is counted, and the key pays for the time with later requests."""
    service, watch = make_service(Limits(Rate(5, 10), PLENTY, PLENTY, slow_s=0.1, time=lambda: 0.0)), Watch()
    monkeypatch.setattr(access_request, "perf_counter", watch)

    def slow() -> str:
        watch.now += 0.2
        return "done"

    service.app.add_url_rule("/slow", "slow", slow)
    client = service.program("quill")
    assert client.get("/slow").get_data(as_text=True) == "done"
    assert service.limits.slow == 1
    after = [client.get("/messages/none").status_code for _ in range(4)]
    assert after[0] == 404 and after[-1] == 429  # without the charge all four would be let in


def test_each_route_has_its_longest_body(make_service: Callable[..., Any]) -> None:
    """Sixty-four kilobytes unless a view says otherwise, larger or smaller, and the refusal says how much."""
    service = make_service()

    @no_key_needed
    @body_up_to(200_000)
    def large() -> Response:
        return Response(str(len(request.get_data())))

    service.app.add_url_rule("/large", "large", large, methods=["POST"])
    client = service.program("quill")
    assert client.post("/large", data=b"x" * 200_000).get_data(as_text=True) == "200000"
    assert client.post("/large", data=b"x" * 200_001).status_code == 413
    refused = client.post("/messages", data=b"x" * 65_537, content_type="application/json")
    assert (refused.status_code, refused.get_json()["found"]) == (413, "more than 65536 bytes")
    assert service.browser().post("/sign-in", data={"key": "x" * 5000}).status_code == 413
