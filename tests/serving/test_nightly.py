"""The nightly round: a briefing for every grower, nothing told to a garden, and no grower who stops the others."""

from __future__ import annotations

import json
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest
from click.testing import CliRunner
from served import Known, environment, free_port, process, until
from tests_shared import NOON

from advisor.conversation import Adviser
from advisor.doors.command_line import main
from advisor.doors.gardens import gardens_of
from advisor.doors.nightly.briefing import FOLDER, brief
from advisor.doors.nightly.room import Room
from advisor.doors.nightly.rounds import round_here
from advisor.records.moving import mark_moved

SLOW = """
import json, sys, time
print("{}", flush=True)
for line in sys.stdin:
    garden = json.loads(line)["garden"].rpartition("/")[2]
    if "hangs" in garden: time.sleep(600)
    if "dies" in garden: sys.exit(1)
    print(json.dumps({"failed": "ValueError: no" if "fails" in garden else ""}), flush=True)
"""


def rows(garden: Path) -> dict[str, int]:
    with closing(sqlite3.connect(garden)) as conn:
        names = [name for (name,) in conn.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        return {name: conn.execute(f"SELECT COUNT(*) FROM {name}").fetchone()[0] for name in names}


def briefings(folder: Path) -> dict[str, object]:
    return {path.stem: json.loads(path.read_text()) for path in sorted((folder / FOLDER).glob("g*.json"))}


def test_a_briefing_tells_what_an_answer_tells(adviser: Adviser, demo_copy: Path) -> None:
    """A briefing has what the garden's own answers say that day, and the garden is as it was before."""
    before = rows(demo_copy)
    made = brief(adviser, demo_copy, NOON)
    assert rows(demo_copy) == before
    assert made["day"] == "2026-04-24"
    for one in made["told"]:
        reply = adviser.message({"text": one["asked"]}, NOON, demo_copy)
        assert (one["outcome"], one["says"]) == ("answered", reply["reply"])
    assert rows(demo_copy) != before


def test_everyone_is_briefed(growers: Callable[..., list[Known]], tmp_path: Path) -> None:
    """Each grower gets a briefing but one who moved away; a damaged garden is told, and the command ends with 3."""
    known = growers(4)
    folder = tmp_path / "growers"
    (folder / f"{known[1].id}.db").write_bytes(b"damaged" * 999)
    mark_moved(folder / f"{known[2].id}.db")
    done = CliRunner().invoke(main, ["nightly", "--growers", str(folder), "--processes", "2"])
    assert done.exit_code == 3 and "2 briefed, 1 not" in done.stdout and known[1].id in done.stderr
    assert set(briefings(folder)) == {known[0].id, known[3].id}
    assert {path.stat().st_mode & 0o077 for path in (folder / FOLDER).iterdir()} == {0}


def test_one_that_hangs_or_dies_stops_nobody(tmp_path: Path) -> None:
    """A grower whose briefing hangs, dies or fails is told with the reason; all the others are briefed."""
    gardens = {name: tmp_path / f"{name}.db" for name in ("a", "dies", "e", "fails", "hangs", "x", "z", "none")}
    for name, path in gardens.items():
        if name != "none":
            path.touch()
    start = time.monotonic()
    done = round_here(gardens, NOON, 4.0, 2, lambda: Room(("-c", SLOW)))
    assert time.monotonic() - start < 300  # the one that hangs does so for ten minutes
    assert done.briefed == {"a", "e", "x", "z"}
    assert done.failed == {
        "dies": "the process died of it", "fails": "ValueError: no", "hangs": "it took longer than 4 s",
        "none": "no file none.db",
    }  # fmt: skip


def test_hosts_of_a_scheduler_brief_the_same(growers: Callable[..., list[Known]], tmp_path: Path) -> None:
    """Two hosts that share nothing, by a scheduler: each briefs its own growers, as one machine's processes do."""
    pytest.importorskip("distributed", reason="dask.distributed is not installed")
    known, port = [*growers(2, "a"), *growers(2, "b")], free_port()
    (tmp_path / "b" / f"{known[3].id}.db").write_bytes(b"damaged" * 999)
    address, log = f"tcp://127.0.0.1:{port}", tmp_path / "log"
    dask = [sys.executable, "-m", "dask"]
    worker = [*dask, "worker", address, "--nthreads", "1", "--no-dashboard"]
    scheduler = [*dask, "scheduler", "--host", "127.0.0.1", "--port", str(port), "--no-dashboard"]
    quiet = {"OMP_NUM_THREADS": "1"}
    with (
        process(scheduler, quiet, log),
        process(worker, {**quiet, "ADVISOR_GROWERS": str(tmp_path / "a")}, log),
        process(worker, {**quiet, "ADVISOR_GROWERS": str(tmp_path / "b")}, log),
    ):
        until(lambda: log.read_text().count("Registered to") == 2, "two workers of a scheduler")
        command = [sys.executable, "-c", "from advisor.doors.command_line import main; main()"]
        done = subprocess.run(
            [*command, "nightly", "--scheduler", address], capture_output=True, text=True, timeout=240,
            env=environment({}), cwd=tmp_path,
        )  # fmt: skip
    assert "3 briefed, 1 not" in done.stdout, (done, log.read_text()[-3000:])
    assert done.returncode == 3 and known[3].id in done.stderr
    by_dask = {**briefings(tmp_path / "a"), **briefings(tmp_path / "b")}
    for name in "ab":
        for path in (tmp_path / name / FOLDER).iterdir():
            path.unlink()
        (tmp_path / name / FOLDER).rmdir()
        assert CliRunner().invoke(main, ["nightly", "--growers", str(tmp_path / name)]).exit_code in (0, 3)
    assert {**briefings(tmp_path / "a"), **briefings(tmp_path / "b")} == by_dask
    assert set(by_dask) == {one.id for one in known[:3]} and len(gardens_of(tmp_path / "a")) == 2
