"""What came of advice: each piece given is held against what was recorded afterwards, and every rule has its history.

``rules/outcomes.toml`` says which records show that a task was followed, that it did what it was for, and that it did
not; what foretells days or degrees is held against the stage, the crop or the night that came.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import partial
from itertools import takewhile
from operator import itemgetter
from pathlib import Path
from typing import Any

from advisor.answers import History
from advisor.errors import BadRules
from advisor.facts import Fact
from advisor.reasoning.derive.each import handfuls
from advisor.reasoning.derive.scene import Scene
from advisor.reasoning.derive.stages import way_of
from advisor.reasoning.derive.store import BY
from advisor.reasoning.derive.told import row_number
from advisor.reasoning.engine.conclude import matches
from advisor.reasoning.rulebase import Block, blocks_from
from advisor.records.kinds import Vocabulary, read_toml

FILE = "outcomes.toml"
PATTERNS = ("followed", "not_followed", "held", "failed")
FORETOLD = ("waking", "bloom", "ripe", "night")
BY_THEN = ("held", "failed", "open")


@dataclass(frozen=True)
class Pattern:
    """A record that shows something; ``dated_by`` is the field that says when, "" for the kind's own."""

    block: Block
    dated_by: str


Dated = tuple[date, int, Fact]
"""A row with the day that it counts for, and its place among those told."""


@dataclass(frozen=True)
class OutcomeRule:
    """How one claim is judged by later records. ``days`` is how long they may speak of it."""

    claim: str
    days: int
    by_then: str
    foretells: str
    patterns: Mapping[str, Pattern]


@dataclass(frozen=True)
class CameOf:
    """What came of one piece of advice: ``followed`` is None where no record says; ``result`` held, failed or open."""

    advice: Fact
    followed: bool | None
    result: str
    shown_by: tuple[Fact, ...] = ()


def load_outcomes(rules: Path, kinds: Vocabulary) -> dict[str, OutcomeRule]:
    """Read how advice is judged, by claim. Raise BadRules where an entry does not hold together."""
    path = rules / FILE
    found: dict[str, OutcomeRule] = {}
    for raw in read_toml(path)["outcome"] if path.exists() else ():
        one = _outcome(raw, kinds)
        if one.claim in found:
            raise BadRules(f"reading {FILE}", f"{one.claim} twice", "Keep one")
        found[one.claim] = one
    return found


def _outcome(raw: Mapping[str, Any], kinds: Vocabulary) -> OutcomeRule:
    where = f"reading {FILE}, {raw.get('claim')}"
    patterns = {}
    for name in PATTERNS:
        if name not in raw:
            continue
        spec = dict(raw[name])
        dated_by = str(spec.pop("on", ""))
        (block,) = blocks_from(where, {name: spec})
        kind = kinds.get(block.kind)
        unknown = [test.field for test in block.tests if kind is None or test.field not in kind.fields]
        if kind is None or kind.origin != "recorded" or unknown or (dated_by and dated_by not in kind.fields):
            raise BadRules(where, f"{name}: {block.kind} {', '.join(unknown)}", "Name a recorded kind and its fields")
        patterns[name] = Pattern(block, dated_by)
    by_then, foretells = raw.get("by_then", "open"), raw.get("foretells", "")
    if by_then not in BY_THEN or foretells not in ("", *FORETOLD) or not (patterns or foretells):
        raise BadRules(where, f"by_then {by_then!r}, foretells {foretells!r}", f"Use {BY_THEN} and {FORETOLD}")
    return OutcomeRule(raw["claim"], raw["days"], by_then, foretells, patterns)


def came_of(scene: Scene, outcomes: Mapping[str, OutcomeRule], only: str = "") -> Iterator[CameOf]:
    """Yield what came of each piece of advice given before today, as far as records show; of ``only`` one rule's."""
    names = scene.named_in("advice", "plant")
    pieces = {id(one.advice): one for name in names for one in _pieces(scene, outcomes, name)}
    for advice in scene.told_by_today("advice"):
        if id(advice) in pieces and (not only or only in advice.text("rules").split()):
            yield pieces[id(advice)]


