"""Killed at random instants: nothing half done, nothing acknowledged lost."""

from __future__ import annotations

import random
import signal
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from pathlib import Path

import pytest

TOP = Path(__file__).resolve().parents[2]
SETUP = """
import sys
sys.path.insert(0, sys.argv[1])
from datetime import UTC, datetime, timedelta
from pathlib import Path
from advisor.config import Settings, find_rules
from advisor.conversation import Adviser
from advisor.doors.demo import demo_folder
from advisor.records.importing import import_path
from advisor.records.store import NewRow, Said
path = Path(sys.argv[2])
adviser = Adviser.load(Settings(path, find_rules()))
now = datetime(2026, 4, 24, 10, tzinfo=UTC)
"""
IMPORT = (
    SETUP
    + """
print("ready", flush=True)
with adviser.open(create=True) as garden:
    import_path(garden, demo_folder(), adviser.lore, now)
print("done", flush=True)
"""
)
LOG = (
    SETUP
    + """
with adviser.open() as garden:
    print("ready", flush=True)
    for n in range(100000):
        spot = NewRow("spot", {"name": f"{sys.argv[3]} {n}"})
        cover = NewRow("cover", {"spot": f"{sys.argv[3]} {n}", "material": "straw", "put_on": now.date()})
        garden.add([(Said("message", f"m{n}", now), [spot, cover])])
        print(n, flush=True)
"""
)


def killed(code: str, path: Path, after_s: float, *more: str, lines: int = 0) -> list[str]:
    """Run some code in a process of its own, kill it so long after it is ready and has said so many lines more.

    Returns all that it said after it was ready.
    """
    process = subprocess.Popen(
        [sys.executable, "-c", code, str(TOP), str(path), *more],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert process.stdout is not None
    first = process.stdout.readline()
    assert first == "ready\n", process.communicate()
    said = "".join(process.stdout.readline() for _ in range(lines))
    time.sleep(after_s)
    process.send_signal(signal.SIGKILL)
    said += process.stdout.read()
    process.communicate()
    return said.split()


def takes_s(path: Path) -> float:
    """Return how long one whole import takes from being ready, on this machine as busy as it is. [s]"""
    command = [sys.executable, "-c", IMPORT, str(TOP), str(path)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "ready\n"
        began = time.monotonic()
        assert process.stdout.readline() == "done\n"
        return time.monotonic() - began


def count(path: Path, table: str) -> int:
    with closing(sqlite3.connect(path)) as conn, conn:
        return int(conn.execute(f"SELECT COUNT(*) FROM {table}").fetchone()[0])


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="needs a system that kills")
def test_killed_during_import(tmp_path: Path) -> None:
    """Forty imports killed on their way: each left everything or nothing, and the next one goes through."""
    chance, longest_s = random.Random(4), 2 * takes_s(tmp_path / "whole.db")
    outcomes = set()
    for n in range(40):
        path = tmp_path / f"g{n}.db"
        done = "done" in killed(IMPORT, path, chance.uniform(0, longest_s))
        tables = count(path, "sqlite_master WHERE type = 'table' AND name = 'weather_day'") if path.exists() else 0
        rows = (count(path, "stage"), count(path, "weather_day"), count(path, "said")) if tables else (0, 0, 0)
        assert rows[:2] in ((0, 0), (396, 2177)) and bool(rows[2]) == bool(rows[0])
        assert not done or rows[0]
        outcomes.add(bool(rows[0]))
    assert outcomes == {True, False}, "the kills fell all before or all after the writing"
    assert (
        subprocess.run([sys.executable, "-c", IMPORT, str(TOP), str(path)], capture_output=True, check=False).returncode
        == 0
    )


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="needs a system that kills")
def test_killed_during_logging(tmp_path: Path) -> None:
    """Sixty writers killed on their way: each acknowledged pair of rows is there whole, and no half of one."""
    path = tmp_path / "g.db"
    assert (
        subprocess.run([sys.executable, "-c", IMPORT, str(TOP), str(path)], capture_output=True, check=False).returncode
        == 0
    )
    chance = random.Random(5)
    before, covers, acknowledged = count(path, "spot"), count(path, "cover"), 0
    for n in range(60):
        after_s, lines = chance.uniform(0, 0.03), chance.randint(0, 6)
        acknowledged += len(killed(LOG, path, after_s, f"writer {n}", lines=lines))
        spots = count(path, "spot") - before
        assert spots == count(path, "cover") - covers
        assert spots >= acknowledged
    assert acknowledged > 60
    with closing(sqlite3.connect(path)) as conn, conn:
        assert conn.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        assert conn.execute("PRAGMA foreign_key_check").fetchall() == []


MANY = (
    SETUP
    + """
with adviser.open(create=True) as garden:
    for n in range(40):
        garden.add([(Said("message", f"m{n}", now), [NewRow("spot", {"name": f"{sys.argv[3]} {n}"})])])
print("done", flush=True)
"""
)


def test_many_programs_at_once(tmp_path: Path) -> None:
    """Six programs make one new file together and write to it at once; none meets a lock, every row is there."""
    path = tmp_path / "g.db"
    programs = [
        subprocess.Popen(
            [sys.executable, "-c", MANY, str(TOP), str(path), f"program {n}"],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        for n in range(6)
    ]
    said = [program.communicate() for program in programs]
    assert [out for out, _ in said] == ["done\n"] * 6, said
    assert count(path, "spot") == 240
