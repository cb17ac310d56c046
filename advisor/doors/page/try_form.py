"""Facts set by hand in a form: each field with its right input, in the grower's units, and read back from what is sent.

A form is sent by GET, so that a trial can be shared and changes nothing. Its names are ``2.depth_cm`` for a field of
the second fact, ``2.kind`` for its kind, ``given`` for each fact that is given, and ``units`` for what all of it is in.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from typing import TypeVar
from zoneinfo import ZoneInfo

from werkzeug.datastructures import MultiDict

from advisor.doors.page.forms import LONG_LIST, YES_NO, Input
from advisor.facts import Fact, Value
from advisor.language.render import METRIC, US, label, sentence_case
from advisor.reasoning.rulebase import Rule
from advisor.reasoning.trying import by_hand, fields_looked_at
from advisor.records.kinds import Field, Kind, Vocabulary
from advisor.records.species import Species
from advisor.records.units import plain_number

T = TypeVar("T")
MOST_FACTS, LONGEST_TEXT = 40, 200
ALMOST_EXACT = 6
"""Decimals kept on the way into the grower's units and back, so that a value at a threshold stays there."""
PERCENT: tuple[Callable[[float], float], str] = (lambda share: share * 100, "%")


@dataclass(frozen=True)
class Units:
    """The units and the zone of one form."""

    us: bool
    zone: ZoneInfo
    species: Mapping[str, Species]

    @property
    def name(self) -> str:
        return "us" if self.us else "metric"

    def conversion(self, field: Field) -> tuple[Callable[[float], float], str]:
        """Return how a number of a field is shown, and its unit; each is a straight line."""
        unit = field.unit or ""
        if unit == "share":
            return PERCENT
        if self.us and unit in US:
            return US[unit]
        return float, METRIC.get(unit, unit)


@dataclass(frozen=True)
class FactForm:
    """One fact of a form: ``looked_at`` are the inputs that the rule looks at, ``others`` what a case gives besides."""

    number: int
    kind: Kind
    given: bool
    looked_at: tuple[Input, ...]
    others: tuple[Input, ...]

    @property
    def title(self) -> str:
        return sentence_case(label(self.kind.name))

    def sent(self) -> list[tuple[str, str]]:
        """Return what a browser sends of this fact."""
        pairs = [(f"{self.number}.kind", self.kind.name)]
        pairs += [("given", str(self.number))] if self.given else []
        return pairs + [(one.name, one.value) for one in (*self.looked_at, *self.others)]


@dataclass(frozen=True)
class Read:
    """One fact as it was sent: what was typed by field, the values read from it, and what cannot be read."""

    number: int
    kind: Kind
    given: bool
    typed: Mapping[str, str]
    values: Mapping[str, Value]
    faults: Mapping[str, str]

    @property
    def fact(self) -> Fact:
        return by_hand(self.kind.name, self.values)


def form_of(facts: Sequence[Fact], rule: Rule, kinds: Vocabulary, units: Units) -> list[FactForm]:
    """Return the form that starts from facts, with an empty fact for each kind that the rule matches oftener."""
    read = [
        Read(place, kinds[fact.kind], True, _typed(fact, kinds[fact.kind], units), fact.values, {})
        for place, fact in enumerate(facts, start=1)
    ]
    wanted = [block.kind for block in (*rule.when, *rule.unless)]
    for kind in dict.fromkeys(wanted):
        there = sum(fact.kind == kind for fact in facts)
        for _ in range(max(0, wanted.count(kind) - there)):
            read.append(Read(len(read) + 1, kinds[kind], False, {}, {}, {}))
    return shown(read, rule, kinds, units)


def shown(read: Iterable[Read], rule: Rule, kinds: Vocabulary, units: Units) -> list[FactForm]:
    """Return the form with what was read of it and every fault by its field."""
    wanted = fields_looked_at(rule, kinds)
    return [_form(one, wanted.get(one.kind.name, ()), units) for one in read]