def _pieces(scene: Scene, outcomes: Mapping[str, OutcomeRule], plant: str) -> list[CameOf]:
    """Return what came of the advice about one plant, or about none for ""."""
    return scene.remember(("came of", plant), lambda: list(_read_pieces(scene, outcomes, plant)))


def _read_pieces(scene: Scene, outcomes: Mapping[str, OutcomeRule], plant: str) -> Iterator[CameOf]:
    given = [(one, day) for one in scene.of_plant("advice", plant, before_today=True) if (day := one.day("on"))]
    told = [(one, outcomes.get(one.text("claim")), day) for one, day in given]  # today's has no outcome yet
    over = [entry for entry in told if _is_over(entry[1], entry[2], scene.year_start)]
    known = _over(scene, plant, over)
    for advice, rule, day in told:
        yield known.get(id(advice)) or _came_of(scene, advice, rule, day)


def _is_over(rule: OutcomeRule | None, day: date, start: date) -> bool:
    """Return whether nothing from a day on speaks of a piece of advice any more."""
    return rule is not None and not rule.foretells and day + timedelta(days=rule.days) < start


def _over(
    scene: Scene, plant: str, told: Sequence[tuple[Fact, OutcomeRule | None, date]]
) -> dict[int, CameOf]:  # fmt: skip
    """Return what came of advice about a plant that was over when this year began, by the advice's identity: the same
    as long as nothing of the years before is told of it."""
    rows: dict[tuple[str, str, str, str], Sequence[object]] = {}
    for advice, rule, _ in told:
        for pattern in rule.patterns.values() if rule else ():
            key = (pattern.block.kind, pattern.dated_by, *_joined_by(pattern, advice))
            if key not in rows:
                rows[key] = _rows_before(scene, advice, pattern, scene.year_start)
    advised = tuple(advice for advice, _, _ in told)
    return scene.from_same(
        ("came of, over", plant),
        (advised, scene.place, *rows.values()),
        lambda: {id(advice): _came_of(scene, advice, rule, day) for advice, rule, day in told},
    )


def _joined_by(pattern: Pattern, advice: Fact) -> tuple[str, str]:
    """Return the field by which a pattern asks for the advice's plant or spot, and which that is; "" for neither."""
    join = next((test for test in pattern.block.tests if test.operator == "same_as"), None)
    return (join.field, advice.text(join.operand[1])) if join else ("", "")


def _came_of(scene: Scene, advice: Fact, rule: OutcomeRule | None, day: date) -> CameOf:
    if rule is None:
        return CameOf(advice, None, "open")
    return _foretold(scene, advice, rule, day) if rule.foretells else _judged(scene, advice, rule, day)


def _judged(scene: Scene, advice: Fact, rule: OutcomeRule, day: date) -> CameOf:
    last = day + timedelta(days=rule.days)
    if scene.today <= last:
        return _judged_by(scene, advice, rule, day, scene.today)
    rows = tuple(_rows_to_match(scene, advice, pattern) for pattern in rule.patterns.values())
    make = partial(_judged_by, scene, advice, rule, day, last)
    return scene.from_same(("judged", row_number(advice)), (advice, scene.place, *rows), make)


def _judged_by(scene: Scene, advice: Fact, rule: OutcomeRule, day: date, last: date) -> CameOf:
    """Return what came of a piece of advice by the records up to a day; what is to come then is over, or is today."""
    shown = {name: _first(scene, advice, pattern, day, last) for name, pattern in rule.patterns.items()}
    over = last < scene.today
    facts = tuple(fact for fact in shown.values() if fact is not None)
    if shown.get("not_followed"):
        return CameOf(advice, False, "open", facts)
    followed: bool | None = True if shown.get("followed") else None
    if "followed" in rule.patterns and followed is None:
        return CameOf(advice, False if over else None, "open", facts)
    if shown.get("failed"):
        return CameOf(advice, followed, "failed", facts)
    if shown.get("held"):
        return CameOf(advice, followed, "held", facts)
    return CameOf(advice, followed, rule.by_then if over else "open", facts)


