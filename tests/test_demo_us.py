"""The invented US garden: its files are up to date, come in whole, and are answered in °F and inches."""

from __future__ import annotations

import csv
import re
import subprocess
import sys
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from advisor.conversation import Adviser
from advisor.records.importing import import_path
from advisor.records.store import Garden

FIXTURES = Path(__file__).resolve().parents[1] / "fixtures"
DEMO = FIXTURES / "demo_us"
ZONE = ZoneInfo("America/New_York")
NOON = datetime(2026, 4, 26, 12, tzinfo=ZONE)
METRIC = re.compile(r"°C|\d\s*(?:C|K|cm|mm|m|kg|l|litres?|km/h|m/s)\b")
PLANTS = [row["name"] for row in csv.DictReader((DEMO / "plant.csv").read_text(encoding="utf-8").splitlines())]
KINDS = ["fig", "peach", "nectarine", "apricot", "European plum", "Japanese plum", "sweet cherry", "tart cherry",
         "pear", "apple", "persimmon", "mulberry"]  # fmt: skip

Ask = Callable[[str], dict[str, Any]]


def make(*arguments: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, str(FIXTURES / "make_demo_us" / "make.py"), *arguments]
    return subprocess.run(command, capture_output=True, text=True, encoding="utf-8", check=False)


