"""How much frost flower buds and new growth stand, as published: ``rules/critical_temperatures.toml``."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path
from typing import Any

from advisor.errors import BadRules
from advisor.records.kinds import read_toml

FILE = "critical_temperatures.toml"
READ_LEVELS = ("table", "abstract", "excerpt", "via-reference", "not yet")
NO_SOURCE = ("house judgement", "common practice, no source")
GAP = "not published"


@dataclass(frozen=True, slots=True)
class BudStage:
    """One published stage: its words, the BBCH codes it stands at, the 10 and 90 % kill temperatures. [°F]"""

    words: str
    bbch_from: int
    bbch_to: int
    kill10_f: float
    kill90_f: float | None


@dataclass(frozen=True, slots=True)
class BudHardiness:
    """The table of one kind. ``crop`` says what bud loss means for the crop, ``notes`` how cultivars differ."""

    id: str
    stages: tuple[BudStage, ...]
    sources: tuple[Mapping[str, str], ...]
    crop: str
    notes: tuple[str, ...]
    same_as: str = ""

    @property
    def source(self) -> str:
        """The works behind the table, in one line."""
        return "; ".join(source["cite"] for source in self.sources if source["cite"] not in NO_SOURCE)


@dataclass(frozen=True, slots=True)
class NewGrowth:
    """Levels to act on for new growth, where no share killed is published. [°C]

    Green growth is watched from ``alert_c`` and damaged from ``damage_c``, a swelling bud from ``swelling_c``; a bud
    that is still closed is not worth a thought down to ``closed_c``, and below that its level is not known.
    """

    id: str
    alert_c: float
    damage_c: float
    swelling_c: float
    closed_c: float
    sources: tuple[Mapping[str, str], ...]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Hardiness:
    """All that is published, and why a kind is not: by species id.

    ``closed_c`` is what closed buds of a kind stand of which nothing is published. [°C]
    """

    exposure_minutes: float
    buds: Mapping[str, BudHardiness]
    not_published: Mapping[str, str]
    new_growth: Mapping[str, NewGrowth]
    closed_c: float


def load_hardiness(rules: Path) -> Hardiness:
    """Read the critical temperatures of a rule base. Raise BadRules where the file does not hold together."""
    raw = read_toml(rules / FILE)
    try:
        buds: dict[str, BudHardiness] = {}
        for entry in raw["kind"]:
            kind = _kind(entry, buds)
            if kind.id in buds:
                raise _bad(kind.id, "two tables", "Keep one")
            buds[kind.id] = kind
        gaps = {entry["id"]: str(entry["why"]) for entry in raw.get("not_published", [])}
        growth = {entry["id"]: _new_growth(entry) for entry in raw.get("new_growth", [])}
        closed_c = (float(raw["closed_f"]) - 32) / 1.8
        found = Hardiness(float(raw["exposure_minutes"]), buds, gaps, growth, closed_c)
    except KeyError as missing:
        raise BadRules(f"reading {FILE}", f"no key {missing}", "Add it; see any other entry") from None
    both = sorted(set(buds) & set(gaps))
    if both:
        raise _bad(both[0], "a table, and a reason for having none", "Drop one")
    return found


def _kind(entry: Mapping[str, Any], earlier: Mapping[str, BudHardiness]) -> BudHardiness:
    sources = _sources(entry)
    notes = tuple(entry["notes"])
    if "same_as" in entry:
        other = earlier.get(entry["same_as"])
        if other is None:
            raise _bad(entry["id"], f"same_as {entry['same_as']!r}, which is not above it", "Name a kind listed before")
        return replace(other, id=entry["id"], sources=(*other.sources, *sources), notes=(*notes, *other.notes),
                       same_as=other.id)  # fmt: skip
    stages = tuple(_stage(entry["id"], stage) for stage in entry["stages"])
    if not stages:
        raise _bad(entry["id"], "no stages", "List them, or give the kind under not_published with the reason")
    for one, after in pairwise(stages):
        _check_order(entry["id"], one, after)
    return BudHardiness(entry["id"], stages, sources, entry["crop"], notes)


def _stage(kind: str, raw: Mapping[str, Any]) -> BudStage:
    first, last = raw["bbch"]
    ten, ninety = raw["kill10_f"], raw["kill90_f"]
    for value in (ten, ninety):
        if not isinstance(value, (int, float)) and (value is ten or value != GAP):
            raise _bad(kind, f"{raw['words']}: {value!r}", f"Give a number in °F; only a 90 % point may be {GAP!r}")
    if not 0 <= first <= last <= 99:
        raise _bad(kind, f"{raw['words']}: BBCH {first} to {last}", "Give the first and the last code, 0 to 99")
    kill90_f = None if ninety == GAP else float(ninety)
    if kill90_f is not None and kill90_f >= ten:
        raise _bad(kind, f"{raw['words']}: 90 % at {ninety} °F, 10 % at {ten} °F", "The 90 % point is the colder")
    return BudStage(raw["words"], first, last, float(ten), kill90_f)


def _check_order(kind: str, one: BudStage, after: BudStage) -> None:
    """Refuse stages out of order, and buds that grow hardier: as they open they only grow tenderer in every table."""
    if after.bbch_from <= one.bbch_to:
        raise _bad(kind, f"{after.words} at or before {one.words}", "Order the stages by BBCH code, none twice")
    hardier_90 = None not in (one.kill90_f, after.kill90_f) and (after.kill90_f or 0.0) < (one.kill90_f or 0.0)
    if after.kill10_f < one.kill10_f or hardier_90:
        raise _bad(
            kind,
            f"{after.words} hardier than {one.words} before it",
            "Look at the source again for an error of transcription",
        )


def _new_growth(entry: Mapping[str, Any]) -> NewGrowth:
    alert_f, damage_f, swelling_f, closed_f = (
        float(entry[f"{name}_f"]) for name in ("alert", "damage", "swelling", "closed")
    )
    if damage_f >= alert_f:
        raise _bad(entry["id"], f"damage at {damage_f} °F, alert at {alert_f} °F", "The alert is the warmer")
    if not closed_f < swelling_f <= damage_f:
        found = f"closed {closed_f}, swelling {swelling_f}, green {damage_f} °F"
        raise _bad(entry["id"], found, "Buds only grow tenderer as they open")
    alert, damage, swelling, closed = ((temp_f - 32) / 1.8 for temp_f in (alert_f, damage_f, swelling_f, closed_f))
    return NewGrowth(entry["id"], alert, damage, swelling, closed, _sources(entry), tuple(entry["notes"]))


def _sources(entry: Mapping[str, Any]) -> tuple[Mapping[str, str], ...]:
    sources = tuple(entry["sources"])
    if not sources:
        raise _bad(entry["id"], "no source", "Name one, or say common practice")
    for source in sources:
        if source["cite"] not in NO_SOURCE and source.get("read") not in READ_LEVELS:
            raise _bad(entry["id"], f"{source['cite']}: read {source.get('read')!r}", f"Use one of {READ_LEVELS}")
    return sources


def _bad(kind: str, found: str, do: str) -> BadRules:
    return BadRules(f"reading {FILE}", f"{kind}: {found}", do)
