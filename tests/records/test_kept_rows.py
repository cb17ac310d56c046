"""Rows read before are kept, and are never those of another time or another garden."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from advisor.conversation import Adviser
from advisor.facts import Fact
from advisor.records import reading
from advisor.records.corrections import correct, retire, undo
from advisor.records.kept_rows import KeptRows
from advisor.records.store import Garden, NewRow, Said

NOW = datetime(2026, 4, 24, 10, tzinfo=UTC)
PLACE = NewRow("place", {"name": "Test Hill", "latitude_deg": 47.0, "longitude_deg": 15.0, "time_zone": "Europe/Vienna",
                         "units": "metric"})  # fmt: skip


def said(ref: str) -> Said:
    return Said("message", ref, NOW)


def looked(plant: str, bbch: int, day: int = 20) -> NewRow:
    return NewRow("stage", {"plant": plant, "on": date(2026, 4, day), "bbch": bbch})


@pytest.fixture
def path(adviser: Adviser, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A garden of two figs, of which nothing is kept yet."""
    monkeypatch.setattr(reading, "KEPT", KeptRows())
    path = tmp_path / "garden.db"
    with adviser.open(path, create=True) as garden:
        figs = [NewRow("plant", {"name": name, "species": "fig", "spot": "bed"}) for name in ("old fig", "young fig")]
        garden.add(
            [
                (
                    said("first"),
                    [PLACE, NewRow("spot", {"name": "bed"}), *figs, looked("old fig", 1), looked("young fig", 3)],
                )
            ]
        )
    return path


def stages(adviser: Adviser, path: Path) -> list[Fact]:
    with adviser.open(path) as garden:
        return garden.of("stage")


def told(rows: list[Fact]) -> list[tuple[str, object]]:
    return [(row.text("plant"), row.get("bbch")) for row in rows]


def anew(adviser: Adviser, path: Path) -> list[tuple[str, object]]:
    """Return the same as it is read with nothing kept."""
    with adviser.open(path) as garden:
        return told(list(garden.rows_in_use("stage")))


@contextmanager
def selects(garden: Garden) -> Iterator[list[str]]:
    """Collect the statements that are put to a garden file."""
    seen: list[str] = []
    garden.db.conn.set_trace_callback(seen.append)
    yield seen
    garden.db.conn.set_trace_callback(None)


def test_what_was_read_is_the_same_list_until_something_is_told(adviser: Adviser, path: Path) -> None:
    """Two readers one after another get one list; a row of another kind leaves it as it is."""
    first = stages(adviser, path)
    with adviser.open(path) as garden:
        garden.add([(said("a"), [NewRow("work", {"plant": "old fig", "on": date(2026, 4, 21), "what": "fed"})])])

    assert stages(adviser, path) is first


def test_only_what_was_told_since_is_read(adviser: Adviser, path: Path) -> None:
    """A new row comes behind those known, which are the very facts of before."""
    before = stages(adviser, path)
    with adviser.open(path) as garden:
        garden.add([(said("a"), [looked("old fig", 9, 23)])])

    now = stages(adviser, path)

    assert told(now) == [("old fig", 1), ("young fig", 3), ("old fig", 9)]
    assert [one is other for one, other in zip(before, now, strict=False)] == [True, True]
    assert told(before) == [("old fig", 1), ("young fig", 3)]


def test_another_programs_rows_are_seen(adviser: Adviser, path: Path) -> None:
    """A row that another connection writes past this program is there at the next question."""
    stages(adviser, path)
    conn = sqlite3.connect(path)
    conn.execute(
        "INSERT INTO said (id, via, ref, digest, said_by, said_at) VALUES (99, 'message', 'x', '', '', '2026')"
    )
    (plant,) = conn.execute("SELECT thing_id FROM plant WHERE name = 'old fig'").fetchone()
    conn.execute("INSERT INTO stage (id, said_id, plant, \"on\", bbch) VALUES (7, 99, ?, '2026-04-22', 7)", [plant])
    conn.commit()
    conn.close()

    assert told(stages(adviser, path))[-1] == ("old fig", 7)


