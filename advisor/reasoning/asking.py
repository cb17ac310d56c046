"""How the record behind a rule's block is asked for: in which words, and of whom."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from functools import cache

from advisor.answers import Told
from advisor.facts import Fact, Recorded
from advisor.reasoning.engine.conclude import names_which
from advisor.reasoning.rulebase import REFERENCE, Block
from advisor.records.kinds import Vocabulary

TWO_SOILS = ("where", "than", "beside")
"""Fields of derived kinds that name one of two soils."""
NAME = re.compile(r"\{([a-z]\w*)\}")
"""A field named in a kind's question; a fixed quantity such as {10_cm} is none."""


def asked_of(ask: Told, about: Mapping[str, str], kinds: Vocabulary) -> tuple[dict[str, None], dict[str, None]]:
    """Return the spots and the plants that a question to the grower names, in its order, then those it is about."""
    spots: dict[str, None] = {}
    plants: dict[str, None] = {}
    for block, name in REFERENCE.findall(ask.template):
        fact = ask.bound.get(block)
        value = fact.text(name) if fact else ""
        if fact is None or not value:
            continue
        of = kinds[fact.kind].fields[name].type if fact.kind in kinds and name in kinds[fact.kind].fields else ""
        if of == "spot" or name in ("spot", *TWO_SOILS) or (fact.kind, name) == ("spot", "name"):
            spots[value] = None
        elif of == "plant" or name == "plant" or (fact.kind, name) == ("plant", "name"):
            plants[value] = None
    for name, found in (("spot", spots), ("plant", plants)):
        if about.get(name):
            found[about[name]] = None
    return spots, plants


def question_for(block: Block, only: str, bound: Mapping[str, Fact], kinds: Vocabulary) -> Told | None:
    """Return how the record behind a block is asked for, None where nothing asks for it or its subject is not known.

    ``only`` is the one field that is wanted, or "" for the record as a whole.
    """
    known = dict(known_of(block, bound))
    _, apart = asked_apart(block, only, kinds)
    template = template_of(apart or kinds[block.kind].ask, known)
    return Told(template, {"it": Fact.of(block.kind, known, Recorded(block.kind, ()))}) if template else None


def asked_apart(block: Block, only: str, kinds: Vocabulary) -> tuple[str, str]:
    """Return the single field that is wanted of a block, "" for the record as a whole, and its own question if any."""
    asked = [test.field for test in block.tests if not names_which(test, block, kinds)]
    only = only or (asked[0] if len(asked) == 1 else "")
    return only, kinds[block.kind].fields[only].ask if only else ""


def template_of(question: str, known: Mapping[str, str]) -> str:
    """Return a kind's question as a template, "" where what it names is not known."""
    template, names = _naming(question)
    return template if all(map(known.get, names)) else ""


@cache
def _naming(question: str) -> tuple[str, tuple[str, ...]]:
    """Return a kind's question as a template, and the fields that it names."""
    template = NAME.sub(r"{it.\1}", question)
    return template, tuple(name for _, name in REFERENCE.findall(template))


def subject_of(known: Mapping[str, str]) -> str:
    return next((known[name] for name in ("spot", "plant", "where", "name") if known.get(name)), "")


def known_of(block: Block, bound: Mapping[str, Fact]) -> Iterator[tuple[str, str]]:
    """Yield what is known of a block's missing fact: its own fact where one matched in part, joins, constants."""
    if block.name in bound:
        yield from ((name, str(value)) for name, value in bound[block.name].values.items())
    for test in block.tests:
        if test.operator == "same_as" and test.operand[0] in bound:
            value = bound[test.operand[0]].get(test.operand[1])
            if value is not None:
                yield test.field, str(value)
        elif test.operator == "equals":
            yield test.field, str(test.operand)
