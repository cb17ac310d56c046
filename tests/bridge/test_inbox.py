"""The spool and the journal: whole or not at all, in order, and mended after a crash."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from datetime import timedelta
from pathlib import Path

import pytest
from bridge_parts import ANN, START

from advisor.doors.bridge.inbox import Incoming, Spool, sweep
from advisor.doors.bridge.journal import KEPT, Journal, Line, counts


def test_what_was_put_is_read_back(tmp_path: Path) -> None:
    """A message is read as it was put, letters of any script, times and what stands beside it included."""
    spool = Spool(tmp_path / "spool")
    message = Incoming("a1", "mail", ANN, "почему инжир спит? 🌳\n", START, START, {"subject": "é"})
    spool.put(message)
    (path,) = spool.waiting()
    assert spool.read(path) == message


def test_only_its_owner_reads_it(tmp_path: Path) -> None:
    """The folder and its files are closed to others: a message is personal."""
    spool = Spool(tmp_path / "spool")
    path = spool.put(Incoming("a1", "text", ANN, "one", START))
    assert oct(spool.folder.stat().st_mode & 0o777) == "0o700"
    assert oct(path.stat().st_mode & 0o777) == "0o600"


def test_an_unfinished_file_is_no_message(tmp_path: Path) -> None:
    """What a crash left half-written is never taken for a message, and is swept away when it is old."""
    spool = Spool(tmp_path / "spool")
    broken = spool.folder / ".unfinished-1-00001-a1.json"
    broken.write_text("{")
    assert spool.waiting() == []
    sweep(spool.folder)
    assert broken.exists()
    os.utime(broken, (0, 0))
    sweep(spool.folder)
    assert not broken.exists()


PUT = """
import sys, itertools
from pathlib import Path
from datetime import UTC, datetime
from advisor.doors.bridge.inbox import Incoming, Spool, sweep
spool = Spool(Path(sys.argv[1]))
for number in itertools.count():
    spool.put(Incoming(f"id{number}", "text", "+447700900123", "word " * 2000, datetime.now(UTC)))
    print(number, flush=True)
"""


def test_killed_while_putting(tmp_path: Path) -> None:
    """A process killed while it puts leaves whole messages only, and none lost that it had put."""
    for _ in range(5):
        folder = tmp_path / str(time.monotonic_ns())
        process = subprocess.Popen([sys.executable, "-c", PUT, str(folder)], stdout=subprocess.PIPE, text=True)
        assert process.stdout
        process.stdout.readline()
        time.sleep(0.05)
        process.kill()
        said, _ = process.communicate()
        spool = Spool(folder)
        read = [spool.read(path) for path in spool.waiting()]
        assert None not in read
        assert len(read) >= len(said.split())


def test_a_line_broken_off(tmp_path: Path) -> None:
    """A journal whose last line a power cut broke off keeps the others, and takes new lines whole."""
    path = tmp_path / "journal.jsonl"
    journal = Journal(path, START)
    journal.close(Line("a1", START, "text", "answered", "hash", True))
    with path.open("ab") as out:
        out.write(b'\n{"id": "a2", "at"')
    journal.close(Line("a3", START, "text", "unknown"))
    again = Journal(path, START)
    assert list(again.lines) == ["a1", "a3"]
    assert again.lines == journal.lines


def test_old_lines_go(tmp_path: Path) -> None:
    """A line is kept as long as said, also in memory, and is then gone from the file at the next start."""
    path = tmp_path / "journal.jsonl"
    journal = Journal(path, START)
    journal.close(Line("a1", START, "text", "answered"))
    journal.forget_old(START + KEPT - timedelta(days=1))
    assert "a1" in journal
    journal.forget_old(START + KEPT)
    assert "a1" not in journal
    Journal(path, START + KEPT)
    assert path.read_bytes() == b""


def test_counts_by_span(tmp_path: Path) -> None:
    """Outcomes are counted for a day, a week and the whole journal."""
    path = tmp_path / "journal.jsonl"
    journal = Journal(path, START)
    for number, days in enumerate((0, 2, 2, 20)):
        journal.close(Line(f"a{number}", START - timedelta(days=days), "text", "answered"))
    assert counts(path, START) == {
        "day": {"text: answered": 1}, "week": {"text: answered": 3}, "60 days": {"text: answered": 4}
    }  # fmt: skip


@pytest.mark.parametrize("content", ["", "[]", "{}", '{"id": 1}', '{"sent_at": null, "taken_at": "x"}'])
def test_no_message(tmp_path: Path, content: str) -> None:
    """A file of another kind is told apart from a message."""
    spool = Spool(tmp_path / "spool")
    path = spool.folder / "0-a.json"
    path.write_text(content)
    assert spool.read(path) is None
