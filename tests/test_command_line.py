"""The command line, as a grower types it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from advisor.doors.command_line import main
from advisor.doors.demo import demo_folder


def run(*arguments: str, **environment: str) -> Result:
    return CliRunner().invoke(main, list(arguments), env={"ADVISOR_GARDEN": "none.db", **environment})


def test_check_finds_the_rule_base_sound() -> None:
    """The project's own rules, kinds, questions and cases have nothing wrong with them."""
    done = run("check")
    assert (done.exit_code, done.output.strip().endswith("all well")) == (0, True), done.output


def test_check_names_what_is_wrong(tmp_path: Path) -> None:
    """A fault in a rule folder is printed and the exit code says so."""
    (tmp_path / "kinds").mkdir()
    (tmp_path / "kinds" / "note.toml").write_text('kind = "memo"\nsays = ""\norigin = "concluded"\n[fields]\n')
    done = run("check", ADVISOR_RULES=str(tmp_path))
    assert done.exit_code == 2
    assert "Give both the same name" in done.output


def test_demo_answers_three_questions_with_reasons() -> None:
    """The demo prints each question, its answer, the rules and records behind it, and how to go on."""
    done = run("demo")
    assert done.exit_code == 0, done.output
    assert done.output.count("The reasons, down to your records:") == 3
    assert "invented" in done.output.splitlines()[0]
    assert "<- " in done.output and "[rule " in done.output
    assert "import my-records --garden my-garden.db" in done.output


def test_ask_without_a_garden_asks_the_demo_and_says_so() -> None:
    """A first question needs no set-up, and nobody takes the demo for their own garden."""
    done = run("ask", "why is the shed fig so slow to wake?")
    assert done.exit_code == 0
    assert done.output.startswith("(The invented demo garden answers")


def test_ask_as_json() -> None:
    """--json prints the whole reply and nothing else."""
    reply = json.loads(run("ask", "why is the shed fig so slow to wake?", "--json").output)
    assert reply["question"] == {"kind": "why-late", "plant": "shed fig"}


def test_import_then_ask(tmp_path: Path) -> None:
    """Own records go in with a count of each kind; the question is asked as of a day."""
    garden = str(tmp_path / "mine.db")
    done = run("import", str(demo_folder()), "--garden", garden)
    assert done.exit_code == 0, done.output
    assert "2177 weather day" in done.output
    again = run("import", str(demo_folder()), "--garden", garden)
    assert "0 rows added" in again.output and "imported before" in again.output
    asked = run("ask", "why is the shed fig late?", "--garden", garden, "--today", "2026-04-24")
    assert asked.output.startswith("The shed fig was still asleep on 22 April")


@pytest.mark.parametrize(
    ("arguments", "code", "said"),
    [
        (("ask", "why is the fig late", "--garden", "gone.db"), 2, "no file gone.db"),
        (("ask", " "), 2, "no words in it"),
        (("import", "gone", "--garden", "GARDEN"), 2, "no such file or folder"),
        (("import", ".", "--column", "temp_max", "--garden", "GARDEN"), 2, "THEIRS=OURS"),
    ],
)
def test_errors_say_what_to_do(tmp_path: Path, arguments: tuple[str, ...], code: int, said: str) -> None:
    """An error is one or two lines and an exit code, never a traceback."""
    done = run(*(str(tmp_path / "g.db") if argument == "GARDEN" else argument for argument in arguments))
    assert done.exit_code == code
    assert said in done.output
    assert "Traceback" not in done.output
