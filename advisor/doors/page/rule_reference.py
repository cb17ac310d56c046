"""What the rules speak of and rest on: the kinds of facts, the sources, the kinds of trees."""

from __future__ import annotations

from flask import Blueprint, render_template

from advisor.doors.page.frame import site
from advisor.doors.page.rule_shelf import READ, origin_words, said_rules, shelf, speech_of
from advisor.doors.page.species_telling import all_species, told_species
from advisor.errors import NotFound
from advisor.language.render import METRIC, US, label
from advisor.reasoning.condition_words import spaced
from advisor.records.kinds import ORIGINS, Field, Kind

pages = Blueprint("reference", __name__)
TYPES = {
    "number": "number",
    "whole": "whole number",
    "yes_no": "yes or no",
    "word": "one of",
    "text": "text",
    "date": "date",
    "time": "time",
    "month_day": "day of the year",
    "spot": "a spot",
    "plant": "a plant",
    "species": "a kind of tree",
}
UNITS = {"days": "days", "share": "share, told in %", "deg": "degrees", "h": "hours", "portions": "chill portions"}
CONCLUDED_HOW = {"recorded": "Told by you", "derived": "Reckoned from your records", "concluded": "Concluded by rules"}


@pages.get("/rules/kinds")
def show_kinds() -> str:
    """Show every kind of fact: what it holds and where it comes from."""
    book, here = shelf(), site()
    kinds = book.adviser.base.kinds
    by_origin = {
        CONCLUDED_HOW[origin]: [(one, spaced(one.name)) for one in kinds.values() if one.origin == origin]
        for origin in ORIGINS
    }
    return render_template("rule_kinds.html", by_origin=by_origin, counts={k: len(v) for k, v in book.by_kind.items()},
                           trees=all_species(here.adviser))  # fmt: skip


@pages.get("/rules/kinds/<name>")
def show_kind(name: str) -> str:
    """Show one kind of fact with its fields, and the rules that look at it."""
    book, here = shelf(), site()
    kind = book.adviser.base.kinds.get(name)
    if kind is None:
        raise NotFound("opening the rule book", f"no kind of fact {name[:80]!r}", "Look for it in the list of kinds")
    with here.look() as garden:
        speech = speech_of(here, garden)
    concluding = [rule for rule in book.adviser.base.rules.values() if rule.conclude == name]
    return render_template(
        "rule_kind.html",
        kind=kind,
        method=speech.measured(kind.method),
        trust=speech.measured(kind.trust),
        name=spaced(name),
        origin=origin_words(kind),
        asked=_asked(kind),
        fields=[(label(one.name), type_words(one), unit_words(one, us=speech.units == "us"), one)
                for one in kind.fields.values()],
        rules=list(said_rules(book.by_kind.get(name, []))),
        concluding=list(said_rules(concluding)),
    )  # fmt: skip


@pages.get("/rules/sources")
def show_sources() -> str:
    """Show every published work with the rules that rest on it."""
    book = shelf()
    works = [
        (book.source_numbers[cite], cite, [(rule, source.backs, READ.get(source.read, "")) for rule, source in backed])
        for cite, backed in book.by_source.items()
    ]
    rules = book.adviser.base.rules.values()
    unread = sum(any(source.read == "not yet" for source in rule.sources) for rule in rules)
    house = sum(any(source.is_house for source in rule.sources) for rule in rules)
    custom = sum(any(source.is_common_practice for source in rule.sources) for rule in rules)
    return render_template("rule_sources.html", works=works, unread=unread, house=house, custom=custom)


@pages.get("/rules/species/<species_id>")
def show_species(species_id: str) -> str:
    """Show what is known of a kind of tree, and what is not."""
    here = site()
    found = here.adviser.lore.species.get(species_id)
    if found is None:
        raise NotFound("opening the rule book", f"no kind of tree {species_id[:80]!r}", "Look for it in the list")
    with here.look() as garden:
        speech = speech_of(here, garden)
    return render_template("rule_species.html", one=told_species(found, here.adviser, speech))


def type_words(field: Field) -> str:
    """Return what a field may hold, in words."""
    said = TYPES[field.type]
    return f"{said}: {', '.join(field.one_of)}" if field.one_of else said


def unit_words(field: Field, *, us: bool) -> str:
    """Return a field's unit as the grower has it."""
    unit = field.unit or ""
    if us and unit in US:
        return US[unit][1]
    return UNITS.get(unit) or METRIC.get(unit, "")


def _asked(kind: Kind) -> str:
    return {"unknown": "A missing one settles nothing.", "no": "A missing one means that it is not so."}[
        kind.absent_means
    ]
