"""The lists of the garden page: spots and plants with their state in words, filtered and paged."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from advisor.conversation import Adviser
from advisor.doors.page.plan import CONDITIONS, ROOFS, plant_link, spot_link
from advisor.facts import Fact
from advisor.language.render import Speech, counted, listed
from advisor.records.species import Lore
from advisor.records.stage_steps import Step, steps_of, word_of
from advisor.records.stage_words import StageWords

PLANTS_A_PAGE, SPOTS_A_PAGE = 50, 30
STATES = (*CONDITIONS, "in pots", "under cover")


@dataclass(frozen=True, slots=True)
class Row:
    """One line of a list: a name with its link, and what is said of it; ``group`` is the heading it stands under."""

    name: str
    link: str
    says: tuple[str, ...]
    condition: str = ""
    group: str = ""
    group_link: str = ""


@dataclass(frozen=True, slots=True)
class Page:
    """Some rows of a list: which page of how many, and where the pages before and after are."""

    rows: tuple[Row, ...]
    total: int
    number: int
    pages: int
    before: str = ""
    after: str = ""


@dataclass(frozen=True, slots=True)
class Wanted:
    """Which plants are wanted; "" for all."""

    kind: str = ""
    place: str = ""
    state: str = ""

    @property
    def query(self) -> dict[str, str]:
        told = {"kind": self.kind, "place": self.place, "state": self.state}
        return {name: value for name, value in told.items() if value}

    def takes(self, plant: Mapping[str, Any]) -> bool:
        """Return whether a plant, as the state gives it, is among those wanted."""
        if (self.kind and plant["species"] != self.kind) or (self.place and (plant["spot"] or "") != self.place):
            return False
        match self.state:
            case "":
                return True
            case "in pots":
                return bool(plant["growing"] == "pot")
            case "under cover":
                return plant["under_cover"] in ROOFS
        return bool(plant["condition"] == self.state)


def steps_for(words: StageWords, lore: Lore, species: str, cultivar: str = "") -> list[Step]:
    """Return the stages of a plant's kind in their order, those of a kind that is not known as for leaves first."""
    known = lore.species.get(species)
    flowers = bool(known and known.trait(cultivar, "flowers_first"))
    return steps_of(words, species, flowers_first=flowers)


def ago(days: int | None) -> str:
    return {None: "", 0: "today", 1: "yesterday"}.get(days, f"{days} days ago")


def seen(plant: Mapping[str, Any], steps: Sequence[Step]) -> str:
    """Return how far a plant is and when that was seen; a look of an earlier growing year is told as that."""
    if plant["bbch"] is None:
        return "never looked at"
    word = plant["stage"] if not str(plant["stage"]).startswith("BBCH ") else word_of(list(steps), int(plant["bbch"]))
    if plant["condition"] == "not looked at":
        return f"not looked at this year; last {word}, {ago(plant['stage_age_days'])}"
    return f"{word}, seen {ago(plant['stage_age_days'])}"


def grown(plant: Mapping[str, Any]) -> str:
    """Return how a plant is grown and what is over it."""
    where = {"pot": "in a pot", "ground": "in the ground"}.get(plant["growing"] or "", "")
    under = ROOFS.get(plant["under_cover"] or "", "")
    return ", ".join(part for part in (where, under) if part)


def pot_read(plant: Mapping[str, Any], speech: Speech) -> str:
    """Return the last reading in a plant's pot and its age, "" where none is recorded."""
    if plant.get("pot_c") is None:
        return ""
    return f"pot soil {speech.value('temp_c', plant['pot_c'])}, read {ago(plant['pot_age_days'])}"


def plant_rows(
    adviser: Adviser, plants: Sequence[Mapping[str, Any]], facts: Mapping[str, Fact], speech: Speech
) -> list[Row]:
    """Return plants as rows, those of one place together, by name."""
    steps: dict[str, list[Step]] = {}
    rows = []
    for plant in sorted(
        plants, key=lambda one: (one["spot"] is None, (one["spot"] or "").casefold(), one["plant"].casefold())
    ):
        species = plant["species"]
        if species not in steps:
            steps[species] = steps_for(adviser.stage_words, adviser.lore, species)
        cultivar = facts[plant["plant"]].text("cultivar")
        kind = speech.called.get(species, species)
        what = f"{kind}, {cultivar}" if cultivar else kind
        says = (what, seen(plant, steps[species]), grown(plant), pot_read(plant, speech))
        spot = plant["spot"] or ""
        rows.append(
            Row(
                plant["plant"], plant_link(plant["plant"]), tuple(part for part in says if part), plant["condition"],
                spot or "place not clear", spot_link(spot) if spot else "",
            )
        )  # fmt: skip
    return rows


def spot_rows(spots: Sequence[Mapping[str, Any]], plants: Iterable[Mapping[str, Any]], speech: Speech) -> list[Row]:
    """Return spots as rows, in the order told: cover, last soil reading and its age, and what stands there."""
    there: dict[str, Counter[str]] = {}
    for plant in plants:
        there.setdefault(plant["spot"] or "", Counter())[plant["condition"]] += 1
    return [
        Row(
            one["spot"],
            spot_link(one["spot"]),
            (covered(one, speech), f"soil {soil_read(one, speech)}", _standing(there.get(one["spot"], Counter()))),
        )
        for one in spots
    ]


def covered(spot: Mapping[str, Any], speech: Speech) -> str:
    if not spot["cover"]:
        return "cover not told"
    if spot["cover"] == "bare":
        return "bare soil"
    deep = f", {speech.value('depth_cm', spot['depth_cm'])}" if spot["depth_cm"] else ""
    return f"{spot['cover']}{deep}"


def soil_read(spot: Mapping[str, Any], speech: Speech) -> str:
    """Return the last soil reading and its age."""
    if spot["soil_c"] is None:
        return "never read"
    return f"{speech.value('temp_c', spot['soil_c'])}, read {ago(spot['soil_age_days'])}"


def _standing(seen: Counter[str]) -> str:
    count = sum(seen.values())
    if not count:
        return "no plants"
    return f"{counted(count, 'plant')}: {listed([f'{seen[one]} {one}' for one in CONDITIONS if seen[one]])}"


def paged(rows: Sequence[Row], number: int, size: int, base: str, name: str, query: Mapping[str, str]) -> Page:
    """Return one page of rows; a page that is not there is the nearest that is. ``name`` is its word in the address."""
    pages = max(1, -(-len(rows) // size))
    number = min(max(1, number), pages)

    def to(page: int) -> str:
        return f"{base}?{urlencode({**query, name: page})}"

    return Page(
        tuple(rows[(number - 1) * size : number * size]), len(rows), number, pages,
        to(number - 1) if number > 1 else "", to(number + 1) if number < pages else "",
    )  # fmt: skip
