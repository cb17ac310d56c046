"""A message whose tries ended the process: another maker answers it, and in the end it is told that nobody could."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from tests_shared import NOON

from advisor.conversation import Adviser
from advisor.reasoning.derive.memory import Memories
from advisor.reasoning.engine import makers_here, standing_in
from advisor.records.attempts import MARK, one_try
from advisor.records.messages import keep_message, keep_try
from advisor.talk.once import GAVE_UP, MOST_DEATHS, MOST_TRIES

ASKED = {"id": "ask-1", "text": "soil shed bed 11.3 10cm. why is the shed fig late?"}
needs_two = pytest.mark.skipif(len(makers_here()) < 2, reason="only one maker is installed")


def died(garden: Path, message_id: str, makers: list[str]) -> None:
    """Leave behind what processes leave that died while these makers' engines ran for a message; "" for none."""
    if not makers:
        return
    pid = os.fork()
    if pid == 0:
        with one_try(garden, message_id, 5) as this:
            if makers[0]:
                this.begins(makers[0], "why-late")
            os._exit(1)
    os.waitpid(pid, 0)
    died(garden, message_id, makers[1:])


@pytest.fixture
def ran(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The makers whose engines are run from now on."""
    found: list[str] = []

    class Noting:
        def begins(self, maker: str, question: str) -> None:
            found.append(maker)

        def ends(self, maker: str, question: str, *, failed: bool) -> None:
            pass

    monkeypatch.setattr(standing_in, "WATCHERS", [Noting()])
    return found


@needs_two
@pytest.mark.parametrize("deaths", [1, 2])
def test_the_next_try_is_another_makers(adviser: Adviser, demo_copy: Path, ran: list[str], deaths: int) -> None:
    """What one maker's engine died of the next one's answers, word for word as the first would have."""
    makers = makers_here()
    right = adviser.message({**ASKED, "id": "other"}, NOON, demo_copy)
    with adviser.open(demo_copy) as garden:
        assert garden.of("soil_reading")
        keep_message(garden, "ask-1", ASKED["text"], NOON)
        keep_try(garden, "ask-1")
    died(demo_copy, "ask-1", list(makers[:deaths]))
    ran.clear()
    again = replace(adviser, _memories=Memories())  # an answer that is remembered runs no engine
    assert again.answer_waiting(NOON, demo_copy) == ["ask-1"]
    answered = again.message(ASKED, NOON, demo_copy)
    assert set(ran) == {makers[min(deaths, len(makers) - 1)]}
    assert answered["reply"].split("\n", 2)[2] == right["reply"].split("\n", 2)[2]
    assert [one["kind"] for one in answered["recorded"]] == ["soil_reading"]


@pytest.mark.parametrize("makers", [["x"] * MOST_TRIES, ["", "x"] * (MOST_DEATHS // 2)])
def test_in_the_end_it_is_told_so(adviser: Adviser, demo_copy: Path, ran: list[str], makers: list[str]) -> None:
    """After so many deaths the message is answered honestly, once, nothing of it is recorded, and the next is answered."""
    with adviser.open(demo_copy) as garden:
        before = len(garden.of("soil_reading"))
        keep_message(garden, "ask-1", ASKED["text"], NOON)
    died(demo_copy, "ask-1", makers)
    assert adviser.answer_waiting(NOON, demo_copy) == ["ask-1"]
    told = adviser.message(ASKED, NOON, demo_copy)
    assert (told["outcome"], told["reply"], told["recorded"], ran) == ("gave-up", GAVE_UP, [], [])
    assert len(told["short"]) <= 306  # two text messages
    following = adviser.message({"text": "what is recorded of the shed fig?", "id": "next"}, NOON, demo_copy)
    assert following["outcome"] == "answered"
    with adviser.open(demo_copy) as garden:
        assert len(garden.of("soil_reading")) == before
    assert [one.name for one in demo_copy.parent.iterdir() if MARK in one.name] == []


def test_who_dies_beside_it_is_tried_again(adviser: Adviser, demo_copy: Path) -> None:
    """A message that was only thought about while others ended the process is answered as ever."""
    with adviser.open(demo_copy) as garden:
        keep_message(garden, "ask-1", ASKED["text"], NOON)
    died(demo_copy, "ask-1", [""] * (MOST_DEATHS - 1))
    assert adviser.message(ASKED, NOON, demo_copy)["outcome"] == "answered"


def test_what_somebody_thinks_about_is_left_to_them(
    adviser: Adviser, demo_copy: Path, caplog: pytest.LogCaptureFixture
) -> None:
    """Taking up what was left passes over a message that is being thought about, and answers the one behind it."""
    with adviser.open(demo_copy) as garden:
        keep_message(garden, "busy", "watered the shed fig", NOON)
        keep_message(garden, "left", "watered the wall fig", NOON)
    with one_try(demo_copy, "busy", 0):
        assert adviser.answer_waiting(NOON, demo_copy) == ["left"]
    assert adviser.answer_waiting(NOON, demo_copy) == ["busy"]
    assert caplog.messages == []


def test_one_that_cannot_be_answered_keeps_nobody_waiting(
    adviser: Adviser, demo_copy: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    """Of messages left, one that fails is logged by its id, without its words, and the others are answered."""
    with adviser.open(demo_copy) as garden:
        keep_message(garden, "bad", "watered the shed fig", NOON)
        keep_message(garden, "good", "watered the wall fig", NOON)
    think: Callable[..., dict[str, object]] = Adviser.reply

    def fails(self: Adviser, garden: object, message_id: str, *more: object) -> dict[str, object]:
        if message_id == "bad":
            raise KeyError("shed fig")
        return think(self, garden, message_id, *more)

    monkeypatch.setattr(Adviser, "reply", fails)
    assert adviser.answer_waiting(NOON, demo_copy) == ["good"]
    assert "bad" in caplog.text and "shed fig" not in caplog.text
