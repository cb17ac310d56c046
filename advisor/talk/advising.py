"""What was advised is kept with what it foretold, so that later records show what came of it."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from itertools import islice

from advisor.answers import Answer, Conclusion
from advisor.facts import Fact, Recorded, Value
from advisor.reasoning.derive.scene import Scene
from advisor.records.store import Garden, NewRow, Said

KEPT = ("warning", "task", "expect")
AGAIN_DAYS = 7
"""The same advice asked for again within a week is the same piece, but for a night's: that is of the one night (house
judgement)."""
MOST_KEPT = 12
MOST_RECORDS = 12
FORETOLD = ("earliest", "latest", "low_c", "high_c")


def keep_advice(garden: Garden, scene: Scene, answer: Answer, said: Said) -> None:
    """Keep an answer's tasks, warnings and expectations, the foremost of them, unless the same was kept this week.

    ``scene`` is the garden on the day on which it was asked.
    """
    today = scene.today
    known = {
        (row.text("claim"), row.text("plant"), row.text("spot"))
        for row in scene.told_since("advice", today - timedelta(days=AGAIN_DAYS - 1))
        if (on := row.day("on")) and (on == today or (on < today and row.get("low_c") is None))
    }
    rows = []
    for one in _foremost(answer):
        key = (one.claim, one.about.get("plant", ""), one.about.get("spot", ""))
        if key not in known:
            known.add(key)
            rows.append(NewRow("advice", _values(answer, one, today)))
    if rows:
        garden.add([(said, rows)])


def _foremost(answer: Answer) -> Iterator[Conclusion]:
    told = (one for kind in KEPT for one in answer.conclusions if one.kind == kind)
    yield from islice(told, MOST_KEPT)


def _values(answer: Answer, one: Conclusion, today: date) -> dict[str, Value]:
    rows: dict[str, None] = {}
    for fact in one.because[0].facts:
        for kind, row in _rows(fact):
            rows[f"{kind}/{row}"] = None
    values: dict[str, Value | None] = {
        "on": today,
        "question": answer.question,
        "conclusion": one.kind,
        "plant": one.about.get("plant"),
        "spot": one.about.get("spot"),
        "claim": one.claim,
        "rules": " ".join(dict.fromkeys(entry.rule for entry in one.because)),
        "records": " ".join(list(rows)[:MOST_RECORDS]) or None,
    }
    for name in FORETOLD:
        values[name] = next((fact.get(name) for fact in one.because[0].facts if fact.get(name) is not None), None)
    return {name: value for name, value in values.items() if value is not None}


def _rows(fact: Fact) -> Iterator[tuple[str, int]]:
    if isinstance(fact.origin, Recorded):
        yield from ((fact.origin.kind, row) for row in fact.origin.row_ids)
    else:
        for below in fact.origin.facts:
            yield from _rows(below)