@pytest.fixture(scope="module")
def us_file(adviser: Adviser, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The US garden, imported once."""
    path = tmp_path_factory.mktemp("us") / "garden.db"
    with adviser.open(path, create=True) as garden:
        import_path(garden, DEMO, adviser.lore, NOON)
    return path


@pytest.fixture
def ask_us(adviser: Adviser, us_file: Path) -> Ask:
    """Ask the US garden at noon of its day; each question has an id of its own and changes no record."""
    return lambda text: adviser.message({"text": text}, NOON, us_file)


def first_cause(reply: dict[str, Any]) -> tuple[str, str]:
    cause = next(c for c in reply["conclusions"] if c["kind"] == "cause")
    return cause["claim"], cause["grade"]


def test_files_are_up_to_date() -> None:
    """The check of the committed files and of the README's counts finds nothing."""
    done = make("--check")
    assert (done.returncode, done.stderr) == (0, ""), done.stdout


@pytest.mark.parametrize(
    ("file", "old", "new", "said"),
    [
        ("stage.csv", "leaf fig,4/25/2026,1,", "leaf fig,4/25/2026,9,", "stage.csv: differs from what"),
        ("README.md", "| `spot.csv` | 7 |", "| `spot.csv` | 8 |", "says 8 for spot.csv, of which 7 rows are made"),
    ],
)
def test_a_spoilt_file_is_named(tmp_path: Path, file: str, old: str, new: str, said: str) -> None:
    """The check tells a file that was edited by hand, and a count that is no longer right."""
    for path in DEMO.iterdir():
        (tmp_path / path.name).write_bytes(path.read_bytes())
    text = (tmp_path / file).read_text(encoding="utf-8")
    assert text.count(old) == 1
    (tmp_path / file).write_text(text.replace(old, new), encoding="utf-8", newline="\n")
    done = make("--check", "--folder", str(tmp_path))
    assert done.returncode == 1
    assert said in done.stdout


def test_every_row_comes_in(garden: Garden, adviser: Adviser) -> None:
    """An import adds the rows that the README states for each kind, none in doubt, learns the logger's clock, and finds the six missing days."""
    told = re.findall(
        r"^\| `(\w+)\.csv` \| \d+ \| (\d+) \|", (DEMO / "README.md").read_text(encoding="utf-8"), re.MULTILINE
    )
    done = import_path(garden, DEMO, adviser.lore, NOON)
    assert done.added.pop("weather_station") == 1  # the logger's March shows that its clock changes
    assert done.added == {kind: int(rows) for kind, rows in told}
    assert set(done.added) == {path.stem for path in DEMO.glob("*.csv")}
    assert (done.faults, done.changed, done.known_rows) == ([], {}, 0)
    assert [note.split(":")[:2] for note in done.notes] == [["weather_day.csv", " 6 days missing"]]


def test_us_columns_come_in_as_what_they_measure(garden: Garden, adviser: Adviser) -> None:
    """Feet, inches, gallons, pounds and miles an hour are taken at their legal size (NIST Handbook 44, Appendix C,
    figures from memory), and 4/6/2026 1:30 PM is the afternoon of the sixth of April by summer time."""
    import_path(garden, DEMO, adviser.lore, NOON)

    def one(kind: str, field: str, **of: object) -> object:
        (fact,) = [f for f in garden.of(kind) if all(f.get(name) == value for name, value in of.items())]
        return fact.get(field)

    at = datetime(2026, 4, 6, 17, 30, tzinfo=UTC)
    assert one("place", "elevation_m") == pytest.approx(60.96)
    assert one("soil_reading", "temp_c", at=at) == pytest.approx((47.5 - 32) * 5 / 9, abs=1e-3)
    assert one("soil_reading", "depth_cm", at=at) == pytest.approx(10.16)
    assert one("plant", "pot_litres", name="barrel fig") == pytest.approx(94.635, abs=1e-3)
    assert one("spot", "drainage_cm_h", name="low corner") == pytest.approx(0.762)
    assert one("obstruction", "distance_m", what="house") == pytest.approx(4.8768)
    assert one("crop", "weight_kg", plant="corner apple") == pytest.approx(17.2365, abs=1e-3)
    assert one("growth", "shoot_cm", plant="row fig") == pytest.approx(22.86)
    assert one("forecast_day", "wind_m_s", issued=date(2026, 4, 20)) == pytest.approx(1.3411, abs=1e-3)
    assert {f.get("to_spot") for f in garden.of("move") if str(f.get("on")) == "2026-04-18"} == {"patio"}


def test_no_hour_is_lost_at_the_clock_change(garden: Garden, adviser: Adviser) -> None:
    """The logger's hours follow each other without a gap, from midnight in winter time to 23:00 in summer time."""
    import_path(garden, DEMO, adviser.lore, NOON)
    hours = sorted(at for fact in garden.of("weather_hour") if isinstance(at := fact.get("at"), datetime))
    assert (hours[0], hours[-1]) == (datetime(2026, 3, 1, 5, tzinfo=UTC), datetime(2026, 4, 26, 3, tzinfo=UTC))
    assert hours == [hours[0] + timedelta(hours=n) for n in range(len(hours))]


def test_the_fig_under_leaves_is_late_for_its_cold_soil(ask_us: Ask) -> None:
    """Pairs 3.5, 3, 5 and 4.5 °F apart on four days make 4 °F, and cold roots a possible cause before all others."""
    reply = ask_us("why is the leaf fig late?")
    assert (reply["outcome"], reply["question"]["plant"]) == ("answered", "leaf fig")
    assert first_cause(reply) == ("cold-roots", "possible")
    assert "4 °F colder than at the open bed" in reply["reply"]
    assert ("winter-injury", "ruled out") in [(c["claim"], c.get("grade")) for c in reply["conclusions"]]


def test_the_dry_tub_comes_first(ask_us: Ask) -> None:
    """A tub fig whose neighbors in the garage are awake is late for its dry root ball, and no soil is blamed."""
    reply = ask_us("why is the red tub fig late?")
    assert first_cause(reply) == ("dry-root-ball", "likely")
    assert "April 19" in reply["reply"] and "cold-roots" not in {c["claim"] for c in reply["conclusions"]}


def test_the_new_fig_is_new(ask_us: Ask) -> None:
    """A fig planted three weeks ago is late for being new."""
    assert first_cause(ask_us("why is the new fig late?")) == ("new-planting", "likely")


def test_a_fig_goes_to_the_south_wall(ask_us: Ask) -> None:
    """The south wall is first, the wet corner and the paved patio out of the question, the garage no place at all."""
    reply = ask_us("where do I put a fig?")
    places = {spot["spot"]: (spot["place"], spot["ruled_out"]) for spot in reply["spots"]}
    assert [name for name, (place, _) in places.items() if place == 1] == ["south wall"]
    assert places["low corner"][1] and places["patio"][1] and "garage" not in places
    assert "°F" in reply["reply"] and "4 in deep" in reply["reply"]


@pytest.mark.parametrize(
    "text", [f"why is the {p} late?" for p in PLANTS] + [f"where do I put a new {k}?" for k in KINDS]
)
def test_no_metric_unit_in_any_answer(ask_us: Ask, text: str) -> None:
    """Whatever is asked of the US garden, neither the reply nor its short form has a metric unit."""
    reply = ask_us(text)
    assert reply["outcome"] == "answered"
    assert METRIC.findall(reply["reply"]) + METRIC.findall(reply["short"]) == []
