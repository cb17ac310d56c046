"""What understanding a message costs beside its whole reply: ``python tests/bench/messages.py [--plants 300]``.

A garden is made of copies of an invented one, with ten years of stages and works for each plant. Printed are medians of
one run, in milliseconds, and the share of the whole reply: slips put right, the yard read from the garden file, the
words heard, and the message sent as the grower sends it. Nothing here passes or fails.
"""

from __future__ import annotations

import argparse
import csv
import tempfile
from collections.abc import Iterator, Mapping
from datetime import date, datetime, timedelta
from itertools import count
from pathlib import Path
from zoneinfo import ZoneInfo

from costs.copied import enlarged
from costs.timing import repeated, wall_of

from advisor.config import Settings, find_rules
from advisor.conversation import Adviser
from advisor.language.said.hear import hear
from advisor.language.said.unit import Ears
from advisor.language.understand import understand
from advisor.records.importing import import_path
from advisor.talk.telling import yard_of

GARDEN = Path(__file__).parents[2] / "fixtures" / "conversations" / "garden"
NOW = datetime(2026, 4, 24, 18, tzinfo=ZoneInfo("Europe/Vienna"))
YEARS = range(2016, 2026)
MESSAGES = (
    "no 7 gate peach full bloom",
    "watred no 3 tall pot and no 4 tall pot yesteday",
    "soil at the no 2 south wall 14.2 at 10 cm, sun. why is the no 2 wall fig so late?",
)


def logs_of(plant: str) -> Iterator[Mapping[str, str]]:
    """Yield ten years of a plant: five stages and five works a year."""
    for year in YEARS:
        for number, bbch in enumerate((1, 7, 9, 11, 15)):
            day = date(year, 4, 1) + timedelta(days=9 * number)
            yield {"kind": "stage", "plant": plant, "on": day.isoformat(), "bbch": str(bbch), "words": "seen"}
        for number in range(5):
            day = date(year, 5, 1) + timedelta(days=20 * number)
            yield {"kind": "work", "plant": plant, "on": day.isoformat(), "what": "watered"}


def large_garden(folder: Path, plants: int) -> int:
    """Write the files of a garden with at least so many plants; return how many."""
    with (GARDEN / "plant.csv").open(newline="", encoding="utf-8") as file:
        own = list(csv.DictReader(file))
    copies = -(-plants // len(own))
    enlarged(GARDEN, folder, copies)
    with (folder / "logs.csv").open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, ("kind", "plant", "on", "bbch", "words", "what"))
        writer.writeheader()
        for copy in range(copies):
            for row in own:
                writer.writerows(logs_of(f"no {copy + 1} {row['name']}"))
    return copies * len(own)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--plants", type=int, default=300)
    parser.add_argument("--rounds", type=int, default=20)
    options = parser.parse_args()
    adviser = Adviser.load(Settings(Path("none.db"), find_rules()))
    with tempfile.TemporaryDirectory() as name:
        folder, path = Path(name), Path(name) / "garden.db"
        plants = large_garden(folder, options.plants)
        with adviser.open(path, create=True) as garden:
            import_path(garden, folder, adviser.lore, NOW)
            rows = sum(len(garden.of(kind)) for kind in ("stage", "work"))
            print(f"{plants} plants, {rows} stages and works")
            words, numbers = adviser.words(garden, NOW.date()), count()
            reading = wall_of(repeated(lambda: yard_of(garden, adviser.lore, NOW.date()), options.rounds))
            yard = yard_of(garden, adviser.lore, NOW.date())
        ears = Ears(yard, adviser.talk_words, adviser.stage_words, NOW, True)
        print(f"{'yard read from the file':40} {reading:8.1f} ms")
        for text in MESSAGES:

            def mend(text: str = text) -> str:
                return adviser.spelling.mended(text, adviser.talk_words, ears.names)

            def listen(text: str = text) -> object:
                told = hear(mend(text), ears)
                return [understand(asked, words) for asked in told.asks]

            def send(text: str = text) -> object:
                return adviser.message({"text": text, "id": f"m{next(numbers)}"}, NOW, path)

            mending, hearing, whole = (wall_of(repeated(work, options.rounds)) for work in (mend, listen, send))
            print(f"\n{text}")
            for what, spent in (
                ("slips put right", mending),
                ("heard, slips and all", hearing),
                ("whole reply", whole),
            ):
                print(f"  {what:38} {spent:8.1f} ms {100 * spent / whole:5.0f} %")


if __name__ == "__main__":
    main()
