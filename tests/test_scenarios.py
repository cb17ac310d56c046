"""Every story in fixtures/scenarios is answered as a seasoned grower would answer it."""

from __future__ import annotations

from pathlib import Path

import pytest
from scenarios import FOLDER, play, read_scenario, wrong_with

from advisor.conversation import Adviser

STORIES = sorted(FOLDER.glob("*.toml"))


@pytest.mark.parametrize("path", STORIES, ids=lambda path: path.stem)
def test_story(adviser: Adviser, path: Path, tmp_path: Path) -> None:
    """The ranked conclusions of the story are drawn, and nothing is said that must not be."""
    wrong = [f"{ask['text']}: {fault}" for ask, reply in play(adviser, read_scenario(path), tmp_path)
             for fault in wrong_with(ask, reply)]  # fmt: skip

    assert wrong == []


def test_every_answer_in_a_story_rests_on_rules_with_cases(adviser: Adviser) -> None:
    """No rule is without a case in which it fires, so no story's answer rests on one."""
    assert [rule.id for rule in adviser.base.rules.values() if not any(case.expect for case in rule.cases)] == []
