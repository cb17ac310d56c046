"""The compiled core by itself, as simply as it can be driven: to show what it does without our care."""

from __future__ import annotations

import itertools
import json
from typing import Any

import durable_rules_engine as core

_names = itertools.count()


def fired(rules: dict[str, Any], facts: list[dict[str, Any]], *, start: bool = True, delete: bool = True) -> list[str]:
    """Return the names of the rules that fired, once for each firing, with all facts sent in one batch."""
    first = {"start": {"all": [{"p0": {"t": "$start"}}]}} if start else {}
    handle = core.create_ruleset(f"alone{next(_names)}", json.dumps({**first, **rules}))
    out: list[str] = []

    def tell(batch: list[dict[str, Any]]) -> None:
        _, offset = core.assert_facts(handle, json.dumps(batch))
        result = core.start_action_for_state(handle, offset)
        text = result[1] if result else None
        while text:
            for name, matches in json.loads(text).items():
                out.extend([name] * (len(matches) if isinstance(matches, list) else 1))
            text = core.complete_and_start_action(handle, offset)

    if start:
        tell([{"id": "0", "sid": "s", "_": 1.0, "t": "$start"}])
    tell([{"id": str(n), "sid": "s", "_": 1.0, **fact} for n, fact in enumerate(facts, start=1)])
    if delete:
        core.delete_state(handle, "s")
    return [name for name in out if name != "start"]
