"""Import, export, records and garden on the command line."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from advisor.doors.command_line import main
from advisor.doors.demo import demo_folder


@pytest.fixture
def run(demo_copy: Path):
    """Run a command on a copy of the demo garden."""

    def command(*arguments: str) -> Result:
        return CliRunner().invoke(main, [*arguments, "--garden", str(demo_copy)])

    return command


def test_every_command_shows_an_example() -> None:
    """Each command's help ends with a line that can be typed."""
    pages = [[name] for name in main.commands] + [["records", name] for name in main.commands["records"].commands]  # type: ignore[attr-defined]
    for page in pages:
        help_text = CliRunner().invoke(main, [*page, "--help"]).output
        assert "advisor" in help_text.split("Options")[0] or "Example: advisor" in help_text, page


def test_garden_on_a_day(run) -> None:
    """What stands where, how far it is, and the two slips of the demo's records."""
    text = run("garden", "--on", "2026-04-24").output
    assert "shed bed: wood chips, 11 cm" in text
    assert "store fig (fig): pot at store" in text
    assert "black pot fig was moved to pot yard and to south wall on one day, 2026-04-10" in text
    assert "young cherry goes backwards: BBCH 60 on 2026-04-12, 57 on 2026-04-16" in text
    data = json.loads(run("garden", "--on", "2026-04-24", "--json").output)
    assert len(data["plants"]) == 38 and len(data["contradictions"]) == 2
    earlier = json.loads(run("garden", "--on", "2025-04-24", "--json").output)
    assert next(s for s in earlier["spots"] if s["spot"] == "shed bed")["cover"] == "bare"


def test_list_show_retire_and_history(run) -> None:
    """A row is found, shown with who said it, taken out of use with a reason, and is still there to be shown."""
    rows = json.loads(
        run("records", "list", "inspection", "--plant", "store fig", "--since", "2026-04-01", "--json").output
    )
    (record,) = [row["record"] for row in rows]
    assert "root_ball dry" in run("records", "show", record).output
    assert "is out of use: wrong pot" in run("records", "retire", record, "--reason", "wrong pot").output
    shown = run("records", "show", record).output
    assert "taken out of use" in shown and "wrong pot" in shown and shown.endswith("not in use\n")
    again = run("records", "retire", record, "--reason", "again")
    assert (again.exit_code, "retired already" in again.output) == (2, True)
    assert record not in run("records", "history", "--plant", "store fig").output
    assert run("records", "list", "inspection").output.endswith("27 in use\n")


def test_a_row_is_corrected_and_the_correction_undone(run, demo_copy: Path) -> None:
    """A change is checked as in an import, in any unit; the new row stands for the old one until it is undone."""
    (row,) = json.loads(
        run("records", "list", "inspection", "--plant", "Store Fig", "--since", "2026-04-01", "--json").output
    )
    done = run("records", "correct", row["record"], "on=2026-04-19", "Root ball=", "--reason", "was Sunday")
    new = done.output.split(":")[0]
    assert (done.exit_code, "2026-04-19" in done.output, "root_ball" in done.output) == (0, True, False)
    assert f"inspection/{new.split('/')[1]} stands for it" in run("records", "show", row["record"]).output
    undone = run("records", "undo", "records correct")
    assert undone.exit_code == 0, undone.output
    assert run("records", "show", row["record"]).output.endswith("\nin use\n")
    (reading, *_) = json.loads(run("records", "list", "soil_reading", "--json").output)
    warm = run("records", "correct", reading["record"], "temp_f=50", "--reason", "read in the wrong unit")
    assert "temp_c 10.0" in warm.output


@pytest.mark.parametrize(
    ("change", "wanted"),
    [
        ("temp_f=200", "between -4 and 140"),
        ("tmp_c=4", "temp_c"),
        ("at", "FIELD=VALUE"),
        ("sky=fog", "one of sun, shade"),
    ],
)
def test_a_correction_that_cannot_be_is_refused(run, change: str, wanted: str) -> None:
    """The row stays as it was."""
    (row, *_) = json.loads(run("records", "list", "soil_reading", "--json").output)
    done = run("records", "correct", row["record"], change, "--reason", "test")
    assert (done.exit_code, wanted in done.output) == (2, True), done.output
    assert run("records", "show", row["record"]).output.endswith("\nin use\n")


