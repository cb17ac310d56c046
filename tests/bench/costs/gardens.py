"""Invented gardens of each size, the questions asked in them, and what is forgotten or told between two of these."""

from __future__ import annotations

import gc
import shutil
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from functools import cached_property
from itertools import count
from pathlib import Path
from tempfile import TemporaryDirectory
from time import perf_counter

from grown_garden import TODAY, synthetic_garden

from advisor.calc.kept_years import KEPT as KEPT_YEARS
from advisor.calc.replay_years import REPLAYS
from advisor.config import Settings, find_rules
from advisor.conversation import Adviser
from advisor.doors.garbage import look_for_garbage_seldom
from advisor.reasoning.derive.memory import Memories
from advisor.reasoning.derive.stages import reach_of
from advisor.records.importing import import_path
from advisor.records.reading import KEPT as KEPT_ROWS
from advisor.records.store import NewRow, Said

NOW = datetime.combine(TODAY, time(18), UTC)
SUMMER = date(2025, 6, 15)
QUESTIONS = {
    "after-frost": "did the frost hurt fig 7?",
    "compare-spots": "which spot is the warmest?",
    "frost-dates": "when is the last frost here?",
    "frost-tonight": "will it freeze tonight?",
    "pots-out": "can the pots go out yet?",
    "season-so-far": "how is the season so far?",
    "show-records": "show the records of fig 7",
    "trial-result": "what came of the trial?",
    "what-next": "what should I do next?",
    "what-to-measure": "what should I measure next?",
    "what-to-pinch": "what should I pinch?",
    "what-to-plant": "what should I plant at bed 2?",
    "when-ripe": "when will fig 7 be ripe?",
    "when-wake": "when will fig 7 wake?",
    "where-to-plant": "where do I put a new apricot?",
    "why-late": "why is fig 7 so late?",
    "winter-cold": "how cold has it been this winter?",
    "wrong-spot": "is any tree in the wrong spot?",
}
IN_SUMMER = ("what-to-pinch", "when-ripe")
FORGETS = ("advisor.calc.", "advisor.reasoning.derive.", "advisor.reasoning.layout")
"""Modules that keep results by the days or the lie of a garden beside what is kept by its rows."""
_turn = count(1)


@dataclass(frozen=True, order=True)
class Size:
    """How many plants a garden has, and how many years of logs."""

    plants: int
    years: int

    def __str__(self) -> str:
        return f"{self.plants} plants, {self.years} {'year' if self.years == 1 else 'years'}"

    @classmethod
    def of(cls, text: str) -> Size:
        """Return the size that is written as in 300x10."""
        plants, _, years = text.partition("x")
        return cls(int(plants), int(years))


@dataclass
class Gardens:
    """Gardens as they were imported, each made once; what is measured is done in copies."""

    adviser: Adviser
    folder: Path
    import_s: dict[Size, float]

    @classmethod
    @contextmanager
    def at(cls, folder: Path | None) -> Iterator[Gardens]:
        """Keep gardens in a folder, where they are found again, or in one that goes with the block."""
        with TemporaryDirectory() as own:
            adviser = Adviser.load(Settings(Path("unset.db"), find_rules())).ready()
            look_for_garbage_seldom()  # as a server does
            yield cls(adviser, folder or Path(own), {})

    def made(self, size: Size) -> Path:
        """Return the folder of a size, with its files to import and its garden file."""
        folder = self.folder / f"{size.plants}x{size.years}"
        if not (folder / "garden.db").exists():
            shutil.rmtree(folder, ignore_errors=True)
            (folder / "files").mkdir(parents=True)
            synthetic_garden(folder / "files", size.plants, size.years)
            start = perf_counter()
            with self.adviser.open(folder / "making.db", create=True) as garden:
                import_path(garden, folder / "files", self.adviser.lore, NOW)
            self.import_s[size] = perf_counter() - start
            (folder / "making.db").rename(folder / "garden.db")
        return folder

    @contextmanager
    def copy(self, size: Size) -> Iterator[Asked]:
        """Copy a garden, in which nothing was ever asked, for as long as the block lasts."""
        with TemporaryDirectory() as folder:
            path = Path(folder) / "garden.db"
            shutil.copyfile(self.made(size) / "garden.db", path)
            settings = replace(self.adviser.settings, garden=path)
            yield Asked(replace(self.adviser, settings=settings, _memories=Memories()), path, size)


@dataclass
class Asked:
    """A copy of a garden and an adviser of its own."""

    adviser: Adviser
    path: Path
    size: Size

    def forget(self) -> None:
        """Forget all that was read and worked out of any garden, as a process that just began."""
        self.adviser._memories = Memories()
        for kept in (KEPT_ROWS, KEPT_YEARS, REPLAYS):
            vars(kept).update(vars(type(kept)()))
        for one in self._caches:
            one.cache_clear()
        gc.collect()  # what was forgotten is not the next question's to clear away

    @cached_property
    def _caches(self) -> Sequence[object]:
        found = {
            id(value): value
            for name, module in list(sys.modules.items())
            if name.startswith(FORGETS)
            for value in vars(module).values()
            if hasattr(value, "cache_clear") and value.__module__.startswith(FORGETS)
        }
        return list(found.values())

    def wake_some(self, day: date) -> None:
        """Record that the figs of which more is told later were in leaf the day before."""
        for plant in self._told_of:
            self.tell(day, plant)

    def sleepers(self, day: date) -> list[str]:
        """Return the figs that were looked at in this growing year and not seen awake yet."""
        with self.adviser.open(self.path) as garden:
            scene = self.adviser.scene(garden, day)
            ways = [(name, reach_of(scene, name, scene.year, "waking")) for name in scene.plants]
        return [name for name, way in ways if way is not None and way.there is None]

    def tell(self, day: date, plant: str = "") -> None:
        """Record one more look at a fig, made the day before: the fig is in leaf. Unless one is named it was before."""
        turn = next(_turn)
        told_of = plant or self._told_of[turn % len(self._told_of)]
        row = NewRow("stage", {"plant": told_of, "on": day - timedelta(days=1), "bbch": 11})
        with self.adviser.open(self.path) as garden:
            garden.add([(Said("message", f"bench {turn}", NOW), [row])])

    @property
    def _told_of(self) -> list[str]:
        return [f"fig {n}" for n in range(1, 1 + min(20, self.size.plants))]


def day_of(question: str) -> date:
    """Return the day on which a question is asked."""
    return SUMMER if question in IN_SUMMER else TODAY