def read_form(args: MultiDict[str, str], kinds: Vocabulary, units: Units) -> list[Read]:
    """Read the facts that were sent; a fact of a kind that is none is left out."""
    given = set(args.getlist("given"))
    numbers = sorted({int(name[:-5]) for name in args if name.endswith(".kind") and name[:-5].isdecimal()})
    found = []
    for number in numbers[:MOST_FACTS]:
        kind = kinds.get(args[f"{number}.kind"]) if f"{number}.kind" in args else None
        if kind is None:
            continue
        typed = {
            name: text
            for name in kind.fields
            if (text := args.get(f"{number}.{name}", "").strip())
        }  # fmt: skip
        values, faults = {}, {}
        for name, text in typed.items():
            try:
                values[name] = _value(text, kind.fields[name], units)
            except ValueError as wrong:
                faults[name] = str(wrong)
        is_given = str(number) in given
        found.append(Read(number, kind, is_given, typed, values, faults if is_given else {}))
    return found


def _form(one: Read, looked_at: Sequence[str], units: Units) -> FactForm:
    def inputs(fields: Iterable[Field]) -> tuple[Input, ...]:
        return tuple(_input(one, field, units) for field in fields)

    others = [field for name, field in one.kind.fields.items() if name in one.typed and name not in looked_at]
    wanted = [one.kind.fields[name] for name in looked_at]
    return FactForm(one.number, one.kind, one.given, inputs(wanted), inputs(others))


def _input(one: Read, field: Field, units: Units) -> Input:
    made = Input(
        f"{one.number}.{field.name}",
        sentence_case(label(field.name)),
        "text",
        one.typed.get(field.name, ""),
        units.conversion(field)[1] if field.is_number else "",
        field.says + (", as month-day: 05-10" if field.type == "month_day" else ""),
        one.faults.get(field.name, ""),
    )
    match field.type:
        case "yes_no":
            return replace(made, type="choice", choices=YES_NO)
        case "word":
            return replace(made, type="choice", choices=(("", "not known"), *((word, word) for word in field.one_of)))
        case "species":
            choices = sorted(((key, kind.name) for key, kind in units.species.items()), key=lambda pair: pair[1])
            kind = "list" if len(choices) > LONG_LIST else "choice"
            return replace(made, type=kind, choices=(("", "not known"), *choices))
        case "date":
            return replace(made, type="date")
        case "time":
            return replace(made, type="datetime-local")
    return made


def _typed(fact: Fact, kind: Kind, units: Units) -> dict[str, str]:
    return {name: _as_typed(value, kind.fields[name], units) for name, value in fact.values.items()
            if name in kind.fields}  # fmt: skip


def _as_typed(value: Value, field: Field, units: Units) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return value.astimezone(units.zone).strftime("%Y-%m-%dT%H:%M")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, int | float):
        return f"{round(units.conversion(field)[0](float(value)), ALMOST_EXACT):.12g}"
    return value


def _value(text: str, field: Field, units: Units) -> Value:
    """Return what was typed as a value. Raise ValueError, saying what was wanted, where it is none."""
    if len(text) > LONGEST_TEXT:
        raise ValueError(f"{len(text)} characters: at most {LONGEST_TEXT} are read")
    match field.type:
        case "yes_no":
            if text not in ("yes", "no"):
                raise ValueError(f"“{text}” is neither yes nor no")
            return text == "yes"
        case "number" | "whole":
            return _number(text, field, units)
        case "date":
            return _dated(text, date.fromisoformat, "2026-04-24")
        case "time":
            local = _dated(text, datetime.fromisoformat, "2026-04-24T08:30")
            aware = local if local.tzinfo else local.replace(tzinfo=units.zone)
            return aware.astimezone(UTC)
        case "species" if text not in units.species:
            raise ValueError(f"“{text}” is no kind of tree known here")
        case "word" if text not in field.one_of:
            raise ValueError(f"“{text}” is none of: {', '.join(field.one_of)}")
    return text


def _number(text: str, field: Field, units: Units) -> float | int:
    number = plain_number(text, decimal_comma=True)
    if number is None:
        raise ValueError(f"“{text}” is no number")
    shows = units.conversion(field)[0]
    inside = round((number - shows(0.0)) / (shows(1.0) - shows(0.0)), ALMOST_EXACT)
    if field.type == "whole":
        if inside != int(inside):
            raise ValueError(f"“{text}” is no whole number")
        return int(inside)
    return inside


def _dated(text: str, read: Callable[[str], T], like: str) -> T:
    try:
        return read(text)
    except ValueError:
        raise ValueError(f"“{text}” is no date: write it as {like}") from None
