"""A message is answered once, whole or not at all, whatever happens on the way."""

from __future__ import annotations

import threading
import time
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from tests_shared import NOON

import advisor.talk.once
from advisor.conversation import Adviser
from advisor.records.messages import keep_message, keep_try
from advisor.talk.once import MOST_DEATHS

LOG = {"id": "log-1", "text": "soil shed bed 11.3 10cm"}


def readings(adviser: Adviser, path: Path) -> int:
    with adviser.open(path) as garden:
        return len(garden.of("soil_reading"))


def cut_short(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let the program die, once, after all is thought and before the answer is kept."""

    def dies(*_: object) -> None:
        monkeypatch.undo()
        raise KeyboardInterrupt

    monkeypatch.setattr(advisor.talk.once, "keep_reply", dies)


def test_what_was_cut_short_left_nothing(
    adviser: Adviser, demo_copy: Path, monkeypatch: pytest.MonkeyPatch
) -> None:  # fmt: skip
    """A log line whose answer was never kept recorded nothing, and records once when it is sent again."""
    before = readings(adviser, demo_copy)
    cut_short(monkeypatch)
    with pytest.raises(KeyboardInterrupt):
        adviser.message(LOG, NOON, demo_copy)
    assert readings(adviser, demo_copy) == before
    again = adviser.message(LOG, NOON, demo_copy)
    assert (again["outcome"], readings(adviser, demo_copy)) == ("recorded", before + 1)


def test_an_undo_that_was_cut_short_undoes_one_message(
    adviser: Adviser, demo_copy: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two readings told, then an undo that dies and is sent again: one reading is left."""
    before = readings(adviser, demo_copy)
    adviser.message(LOG, NOON, demo_copy)
    adviser.message({"id": "log-2", "text": "soil south wall 14.1 10cm"}, NOON, demo_copy)
    cut_short(monkeypatch)
    with pytest.raises(KeyboardInterrupt):
        adviser.message({"id": "undo-1", "text": "undo"}, NOON, demo_copy)
    assert adviser.message({"id": "undo-1", "text": "undo"}, NOON, demo_copy)["outcome"] == "undone"
    assert readings(adviser, demo_copy) == before + 1


def test_the_same_message_twice_at_once(adviser: Adviser, demo_copy: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Sent again while it is still thought about: thought about and recorded once, and all get the same answer."""
    before = readings(adviser, demo_copy)
    think, sent_again, thought = Adviser.reply, threading.Event(), []

    def slowly(*args: Any) -> dict[str, Any]:
        thought.append(args)
        assert sent_again.wait(20)
        time.sleep(0.2)
        return think(*args)

    monkeypatch.setattr(Adviser, "reply", slowly)
    replies: list[dict[str, Any]] = []
    threads = [threading.Thread(target=lambda: replies.append(adviser.message(LOG, NOON, demo_copy))) for _ in range(4)]
    for thread in threads:
        thread.start()
    sent_again.set()
    for thread in threads:
        thread.join()
    assert len(replies) == 4 and all(reply == replies[0] for reply in replies)
    assert len(thought) == 1
    assert readings(adviser, demo_copy) == before + 1


def test_what_was_left_unanswered_is_answered_later(
    adviser: Adviser, demo_copy: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A kept message without an answer is taken up by itself, as of when it came, and once only."""
    before = readings(adviser, demo_copy)
    cut_short(monkeypatch)
    with pytest.raises(KeyboardInterrupt):
        adviser.message(LOG, NOON, demo_copy)
    later = NOON + timedelta(days=2)
    assert adviser.answer_waiting(later, demo_copy) == ["log-1"]
    assert adviser.answer_waiting(later, demo_copy) == []
    assert readings(adviser, demo_copy) == before + 1
    with adviser.open(demo_copy) as garden:
        assert max(fact.day("at") or NOON.date() for fact in garden.of("soil_reading")) == NOON.date()


def test_what_cannot_be_answered_is_not_tried_for_ever(adviser: Adviser, demo_copy: Path) -> None:
    """A message that was tried many times in vain waits until somebody sends it again."""
    with adviser.open(demo_copy) as garden:
        keep_message(garden, "log-1", LOG["text"], NOON)
        for _ in range(MOST_DEATHS):
            keep_try(garden, "log-1")
    assert adviser.answer_waiting(NOON, demo_copy) == []
    assert adviser.message(LOG, NOON, demo_copy)["outcome"] == "recorded"


def test_a_clock_set_back_loses_nothing(adviser: Adviser, demo_copy: Path) -> None:
    """After the clock was set back by a week, undo still takes back what was told last."""
    before = readings(adviser, demo_copy)
    adviser.message(LOG, NOON, demo_copy)
    earlier = NOON - timedelta(days=7)
    told = adviser.message({"id": "log-2", "text": "soil south wall 14.1 10cm"}, earlier, demo_copy)
    assert told["outcome"] == "recorded"
    undone = adviser.message({"id": "undo-1", "text": "undo"}, earlier, demo_copy)
    assert (undone["outcome"], readings(adviser, demo_copy)) == ("undone", before + 1)
    with adviser.open(demo_copy) as garden:
        left = [fact for fact in garden.of("soil_reading") if fact.number("temp_c") == 14.1 and fact.day("at")]
    assert all(fact.day("at") != earlier.date() for fact in left)
