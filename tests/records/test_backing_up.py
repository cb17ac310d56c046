"""Backups: whole while the garden is written to, read back before they count, and put back without losing anything."""

from __future__ import annotations

import sqlite3
import threading
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest
from click.testing import CliRunner
from tests_shared import NOON

from advisor.conversation import Adviser
from advisor.doors.command_line import main
from advisor.errors import BadInput, GardenUnavailable
from advisor.records.backing_up import back_up, restore, sound
from advisor.records.store import NewRow, Said


def everything(path: Path) -> dict[str, list[tuple[object, ...]]]:
    """Return every row of every table."""
    with closing(sqlite3.connect(path)) as conn:
        tables = [name for (name,) in conn.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        return {name: sorted(conn.execute(f'SELECT * FROM "{name}"'), key=repr) for name in tables}


def test_a_backup_is_the_garden_row_for_row(demo_copy: Path, tmp_path: Path) -> None:
    """What is restored from a backup holds the same rows in every table, messages and history too."""
    back_up(demo_copy, tmp_path / "b" / "backup.db")
    restore(tmp_path / "b" / "backup.db", tmp_path / "again.db", NOON)
    assert everything(tmp_path / "again.db") == everything(demo_copy)
    assert [path.name for path in (tmp_path / "b").iterdir()] == ["backup.db"]


def test_a_backup_under_writes_holds_all_that_was_acknowledged(
    adviser: Adviser, demo_copy: Path, tmp_path: Path
) -> None:
    """Rows acknowledged before the backup began are in it, each write whole, while a writer goes on."""
    stop, acknowledged = threading.Event(), [0]

    def write() -> None:
        with adviser.open(demo_copy) as garden:
            while not stop.is_set():
                n = acknowledged[0]
                spot = NewRow("spot", {"name": f"bed {n}"})
                cover = NewRow("cover", {"spot": f"bed {n}", "material": "straw", "put_on": NOON.date()})
                garden.add([(Said("message", f"m{n}", NOON), [spot, cover])])
                acknowledged[0] = n + 1

    writer = threading.Thread(target=write)
    writer.start()
    try:
        for turn in range(5):
            before = acknowledged[0]
            back_up(demo_copy, tmp_path / f"{turn}.db")
            with adviser.open(tmp_path / f"{turn}.db") as copy:
                beds = {name for name in copy.names("spot") if name.startswith("bed ")}
                covered = {fact.text("spot") for fact in copy.of("cover") if fact.text("spot").startswith("bed ")}
            assert beds == covered
            assert {f"bed {n}" for n in range(before)} <= beds
    finally:
        stop.set()
        writer.join()
    assert acknowledged[0] > 5


def test_a_damaged_file_is_told_with_the_way_out(demo_copy: Path) -> None:
    """Overwritten pages are found, and the reader is told to restore."""
    with closing(sqlite3.connect(demo_copy)) as conn:
        conn.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    content = bytearray(demo_copy.read_bytes())
    content[40_000:60_000] = bytes(20_000)
    demo_copy.write_bytes(content)
    with pytest.raises(GardenUnavailable) as told:
        sound(demo_copy)
    assert "restore" in told.value.do


def test_a_row_that_refers_to_none_is_found(demo_copy: Path) -> None:
    """A reading at a spot that is not there is named."""
    with closing(sqlite3.connect(demo_copy)) as conn:
        conn.execute("UPDATE soil_reading SET spot = 99999 WHERE id = 1")
        conn.commit()
    with pytest.raises(GardenUnavailable, match="row 1 of soil_reading refers to no row of thing"):
        sound(demo_copy)


@pytest.mark.parametrize("content", [b"", b"no database at all " * 500])
def test_what_is_no_garden_is_not_restored(demo_copy: Path, tmp_path: Path, content: bytes) -> None:
    """A file that is no garden is refused, and the garden that was to be replaced is as it was."""
    before = everything(demo_copy)
    (tmp_path / "odd.db").write_bytes(content)
    with pytest.raises(GardenUnavailable):
        restore(tmp_path / "odd.db", demo_copy, NOON, replace=True)
    assert everything(demo_copy) == before


def test_a_garden_is_replaced_only_if_that_is_said_and_is_kept(
    adviser: Adviser, demo_copy: Path, tmp_path: Path
) -> None:
    """Without --replace nothing happens; with it the present garden lies beside, whole, under the time."""
    back_up(demo_copy, tmp_path / "backup.db")
    adviser.message({"text": "soil shed bed 11.3 10cm"}, NOON, demo_copy)
    later = everything(demo_copy)
    with pytest.raises(BadInput, match="there already"):
        restore(tmp_path / "backup.db", demo_copy, NOON)
    restore(tmp_path / "backup.db", demo_copy, datetime(2026, 4, 25, 6, tzinfo=UTC), replace=True)
    assert everything(demo_copy) == everything(tmp_path / "backup.db")
    assert everything(tmp_path / "garden-until-20260425T060000.db") == later


def test_the_commands_keep_the_last_backups(demo_copy: Path, tmp_path: Path) -> None:
    """Backups of one garden are counted apart from other files there, and only the last ones are kept."""
    folder = tmp_path / "backups"
    folder.mkdir()
    for old in ("garden-20260101T000000Z.db", "garden-20260102T000000Z.db", "garden-notes.db"):
        (folder / old).write_text("")
    told = CliRunner().invoke(main, ["backup", str(folder), "--keep", "2", "--garden", str(demo_copy)])
    assert told.exit_code == 0, told.output
    names = sorted(path.name for path in folder.iterdir())
    assert len(names) == 3 and names[0] == "garden-20260102T000000Z.db" and names[2] == "garden-notes.db"
    told = CliRunner().invoke(main, ["restore", str(folder / names[1]), "--garden", str(tmp_path / "new.db")])
    assert told.exit_code == 0 and "read back whole" in told.output
    told = CliRunner().invoke(main, ["verify", "--garden", str(tmp_path / "new.db")])
    assert told.exit_code == 0 and "sound" in told.output


def test_a_file_of_a_later_version_is_left_alone(adviser: Adviser, demo_copy: Path) -> None:
    """A garden that a later version of the program changed is not opened, and the reader is told why."""
    with closing(sqlite3.connect(demo_copy)) as conn:
        conn.execute(
            "INSERT INTO _sqlite_migrations (migration_set, name, applied_at) VALUES ('advisor', '9999_later', 'x')"
        )
        conn.commit()
    with pytest.raises(GardenUnavailable, match="a later version of this program made it"):
        adviser.open(demo_copy)
