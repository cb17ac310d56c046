"""Whom and when a unit speaks of: its plants, its spot, its day; what is open comes back as a question."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime

from advisor.facts import Value
from advisor.language.said.drafts import Draft, Open, Way
from advisor.language.said.mentions import Mention, Subjects
from advisor.language.said.subjects import nearest_names, unnamed_place
from advisor.language.said.unit import Ears, Unit
from advisor.language.when import Said, moment_of

MOST_WAYS = 6
MOST_SINCE = 14
"""Days back to which "since Tuesday" means that it was so from that day (house judgement)."""


@dataclass
class Result:
    """What reading a unit gave. ``beside`` is what is said beside the records that it makes."""

    drafts: list[Draft] = field(default_factory=list)
    open: list[Open] = field(default_factory=list)
    beside: list[str] = field(default_factory=list)

    @classmethod
    def asking(cls, ask: str, *ways: Way) -> Result:
        return cls(open=[Open(ask, ways[:MOST_WAYS])])


Build = Callable[[Sequence[str]], list[Draft]]


def each(kind: str, values: Mapping[str, Value], about: str = "plant") -> Build:
    """Return what makes one record of a kind for each name."""
    return lambda names: [Draft(kind, {about: name, **values}) for name in names]


def for_plants(unit: Unit, ears: Ears, build: Build, what: str) -> Result:
    """Return the records of each plant that a unit speaks of, or which plant to ask for. ``what`` is said of it."""
    stray = stray_place(unit)
    plants = unit.plants()
    if not plants:
        return _no_plant(unit, ears, build, what, stray)
    unsure = [one for one in plants if not one.sure]
    sure = [name for one in plants if one.sure for name in one.names]
    if not unsure:
        return Result(drafts=build(list(dict.fromkeys(sure))))
    return _which(unsure[0], sure, ears, build, what)


def stray_place(unit: Unit) -> str:
    """Return a place that a unit names and that is nothing in the garden, "" for none."""
    subjects = Subjects(tuple(unit.mentions))
    return next((stray for piece in unit.pieces if (stray := unnamed_place(piece.text, subjects, piece.start))), "")


def _which(mention: Mention, sure: Sequence[str], ears: Ears, build: Build, what: str) -> Result:
    if not mention.names:
        near = nearest_names(mention.unknown, [plant.name for plant in ears.yard.plants])
        ways = [Way(name, tuple(build([*sure, name]))) for name in near]
        return Result.asking(f"I know no plant called {mention.unknown!r}. Which plant {what}?", *ways)
    ways = [Way(name, tuple(build([*sure, name]))) for name in mention.names]
    if mention.all_of_kind and len(mention.names) > 1:
        ways = [*ways[: MOST_WAYS - 1], Way("all of them", tuple(build([*sure, *mention.names])))]
    return Result.asking(f"Which plant {what}?", *ways)


def _no_plant(unit: Unit, ears: Ears, build: Build, what: str, stray: str) -> Result:
    spots = [name for one in unit.spots() for name in one.names]
    there = [plant.name for plant in ears.yard.plants if plant.spot in spots]
    if spots:
        ways = [Way(name, tuple(build([name]))) for name in there]
        return Result.asking(f"Which plant at the {spots[0]} {what}?", *ways)
    if stray:
        near = nearest_names(stray, [plant.name for plant in ears.yard.plants])
        ways = [Way(name, tuple(build([name]))) for name in near]
        return Result.asking(f"I know no plant called {stray!r}. Which plant {what}?", *ways)
    if EVERYTHING.search(unit.text):
        every = [plant.name for plant in ears.yard.plants]
        pots = [plant.name for plant in ears.yard.plants if plant.in_pot]
        groups = {"all the pots": pots, "every plant": every}
        ways = [Way(group, tuple(build(names))) for group, names in groups.items() if names]
        return Result.asking(f"Which plants {what.replace('was ', 'were ', 1)}?", *ways)
    return Result.asking(f"Which plant {what}?")


EVERYTHING = re.compile(r"\b(?:everything|every one|all of them|them all|the lot)\b", re.IGNORECASE)


def for_spots(unit: Unit, ears: Ears, build: Build, what: str) -> Result:
    """Return the records of each spot that a unit speaks of, a plant in the ground standing for its spot."""
    stray = stray_place(unit)
    unsure = [one for one in unit.mentions if not one.sure]
    if unsure:
        names = [_spot_of(name, ears) if unsure[0].kind == "plant" else name for name in unsure[0].names]
        if unsure[0].kind == "plant" and len(set(names)) == 1 and names[0]:
            return Result(drafts=build([names[0]]))
        ways = [Way(shown, tuple(build([spot]))) for shown, spot in zip(unsure[0].names, names, strict=True) if spot]
        return Result.asking(f"Which spot {what}?", *ways)
    spots = [name for one in unit.spots() for name in one.names]
    if not spots:
        spots = [_spot_of(name, ears) for one in unit.plants() for name in one.names]
    spots = list(dict.fromkeys(spot for spot in spots if spot))
    if spots and not (stray and not unit.spots() and unit.inherited):
        return Result(drafts=build(spots))
    near = nearest_names(stray, [spot.name for spot in ears.yard.spots]) if stray else []
    ways = [Way(name, tuple(build([name]))) for name in near]
    lead = f"I know no spot called {stray!r}. " if stray else ""
    return Result.asking(f"{lead}Which spot {what}?", *ways)


def _spot_of(plant: str, ears: Ears) -> str:
    found = ears.yard.plant(plant)
    return found.spot if found else ""


# ---- when


def said_time(unit: Unit, shared: Sequence[Said]) -> Said | None:
    """Return the time that a unit tells, its own before the sentence's."""
    today = max((time.day for time in (*unit.times, *shared)), default=None)
    usable = [
        time for time in (*unit.times, *shared) if not time.since or (today and (today - time.day).days <= MOST_SINCE)
    ]
    return next(iter(usable), None)


def day_of(unit: Unit, ears: Ears, shared: Sequence[Said]) -> date | Open:
    """Return the day that a unit speaks of, today unless it tells another; a question where it cannot be."""
    said = said_time(unit, shared)
    if said is None:
        return ears.now.date()
    if said.unclear:
        return Open(f"Which day is meant by {said.text!r}? {said.unclear}.".replace("..", "."))
    if said.day > ears.now.date() or (said.to_come and said.day >= ears.now.date() and said.part != "night"):
        if said.day == ears.now.date():
            return Open("That time has not come yet. When was it?")
        return Open(f"That day, {said.day.day} {said.day:%B}, has not come yet. When was it?")
    if said.last_day is not None and said.last_day != said.day and not said.since:
        return Open(f"{said.text!r} is several days. On which day was it?")
    return said.day


def time_of(unit: Unit, ears: Ears, shared: Sequence[Said]) -> datetime | Open:
    """Return the moment that a reading is logged at."""
    day = day_of(unit, ears, shared)
    if isinstance(day, Open):
        return day
    moment = moment_of(said_time(unit, shared), ears.now)
    if moment > ears.now:
        return Open("That time has not come yet. When was it read?")
    return moment
