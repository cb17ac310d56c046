"""Out and in again without loss, in any order; what was known on a day; taken back exactly."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from advisor.conversation import Adviser
from advisor.doors.demo import demo_folder
from advisor.errors import BadInput, NotFound
from advisor.facts import Key
from advisor.reasoning.state import garden_state
from advisor.records.corrections import correct, is_in_use, retire, undo
from advisor.records.exporting import export_folder, history, restore_history
from advisor.records.importing import import_path
from advisor.records.kinds import Field
from advisor.records.store import Garden, NewRow, Said
from advisor.records.undoing import NAMED

NOW = datetime(2026, 4, 24, 10, tzinfo=UTC)
SETTINGS = settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True)
NAMES = ["bed", "south wall", "=cmd|' /C calc'!A0", 'Žába, "big"', "-3 pot", "'quoted'", "line\nbreak"]
TRIAL = "=trial, one"
LOW_AND_HIGH = (
    ("min_c", "max_c"), ("put_on", "taken_off"), ("from_day", "to_day"), ("issued", "for_day"), ("buds_dead", "buds_cut"),
)  # fmt: skip
texts = st.sampled_from(
    ["plain", "with, comma", 'with "quotes"', "=1+1", "+1", "@x", "'", "ü€", "two\nlines", "x" * 200]
)


@contextmanager
def empty(adviser: Adviser) -> Iterator[Garden]:
    with tempfile.TemporaryDirectory() as folder, adviser.open(Path(folder) / "g.db", create=True) as garden:
        yield garden


def value_of(field: Field) -> st.SearchStrategy[Any]:
    """Return a strategy for sound values of a field."""
    low, high = field.min if field.min is not None else 0, field.max if field.max is not None else 1000
    match field.type:
        case "number":
            return st.floats(low, high).map(lambda number: round(number, 4) + 0.0)
        case "whole":
            return st.integers(int(low), int(high))
        case "yes_no":
            return st.booleans()
        case "word":
            return st.sampled_from(field.one_of)
        case "date":
            return st.dates(date(1990, 1, 1), date(2026, 4, 24))
        case "time":
            moments = st.datetimes(datetime(1990, 1, 1), datetime(2026, 4, 24))  # noqa: DTZ001  made aware below
            return moments.map(lambda moment: moment.replace(tzinfo=UTC))
        case "month_day":
            return st.sampled_from(["05-10", "02-29", "12-31"])
        case "spot" | "plant":
            return st.sampled_from(NAMES)
        case "species":
            return st.sampled_from(["fig", "sweet-cherry"])
    return st.sampled_from(["stones", "bare", "wood chips"]) if field.name == "material" else texts


@st.composite
def rows(draw: st.DrawFn, adviser: Adviser) -> list[NewRow]:
    """Return rows of every recorded kind, in a random order, that can all be true of their kind's schema."""
    made = [
        NewRow("place", {"name": "Hill", "latitude_deg": 47.0, "longitude_deg": 15.0, "time_zone": "Europe/Vienna",
                         "units": draw(st.sampled_from(["metric", "us"]))}),
        *(NewRow("spot", {"name": name, "aspect": "S"}) for name in NAMES),
        *(NewRow("plant", {"name": name, "species": "fig", "spot": NAMES[0]}) for name in NAMES),
        NewRow("trial", {"name": TRIAL, "question": "does it help?", "differs": "a", "from_day": date(2026, 3, 1)}),
    ]  # fmt: skip
    kinds = [
        k for k in adviser.base.kinds.values() if k.origin == "recorded" and k.name not in ("place", "spot", "plant")
    ]
    seen: set[Key] = set()
    for kind in draw(st.lists(st.sampled_from(kinds), max_size=12)):
        values = {
            name: draw(value_of(field)) for name, field in kind.fields.items() if field.required or draw(st.booleans())
        }
        if kind.needs_one_of and not any(name in values for name in kind.needs_one_of):
            values[kind.needs_one_of[0]] = NAMES[1]
        if kind.name == "trial_member":
            values["trial"] = TRIAL
        for low, high in LOW_AND_HIGH:
            if low in values and high in values and values[high] < values[low]:
                values[high] = values[low]
        same = tuple((name, values.get(name)) for name in kind.same_when or kind.fields)
        if (kind.name, same) not in seen and not kind.name.startswith("weather"):
            seen.add((kind.name, same))  # type: ignore[arg-type]  # only to tell them apart
            made.append(NewRow(kind.name, values, words=draw(st.sampled_from(["", 'as told, "so"', "=no"]))))
    return made


