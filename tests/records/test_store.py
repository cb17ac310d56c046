"""The garden file: append-only rows, things that outlive their names, and a file that cannot be used."""

from __future__ import annotations

import os
import shutil
import sqlite3
import tempfile
import threading
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from advisor.conversation import Adviser
from advisor.errors import BadInput, GardenUnavailable, NotFound
from advisor.facts import Recorded, typed
from advisor.records.corrections import retire
from advisor.records.messages import message
from advisor.records.store import Garden, NewRow, Said

NOW = datetime(2026, 4, 24, 10, tzinfo=UTC)
SAID = Said("file", "test.csv", NOW, by="tester")


def spot(name: str, **more: object) -> NewRow:
    return NewRow("spot", {"name": name, **more}, line=2)


def test_every_kinds_example_is_stored_and_read_back(adviser: Adviser, garden: Garden) -> None:
    """What a kind's file shows as its example comes back equal, value for value."""
    recorded = [kind for kind in adviser.base.kinds.values() if kind.origin == "recorded"]
    garden.add([(SAID, [NewRow(k.name, dict(k.example or {})) for k in recorded])])
    for kind in recorded:
        (fact,) = garden.of(kind.name)
        assert {n: typed(v) for n, v in fact.values.items()} == {n: typed(v) for n, v in (kind.example or {}).items()}


def test_a_row_tells_who_said_it_when_and_where(garden: Garden) -> None:
    """A row leads back to the file, the line and the one who said it."""
    ((kind, row_id),) = garden.add([(SAID, [spot("bed")])])
    row = garden.row(kind, row_id)
    assert (row["line"], row["said"]["ref"], row["said"]["said_by"]) == (2, "test.csv", "tester")
    assert row["said"]["said_at"] == "2026-04-24T10:00:00+00:00"


def test_a_thing_outlives_its_name(garden: Garden) -> None:
    """A spot retired and recorded under the same name is the same thing, so what was said of it stays with it."""
    straw = NewRow("cover", {"spot": "bed", "material": "straw", "put_on": date(2026, 1, 1)})
    garden.add([(SAID, [spot("bed"), straw])])
    with pytest.raises(BadInput, match="other records rest on it: cover/1"):
        retire(garden, "spot", 1, SAID, reason="aspect was missing")
    with garden.writing("test"):
        garden.rule("spot", 1, garden.say(SAID), in_use=False, reason="aspect was missing")
    garden.add([(SAID, [spot("bed", aspect="S")])])
    assert [fact.text("aspect") for fact in garden.of("spot")] == ["S"]
    assert garden.of("cover")[0].text("spot") == "bed"


def test_a_retired_row_stays_in_the_file(garden: Garden) -> None:
    """Retiring takes a row out of use and deletes nothing; doing it twice says so."""
    garden.add([(SAID, [spot("bed"), spot("wall")])])
    retire(garden, "spot", 1, SAID, reason="a slip")
    assert [fact.origin for fact in garden.of("spot")] == [Recorded("spot", (2,))]
    assert garden.row("spot", 1)["name"] == "bed"
    with pytest.raises(BadInput, match="retired already"):
        retire(garden, "spot", 1, SAID, reason="again")


def test_a_failed_batch_leaves_nothing(garden: Garden) -> None:
    """A row that breaks a rule of the file takes the whole batch back with it."""
    bad = NewRow("spot", {"name": "wall", "slope_deg": "steep"})
    with pytest.raises(GardenUnavailable, match="a row breaks a rule"):
        garden.add([(SAID, [spot("bed"), bad])])
    assert garden.of("spot") == []
    assert garden.db.conn.execute("SELECT count(*) FROM said").fetchone() == (0,)


def test_an_unknown_record_is_named(garden: Garden) -> None:
    """Looking up a row, a kind or a message that is not there says what names look like."""
    for kind, row_id in (("spot", 9), ("season", 1), ("spot; drop table spot", 1)):
        with pytest.raises(NotFound, match=r"Records are named as in an answer: stage/12"):
            garden.row(kind, row_id)
    with pytest.raises(NotFound, match="no message 'x'"):
        message(garden, "x")


