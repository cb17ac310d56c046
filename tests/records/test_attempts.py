"""Tries at a message: one at a time, and what ended the process is known to the next."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from advisor.errors import BadInput
from advisor.records.attempts import BeingThought, forget_old_tries, one_try

TOP = Path(__file__).resolve().parents[2]
DIES = """
import os, signal, sys
from pathlib import Path
from advisor.records.attempts import one_try
with one_try(Path(sys.argv[1]), "m1", 0) as this:
    for maker, ends in (one.split("/") for one in sys.argv[2:]):
        this.begins(maker, "why-late")
        if ends == "ends":
            this.ends(maker, "why-late", failed=False)
    os.kill(os.getpid(), signal.SIGKILL)
"""


def dies(garden: Path, *runs: str) -> None:
    """Let a process die in a try, in the middle of a run or after it."""
    command = [sys.executable, "-c", DIES, str(garden), *runs]
    done = subprocess.run(command, env={**os.environ, "PYTHONPATH": str(TOP)}, timeout=60)
    assert done.returncode == -signal.SIGKILL


def test_the_next_knows_what_it_died_of(tmp_path: Path) -> None:
    """Deaths are counted, with the maker whose engine ran; one that had ended is not blamed; an answer ends the count."""
    garden = tmp_path / "g.db"
    dies(garden, "durable/dies")
    dies(garden, "durable/ends", "plain/dies")
    dies(garden, "durable/ends")
    with pytest.raises(BadInput), one_try(garden, "m1", 0) as this:
        raise BadInput("a try that was refused", "no matter", "and not counted")
    with one_try(garden, "m1", 0) as this:
        assert (this.deaths, this.died_in) == (3, ("durable", "plain"))
        with one_try(garden, "m2", 0) as other:
            assert (other.deaths, other.died_in) == (0, ())
    with one_try(garden, "m1", 0) as this:
        assert (this.deaths, this.died_in) == (0, ())
    assert list(tmp_path.iterdir()) == []


def test_one_at_a_time(tmp_path: Path) -> None:
    """While one thinks about a message, another waits so long and then says so; many that wait have it one by one."""
    garden, inside = tmp_path / "g.db", 0
    with one_try(garden, "m1", 0), pytest.raises(BeingThought), one_try(garden, "m1", 0.1):
        pass
    wrong: list[int] = []

    def think() -> None:
        nonlocal inside
        with one_try(garden, "m1", 20):
            inside += 1
            wrong.extend([inside] if inside > 1 else [])
            time.sleep(0.01)
            inside -= 1

    threads = [threading.Thread(target=think) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert wrong == [] and list(tmp_path.iterdir()) == []


def test_half_a_line_is_no_death(tmp_path: Path) -> None:
    """What was half written when the machine fell over is left out."""
    garden = tmp_path / "g.db"
    dies(garden, "durable/dies")
    (path,) = tmp_path.iterdir()
    path.write_bytes(path.read_bytes() + b"-\nplai")
    with one_try(garden, "m1", 0) as this:
        assert (this.deaths, this.died_in) == (2, ("durable",))


def test_old_tries_are_forgotten(tmp_path: Path) -> None:
    """What was left behind long ago goes, what is new or of something else stays."""
    garden = tmp_path / "g.db"
    garden.touch()
    dies(garden, "durable/dies")
    forget_old_tries(tmp_path, time.time() - 60)
    assert len(list(tmp_path.iterdir())) == 2
    forget_old_tries(tmp_path, time.time() + 60)
    assert list(tmp_path.iterdir()) == [garden]
