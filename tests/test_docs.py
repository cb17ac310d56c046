"""What README and DEVELOPERS say is there."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
import write_docs

from advisor.conversation import Adviser
from advisor.doors.command_line import main

TOP = Path(__file__).resolve().parents[1]
README = (TOP / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (TOP / "DEVELOPERS.md").read_text(encoding="utf-8")


@pytest.mark.parametrize(("name", "mark"), [(name, mark) for name, parts in write_docs.PARTS.items() for mark in parts])
def test_written_parts_are_fresh(adviser: Adviser, name: str, mark: str) -> None:
    """The demo's answer, the kinds, the rule index and the bibliography are what the rule base gives now."""
    make = write_docs.PARTS[name][mark]
    text = (TOP / name).read_text(encoding="utf-8")
    assert write_docs.written(text, mark, make(adviser)) == text, "run: python deploy/write_docs.py"


def test_every_command_is_in_the_readme() -> None:
    """No command of the command line goes unmentioned, and none is mentioned that is not there."""
    named = set(re.findall(r"^(?:advisor|\.venv/bin/advisor) (\w+)", README, re.MULTILINE))
    assert named == set(main.commands)


def test_every_setting_is_in_the_readme() -> None:
    """Settings read from the environment are listed."""
    settings = set(re.findall(r'"(ADVISOR_\w+)"', (TOP / "advisor" / "config.py").read_text(encoding="utf-8")))
    assert settings == set(re.findall(r"`(ADVISOR_\w+)`", README))


def test_every_question_is_in_the_readme(adviser: Adviser) -> None:
    """Each kind of question is named."""
    assert {key for key in adviser.questions if f"`{key}`" in README} == set(adviser.questions)


@pytest.mark.parametrize(
    "path", re.findall(r"`((?:advisor|rules|fixtures|tests|deploy)/[\w./-]+)`", README + DEVELOPERS)
)
def test_paths_named_are_there(path: str) -> None:
    """A path in the docs leads somewhere."""
    assert (TOP / path.rstrip("/")).exists()


def test_the_top_level_is_the_agreed_one() -> None:
    """Nothing stands at the top but what the layout names, hidden tool files aside."""
    agreed = {"README.md", "DEVELOPERS.md", "pyproject.toml", "advisor", "rules", "tests", "fixtures", "deploy"}
    there = {path.name for path in TOP.iterdir() if not path.name.startswith(".") and path.suffix != ".db"}
    assert there - {"build", "dist"} == agreed
