"""Published chill and heat requirements and days to ripe fruit, and what was not found: ``rules/requirements.toml``."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import isfinite
from pathlib import Path
from typing import Any

from advisor.errors import BadRules
from advisor.records.kinds import read_toml

FILE = "requirements.toml"
# Greatest amount of each metric that is still plausible: house judgement, to catch a figure under the wrong metric.
CHILL_METRICS = {
    "chill portions": 150.0,
    "Utah chill units": 3000.0,
    "positive Utah chill units": 3000.0,
    "chilling hours": 3000.0,
}
HEAT_METRICS = {
    "growing degree hours, base 4 °C": 20000.0,
    "growing degree hours, base 4.4 °C": 20000.0,
    "degree-days above 5 °C": 3000.0,
    "degree-days above 10 °C": 3000.0,
}
STAGES = ("wake", "bloom", "not said")
CROPS = ("main", "breba")
GAPS = ("chill", "heat", *(f"days to ripe, {crop}" for crop in CROPS))
READ = ("table", "abstract", "excerpt", "via-reference", "not yet")
UNREAD_CITES = ("house judgement", "common practice, no source")
NUMBERS = ("chill_low", "chill_high", "chill_single", "heat_low", "heat_high")
KEYS = {
    "single_width": {"metric", "plus_minus", "source"},
    "requirement": {"kind", "cultivar", "stage", "chill_metric", "heat_metric", *NUMBERS, "weak", "source"},
    "ripening": {"kind", "crop", "days_low", "days_high", "weak", "source"},
    "gap": {"kind", "what", "says"},
}


@dataclass(frozen=True)
class PublishedRequirement:
    """One published range; ``heat_low``, ``heat_high`` and ``heat_metric`` are None where it gives chill only.

    ``cultivar`` is "" for the kind as a whole. ``weak`` marks a nursery's or grower's page.
    """

    kind: str
    cultivar: str
    stage: str
    chill_low: float
    chill_high: float
    chill_metric: str
    heat_low: float | None
    heat_high: float | None
    heat_metric: str | None
    weak: bool
    source: Mapping[str, str]

    @property
    def told_source(self) -> str:
        """The source in one line, with how far it was read and whether it is weak."""
        return _told(self.source, self.weak)


@dataclass(frozen=True)
class PublishedRipening:
    """Days from visible fruitlets to the first ripe fruit of one crop of a kind."""

    kind: str
    crop: str
    days_low: float
    days_high: float
    weak: bool
    source: Mapping[str, str]

    @property
    def told_source(self) -> str:
        """The source in one line, with how far it was read and whether it is weak."""
        return _told(self.source, self.weak)


@dataclass(frozen=True)
class Gap:
    """What is not known of a kind, said to the grower rather than guessed."""

    kind: str
    what: str
    says: str


@dataclass(frozen=True)
class PublishedNeeds:
    """Everything of ``rules/requirements.toml``, in the file's order: of one kind, the more trusted first."""

    requirements: tuple[PublishedRequirement, ...]
    ripening: tuple[PublishedRipening, ...]
    gaps: tuple[Gap, ...]

    def requirements_of(self, kind: str, cultivar: str = "") -> list[PublishedRequirement]:
        """Return a cultivar's own entries, then those of its kind, the more trusted first."""
        named = cultivar.strip().casefold()
        ours = [each for each in self.requirements if each.kind == kind]
        own = [each for each in ours if named and each.cultivar.casefold() == named]
        return own + [each for each in ours if not each.cultivar]

    def days_to_ripe(self, kind: str, crop: str) -> PublishedRipening | None:
        """Return the most trusted range of this crop, None where none is known."""
        return next((each for each in self.ripening if (each.kind, each.crop) == (kind, crop)), None)

    def gap(self, kind: str, what: str) -> Gap | None:
        """Return what is said where this is not known."""
        return next((each for each in self.gaps if (each.kind, each.what) == (kind, what)), None)


