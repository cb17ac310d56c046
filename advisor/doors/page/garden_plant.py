"""The page of one plant: what it is, where it stood, its years, the limbs of its stem, advice, and quick logging."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from advisor.conversation import Adviser
from advisor.doors.page.garden_about import Advised, Ask, advised, asks, known, new_link, record_link
from advisor.doors.page.garden_list import grown, pot_read, seen, steps_for
from advisor.doors.page.plan import plant_link, spot_link
from advisor.facts import Fact
from advisor.language.render import Speech, sentence_case
from advisor.reasoning.derive.plants import trunk_of
from advisor.reasoning.derive.scene import Scene
from advisor.reasoning.derive.stages import reached
from advisor.reasoning.state import garden_now
from advisor.records.history import RecordsOf
from advisor.records.stage_steps import Step, near, word_of
from advisor.records.store import Garden

MOST_YEARS = 6
MOST_MOVES = 6
RIPE = range(85, 90)
"""BBCH codes of ripening fruit (Meier (ed.), BBCH Monograph, 2nd ed., 2001)."""
FALLING = 91
LOGS = (("stage", "Another stage or day"), ("inspection", "A close look"), ("growth", "Growth"), ("work", "Work done"),
        ("move", "A move"), ("crop", "Fruit picked"), ("harm", "Harm"))  # fmt: skip


@dataclass(frozen=True, slots=True)
class Part:
    """A tree or a limb of it: its link, what it is, how far it is, and the limbs grafted on it."""

    name: str
    link: str
    says: str
    here: bool
    limbs: tuple[Part, ...]


@dataclass(frozen=True, slots=True)
class Year:
    """The first days of one growing year on which each milestone was seen, "" where it was not."""

    year: int
    days: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PlantPage:
    """What the page of a plant shows. ``told`` are triples of a label, what it says and a link or ""."""

    name: str
    told: tuple[tuple[str, str, str], ...]
    so_far: tuple[str, ...]
    milestones: tuple[str, ...]
    years: tuple[Year, ...]
    stood: tuple[tuple[str, str, str], ...]
    tree: Part | None
    steps: tuple[Step, ...]
    present: int | None
    advice: tuple[Advised, ...]
    asks: tuple[Ask, ...]
    logs: tuple[tuple[str, str], ...]
    record: str


def plant_page(adviser: Adviser, garden: Garden, today: date, name: str, speech: Speech) -> PlantPage:
    """Return what the page of a plant shows. Raise NotFound where there is none of that name."""
    row = known(garden, "plant", name)
    whole = Scene(garden, adviser.lore, today, "")
    trunk = trunk_of(whole, row) or row
    family = [trunk, *(one for one in whole.plants.values() if trunk_of(whole, one) is trunk)]
    names = tuple(dict.fromkeys([name, *(one.text("name") for one in family)]))
    records = RecordsOf(garden, names)
    now = {one["plant"]: one for one in garden_now(records, adviser.lore, today).plants}
    here = now.get(name) or {"spot": row.get("spot"), "growing": row.get("growing"), "under_cover": None, "bbch": None,
                             "condition": "not looked at", "stage": None, "stage_age_days": None}  # fmt: skip
    scene = Scene(records, adviser.lore, today, "")
    steps = steps_for(adviser.stage_words, adviser.lore, row.text("species"), row.text("cultivar"))
    present = int(here["bbch"]) if here["bbch"] is not None and here["condition"] != "not looked at" else None
    milestones, years = _years(adviser, scene, row, speech)
    return PlantPage(
        name,
        tuple(_told(row, trunk, here, steps, speech)),
        tuple(_so_far(scene, row, steps, speech)),
        milestones,
        years,
        tuple(_stood(scene, trunk, speech)),
        _part(adviser, trunk, family, now, name) if len(family) > 1 else None,
        tuple(near(steps, present)),
        present,
        tuple(_advice(adviser, garden, today, names, row, here, speech)),
        tuple(asks(f"What next for {speech.name(name)}?", f"Why is {speech.name(name)} late?")),
        tuple((new_link(kind, "plant", name), text) for kind, text in LOGS),
        record_link(row),
    )


def _told(
    row: Fact, trunk: Fact, here: Mapping[str, Any], steps: list[Step], speech: Speech
) -> Iterable[tuple[str, str, str]]:
    """Yield what is told of a plant and how it is now, as label, words and link."""
    yield "Now", sentence_case(seen(here, steps)), ""
    kind = speech.called.get(row.text("species"), row.text("species"))
    yield "Kind", sentence_case(kind), ""
    if row.text("cultivar"):
        yield "Cultivar", row.text("cultivar"), ""
    if row.text("rootstock"):
        yield "Rootstock", row.text("rootstock"), ""
    if row.text("grafted_on"):
        yield "Grafted on", row.text("grafted_on"), plant_link(row.text("grafted_on"))
    spot = here["spot"] or ""
    yield "Stands at", spot or "not clear", spot_link(spot) if spot else ""
    if grown(here):
        yield "Grown", grown(here), ""
    if pot_read(here, speech):
        yield "Pot soil", pot_read(here, speech).removeprefix("pot soil "), ""
    if row.number("pot_litres"):
        yield "Pot", speech.value("pot_litres", row.values["pot_litres"]), ""
    if planted := row.day("planted"):
        yield "Planted", speech.day(planted), ""


def _so_far(scene: Scene, row: Fact, steps: list[Step], speech: Speech) -> Iterable[str]:
    """Yield each stage seen in this growing year with its first day."""
    told: set[int] = set()
    for stage in scene.of_plant("stage", row.text("name")):
        day, code = stage.day("on"), int(stage.number("bbch") or 0)
        if day and day >= scene.year_start and code not in told:
            told.add(code)
            yield f"{stage.text('words') or word_of(steps, code)} on {speech.day(day)}"


def _years(adviser: Adviser, scene: Scene, row: Fact, speech: Speech) -> tuple[tuple[str, ...], tuple[Year, ...]]:
    """Return the milestones of a plant's kind, and the first day of each in this year and the years before."""
    species = adviser.lore.species.get(row.text("species"))
    blooms = species is None or species.bloom != "hidden"
    milestones = ("swelling", "awake", *(("in bloom",) if blooms else ()), "ripe", "leaf fall")
    found: dict[int, dict[str, date]] = {scene.year: {}}

    def note(day: date, *passed: str) -> None:
        for one in passed:
            found.setdefault(scene.year_of(day), {}).setdefault(one, day)

    for stage in scene.of_plant("stage", row.text("name")):
        if day := stage.day("on"):
            code = int(stage.number("bbch") or 0)
            note(day, *(one for one in milestones if _passed(one, code)))
    for crop in scene.of_plant("crop", row.text("name")):
        if day := crop.day("on"):
            note(day, "ripe")
            days = found[scene.year_of(day)]
            days["ripe"] = min(days["ripe"], day)
    years = sorted(found, reverse=True)[:MOST_YEARS]
    return milestones, tuple(
        Year(year, tuple(_short(found[year].get(one), speech) for one in milestones)) for year in years
    )


