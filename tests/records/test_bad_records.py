"""Each broken file is refused in the words beside it, and nothing of it is imported."""

from __future__ import annotations

import tomllib
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from advisor.conversation import Adviser
from advisor.errors import BadRows
from advisor.records.importing import import_path
from advisor.records.store import Garden

FOLDER = Path(__file__).resolve().parents[2] / "fixtures" / "bad_records"
CASES = tomllib.loads((FOLDER / "expected.toml").read_text(encoding="utf-8"))["case"]
NOW = datetime(2026, 4, 24, 10, tzinfo=UTC)


def counts(garden: Garden) -> dict[str, int]:
    return {name: len(garden.of(name)) for name, kind in garden.kinds.items() if kind.origin == "recorded"}


def test_every_file_has_its_message_and_there_are_sixty() -> None:
    """The folder and the list of cases agree."""
    files = {path.name for path in FOLDER.iterdir() if path.is_file()} - {"expected.toml", "README.md"}
    assert files == {case["file"] for case in CASES}
    assert len(CASES) >= 60


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["file"])
def test_a_broken_file_is_refused_in_these_words(adviser: Adviser, garden: Garden, case: dict[str, Any]) -> None:
    """Line, field and what was found are exact, what is wanted begins so; the garden stays as it was."""
    import_path(garden, FOLDER / "base", adviser.lore, NOW)
    before = counts(garden)
    with pytest.raises(BadRows) as caught:
        import_path(garden, FOLDER / case["file"], adviser.lore, NOW, kind=case.get("kind"))
    found = [(fault.line, fault.field, fault.found) for fault in caught.value.faults]
    assert found == [(fault["line"], fault["field"], fault["found"]) for fault in case["faults"]]
    for fault, expected in zip(caught.value.faults, case["faults"], strict=True):
        assert fault.wanted.startswith(expected["wanted"])
    assert counts(garden) == before
    assert str(caught.value).endswith("Nothing was imported. Mend the rows and import again")


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["file"])
def test_keeping_the_good_rows_of_it_lets_in_only_sound_ones(
    adviser: Adviser, garden: Garden, case: dict[str, Any]
) -> None:
    """With keep-good the faults are told all the same, and whatever came in reads back."""
    import_path(garden, FOLDER / "base", adviser.lore, NOW)
    before = counts(garden)
    done = import_path(garden, FOLDER / case["file"], adviser.lore, NOW, kind=case.get("kind"), keep_good=True)
    assert len(done.faults) >= len(case["faults"])
    after = counts(garden)
    assert sum(after.values()) - sum(before.values()) == sum(done.added.values()) - sum(done.changed.values())
