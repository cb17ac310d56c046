"""What was asked lately is worked out before it is asked again: of which gardens, when, and what never goes with it."""

from __future__ import annotations

import os
import shutil
import time
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import count
from pathlib import Path
from threading import Event
from typing import Any

import pytest
from served import until
from tests_shared import NOON, counted

from advisor.conversation import Adviser
from advisor.doors import ahead as module
from advisor.doors.ahead import LATELY, MOST_ASKED, Ahead, keep_ahead
from advisor.errors import AdvisorError
from advisor.reasoning.derive.memory import Memories
from advisor.records.attempts import MARK

ASKED = ["what next?", "will it freeze tonight?"]
TOMORROW = NOON + timedelta(days=1)


@pytest.fixture
def served(adviser: Adviser, demo_copy: Path) -> Adviser:
    """An adviser of its own that serves a copy of the demo garden."""
    return replace(adviser, settings=replace(adviser.settings, garden=demo_copy), _memories=Memories())


def ask(adviser: Adviser, text: str, at: datetime = NOON) -> dict[str, Any]:
    return adviser.message({"text": text}, at)


def looked(ahead: Ahead, now: datetime = TOMORROW, quiet_since: float | None = None) -> list[str]:
    return list(ahead.look(now, time.time() + 1 if quiet_since is None else quiet_since))


def test_a_new_day_s_first_answer_is_there(served: Adviser) -> None:
    """On the next day what was asked takes a part of the work, and says what it would have said."""
    for text in ASKED:
        ask(served, text)
    alone = replace(served, _memories=Memories())
    told: list[dict[str, Any]] = []
    without = counted(lambda: told.append(ask(alone, ASKED[0], TOMORROW)))
    ahead = Ahead(served)
    assert looked(ahead) == ["what-next", "frost-tonight"]
    after = counted(lambda: told.append(ask(served, ASKED[0], TOMORROW)))
    assert after < without / 5
    assert [one["reply"] for one in told[:1]] == [one["reply"] for one in told[1:]]
    assert told[0]["conclusions"] == told[1]["conclusions"]


def test_it_is_looked_at_once_until_something_is_new(served: Adviser) -> None:
    """A garden is worked out again for a new day, and once something was written to it; in between it is left alone."""
    ask(served, ASKED[0])
    ahead = Ahead(served)
    assert looked(ahead, NOON) == ["what-next"] and looked(ahead, NOON) == []
    assert looked(ahead) == ["what-next"] and looked(ahead) == []
    ask(served, "soil shed bed 11.3 10cm", TOMORROW)
    assert looked(ahead) == ["what-next"] and looked(ahead) == []


def test_who_writes_is_left_the_machine(served: Adviser) -> None:
    """Nothing is worked out of a garden that somebody wrote to a moment ago."""
    ask(served, ASKED[0])
    ahead = Ahead(served)
    assert looked(ahead, quiet_since=time.time() - 60) == []
    assert looked(ahead) == ["what-next"]


def test_what_nobody_asks_any_more_is_not_expected(served: Adviser) -> None:
    """What was asked is expected for a week; of many kinds of question those asked last; records are no question."""
    for text in ("when is the last frost here?", "which spot is the warmest?", "how is the season so far?"):
        ask(served, text)
    for text in (*ASKED, "show the records of the shed fig", "what next?", "thanks"):
        ask(served, text)
    found = looked(Ahead(served))
    assert found[:2] == ["what-next", "frost-tonight"] and len(found) == MOST_ASKED
    assert "show-records" not in found
    assert looked(Ahead(served), NOON + LATELY + timedelta(minutes=1)) == []


def test_nothing_is_written(served: Adviser) -> None:
    """The garden's file stays as it was, byte for byte, and nothing is left beside it."""
    ask(served, ASKED[0])
    folder = served.settings.garden.parent

    def all_there() -> dict[str, bytes]:
        return {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()}

    before = all_there()
    assert looked(Ahead(served)) == ["what-next"]
    assert all_there() == before


def test_one_that_cannot_be_worked_out_keeps_none_from_it(served: Adviser, monkeypatch: pytest.MonkeyPatch) -> None:
    """A question that fails is passed over, and asked by a grower it says why; one that names nothing any more too."""
    for text in (*ASKED, "why is the shed fig late?"):
        ask(served, text)
    ask(served, "the shed fig died")
    told = Adviser.told

    def failing(self: Adviser, garden: Any, meant: Any, today: Any) -> Any:
        if meant.question == "what-next":
            raise AdvisorError("reasoning", "nothing came", "Try again")
        return told(self, garden, meant, today)

    monkeypatch.setattr(Adviser, "told", failing)
    assert looked(Ahead(served)) == ["why-late", "frost-tonight", "what-next"]


def test_what_ended_a_process_is_not_tried_again(served: Adviser, monkeypatch: pytest.MonkeyPatch) -> None:
    """A question in which a process died is left to whoever asks it, else each new process would die of it."""
    for text in ASKED:
        ask(served, text)
    tried: list[str] = []
    told = Adviser.told

    def deadly(self: Adviser, garden: Any, meant: Any, today: Any) -> Any:
        tried.append(meant.question)
        if meant.question == "frost-tonight" and os.getpid() != here:
            os._exit(1)
        return told(self, garden, meant, today)

    here = os.getpid()
    monkeypatch.setattr(Adviser, "told", deadly)
    child = os.fork()
    if child == 0:
        looked(Ahead(served))
        os._exit(0)
    assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 1
    assert looked(Ahead(served)) == ["frost-tonight", "what-next"]
    assert tried == ["what-next"]
    assert [path for path in served.settings.garden.parent.iterdir() if MARK in path.name]


def test_a_thread_does_it_until_it_is_stopped(served: Adviser, monkeypatch: pytest.MonkeyPatch) -> None:
    """Beside what is served it is done by itself, also after a round that failed."""
    ask(served, ASKED[0])
    look, rounds, found = Ahead.look, count(), []

    def noting(self: Ahead, now: datetime, quiet_since: float) -> Iterator[str]:
        if next(rounds) == 0:
            raise RuntimeError("a disk that is gone")
        for question in look(self, now, quiet_since):
            found.append(question)
            yield question

    monkeypatch.setattr(Ahead, "look", noting)
    monkeypatch.setattr(module, "EVERY_S", 0.01)
    monkeypatch.setattr(module, "QUIET_S", -1.0)
    stop = Event()
    thread = keep_ahead(served, lambda: TOMORROW, stop)
    try:
        until(lambda: found, "a question that is worked out")
    finally:
        stop.set()
        thread.join(30)
    assert not thread.is_alive() and found == ["what-next"]


def test_of_many_gardens_those_written_to_last(served: Adviser, tmp_path: Path) -> None:
    """A damaged garden keeps no other from its turn."""
    ask(served, ASKED[0])
    good, bad = served.settings.garden, tmp_path / "bad.db"
    bad.write_bytes(b"damaged" * 999)
    other = Path(shutil.copy(good, tmp_path / "other.db"))
    old = time.time() - 30 * 86_400
    os.utime(good, (old, old))
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(module, "gardens", lambda settings: [good, bad, other])
        assert list(Ahead(served).look(datetime.now(UTC), time.time() + 1)) == []  # asked in another year
        assert list(Ahead(served).look(TOMORROW, time.time() + 1)) == ["what-next"] * 2
