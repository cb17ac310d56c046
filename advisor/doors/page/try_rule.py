"""A rule tried: on facts set by hand, and on the records of this garden. Nothing is recorded by either."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from flask import Blueprint, render_template, request

from advisor.answers import Told
from advisor.conversation import Adviser
from advisor.doors.page.frame import site
from advisor.doors.page.rule_shelf import Shelf, say, shelf, speech_of
from advisor.doors.page.rule_telling import fact_words, value_words
from advisor.doors.page.try_form import Units, form_of, read_form, shown
from advisor.doors.page.try_here import SUBJECTS, asked_of, look_here
from advisor.errors import NotFound
from advisor.fact_base import FactBase
from advisor.facts import Fact, Firing
from advisor.language.as_data import rows_behind
from advisor.language.record_rows import entries
from advisor.language.render import Speech, label, sentence_case
from advisor.language.reply import answer_reply
from advisor.reasoning.explain import explain
from advisor.reasoning.in_words import clause_in_words
from advisor.reasoning.planting import WHAT_TO_PLANT, WRONG_SPOT
from advisor.reasoning.rulebase import Block, Rule
from advisor.reasoning.trying import Nearest, TestSeen, facts_of, first_firing, try_rule
from advisor.records.kinds import Field

pages = Blueprint("try_rule", __name__)
STATES = {
    "met": ("met", "This is so."),
    "failed": ("failed", "This is not so."),
    "not known": ("unknown", "This is not known."),
    "clear": ("met", "This is not so, so it does not stand against it."),
    "stands against": ("failed", "This is so, and stands against it."),
    "counts as no": ("met", "Nothing tells of it, which counts as not so."),
    "not settled": ("unknown", "This is not known: the rule speaks all the same, one grade weaker."),
}


@dataclass(frozen=True)
class Line:
    """One condition and what it found. ``misses`` says of each test that fails what was found and by how much."""

    text: str
    mark: str
    state: str
    found: str = ""
    misses: tuple[str, ...] = ()
    ask: str = ""
    records: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class Spoken:
    """One firing: what the rule would tell, and its conclusion as it stands."""

    told: str
    conclusion: str
    weaker: tuple[str, ...]


@pages.get("/rules/<rule_id>/try")
def show_try(rule_id: str) -> str:
    """Show a rule on facts set by hand: prefilled from a case, or as they were sent."""
    book, here = shelf(), site()
    rule, kinds = book.rule(rule_id), book.adviser.base.kinds
    with here.look() as garden:
        speech = speech_of(here, garden)
    sent = "units" in request.args
    as_sent = Units(request.args.get("units") == "us", speech.zone, here.adviser.lore.species)
    units = Units(speech.units == "us", speech.zone, here.adviser.lore.species)
    if sent:
        read = read_form(request.args, kinds, as_sent)
        facts = [one.fact for one in read if one.given]
        faults = [(one.kind, name, fault) for one in read for name, fault in one.faults.items()]
        other_units = as_sent.us != units.us and not faults
        form = form_of(facts, rule, kinds, units) if other_units else shown(read, rule, kinds, as_sent)
    else:
        facts, faults = facts_of(rule.cases[_case(rule)]) if rule.cases else [], []
        form, as_sent = form_of(facts, rule, kinds, units), units
    tried = None if faults else try_rule(rule, facts, book.adviser.base)
    question = request.args.get("also", "")
    questions = [one for one in (*book.answers(rule), *book.helps(rule)) if one not in (WHAT_TO_PLANT, WRONG_SPOT)]
    return render_template(
        "try_rule.html",
        rule=rule,
        form=form,
        units=units.name if sent and not faults and as_sent.us != units.us else as_sent.name,
        faults=[(sentence_case(label(kind.name)), label(name), fault) for kind, name, fault in faults],
        spoken=[_spoken(one, rule, book, speech) for one in tried.firings] if tried else [],
        when=_when(tried.nearest, rule, book, speech) if tried else [],
        unless=_unless(tried.nearest, rule, book, speech) if tried else [],
        tried=tried,
        also=question if question in questions else "",
        questions=[(one, book.adviser.questions[one].says) for one in questions],
        reply=_whole_reply(book.adviser, question, facts, speech) if tried and question in questions else [],
        cases=[(place, sentence_case(case.name)) for place, case in enumerate(rule.cases)],
        case=-1 if sent else _case(rule),
    )


@pages.get("/rules/<rule_id>/here")
def show_here(rule_id: str) -> str:
    """Show whether a rule speaks in this garden today, and if not, on which record it fails."""
    book, here = shelf(), site()
    rule = book.rule(rule_id)
    asked = asked_of(rule, book)
    picked = {name: request.args.get(name, "") for name in SUBJECTS}
    with here.look() as garden:
        speech = speech_of(here, garden)
        species = here.adviser.lore.species.values()
        names = {
            "plant": [(name, name) for name in sorted(garden.names("plant"))],
            "species": sorted(((one.id, one.name) for one in species), key=lambda one: one[1]),
            "spot": [(name, name) for name in sorted(garden.names("spot"))],
        }
        for name, value in picked.items():
            if value and value not in dict(names[name]):
                raise NotFound("trying a rule on this garden", f"no {name} {value[:80]!r}", "Choose one from the list")
        looked = None
        if asked and garden.of("place") and request.args and all(picked[n] for n in asked.needs):
            looked = look_here(rule, book, garden, speech.today, asked, picked)
    return render_template(
        "try_here.html",
        rule=rule,
        asked=asked,
        picked=picked,
        names=names,
        spoken=[_spoken(one, rule, book, speech) for one in looked.firings] if looked else [],
        when=_when(looked.nearest, rule, book, speech, records=True) if looked else [],
        unless=_unless(looked.nearest, rule, book, speech, records=True) if looked else [],
        looked=looked,
        question=book.adviser.questions[asked.question].says if asked else "",
    )


def _case(rule: Rule) -> int:
    asked = request.args.get("case", "")
    place = int(asked) if asked.isdecimal() and len(asked) < 4 else -1
    return place if 0 <= place < len(rule.cases) else first_firing(rule)


def _spoken(firing: Firing, rule: Rule, book: Shelf, speech: Speech) -> Spoken:
    unknown = tuple(say(one.text, speech) for one in book.told[rule.id].unless if one.block in firing.unknown)
    return Spoken(
        speech.tell(Told(rule.tell, firing.bound)), sentence_case(fact_words(firing.conclusion, speech)), unknown
    )


def _when(nearest: Nearest, rule: Rule, book: Shelf, speech: Speech, *, records: bool = False) -> list[Line]:
    texts = {one.block: one.text for one in book.told[rule.id].when}
    lines = []
    for seen in nearest.when:
        mark, state = STATES[seen.state]
        found = "nothing tells of it" if seen.fact is None else fact_words(seen.fact, speech)
        misses = tuple(_miss(one, seen.block, rule, book, speech) for one in seen.tests if one.passed is False)
        misses += tuple(f"Not known: {label(one.test.field)}." for one in seen.tests if one.passed is None)
        ask = speech.tell(seen.ask) if seen.ask else ""
        behind = _records([seen.fact] if records and seen.fact else [])
        lines.append(Line(say(texts[seen.block.name], speech), mark, state, found, misses, ask, behind))
    return lines


def _unless(nearest: Nearest, rule: Rule, book: Shelf, speech: Speech, *, records: bool = False) -> list[Line]:
    texts = {one.block: one.text for one in book.told[rule.id].unless}
    return [
        Line(
            say(texts[seen.block.name], speech),
            *STATES[seen.state],
            found="; ".join(fact_words(fact, speech) for fact in seen.facts),
            ask=speech.tell(seen.ask) if seen.ask else "",
            records=_records(seen.facts if records else ()),
        )
        for seen in nearest.unless
    ]


def _miss(one: TestSeen, block: Block, rule: Rule, book: Shelf, speech: Speech) -> str:
    """Return what a test wanted, what it found, and by how much that is off."""
    kinds = book.adviser.base.kinds
    clause = say(clause_in_words(one.test, block, book.told[rule.id], kinds, book.words), speech)
    field = kinds[block.kind].fields[one.test.field]
    assert one.value is not None
    found = value_words(field.name, one.value, speech)
    return f"Wanted: {clause[:1].lower()}{clause[1:]}. Found: {label(field.name)} {found}{_off_by(one, field, speech)}."


def _off_by(one: TestSeen, field: Field, speech: Speech) -> str:
    value, limit = one.value, one.test.operand
    numbers = [each for each in (value, limit) if isinstance(each, int | float) and not isinstance(each, bool)]
    if len(numbers) < 2:
        return ""
    off = abs(numbers[0] - numbers[1])
    unit = "k" if field.unit == "c" else field.unit
    return f", off by {speech.number(off, unit)}" if off else ", which is just the limit, and the limit is not enough"


def _records(facts: Iterable[Fact]) -> tuple[tuple[str, str], ...]:
    """Return (words, address) of the records that facts rest on; of a long run the first."""
    found = []
    behind = rows_behind(facts)
    for one in (entry for kind, runs in behind.items() for run in runs for entry in entries(kind, run)):
        kind, number = label(one["kind"]), one["id"]
        words = f"{kind} {number} to {one['to']}" if "to" in one else f"{kind} {number}"
        found.append((words, f"/records/{one['kind']}/{number}"))
    return tuple(found)


def _whole_reply(adviser: Adviser, question: str, facts: Collection[Fact], speech: Speech) -> list[str]:
    """Return the lines of what the adviser would answer to a question from these facts alone."""
    engine = adviser.engine_of(question)[1]
    given = FactBase(facts)
    proof = engine.run(given)
    named = {name: next((fact.text(name) for fact in facts if fact.text(name)), "") for name in ("plant", "species")}
    about: Mapping[str, str | tuple[str, ...]] = {name: value for name, value in named.items() if value}
    subject = named["plant"] or named["species"]
    answer = explain(
        adviser.questions[question], subject, proof, engine.base, adviser.state_of(given), about, adviser.opposites
    )
    reply = answer_reply(answer, speech)["reply"]
    return str(reply).splitlines()