def test_no_file_is_made_by_opening_one(adviser: Adviser, tmp_path: Path) -> None:
    """A mistyped path is an error and leaves no empty file behind."""
    with pytest.raises(NotFound, match=r"no file gone\.db"):
        adviser.open(tmp_path / "gone.db")
    assert list(tmp_path.iterdir()) == []


def test_a_file_that_is_no_garden(adviser: Adviser, tmp_path: Path) -> None:
    """A file of another kind is refused and left as it was."""
    path = tmp_path / "letter.db"
    path.write_text("Dear garden, " * 100)
    with pytest.raises(GardenUnavailable, match="cannot be read as a garden"):
        adviser.open(path)
    assert path.read_text() == "Dear garden, " * 100


@pytest.mark.skipif(not Path("/proc/self/fd").exists(), reason="the system does not tell which files are open")
def test_a_file_that_is_refused_is_let_go(adviser: Adviser, tmp_path: Path) -> None:
    """While the refusal is still looked at, the file is not held open."""
    path = tmp_path / "letter.db"
    path.write_text("Dear garden, " * 100)
    with pytest.raises(GardenUnavailable) as refused:
        adviser.open(path)
    held = [str(one) for handle in Path("/proc/self/fd").iterdir() if (one := handle.resolve()) == path.resolve()]
    assert (held, refused.value.found) == ([], "it cannot be read as a garden (file is not a database)")


def test_a_locked_file_says_so_and_keeps_what_it_has(adviser: Adviser, demo_copy: Path) -> None:
    """While another program writes, a message is refused with the way out; afterwards it goes through."""
    other = sqlite3.connect(demo_copy)
    other.execute("BEGIN IMMEDIATE")
    quick = replace(adviser, settings=replace(adviser.settings, garden=demo_copy, busy_s=0.05))
    message = {"text": "why is the shed fig late?", "id": "m1"}
    with pytest.raises(GardenUnavailable, match=r"another program is writing to it.*send it again in a moment"):
        quick.message(message, NOW)
    other.rollback()
    other.close()
    assert quick.message(message, NOW)["outcome"] == "answered"


def in_a_child_without_rights(work: Callable[[], str]) -> str:
    """Return what some work says in a forked process that has given up the rights of an administrator."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            if os.geteuid() == 0:
                os.setgid(65534)
                os.setuid(65534)
            os.write(writing, work().encode())
        finally:
            os._exit(0)
    os.close(writing)
    with os.fdopen(reading, encoding="utf-8") as pipe:
        said = pipe.read()
    os.waitpid(child, 0)
    return said


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a system that forks")
def test_a_read_only_file_says_so_and_loses_nothing(adviser: Adviser, demo_file: Path) -> None:
    """A file that may not be written answers with the cause and the remedy, and stays byte for byte the same."""

    def ask() -> str:
        try:
            return str(adviser.message({"text": "why is the shed fig late?"}, NOW, path)["reply"])
        except GardenUnavailable as error:
            return str(error)

    with tempfile.TemporaryDirectory() as folder:
        path = Path(shutil.copy(demo_file, Path(folder) / "garden.db"))
        before = path.read_bytes()
        path.chmod(0o444)
        Path(folder).chmod(0o555)
        said = in_a_child_without_rights(ask)
        Path(folder).chmod(0o755)
        assert "the file is read-only" in said, said
        assert "make the file and its folder writable" in said
        assert path.read_bytes() == before


def test_writers_wait_for_each_other(adviser: Adviser, garden: Garden) -> None:
    """Eight threads writing at once lose no row and meet no lock."""
    errors: list[Exception] = []

    def write(number: int) -> None:
        try:
            with adviser.open(garden.path) as own:
                for n in range(20):
                    own.add([(SAID, [spot(f"spot {number} {n}")])])
        except Exception as error:
            errors.append(error)

    threads = [threading.Thread(target=write, args=(number,)) for number in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert errors == []
    with adviser.open(garden.path) as again:
        assert len(again.of("spot")) == 160
