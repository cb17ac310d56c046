"""Facts worked out from records: only the kinds that a question's rules look at, each with what it rests on."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import timedelta

from advisor.facts import Fact, FactBase
from advisor.reasoning.derive import ground, plants, stages, weather
from advisor.reasoning.derive.scene import DERIVATIONS, Records, Scene
from advisor.records.kinds import Vocabulary

LATEST_ONLY = ("inspection",)
"""Kinds of which only the latest day counts: an older look is overtaken by a newer one."""


def derive(scene: Scene, wanted: Iterable[str], kinds: Vocabulary) -> FactBase:
    """Return the facts of the wanted kinds for one question: recorded ones about its subject, and derived ones."""
    facts = FactBase()
    for name in sorted(wanted):
        kind = kinds[name]
        if kind.origin == "derived":
            found: Iterable[Fact] = DERIVATIONS[kind.derived_by](scene)
        elif kind.origin == "recorded":
            found = _about_subject(scene, name, kinds)
        else:
            found = ()
        for fact in found:
            facts.add(fact)
    return facts


def _about_subject(scene: Scene, name: str, kinds: Vocabulary) -> list[Fact]:
    """Return a recorded kind's rows as rules may see them: about the plant asked, and of this growing year if dated."""
    kind = kinds[name]
    rows = scene.told_by_today(name) if kind.holds_on and name != "plant" else scene.records.of(name)
    if "plant" in kind.fields and scene.plant:
        rows = [row for row in rows if row.text("plant") == scene.plant]
    if name == "plant" and scene.plant:
        rows = [row for row in rows if row.text("name") == scene.plant]
    if kind.holds_on and name != "plant":
        rows = [row for row in rows if scene.when(row).date() >= scene.year_start]
    if name in LATEST_ONLY and rows:
        last = scene.when(rows[-1]).date()
        rows = [row for row in rows if scene.when(row).date() >= last - timedelta(days=1)]
    return rows


def unmatched(kinds: Vocabulary) -> list[str]:
    """Return a sentence for each derived kind without a function, and each function without a kind."""
    named: Mapping[str, str] = {kind.derived_by: kind.name for kind in kinds.values() if kind.origin == "derived"}
    missing = [f"kind {kind}: no function {by!r} in advisor/reasoning/derive" for by, kind in named.items()
               if by not in DERIVATIONS]  # fmt: skip
    spare = [f"function {by!r} derives no kind; add rules/kinds/{by}.toml" for by in DERIVATIONS if by not in named]
    return [*missing, *spare]


__all__ = ["DERIVATIONS", "Records", "Scene", "derive", "ground", "plants", "stages", "unmatched", "weather"]
