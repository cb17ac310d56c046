"""The rules as data: read from ``rules/<topic>/*.toml``, one a file, and held beside the vocabulary they speak in.

A rule never runs code. A block matches one fact; each of its tests is a field, an operator and an operand. What a
rule may say is checked by ``lint``; this module only refuses what it cannot read at all.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from functools import cached_property
from pathlib import Path
from typing import Any, overload

from advisor.errors import BadRules
from advisor.facts import Value
from advisor.reasoning.rule_form import case_faults, refuse_malformed
from advisor.records.kinds import Vocabulary, load_kinds, parse_toml, read_text, read_toml

OPERATORS = ("at_least", "at_most", "above", "below", "one_of", "not", "same_as")
STRENGTHS = ("well-supported", "usual-practice", "disputed")
KEYS = ("id", "says", "how_it_works", "strength", "since", "sources", "cautions", "when", "unless", "then", "test")
NOT_TOPICS = ("kinds", "questions", "species")
WHOLE_REFERENCE = re.compile(r"^\{(\w+)\.(\w+)\}$")
REFERENCE = re.compile(r"\{(\w+)\.(\w+)\}")


@dataclass(frozen=True, slots=True)
class Test:
    """One test of a field. ``operator`` is "equals" or one of OPERATORS; "same_as" has a (block, field) operand."""

    __test__ = False  # not a test of pytest's

    field: str
    operator: str
    operand: Any


@dataclass(frozen=True, slots=True)
class Block:
    """One ``[when.NAME]`` or ``[unless.NAME]``: the kind of fact it matches and the tests on it."""

    name: str
    kind: str
    tests: tuple[Test, ...]

    def joins(self) -> list[Test]:
        return [test for test in self.tests if test.operator == "same_as"]


@dataclass(frozen=True, slots=True)
class Source:
    """What stands behind a rule. ``read`` says how far it was read: table, abstract, excerpt, via-reference or
    "not yet"; house judgement, a grower's own and common practice have nothing to read."""

    cite: str
    backs: str
    read: str = ""

    @property
    def is_house(self) -> bool:
        return self.cite in ("house judgement", "grower's own judgement")

    @property
    def is_common_practice(self) -> bool:
        return self.cite == "common practice, no source"

    @property
    def is_published(self) -> bool:
        return not (self.is_house or self.is_common_practice)


@dataclass(frozen=True, slots=True)
class Case:
    """One of a rule's own tests: facts given, conclusions expected, and what the rule says it lacks."""

    name: str
    given: tuple[Mapping[str, Any], ...]
    expect: tuple[Mapping[str, Any], ...]
    lacks: tuple[str, ...] = ()


class CasesLater(Sequence[Case]):
    """A rule's cases, read when they are first asked for: who answers messages needs none of them."""

    def __init__(self, path: Path, text: str) -> None:
        self._path, self._text = path, text

    @cached_property
    def _cases(self) -> tuple[Case, ...]:
        raw = parse_toml(self._path, self._text).get("test", [])
        if wrong := case_faults(raw):
            where = f"reading rule {self._path.parent.name}/{self._path.name}"
            raise BadRules(where, "; ".join(wrong[:5]), "DEVELOPERS.md shows a whole rule")
        return _cases(raw)

    @overload
    def __getitem__(self, place: int) -> Case: ...
    @overload
    def __getitem__(self, place: slice) -> tuple[Case, ...]: ...
    def __getitem__(self, place: int | slice) -> Case | tuple[Case, ...]:
        return self._cases[place]

    def __len__(self) -> int:
        return len(self._cases)


def _cases(raw: Sequence[Mapping[str, Any]]) -> tuple[Case, ...]:
    return tuple(
        Case(case["name"], tuple(case["given"]), tuple(case["expect"]), tuple(case.get("lacks", ()))) for case in raw
    )


@dataclass(frozen=True)
class Rule:
    id: str
    topic: str
    says: str
    how_it_works: str
    strength: str
    since: date | None
    sources: tuple[Source, ...]
    cautions: tuple[str, ...]
    when: tuple[Block, ...]
    unless: tuple[Block, ...]
    conclude: str
    gives: Mapping[str, Value]
    tell: str
    cases: Sequence[Case]
    key_order: tuple[str, ...] = KEYS
    own: bool = False
    """The grower's, from a folder of their own."""

    def block(self, name: str) -> Block:
        return next(block for block in (*self.when, *self.unless) if block.name == name)


@dataclass(frozen=True)
class RuleBase:
    """Rules by id in a fixed order, and the vocabulary.

    ``set_aside`` are rules of ours that a rule of the grower's of the same id stands for.
    """

    rules: Mapping[str, Rule]
    kinds: Vocabulary
    set_aside: Mapping[str, Rule] = field(default_factory=dict)

    def concluded_kinds(self) -> set[str]:
        return {rule.conclude for rule in self.rules.values()}

    @cached_property
    def resting_on_rules(self) -> frozenset[str]:
        """The rules, by id, that look at something that a rule concludes."""
        concluded = self.concluded_kinds()
        return frozenset(key for key, rule in self.rules.items() if any(one.kind in concluded for one in rule.when))

    def only(self, ids: set[str]) -> RuleBase:
        """Return the rule base cut down to the rules named."""
        aside = {key: rule for key, rule in self.set_aside.items() if key in ids}
        return RuleBase({key: rule for key, rule in self.rules.items() if key in ids}, self.kinds, aside)


