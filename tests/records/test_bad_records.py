"""Each broken file of fixtures/bad_records is refused in the words that stand beside it, and nothing of it gets in."""

from __future__ import annotations

import shutil
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from tests_shared import NOON

from advisor.conversation import Adviser
from advisor.errors import BadRows, RowFault
from advisor.facts import Recorded
from advisor.records.importing import Imported, import_path
from advisor.records.store import Garden

BAD = Path(__file__).resolve().parents[2] / "fixtures" / "bad_records"
CASES: list[dict[str, Any]] = tomllib.loads((BAD / "expected.toml").read_text(encoding="utf-8"))["case"]

each_case = pytest.mark.parametrize("case", CASES, ids=lambda case: case["file"])


@pytest.fixture(scope="module")
def base_file(adviser: Adviser, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The sound garden that every case is imported into, imported once."""
    path = tmp_path_factory.mktemp("base") / "garden.db"
    with adviser.open(path, create=True) as garden:
        import_path(garden, BAD / "base", adviser.lore, NOON)
    return path


@pytest.fixture
def sound(adviser: Adviser, base_file: Path, tmp_path: Path) -> Iterator[Garden]:
    """A fresh copy of the sound garden."""
    with adviser.open(Path(shutil.copy(base_file, tmp_path / "garden.db"))) as garden:
        yield garden


def import_case(garden: Garden, adviser: Adviser, case: dict[str, Any], *, keep_good: bool = False) -> Imported:
    return import_path(
        garden,
        BAD / case["file"],
        adviser.lore,
        NOON,
        kind=case.get("kind"),
        renamed=case.get("columns"),
        temperature_unit=case.get("temperature_unit", ""),
        keep_good=keep_good,
    )


def rows(garden: Garden) -> dict[str, dict[int, int | None]]:
    """Return each recorded kind's rows in use: the id and the line of the file that each came from."""
    found: dict[str, dict[int, int | None]] = {}
    for kind, spec in garden.kinds.items():
        if spec.origin == "recorded":
            origins = [fact.origin for fact in garden.of(kind)]
            ids = [row_id for origin in origins if isinstance(origin, Recorded) for row_id in origin.row_ids]
            found[kind] = {row_id: garden.row(kind, row_id)["line"] for row_id in ids}
    return found


def told(faults: list[RowFault]) -> list[tuple[str, int, str, str]]:
    return [(fault.file, fault.line, fault.field, fault.found) for fault in faults]


def expected(case: dict[str, Any]) -> list[tuple[str, int, str, str]]:
    return [(case["file"], fault["line"], fault["field"], fault["found"]) for fault in case["faults"]]


def test_the_base_is_sound(sound: Garden) -> None:
    """What the cases are measured against has a place, spots and plants, and no more."""
    assert {kind: len(ids) for kind, ids in rows(sound).items() if ids} == {"place": 1, "spot": 3, "plant": 3}


def test_every_file_has_its_message_and_every_message_its_file() -> None:
    """Files and table name the same cases, each once, and there are at least 140."""
    files = sorted(path.name for path in BAD.iterdir() if path.is_file())
    assert sorted([*(case["file"] for case in CASES), "README.md", "expected.toml"]) == files
    assert len(CASES) >= 140
    assert all(fault["wanted"] for case in CASES for fault in case["faults"])
    assert all(case["faults"] for case in CASES)


@each_case
def test_a_bad_file_is_refused_in_these_words(case: dict[str, Any], sound: Garden, adviser: Adviser) -> None:
    """Every fault is named by line, field, what was found and what is wanted; garden and file stay as they were."""
    before, content = rows(sound), (BAD / case["file"]).read_bytes()
    with pytest.raises(BadRows) as caught:
        import_case(sound, adviser, case)
    faults = caught.value.faults
    assert told(faults) == expected(case)
    for fault, wanted in zip(faults, case["faults"], strict=True):
        assert wanted["wanted"] in fault.wanted
        assert str(fault) in str(caught.value)
    assert rows(sound) == before
    assert (BAD / case["file"]).read_bytes() == content


@each_case
def test_only_sound_rows_of_a_bad_file_are_kept(case: dict[str, Any], sound: Garden, adviser: Adviser) -> None:
    """Told to keep the good rows, an import still names the faults; what gets in is sound and from other lines."""
    before = rows(sound)
    outcome = import_case(sound, adviser, case, keep_good=True)
    assert set(expected(case)) <= set(told(outcome.faults))
    broken = {fault.line for fault in outcome.faults}
    added = {kind: {i: line for i, line in ids.items() if i not in before[kind]} for kind, ids in rows(sound).items()}
    assert {kind: len(ids) for kind, ids in added.items() if ids} == outcome.added
    for kind, ids in added.items():
        assert not broken & set(ids.values())
        assert not ids or broken - {0, 1}, "a file that is wrong as a whole has no sound rows"
        for row_id in ids:
            assert_sound(sound, kind, row_id)


def assert_sound(garden: Garden, kind: str, row_id: int) -> None:
    """Check a row as read back against its kind: fields there, of their type, in range, and naming what is there."""
    spec, values = garden.kinds[kind], garden.values_of(kind, row_id)
    assert not spec.needs_one_of or any(name in values for name in spec.needs_one_of)
    for name, field in spec.fields.items():
        value = values.get(name)
        if value is None:
            assert not field.required
            continue
        assert field.fits(value)
        if isinstance(value, int | float):
            assert field.min is None or value >= field.min
            assert field.max is None or value <= field.max
        if field.type in ("spot", "plant"):
            assert value in garden.names(field.type)
