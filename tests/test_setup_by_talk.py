"""A garden set up by messages alone, from the command that makes the file to the first answer."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from tests_shared import NOON

from advisor.conversation import Adviser
from advisor.doors.command_line import main
from advisor.records.by_form import add_told
from advisor.records.store import Said

Send = Callable[[str], dict[str, Any]]
HILL_END = "my garden is called Hill End, 47.07 N 15.44 E, metric, Europe/Vienna"
WHOLE = (
    HILL_END,
    "spots: south wall, north bed, hollow, orchard, glasshouse and shed",
    "south wall faces south, stone wall",
    "north bed faces north, clay",
    "hollow is low-lying",
    "orchard faces south-east",
    "planted a fig Brown Turkey at the south wall in 2019, call it wall fig",
    "planted a pear in the north bed in 2016, call it north pear",
    "planted an apple in the hollow in 2018, call it hollow apple",
    "planted an apricot in the orchard in November 2025, call it gate apricot",
    "new plant: peach in the glasshouse, call it glass peach",
    "new plant: fig in a 40 l pot in the shed, call it tub 1",
    "new plant: fig in a 30 l pot in the shed, call it tub 2",
    "new plant: fig in a 20 l pot in the shed, call it tub 3",
    "new plant: european plum in the orchard, call it row plum",
    "new plant: mulberry in the orchard, call it black mulberry",
    "new plant: persimmon at the south wall, call it porch kaki",
    "planted a quince in the north bed in 1998, call it old quince",
)


@pytest.fixture
def send(adviser: Adviser, tmp_path: Path) -> Send:
    """Send messages to a new garden, ten seconds apart."""
    path, sent = tmp_path / "new.db", []
    adviser.open(path, create=True).db.conn.close()

    def one(text: str) -> dict[str, Any]:
        sent.append(text)
        return adviser.message({"text": text}, NOON + timedelta(seconds=10 * len(sent)), path)

    return one


def test_a_garden_is_set_up_by_talk_in_under_ten_minutes(send: Send) -> None:
    """Six spots and twelve plants in eighteen messages, each recorded, and then the first question is answered."""
    for text in WHOLE:
        reply = send(text)
        assert reply["outcome"] == "recorded", (text, reply["reply"])
    letters = sum(map(len, WHOLE))
    print(f"{len(WHOLE)} messages, {letters} letters: {letters / 2 / 60:.1f} minutes at two letters a second")
    assert letters / 2 / 60 < 10
    reply = send("where do I put a new fig?")
    assert reply["outcome"] == "answered"
    assert "south wall" in reply["reply"] and "hollow" in reply["reply"]


@pytest.mark.parametrize(
    "text",
    ["why is the wall fig late?", "help", "soil at south wall 12 at 10 cm", "undo", "2", "Where? When?", "garden"],
)
def test_nothing_is_an_error_before_there_is_a_place(send: Send, text: str) -> None:
    """Whatever is said, the next step is said back, with an example, and nothing is recorded."""
    reply = send(text)
    assert reply["outcome"] in ("asked-back", "not-understood")
    assert "my garden is called" in reply["reply"]
    assert reply["recorded"] == []


def test_the_example_that_is_given_works(send: Send) -> None:
    """What the reply shows as an example is read as a whole place but for its clock."""
    shown = send("hello")["reply"].split("for example: ")[1].rstrip(".")
    assert "Which clock" in send(shown)["reply"]


def test_a_clock_is_proposed_and_never_taken(send: Send) -> None:
    """Every zone comes with what its clocks show; only a number or a name records the place."""
    reply = send("Hill End, 47.07 N 15.44 E, metric")
    assert reply["recorded"] == []
    assert [one["text"] for one in reply["choices"]][1] == "Europe/Vienna: it is 12:00 there"
    assert send("yes")["recorded"] == []
    assert send("Berlin")["recorded"] == [{"kind": "place", "id": 1}]


def test_a_place_is_undone_and_told_anew(send: Send) -> None:
    """What was told last is taken back, and the next message begins again."""
    send(HILL_END)
    assert send("undo")["outcome"] == "undone"
    assert "no place yet" in send("spots: south wall")["reply"]
    assert send("Low End, 37.81 S 144.96 E, metric, Australia/Melbourne")["outcome"] == "recorded"


def test_a_place_that_others_rest_on_is_not_undone_with_them(send: Send) -> None:
    """Undo takes back the spot first, since it was told last."""
    send(HILL_END)
    send("new spot south wall, faces south")
    assert "south wall" in send("undo")["reply"]


def test_a_late_choice_for_the_place_breaks_nothing(send: Send, adviser: Adviser, tmp_path: Path) -> None:
    """Where the place was told meanwhile by another way, a number for its clock is no choice any more."""
    send("Hill End, 47.07 N 15.44 E, metric")
    cells = {"name": "Hill End", "latitude_deg": "47.07", "longitude_deg": "15.44", "time_zone": "Europe/Vienna"}
    with adviser.open(tmp_path / "new.db") as garden:
        add_told(garden, adviser.lore, "place", {**cells, "units": "metric"}, Said("page", "p", NOON), NOON)
    reply = send("1")
    assert reply["recorded"] == []
    with adviser.open(tmp_path / "new.db") as garden:
        assert garden.place().text("time_zone") == "Europe/Vienna"


def test_what_to_tell_next_follows_what_was_told(send: Send) -> None:
    """After the place the spots, after the spots the plants, and no more of it once there are both."""
    assert "Next, tell me your spots" in send(HILL_END)["reply"]
    assert "No spot is recorded" in send("blue")["reply"]
    assert "Next, tell me what grows there" in send("new spot south wall, faces south")["reply"]
    assert "No plant is recorded" in send("blue")["reply"]
    assert "Next" not in send("new plant: fig at the south wall, call it wall fig")["reply"]
    assert "No plant" not in send("blue")["reply"]


def test_how_well_a_spot_drains_is_not_turned_into_a_figure(send: Send) -> None:
    """ "Drains well" stays words and the test hole is asked for; a figure is taken."""
    send(HILL_END)
    reply = send("new spot south wall, faces south, stone wall, drains well")
    assert (reply["outcome"], "test hole" in reply["reply"]) == ("recorded", True)
    reply = send("south wall drains 6 cm an hour")
    assert "faces south, stone wall, drains 6 cm an hour" in reply["reply"]


# ---- commands


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., Any]:
    """Run a command in a folder of its own."""
    monkeypatch.chdir(tmp_path)
    return lambda *arguments: CliRunner().invoke(main, arguments)


def test_a_garden_begins_with_a_command(run: Callable[..., Any], tmp_path: Path) -> None:
    """It makes the file, asks nothing, and says what to tell first; a question then leads on."""
    done = run("start", "--garden", "new.db")
    assert (done.exit_code, (tmp_path / "new.db").exists()) == (0, True)
    assert "my garden is called Hill End" in done.output
    asked = run("ask", "why is my fig late?", "--garden", "new.db", "--today", "2026-04-24")
    assert asked.exit_code == 0
    assert "This garden has no place yet" in asked.output
    told = run("ask", HILL_END, "--garden", "new.db")
    assert "place Hill End, 47.07° north, 15.44° east" in told.output


def test_a_garden_that_is_there_is_not_begun_anew(run: Callable[..., Any], tmp_path: Path) -> None:
    """A file of that name is left as it is."""
    (tmp_path / "new.db").write_text("something")
    done = run("start", "--garden", "new.db")
    assert done.exit_code == 2
    assert "there is a file new.db already" in done.output
    assert (tmp_path / "new.db").read_text() == "something"


def test_a_missing_file_names_how_to_begin(run: Callable[..., Any]) -> None:
    """The error of a garden that is not there names the command that makes it."""
    done = run("ask", "why is my fig late?", "--garden", "gone.db")
    assert done.exit_code == 2
    assert "advisor start --garden gone.db" in done.output


def test_a_spoken_zone_is_a_clock_and_nothing_else_changes_the_place(adviser: Adviser, tmp_path: Path) -> None:
    """ "Yes", or the zone as it is spoken of, takes the proposed clock; a fence's height and a fig's name are not the
    garden's."""
    for n, agreed in enumerate(("yes central time", "central")):
        path = tmp_path / f"{n}.db"
        with adviser.open(path, create=True):
            pass
        texts = ("42.03 N 93.62 W, call it Oak Hollow, fahrenheit, 950 ft up", "wood fence 6 ft to the west of it",
                 "the fence is 6 ft high", "planted a fig at the wall, its name is old fig", agreed)  # fmt: skip
        for text in texts:
            reply = adviser.message({"text": text}, NOON, path)
        assert reply["outcome"] == "recorded"
        assert (
            "place Oak Hollow" in reply["reply"] and "950 ft" in reply["reply"] and "America/Chicago" in reply["reply"]
        )


