"""The page of one spot: what is told of it, its state now, its plants, and what may be asked and logged."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from advisor.conversation import Adviser
from advisor.doors.page.garden_about import Advised, Ask, advised, asks, known, new_link, record_link
from advisor.doors.page.garden_list import Row, covered, plant_rows, soil_read
from advisor.doors.page.plan import spot_link
from advisor.doors.page.setup_rows import COVERS, SIDES
from advisor.facts import Fact, Value
from advisor.language.render import Speech, counted, label, sentence_case
from advisor.reasoning.derive.nights import offset_of
from advisor.reasoning.derive.places import outlook_of, sun_figures
from advisor.reasoning.derive.scene import Scene
from advisor.reasoning.state import Now
from advisor.records.history import RecordsOf
from advisor.records.store import Garden

BESIDE_DAYS = 1
"""Soils read farther apart than this say little beside each other: soil follows the weather (house judgement)."""
MOST_BESIDE = 6
LOGS = (("soil_reading", "Soil reading"), ("cover", "Cover put on or off"), ("work", "Work done"),
        ("obstruction", "What hides the sun"))  # fmt: skip
APART = ("name", "sun_h", "spring_sun_h")


@dataclass(frozen=True, slots=True)
class SpotPage:
    """What the page of a spot shows; ``told`` and ``now`` are pairs of a label and what it says."""

    name: str
    told: tuple[tuple[str, str], ...]
    now: tuple[tuple[str, str], ...]
    beside: tuple[Row, ...]
    plants: tuple[Row, ...]
    advice: tuple[Advised, ...]
    asks: tuple[Ask, ...]
    logs: tuple[tuple[str, str], ...]
    record: str


def spot_page(adviser: Adviser, garden: Garden, now: Now, name: str, speech: Speech) -> SpotPage:
    """Return what the page of a spot shows. Raise NotFound where there is none of that name."""
    row = known(garden, "spot", name)
    here = next(one for one in now.spots if one["spot"] == name)
    standing = [plant for plant in now.plants if plant["spot"] == name]
    facts = {fact.text("name"): fact for fact in garden.of("plant")}
    scene = Scene(RecordsOf(garden, spots=(name,)), adviser.lore, now.day, "")
    sayings = [("Cover", covered(here, speech)), ("Soil", soil_read(here, speech))]
    sayings += [("Sun", text) for text in (_sun(scene, row, speech),) if text]
    sayings.append(("Cold nights", _cold(adviser, garden, row, now.day, speech)))
    kinds = adviser.base.kinds["spot"].fields
    told = [
        (sentence_case(label(field)), _value(field, value, speech))
        for field in kinds
        if field not in APART and (value := row.get(field)) is not None
    ]
    advice = [fact for fact in scene.records.of("advice") if not fact.get("plant")]
    return SpotPage(
        name,
        tuple(told),
        tuple(sayings),
        tuple(_beside(now, here, speech)),
        tuple(plant_rows(adviser, standing, facts, speech)),
        tuple(advised(adviser, _about(scene, advice), advice, speech)),
        tuple(_asks(row, now, speech)),
        tuple((new_link(kind, "spot", name), text) for kind, text in LOGS),
        record_link(row),
    )


def _value(field: str, value: Value, speech: Speech) -> str:
    if field == "bearing_deg":
        return f"{float(str(value)):g} degrees, seen from the house door"
    if field in ("aspect", "wall_side"):
        return SIDES.get(str(value), str(value))
    if field == "under_cover":
        return COVERS.get(str(value), str(value))
    return counted(float(str(value)), "degree") if field.endswith("_deg") else speech.value(field, value, article=False)


def _about(scene: Scene, advice: list[Fact]) -> Scene:
    """Return a scene in which weather is read only as far back as advice is judged by it."""
    first = min((day for row in advice if (day := row.day("on"))), default=scene.today)
    assert isinstance(scene.records, RecordsOf)
    scene.records.since = first - timedelta(days=1)
    return scene


def _sun(scene: Scene, row: Fact, speech: Speech) -> str:
    """Return the hours of sun, reckoned where it is told what hides the sky, else as counted."""
    seen = outlook_of(scene, row.text("name"))
    if seen:
        figures = sun_figures(scene, seen[0])
        return (
            f"{counted(figures['midsummer_h'], 'hour')} on a clear midsummer day, {figures['spring_h']:g} in spring, "
            f"give or take {figures['plus_minus_h']:g}: reckoned from what stands around it"
        )
    parts = [(row.number("sun_h"), "near midsummer"), (row.number("spring_sun_h"), "in mid-spring")]
    told = [f"{counted(hours, 'hour')} {when}" for hours, when in parts if hours is not None]
    return f"{' and '.join(told)} on a clear day, as you told" if told else ""


def _cold(adviser: Adviser, garden: Garden, row: Fact, today: date, speech: Speech) -> str:
    """Return how cold the spot runs on clear nights, where a thermometer of its own has measured it."""
    name = row.text("name")
    thing = garden.things()[name, "spot"]
    if garden.picked("weather_day", "id IN (SELECT id FROM weather_day WHERE spot = ? LIMIT 1)", [thing]):
        found = offset_of(Scene(garden, adviser.lore, today, ""), name)
        if found:
            offset = found[0]
            size = speech.number(offset.colder_by_k, "k")
            nights = counted(offset.nights, "calm clear night")
            if offset.differs:
                return f"{size} {'colder' if offset.colder_by_k > 0 else 'milder'} than the station, over {nights}"
            return f"no clear difference from the station, over {nights}"
        return "a thermometer hangs here; too few calm clear nights are recorded beside the station to compare"
    if row.get("low_lying") is True:
        return "cold air gathers there, as you told; how much colder it runs was never measured"
    return "never measured: hang a minimum thermometer there on five calm clear nights"


def _beside(now: Now, here: Mapping[str, Any], speech: Speech) -> list[Row]:
    """Return the other soils that were read about when this one was, the warmest first."""
    if here["soil_c"] is None:
        return []
    near = [
        one
        for one in now.spots
        if one is not here
        and one["soil_c"] is not None
        and abs(one["soil_age_days"] - here["soil_age_days"]) <= BESIDE_DAYS
    ]
    ordered = sorted(near, key=lambda one: (-one["soil_c"], one["spot"]))[:MOST_BESIDE]
    return [Row(one["spot"], spot_link(one["spot"]), (soil_read(one, speech),)) for one in ordered]


def _asks(row: Fact, now: Now, speech: Speech) -> list[Ask]:
    """Return the questions that fit a spot: what to plant where there is soil to plant in, and beside which it is."""
    name = row.text("name")
    texts = []
    if row.text("under_cover") != "shelter" and row.get("plantable") is not False:
        texts.append(f"What could I plant at {speech.name(name)}?")
    others = [one for one in now.spots if one["spot"] != name and one["soil_c"] is not None]
    nearest = min(others, key=lambda one: (one["soil_age_days"], one["spot"]), default=None)
    if nearest is not None:
        texts.append(f"Compare {speech.name(name)} and {speech.name(nearest['spot'])}")
    texts.append(f"Show me the records of {speech.name(name)}")
    return asks(*texts)
