"""An explanation stays right under change: what an answer cites carries it, and nothing else does."""

from __future__ import annotations

import os
import random
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import pytest
from scenarios import FOLDER, play, read_scenario

from advisor.conversation import Adviser
from advisor.language.reply import answer_reply
from advisor.language.understand import understand
from advisor.records.store import Garden
from advisor.talk.supposing import Supposed, Supposition

Row = tuple[str, int]
STORIES = sorted(FOLDER.glob("*.toml"))
BULK = ("weather_day", "weather_hour")
"""One day of a long sum need not show in a figure that is rounded: of these a few are tried, and only for no effect."""
FEW = 10
MOST = 24
"""Records of each sort that are tried of a question, drawn anew for each story but the same in each run; all of them
where EVERY_RECORD is set in the environment (some five minutes)."""
NOT_TRIED = ("place", "advice")
"""Without a place there is no garden; advice kept is no ground of an answer."""


def rows_in(told: list[dict[str, Any]]) -> set[Row]:
    return {(one["kind"], row) for one in told for row in range(one["id"], one.get("to", one["id"]) + 1)}


def conclusions(reply: Mapping[str, Any]) -> list[tuple[object, ...]]:
    return [
        (one["kind"], one["claim"], sorted(one["about"].items()), one.get("grade"), one.get("size"), one.get("side"))
        for one in reply["conclusions"]
    ]


def proof(reply: Mapping[str, Any]) -> tuple[object, ...]:
    """Return what is said and what it is said from: the text, and every fact on the way, without its row numbers."""

    def told(facts: list[dict[str, Any]]) -> list[object]:
        return [(one["fact"], told(one.get("from", []))) for one in facts]

    reasons = [(one["rule"], one["tell"], one["not_known"], told(one["from"])) for one in reply["because"]]
    return (reply["reply"], reasons, told(reply["state"]))


def rows_of(garden: Garden, adviser: Adviser) -> Iterator[Row]:
    for kind in adviser.base.kinds.values():
        if kind.origin == "recorded" and kind.name not in NOT_TRIED:
            rows = [(kind.name, row) for fact in garden.of(kind.name) for row in fact.origin.row_ids]  # type: ignore[union-attr]  # recorded
            yield from random.Random(kind.name).sample(rows, FEW) if kind.name in BULK and len(rows) > FEW else rows


def some(rows: list[Row], story: str) -> list[Row]:
    every = "EVERY_RECORD" in os.environ or len(rows) <= MOST
    return rows if every else random.Random(story).sample(rows, MOST)


@pytest.mark.parametrize("path", STORIES, ids=lambda path: path.stem)
def test_what_is_cited_carries_the_answer_and_nothing_else_does(adviser: Adviser, path: Path, tmp_path: Path) -> None:
    """Take a record away that an answer cites: what it says, or says it from, changes. Take another away: it stands."""
    story = read_scenario(path)
    for _ in play(adviser, story, tmp_path):
        pass
    idle, moved = [], []
    with adviser.open(tmp_path / "garden.db") as garden:
        for ask in story.asks:
            today = ask.get("today", story.today)
            meant = understand(ask["text"], adviser.words(garden, today))
            if not meant.question or meant.unclear or not adviser.questions[meant.question].answered_by:
                continue
            speech = adviser.speech(garden, today)

            def answered(*without: Row, meant: Any = meant, today: Any = today, speech: Any = speech) -> dict[str, Any]:
                left = Supposed(garden, Supposition("", frozenset(without)))
                return answer_reply(adviser.answer(left, meant, today), speech)

            whole = answered()
            cited, weighed = rows_in(whole["records"]), rows_in(whole["weighed"])
            rows = list(rows_of(garden, adviser))
            for row in some([row for row in rows if row in cited and row[0] not in BULK], path.stem):
                if proof(answered(row)) == proof(whole):
                    idle.append((ask["text"], row))
            for row in some([row for row in rows if row not in cited | weighed], path.stem):
                if conclusions(answered(row)) != conclusions(whole):
                    moved.append((ask["text"], row))

    assert idle == [], "cited, and nothing changes without it"
    assert moved == [], "neither cited nor weighed, and the answer changes without it"
