"""One rule as its page tells it: conditions, conclusion, cases, what goes against it, what came of it here."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from advisor.answers import Told
from advisor.doors.page.rule_shelf import CONCLUDES, STRENGTHS, Shelf, claim_of, say
from advisor.facts import Fact, Recorded, Value
from advisor.language.render import Speech, counted, label, listed, sentence_case
from advisor.reasoning.condition_words import spaced
from advisor.reasoning.derive import Scene
from advisor.reasoning.in_words import pattern_in_words
from advisor.reasoning.outcomes import CameOf, came_of
from advisor.reasoning.rulebase import Case, Rule
from advisor.reasoning.trying import facts_of, first_firing, try_rule
from advisor.records.kinds import unit_of
from advisor.records.store import Garden

SETTLES = {
    "weakens": "Where no record tells, the rule speaks all the same, one grade weaker, and the record is asked for.",
    "counts as no": "Where no record tells, it counts as not so.",
}
ABOUT = ("plant", "shoot", "spot", "species", "trial")
SLUGS = ("reading", "claim", "question", "settles")
"""Fields that hold a name of ours: a kind of record, a claim, a question."""
SIDES = {"for": "for the spot", "against": "against the spot"}
LOSS = {"tree": "the tree", "crop": "the crop", "growth": "growth", "knowledge": "something to be learnt"}
FORETELLS = {
    "waking": "It foretells when a plant wakes: held against the stages recorded after it.",
    "bloom": "It foretells when a plant blooms: held against the stages recorded after it.",
    "ripe": "It foretells when fruit is ripe: held against the first ripe fruit recorded after it.",
    "night": "It foretells a night's low: held against the station's low of the next morning.",
}
PATTERNS = {
    "followed": "It counts as followed where",
    "not_followed": "It counts as not followed where",
    "held": "It counts as having held where",
    "failed": "It counts as having failed where",
}


@dataclass(frozen=True)
class Row:
    """One case as a row: what is given, what comes of it, what is not known."""

    place: int
    name: str
    given: tuple[str, ...]
    outcome: str
    lacks: tuple[str, ...]


@dataclass(frozen=True)
class Piece:
    """One piece of advice of this rule in the garden, and what came of it."""

    number: int
    on: str
    whom: str
    came: str


def concluded(rule: Rule, shelf: Shelf) -> list[tuple[str, str]]:
    """Return what a rule concludes, as (name, words)."""
    told = shelf.told[rule.id]
    noun, claim = CONCLUDES.get(rule.conclude, spaced(rule.conclude)), claim_of(rule)
    said = [("Concludes", noun if claim == rule.conclude else f"{noun}: {spaced(claim)}")]
    whom = [told.value(rule.gives[name]) for name in ABOUT if name in rule.gives]
    said += [("About", listed(list(dict.fromkeys(whom))))] if whom else []
    for name, value in rule.gives.items():
        words = told.value(value)
        match name:
            case "claim" | "what" | "question" | "plant" | "spot" | "species" | "trial" | "shoot":
                continue
            case "side":
                said.append(("Side", SIDES.get(words, words)))
            case "loss":
                said.append(("A miss may cost", LOSS.get(words, words) or "little"))
            case "minutes":
                said.append(("Takes", _counted(value, words, "minute")))
            case "within_days":
                said.append(("To be done within", _counted(value, words, "day")))
            case "reading":
                said.append(("Asks for", spaced(words)))
            case "settles":
                said.append(("Would settle", spaced(words)))
            case _:
                said.append((sentence_case(label(name)), words))
    return said


def _counted(value: Value, words: str, name: str) -> str:
    return counted(value, name) if isinstance(value, int | float) else words


def example(rule: Rule, shelf: Shelf, speech: Speech) -> str:
    """Return what a rule tells in the first of its cases in which it fires, "" where it has none."""
    if not rule.cases or not rule.tell:
        return ""
    tried = try_rule(rule, facts_of(rule.cases[first_firing(rule)]), shelf.adviser.base)
    return speech.tell(Told(rule.tell, tried.firings[0].bound)) if tried.firings else ""


def cases(rule: Rule, shelf: Shelf, speech: Speech) -> Iterator[Row]:
    """Yield a rule's cases as rows."""
    for place, case in enumerate(rule.cases):
        given = tuple(fact_words(fact, speech) for fact in facts_of(case))
        yield Row(place, sentence_case(case.name), given, outcome(case), tuple(_lacks(case, rule)))


