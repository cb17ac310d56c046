"""The demo garden's files are what their generator makes, and hold only what the rule base lets be recorded."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

FIXTURES = Path(__file__).resolve().parents[1] / "fixtures"
DEMO = FIXTURES / "demo"


def make(*arguments: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, str(FIXTURES / "make_demo" / "make.py"), *arguments]
    return subprocess.run(command, capture_output=True, text=True, encoding="utf-8", check=False)


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    """A copy of the demo's files that a test may spoil."""
    for path in (*DEMO.glob("*.csv"), DEMO / "README.md"):
        shutil.copy(path, tmp_path)
    return tmp_path


def test_files_are_up_to_date_and_fit_their_kinds() -> None:
    """The check of the committed files finds nothing."""
    done = make("--check")
    assert (done.returncode, done.stderr) == (0, ""), done.stdout


def test_a_second_run_writes_the_same_bytes(tmp_path: Path) -> None:
    """Two runs in two processes give the same files as those committed."""
    assert make("--folder", str(tmp_path)).returncode == 0
    committed = {path.name: path.read_bytes() for path in DEMO.glob("*.csv")}
    assert committed == {path.name: path.read_bytes() for path in tmp_path.iterdir()}


@pytest.mark.parametrize(
    ("file", "old", "new", "said"),
    [
        ("stage.csv", "shed fig,2026-04-22,1,", "shed fog,2026-04-22,1,", "plant: no plant is called 'shed fog'"),
        ("stage.csv", "shed fig,2026-04-22,1,", "shed fig,2026-04-22,100,", "bbch: 100 is above 99"),
        ("stage.csv", "shed fig,2026-04-22,1,", "shed fig,2026-04-25,1,", "2026-04-25 is after the demo's day"),
        ("stage.csv", "shed fig,2026-04-22,1,", "shed fig,,1,", "on is empty"),
        ("spot.csv", "south wall,S,", "south wall,south,", "aspect: 'south' does not fit type word"),
        ("move.csv", "tall pot fig,pot yard,2026", "tall pot fig,yard,2026", "to_spot: no spot is called 'yard'"),
        ("soil_reading.csv", "2026-04-21T13:20", "2026-04-21T13:20Z", "at: a time with a zone"),
        ("soil_reading.csv", ",store fig,8.1", ",,8.1", "needs one of spot, plant"),
        ("weather_day.csv", "2026-01-11,-14.2,", "2026-01-11,24.2,", "the minimum is above the maximum"),
        ("README.md", "| `spot.csv` | 12 |", "| `spot.csv` | 13 |", "says 13 for spot.csv, which holds 12 rows"),
    ],
)
def test_a_spoilt_row_is_named(copy: Path, file: str, old: str, new: str, said: str) -> None:
    """The check names what is wrong with a row that does not fit."""
    text = (copy / file).read_text(encoding="utf-8")
    assert text.count(old) == 1
    (copy / file).write_text(text.replace(old, new), encoding="utf-8", newline="\n")
    done = make("--check", "--folder", str(copy))
    assert done.returncode == 1
    assert said in done.stdout


def test_a_stale_file_is_named(copy: Path) -> None:
    """The check tells a file that was edited by hand, even where every row fits."""
    path = copy / "work.csv"
    lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
    path.write_text("".join(lines[:-1]), encoding="utf-8", newline="\n")
    done = make("--check", "--folder", str(copy))
    assert "work.csv: differs from what the generator makes" in done.stdout
