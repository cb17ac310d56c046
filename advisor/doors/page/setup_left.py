"""How far a garden is set up: what each step holds, what can be asked now, and what one more record would bring."""

from __future__ import annotations

from dataclasses import dataclass

from advisor.conversation import Adviser
from advisor.language.render import Speech
from advisor.records.store import Garden

STEPS = (("place", "The place"), ("spots", "Spots"), ("plants", "Plants"), ("weather", "Weather"), ("done", "Ready"))


@dataclass(frozen=True)
class Held:
    """What a garden holds of a step: a word on it, and whether the step may be passed."""

    name: str
    title: str
    holds: str
    there: bool


def held(garden: Garden | None) -> list[Held]:
    """Return the steps with what the garden holds of each; without a garden nothing is there."""
    place = garden.place().text("name") if garden and garden.of("place") else ""
    counts = {kind: len(garden.names(kind)) if garden else 0 for kind in ("spot", "plant")}
    days = weather_days(garden) if garden else 0
    holds = {
        "place": place, "spots": _count(counts["spot"], "spot"), "plants": _count(counts["plant"], "plant"),
        "weather": f"{_count(days, 'day')} of weather" if days else "", "done": "",
    }  # fmt: skip
    return [Held(name, title, holds[name], bool(holds[name])) for name, title in STEPS]


def next_step(steps: list[Held]) -> str:
    """Return the first step of which nothing is there yet; weather may be passed over."""
    return next((one.name for one in steps if not one.there and one.name != "weather"), "done")


def _count(number: int, what: str) -> str:
    return f"{number:,} {what}{'' if number == 1 else 's'}" if number else ""


def weather_days(garden: Garden) -> int:
    """Return how many days of weather a garden holds, without reading them."""
    (count,) = garden.db.conn.execute("SELECT COUNT(*) FROM weather_day").fetchone()
    return int(count)


NEEDS = {
    "where-to-plant": "spot", "what-to-plant": "spot", "compare-spots": "spots", "wrong-spot": "plant",
    "why-late": "plant", "what-next": "plant", "frost-tonight": "plant", "pots-out": "pot", "when-wake": "plant",
    "what-to-measure": "spot",
}  # fmt: skip
"""Questions worth a try at the start, and what must be told first for each."""


def askable(adviser: Adviser, garden: Garden, speech: Speech) -> list[str]:
    """Return questions that the garden can be asked now, with its own names in them."""
    plants, spots = garden.of("plant"), garden.names("spot")
    there = {"spot": bool(spots), "spots": len(spots) > 1, "plant": bool(plants)}
    there["pot"] = any(fact.text("growing") == "pot" for fact in plants)
    plant = speech.name(plants[0].text("name")) if plants else ""
    species = speech.called.get(plants[0].text("species"), "fig") if plants else "fig"
    spot = speech.name(spots[0]) if spots else ""
    return [
        adviser.questions[name].suggest.format(plant=plant, species=species, spot=spot)
        for name, needed in NEEDS.items()
        if there[needed] and name in adviser.questions
    ]


def brings(garden: Garden, us: bool) -> list[tuple[str, str]]:
    """Return what is not recorded yet, each with what it would bring and how to tell it."""
    spots, plants = garden.of("spot"), garden.of("plant")
    spot = spots[0].text("name") if spots else "south wall"
    plant = plants[0].text("name") if plants else "wall fig"
    reading = "54 °F at 4 in" if us else "12 °C at 10 cm"
    low = "28" if us else "-2"
    unplaced = [one.text("name") for one in plants if not one.get("spot")]
    open_air = [one for one in spots if one.text("under_cover") in ("", "none") and one.get("plantable") is not False]
    blank = [one.text("name") for one in open_air if not one.get("aspect")]
    lacking = (
        (not spots, "A spot", "where a new tree belongs. Tell: new spot: south wall, faces south"),
        (not plants, "A plant", "why it is late and what it wants next. Tell: new plant: fig, call it wall fig"),
        (not weather_days(garden), "A weather file", "when frosts come here, when a tree wakes, how each spot fared"),
        (plants and not garden.of("stage"), "How far a plant is",
         f"whether it is late, and what frost it stands. Tell: {plant} still asleep"),
        (spots and not garden.of("soil_reading"), "A soil reading",
         f"which spot is warmer, once two are read together. Tell: soil at {spot} {reading}, sun"),
        (plants and not garden.of("forecast_day"), "Tonight’s forecast",
         f"which plants are in danger. Tell: {low} tonight, clear"),
        (unplaced, "Where each plant stands", f"its sun, soil and frost. Not told yet of {_few(unplaced)}"),
        (blank, "Which way a spot faces", f"its warmth and its frost. Not told yet of {_few(blank)}"),
    )  # fmt: skip
    return [(what, why) for lacks, what, why in lacking if lacks]


def _few(names: list[str]) -> str:
    return ", ".join(names[:3]) + (f" and {len(names) - 3} more" if len(names) > 3 else "")
