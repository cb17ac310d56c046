"""Checks of the rule base without running it: does every rule keep to the vocabulary and show its evidence.

Each check returns sentences that say which rule, what was found and what to do. ``fixtures/bad_rules`` has a rule
that each check refuses, with the sentence beside it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from advisor.errors import BadRules
from advisor.facts import typed
from advisor.reasoning.cases import fact_from
from advisor.reasoning.engine.strata import strata
from advisor.reasoning.reach import reach
from advisor.reasoning.rulebase import KEYS, REFERENCE, STRENGTHS, WHOLE_REFERENCE, Block, Rule, RuleBase, Source, Test
from advisor.records.kinds import UNIT_SUFFIXES, Field, Kind, unit_of
from advisor.records.questions import QuestionKinds

THRESHOLDS = ("at_least", "at_most", "above", "below")
READ_LEVELS = ("table", "abstract", "excerpt", "via-reference", "not yet")


def lint(base: RuleBase, questions: QuestionKinds) -> list[str]:
    """Return everything that is wrong with a rule base, in a fixed order; an empty list if it is sound."""
    found: list[str] = []
    for rule in base.rules.values():
        wrong = [*_form(rule), *_vocabulary(rule, base), *_conclusion(rule, base), *_sources(rule)]
        if not wrong:  # cases can only be judged where the vocabulary holds
            wrong = [*_cases(rule, base)]
        found += [f"{rule.topic}/{rule.id}: {sentence}" for sentence in wrong]
    found += _reachable(base, questions)
    found += one_work_cited_two_ways(source.cite for rule in base.rules.values() for source in rule.sources)
    try:
        strata(base.rules.values())
    except BadRules as error:
        found.append(str(error))
    return found


def refuse_unsound(base: RuleBase, questions: QuestionKinds) -> None:
    """Raise BadRules where a rule of the grower's own is not sound: it would be asked of every message."""
    own = [rule for rule in base.rules.values() if rule.own]
    if not own:
        return
    theirs = tuple(f"{rule.topic}/{rule.id}:" for rule in own)
    wrong = [one for one in lint(base, questions) if one.startswith(theirs)]
    if wrong:
        raise BadRules(
            "reading your own rules", wrong[0], "Mend the rule, or take its file out; advisor check says all"
        )


def _form(rule: Rule) -> Iterator[str]:
    known = [key for key in rule.key_order if key in KEYS]
    for key in rule.key_order:
        if key not in KEYS:
            yield f"unknown key {key!r}; the keys are {', '.join(KEYS)}"
    if known != sorted(known, key=KEYS.index):
        yield f"keys stand in the order {', '.join(known)}; put prose first: {', '.join(KEYS)}"
    for key in ("says", "how_it_works", "tell"):
        if not getattr(rule, key).strip():
            yield f"{key} is empty; write it as a grower would pass it on"
    if rule.since is None:
        yield "no since; give the date the rule was written"
    if not rule.cautions:
        yield "no cautions; say where the rule is wrong"
    if not rule.when:
        yield "no when block; a rule needs something to match"


def _vocabulary(rule: Rule, base: RuleBase) -> Iterator[str]:
    earlier: dict[str, Kind] = {}
    for block in (*rule.when, *rule.unless):
        kind = base.kinds.get(block.kind)
        if kind is None:
            yield f"block {block.name}: unknown kind {block.kind!r}; the kinds are the files in rules/kinds"
            continue
        for test in block.tests:
            yield from _test(block, test, kind, earlier)
        if block in rule.when:
            earlier[block.name] = kind