def test_a_spot_in_use_is_not_retired(run) -> None:
    """The records that rest on it are named."""
    (row,) = [r for r in json.loads(run("records", "list", "spot", "--json").output) if r["name"] == "shed bed"]
    done = run("records", "retire", row["record"], "--reason", "test")
    assert done.exit_code == 2 and "other records rest on it: cover/" in done.output


def test_plants_are_there_once_planted(run) -> None:
    """Five years ago the garden had fewer plants; a name is found whatever its capitals, a near one is offered."""
    (first, *_) = [
        r for r in json.loads(run("records", "list", "plant", "--json").output) if r.get("planted", "") > "2021"
    ]
    names = [p["plant"] for p in json.loads(run("garden", "--on", "2021-01-01", "--json").output)["plants"]]
    assert first["name"] not in names and len(names) < 38
    assert (
        run("records", "history", "--plant", "SHED FIG").output
        == run("records", "history", "--plant", "shed fig").output
    )
    assert "Did you mean 'shed fig'?" in run("records", "history", "--plant", "shd fig").output


def test_what_was_known_on_a_day(run) -> None:
    """The demo was imported today, so nothing of it was known last year."""
    assert run("records", "list", "stage", "--known-on", "2025-01-01").output == "0 in use\n"


def test_export_then_import_gives_the_same_answers(run, tmp_path: Path) -> None:
    """The CSV files make a garden that answers alike; the history makes the same garden, messages and all."""
    assert run("export", str(tmp_path / "out")).exit_code == 0
    history = tmp_path / "out" / "history.jsonl"
    history.rename(tmp_path / "history.jsonl")
    question = ("ask", "why is the shed fig late?", "--today", "2026-04-24")
    here = run(*question).output
    for name, source in (("a.db", tmp_path / "out"), ("b.db", tmp_path / "history.jsonl")):
        path = str(tmp_path / name)
        done = CliRunner().invoke(main, ["import", str(source), "--garden", path])
        assert done.exit_code == 0, done.output
        assert CliRunner().invoke(main, [*question, "--garden", path]).output == here


def test_a_dry_run_leaves_no_file(tmp_path: Path) -> None:
    """Nothing is made where there was nothing, neither by a dry run nor by a failed import."""
    path = tmp_path / "new.db"
    done = CliRunner().invoke(main, ["import", str(demo_folder()), "--garden", str(path), "--dry-run"])
    assert "2852 rows would be added" in done.output
    (tmp_path / "spot.csv").write_text("name,aspect\nbed,upward\n")
    failed = CliRunner().invoke(main, ["import", str(tmp_path / "spot.csv"), "--garden", str(path)])
    assert failed.exit_code == 2
    assert sorted(p.name for p in tmp_path.iterdir()) == ["spot.csv"]


def test_import_as_json_tells_all(tmp_path: Path) -> None:
    """Counts, notes and faults for a program to read."""
    done = CliRunner().invoke(main, ["import", str(demo_folder()), "--garden", str(tmp_path / "g.db"), "--json"])
    data = json.loads(done.output)
    assert data["added"]["stage"] == 396 and any("7 days missing" in note for note in data["notes"])


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("records", "list", "stages"), "no recorded kind 'stages'"),
        (("records", "show", "stage"), "Name it as an answer does: stage/12"),
        (("records", "show", "stage/99999"), "no stage/99999"),
        (("records", "history", "--plant", "nobody"), "no plant called 'nobody'"),
    ],
)
def test_errors_say_what_to_do(run, arguments: tuple[str, ...], said: str) -> None:
    """Each is a line or two, never a traceback."""
    done = run(*arguments)
    assert said in done.output and "Traceback" not in done.output
