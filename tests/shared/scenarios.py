"""Small gardens as stories, and what a seasoned grower would conclude of each: ``fixtures/scenarios/*.toml``.

``python tests/shared/scenarios.py FILE ...`` tells each reply, its conclusions, and what is wrong with it.
"""

from __future__ import annotations

import csv
import json
import math
import sys
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any

from advisor.config import Settings, find_rules
from advisor.conversation import Adviser
from advisor.records.importing import import_path
from advisor.records.kinds import read_toml

FOLDER = Path(__file__).resolve().parents[2] / "fixtures" / "scenarios"
PLACE = {"name": "Test Hill", "latitude_deg": 47.1, "longitude_deg": 15.3, "elevation_m": 420,
         "time_zone": "Europe/Vienna", "units": "metric"}  # fmt: skip
KEYS = {"name", "says", "invented", "practice", "today", "place", "weather", "ask"}
EXPECTED = {"text", "today", "kind", "ranked", "never", "ruled_out", "rules", "lacking", "says", "says_not", "outcome"}


@dataclass(frozen=True)
class Scenario:
    """One story: its records by kind, its weather, and what is asked with what is expected."""

    name: str
    says: str
    practice: tuple[str, ...]
    today: date
    place: Mapping[str, Any]
    records: Mapping[str, Sequence[Mapping[str, Any]]]
    weather: Sequence[Mapping[str, Any]]
    asks: Sequence[Mapping[str, Any]]


def read_scenario(path: Path) -> Scenario:
    """Read one story. Raises ValueError where it has a key that means nothing, or is not marked as invented."""
    raw = read_toml(path)
    records = {kind: rows for kind, rows in raw.items() if kind not in KEYS}
    strange = [key for ask in raw["ask"] for key in ask if key not in EXPECTED]
    if strange or not raw.get("invented"):
        raise ValueError(f"{path.name}: unknown keys {strange}, invented = {raw.get('invented')}")
    return Scenario(
        raw["name"],
        raw["says"],
        tuple(raw.get("practice", ())),
        raw["today"],
        PLACE | raw.get("place", {}),
        records,
        raw.get("weather", ()),
        raw["ask"],
    )


def days_of(weather: Sequence[Mapping[str, Any]]) -> dict[date, tuple[float, float]]:
    """Return each day's (min_c, max_c); a later stretch stands for an earlier one.

    A stretch has ``min_c`` and ``max_c``, or ``mean_c`` and ``swing_c`` of a year's wave about it (coldest in mid
    January), with ``span_c`` between a day's minimum and maximum and a wobble of ``wobble_k`` from day to day. One
    with ``rain_mm`` had so much rain on each of its days, which ``rain_of`` tells.
    """
    days: dict[date, tuple[float, float]] = {}
    for stretch in weather:
        for n in range((stretch["to"] - stretch["from"]).days + 1):
            day = stretch["from"] + timedelta(days=n)
            if "mean_c" in stretch:
                wave = math.cos(2 * math.pi * (day.timetuple().tm_yday - 15) / 365.25)
                wobble = stretch.get("wobble_k", 2.5) * (
                    math.sin(day.toordinal() * 0.9) + math.sin(day.toordinal() / 3.7)
                )
                mean = stretch["mean_c"] - stretch["swing_c"] * wave + wobble
                half = stretch.get("span_c", 10) / 2
                days[day] = (round(mean - half, 1), round(mean + half, 1))
            else:
                days[day] = (stretch["min_c"], stretch["max_c"])
    return days


def rain_of(weather: Sequence[Mapping[str, Any]]) -> dict[date, float]:
    """Return the rain of each day whose stretch tells of it."""
    return {
        stretch["from"] + timedelta(days=n): stretch["rain_mm"]
        for stretch in weather
        if "rain_mm" in stretch
        for n in range((stretch["to"] - stretch["from"]).days + 1)
    }


def write_records(story: Scenario, folder: Path) -> None:
    """Write a story's records as files to import."""
    lines = [{"kind": "place", **story.place}]
    kinds = ["spot", "plant", *(kind for kind in story.records if kind not in ("spot", "plant"))]
    lines += [{"kind": kind, **row} for kind in kinds for row in story.records.get(kind, ())]
    text = "\n".join(json.dumps(line, default=lambda value: value.isoformat()) for line in lines)
    (folder / "1_records.jsonl").write_text(text + "\n", encoding="utf-8")
    days, rain = days_of(story.weather), rain_of(story.weather)
    if days:
        with (folder / "weather_day.csv").open("w", newline="", encoding="utf-8") as file:
            out = csv.writer(file)
            out.writerow(["on", "min_c", "max_c", "rain_mm"])
            out.writerows([day.isoformat(), *days[day], rain.get(day, "")] for day in sorted(days))


