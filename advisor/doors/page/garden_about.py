"""What the pages of a spot and of a plant share: questions to put to the talk, history, and what came of advice."""

from __future__ import annotations

import difflib
import re
import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from urllib.parse import urlencode

from advisor.conversation import Adviser
from advisor.doors.page.garden_list import Page, Row, steps_for
from advisor.errors import NotFound
from advisor.facts import Fact, Recorded
from advisor.language.render import Speech, sentence_case
from advisor.language.said.said_back import said_back
from advisor.reasoning.derive.scene import Scene
from advisor.reasoning.outcomes import CameOf, came_of
from advisor.reasoning.state import Contradiction
from advisor.records.history import history_of, rows_of
from advisor.records.stage_steps import word_of
from advisor.records.store import Garden

ROWS_A_PAGE = 20
MOST_ADVICE = 8
ISO_DAY = re.compile(r"\b\d{4}-\d{2}-\d{2}\b")


@dataclass(frozen=True, slots=True)
class Ask:
    """A question that one tap puts to the talk, under an id of its own so that two taps ask once."""

    text: str
    id: str


def asks(*texts: str) -> list[Ask]:
    return [Ask(text, uuid.uuid4().hex) for text in texts if text]


def record_link(fact: Fact) -> str:
    assert isinstance(fact.origin, Recorded)
    return f"/records/{fact.kind}/{fact.origin.row_ids[0]}"


def new_link(kind: str, of: str, name: str) -> str:
    """Return where a record of a kind about a spot or plant is told by form."""
    return f"/records/new/{kind}?{urlencode({of: name})}"


def known(garden: Garden, of: str, name: str) -> Fact:
    """Return the row of a spot or plant. Raise NotFound with the nearest name where there is none."""
    rows = {fact.text("name"): fact for fact in garden.of(of)}
    if name not in rows:
        near = difflib.get_close_matches(name, rows, n=1)
        do = f"Did you mean {near[0]!r}? " if near else ""
        raise NotFound(f"looking up a {of}", f"no {of} called {name!r}", f"{do}The garden page lists them all")
    return rows[name]


def history_page(adviser: Adviser, garden: Garden, of: str, name: str, number: int, base: str, speech: Speech) -> Page:
    """Return a page of what is recorded about a spot or plant, newest first, in words."""
    number = max(1, number)
    found = history_of(garden, of, name, most=ROWS_A_PAGE, skip=(number - 1) * ROWS_A_PAGE)
    pages = max(1, -(-found.total // ROWS_A_PAGE))
    if number > pages:
        return history_page(adviser, garden, of, name, pages, base, speech)
    said = in_words(adviser, garden, found.rows, speech)
    rows = tuple(Row(text, record_link(fact), ()) for text, fact in zip(said, found.rows, strict=True))
    return Page(
        rows, found.total, number, pages,
        f"{base}?page={number - 1}#history" if number > 1 else "",
        f"{base}?page={number + 1}#history" if number < pages else "",
    )  # fmt: skip


def in_words(adviser: Adviser, garden: Garden, facts: Iterable[Fact], speech: Speech) -> list[str]:
    """Return rows in words, a stage that was told as a code alone by the word that the trade has for it."""
    kinds = {fact.text("name"): fact for fact in garden.of("plant")}
    lines = []
    for fact in facts:
        values = dict(fact.values)
        if fact.kind == "stage" and not fact.text("words") and fact.text("plant") in kinds:
            plant = kinds[fact.text("plant")]
            steps = steps_for(adviser.stage_words, adviser.lore, plant.text("species"), plant.text("cultivar"))
            values["words"] = word_of(steps, int(fact.number("bbch") or 0))
        lines.append(sentence_case(said_back(fact.kind, values, speech)))
    return lines


@dataclass(frozen=True, slots=True)
class Odds:
    """Records that cannot all be true: what is wrong, and each of them in words with its link."""

    says: str
    records: tuple[Row, ...]


def at_odds(adviser: Adviser, garden: Garden, found: Iterable[Contradiction], speech: Speech) -> list[Odds]:
    """Return contradictions with their rows in words, dates as the grower writes them."""
    told = []
    for one in found:
        refs = [(kind, int(row)) for kind, _, row in (ref.partition("/") for ref in one.records)]
        facts = rows_of(garden, refs)
        rows = [
            Row(text, record_link(fact), ())
            for text, fact in zip(in_words(adviser, garden, facts, speech), facts, strict=True)
        ]
        says = ISO_DAY.sub(lambda day: speech.day(date.fromisoformat(day[0])), one.says)
        told.append(Odds(sentence_case(says), tuple(rows)))
    return told


@dataclass(frozen=True, slots=True)
class Advised:
    """One piece of advice that was kept: when, what, why, and what came of it."""

    on: str
    what: str
    why: str
    came: str


def advised(adviser: Adviser, scene: Scene, mine: Iterable[Fact], speech: Speech) -> list[Advised]:
    """Return pieces of advice, newest first, with what later records show of them.

    ``scene`` holds the records that they are held against; those of ``mine`` beyond the newest few are left out.
    """
    newest = sorted(mine, key=lambda row: (row.day("on") or scene.today, row.key), reverse=True)[:MOST_ADVICE]
    came = {one.advice.origin: one for one in came_of(scene, adviser.outcomes)}
    return [_advised(adviser, one, came.get(one.origin), speech) for one in newest]


def _advised(adviser: Adviser, row: Fact, came: CameOf | None, speech: Speech) -> Advised:
    rules = [adviser.base.rules[rule] for rule in row.text("rules").split() if rule in adviser.base.rules]
    on = row.day("on")
    what = sentence_case(row.text("claim").replace("-", " "))
    return Advised(
        speech.day(on) if on else "", what + _foretold(row, speech), rules[0].says if rules else "", _came(row, came)
    )


def _foretold(row: Fact, speech: Speech) -> str:
    first, last = row.day("earliest"), row.day("latest")
    if first and last:
        return f", between {speech.day(first)} and {speech.day(last)}"
    low, high = row.number("low_c"), row.number("high_c")
    if low is not None and high is not None:
        return f", between {speech.value('low_c', low)} and {speech.value('high_c', high)}"
    return ""


def _came(row: Fact, came: CameOf | None) -> str:
    """Return what came of a piece of advice in a sentence."""
    if came is None:
        return "Given today; nothing later is recorded yet."
    if row.text("conclusion") == "expect":
        return {"held": "It came as foretold.", "failed": "It did not come as foretold."}.get(
            came.result, "Not settled by any record yet."
        )
    done = {True: "Done.", False: "Not done.", None: "Whether it was done is not recorded."}[came.followed]
    result = {"held": "It did what it was for.", "failed": "It did not do what it was for."}.get(came.result, "")
    return f"{done} {result}".strip()