def keys(garden: Garden) -> dict[str, list[Key]]:
    """Return what is in use, by kind, whatever the order."""
    return {
        name: sorted((fact.key for fact in garden.of(name)), key=repr)
        for name, kind in garden.kinds.items()
        if kind.origin == "recorded" and garden.of(name)
    }


@SETTINGS
@given(st.data())
def test_export_then_import_is_identity(adviser: Adviser, data: st.DataObject) -> None:
    """The files of any garden go into a new one and make the same garden; its words and sayers too."""
    with empty(adviser) as garden, empty(adviser) as other, tempfile.TemporaryDirectory() as folder:
        garden.add([(Said("file", "a", NOW, by="=helper"), data.draw(rows(adviser)))])
        target = Path(folder) / "out"
        export_folder(garden, target)
        (target / "history.jsonl").unlink()
        import_path(other, target, adviser.lore, NOW + timedelta(days=1))
        assert keys(other) == keys(garden)
        said = "SELECT DISTINCT said_by, said_at FROM said"
        assert other.db.conn.execute(said).fetchall() == garden.db.conn.execute(said).fetchall()
        for path in target.glob("*.csv"):
            assert not any(line.startswith(("=", "+", "@")) for line in path.read_text().splitlines())


@SETTINGS
@given(st.data())
def test_a_history_restores_everything(adviser: Adviser, data: st.DataObject) -> None:
    """Rows out of use, rulings, sayings and ids: the restored file tells the same history, line for line."""
    with empty(adviser) as garden, empty(adviser) as other, tempfile.TemporaryDirectory() as folder:
        added = garden.add([(Said("file", "a", NOW), data.draw(rows(adviser)))])
        for kind, row_id in data.draw(st.lists(st.sampled_from(added), max_size=3, unique=True)):
            if kind not in NAMED:
                retire(garden, kind, row_id, Said("command", "b", NOW), reason="a slip")
        export_folder(garden, Path(folder) / "out")
        restore_history(other, Path(folder) / "out" / "history.jsonl")
        assert list(history(other)) == list(history(garden))
        assert keys(other) == keys(garden)


@SETTINGS
@given(st.data(), st.randoms(use_true_random=False))
def test_any_order_of_import_gives_the_same_garden(adviser: Adviser, data: st.DataObject, chance: Any) -> None:
    """The same rows told in another order make the same state of the garden."""
    told = data.draw(rows(adviser))
    mixed = told[:15] + chance.sample(told[15:], len(told) - 15)
    with empty(adviser) as garden, empty(adviser) as other:
        garden.add([(Said("file", "a", NOW), told)])
        other.add([(Said("file", "a", NOW), mixed)])
        assert keys(garden) == keys(other)
        day = date(2026, 4, 24)
        one, two = garden_state(garden, adviser.lore, day), garden_state(other, adviser.lore, day)
        assert (one.spots, one.plants) == (two.spots, two.plants)
        assert {c.says for c in one.contradictions} == {c.says for c in two.contradictions}