def load_requirements(rules: Path) -> PublishedNeeds:
    """Read the published requirements of a rule base. Raise BadRules at the first entry that does not hold together."""
    raw = read_toml(rules / FILE)
    kinds = {path.stem for path in (rules / "species").glob("*.toml")}
    if unknown := sorted(set(raw) - set(KEYS)):
        raise _bad(FILE, f"unknown table {unknown[0]!r}", f"Use {', '.join(KEYS)}")
    for table, keys in KEYS.items():
        if not isinstance(raw.get(table, []), list):
            raise _bad(FILE, f"a single table [{table}]", f"Write each as [[{table}]]")
        for number, entry in enumerate(raw.get(table, ()), start=1):
            where = f"{table} {number} ({entry.get('kind') or entry.get('metric')})"
            if unknown := sorted(set(entry) - keys):
                raise _bad(where, f"unknown key {unknown[0]!r}", f"Use {', '.join(sorted(keys))}")
            if table != "single_width" and entry.get("kind") not in kinds:
                raise _bad(where, f"kind {entry.get('kind')!r}", "Name a file of rules/species")
            if table != "gap":
                _check_source(where, entry)
    widths = dict(_width(entry, f"single_width {n}") for n, entry in enumerate(raw.get("single_width", ()), 1))
    needs = PublishedNeeds(
        tuple(_requirement(entry, f"requirement {n}", widths) for n, entry in enumerate(raw.get("requirement", ()), 1)),
        tuple(_ripening(entry, f"ripening {n}") for n, entry in enumerate(raw.get("ripening", ()), 1)),
        tuple(_gap(entry, f"gap {n}") for n, entry in enumerate(raw.get("gap", ()), 1)),
    )
    _check_whole(needs, kinds)
    return needs


def _requirement(entry: Mapping[str, Any], where: str, widths: Mapping[str, float]) -> PublishedRequirement:
    where = f"{where} ({entry['kind']})"
    stage, metric = entry.get("stage"), entry.get("chill_metric")
    if stage not in STAGES:
        raise _bad(where, f"stage {stage!r}", f"Use one of {STAGES}")
    if metric not in CHILL_METRICS:
        raise _bad(where, f"chill_metric {metric!r}", f"Use one of {tuple(CHILL_METRICS)}")
    chill_low, chill_high = entry.get("chill_low"), entry.get("chill_high")
    if (single := entry.get("chill_single")) is not None:
        if chill_low is not None or chill_high is not None:
            raise _bad(where, "chill_single beside a range", "Give one or the other")
        if metric not in widths:
            raise _bad(where, f"a single figure in {metric}", "Give a range, or a single_width for that metric")
        _range(where, "single chill", single, single, CHILL_METRICS[metric], least=0.0)
        chill_low, chill_high = max(0.0, single - widths[metric]), single + widths[metric]
    low, high = _range(where, "chill", chill_low, chill_high, CHILL_METRICS[metric], least=0.0)
    heat_low: float | None = None
    heat_high: float | None = None
    heat_metric = entry.get("heat_metric")
    if heat_metric is not None or "heat_low" in entry or "heat_high" in entry:
        if heat_metric not in HEAT_METRICS:
            raise _bad(where, f"heat_metric {heat_metric!r}", f"Use one of {tuple(HEAT_METRICS)}")
        most = HEAT_METRICS[heat_metric]
        heat_low, heat_high = _range(where, "heat", entry.get("heat_low"), entry.get("heat_high"), most, least=1.0)
    return PublishedRequirement(
        kind=entry["kind"],
        cultivar=entry.get("cultivar", ""),
        stage=stage,
        chill_low=low,
        chill_high=high,
        chill_metric=metric,
        heat_low=heat_low,
        heat_high=heat_high,
        heat_metric=heat_metric,
        weak=_weak(entry, where),
        source=entry["source"],
    )


def _width(entry: Mapping[str, Any], where: str) -> tuple[str, float]:
    metric, width = entry.get("metric"), entry.get("plus_minus")
    if metric not in CHILL_METRICS:
        raise _bad(where, f"metric {metric!r}", f"Use one of {tuple(CHILL_METRICS)}")
    return (metric, _range(where, "width", width, width, CHILL_METRICS[metric], least=0.0)[0])


