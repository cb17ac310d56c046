"""What the API only reads: the garden on a day, the rules, and the kinds of facts."""

from __future__ import annotations

from typing import Any
from urllib.parse import quote

from flask import Blueprint, Response

from advisor.doors.api.answering import as_json, asked, fault
from advisor.doors.api.described import Answer, described
from advisor.doors.api.kind_schemas import as_sent, kind_data
from advisor.doors.api.rule_schemas import Rules, RuleWhole
from advisor.doors.api.schemas import GardenAsked, GardenState, Kinds, KindsAsked, RulesAsked
from advisor.doors.page.frame import site
from advisor.doors.page.rule_book import finder, histories_of
from advisor.doors.page.rule_search import Wanted, find
from advisor.doors.page.rule_shelf import say, shelf, speech_of
from advisor.language.as_data import plain
from advisor.language.render import Speech
from advisor.reasoning.in_words import Condition
from advisor.reasoning.rulebase import Block, Rule, Source
from advisor.reasoning.state import garden_state

routes = Blueprint("api_reading", __name__)
PLACE = ("name", "latitude_deg", "longitude_deg", "time_zone", "units")
HISTORY = ("given", "followed", "held", "failed")


@routes.get("/garden")
@described(
    "The garden on a day",
    topic="Garden",
    query=GardenAsked,
    answers={200: Answer("What stands where, and how far it is", GardenState)},
    refuses=(404, 422),
)
def get_garden() -> Response:
    """Tell what stands where on a day, what covers the soil, how far each plant is, and what cannot all be true."""
    wanted = asked(GardenAsked(), "reading the garden")
    with site().open() as garden:
        place = garden.place()
        day = wanted.get("on") or site().today(garden)
        state = garden_state(garden, site().adviser.lore, day)
    return as_json(
        {
            "on": day.isoformat(),
            "place": {name: place.get(name) for name in PLACE},
            "spots": list(state.spots),
            "plants": list(state.plants),
            "contradictions": [{"says": one.says, "records": list(one.records)} for one in state.contradictions],
        }
    )


# ---- rules


@routes.get("/rules")
@described(
    "List rules",
    topic="Rules",
    query=RulesAsked,
    answers={200: Answer("The rules", Rules)},
    refuses=(404, 422),
)
def list_rules() -> Response:
    """List the rules, all of them or those of a topic, or those in which words are found."""
    done, book = "listing rules", shelf()
    wanted = asked(RulesAsked(), done)
    topic = wanted.get("topic", "")
    if topic and topic not in book.topics:
        raise fault(done, "topic", topic, f"one of {', '.join(book.topics)}")
    found = find(Wanted(words=wanted["q"].strip(), topic=topic), book, finder(book), {})
    return as_json({"rules": [_short(rule) for rule in found], "total": len(found)})


def _short(rule: Rule) -> dict[str, Any]:
    return {
        "id": rule.id,
        "topic": rule.topic,
        "says": rule.says,
        "strength": rule.strength,
        "concludes": rule.conclude,
        "own": rule.own,
        "href": f"/v1/rules/{quote(rule.id, safe='')}",
    }


@routes.get("/rules/<rule_id>")
@described("Read one rule", topic="Rules", answers={200: Answer("The rule", RuleWhole)}, refuses=(404,))
def get_rule(rule_id: str) -> Response:
    """Return a rule: what it says, when it speaks, what stands behind it, and what came of it in this garden."""
    book, here = shelf(), site()
    rule = book.rule(rule_id)
    with here.look() as garden:
        speech = speech_of(here, garden)
        history = histories_of(here, garden).get(rule.id)
    told = book.told[rule.id]
    return as_json(
        {
            **_short(rule),
            "how_it_works": rule.how_it_works,
            "since": rule.since.isoformat() if rule.since else None,
            "sources": [_source(one) for one in rule.sources],
            "cautions": list(rule.cautions),
            "when": [_block(*pair, speech) for pair in zip(rule.when, told.when, strict=True)],
            "unless": [_block(*pair, speech) for pair in zip(rule.unless, told.unless, strict=True)],
            "gives": as_sent(rule.gives),
            "answers": book.answers(rule),
            "helps": book.helps(rule),
            "history": {name: getattr(history, name) for name in HISTORY} if history else None,
        }
    )


def _source(one: Source) -> dict[str, str]:
    return {"cite": one.cite, "read": one.read, "backs": one.backs}


def _block(block: Block, words: Condition, speech: Speech) -> dict[str, Any]:
    tests = [
        {"field": one.field, "operator": one.operator, "operand": _operand(one.operator, one.operand)}
        for one in block.tests
    ]
    return {"name": block.name, "kind": block.kind, "says": say(words.text, speech), "tests": tests}


def _operand(operator: str, operand: Any) -> Any:
    if operator == "same_as":
        return ".".join(operand)
    return [plain(one) for one in operand] if isinstance(operand, tuple) else plain(operand)


# ---- kinds


@routes.get("/kinds")
@described("Kinds of facts", topic="Kinds", query=KindsAsked, answers={200: Answer("The kinds", Kinds)}, refuses=(422,))
def list_kinds() -> Response:
    """List the kinds of facts with their fields: what can be sent, what is derived, what rules conclude."""
    origin = asked(KindsAsked(), "listing kinds").get("origin", "")
    kinds = site().adviser.base.kinds.values()
    return as_json({"kinds": [kind_data(one) for one in kinds if origin in ("", one.origin)]})
