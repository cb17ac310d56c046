"""How one test of a rule is told: the clauses of ``rules/condition_words.toml``, filled with the value asked for.

A clause is a template: quantities stand in it as ``{1.5_k}``, which wording tells in the grower's units, and subjects
as ``{plant}``, which ``in_words`` names.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

from advisor.errors import BadRules
from advisor.reasoning.rulebase import Test
from advisor.records.kinds import Field, Vocabulary, read_toml

FILE = "condition_words.toml"
CLAUSES = ("says", "yes", "no", "more", "less", "over", "from", "under", "to", "one", "none", "known", "alone", "same")
PARTS = (*CLAUSES, "or_more", "or_less", "words", "not", "code")
AT_NOUGHT = {"above": "over", "at_least": "from", "below": "under", "at_most": "to"}
NUMBERS = {"at_least": "at least {}", "at_most": "at most {}", "above": "more than {}", "below": "less than {}"}
COUNTS = {**NUMBERS, "below": "fewer than {}"}
TEMPERATURES = {"at_least": "{} or warmer", "at_most": "{} or colder", "above": "above {}", "below": "below {}"}
CODES = {"at_least": "{} or later", "at_most": "{} or earlier", "above": "later than {}", "below": "earlier than {}"}


@dataclass(frozen=True)
class Clause:
    """How a field is told: clauses by the case that they are for, words by value."""

    parts: Mapping[str, Any]

    def part(self, name: str) -> str:
        return str(self.parts.get(name, ""))


@dataclass(frozen=True)
class ConditionWords:
    """The clauses by kind and field, ``is`` for the fact itself; ``called`` kinds of tree by id: "a fig"."""

    clauses: Mapping[str, Mapping[str, Clause]] = field(default_factory=dict)
    called: Mapping[str, str] = field(default_factory=dict)

    def there_is(self, kind: str) -> str:
        """Return the clause for a fact of which nothing is asked."""
        clause = self.clauses.get(kind, {}).get("is")
        return clause.part("says") if clause else f"there is a {spaced(kind)}"

    def same(self, kind: str, name: str) -> str:
        """Return the clause for a field that must be as in another fact, and names no subject."""
        clause = self.clauses.get(kind, {}).get(name)
        return (clause.part("same") if clause else "") or f"the {spaced(name)} is the same"

    def told(self, kind: str, spec: Field, test: Test, *, alone: bool = False) -> str:
        """Return the clause of one test of a field; joins are told by ``same`` or by the names of subjects.

        ``alone`` where nothing else is asked of the fact, so that the clause must say itself what it speaks of.
        """
        clause = self.clauses.get(kind, {}).get(spec.name) or Clause({"says": f"its {spaced(spec.name)} is {{v}}"})
        if alone and clause.part("alone"):
            clause = Clause({**clause.parts, "says": clause.part("alone")})
        if isinstance(test.operand, bool):
            return self._yes_no(clause, spec, test)
        if test.operator == "not":
            return self._not(clause, spec, test.operand)
        if test.operator in NUMBERS:
            return _compared(clause, spec, test)
        values = test.operand if test.operator == "one_of" else (test.operand,)
        if clause.part("one") and values == (1,):
            return clause.part("one")
        if clause.part("none") and values == (0,):
            return clause.part("none")
        said = either([self._value(clause, spec, value) for value in values])
        return clause.part("says").replace("{v}", said)

    def _yes_no(self, clause: Clause, spec: Field, test: Test) -> str:
        so = test.operand is (test.operator != "not")
        told = clause.part("yes" if so else "no")
        return told or clause.part("says").replace("{v}", "so" if so else "not so") or spaced(spec.name)

    def _not(self, clause: Clause, spec: Field, value: Any) -> str:
        if clause.part("known") and (value == "" or isinstance(value, date)):
            return clause.part("known")  # no record is dated so, or empty: whatever is known passes
        other = clause.parts.get("not", {}).get(value)
        return str(other) if other else clause.part("says").replace("{v}", f"not {self._value(clause, spec, value)}")

    def _value(self, clause: Clause, spec: Field, value: Any) -> str:
        if isinstance(value, int | float):
            return quantity(value, spec)
        if isinstance(value, date):
            return value.isoformat()
        word = clause.parts.get("words", {}).get(value) or self.called.get(value)
        return str(word or (spaced(value) if spec.name == "claim" else value))


def _compared(clause: Clause, spec: Field, test: Test) -> str:
    size, at_nought = test.operand, clause.part(AT_NOUGHT[test.operator])
    if size == 0 and at_nought:
        return at_nought
    if size in (0, 1) and test.operator == "at_most" and clause.part("none" if size == 0 else "one"):
        return clause.part("none" if size == 0 else "one")
    if clause.part("more"):
        return _signed(clause, spec, test)
    said = quantity(size, spec)
    if clause.parts.get("code"):
        return clause.part("says").replace("{v}", CODES[test.operator].format(f"BBCH {said}"))
    if size == 1 and spec.unit is None and test.operator == "at_least":
        return clause.part("says").replace("{v}", "one or more")
    words = TEMPERATURES if spec.unit == "c" else COUNTS if spec.unit is None and spec.type == "whole" else NUMBERS
    return clause.part("says").replace("{v}", words[test.operator].format(said))


def _signed(clause: Clause, spec: Field, test: Test) -> str:
    """Return a test of a number with a sign as a size and a side, and what of the other side passes too."""
    above, size = test.operand >= 0, quantity(abs(test.operand), spec)
    grows = test.operator in ("at_least", "above")  # larger values pass
    mirrored = {"at_least": "at_most", "at_most": "at_least", "above": "below", "below": "above"}
    operator = test.operator if above else mirrored[test.operator]
    told = clause.part("more" if above else "less").replace("{v}", NUMBERS[operator].format(size))
    if grows and not above:
        return f"{told}, or {clause.part('or_more') or 'more'}"
    return f"{told}, or {clause.part('or_less') or 'less'}" if above and not grows else told


def quantity(value: float, spec: Field) -> str:
    """Return a number as a fixed quantity of a template, or bare where its field has no unit.

    >>> quantity(1.5, Field("warmer_by_k", "number")), quantity(2, Field("years", "whole"))
    ('{1.5_k}', '2')
    """
    return f"{{{value:g}_{spec.unit}}}" if spec.unit else f"{value:g}"


def spaced(name: str) -> str:
    """Return a name of ours as words."""
    return name.replace("_", " ").replace("-", " ")


def either(words: list[str]) -> str:
    """Return words as a choice.

    >>> either(["a", "b", "c"])
    'a, b or c'
    """
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} or {words[-1]}"


def load_condition_words(rules: Path, kinds: Vocabulary, called: Mapping[str, str]) -> ConditionWords:
    """Read how conditions are told. Raise BadRules where an entry is of no kind or field, or has no such part."""
    path = rules / FILE
    found: dict[str, dict[str, Clause]] = {}
    for kind, entries in (read_toml(path) if path.exists() else {}).items():
        for name, entry in entries.items():
            if kind not in kinds or (name != "is" and name not in kinds[kind].fields):
                raise BadRules(f"reading {FILE}", f"{kind}.{name}", "Name a kind and one of its fields")
            parts = entry if isinstance(entry, dict) else {"says": entry}
            if unknown := sorted(set(parts) - set(PARTS)):
                raise BadRules(f"reading {FILE}", f"{kind}.{name}: {unknown[0]}", f"Use {', '.join(PARTS)}")
            found.setdefault(kind, {})[name] = Clause(parts)
    return ConditionWords(found, called)