def _test(block: Block, test: Test, kind: Kind, earlier: Mapping[str, Kind]) -> Iterator[str]:
    at = f"block {block.name}, {test.field}"
    field = kind.fields.get(test.field)
    if field is None:
        yield f"{at}: {kind.name} has no such field; {_hint(test.field, kind)}"
    elif test.operator == "same_as":
        other_block, other_field = test.operand
        other = earlier.get(other_block)
        if other is None:
            yield f"{at}: same_as names {other_block!r}, which is no earlier when block; join to one above it"
        elif other_field not in other.fields:
            yield f"{at}: same_as names {other_block}.{other_field}; {_hint(other_field, other)}"
        elif not _joinable(field, other.fields[other_field]):
            yield f"{at}: {field.type} never equals {other_block}.{other_field}, a {other.fields[other_field].type}"
    elif test.operator in THRESHOLDS:
        if not field.is_number:
            yield f"{at}: {test.operator} on a {field.type}; compare numbers only"
        elif isinstance(test.operand, bool) or not isinstance(test.operand, int | float):
            yield f"{at}: {test.operator} {test.operand!r}; give a number"
    else:
        choices = test.operand if test.operator == "one_of" else (test.operand,)
        for choice in choices:
            if not field.fits(choice):
                yield f"{at}: value {choice!r} is not one that a {_wanted(field)} can have"


def _hint(name: str, kind: Kind) -> str:
    unit = unit_of(name)
    stem = name[: -len(next(s for s, u in UNIT_SUFFIXES.items() if u == unit))] if unit else name
    stem = re.sub(r"_(f|in|inch|ft|gal)$", "", stem)
    for field in kind.fields:
        if field != name and unit_of(field) and field.startswith(stem + "_"):
            return f"inside everything is metric: it is {field}, in {unit_of(field)}"
    return f"its fields are {', '.join(kind.fields)}"


def _joinable(one: Field, other: Field) -> bool:
    text = {"text", "word", "spot", "plant", "species", "month_day"}
    return one.type == other.type or (one.is_number and other.is_number) or {one.type, other.type} <= text


def _wanted(field: Field) -> str:
    return f"{field.type} of {', '.join(field.one_of)}" if field.one_of else field.type


def _conclusion(rule: Rule, base: RuleBase) -> Iterator[str]:
    kind = base.kinds.get(rule.conclude)
    if kind is None or kind.origin != "concluded":
        yield f"concludes {rule.conclude!r}, which is no concluded kind; add it to rules/kinds or use one that is there"
        return
    blocks = {block.name: base.kinds.get(block.kind) for block in rule.when}
    for name in kind.fields:
        if kind.fields[name].required and name not in rule.gives:
            yield f"concludes {kind.name} without {name}, which it needs"
    for name, value in rule.gives.items():
        field = kind.fields.get(name)
        if field is None:
            yield f"concludes {kind.name} with {name}; {_hint(name, kind)}"
        elif isinstance(value, str) and WHOLE_REFERENCE.match(value):
            pass  # judged with the other references below
        elif not field.fits(value):
            yield f"concludes {name} = {value!r}, not one that a {_wanted(field)} can have"
    texts = [value for value in rule.gives.values() if isinstance(value, str)]
    for text in (*texts, rule.tell):
        for block_name, field_name in REFERENCE.findall(text):
            source = blocks.get(block_name)
            if source is None:
                yield f"speaks of {{{block_name}.{field_name}}}, but {block_name!r} is no when block"
            elif field_name not in source.fields:
                yield f"speaks of {{{block_name}.{field_name}}}; {_hint(field_name, source)}"


def _sources(rule: Rule) -> Iterator[str]:
    if rule.strength not in STRENGTHS:
        yield f"strength {rule.strength!r}; use one of {', '.join(STRENGTHS)}"
    if not rule.sources:
        yield "no source; cite one, or say 'common practice, no source' or 'house judgement'"
    for source in rule.sources:
        if not source.backs:
            yield f"source {source.cite!r} backs nothing; say which part of the rule it backs"
        if source.is_published and source.read not in READ_LEVELS:
            yield f"source {source.cite!r}: read = {source.read!r}; say how far it was read: {', '.join(READ_LEVELS)}"
        if not source.is_published and source.read:
            yield f"source {source.cite!r}: nothing there to read; drop read"
    if rule.strength == "well-supported" and not any(_was_read(source) for source in rule.sources):
        yield "well-supported, but no source of it was read; read one or call it usual-practice"
    for block in (*rule.when, *rule.unless):
        for test in block.tests:
            if test.operator in THRESHOLDS and not any(_names(source, test.operand) for source in rule.sources):
                yield (
                    f"block {block.name}: nothing backs the threshold {test.field} {test.operator} {test.operand}; "
                    "name the figure in a source's backs, as house judgement if it is ours"
                )


