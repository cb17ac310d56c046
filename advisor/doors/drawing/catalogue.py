"""Every picture by its name: what it shows, told for one garden on one day, and kept while nothing new is recorded."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from threading import Lock
from typing import Any

from advisor.conversation import Adviser
from advisor.doors.drawing import frost_years, season, soil, stages, sun, tonight
from advisor.doors.drawing.telling import Telling, nothing_yet
from advisor.errors import BadInput, NotFound
from advisor.facts import Fact
from advisor.language.render import Speech
from advisor.reasoning.derive.scene import Scene
from advisor.reasoning.pictures import SHOW, Choice, Nothing, Shown, in_order
from advisor.records.store import Garden

MOST_KEPT = 96
"""Tellings that are kept, some 50 kB each at ten years of records and 300 plants."""


@dataclass(frozen=True, slots=True)
class Entry:
    """A picture: its question, what of it may be chosen, and how what it shows is told."""

    question: str
    choices: tuple[str, ...]
    tell: Callable[[Any, Speech], Telling]


PICTURES: Mapping[str, Entry] = {
    "tonight": Entry(tonight.QUESTION, ("spot", "plant"), tonight.tell_tonight),
    "soil": Entry(soil.QUESTION, ("spot", "plant", "year"), soil.tell_soil),
    "stages": Entry(stages.QUESTION, ("spot", "plant", "kind"), stages.tell_stages),
    "season": Entry(season.QUESTION, ("plant", "kind"), season.tell_season),
    "frost-years": Entry(frost_years.QUESTION, ("spot", "plant", "kind"), frost_years.tell_frost_years),
    "sun": Entry(sun.QUESTION, ("spot", "plant"), sun.tell_sun),
}
"""The pictures in the order of ``advisor.reasoning.pictures.SHOW``."""


def check_name(name: str) -> str:
    """Return a picture's name. Raise NotFound, saying which there are, where there is none of that name."""
    if name not in PICTURES:
        raise NotFound("looking for a picture", f"none called {name!r}", f"There are {', '.join(PICTURES)}")
    return name


def read_choice(adviser: Adviser, garden: Garden, given: Mapping[str, list[str]]) -> Choice:
    """Return a choice as asked by name, empty texts left out. Raise NotFound or BadInput for what is not there."""
    asked = {key: [value for value in values if value.strip()] for key, values in given.items()}
    spots = tuple(dict.fromkeys(_known("spot", name, garden.names("spot")) for name in asked.get("spot", ())))
    plant = next((_known("plant", name, garden.names("plant")) for name in asked.get("plant", ())), "")
    kind = next((_kind(adviser, name) for name in asked.get("kind", ())), "")
    years = asked.get("year", [])
    if years and not (years[0].isascii() and years[0].isdigit() and len(years[0]) == 4):
        raise BadInput("reading the year of a picture", repr(years[0]), "Give it with four digits, as 2026")
    return Choice(spots, plant, kind, int(years[0]) if years else None)


def _known(kind: str, name: str, names: list[str]) -> str:
    same = [one for one in names if one == name] or [one for one in names if one.casefold() == name.strip().casefold()]
    if not same:
        raise NotFound(f"looking for a {kind} to picture", f"none called {name!r}", "Names are those of your records")
    return same[0]


def _kind(adviser: Adviser, name: str) -> str:
    wanted = name.strip().casefold()
    for one in adviser.lore.species.values():
        if wanted in (one.id.casefold(), one.name.casefold(), *(word.casefold() for word in one.names)):
            return one.id
    raise NotFound("looking for a kind of tree to picture", f"none called {name!r}", "Try fig, apricot or another kind")


class Kept:
    """What was shown and told lately, the longest unused given up first. Safe to use from several threads."""

    def __init__(self, most: int = MOST_KEPT) -> None:
        self._found: OrderedDict[object, tuple[Shown, Telling]] = OrderedDict()
        self._lock = Lock()
        self._most = most
        self.made = 0

    def get(self, key: object, make: Callable[[], tuple[Shown, Telling]]) -> tuple[Shown, Telling]:
        with self._lock:
            if key in self._found:
                self._found.move_to_end(key)
                return self._found[key]
        made = make()
        with self._lock:
            self.made += 1
            self._found[key] = made
            while len(self._found) > self._most:
                self._found.popitem(last=False)
        return made

    def __len__(self) -> int:
        return len(self._found)


KEPT = Kept()


@dataclass(frozen=True)
class LooksOfThisYear:
    """A garden's records without the looks at plants of earlier growing years, for what asks of today alone."""

    garden: Garden
    first: date

    def of(self, kind: str) -> list[Fact]:
        return self.garden.since(kind, self.first) if kind == "stage" else self.garden.of(kind)

    def who_said(self, kind: str) -> Mapping[int, str]:
        return self.garden.who_said(kind)


@dataclass(frozen=True)
class Gallery:
    """The pictures of one open garden on one day."""

    adviser: Adviser
    garden: Garden
    today: date
    kept: Kept = KEPT

    def __post_init__(self) -> None:
        """Make the one scene that all pictures of this moment share."""
        object.__setattr__(self, "_scene", Scene(self.garden, self.adviser.lore, self.today, ""))

    @property
    def scene(self) -> Scene:
        scene = self.__dict__["_scene"]
        assert isinstance(scene, Scene)
        return scene

    def tell(self, name: str, choice: Choice = Choice()) -> Telling:  # noqa: B008  # it cannot be changed
        """Return a picture told; the same as before where nothing was recorded since."""
        scene = self.scene
        if check_name(name) == "tonight":  # ten years of looks take longer to read than all else that it needs
            scene = Scene(LooksOfThisYear(self.garden, scene.year_start), scene.lore, scene.today, "")
        return self._told(name, choice, scene)[1]

    def tell_all(self) -> list[Telling]:
        """Return every picture as it chooses for itself, what matters today first."""
        told = {name: self._told(name, Choice(), self.scene) for name in PICTURES}
        order = in_order(self.scene, {name: shown for name, (shown, _) in told.items()})
        return [told[name][1] for name in order]

    def _told(self, name: str, choice: Choice, scene: Scene) -> tuple[Shown, Telling]:
        key = (str(self.garden.path), self.garden.state(), id(self.adviser), self.today, name, choice)
        return self.kept.get(key, lambda: self._make(name, choice, scene))

    def _make(self, name: str, choice: Choice, scene: Scene) -> tuple[Shown, Telling]:
        entry, speech = PICTURES[name], self.adviser.speech(self.garden, self.today)
        shown = SHOW[name](scene, choice)
        if isinstance(shown, Nothing):
            return shown, nothing_yet(name, entry.question, shown, speech)
        return shown, entry.tell(shown, speech)
