"""The invented demo garden: loaded into a temporary file, and three questions put to it."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, time
from pathlib import Path
from typing import Any

from advisor.conversation import Adviser
from advisor.errors import NotFound
from advisor.records.importing import import_path

DEMO_DAY = date(2026, 4, 24)
"""The day on which the demo's questions are asked: its records end here."""

QUESTIONS = (
    "Why is the shed fig so slow to wake?",
    "Where do I put a new apricot?",
    "And where does the next fig belong, which wants every bit of early heat?",
)


def demo_folder() -> Path:
    """Return the folder of the demo's records: in the installed package, else in the checkout."""
    package = Path(__file__).resolve().parents[1]
    for folder in (package / "_demo", package.parent / "fixtures" / "demo"):
        if (folder / "place.csv").exists():
            return folder
    raise NotFound("looking for the demo garden", "no place.csv of it", "Install the package again")


def load_demo(adviser: Adviser, folder: Path) -> Path:
    """Import the demo's records into a new garden file in a folder and return the file."""
    path = folder / "demo.db"
    with adviser.open(path, create=True) as garden:
        import_path(garden, demo_folder(), adviser.lore, datetime.now(UTC))
    return path


def run_demo(adviser: Adviser, folder: Path, program: str = "advisor") -> Iterator[str]:
    """Yield what the demo prints: the garden, each question with its answer and its reasons, and how to go on.

    ``program`` is how the reader calls the adviser.
    """
    path = load_demo(adviser, folder)
    with adviser.open(path) as garden:
        counts = {kind: len(garden.of(kind)) for kind in ("spot", "plant", "soil_reading", "stage", "weather_day")}
        now = datetime.combine(DEMO_DAY, time(12), garden.zone())
        yield (
            f"An invented garden, {garden.place().text('name')}, on {DEMO_DAY.isoformat()}: {counts['spot']} spots,"
            f" {counts['plant']} plants, {counts['stage']} looks at them, {counts['soil_reading']} soil readings and"
            f" {counts['weather_day']} days of weather."
        )
    for number, text in enumerate(QUESTIONS, start=1):
        reply = adviser.message({"text": text}, now, path)
        yield f"\n{number}. {text}\n\n{reply['reply']}\n"
        yield "   The reasons, down to your records:"
        yield from _reasons(reply)
    yield (
        "\nGo on with questions of your own to this garden:\n"
        f'  {program} ask "why is the store fig still asleep?"\n'
        f'  {program} ask "best spot for a persimmon" --json\n'
        "or with your own records, in CSV files like those of fixtures/demo:\n"
        f"  {program} import my-records --garden my-garden.db\n"
        f'  {program} ask "where should the next fig go?" --garden my-garden.db'
    )


def _reasons(reply: dict[str, Any], most: int = 3) -> Iterator[str]:
    """Yield the tree under the leading conclusions: rule, facts, the records they rest on."""
    for conclusion in reply["conclusions"][:most]:
        because = reply["because"][conclusion["because"][0]]
        yield f"   - {because['says']}  [rule {because['rule']}, {because['strength'].replace('-', ' ')}]"
        for fact in because["from"]:
            yield f"       {_line(fact)}"


def _line(fact: dict[str, Any]) -> str:
    values = ", ".join(f"{name} {value}" for name, value in fact["fact"].items() if name != "kind")
    rests = sorted(_leaves(fact))
    shown = ", ".join(rests[:4]) + (f" and {len(rests) - 4} more" if len(rests) > 4 else "")
    return f"{fact['fact']['kind']}: {values}" + (f"  <- {shown}" if rests else "")


def _leaves(fact: dict[str, Any]) -> set[str]:
    if "record" in fact:
        return {fact["record"]}
    return {record for below in fact["from"] for record in _leaves(below)}
