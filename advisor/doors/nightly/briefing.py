"""One grower's briefing: what there is to do next, and what tonight's cold may do, asked of a copy of the garden.

A copy, because an answer keeps what it advised in the garden it was asked in; the garden itself is told nothing.
"""

from __future__ import annotations

import json
import tempfile
from datetime import datetime
from pathlib import Path
from typing import Any

from advisor.conversation import Adviser
from advisor.records.backing_up import snapshot

QUESTIONS = ("what next?", "frost tonight?")
FOLDER = "briefings"


def brief(adviser: Adviser, garden: Path, now: datetime) -> dict[str, Any]:
    """Return a garden's briefing: the day, and the question, outcome and text of each answer."""
    with tempfile.TemporaryDirectory(prefix="advisor-brief-") as name:
        copy = Path(name) / garden.name
        snapshot(garden, copy)
        with adviser.open(copy) as opened:
            day = now.astimezone(opened.zone()).date()
        replies = [
            adviser.message({"text": text, "id": f"briefing-{n}"}, now, copy) for n, text in enumerate(QUESTIONS)
        ]
    told = [
        {"asked": text, "outcome": reply["outcome"], "says": reply["reply"]}
        for text, reply in zip(QUESTIONS, replies, strict=True)
    ]
    return {"day": day.isoformat(), "told": told}


def keep_briefing(garden: Path, briefing: dict[str, Any]) -> Path:
    """Keep a briefing beside the gardens, in place of the one before, and return its file."""
    folder = garden.parent / FOLDER
    folder.mkdir(mode=0o700, exist_ok=True)
    path = folder / f"{garden.stem}.json"
    making = path.with_name(f".{path.name}.part")
    making.touch(mode=0o600)
    making.write_text(json.dumps(briefing, ensure_ascii=False, indent=1) + "\n", encoding="utf-8")
    making.replace(path)
    return path
