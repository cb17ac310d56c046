"""The vocabulary: what may be recorded, derived or concluded, read from ``rules/kinds/*.toml``.

Everything else follows these files: tables, import columns, what a rule may say, how a missing reading is asked for.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any

from advisor.errors import BadRules
from advisor.facts import Value

TYPES = ("number", "whole", "yes_no", "word", "text", "date", "time", "month_day", "spot", "plant", "species")
"""``spot`` and ``plant`` hold the name of one that is recorded; ``species`` an id of ``rules/species``;
``month_day`` a day of the year as MM-DD."""

UNIT_SUFFIXES = {
    "_c": "c",
    "_k": "k",
    "_cm_h": "cm_h",
    "_m_s": "m_s",
    "_cm": "cm",
    "_mm": "mm",
    "_m": "m",
    "_deg": "deg",
    "_litres": "litres",
    "_kg": "kg",
    "_days": "days",
    "_h": "h",
    "_dd": "dd",
    "_share": "share",
    "_portions": "portions",
}
"""Name endings that carry a unit. ``_c`` is a temperature, ``_k`` a temperature difference, ``_dd`` °C·day."""

RECKONED = ("c", "k", "dd", "h", "share", "portions")
"""Units of figures that somebody may act on, so that their kind says how they were reckoned."""
ORIGINS = ("recorded", "derived", "concluded")


def unit_of(name: str) -> str | None:
    """Return the unit a field's name ends in, or None.

    >>> unit_of("drainage_cm_h"), unit_of("temp_c"), unit_of("species")
    ('cm_h', 'c', None)
    """
    for suffix in sorted(UNIT_SUFFIXES, key=len, reverse=True):
        if name.endswith(suffix):
            return UNIT_SUFFIXES[suffix]
    return None


@dataclass(frozen=True, slots=True)
class Field:
    """One field of a kind. ``min`` and ``max`` bound what a record may hold, in the field's unit.

    ``ask`` is how to ask for this field alone, where the kind's own question does not cover it.
    """

    name: str
    type: str
    says: str = ""
    required: bool = False
    one_of: tuple[str, ...] = ()
    min: float | None = None
    max: float | None = None
    ask: str = ""

    @property
    def unit(self) -> str | None:
        return unit_of(self.name)

    @property
    def is_number(self) -> bool:
        return self.type in ("number", "whole")

    def fits(self, value: object) -> bool:
        """Return whether a value has this field's type and is one of its allowed values."""
        if self.type == "yes_no":
            return isinstance(value, bool)
        if isinstance(value, bool):
            return False
        if self.type == "number":
            return isinstance(value, int | float)
        if self.type == "whole":
            return isinstance(value, int)
        if self.type == "time":
            return isinstance(value, datetime)
        if self.type == "date":
            return isinstance(value, date) and not isinstance(value, datetime)
        return isinstance(value, str) and (not self.one_of or value in self.one_of)


@dataclass(frozen=True)
class Kind:
    """One kind of fact.

    ``about`` names the fields that say which one is meant (which plant, which spot); ``holds_on`` the field that
    says when it holds. ``ask`` is how to ask for it, ``ask_kind`` the kind of record that would bring it where it is
    derived. Two recorded rows with the same ``same_when`` fields are about one thing, so that a later one stands for
    the earlier. ``absent_means`` is "unknown" where a missing fact settles nothing and "no" where the
    records or the derivation are complete, so that a missing fact means that it is not so. ``basis`` is what a
    conclusion resting on it may call itself: "measured" in this garden, "computed" from its weather, or "known".
    ``method`` and ``trust`` say of a derived figure how it was reckoned and how far to trust it.
    """

    name: str
    says: str
    origin: str
    about: tuple[str, ...]
    fields: Mapping[str, Field]
    absent_means: str = "unknown"
    basis: str = "known"
    holds_on: str = ""
    ask: str = ""
    ask_kind: str = ""
    derived_by: str = ""
    method: str = ""
    trust: str = ""
    needs_one_of: tuple[str, ...] = ()
    same_when: tuple[str, ...] = ()
    example: Mapping[str, Value] | None = None


Vocabulary = Mapping[str, Kind]