def test_rulings_count_at_once(adviser: Adviser, path: Path) -> None:
    """Retired, corrected, undone and brought back: each reading is what a reading with nothing kept would be."""
    seen = [told(stages(adviser, path))]
    with adviser.open(path) as garden:
        retire(garden, "stage", 1, said("b"), reason="a slip")
    seen.append(told(stages(adviser, path)))
    with adviser.open(path) as garden:
        correct(garden, "stage", 2, {"bbch": 5}, said("c"), reason="a slip")
    seen.append(told(stages(adviser, path)))
    with adviser.open(path) as garden:
        undo(garden, "c", said("d"))
    seen.append(told(stages(adviser, path)))
    with adviser.open(path) as garden:
        undo(garden, "b", said("e"))
    seen.append(told(stages(adviser, path)))

    assert seen == [
        [("old fig", 1), ("young fig", 3)], [("young fig", 3)], [("young fig", 5)], [("young fig", 3)],
        [("old fig", 1), ("young fig", 3)],
    ]  # fmt: skip
    assert seen[-1] == anew(adviser, path)


def test_a_new_name_is_in_every_row(adviser: Adviser, path: Path) -> None:
    """A plant renamed is told under its new name by the rows read before."""
    stages(adviser, path)
    with adviser.open(path) as garden:
        correct(garden, "plant", 1, {"name": "wall fig"}, said("b"), reason="a better name")

    assert told(stages(adviser, path)) == [("wall fig", 1), ("young fig", 3)]


def test_a_file_put_back_from_a_backup_is_read_anew(adviser: Adviser, path: Path, tmp_path: Path) -> None:
    """A backup in the file's place counts as far as the lost rows did, and yet nothing of those is told."""
    backup = shutil.copy(path, tmp_path / "backup.db")
    with adviser.open(path) as garden:
        garden.add([(said("lost"), [looked("old fig", 11, 22)])])
    assert told(stages(adviser, path))[-1] == ("old fig", 11)
    path.write_bytes(Path(backup).read_bytes())
    for beside in ("-wal", "-shm"):
        Path(f"{path}{beside}").unlink(missing_ok=True)
    with adviser.open(path) as garden:
        garden.add([(said("other"), [looked("old fig", 7, 22)])])

    assert told(stages(adviser, path))[-1] == ("old fig", 7)


def test_another_garden_in_the_place_of_the_file_has_its_own_names(
    adviser: Adviser, path: Path, tmp_path: Path
) -> None:  # fmt: skip
    """A garden with as many rows, told by sayings of the same names and times, is read by its own names."""
    stages(adviser, path)
    with adviser.open(tmp_path / "other.db", create=True) as garden:
        figs = [NewRow("plant", {"name": name, "species": "fig", "spot": "shed"}) for name in ("pot fig", "tall fig")]
        rows = [PLACE, NewRow("spot", {"name": "shed"}), *figs, looked("tall fig", 7), looked("pot fig", 9)]
        garden.add([(said("first"), rows)])
    path.write_bytes((tmp_path / "other.db").read_bytes())

    assert told(stages(adviser, path)) == [("tall fig", 7), ("pot fig", 9)]
    with adviser.open(path) as garden:
        assert garden.names("spot") == ["shed"] and set(garden.names_by_thing.values()) >= {"pot fig", "tall fig"}


def test_what_a_write_held_and_gave_up_is_not_kept(adviser: Adviser, path: Path) -> None:
    """Rows read within a write that fails are gone with it, also where others take their numbers."""
    with (
        adviser.open(path) as garden,
        pytest.raises(ZeroDivisionError),
        garden.as_one("testing in", lambda: True),
    ):
        garden.add([(said("a"), [looked("old fig", 11, 22)])])
        assert told(garden.of("stage"))[-1] == ("old fig", 11)
        raise ZeroDivisionError
    assert told(stages(adviser, path)) == [("old fig", 1), ("young fig", 3)]
    with adviser.open(path) as garden:
        garden.add([(said("a"), [looked("old fig", 7, 22)])])
    assert told(stages(adviser, path))[-1] == ("old fig", 7)


