"""The rule book: every rule in plain words, with its sources, its cases and what came of it here."""

from __future__ import annotations

from collections.abc import Mapping

from flask import Blueprint, current_app, render_template, request

from advisor.answers import History
from advisor.doors.page import rule_reference, try_rule
from advisor.doors.page.frame import Site, site
from advisor.doors.page.rule_search import LONGEST_SEARCH, Finder, Wanted, find
from advisor.doors.page.rule_shelf import CONCLUDES, STRENGTHS, Shelf, cited, said_rules, say, shelf, speech_of
from advisor.doors.page.rule_telling import (
    came_here,
    cases,
    concluded,
    conflicts,
    example,
    judged,
    settles_words,
    strength_words,
    trees_named,
)
from advisor.language.render import counted
from advisor.reasoning.condition_words import spaced
from advisor.reasoning.rulebase import Rule
from advisor.records.store import Garden

pages = Blueprint("rule_book", __name__)
MOST_KEPT = 64
"""Histories kept at once, one a garden, day and state of its records."""
pages.register_blueprint(try_rule.pages)
pages.register_blueprint(rule_reference.pages)


@pages.get("/rules")
def show_rules() -> str:
    """Show the rules by topic, or those that are looked for."""
    book, here = shelf(), site()
    wanted = Wanted.of(request.args)
    with here.look() as garden:
        histories = histories_of(here, garden)
    found = find(wanted, book, finder(book), histories)
    topics: dict[str, list[Rule]] = {}
    for rule in found:
        topics.setdefault("" if wanted.words else rule.topic, []).append(rule)
    return render_template(
        "rule_book.html",
        wanted=wanted,
        topics=topics,
        count=len(found),
        total=len(book.adviser.base.rules),
        cut=len(request.args.get("q", "").strip()) > LONGEST_SEARCH,
        histories={rule: history_words(one) for rule, one in histories.items()},
        aside=book.adviser.base.set_aside,
        strengths={name: words for name, (words, _) in STRENGTHS.items()},
        choices=_choices(book),
        spaced=spaced,
    )


@pages.get("/rules/<rule_id>")
def show_rule(rule_id: str) -> str:
    """Show one rule."""
    book, here = shelf(), site()
    rule = book.rule(rule_id)
    with here.look() as garden:
        speech = speech_of(here, garden)
        pieces = came_here(rule, book, garden, speech)
    told = book.told[rule.id]
    kinds = book.adviser.base.kinds
    questions = book.adviser.questions
    return render_template(
        "rule.html",
        rule=rule,
        when=[(say(one.text, speech), kinds[one.kind]) for one in told.when],
        unless=[(say(one.text, speech), kinds[one.kind], settles_words(one.settles)) for one in told.unless],
        concluded=concluded(rule, book),
        example=example(rule, book, speech),
        strength=strength_words(rule),
        sources=[(cited(one), book.source_numbers.get(one.cite)) for one in rule.sources],
        cases=list(cases(rule, book, speech)),
        conflicts=[(how, why, list(said_rules(rules))) for how, why, rules in conflicts(rule, book)],
        judged=judged(rule, book, speech),
        answers=[questions[one].says for one in book.answers(rule)],
        helps=[questions[one].says for one in book.helps(rule)],
        fed_by=list(said_rules(book.fed_by(rule))),
        feeds=list(said_rules(book.feeds(rule))),
        pieces=pieces,
        trees=trees_named(rule, book),
        aside=book.adviser.base.set_aside.get(rule.id),
        since=speech.day(rule.since) if rule.since else "",
        spaced=spaced,
    )


def histories_of(here: Site, garden: Garden) -> Mapping[str, History]:
    """Return what came of each rule's advice in the garden; nothing where no place is told yet.

    It is kept until something is told to the garden or its day ends: of years of advice it takes a while to reckon.
    """
    if not garden.of("place"):
        return {}
    kept: dict[object, Mapping[str, History]] = current_app.extensions.setdefault("rule_histories", {})
    key = (garden.path, garden.state(), here.today(garden))
    if key not in kept:
        if len(kept) >= MOST_KEPT:
            kept.pop(next(iter(kept)), None)
        kept[key] = here.adviser.histories(garden, here.today(garden))
    return kept[key]


def history_words(history: History) -> str:
    """Return a rule's history in one line."""
    said = [f"given {counted(history.given, 'time')} here"]
    said += [f"{name} {count}" for name, count in (("held", history.held), ("failed", history.failed)) if count]
    return ", ".join(said)


def finder(book: Shelf) -> Finder:
    """Return what finds rules by their words, made once for an application."""
    kept = current_app.extensions
    if "rule_finder" not in kept:
        kept["rule_finder"] = Finder(book.adviser.base.rules.values())
    found = kept["rule_finder"]
    assert isinstance(found, Finder)
    return found


def _choices(book: Shelf) -> list[tuple[str, str, list[tuple[str, str]]]]:
    """Return the filters: name, label, and what may be chosen."""
    concludes = sorted(book.adviser.base.concluded_kinds())
    questions = [one for one in book.adviser.questions.values() if one.answered_by]
    return [
        ("topic", "Topic", [(topic, spaced(topic)) for topic in book.topics]),
        ("strength", "How well supported", [(name, words) for name, (words, _) in STRENGTHS.items()]),
        ("concludes", "What it concludes", [(kind, CONCLUDES.get(kind, spaced(kind))) for kind in concludes]),
        ("question", "Question it helps to answer", [(one.id, one.says) for one in questions]),
    ]
