"""Programs for the engines as plain data: a vocabulary, rules and facts; kept as JSON, and cut down piece by piece."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from advisor.facts import Derived, Fact, Value
from advisor.reasoning.rulebase import RuleBase, rule_from
from advisor.records.kinds import Field, Kind

Raw = dict[str, Any]
NO_PROSE: Raw = {"says": "s", "how_it_works": "h", "strength": "disputed", "sources": [], "cautions": []}
TAGS = {"as date": date.fromisoformat, "as time": datetime.fromisoformat, "as number": float, "as whole": int}
"""What JSON has no word for is written as an object of one such key."""


@dataclass(frozen=True)
class Program:
    """``kinds``: name → {about, absent_means, fields}; ``rules`` as read from TOML, their prose left out;
    ``facts``: {kind, values}, values never None."""

    kinds: Mapping[str, Raw]
    rules: tuple[Raw, ...]
    facts: tuple[Raw, ...]

    def base(self) -> RuleBase:
        """Return the rule base. Raise BadRules where a rule has not a rule's form."""
        made = [rule_from({**NO_PROSE, **rule}, "test", f"making rule {rule['id']}") for rule in self.rules]
        kinds = {
            name: Kind(
                name,
                "",
                "derived",
                tuple(raw["about"]),
                {field: Field(field, "text") for field in raw["fields"]},
                raw["absent_means"],
            )
            for name, raw in self.kinds.items()
        }
        return RuleBase({rule.id: rule for rule in made}, kinds)

    def given(self) -> list[Fact]:
        return [given(raw["kind"], raw["values"]) for raw in self.facts]

    def size(self) -> int:
        """Return the length of the program as it is written."""
        return len(self.text())

    def text(self, **more: Any) -> str:
        """Return the program as a case to keep; ``more`` are members that stand before it."""
        whole = {**more, "kinds": self.kinds, "rules": self.rules, "facts": self.facts}
        return json.dumps(_coded(whole), indent=1, ensure_ascii=False, allow_nan=False)


def given(kind: str, values: Mapping[str, Value]) -> Fact:
    return Fact.of(kind, values, Derived("given", ()))


def read_program(text: str) -> tuple[Program, Raw]:
    """Return the program of a kept case, and what else the case says."""
    raw = json.loads(text, object_hook=_decoded)
    program = Program(raw.pop("kinds"), tuple(raw.pop("rules")), tuple(raw.pop("facts")))
    return program, raw


def _coded(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {name: _coded(inner) for name, inner in value.items()}
    if isinstance(value, list | tuple):
        return [_coded(inner) for inner in value]
    if isinstance(value, date):
        return {"as time" if isinstance(value, datetime) else "as date": value.isoformat()}
    if isinstance(value, float) and not math.isfinite(value):
        return {"as number": repr(value)}
    if isinstance(value, int) and not isinstance(value, bool) and abs(value) > 2**53:
        return {"as whole": str(value)}  # many readers of JSON would round it
    return value


def _decoded(raw: Raw) -> Any:
    if len(raw) == 1:
        ((tag, text),) = raw.items()
        if tag in TAGS:
            return TAGS[tag](text)
    return raw