def _kind(path: Path, raw: dict[str, Any]) -> Kind:
    try:
        fields = {
            name: Field(
                name=name,
                type=spec["type"],
                says=spec.get("says", ""),
                required=spec.get("required", False),
                one_of=tuple(spec.get("one_of", ())),
                min=spec.get("min"),
                max=spec.get("max"),
                ask=spec.get("ask", ""),
            )
            for name, spec in raw["fields"].items()
        }
        kind = Kind(
            name=raw["kind"],
            says=raw["says"],
            origin=raw["origin"],
            about=tuple(raw.get("about", ())),
            fields=fields,
            absent_means=raw.get("absent_means", "unknown"),
            basis=raw.get("basis", "known"),
            holds_on=raw.get("holds_on", ""),
            ask=raw.get("ask", ""),
            ask_kind=raw.get("ask_kind", ""),
            derived_by=raw.get("derived_by", ""),
            method=raw.get("method", ""),
            trust=raw.get("trust", ""),
            needs_one_of=tuple(raw.get("needs_one_of", ())),
            same_when=tuple(raw.get("same_when", ())),
            example=raw.get("example"),
        )
    except KeyError as missing:
        raise BadRules(f"reading kind {path.name}", f"no key {missing}", "Add it; see any other kind") from None
    _check(path, kind)
    return kind


def _check(path: Path, kind: Kind) -> None:
    def fault(found: str, do: str) -> BadRules:
        return BadRules(f"reading kind {path.name}", found, do)

    if kind.name != path.stem:
        raise fault(f"kind is {kind.name!r} but the file is {path.stem!r}", "Give both the same name")
    if kind.origin not in ORIGINS:
        raise fault(f"origin {kind.origin!r}", f"Use one of {', '.join(ORIGINS)}")
    if kind.absent_means not in ("unknown", "no"):
        raise fault(f"absent_means {kind.absent_means!r}", "Use unknown or no")
    if kind.basis not in ("measured", "computed", "known"):
        raise fault(f"basis {kind.basis!r}", "Use measured, computed or known")
    for field in kind.fields.values():
        if field.type not in TYPES:
            raise fault(f"field {field.name}: type {field.type!r}", f"Use one of {', '.join(TYPES)}")
        if field.type == "word" and not field.one_of:
            raise fault(f"field {field.name}: a word without one_of", "List the allowed words, or use text")
        if (field.unit is not None) != field.is_number and field.unit is not None:
            raise fault(f"field {field.name} ends in a unit but is no number", "Rename it or make it a number")
    for name in (*kind.about, *kind.needs_one_of, *kind.same_when, *([kind.holds_on] if kind.holds_on else [])):
        if name not in kind.fields:
            raise fault(f"{name!r} is named but is no field", "Add the field or mend the name")
    if kind.origin == "recorded" and not kind.example:
        raise fault("a recorded kind without an example", "Add [example]")
    if (kind.origin == "derived") != bool(kind.derived_by):
        raise fault("derived_by is missing or out of place", "Exactly the derived kinds name their function")
    figures = [field.name for field in kind.fields.values() if field.unit in RECKONED]
    if kind.origin == "derived" and figures and not (kind.method and kind.trust):
        do = "Say how it was reckoned (method) and how far to trust it (trust)"
        raise fault(f"figures without method or trust: {', '.join(figures)}", do)


def read_toml(path: Path) -> dict[str, Any]:
    """Read one TOML file; raise BadRules naming the file and the place where it is not TOML."""
    return parse_toml(path, read_text(path))


def read_text(path: Path) -> str:
    """Read a file of the rule base; raise BadRules where it is not UTF-8."""
    try:
        return path.read_text(encoding="utf-8")
    except UnicodeDecodeError as error:
        raise BadRules(f"reading {path.parent.name}/{path.name}", str(error), "Mend the file") from None


def parse_toml(path: Path, text: str) -> dict[str, Any]:
    """Parse the text of a TOML file, or a part of it; raise BadRules as ``read_toml`` does."""
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise BadRules(f"reading {path.parent.name}/{path.name}", str(error), "Mend the file") from None


def load_kinds(rules: Path) -> dict[str, Kind]:
    """Read every kind of a rule base, by name. Raise BadRules at the first that does not hold together."""
    kinds = {path.stem: _kind(path, read_toml(path)) for path in sorted((rules / "kinds").glob("*.toml"))}
    if not kinds:
        raise BadRules("reading the kinds", f"no *.toml in {rules / 'kinds'}", "Name the rule base's folder")
    return kinds