def _passed(milestone: str, code: int) -> bool:
    match milestone:
        case "swelling":
            return code in (1, 3, 5, 51, 52)
        case "awake":
            return reached(code, "waking")
        case "in bloom":
            return 60 <= code < 70
        case "ripe":
            return code in RIPE
    return code >= FALLING


def _short(day: date | None, speech: Speech) -> str:
    if day is None:
        return ""
    return f"{day:%b} {day.day}" if speech.units == "us" else f"{day.day} {day:%b}"


def _stood(scene: Scene, trunk: Fact, speech: Speech) -> Iterable[tuple[str, str, str]]:
    """Yield where a tree stood and since when, the present place first; a limb stood where its tree did."""
    moves = [(move.day("on"), move.text("to_spot")) for move in scene.of_plant("move", trunk.text("name"))]
    first = [(trunk.day("planted"), trunk.text("spot"))] if trunk.text("spot") else []
    for day, spot in list(reversed([*first, *moves]))[:MOST_MOVES]:
        yield spot, spot_link(spot), f"since {speech.day(day)}" if day else "from the start"


def _part(adviser: Adviser, row: Fact, family: list[Fact], now: Mapping[str, Mapping[str, Any]], here: str) -> Part:
    """Return a tree with its limbs, and theirs, each with how far it is."""
    name = row.text("name")
    steps = steps_for(adviser.stage_words, adviser.lore, row.text("species"), row.text("cultivar"))
    says = [row.text("cultivar"), seen(now[name], steps) if name in now else ""]
    limbs = [one for one in family if one.text("grafted_on") == name and one is not row]
    return Part(
        name, plant_link(name), ", ".join(one for one in says if one), name == here,
        tuple(_part(adviser, one, family, now, here) for one in limbs),
    )  # fmt: skip


def _advice(
    adviser: Adviser,
    garden: Garden,
    today: date,
    names: tuple[str, ...],
    row: Fact,
    here: Mapping[str, Any],
    speech: Speech,
) -> list[Advised]:
    """Return the advice kept for a plant, and for the spot it stands at where it names no plant."""
    spots = tuple(str(one) for one in (here["spot"],) if one)
    mine = [
        fact for fact in RecordsOf(garden, names, spots).of("advice") if fact.text("plant") in ("", row.text("name"))
    ]
    first = min((day for fact in mine if (day := fact.day("on"))), default=today)
    named = tuple(dict.fromkeys([*spots, *(fact.text("spot") for fact in mine if fact.text("spot"))]))
    records = RecordsOf(garden, names, named, since=first - timedelta(days=1))
    return advised(adviser, Scene(records, adviser.lore, today, ""), mine, speech)
