"""A program cut down while something about it stays true: rules, facts, blocks, tests, fields; then plainer words.

``shrink(program, still)`` tries each cut in turn, the large ones first, until none of them leaves ``still`` true. What
is cut stays whole: with a block go the joins and the templates that name it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import permutations
from typing import Any

from engine_programs import Program, Raw

from advisor.facts import typed
from advisor.reasoning.rulebase import REFERENCE, WHOLE_REFERENCE

Still = Callable[[Program], bool]
PLAIN_VALUES: tuple[Any, ...] = ("x", 1, 2, True)


def shrink(program: Program, still: Still) -> Program:
    """Return a smallest program for which ``still`` holds: no single cut of ours can be made to it."""
    if not still(program):
        raise ValueError("there is nothing to hold on to: the program does not show it")
    smaller = True
    while smaller:
        smaller = False
        for cuts in (_rules, _facts, _inside_rules, _inside_facts, _kinds, _plainer):
            program, found = _cut(program, still, cuts)
            smaller = smaller or found
    return program


def _cut(program: Program, still: Still, cuts: Callable[[Program], Iterator[Program]]) -> tuple[Program, bool]:
    """Make cuts of one sort as long as one can be made."""
    found, again = False, True
    while again:
        again = False
        for smaller in cuts(program):
            if smaller != program and still(smaller):
                program, found, again = smaller, True, True
                break
    return program, found


def _less(whole: tuple[Raw, ...]) -> Iterator[tuple[Raw, ...]]:
    """Yield a list without its half, quarter and so on, in the end without a single one."""
    size = len(whole)
    while size:
        for start in range(0, len(whole), size):
            yield whole[:start] + whole[start + size :]
        size //= 2


def _rules(program: Program) -> Iterator[Program]:
    return (replace(program, rules=rules) for rules in _less(program.rules))


def _facts(program: Program) -> Iterator[Program]:
    return (replace(program, facts=facts) for facts in _less(program.facts))


def _inside_rules(program: Program) -> Iterator[Program]:
    for place, rule in enumerate(program.rules):
        for smaller in _smaller_rules(rule):
            yield replace(program, rules=(*program.rules[:place], smaller, *program.rules[place + 1 :]))


def _smaller_rules(rule: Raw) -> Iterator[Raw]:
    for part in ("unless", "when"):
        for name in rule[part]:
            if part == "unless" or len(rule["when"]) > 1:
                yield _without_block(rule, part, name)
    for part in ("unless", "when"):
        for name, block in rule[part].items():
            for field, test in block.items():
                if field != "kind":
                    yield {**rule, part: {**rule[part], name: _without(block, field)}}
                    if isinstance(test, dict) and len(test.get("one_of", ())) > 1:
                        for choice in test["one_of"]:
                            yield {**rule, part: {**rule[part], name: {**block, field: {"one_of": [choice]}}}}
    for field, value in rule["then"].items():
        if field not in ("conclude", "tell"):
            yield {**rule, "then": _without(rule["then"], field)}
            if value != "x":
                yield {**rule, "then": {**rule["then"], field: "x"}}


def _without(raw: Raw, name: str) -> Raw:
    return {key: value for key, value in raw.items() if key != name}


def _without_block(rule: Raw, part: str, name: str) -> Raw:
    less = {**rule, part: _without(rule[part], name)}
    if part == "unless":
        return less

    def names_it(value: Any) -> bool:
        joined = isinstance(value, dict) and str(value.get("same_as", "")).split(".")[0] == name
        return joined or (isinstance(value, str) and any(block == name for block, _ in REFERENCE.findall(value)))

    for blocks in ("when", "unless"):
        less[blocks] = {
            block: {field: test for field, test in raw.items() if field == "kind" or not names_it(test)}
            for block, raw in less[blocks].items()
        }
    less["then"] = {field: value for field, value in rule["then"].items() if field == "conclude" or not names_it(value)}
    return less


def _inside_facts(program: Program) -> Iterator[Program]:
    for place, fact in enumerate(program.facts):
        for name in fact["values"]:
            less = {**fact, "values": _without(fact["values"], name)}
            yield replace(program, facts=(*program.facts[:place], less, *program.facts[place + 1 :]))


def _kinds(program: Program) -> Iterator[Program]:
    """Yield the program with two kinds made one, and the vocabulary without what nothing speaks of."""
    blocks = [raw for rule in program.rules for part in ("when", "unless") for raw in rule[part].values()]
    named = {raw["kind"] for raw in (*blocks, *program.facts)} | {rule["then"]["conclude"] for rule in program.rules}
    yield replace(program, kinds={name: raw for name, raw in program.kinds.items() if name in named})
    if not any(_grows(value) for rule in program.rules for value in rule["then"].values()):
        for one, other in permutations(sorted(named), 2):
            yield _rewritten(program, "kind", one, other)
    for name, raw in program.kinds.items():
        yield replace(program, kinds={**program.kinds, name: {**raw, "about": []}})
        yield replace(program, kinds={**program.kinds, name: {**raw, "fields": []}})
        if raw["absent_means"] != "no":
            yield replace(program, kinds={**program.kinds, name: {**raw, "absent_means": "no"}})


def _grows(value: Any) -> bool:
    """Return whether a template makes new texts, of which there is no end where a rule comes to feed itself."""
    return isinstance(value, str) and bool(REFERENCE.search(value)) and not WHOLE_REFERENCE.match(value)


# ---- plainer words


def _plainer(program: Program) -> Iterator[Program]:
    """Yield the program with a kind, field, block or rule under a plain name, or with a plain value for an odd one."""
    fields = {name for fact in program.facts for name in fact["values"]}
    blocks: set[str] = set()
    for rule in program.rules:
        fields |= set(rule["then"]) - {"conclude", "tell"}
        for part in ("when", "unless"):
            blocks |= set(rule[part])
            fields |= {name for raw in rule[part].values() for name in raw if name != "kind"}
    yield from _renamed(program, "kind", list(program.kinds), "k")
    yield from _renamed(program, "field", sorted(fields - {"grade", "size"}), "f")
    yield from _renamed(program, "block", sorted(blocks), "b")
    for place, rule in enumerate(program.rules):
        if not re.fullmatch(r"r\d+", rule["id"]):
            rules = (*program.rules[:place], {**rule, "id": f"r{place}"}, *program.rules[place + 1 :])
            yield replace(program, rules=rules)
    values = {(typed(value), repr(value)): value for fact in program.facts for value in fact["values"].values()}
    for value in values.values():
        for plain in PLAIN_VALUES:
            if any(repr(value) == repr(one) for one in PLAIN_VALUES[: PLAIN_VALUES.index(plain) + 1]):
                break
            yield _revalued(program, value, plain)


def _renamed(program: Program, what: str, names: list[str], letter: str) -> Iterator[Program]:
    for name in names:
        if not re.fullmatch(rf"{letter}\d", name):
            to = next(new for number in range(99) if (new := f"{letter}{number}") not in names)
            yield _rewritten(program, what, name, to)


def _rewritten(program: Program, what: str, old: str, new: str) -> Program:
    def name(of: str, text: str) -> str:
        return new if of == what and text == old else text

    def value(raw: Any) -> Any:
        if isinstance(raw, dict) and "same_as" in raw:
            block, _, field = raw["same_as"].partition(".")
            return {"same_as": f"{name('block', block)}.{name('field', field)}"}
        return raw

    def template(raw: Any) -> Any:
        if not isinstance(raw, str):
            return raw
        return REFERENCE.sub(lambda found: f"{{{name('block', found[1])}.{name('field', found[2])}}}", raw)

    def block(raw: Raw) -> Raw:
        tests = {name("field", field): value(test) for field, test in raw.items() if field != "kind"}
        return {"kind": name("kind", raw["kind"]), **tests}

    def rule(raw: Raw) -> Raw:
        then = {"conclude": name("kind", raw["then"]["conclude"])}
        then |= {name("field", f): template(v) for f, v in raw["then"].items() if f != "conclude"}
        parts = {part: {name("block", b): block(r) for b, r in raw[part].items()} for part in ("when", "unless")}
        return {"id": raw["id"], **parts, "then": then}

    kinds = {
        name("kind", kind): {
            **raw, **{part: [name("field", field) for field in raw[part]] for part in ("about", "fields")}
        }
        for kind, raw in program.kinds.items()
    }  # fmt: skip
    facts = tuple(
        {"kind": name("kind", f["kind"]), "values": {name("field", n): v for n, v in f["values"].items()}}
        for f in program.facts
    )
    return Program(kinds, tuple(rule(raw) for raw in program.rules), facts)


def _revalued(program: Program, old: Any, new: Any) -> Program:
    """Return the program with another value wherever this one stands."""

    def changed(raw: Any) -> Any:
        if isinstance(raw, dict):
            return {name: inner if name in ("kind", "same_as") else changed(inner) for name, inner in raw.items()}
        if isinstance(raw, list):
            return [changed(inner) for inner in raw]
        return new if repr(raw) == repr(old) else raw

    rules = tuple({**rule, **{part: changed(rule[part]) for part in ("when", "unless")}} for rule in program.rules)
    facts = tuple({**fact, "values": changed(fact["values"])} for fact in program.facts)
    return replace(program, rules=rules, facts=facts)
