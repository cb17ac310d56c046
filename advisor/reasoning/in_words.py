"""A rule's conditions as plain sentences: what is asked of whom, which records are about the same tree or spot.

The sentences are templates with fixed quantities (``{1.5_k}``); wording tells them in the grower's units.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise

from advisor.reasoning.condition_words import ConditionWords, spaced
from advisor.reasoning.rulebase import WHOLE_REFERENCE, Block, Rule, Test
from advisor.records.kinds import Field, Kind, Vocabulary

SUBJECT = re.compile(r"\{([a-z]\w*)\}")
Slot = tuple[str, str]
"""A field of a block: (block, field)."""
LEANS = re.compile(
    r"(that (?!the )|this is |what counts |they |its |each |those |both )|it (was|rests|is (not )?there) "
    r"|((at least|at most|more than|fewer than) )?\d+ (\w+ )*(years|springs|winters|soils) "
)
"""A clause that leans on the one before it, or says how much lies behind it: it comes after the others."""
NAMED_BY_TEXT = {"where": "spot", "than": "spot", "shoot": "shoot", "trial": "trial"}
"""Text fields that name a subject."""
NOUNS = {"plant": "plant", "spot": "spot", "species": "kind", "shoot": "shoot", "trial": "trial"}


@dataclass(frozen=True)
class Condition:
    """One block in words. ``settles`` says of an ``unless`` what a missing record does: "weakens" or "counts as no"."""

    block: str
    kind: str
    text: str
    settles: str = ""


@dataclass(frozen=True)
class RuleInWords:
    """A rule's ``when`` and ``unless`` in words; ``names`` what each subject in it is called, by (block, field)."""

    when: tuple[Condition, ...]
    unless: tuple[Condition, ...]
    names: Mapping[Slot, str]

    def value(self, given: object) -> str:
        """Return what a rule gives its conclusion as words: a constant as it is, a reference by what it names."""
        found = WHOLE_REFERENCE.match(given) if isinstance(given, str) else None
        if not found:
            return ("yes" if given else "no") if isinstance(given, bool) else str(given)
        return self.names.get((found[1], found[2])) or "as found"


def in_words(rule: Rule, kinds: Vocabulary, words: ConditionWords) -> RuleInWords:
    """Return a rule's conditions in words."""
    names = _names(rule, kinds)
    when = tuple(_condition(block, kinds, words, names) for block in rule.when)
    unless = tuple(_condition(block, kinds, words, names, unless=True) for block in rule.unless)
    return RuleInWords(when, unless, names)


def clause_in_words(test: Test, block: Block, told: RuleInWords, kinds: Vocabulary, words: ConditionWords) -> str:
    """Return one test of a rule's block as a clause that says itself what it speaks of."""
    kind = kinds[block.kind]
    spec = kind.fields[test.field]
    if test.operator != "same_as":
        return _named(words.told(kind.name, spec, test, alone=True), block.name, told.names)
    if _subject(kind, spec):
        return f"it is about {told.names.get((block.name, test.field), 'the same')}"
    return _named(words.same(kind.name, test.field), block.name, told.names)


def pattern_in_words(block: Block, kinds: Vocabulary, words: ConditionWords) -> str:
    """Return a block of no rule, such as a record that shows what came of advice, as a clause."""
    kind = kinds[block.kind]
    names = {(block.name, spec.name): f"the {noun}" for spec in kind.fields.values() if (noun := _subject(kind, spec))}
    return _condition(block, kinds, words, names).text.rstrip(".")


def _condition(
    block: Block, kinds: Vocabulary, words: ConditionWords, names: Mapping[Slot, str], *, unless: bool = False
) -> Condition:
    kind = kinds[block.kind]
    clauses = sorted(_clauses(block, kind, words), key=lambda clause: bool(LEANS.match(clause)))
    if not clauses or LEANS.match(clauses[0]):
        clauses.insert(0, words.there_is(kind.name))
    settles = ("counts as no" if kind.absent_means == "no" else "weakens") if unless else ""
    return Condition(block.name, kind.name, _named(_joined(clauses), block.name, names) + ".", settles)


def _clauses(block: Block, kind: Kind, words: ConditionWords) -> Iterator[str]:
    asked = [test for test in block.tests if test.operator != "same_as"]
    for name in kind.fields:
        for test in block.tests:
            if test.field != name:
                continue
            spec = kind.fields[name]
            if test.operator != "same_as":
                yield words.told(kind.name, spec, test, alone=len(asked) == 1)
            elif not _subject(kind, spec):
                yield words.same(kind.name, name)


def _joined(clauses: list[str]) -> str:
    """Return clauses as one sentence; a subject that the clause before had is not said twice."""
    said = [clauses[0]]
    for before, clause in pairwise(clauses):
        first, subject = SUBJECT.match(before), SUBJECT.match(clause)
        again = first and subject and first[0] == subject[0]
        said.append(clause[subject.end() :].strip() if again and subject else clause)
    return said[0] if len(said) == 1 else f"{', '.join(said[:-1])}, and {said[-1]}"


def _named(text: str, block: str, names: Mapping[Slot, str]) -> str:
    return SUBJECT.sub(lambda found: names.get((block, found[1]), f"the {spaced(found[1])}"), text)


# ---- who is meant


def _subject(kind: Kind, spec: Field) -> str:
    """Return what sort of subject a field names: plant, spot, species, shoot, trial; "" where it names none."""
    if spec.type in NOUNS:
        return spec.type
    if kind.name in ("plant", "spot") and spec.name == "name":
        return kind.name
    return NAMED_BY_TEXT.get(spec.name, "") if spec.type == "text" else ""


def _names(rule: Rule, kinds: Vocabulary) -> dict[Slot, str]:
    """Return what each subject is called; fields that a rule joins are one subject and share a name."""
    together: dict[Slot, list[Slot]] = {}
    for block in (*rule.when, *rule.unless):
        joins = {test.field: test.operand for test in block.joins()}
        for spec in kinds[block.kind].fields.values():
            if not _subject(kinds[block.kind], spec):
                continue
            slot = (block.name, spec.name)
            group = together.get(joins[spec.name], []) if spec.name in joins else []
            group.append(slot)
            together[slot] = group
    sort = {block.name: kinds[block.kind] for block in (*rule.when, *rule.unless)}
    names: dict[Slot, str] = {}
    used: dict[str, int] = {}
    for group in {id(found): found for found in together.values()}.values():
        name = _name(group, sort, names, used)
        names |= dict.fromkeys(group, name)
    return names


def _name(group: list[Slot], sort: Mapping[str, Kind], names: Mapping[Slot, str], used: dict[str, int]) -> str:
    of = [(block, name, sort[block].name) for block, name in group]
    whose = next((block for block, name, kind in of if (kind, name) == ("standing", "spot")), "")
    if whose and (whose, "plant") in names:
        return f"{names[whose, 'plant']}'s spot"
    noun = NOUNS[_subject(sort[group[0][0]], sort[group[0][0]].fields[group[0][1]])]
    if noun == "kind":
        return "the kind sought"
    if len(group) == 1 and group[0][1] in ("than", "beside"):
        return f"another {noun}"
    used[noun] = used.get(noun, 0) + 1
    return f"the {noun}" if used[noun] == 1 else f"another {noun}"