def _first(scene: Scene, advice: Fact, pattern: Pattern, day: date, last: date) -> Fact | None:
    """Return the record told first of those after a piece of advice that show what a pattern asks for."""
    found: tuple[int, Fact] | None = None
    for place, row in _rows_between(scene, advice, pattern, day, last):
        if (found is None or place < found[0]) and matches(pattern.block, row, {"advice": advice}):
            found = place, row
    return found[1] if found else None


def _rows_between(scene: Scene, advice: Fact, pattern: Pattern, day: date, last: date) -> Iterable[tuple[int, Fact]]:
    """Return the rows of some days that may match a pattern, each with its number."""
    rows, dated = _rows_to_match(scene, advice, pattern)
    if rows:
        first = bisect_left(rows, day, key=lambda row: scene.when(row).date())
        there = takewhile(lambda row: scene.when(row).date() <= last, rows[first:])
        return [(row_number(row), row) for row in there]
    return [entry[1:] for entry in dated[bisect_left(dated, (day,)) :] if entry[0] <= last]


def _rows_before(scene: Scene, advice: Fact, pattern: Pattern, end: date) -> Sequence[object]:
    """Return the rows before a day that may match a pattern."""
    rows, dated = _rows_to_match(scene, advice, pattern)
    if rows:
        return rows[: bisect_left(rows, end, key=lambda row: scene.when(row).date())]
    return dated[: bisect_left(dated, (end,))]


def _rows_to_match(scene: Scene, advice: Fact, pattern: Pattern) -> tuple[list[Fact], list[Dated]]:
    """Return the rows of all days that may match a pattern, of the plant or spot of the advice where the pattern asks
    for that: oldest first by when they hold, or each with the day that the pattern takes."""
    kind = pattern.block.kind
    by, wanted = _joined_by(pattern, advice)
    if by and not wanted:
        return [], []
    if by in BY and not pattern.dated_by:
        return scene.of_plant(kind, wanted) if by == "plant" else scene.of_spot(kind, wanted), []
    key = ("rows by", (kind, by, pattern.dated_by))
    return [], scene.remember(key, lambda: _read_rows_by(scene, key)).get(wanted, [])


def _read_rows_by(scene: Scene, key: tuple[str, tuple[str, str, str]]) -> dict[str, list[Dated]]:
    """Return the same rows as before where the kind's are, so that what rests on them is known to be the same."""
    kind, by, dated_by = key[1]
    rows = scene.rows(kind)
    return scene.from_same(key, (rows, scene.place), partial(_rows_by, scene, rows, by, dated_by))


def _rows_by(scene: Scene, rows: Iterable[Fact], field: str, dated_by: str) -> dict[str, list[Dated]]:
    """Return rows with their day and their number, by what they name in a field."""
    found: dict[str, list[Dated]] = {}
    for place, row in enumerate(rows):
        day = row.day(dated_by) if dated_by else scene.when(row).date()
        if day is not None:
            found.setdefault(row.text(field) if field else "", []).append((day, place, row))
    for dated in found.values():
        dated.sort(key=itemgetter(0, 1))
    return found


def _foretold(scene: Scene, advice: Fact, rule: OutcomeRule, day: date) -> CameOf:
    if rule.foretells == "night":
        return _night(scene, advice, day)
    came = _came(scene, advice, rule.foretells, day)
    earliest, latest = advice.day("earliest"), advice.day("latest")
    if earliest is None or latest is None:
        return CameOf(advice, None, "open")
    if came is not None:
        after, by, facts = came
        return CameOf(advice, None, "held" if by >= earliest and after < latest else "failed", facts)
    looks = scene.of_plant("stage", advice.text("plant")) if rule.foretells != "ripe" else []
    late = next((row for row in looks if (on := row.day("on")) and latest < on), None)
    return CameOf(advice, None, "failed" if late else "open", (late,) if late else ())


