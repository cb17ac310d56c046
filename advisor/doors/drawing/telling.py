"""A picture told: its question, what it shows in words, the table behind it, its limits, and how to draw it."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from advisor.doors.drawing.look import Look
from advisor.errors import NotFound
from advisor.language.render import METRIC, US, Speech
from advisor.reasoning.pictures import Nothing

Cell = str | float | int | None
RISKY = ("=", "+", "-", "@", "\t", "\r")
"""First characters of a text that a spreadsheet would take for a formula."""


@dataclass(frozen=True, slots=True)
class Column:
    """A column of the table: its key for programs, unit in it, and its heading for readers."""

    key: str
    heading: str
    number: bool = False


@dataclass(frozen=True)
class Telling:
    """One picture of one garden on one day, in the grower's units.

    ``nothing`` is set where there is nothing to show; then ``says`` tells what is missing and what would bring it.
    ``marks`` say what a sign in the drawing means, ``years`` which may be chosen. ``draw`` makes the sheet for a look.
    """

    name: str
    question: str
    says: tuple[str, ...]
    columns: tuple[Column, ...] = ()
    rows: tuple[tuple[Cell, ...], ...] = ()
    limits: tuple[str, ...] = ()
    sources: tuple[str, ...] = ()
    marks: tuple[str, ...] = ()
    years: tuple[int, ...] = ()
    draw: Callable[[Look], dict[str, Any]] | None = field(default=None, repr=False, compare=False)

    @property
    def nothing(self) -> bool:
        return self.draw is None

    def sheet(self, look: Look) -> dict[str, Any]:
        """Return the picture's specification with its words in it. Raise NotFound where there is nothing to show."""
        if self.draw is None:
            raise NotFound(
                f"drawing the picture {self.name}", " ".join(self.says).rstrip("."), "Record that, then ask again"
            )
        made = self.draw(look)
        made["usermeta"] |= {"title": self.question, "says": " ".join(self.says)}
        return made

    def csv(self) -> str:
        """Return the table as CSV, its keys as header; a text that could be taken for a formula gets an apostrophe."""
        out = io.StringIO()
        writer = csv.writer(out)
        writer.writerow([column.key for column in self.columns])
        writer.writerows([[_safe(cell) for cell in row] for row in self.rows])
        return out.getvalue()

    def as_data(self) -> dict[str, Any]:
        """Return all of it but the drawing, for a program."""
        keys = [column.key for column in self.columns]
        return {
            "name": self.name,
            "question": self.question,
            "says": list(self.says),
            "nothing": self.nothing,
            "rows": [dict(zip(keys, row, strict=True)) for row in self.rows],
            "limits": list(self.limits),
            "sources": list(self.sources),
        }


def _safe(cell: Cell) -> Cell:
    return f"'{cell}" if isinstance(cell, str) and cell.startswith(RISKY) else cell


@dataclass(frozen=True)
class Units:
    """The grower's units for what is drawn and tabled; sentences go through the speech itself."""

    speech: Speech

    @property
    def us(self) -> bool:
        return self.speech.units == "us"

    def of(self, value: float, unit: str) -> float:
        """Return a value in the grower's unit."""
        return US[unit][0](value) if self.us and unit in US else value

    def cell(self, value: float | None, unit: str, digits: int = 1) -> float | None:
        """Return a value for the table, rounded."""
        return None if value is None else round(self.of(value, unit), digits)

    def name(self, unit: str) -> str:
        """Return what a unit is called.

        >>> from zoneinfo import ZoneInfo
        >>> Units(Speech("us", ZoneInfo("UTC"), date(2026, 4, 24), {})).name("c")
        '°F'
        """
        return US[unit][1] if self.us and unit in US else METRIC.get(unit, unit)

    def key(self, name: str, unit: str) -> str:
        """Return a column's key with its unit, as the API and imports have them."""
        ends = {"c": "f", "cm": "in", "dd": "f_days"} if self.us else {"dd": "c_days"}
        return f"{name}_{ends.get(unit, unit)}"

    def temperature(self, value: float) -> str:
        """Return a temperature as a label."""
        return f"{round(self.of(value, 'c'), 1):g} {self.name('c')}".replace("-", "−")


def sentences(*parts: str | None) -> tuple[str, ...]:
    """Return the sentences that there are, each with a capital and a stop."""
    found = [part.strip() for part in parts if part and part.strip()]
    return tuple(part[0].upper() + part[1:] + ("" if part.endswith((".", "?", "!")) else ".") for part in found)


def nothing_yet(name: str, question: str, why: Nothing, speech: Speech) -> Telling:
    """Return a picture with nothing to show: why, and how to tell the record that would bring it."""
    return Telling(name, question, sentences(f"Nothing to show yet: {why.reason}", BRINGS[why.record](speech)))


def _soil(speech: Speech) -> str:
    reading = "54 at 4 in" if speech.units == "us" else "12.5 at 10 cm"
    return f"One probe reading brings it, as in “soil south wall {reading}, sun”"


def _evening(speech: Speech) -> str:
    air, dew, low = ("42", "30", "29") if speech.units == "us" else ("5.8", "-1", "-1.5")
    return (
        f"Air and dew point two hours after sunset bring it, as in “evening {air}, dew point {dew}”; "
        f"a forecast does for a start, as in “{low} tonight, clear”"
    )


BRINGS: dict[str, Callable[[Speech], str]] = {
    "soil_reading": _soil,
    "evening": _evening,
    "stage": lambda speech: "A look at a plant brings it, as in “wall fig bud break”",
    "weather_day": lambda speech: (
        "A file of daily lowest and highest temperatures brings it; a weather station nearby may have one to import"
    ),
    "obstruction": lambda speech: (
        "Tell from which bearing to which something stands there and how high: a record of the kind obstruction"
    ),
    "plant": lambda speech: "A tree brings it, as in “planted an apricot at the gate, call it gate apricot”",
    "spot": lambda speech: "A spot brings it, with which way it faces and whether cold air gathers there",
    "harm": lambda speech: "What a frost did to one of yours is worth a record all the same",
}
"""By kind of record, how the grower tells one."""


def a_tree(name: str) -> str:
    """Return a kind of tree with its article.

    >>> a_tree("apricot"), a_tree("European plum"), a_tree("fig")
    ('an apricot', 'a European plum', 'a fig')
    """
    return f"{'an' if name[0].lower() in 'aio' else 'a'} {name}"


def day_cell(day: date | None) -> str | None:
    """Return a day for the table, as programs write it."""
    return None if day is None else day.isoformat()


def few(names: Sequence[str], most: int = 4) -> list[str]:
    """Return names for a sentence, those beyond the first few as a count."""
    return [*names[:most], f"{len(names) - most} more"] if len(names) > most + 1 else list(names)
