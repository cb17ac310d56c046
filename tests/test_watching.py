"""What an operator sees of a service: one log line a request without the grower's words, and counts that add up."""

from __future__ import annotations

import json
import logging
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from prometheus_client.parser import text_string_to_metric_families
from tests_shared import NOON

from advisor.conversation import Adviser
from advisor.doors.http import create_app
from advisor.doors.watching import Line

SECRET = "why is the shed fig so slow to wake?"


@pytest.fixture
def lines(caplog: pytest.LogCaptureFixture) -> Iterator[list[str]]:
    """The lines logged so far, as they are written."""
    found: list[str] = []

    class Keep(logging.Handler):
        def emit(self, record: logging.LogRecord) -> None:
            found.append(Line().format(record))

    logger, handler = logging.getLogger("advisor"), Keep()
    level = logger.level
    logger.addHandler(handler)
    logger.setLevel(logging.INFO)
    yield found
    logger.removeHandler(handler)
    logger.setLevel(level)


@pytest.mark.parametrize("words", [False, True])
def test_the_growers_words_are_logged_only_if_asked(
    adviser: Adviser, demo_copy: Path, lines: list[str], words: bool
) -> None:
    """A line tells route, outcome and time; neither the message nor a plant's name is in it unless that was asked."""
    own = replace(adviser, settings=replace(adviser.settings, garden=demo_copy, log_words=words))
    client = create_app(own, lambda: NOON).test_client()
    client.post("/messages", json={"text": SECRET, "id": "m1"})
    client.get("/garden/plant/shed%20fig")
    (told, page) = [json.loads(line) for line in lines]
    assert (told["route"], told["status"], told["outcome"]) == ("/messages", 200, "answered")
    assert told["ms"] > 0
    assert ("shed fig" in "".join(lines)) is words
    assert page["method"] == "GET"


def test_counts_add_up(adviser: Adviser, demo_copy: Path) -> None:
    """Counts are in the open text format, by route and status, and messages by outcome."""
    own = replace(adviser, settings=replace(adviser.settings, garden=demo_copy))
    client = create_app(own, lambda: NOON).test_client()
    for n in range(3):
        client.post("/messages", json={"text": SECRET, "id": f"m{n}"})
    client.post("/messages", json={"text": ""})
    client.get("/nowhere")
    families = {one.name: one for one in text_string_to_metric_families(client.get("/metrics").get_data(as_text=True))}
    requests = {
        (sample.labels["route"], sample.labels["status"]): sample.value
        for sample in families["advisor_requests"].samples
        if sample.name.endswith("_total")
    }
    assert requests["/messages", "200"] == 3
    assert requests["/messages", "422"] == 1
    assert requests["none", "404"] == 1
    outcomes = [s.value for s in families["advisor_messages"].samples if s.labels.get("outcome") == "answered"]
    assert max(outcomes[:1]) == 3