def _night(scene: Scene, advice: Fact, day: date) -> CameOf:
    """Hold a night's range against the station's low of the next morning; of a spot nothing is known from there."""
    low, high = advice.number("low_c"), advice.number("high_c")
    mornings = scene.remember(("mornings", "first told"), lambda: _mornings(scene))
    row = mornings.get(day + timedelta(days=1))
    came = row.number("min_c") if row and not advice.get("spot") else None
    if row is None or came is None or low is None or high is None:
        return CameOf(advice, None, "open")
    return CameOf(advice, None, "held" if low <= came <= high else "failed", (row,))


def _mornings(scene: Scene) -> dict[date, Fact]:
    """Return the station's day of each date, of several the first."""
    found: dict[date, Fact] = {}
    for row in scene.told_by_today("weather_day"):
        day = row.day("on")
        if day is not None and not row.get("spot"):
            found.setdefault(day, row)
    return found


def _came(scene: Scene, advice: Fact, milestone: str, day: date) -> tuple[date, date, tuple[Fact, ...]] | None:
    """Return between which looks a milestone was passed after the advice, and the record that shows it."""
    plant = advice.text("plant")
    year = scene.year_of(day)
    if milestone == "ripe":
        rows = [row for row in scene.of_plant("crop", plant) if row.get("first_ripe") is True and row.day("on")]
        row = next((row for row in rows if scene.year_of(row.day("on") or day) == year), None)
        on = row.day("on") if row else None
        return (on - timedelta(days=1), on, (row,)) if row and on else None
    way = way_of(scene, plant, year, milestone)
    if way is None or way.there is None or way.day is None:
        return None
    earlier = [on for row in scene.of_plant("stage", plant) if (on := row.day("on")) and day <= on < way.day]
    return (max(earlier, default=day), way.day, (way.there,))


def histories(scene: Scene, outcomes: Mapping[str, OutcomeRule]) -> dict[str, History]:
    """Return each rule's history from what came of its advice, by the rule's id."""
    names = tuple(scene.named_in("advice", "plant", before_today=True))
    return _sums(
        scene.remember(("histories of these", few), partial(_histories_of, scene, outcomes, few))
        for few in handfuls(names)
    )


def _histories_of(scene: Scene, outcomes: Mapping[str, OutcomeRule], plants: Iterable[str]) -> dict[str, History]:
    return _sums(
        scene.remember(("histories of", plant), partial(_history_of, scene, outcomes, plant)) for plant in plants
    )


def _sums(parts: Iterable[Mapping[str, History]]) -> dict[str, History]:
    found: dict[str, History] = {}
    for part in parts:
        for rule, history in part.items():
            found[rule] = _sum(found[rule], history) if rule in found else history
    return found


def _history_of(scene: Scene, outcomes: Mapping[str, OutcomeRule], plant: str) -> dict[str, History]:
    pieces = _pieces(scene, outcomes, plant)
    return scene.from_same(("history of", plant), (pieces,), partial(_added_up, pieces))


def _added_up(pieces: Iterable[CameOf]) -> dict[str, History]:
    found: dict[str, History] = {}
    for one in pieces:
        failed = one.result == "failed"
        held = one.result == "held"
        on = one.advice.day("on") if failed else None
        history = History(1, int(one.followed is True), int(held), int(failed), on)
        for rule in one.advice.text("rules").split():
            found[rule] = _sum(found[rule], history) if rule in found else history
    return found


def _sum(one: History, other: History) -> History:
    last = max((day for day in (one.last_failed, other.last_failed) if day), default=None)
    return History(
        one.given + other.given,
        one.followed + other.followed,
        one.held + other.held,
        one.failed + other.failed,
        last,
    )
