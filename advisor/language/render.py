"""Values into words: in the grower's units, with dates as people speak, and names with their article."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from zoneinfo import ZoneInfo

from advisor.answers import Told
from advisor.facts import Fact, Value
from advisor.records.kinds import Vocabulary, unit_of

QUANTITY = re.compile(r"\{(-?\d+(?:\.\d+)?)_(cm_h|cm|mm|m_s|m|c|kg|k|litres|dd|deg|days|h|share|portions)\}")
"""A fixed quantity in a sentence, as {10_cm} or {-2.5_c}: said in the grower's units like any other."""
REFERENCE = re.compile(r"(\b[Tt]he |\b[Aa]n? |\b[Yy]our )?\{(\w+)\.(\w+)\}")
US: Mapping[str, tuple[Callable[[float], float], str]] = {
    "c": (lambda c: c * 1.8 + 32, "°F"),
    "k": (lambda k: k * 1.8, "°F"),
    "cm": (lambda cm: cm / 2.54, "in"),
    "m": (lambda m: m / 0.3048, "ft"),
    "mm": (lambda mm: mm / 25.4, "in"),
    "cm_h": (lambda cm: cm / 2.54, "inches an hour"),
    "litres": (lambda litres: litres / 3.785411784, "gallons"),
    "kg": (lambda kg: kg / 0.45359237, "lb"),
    "m_s": (lambda m_s: m_s / 0.44704, "mph"),
    "dd": (lambda dd: dd * 1.8, "°F-days"),
}
METRIC = {
    "c": "°C",
    "k": "°C",
    "cm": "cm",
    "m": "m",
    "mm": "mm",
    "cm_h": "cm an hour",
    "litres": "litres",
    "kg": "kg",
    "m_s": "m/s",
    "dd": "°C-days",
    "h": "hours",
    "deg": "degrees",
    "portions": "chill portions",
}
ONE_OF = {"inches": "inch", "gallons": "gallon", "litres": "litre", "degrees": "degree", "portions": "portion"}
DECIMALS = {"c": 1, "k": 1, "mm": 1}

OF_ANY_YEAR = {"freeze_date"}
"""Kinds whose dates are days of the record set into one year: told with that year they would be dates to come."""


@dataclass(frozen=True)
class Speech:
    """How this grower is spoken to: units, zone, the day, what things are called."""

    units: str
    zone: ZoneInfo
    today: date
    kinds: Vocabulary
    names: frozenset[str] = frozenset()
    called: Mapping[str, str] = field(default_factory=dict)

    def number(self, value: float, unit: str | None) -> str:
        """Return a number with its unit, in the grower's units.

        A difference of temperatures is given as a size, without its sign.
        """
        if unit == "share":
            return f"{round(value * 100):g} %"
        if unit == "days":
            return counted(abs(value), "day")
        if unit == "h":
            return counted(value, "hour")
        if unit == "k":
            value = abs(value)
        name = METRIC.get(unit or "", "")
        if unit and unit in US and self.units == "us":
            convert, name = US[unit]
            value = convert(value)
        text = f"{round(value, DECIMALS.get(unit or '', 0 if unit in ('cm', 'dd', 'm') and value >= 3 else 1)):g}"
        for many, one in ONE_OF.items() if text == "1" else ():
            name = name.replace(many, one)
        return f"{text} {name}".strip()

    def day(self, day: date, *, of_any_year: bool = False) -> str:
        """Return a date as one says it, with its year where that is not the present one, or none where it is of any."""
        text = f"{day.day} {day:%B}" if self.units == "metric" else f"{day:%B} {day.day}"
        return text if of_any_year or day.year == self.today.year else f"{text} {day.year}"

    def name(self, name: str) -> str:
        """Return a name with "the", as "the shed fig", but proper names and numbered ones, as "tub 2", as they are."""
        bare = name.startswith("the ") or name[-1:].isdigit()
        return f"the {name}" if name[:1].islower() and not bare else name

    def value(self, field_name: str, value: Value, *, article: bool = True) -> str:
        """Return a field's value in words."""
        if isinstance(value, bool):
            return "yes" if value else "no"
        if isinstance(value, datetime):
            local = value.astimezone(self.zone)
            return f"{self.day(local.date())} at {local:%H:%M}"
        if isinstance(value, date):
            return self.day(value)
        if isinstance(value, int | float):
            return self.number(float(value), unit_of(field_name))
        named = value in self.names and field_name != "species"  # a plant may be called as its kind is: "apricot"
        if value in self.called and not named:
            return self.called[value]
        return self.name(value) if article and value in self.names else value

    def measured(self, text: str) -> str:
        """Return a text with its fixed quantities, as {0_c}, in the grower's units."""
        return QUANTITY.sub(lambda found: self.number(float(found[1]), found[2]), text)

    def tell(self, told: Told) -> str:
        """Return a template as sentences, each starting with a capital."""

        def fill(found: re.Match[str]) -> str:
            before, block, name = found.groups()
            fact = told.bound.get(block)
            value = fact.get(name) if fact else None
            if value is None:
                return f"{before or ''}(not known)"
            if fact and fact.kind in OF_ANY_YEAR and isinstance(value, date):
                return f"{before or ''}{self.day(value, of_any_year=True)}"
            return f"{before or ''}{self.value(name, value, article=not before)}"

        return sentence_case(REFERENCE.sub(fill, self.measured(told.template)))

    def fact(self, fact: Fact) -> str:
        """Return a fact as a short phrase of its fields."""
        parts = [f"{label(name)} {self.value(name, value, article=False)}" for name, value in fact.values.items()]
        return f"{fact.kind.replace('_', ' ')}: {', '.join(parts)}"


def label(name: str) -> str:
    """Return a field's name as words, without its unit.

    >>> label("warmer_by_k")
    'warmer by'
    """
    return name.removesuffix(f"_{unit_of(name)}").replace("_", " ")


def sentence_case(text: str) -> str:
    """Return a text with a capital at the start of each sentence.

    >>> sentence_case("the fig sleeps. it is 3.5 cm. so be it")
    'The fig sleeps. It is 3.5 cm. So be it'
    """
    return re.sub(r"(^|[.!?:]\s+(?<!: ))([a-zà-ÿ])", lambda m: m[1] + m[2].upper(), text.strip())


def counted(value: float, name: str) -> str:
    """Return a number with what it counts, in the plural where it is not one."""
    text = f"{round(value, 1):g}"
    return f"{text} {name}" if text == "1" else f"{text} {name}s"


def listed(parts: list[str], last: str = "and") -> str:
    """Return words as a list in a sentence.

    >>> listed(["a", "b", "c"])
    'a, b and c'
    """
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} {last} {parts[-1]}" if parts else ""