def play(adviser: Adviser, story: Scenario, folder: Path) -> Iterator[tuple[Mapping[str, Any], dict[str, Any]]]:
    """Import a story's records and send its messages; yield what is expected and the reply, in their order."""
    files = folder / "files"
    files.mkdir()
    write_records(story, files)
    path = folder / "garden.db"
    with adviser.open(path, create=True) as garden:
        last = max(story.today, *(ask.get("today", story.today) for ask in story.asks))
        zone = story.place["time_zone"]
        noon = datetime.combine(last, time(12)).astimezone()
        import_path(garden, files, adviser.lore, noon)
        assert garden.zone().key == zone
        at = garden.zone()
    for number, ask in enumerate(story.asks):
        now = datetime.combine(ask.get("today", story.today), time(16, number % 60), at)
        yield ask, adviser.message({"text": ask["text"]}, now, path)


def _is(wanted: Mapping[str, Any], one: Mapping[str, Any]) -> bool:
    """Return whether a conclusion is the wanted one: its kind, claim, grade, side and subject as far as named."""
    return all(
        (one["about"].get(name) if name in ("plant", "spot", "species", "trial") else one.get(name)) == value
        for name, value in wanted.items()
    )


def wrong_with(ask: Mapping[str, Any], reply: Mapping[str, Any]) -> list[str]:
    """Return what of a reply is not as the story expects it."""
    found = []
    if "kind" in ask and reply.get("question", {}).get("kind") != ask["kind"]:
        return [f"understood as {reply.get('question')} ({reply['outcome']}), wanted {ask['kind']}: {reply['reply']}"]
    if "outcome" in ask and reply["outcome"] != ask["outcome"]:
        found.append(f"outcome {reply['outcome']}, wanted {ask['outcome']}")
    told = reply.get("conclusions", [])
    standing = [one for one in told if one.get("grade") != "ruled out"]
    firsts: dict[str, Mapping[str, Any]] = {}
    for one in standing:
        firsts.setdefault(one["kind"], one)
    last: dict[str, int] = {}
    led: set[str] = set()
    for wanted in ask.get("ranked", ()):
        hit = next((n for n, one in enumerate(standing) if _is(wanted, one)), None)
        if hit is None:
            found.append(f"not concluded: {wanted}")
            continue
        kind = standing[hit]["kind"]
        if kind not in led and not _is(wanted, firsts[kind]):
            found.append(f"{wanted} does not lead; {firsts[kind]['claim']} does")
        led.add(kind)
        if hit < last.get(kind, -1):
            found.append(f"out of order: {wanted}")
        last[kind] = max(hit, last.get(kind, -1))
    found += [
        f"must not be concluded: {wanted}" for wanted in ask.get("never", ()) if any(_is(wanted, o) for o in standing)
    ]
    out = {one["claim"] for one in told if one.get("grade") == "ruled out"}
    found += [f"not ruled out: {claim}" for claim in ask.get("ruled_out", ()) if claim not in out]
    cited = {entry["rule"] for entry in reply.get("because", ())}
    found += [f"rule not cited: {rule}" for rule in ask.get("rules", ()) if rule not in cited]
    asked = [lack["kind"] for lack in reply.get("lacking", ())]
    found += [f"not asked for: {kind}; asked {asked}" for kind in ask.get("lacking", ()) if kind not in asked]
    text = reply["reply"].casefold()
    found += [f"not said: {part!r}" for part in ask.get("says", ()) if part.casefold() not in text]
    found += [f"must not be said: {part!r}" for part in ask.get("says_not", ()) if part.casefold() in text]
    return found


def main(arguments: Sequence[str] | None = None) -> int:
    adviser = Adviser.load(Settings(Path("unset.db"), find_rules()))
    names = sys.argv[1:] if arguments is None else arguments
    faults = 0
    for path in [Path(name) for name in names] or sorted(FOLDER.glob("*.toml")):
        story = read_scenario(path)
        print(f"#### {path.stem}: {story.says}")
        with tempfile.TemporaryDirectory() as folder:
            for ask, reply in play(adviser, story, Path(folder)):
                print(f"\n> {ask['text']}\n{reply['reply']}\n")
                for one in reply.get("conclusions", ()):
                    rules = ", ".join(dict.fromkeys(reply["because"][n]["rule"] for n in one.get("because", ())))
                    print(f"  {one['kind']} {one['claim']} {one.get('grade', '')} {one['about']} [{rules}]")
                print(f"  lacking {[lack['kind'] for lack in reply.get('lacking', ())]}")
                for fault in wrong_with(ask, reply):
                    faults += 1
                    print(f"  !! {fault}")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