@SETTINGS
@given(st.data())
def test_undo_restores_the_state_exactly(adviser: Adviser, data: st.DataObject) -> None:
    """Whatever was said, corrected or retired under a reference, taking it back leaves the garden as it was."""
    with empty(adviser) as garden:
        first = garden.add([(Said("file", "a", NOW), data.draw(rows(adviser)))])
        before = keys(garden)
        later = NOW + timedelta(hours=1)
        said = Said("message", "m1", later)
        others = [row for row in first if row[0] not in NAMED]
        for kind, row_id in others[:2]:
            if garden.kinds[kind].fields.get("note"):
                correct(garden, kind, row_id, {"note": "other"}, said, reason="corrected")
            else:
                retire(garden, kind, row_id, said, reason="a slip")
        garden.add([(said, [NewRow("spot", {"name": "new spot"})])])
        undo(garden, "m1", Said("message", "m2", later))
        assert keys(garden) == before
        with pytest.raises(NotFound, match="Undo the latest thing said first"):
            undo(garden, "m1", Said("message", "m3", later))


@SETTINGS
@given(st.data())
def test_as_of_reads_equal_a_replay_of_the_log(adviser: Adviser, data: st.DataObject) -> None:
    """The garden as of each moment is the garden that stood there then."""
    with empty(adviser) as garden:
        stood = []
        told = data.draw(rows(adviser))
        for step in range(4):
            at = NOW + timedelta(hours=step)
            part = told[: len(NAMES) * 2 + 1] if step == 0 else told[len(NAMES) * 2 + 1 :][step - 1 :: 3]
            added = garden.add([(Said("file", f"f{step}", at), part)]) if part else []
            if step and added and added[0][0] not in NAMED:
                retire(garden, *added[0], Said("command", "r", at + timedelta(minutes=5)), reason="a slip")
            stood.append((at + timedelta(minutes=10), keys(garden)))
        for at, then in stood:
            with adviser.open(garden.path) as plain:
                past = Garden(garden.path, plain.kinds, as_of=at)
                assert keys(past) == then
                past.db.conn.close()


def test_a_corrected_name_is_the_same_thing(adviser: Adviser, garden: Garden) -> None:
    """A plant renamed keeps all that was said of it under its old name."""
    garden.add([(Said("file", "a", NOW), [
        NewRow("spot", {"name": "bed"}), NewRow("plant", {"name": "big fig", "species": "fig", "spot": "bed"}),
        NewRow("stage", {"plant": "big fig", "on": date(2026, 4, 1), "bbch": 7}),
    ])])  # fmt: skip
    new = correct(garden, "plant", 1, {"name": "Old Tom"}, Said("message", "m", NOW), reason="its right name")
    assert [f.text("plant") for f in garden.of("stage")] == ["Old Tom"]
    assert (is_in_use(garden, "plant", 1), is_in_use(garden, "plant", new)) == (False, True)
    with pytest.raises(BadInput, match="it is retired"):
        correct(garden, "plant", 1, {"name": "x"}, Said("message", "m", NOW), reason="again")


def test_export_wants_a_new_folder_and_restore_a_new_file(adviser: Adviser, garden: Garden, tmp_path: Path) -> None:
    """Neither writes over anything."""
    import_path(garden, demo_folder(), adviser.lore, NOW)
    (tmp_path / "there").mkdir()
    (tmp_path / "there" / "letter").write_text("dear")
    with pytest.raises(BadInput, match="the folder is not empty"):
        export_folder(garden, tmp_path / "there")
    export_folder(garden, tmp_path / "out")
    with pytest.raises(BadInput, match="the garden file has records in it"):
        restore_history(garden, tmp_path / "out" / "history.jsonl")


def test_a_broken_history_changes_nothing(adviser: Adviser, garden: Garden, tmp_path: Path) -> None:
    """A line that is no row of a history stops it, with its number, and the file stays empty."""
    with empty(adviser) as full:
        import_path(full, demo_folder(), adviser.lore, NOW)
        export_folder(full, tmp_path / "out")
    path = tmp_path / "out" / "history.jsonl"
    lines = path.read_text().splitlines()
    lines[100] = '{"table": "plant; drop table plant", "row": {}}'
    path.write_text("\n".join(lines))
    with pytest.raises(BadInput, match="line 101"):
        restore_history(garden, path)
    assert list(history(garden)) == [{"format": "advisor history 1"}]
