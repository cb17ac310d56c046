"""What the README says can be told, told: each example logs what it shows."""

from __future__ import annotations

import re
from datetime import datetime
from pathlib import Path

import pytest
from score_messages import load_garden

from advisor.conversation import Adviser

README = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
TABLE = README.split("## What it can be told")[1].split("\n\n* ")[0]
TOLD = [text for row in TABLE.splitlines() if row.startswith("| ") for text in re.findall(r"`([^`]+)`", row)]


@pytest.fixture(scope="module")
def garden_file(adviser: Adviser, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return load_garden(adviser, "garden", tmp_path_factory.mktemp("readme"))


def test_the_table_was_found() -> None:
    assert len(TOLD) >= 15


@pytest.mark.parametrize("text", TOLD)
def test_each_example_is_recorded(adviser: Adviser, garden_file: Path, text: str) -> None:
    """In one garden after another message, as they would come in; nothing is asked back or left unread."""
    with adviser.open(garden_file) as garden:
        at = datetime(2026, 4, 24, 18, tzinfo=garden.zone())
    reply = adviser.message({"text": text}, at, garden_file)
    assert reply["outcome"] == "recorded", reply["reply"]
