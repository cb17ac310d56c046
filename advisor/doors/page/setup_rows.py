"""Spots and plants, several at once: rows of a few fields each, checked together and recorded all or none."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime

from advisor.conversation import Adviser
from advisor.doors.page.forms import Input, cells, inputs, is_us
from advisor.errors import BadFields
from advisor.language.nearly_alike import nearly_alike
from advisor.records.by_form import told_rows
from advisor.records.remembered import planted_day
from advisor.records.store import Garden, NewRow, Said

ROWS = 6
"""Rows on a page: as many spots as a small garden has, and half of its plants."""
SIDES = {"N": "north", "NE": "north-east", "E": "east", "SE": "south-east", "S": "south", "SW": "south-west",
         "W": "west", "NW": "north-west", "flat": "flat, no side"}  # fmt: skip
COVERS = {"none": "open sky", "shelter": "shed, cellar or garage", "unheated glass": "unheated glass or film",
          "heated glass": "heated glass"}  # fmt: skip
GROWING = {"ground": "in the ground", "pot": "in a pot"}
WALLS = (("", "none, or not known"), ("stone", "stone"), ("brick", "brick"), ("concrete", "concrete"),
         ("render", "rendered"), ("wood", "wood"))  # fmt: skip

NEEDED = {"name": "Give it a name", "species": "Choose its kind"}


@dataclass(frozen=True)
class Step:
    """What a step asks of each of its things: the fields in order with their labels."""

    kind: str
    labels: Mapping[str, str]
    words: Mapping[str, Mapping[str, str]]


SPOTS = Step(
    "spot",
    {
        "name": "Name", "aspect": "Faces", "wall_material": "Wall behind it", "low_lying": "Cold air gathers there",
        "under_cover": "Under", "soil_texture": "Soil", "drainage_cm_h": "Test hole",
    },
    {"aspect": SIDES, "under_cover": COVERS},
)  # fmt: skip
PLANTS = Step(
    "plant",
    {
        "name": "Name", "species": "Kind", "cultivar": "Cultivar", "spot": "Stands at", "growing": "Grows",
        "pot_litres": "Pot holds", "planted": "Planted",
    },
    {"growing": GROWING},
)  # fmt: skip
STEPS = {"spots": SPOTS, "plants": PLANTS}


@dataclass
class RowsForm:
    """What was typed in the rows of a step, and what is wrong with it by row and field."""

    step: Step
    typed: list[dict[str, str]]
    faults: dict[tuple[int, str], str] = field(default_factory=dict)
    alike: dict[int, str] = field(default_factory=dict)
    """Rows whose name is nearly another's, with what to say of it."""

    @classmethod
    def of(cls, step: Step, form: Mapping[str, str]) -> RowsForm:
        """Return the rows that were posted; each field's name begins with its row's number."""
        rows: list[dict[str, str]] = [{} for _ in range(ROWS)]
        for name, value in form.items():
            number, _, column = name.partition("-")
            if column and number.isdigit() and 1 <= int(number) <= ROWS:
                rows[int(number) - 1][column] = " ".join(value.split())
        return cls(step, rows)

    def filled(self) -> list[int]:
        """Return the numbers of the rows in which something was told, from 0."""
        return [at for at, row in enumerate(self.typed) if any(row.values())]

    def shown(self, adviser: Adviser, garden: Garden) -> list[list[Input]]:
        """Return the inputs of every row, as labelled on the page."""
        return [self._row(adviser, garden, at) for at in range(ROWS)]

    def _row(self, adviser: Adviser, garden: Garden, at: int) -> list[Input]:
        kind, typed = self.step.kind, self.typed[at]
        row = []
        for name, label in self.step.labels.items():
            (one,) = inputs(adviser, garden, kind, given=typed, only=[name])
            words = self.step.words.get(name, {})
            choices = tuple((value, words.get(value, text)) for value, text in one.choices)
            fault = self.faults.get((at, one.name), self.faults.get((at, name), ""))
            if name == "name":
                fault = fault or self.alike.get(at, "")
            made = replace(one, name=f"{at + 1}-{one.name}", label=label, choices=choices, fault=fault)
            made = replace(made, hint="", required=False)
            if name == "wall_material":
                made = replace(made, type="choice", choices=WALLS)
            elif name == "planted":  # a year or a month will do, which the browser's own field for dates refuses
                made = replace(made, type="text", value=typed.get(one.name, ""))
            row.append(made)
        return row

    def rows(self, adviser: Adviser, garden: Garden, now: datetime, *, keep_names: bool) -> list[NewRow]:
        """Return the rows to record, none where something is wrong with one of them; the form takes what it is."""
        self._check_names(garden)
        us, told = is_us(garden), []
        for at in self.filled():
            row = dict(self.typed[at])
            row = self._spot(at, row) if self.step is SPOTS else self._plant(at, row, us, self._today(garden, now))
            told.append(cells(adviser, garden, self.step.kind, row) | {k: row[k] for k in ("wall_side",) if k in row})
        try:
            found = told_rows(garden, adviser.lore, self.step.kind, told, now)
        except BadFields as error:
            for fault in error.faults:
                says = fault.wanted if fault.found == "an empty cell" else f"{fault.found}: wanted {fault.wanted}"
                at = self.filled()[fault.line - 1]
                says = NEEDED.get(fault.field, says) if fault.found == "an empty cell" else says
                self.faults.setdefault((at, fault.field), says)
            return []
        if not self.faults and not keep_names:
            self._warn(garden, [str(row.values["name"]) for row in found])
        return [] if self.faults or self.alike else found

    def _check_names(self, garden: Garden) -> None:
        """Find names that a spot and a plant would share, and the same name in two rows."""
        other = "plant" if self.step is SPOTS else "spot"
        taken = {name.casefold() for name in garden.names(other)}
        seen: set[str] = set()
        for at in self.filled():
            name = self.typed[at].get("name", "").casefold()
            if name and name in taken:
                self.faults[at, "name"] = f"A {other} is called so already; give this one another name"
            elif name and name in seen:
                self.faults[at, "name"] = "Stands twice on this page: give each its own name"
            seen.add(name)

    def _spot(self, at: int, row: dict[str, str]) -> dict[str, str]:
        """Return a spot's row with the side of its wall: a spot at the foot of a wall faces as the wall does."""
        if row.get("wall_material"):
            if row.get("aspect") in (None, "", "flat"):
                self.faults[at, "aspect"] = "Which way does the wall face? A wall counts by its side"
            else:
                row["wall_side"] = row["aspect"]
        return row

    def _plant(self, at: int, row: dict[str, str], us: bool, today: date) -> dict[str, str]:
        """Return a plant's row with a day for the year or month that was typed, and a pot where its size is told."""
        size = row.get("pot_gal" if us else "pot_litres", "")
        if size and row.get("growing") == "ground":
            self.faults[at, "growing"] = "In the ground, and a pot's size is told: which is it?"
        elif size:
            row["growing"] = "pot"
        if row.get("planted"):
            try:
                row["planted"] = planted_day(row["planted"], today, day_first=not us).isoformat()
            except ValueError as error:
                self.faults[at, "planted"] = f"{row['planted']!r}: wanted {error}"
                row["planted"] = ""
        return row

    def _today(self, garden: Garden, now: datetime) -> date:
        return now.astimezone(garden.zone()).date()

    def _warn(self, garden: Garden, new: Sequence[str]) -> None:
        """Find new names that are nearly another's, and offer a name that tells the two apart."""
        there = garden.names(self.step.kind)
        for at in self.filled():
            name = self.typed[at]["name"]
            if name not in new:
                continue
            before = [one for one in new if one != name and new.index(one) < new.index(name)]
            near = nearly_alike(name, [*there, *before])
            if near:
                other = self._other_name(at, [*there, *new])
                better = f", for example {other}" if other else ""
                self.alike[at] = f"{name} is easily mixed up with {near[0]}. Change one of them{better}, or keep both"

    def _other_name(self, at: int, taken: Sequence[str]) -> str:
        row = self.typed[at]
        kind = row.get("species", "").replace("-", " ")
        made = [f"{row[part]} {kind}".strip() for part in ("spot", "cultivar") if row.get(part) and kind]
        return next((one for one in made if one not in taken and not nearly_alike(one, taken)), "")


def record_rows(garden: Garden, rows: Sequence[NewRow], said: Said) -> None:
    """Record the rows of a step in one write."""
    if rows:
        garden.add([(said, list(rows))])
