"""What tests share: the rule base, an empty garden, the demo garden, and the day on which it is asked."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from tests_shared import NOON

from advisor.config import Settings, find_rules
from advisor.conversation import Adviser
from advisor.doors.demo import load_demo
from advisor.records.importing import Imported, import_path
from advisor.records.store import Garden


@pytest.fixture(scope="session")
def adviser() -> Adviser:
    """The adviser with the project's own rule base."""
    return Adviser.load(Settings(Path("unset.db"), find_rules()))


@pytest.fixture(scope="session")
def demo_file(adviser: Adviser, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo garden, imported once; tests ask of it and do not change its records."""
    return load_demo(adviser, tmp_path_factory.mktemp("demo"))


@pytest.fixture
def demo_copy(demo_file: Path, tmp_path: Path) -> Path:
    """The demo garden to change at will."""
    return Path(shutil.copy(demo_file, tmp_path / "garden.db"))


@pytest.fixture
def ask(adviser: Adviser, demo_copy: Path) -> Callable[[str], dict[str, Any]]:
    """Ask the demo garden on its day: ``ask("why is the shed fig late?")``."""
    return lambda text: adviser.message({"text": text}, NOON, demo_copy)


@pytest.fixture
def garden(adviser: Adviser, tmp_path: Path) -> Iterator[Garden]:
    """An empty garden file."""
    with adviser.open(tmp_path / "empty.db", create=True) as opened:
        yield opened


Put = Callable[..., Imported]


@pytest.fixture
def put(adviser: Adviser, garden: Garden, tmp_path: Path) -> Put:
    """Import files given as text into the empty garden: ``put(place=PLACE, spot="name\\nbed")``."""
    count = 0

    def import_texts(**files: str | bytes) -> Imported:
        nonlocal count
        count += 1
        folder = tmp_path / f"files{count}"
        folder.mkdir()
        for name, text in files.items():
            (folder / f"{name}.csv").write_bytes(text if isinstance(text, bytes) else text.encode())
        return import_path(garden, folder, adviser.lore, NOON)

    return import_texts
