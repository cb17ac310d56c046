"""The benchmark runs, and tells what it is asked to tell; what it measures is not looked at."""

from __future__ import annotations

import gc
import re
from collections.abc import Iterator
from pathlib import Path
from time import process_time

import bench
import pytest
from costs import memory
from costs.gardens import QUESTIONS
from costs.watch import NAMES, Stopwatch

from advisor.config import Settings, find_rules
from advisor.conversation import Adviser

TINY = [
    "--sizes", "12x1 12x2", "--engine-sizes", "12x1", "--rounds", "1", "--replay-size", "2", "2", "2",
    "--memory", "40", "--threads", "2",
]  # fmt: skip


@pytest.fixture(autouse=True)
def searching_as_before() -> Iterator[None]:
    """Python looks for unused objects as often as before: what a server sets is set for the whole process."""
    before = gc.get_threshold()
    yield
    gc.set_threshold(*before)
    gc.unfreeze()


def test_one_run_tells_of_every_part_and_every_question(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """With the smallest gardens the whole command ends, with a row for each question in each table and for each mark."""
    monkeypatch.setattr(bench, "MARKED_SIZE", bench.Size(12, 1))
    bench.main([*TINY, "--kept", str(tmp_path)])
    told = capsys.readouterr().out

    for question in QUESTIONS:
        rows = re.findall(rf"^  {question} .*\d", told, re.MULTILINE)
        assert len(rows) >= 2 * 6 + 2, question  # five ways at least and ratios in two gardens, growth, engines
    assert "refused" not in told
    held = re.findall(r"^  why-late .*holds? .*holds? .*holds?$", told, re.MULTILINE)
    assert len(held) == 5  # none of so few figs still sleeps
    for part in ("start-up", "exponents of growth", "rows imported", "rows read", "plain numpy pass", "memory over 40"):
        assert part in told
    assert "'recorded': 2" in told, "the log lines among the messages are understood"


def test_every_question_kind_is_asked(adviser: Adviser) -> None:
    """A kind of question that is new is measured too."""
    assert set(QUESTIONS) == set(adviser.questions)


def test_each_moment_is_of_one_stage(adviser: Adviser, tmp_path: Path) -> None:
    """What the stopwatch reads of all stages together is what passed, and the engine's part is found within a reply."""
    path = memory.load_demo(adviser, tmp_path)
    own = Adviser.load(Settings(path, find_rules()))
    with Stopwatch().watching() as watch:
        watch.begin()
        start = process_time()
        own.message({"text": "will it freeze tonight?", "id": "a"}, memory.NOW)
        found = watch.read()
        passed_ms = (process_time() - start) * 1000

    assert sum(found.values()) == pytest.approx(passed_ms, rel=0.05)
    assert set(found) == set(NAMES)
    assert all(found[name] > 0 for name in NAMES)


def test_the_stopwatch_is_taken_out_again() -> None:
    """After the block the adviser's functions are those of before."""
    before = Adviser.facts, Adviser.open
    with Stopwatch().watching():
        assert Adviser.facts is not before[0]
    assert (Adviser.facts, Adviser.open) == before