def test_an_earlier_time_is_read_from_the_file(adviser: Adviser, path: Path) -> None:
    """What was known before the last row is what it was, whatever is kept."""
    with adviser.open(path) as garden:
        garden.add([(Said("message", "a", NOW.replace(day=25)), [looked("old fig", 9, 23)])])
    stages(adviser, path)
    with Garden(path, adviser.base.kinds, as_of=NOW) as past:
        assert told(past.of("stage")) == [("old fig", 1), ("young fig", 3)]


def test_two_gardens_of_equal_counts_are_kept_apart(adviser: Adviser, path: Path, tmp_path: Path) -> None:
    """A copy that went its own way has its own rows, in whatever order the two are asked."""
    other = Path(shutil.copy(path, tmp_path / "other.db"))
    for at, bbch in ((path, 7), (other, 9)):
        with adviser.open(at) as garden:
            garden.add([(said("a"), [looked("old fig", bbch, 22)])])

    assert [told(stages(adviser, at))[-1] for at in (path, other, path, other)] == [
        ("old fig", 7), ("old fig", 9), ("old fig", 7), ("old fig", 9),
    ]  # fmt: skip


def test_the_garden_asked_about_longest_ago_is_given_up(
    adviser: Adviser, path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With room for two gardens the third puts the first out, which is then read again."""
    monkeypatch.setattr(reading, "KEPT", KeptRows(gardens=2))
    paths = [path, *(Path(shutil.copy(path, tmp_path / f"{n}.db")) for n in range(2))]
    first = [stages(adviser, at) for at in paths]

    assert stages(adviser, paths[2]) is first[2]
    assert stages(adviser, paths[0]) is not first[0]
    assert told(stages(adviser, paths[0])) == told(first[0])


def test_kept_kinds_cost_two_statements(adviser: Adviser, path: Path) -> None:
    """Where nothing was told, all kinds are looked up by their last numbers and the last saying; no row is read."""
    kinds = [kind.name for kind in adviser.base.kinds.values() if kind.origin == "recorded"]
    for _ in range(2):
        with adviser.open(path) as garden, selects(garden) as seen:
            for kind in kinds:
                garden.of(kind)

    assert len(seen) <= 2
    assert all("MAX(id)" in one or "FROM said" in one for one in seen)


def test_gardens_in_memory_are_kept_apart(adviser: Adviser) -> None:
    """Two gardens without a file, one after the other, tell what each was told."""
    found = []
    for name in ("old bed", "new bed"):
        with Garden(Path(":memory:"), adviser.base.kinds, create=True) as garden:
            garden.add([(said("a"), [NewRow("spot", {"name": name})])])
            found.append([row.text("name") for row in garden.of("spot")])

    assert found == [["old bed"], ["new bed"]]


@contextmanager
def steps(garden: Garden) -> Iterator[list[int]]:
    """Count what the database does, in steps of ten of its instructions."""
    count = [0]

    def step() -> None:
        count[0] += 1

    garden.db.conn.set_progress_handler(step, 10)
    yield count
    garden.db.conn.set_progress_handler(None, 0)


@pytest.mark.parametrize("ruled", [False, True], ids=["told", "told and ruled out"])
def test_new_rows_are_found_without_going_through_the_others(adviser: Adviser, path: Path, *, ruled: bool) -> None:
    """A new row, one ruled out and the rows of the last days take hardly more steps behind ten times as many rows."""
    taken = []
    for turn, rows in enumerate((200, 2000)):
        earlier = [
            NewRow("stage", {"plant": "old fig", "on": date(2020, 1, 1 + n % 28), "bbch": 1}) for n in range(rows)
        ]
        with adviser.open(path) as garden:
            garden.add([(said(f"many {turn}"), earlier)])
        known = stages(adviser, path)
        with adviser.open(path) as garden:
            garden.add([(said(f"one {turn}"), [looked("young fig", 11, 21 + turn)])])
            if ruled:
                retire(garden, "stage", 5 + turn, said(f"out {turn}"), reason="wrong plant")
        with adviser.open(path) as garden, steps(garden) as count:
            now = garden.of("stage")
            since = garden.since("stage", date(2026, 4, 21 + turn))
        assert len(since) == 1
        assert len(now) == len(known) + 1 - ruled
        assert told(now) == anew(adviser, path)
        taken.append(count[0])
    assert taken[1] <= 1.5 * taken[0], taken