def test_a_figure_asked_back_is_put_right_by_another(adviser: Adviser, demo_copy: Path) -> None:
    """ "No, 11 not 111" records what was meant."""
    assert adviser.message({"text": "soil shed bed 111 10cm"}, NOON, demo_copy)["outcome"] == "asked-back"
    (row,) = adviser.message({"text": "no, 11 not 111"}, NOON, demo_copy)["recorded"]
    with adviser.open(demo_copy) as garden:
        assert garden.values_of(row["kind"], row["id"])["temp_c"] == 11


def test_a_figure_put_right_records_nothing_twice(adviser: Adviser, demo_copy: Path) -> None:
    """Of two readings one was recorded and one asked back: the first stays one row; a figure within another is none."""
    first = adviser.message({"text": "soil shed bed 11 10cm. soil south wall 141 14cm"}, NOON, demo_copy)
    assert [one["kind"] for one in first["recorded"]] == ["soil_reading"] and first["outcome"] == "asked-back"
    (row,) = adviser.message({"text": "no, 12 not 141"}, NOON, demo_copy)["recorded"]
    with adviser.open(demo_copy) as garden:
        values = garden.values_of(row["kind"], row["id"])
    assert (values["spot"], values["temp_c"], values["depth_cm"]) == ("south wall", 12, 14)