def outcome(case: Case) -> str:
    """Return what a case expects in words."""
    if not case.expect:
        return "stays silent"
    graded = list(dict.fromkeys(str(one["grade"]) for one in case.expect if "grade" in one))
    said = f"speaks: {listed(graded)}" if graded else "speaks"
    return said if len(case.expect) == 1 else f"{said}, {len(case.expect)} times"


def _lacks(case: Case, rule: Rule) -> Iterator[str]:
    for lack in case.lacks:
        block, _, name = lack.partition(".")
        kind = spaced(rule.block(block).kind)
        yield f"{kind}: {label(name)}" if name else kind


def conflicts(rule: Rule, shelf: Shelf) -> Iterator[tuple[str, str, list[Rule]]]:
    """Yield advice that cannot be followed beside this rule's: how it is settled, why, and the rules that give it."""
    claim = claim_of(rule)
    for pair in shelf.adviser.opposites:
        if claim == pair.take:
            yield f"This is taken before “{spaced(pair.leave)}”", pair.why, shelf.by_claim.get(pair.leave, [])
        if claim == pair.leave:
            yield f"This gives way to “{spaced(pair.take)}”", pair.why, shelf.by_claim.get(pair.take, [])


def judged(rule: Rule, shelf: Shelf, speech: Speech) -> list[str]:
    """Return how later records show what came of this rule's advice, as sentences."""
    found = shelf.adviser.outcomes.get(claim_of(rule))
    if found is None:
        return ["No later record says whether it held: it is only counted how often it was given."]
    if found.foretells:
        return [FORETELLS[found.foretells]]
    said = []
    for name, pattern in found.patterns.items():
        clause = say(pattern_in_words(pattern.block, shelf.adviser.base.kinds, shelf.words), speech)
        dated = f" (by its {label(pattern.dated_by)} date)" if pattern.dated_by else ""
        said.append(f"{PATTERNS[name]} {clause[:1].lower()}{clause[1:]}{dated}.")
    by_then = {"held": "it has held", "failed": "it has failed", "open": "it stays open"}[found.by_then]
    days = counted(found.days, "day")
    return [*said, f"Records of the {days} after it are asked; where none of them shows either, {by_then}."]


def came_here(rule: Rule, shelf: Shelf, garden: Garden, speech: Speech) -> list[Piece]:
    """Return every piece of advice of a rule in a garden, the latest first. Advice of today has no outcome yet."""
    if not garden.of("place"):
        return []
    scene = Scene(garden, shelf.adviser.lore, speech.today, "")
    pieces = list(came_of(scene, shelf.adviser.outcomes, rule.id))
    return [_piece(one, speech) for one in reversed(pieces)]


def _piece(one: CameOf, speech: Speech) -> Piece:
    advice = one.advice
    assert isinstance(advice.origin, Recorded)
    day = advice.day("on")
    whom = advice.text("plant") or advice.text("spot")
    followed = {True: "followed, ", False: "not followed, ", None: ""}[one.followed]
    came = {"held": "it held", "failed": "it failed", "open": "nothing shows what came of it"}[one.result]
    said = speech.day(day) if day else ""
    return Piece(advice.origin.row_ids[0], said, speech.name(whom) if whom else "the garden", followed + came)


def fact_words(fact: Fact, speech: Speech) -> str:
    """Return a fact as a short phrase of its fields, with the sign of a difference or a count of days."""
    parts = [f"{label(name)} {value_words(name, value, speech)}" for name, value in fact.values.items()]
    return f"{spaced(fact.kind)}: {', '.join(parts)}"


def value_words(name: str, value: Value, speech: Speech) -> str:
    """Return a value in words; replies leave out the sign of what they tell as a size, a condition asks for it."""
    if name in SLUGS:
        return spaced(str(value))
    said = speech.value(name, value, article=False)
    negative = isinstance(value, int | float) and value < 0 and unit_of(name) in ("k", "days")
    return f"−{said}" if negative else said


def trees_named(rule: Rule, shelf: Shelf) -> list[tuple[str, str]]:
    """Return (id, name) of the kinds of trees that a rule's conditions name."""
    known = shelf.adviser.lore.species
    operands = [test.operand for block in (*rule.when, *rule.unless) for test in block.tests]
    named = [one for each in operands for one in (each if isinstance(each, tuple) else (each,)) if isinstance(one, str)]
    return [(one, known[one].name) for one in dict.fromkeys(named) if one in known]


def strength_words(rule: Rule) -> tuple[str, str]:
    return STRENGTHS.get(rule.strength, (rule.strength, ""))


def settles_words(settles: str) -> str:
    return SETTLES[settles]