def _ripening(entry: Mapping[str, Any], where: str) -> PublishedRipening:
    where = f"{where} ({entry['kind']})"
    if entry.get("crop") not in CROPS:
        raise _bad(where, f"crop {entry.get('crop')!r}", f"Use one of {CROPS}")
    low, high = _range(where, "days", entry.get("days_low"), entry.get("days_high"), 300.0, least=1.0)
    return PublishedRipening(entry["kind"], entry["crop"], low, high, _weak(entry, where), entry["source"])


def _gap(entry: Mapping[str, Any], where: str) -> Gap:
    where = f"{where} ({entry['kind']})"
    if entry.get("what") not in GAPS:
        raise _bad(where, f"what {entry.get('what')!r}", f"Use one of {GAPS}")
    if not isinstance(entry.get("says"), str) or not entry["says"].strip():
        raise _bad(where, "no sentence in says", "Say what was looked for and not found")
    return Gap(entry["kind"], entry["what"], entry["says"])


def _range(where: str, what: str, low: Any, high: Any, most: float, least: float) -> tuple[float, float]:
    for value in (low, high):
        if isinstance(value, bool) or not isinstance(value, int | float) or not isfinite(value):
            raise _bad(where, f"{what} {low!r} to {high!r}", "Give both ends as numbers")
    if not least <= low <= high <= most:
        raise _bad(where, f"{what} {low} to {high}", f"Give low before high, from {least:g} to {most:g}")
    return (float(low), float(high))


def _weak(entry: Mapping[str, Any], where: str) -> bool:
    weak = entry.get("weak", False)
    if not isinstance(weak, bool):
        raise _bad(where, f"weak {weak!r}", "Use true or false")
    if not weak and entry["source"].get("read", "not yet") == "not yet":
        raise _bad(where, "a source that was not read, not marked weak", "Set weak = true, or read it")
    return weak


def _check_source(where: str, entry: Mapping[str, Any]) -> None:
    source = entry.get("source")
    if not isinstance(source, dict) or not source.get("cite") or not source.get("backs"):
        raise _bad(where, "no source with cite and backs", "Say who says so, and which figures that backs")
    if source["cite"] not in UNREAD_CITES and source.get("read") not in READ:
        raise _bad(where, f"read {source.get('read')!r}", f"Use one of {READ}")


def _check_whole(needs: PublishedNeeds, kinds: set[str]) -> None:
    """Raise BadRules for an entry given twice, a gap that is none, or a kind with neither figure nor gap."""
    seen = set()
    for each in needs.requirements:
        key = (each.kind, each.cultivar.casefold(), each.stage, each.chill_metric, each.source["cite"])
        if key in seen:
            raise _bad(FILE, f"{each.kind} {each.cultivar} twice from one source".replace("  ", " "), "Drop one")
        seen.add(key)
    known = {(each.kind, "chill") for each in needs.requirements}
    known |= {(each.kind, "heat") for each in needs.requirements if each.heat_low is not None}
    known |= {(each.kind, f"days to ripe, {each.crop}") for each in needs.ripening}
    gaps = {(each.kind, each.what) for each in needs.gaps}
    if both := sorted(known & gaps):
        raise _bad(FILE, f"{both[0][0]} has {both[0][1]} and a gap for it", "Drop the gap")
    if silent := sorted({(kind, what) for kind in kinds for what in ("chill", "heat")} - known - gaps):
        raise _bad(FILE, f"nothing on {silent[0][1]} for {silent[0][0]}", "Give a figure, or a gap that says so")


def _told(source: Mapping[str, str], weak: bool) -> str:
    read = f", read: {source['read']}" if "read" in source else ""
    return f"{source['cite']}{read}{', a weak source' if weak else ''}"


def _bad(where: str, found: str, do: str) -> BadRules:
    return BadRules(f"reading {FILE}" if where == FILE else f"reading {FILE}, {where}", found, do)
