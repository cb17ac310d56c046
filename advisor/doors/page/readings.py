"""What an answer asks for as a small form: filled in as far as it is known, one number to type, one button."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from advisor.conversation import Adviser
from advisor.doors.page.forms import Input, as_typed, cells, column_of, inputs, is_us
from advisor.doors.page.frame import Site
from advisor.errors import BadFields, BadInput, RowFault
from advisor.facts import Recorded
from advisor.records.store import Garden
from advisor.talk.tapping import FilledWrongly

MOST_SUBJECTS = 4
COMMA = re.compile(r"-?\d+,\d+")


@dataclass(frozen=True, slots=True)
class Needs:
    """The fields of a kind that a form of two taps asks for.

    ``own`` are told of each plant or spot, ``seen`` once for all of them, ``given`` too, but filled in already.
    """

    own: tuple[str, ...]
    seen: tuple[str, ...] = ()
    given: tuple[str, ...] = ("on",)


NEEDS: Mapping[str, Needs] = {
    "soil_reading": Needs(("temp_c",), ("sky",), ("depth_cm", "at")),
    "evening": Needs(("temp_c", "dew_point_c")),
    "forecast_day": Needs(("min_c", "sky", "wind_m_s"), (), ("for_day", "issued")),
    "inspection": Needs(("scratch", "height", "root_ball")),
    "stage": Needs(("bbch",)),
    "growth": Needs(("shoot_cm", "leaves", "node_buds")),
    "crop": Needs(("first_ripe", "fruits")),
    "weather_day": Needs(("min_c", "max_c")),
}
TOGETHER: Mapping[str, tuple[str, ...]] = {"scratch": ("scratch", "height"), "buds_cut": ("buds_cut", "buds_dead")}
"""Fields that are of no use without each other."""
PLANTS_FIRST = ("inspection", "stage", "growth", "crop")
LABELS = {"temp": "temperature", "min": "lowest", "max": "highest", "wind m s": "wind"}
DEPTH = {False: "10", True: "4"}
"""How deep soil is read where nothing else is told, in cm or in inches."""


@dataclass(frozen=True)
class ReadingForm:
    """One form. ``own`` are the inputs of each subject, by its name ("" where the kind is about none).

    ``given_told`` says in short what is filled in already.
    """

    place: int
    kind: str
    ask: str
    own: tuple[tuple[str, tuple[Input, ...]], ...]
    seen: tuple[Input, ...]
    given: tuple[Input, ...]
    given_told: str
    fault: str = ""


@dataclass(frozen=True)
class Asked:
    """One thing that an answer asks for, with what its form needs of this garden."""

    site: Site
    garden: Garden
    place: int
    entry: Mapping[str, Any]

    @property
    def kind(self) -> str:
        return str(self.entry["kind"])

    @property
    def adviser(self) -> Adviser:
        return self.site.adviser

    @property
    def subject_field(self) -> str:
        """The field that names a subject: a spot, a plant, the thing itself, or "" where the kind is about none."""
        if self.kind in ("spot", "plant"):
            return "name"
        about = self.entry.get("about", {})
        fields = self.adviser.base.kinds[self.kind].fields
        order = ("plant", "spot") if self.kind in PLANTS_FIRST else ("spot", "plant")
        return next((name for name in order if name in fields and about.get(f"{name}s")), "")

    @property
    def subjects(self) -> tuple[str, ...]:
        """The plants or spots to tell of that are still there, the first asked of first."""
        of = self.kind if self.subject_field == "name" else self.subject_field
        here = set(self.garden.names(of)) if of else set()
        named = [name for name in self.entry.get("about", {}).get(f"{of}s", []) if name in here]
        if self.kind in ("spot", "plant", "stage", "inspection"):  # each of these has fields of its own
            return tuple(named[:1])
        return tuple(named[:MOST_SUBJECTS])

    @property
    def needs(self) -> Needs | None:
        """What the form asks for, or None where no short form can."""
        field = str(self.entry.get("about", {}).get("field", ""))
        if self.kind in ("spot", "plant"):
            return Needs((field,), given=()) if field and self.subjects else None
        needs = NEEDS.get(self.kind)
        if needs is None or (self.subject_field and not self.subjects):
            return None
        needless = self.kind in ("evening", "forecast_day")
        if not self.subject_field and not needless:
            return None
        if field and field in self.adviser.base.kinds[self.kind].fields and field not in needs.seen + needs.given:
            return replace(needs, own=TOGETHER.get(field, (field,)))
        return needs

    def form(self, typed: Mapping[str, str] | None = None, error: BadFields | None = None) -> ReadingForm | None:
        """Return the form, filled in; ``typed`` is what was posted before, ``error`` what was wrong with it."""
        needs = self.needs
        if needs is None:
            return None
        typed = typed or {}
        wrong = error.place if isinstance(error, FilledWrongly) else 0
        known = {**self._known(), **{name: value for name, value in typed.items() if "." not in name}}
        own = []
        for number, name in enumerate(self.subjects or ("",)):
            mine = {key.split(".", 1)[1]: value for key, value in typed.items() if key.startswith(f"{number}.")}
            faults = error.faults if error and number == wrong else ()
            fields = [replace(one, name=f"{number}.{one.name}") for one in self._inputs(needs.own, mine, faults)]
            if len(self.subjects) > 1:
                fields = [replace(one, required=False) for one in fields]
            own.append((name, tuple(fields)))
        faults = error.faults if error else ()
        seen, given = (tuple(self._inputs(names, known, faults)) for names in (needs.seen, needs.given))
        shown = {one.name for one in (*seen, *given)} | {column for _, some in own for one in some
                                                         for column in (one.name.split(".", 1)[1],)}  # fmt: skip
        other = [f"{one.found}, wanted {one.wanted}" for one in faults if not self._is_shown(one, shown)]
        ask = str(self.entry["ask"])
        told = ", ".join(self._in_short(one) for one in given)
        return ReadingForm(self.place, self.kind, ask, tuple(own), seen, given, told, "; ".join(other))

    def _in_short(self, one: Input) -> str:
        """Return what an input holds as one says it."""
        speech = self.site.speech(self.garden)
        try:
            when = datetime.fromisoformat(one.value)
        except ValueError:
            return f"{one.label} {one.value} {one.unit}".strip()
        day = speech.day(when.date())
        return f"{one.label} {day} {when:%H:%M}" if one.type == "datetime-local" else f"{one.label} {day}"

    def _is_shown(self, fault: RowFault, shown: set[str]) -> bool:
        fields = self.adviser.base.kinds[self.kind].fields
        us = is_us(self.garden)
        columns = {fault.field} | ({column_of(fields[fault.field], us=us)} if fault.field in fields else set())
        return bool(columns & shown)

    def _inputs(self, names: Sequence[str], typed: Mapping[str, str], faults: Sequence[RowFault]) -> list[Input]:
        if not names:
            return []
        made = inputs(self.adviser, self.garden, self.kind, given=typed, faults=faults, only=names)
        made = [replace(one, label=LABELS.get(one.label, one.label)) for one in made]
        return [self._staged(one) if one.name == "bbch" else one for one in made]

    def _staged(self, one: Input) -> Input:
        """Return the input of a stage with the words of the trade for this kind of tree instead of codes."""
        row = next(row for row in self.garden.of("plant") if row.text("name") == self.subjects[0])
        steps = self.adviser.stage_words.steps(row.text("species"))
        choices = (("", "choose"), *((str(code), words) for code, words in steps.items()))
        return replace(one, label="how far it is", type="choice", hint="", choices=choices)

    def _known(self) -> dict[str, str]:
        """Return what is filled in: now, tonight, and a hand's depth, by column as a form posts it."""
        us = is_us(self.garden)
        now = self.site.now().astimezone(self.garden.zone())
        day = now.date()
        return {
            "at": now.strftime("%Y-%m-%dT%H:%M"),
            "on": day.isoformat(),
            "issued": day.isoformat(),
            "for_day": (day + timedelta(days=1)).isoformat(),
            "depth_in" if us else "depth_cm": DEPTH[us],
        }

    def rows(self, form: Mapping[str, str]) -> list[dict[str, str]]:
        """Return the rows that were posted, by column; subjects of which nothing was typed are left out.

        Raises BadInput where no short form can tell this, BadFields where nothing was typed at all.
        """
        needs = self.needs
        if needs is None:
            raise BadInput("reading the form", "no form for this", "Tell it in words")
        kinds = self.adviser.base.kinds[self.kind]
        us = is_us(self.garden)
        shared = cells(self.adviser, self.garden, self.kind, {**self._known(), **form})
        shared = {name: value for name, value in shared.items() if self._is_of(name, (*needs.seen, *needs.given))}
        rows = []
        for number, name in enumerate(self.subjects or ("",)):
            columns = [column_of(kinds.fields[field], us=us) for field in needs.own]
            own = {column: _number(form.get(f"{number}.{column}", "")) for column in columns}
            if any(own.values()):
                about = {self.subject_field: name} if self.subject_field else {}
                rows.append({**self._kept(name), **shared, **about, **own, **self._stage_words(own)})
        if not rows:
            first = needs.own[0]
            fault = RowFault(self.kind, 0, first, "nothing typed", "what you read or saw")
            raise BadFields(f"adding a {self.kind.replace('_', ' ')}", [fault])
        return rows

    def _is_of(self, column: str, fields: Sequence[str]) -> bool:
        spec, us = self.adviser.base.kinds[self.kind].fields, is_us(self.garden)
        return column in {column_of(spec[name], us=us) for name in fields}

    def _kept(self, name: str) -> dict[str, str]:
        """Return what a row about a spot or plant cannot be without, as it is recorded."""
        if self.kind not in ("spot", "plant"):
            return {}
        fact = next(row for row in self.garden.of(self.kind) if row.text("name") == name)
        assert isinstance(fact.origin, Recorded)
        us = is_us(self.garden)
        needed = [spec for spec in self.adviser.base.kinds[self.kind].fields.values() if spec.required]
        return {
            column_of(spec, us=us): as_typed(spec, fact.values[spec.name], self.garden, us=us)
            for spec in needed
            if spec.name in fact.values
        }

    def _stage_words(self, own: Mapping[str, str]) -> dict[str, str]:
        if self.kind != "stage" or not own.get("bbch", "").isdigit():
            return {}
        row = next(row for row in self.garden.of("plant") if row.text("name") == self.subjects[0])
        words = self.adviser.stage_words.steps(row.text("species")).get(int(own["bbch"]), "")
        return {"words": words} if words else {}


def _number(text: str) -> str:
    """Return what was typed, with a decimal point where a comma was typed.

    >>> _number(" 8,1 "), _number("wood chips, old")
    ('8.1', 'wood chips, old')
    """
    text = text.strip()
    return text.replace(",", ".") if COMMA.fullmatch(text) else text


def at_sending(form: Mapping[str, str], garden: Garden, sent: Any) -> dict[str, str]:
    """Return what was posted, with the time of sending where the time that was filled in was left as it was.

    ``sent`` is aware: a page may lie open for an hour before a number is typed into it.
    """
    made = dict(form)
    if made.get("at") and made.get("at") == made.get("opened_at"):
        made["at"] = sent.astimezone(garden.zone()).strftime("%Y-%m-%dT%H:%M")
    return made
