"""Garden files of every earlier version open, keep all that they hold, and take new records."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from tests_shared import NOON

from advisor.conversation import Adviser
from advisor.records.backing_up import back_up, restore, sound
from advisor.records.messages import message

OLD = sorted((Path(__file__).resolve().parents[2] / "fixtures" / "old_gardens").glob("*.sql"))


@pytest.fixture(params=OLD, ids=lambda path: path.stem)
def old(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    """A garden file as an earlier version left it."""
    path = tmp_path / "old.db"
    with closing(sqlite3.connect(path)) as conn:
        conn.executescript(request.param.read_text(encoding="utf-8"))
    return path


def rows(path: Path) -> dict[str, list[dict[str, object]]]:
    """Return every row of the tables, columns by name and without those that hold nothing."""
    with closing(sqlite3.connect(path)) as conn:
        conn.row_factory = sqlite3.Row
        tables = [name for (name,) in conn.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        return {
            name: [{k: row[k] for k in row.keys() if row[k] is not None} for row in conn.execute(f'SELECT * FROM "{name}"')]  # noqa: SIM118
            for name in tables
            if not name.startswith("_")
        }  # fmt: skip


def test_there_are_old_gardens() -> None:
    """The files of earlier versions lie where this test looks for them."""
    assert len(OLD) >= 3


def test_an_old_garden_is_brought_up_to_date(adviser: Adviser, old: Path) -> None:
    """Every row is still there as it was; messages keep their answers; the file is sound."""
    before = rows(old)
    with adviser.open(old) as garden:
        assert len(garden.of("soil_reading")) >= 39
        assert message(garden, "m1").reply is not None
    after = rows(old)
    assert all(after[name] == kept for name, kept in before.items())
    sound(old)


def test_an_old_garden_goes_on(adviser: Adviser, old: Path) -> None:
    """It takes a reading and answers a question like a new one, and the first answer to an old message stands."""
    first = adviser.message({"text": "anything", "id": "m1"}, NOON, old)
    assert first["question"]["kind"] == "why-late"
    assert adviser.message({"text": "soil shed bed 11.4 10cm", "id": "m9"}, NOON, old)["outcome"] == "recorded"
    assert adviser.message({"text": "why is the shed fig late?", "id": "m10"}, NOON, old)["outcome"] == "answered"


def test_an_old_backup_is_restored_and_brought_up_to_date(adviser: Adviser, old: Path, tmp_path: Path) -> None:
    """A backup that an earlier version made can be put back and opened."""
    back_up(old, tmp_path / "backup.db")
    restore(tmp_path / "backup.db", tmp_path / "again.db", NOON)
    with adviser.open(tmp_path / "again.db") as garden:
        assert garden.names("spot")
