"""What a process that died left is read rightly: by which signal, in whose engine, and nothing where it ended well."""

from __future__ import annotations

import signal
import threading
from collections import Counter
from pathlib import Path

import pytest

from advisor.doors import last_words
from advisor.doors.last_words import LAST_CRASH, MOST_OF_ONE, Death, Runs, death_of, tell
from advisor.reasoning.engine import standing_in

CRASH = """Fatal Python error: {name}

Current thread 0x00000000000000b2 (most recent call first):
  File "durable.py", line 12 in run

Thread 0x00000000000000a1 (most recent call first):
  File "server.py", line 7 in handler_thread

Extension modules: one, two (total: 2)
"""
RUNS = ((0xA1, "durable", "why-late"), (0xB2, "plain", "what-next"))


def left(folder: Path, stacks: str, runs: str) -> None:
    (folder / "stacks-7").write_text(stacks)
    (folder / "runs-7").write_text(runs)


@pytest.mark.parametrize("number", [signal.SIGSEGV, signal.SIGABRT, signal.SIGBUS, signal.SIGFPE, signal.SIGILL])
def test_the_signal_is_read_off_the_stacks(tmp_path: Path, number: signal.Signals) -> None:
    """Where nobody was told the signal, the system's own name for it in the stacks tells it; the notes are taken away."""
    left(tmp_path, CRASH.format(name=signal.strsignal(number)), "0xb2 durable why-late \n   \n")
    death = death_of(tmp_path, 7)
    assert death is not None and (death.why, death.blamed) == (number.name, ("durable", "why-late"))
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("stacks", "runs", "blamed"),
    [
        (CRASH, RUNS, ("plain", "what-next")),
        (CRASH, RUNS[:1], ("durable", "why-late")),
        ("", RUNS[:1], ("durable", "why-late")),
        ("", RUNS, None),
        (CRASH, (), None),
    ],
)
def test_who_is_blamed(stacks: str, runs: tuple[tuple[int, str, str], ...], blamed: tuple[str, str] | None) -> None:
    """The engine of the thread that ended it, or the only one that ran; of several, none."""
    assert Death("SIGSEGV", stacks, runs).blamed == blamed


def test_one_that_ended_well_left_nothing(tmp_path: Path) -> None:
    """Without stacks, runs or a reason there is nothing to tell."""
    left(tmp_path, "", " \n")
    assert death_of(tmp_path, 7) is None and death_of(tmp_path, 8) is None


def test_the_runs_of_threads_stand_side_by_side(tmp_path: Path) -> None:
    """Each thread's run is noted while it goes on, in a file that grows no longer than there are threads at once."""
    runs, inside, go_on = Runs(tmp_path / "runs-7"), threading.Barrier(3), threading.Event()

    def run(maker: str) -> None:
        for _ in range(3):
            runs.begins(maker, "why-late")
            runs.ends(maker, "why-late", failed=False)
        runs.begins(maker, "why-late")
        inside.wait(20)
        go_on.wait(20)
        runs.ends(maker, "why-late", failed=True)

    threads = [threading.Thread(target=run, args=(maker,)) for maker in ("one", "two")]
    for thread in threads:
        thread.start()
    inside.wait(20)
    noted = (tmp_path / "runs-7").read_text()
    go_on.set()
    for thread in threads:
        thread.join()
    assert sorted(line.split()[1] for line in noted.splitlines() if line.strip()) == ["one", "two"]
    assert (tmp_path / "runs-7").read_text().split() == []
    assert (tmp_path / "runs-7").stat().st_size == 2 * last_words.SLOT


@pytest.mark.parametrize(("stacks", "left_out"), [(CRASH, {"plain"}), ("", set())])
def test_a_maker_is_left_out_for_crashes_only(
    tmp_path: Path, stacks: str, left_out: set[str], monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    """Three crashes of a maker leave it out; being killed from outside as often does not. The log has one stack."""
    monkeypatch.setattr(standing_in, "PASSED_OVER", found := set[str]())
    monkeypatch.setattr(last_words, "_deaths_of", Counter[str]())
    for _ in range(MOST_OF_ONE):
        assert found == set()
        tell(Death("SIGSEGV", stacks, RUNS[1:]), tmp_path, "It is started again.")
    assert found == left_out
    assert "Extension" not in caplog.text and "server.py" not in caplog.text
    assert ("durable.py" in caplog.text) is bool(stacks)
    assert ("server.py" in (tmp_path / LAST_CRASH).read_text()) is bool(stacks)


def test_a_disk_that_takes_no_file_hides_nothing(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    """Where last-crash.txt cannot be written the log still tells."""
    tell(Death("SIGKILL", "", ()), tmp_path / "gone", "It is started again.")
    assert "ended by SIGKILL; no engine ran. It is started again." in caplog.text
