"""The form of a rule's file: is each key of the sort that it must be, before anything reads further."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date, datetime
from typing import Any

from advisor.errors import BadRules

TEXTS = ("id", "says", "how_it_works", "strength")
SORTS = {str: "a text in quotes", list: "a list in [ ]", dict: "a table", date: "a date such as 2026-04-24"}
VALUES = (str, bool, int, float, date, datetime)


def refuse_malformed(raw: Mapping[str, Any], where: str) -> None:
    """Raise BadRules, naming every key of the wrong sort, where a read file is not of a rule's form."""
    wrong = [*_rule(raw), *case_faults(raw.get("test", []))]
    if wrong:
        raise BadRules(where, "; ".join(wrong[:5]), "DEVELOPERS.md shows a whole rule")


def case_faults(cases: Any) -> list[str]:
    """Return what is wrong with the form of a rule's cases, in a phrase each."""
    if not isinstance(cases, list) or not all(isinstance(case, dict) for case in cases):
        return ["test is to be written [[test]]"]
    return [fault for place, case in enumerate(cases, start=1) for fault in _case(case, f"case {place}")]


def _rule(raw: Mapping[str, Any]) -> Iterator[str]:
    for name in TEXTS:
        yield from _is(raw, name, str)
    if raw.get("since") is not None:
        yield from _is(raw, "since", date)
    yield from _is(raw, "sources", list)
    for source in raw.get("sources", []) if isinstance(raw.get("sources"), list) else []:
        if not isinstance(source, dict):
            yield "a source is to be a table: { cite = ..., backs = ..., read = ... }"
        else:
            for name in ("cite", "backs", "read"):
                if name in source or name == "cite":
                    yield from _is(source, name, str)
    yield from _texts(raw, "cautions")
    for name in ("when", "unless", "then"):
        if name in raw or name != "unless":
            yield from _is(raw, name, dict)
    if isinstance(raw.get("then"), dict):
        yield from _is(raw["then"], "conclude", str)
        for name, value in raw["then"].items():
            if not isinstance(value, VALUES):
                yield f"then.{name} is to be one value"


def _case(case: Mapping[str, Any], place: str) -> Iterator[str]:
    for fault in _is(case, "name", str):
        yield f"{place}: {fault}"
    for name in ("given", "expect"):
        facts = case.get(name)
        if not isinstance(facts, list) or not all(isinstance(fact, dict) for fact in facts):
            yield f"{place}: {name} is to be a list of tables"
            continue
        for fact in facts:
            if name == "given" and not isinstance(fact.get("kind"), str):
                yield f"{place}: a fact given without its kind"
            if not all(isinstance(value, VALUES) for value in fact.values()):
                yield f"{place}: {name} holds more than one value in a field"
    if "lacks" in case:
        yield from (f"{place}: {fault}" for fault in _texts(case, "lacks"))


def _texts(raw: Mapping[str, Any], name: str) -> Iterator[str]:
    if not isinstance(raw.get(name), list) or not all(isinstance(one, str) for one in raw[name]):
        yield f"{name} is to be a list of texts"


def _is(raw: Mapping[str, Any], name: str, sort: type) -> Iterator[str]:
    if name not in raw:
        yield f"no key {name!r}"
    elif not isinstance(raw[name], sort):
        yield f"{name} is to be {SORTS[sort]}"