def _test(where: str, field: str, spec: Any) -> Test:
    if not isinstance(spec, dict):
        return Test(field, "equals", spec)
    if len(spec) != 1 or next(iter(spec)) not in OPERATORS:
        raise BadRules(where, f"{field} has {spec!r}", f"Give one value or one of {', '.join(OPERATORS)}")
    operator, operand = next(iter(spec.items()))
    if operator == "same_as":
        parts = str(operand).split(".")
        if len(parts) != 2:
            raise BadRules(where, f"{field} is the same as {operand!r}", "Write it as block.field")
        return Test(field, operator, (parts[0], parts[1]))
    if operator == "one_of":
        return Test(field, operator, tuple(operand))
    return Test(field, operator, operand)


def blocks_from(where: str, raw: Mapping[str, Any]) -> tuple[Block, ...]:
    """Read named blocks; ``where`` names them in errors. Raise BadRules where one has no kind or a test no meaning."""
    blocks = []
    for name, spec in raw.items():
        if not isinstance(spec, dict) or "kind" not in spec:
            raise BadRules(where, f"block {name} without a kind", "Say which kind of fact it matches")
        tests = tuple(_test(f"{where}, block {name}", field, value) for field, value in spec.items() if field != "kind")
        blocks.append(Block(name, spec["kind"], tests))
    return tuple(blocks)


def rule_from(raw: Mapping[str, Any], topic: str, where: str) -> Rule:
    """Make a rule from a read TOML file; ``where`` names it in errors. Raise BadRules where its form is no rule's."""
    refuse_malformed(raw, where)
    then = dict(raw["then"])
    conclude, tell = then.pop("conclude"), then.pop("tell", "")
    return Rule(
        id=raw["id"],
        topic=topic,
        says=raw["says"],
        how_it_works=raw["how_it_works"],
        strength=raw["strength"],
        since=raw.get("since"),
        sources=tuple(Source(s["cite"], s.get("backs", ""), s.get("read", "")) for s in raw["sources"]),
        cautions=tuple(raw["cautions"]),
        when=blocks_from(where, raw["when"]),
        unless=blocks_from(where, raw.get("unless", {})),
        conclude=conclude,
        gives=then,
        tell=tell,
        cases=_cases(raw.get("test", ())),
        key_order=tuple(raw),
    )


def rule_files(rules: Path) -> list[Path]:
    """Return the rule files of a folder, in a fixed order: each in a folder named for its topic."""
    return sorted(p for p in rules.glob("*/*.toml") if p.parent.name not in NOT_TOPICS)


def load_rules(rules: Path, own: Path | None = None) -> RuleBase:
    """Read the rule base, and the grower's own rules from a folder where one is named.

    A rule of the grower's whose id is one of ours stands for it, and keeps the cautions of ours. Raise BadRules at the
    first file that cannot be read as a rule, or where the folder is not there.
    """
    base = RuleBase(_read_rules(rules, cases_later=True), load_kinds(rules))
    if own is None:
        return base
    if not own.is_dir():
        raise BadRules("reading your own rules", f"no folder {own}", "Make it, or mend ADVISOR_OWN_RULES")
    theirs = _read_rules(own)
    found, aside = dict(base.rules), {key: base.rules[key] for key in theirs if key in base.rules}
    for key, rule in theirs.items():
        kept = aside[key].cautions if key in aside else ()
        found[key] = replace(rule, own=True, cautions=tuple(dict.fromkeys((*rule.cautions, *kept))))
    return RuleBase(found, base.kinds, aside)


def _read_rules(rules: Path, *, cases_later: bool = False) -> dict[str, Rule]:
    """Read a folder's rules. With ``cases_later`` the cases at the foot of each file are read when asked for."""
    found: dict[str, Rule] = {}
    for path in rule_files(rules):
        where = f"reading rule {path.parent.name}/{path.name}"
        rule = _with_cases_later(path, where) if cases_later else rule_from(read_toml(path), path.parent.name, where)
        if rule.id != path.stem:
            raise BadRules(where, f"its id is {rule.id!r}", "Give file and id the same name")
        if rule.id in found:
            raise BadRules(where, f"{found[rule.id].topic} has a rule of that id", "Ids are unique; rename one")
        found[rule.id] = rule
    return found


def _with_cases_later(path: Path, where: str) -> Rule:
    text = read_text(path)
    head, mark, foot = text.partition("\n[[test]]")
    rule = rule_from(parse_toml(path, head), path.parent.name, where)
    order = (*rule.key_order, "test") if mark else rule.key_order
    return replace(rule, cases=CasesLater(path, mark + foot), key_order=order)