def _was_read(source: Source) -> bool:
    return source.is_published and source.read in READ_LEVELS and source.read != "not yet"


def _names(source: Source, figure: Any) -> bool:
    return f"{abs(figure):g}" in re.findall(r"\d+(?:\.\d+)?", source.backs)


def _cases(rule: Rule, base: RuleBase) -> Iterator[str]:
    firing = [case for case in rule.cases if case.expect]
    silent = [case for case in rule.cases if not case.expect]
    if not firing:
        yield "no case in which it fires"
    if len(silent) < 2:
        yield f"{len(silent)} silent case(s); show at least two ways in which it stays silent"
    for case in rule.cases:
        for raw in (*case.given, *case.expect):
            yield from _given(case.name, raw, rule, base)
    for block in (*rule.when, *rule.unless):
        for test in block.tests:
            if test.operator in THRESHOLDS and not _has_near_miss(rule, block, test):
                yield (
                    f"block {block.name}: no case misses {test.field} {test.operator} {test.operand} by a little; "
                    "add one whose outcome turns on it"
                )


def _given(case: str, raw: Mapping[str, Any], rule: Rule, base: RuleBase) -> Iterator[str]:
    kind = base.kinds.get(raw.get("kind", rule.conclude))
    if kind is None:
        yield f"case {case!r}: unknown kind {raw.get('kind')!r}"
        return
    for name, value in raw.items():
        if name == "kind":
            continue
        field = kind.fields.get(name)
        if field is None:
            yield f"case {case!r}: {kind.name} has no {name}; {_hint(name, kind)}"
        elif not field.fits(value):
            yield f"case {case!r}: {name} = {value!r} is not one that a {_wanted(field)} can have"


def _has_near_miss(rule: Rule, block: Block, test: Test) -> bool:
    """Return whether some case gives a value just on the failing side of a threshold.

    A failing ``when`` test belongs in a silent case; a failing ``unless`` test in one that fires.
    """
    wanted_silent = block in rule.when
    reach_of = max(1.0, 0.25 * abs(test.operand))
    for case in rule.cases:
        if bool(case.expect) == wanted_silent:
            continue
        for fact in map(fact_from, case.given):
            value = fact.number(test.field)
            if fact.kind != block.kind or value is None or not _rest_holds(block, test, fact):
                continue
            fails = {
                "at_least": value < test.operand,
                "at_most": value > test.operand,
                "above": value <= test.operand,
                "below": value >= test.operand,
            }[test.operator]
            if fails and abs(value - test.operand) <= reach_of:
                return True
    return False


def _rest_holds(block: Block, test: Test, fact: Any) -> bool:
    """Return whether a fact passes the block's other constant tests, so that it is this threshold it misses."""
    return all(
        typed(fact.values[other.field]) == typed(other.operand) if other.field in fact.values else False
        for other in block.tests
        if other is not test and other.operator == "equals"
    )


def _reachable(base: RuleBase, questions: QuestionKinds) -> list[str]:
    reached: set[str] = set()
    for question in questions.values():
        reached |= reach(base, question.answered_by).rules
    found = [
        f"{rule.topic}/{rule.id}: no question reaches it; it concludes {rule.conclude}, which nothing asks for"
        for rule in base.rules.values()
        if rule.id not in reached
    ]
    made = base.concluded_kinds()
    for rule in base.rules.values():
        for block in rule.when:
            kind = base.kinds.get(block.kind)
            if kind and kind.origin == "concluded" and block.kind not in made:
                found.append(f"{rule.topic}/{rule.id}: waits for {block.kind}, which no rule concludes")
    return found


def one_work_cited_two_ways(cites: Iterable[str]) -> list[str]:
    """Return a sentence for each work that is cited in two spellings: same first author and year."""
    spelt: dict[tuple[str, str], str] = {}
    found = []
    for cite in cites:
        year = re.search(r"\b(1[89]\d\d|20\d\d)\b", cite)
        author = re.search(r"[^\W\d_]{2,}", cite)
        if not (year and author):
            continue
        first = spelt.setdefault((author[0].casefold(), year[0]), cite)
        if first != cite:
            found.append(f"one work cited two ways: {first!r} and {cite!r}; use one spelling")
    return list(dict.fromkeys(found))
