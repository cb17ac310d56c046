"""A rule tried on the records of a garden: its own kinds of facts derived, about what was picked, on one day."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from advisor.doors.page.rule_shelf import Shelf
from advisor.facts import Firing
from advisor.language.understand import Understood
from advisor.reasoning.derive import Scene
from advisor.reasoning.engine import StandIns
from advisor.reasoning.planting import WHAT_TO_PLANT, WRONG_SPOT
from advisor.reasoning.reach import behind
from advisor.reasoning.rulebase import Rule
from advisor.reasoning.trying import Nearest, nearest, seen_along
from advisor.records.store import Garden

SUBJECTS = ("plant", "species", "spot")


@dataclass(frozen=True)
class Asked:
    """The question through which a rule is tried: what has to be picked for it, and what may be."""

    question: str
    needs: tuple[str, ...]
    takes: tuple[str, ...]


@dataclass(frozen=True)
class Here:
    """What a rule does in a garden: its firings, or how near it comes."""

    firings: tuple[Firing, ...]
    nearest: Nearest


def asked_of(rule: Rule, book: Shelf) -> Asked | None:
    """Return the question through which a rule is tried on a garden, None where it serves none that can be."""
    served = [one for one in (*book.answers(rule), *book.helps(rule)) if one not in (WHAT_TO_PLANT, WRONG_SPOT)]
    if not served:
        return None
    question = book.adviser.questions[served[0]]
    needs = (question.must_name,) if question.must_name != "none" else ()
    takes = tuple(dict.fromkeys((*needs, *(name for name in question.may_name if name in SUBJECTS), "plant", "spot")))
    return Asked(question.id, needs, takes)


def look_here(
    rule: Rule, book: Shelf, garden: Garden, today: date, asked: Asked, picked: Mapping[str, str]
) -> Here:  # fmt: skip
    """Return whether a rule speaks in a garden on a day, about what was picked, and if not, how near it comes."""
    adviser = book.adviser
    taken = {name: picked[name] if name in asked.takes else "" for name in SUBJECTS}
    spots = (taken["spot"],) if taken["spot"] else ()
    scene = Scene(garden, adviser.lore, today, asked.question, taken["plant"], taken["species"])
    meant = Understood(asked.question, taken["plant"], taken["species"], spots)
    reach = behind(adviser.base, rule.id)
    facts = adviser.facts(scene, meant, reach.kinds)
    proof = StandIns(adviser.base.only(set(reach.rules)), asked.question, adviser.settings.engine).run(facts)
    firings = tuple(
        one
        for one in proof.firings
        if one.rule == rule.id
        and one.conclusion.text("plant") in ("", taken["plant"] or one.conclusion.text("plant"))
        and one.conclusion.text("spot") in ("", taken["spot"] or one.conclusion.text("spot"))
    )
    if firings:
        return Here(firings, seen_along(rule, firings[0].bound, proof.facts, adviser.base.kinds))
    return Here((), nearest(rule, proof.facts, adviser.base.kinds))
