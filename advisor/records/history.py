"""What is recorded of one plant or spot, picked from the garden file by its own index however large the file is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time

from advisor.facts import Fact
from advisor.records.kinds import Kind
from advisor.records.store import Garden

APART = ("advice", "weather_day", "weather_hour", "weather_doubt", "weather_station")
"""Kinds that are no part of a thing's history: advice is told by itself, a logger's rows would drown what was seen."""
SINCE = ("weather_day", "forecast_day", "evening")


@dataclass(frozen=True)
class History:
    """Some rows about one thing, newest first, of ``total`` in use."""

    rows: tuple[Fact, ...]
    total: int


def history_of(garden: Garden, of: str, name: str, *, most: int, skip: int = 0) -> History:
    """Return rows about a plant or spot (``of``), newest first: those of one page, and how many there are in all.

    Rows of one day stand with the last told first. Weather and advice are left out.
    """
    thing = garden.things().get((name, of), 0)
    parts: list[str] = []
    given: list[object] = []
    total = 0
    for kind in garden.kinds.values():
        names = _naming(kind, of)
        if not names or kind.name in APART:
            continue
        where, known = garden.in_use(kind.name)
        about = " OR ".join(f'"{one}" = ?' for one in names)
        condition = f'({about}) AND "{kind.holds_on}" IS NOT NULL AND {where}'
        values = [thing] * len(names) + list(known)
        with garden.trouble("reading"):
            (count,) = garden.db.conn.execute(f"SELECT COUNT(*) FROM {kind.name} WHERE {condition}", values).fetchone()
        if count:
            total += count
            order = f'ORDER BY "{kind.holds_on}" DESC, id DESC LIMIT ?'
            picked = f"SELECT '{kind.name}' AS kind, id, \"{kind.holds_on}\" AS held FROM {kind.name}"
            parts.append(f"SELECT * FROM ({picked} WHERE {condition} {order})")
            given += [*values, most + skip]
    if not parts:
        return History((), 0)
    whole = f"SELECT kind, id FROM ({' UNION ALL '.join(parts)}) ORDER BY held DESC, kind, id DESC LIMIT ? OFFSET ?"
    with garden.trouble("reading"):
        refs = garden.db.conn.execute(whole, [*given, most, skip]).fetchall()
    return History(tuple(rows_of(garden, refs)), total)


def last_about(garden: Garden, kind: Kind, names: Sequence[str], most: int, what: str = "") -> list[Fact]:
    """Return the last rows of a dated kind, so many at most, that name one of these plants or spots.

    A row without its date counts as the last. With ``what`` only those that tell of this deed are looked at.
    """
    about = [one for one in ("plant", "spot", "to_spot") if one in kind.fields]
    things = [thing for thing, name in garden.names_by_thing.items() if name in names]
    if not about or not things:
        return []
    marks = ", ".join("?" for _ in things)
    where, known = garden.in_use(kind.name)
    condition = " OR ".join(f'"{one}" IN ({marks})' for one in about)
    deed = " AND what = ?" if what else ""
    order = f'ORDER BY "{kind.holds_on}" IS NULL DESC, "{kind.holds_on}" DESC, id DESC LIMIT ?'
    picked = f"id IN (SELECT id FROM {kind.name} WHERE ({condition}){deed} AND {where} {order})"
    given = [*things * len(about), *([what] if what else []), *known, most]
    return garden.picked(kind.name, picked, given)


def rows_of(garden: Garden, refs: Sequence[tuple[str, int]]) -> list[Fact]:
    """Return rows in use by kind and id, in the order asked for."""
    by_kind: dict[str, list[int]] = {}
    for kind, row_id in refs:
        by_kind.setdefault(kind, []).append(row_id)
    found: dict[tuple[str, int], Fact] = {}
    for kind, ids in by_kind.items():
        for fact in garden.picked(kind, f"id IN ({', '.join('?' * len(ids))})", ids):
            found[kind, fact.origin.row_ids[0]] = fact  # type: ignore[union-attr]  # what is read is recorded
    return [found[ref] for ref in refs if ref in found]


def _naming(kind: Kind, of: str) -> list[str]:
    """Return the fields of a dated kind in which it names a plant or a spot that it is about."""
    if kind.origin != "recorded" or not kind.holds_on:
        return []
    return [one.name for one in kind.fields.values() if one.type == of and one.name != "grafted_on"]


@dataclass
class RecordsOf:
    """The records of a garden cut down to those of some plants and of the spots that concern them.

    Kinds that name neither are there whole, weather and forecasts from ``since`` on; of other plants nothing is there.
    """

    garden: Garden
    plants: tuple[str, ...] = ()
    spots: tuple[str, ...] = ()
    since: date = date.min
    _read: dict[str, list[Fact]] = field(default_factory=dict)

    def of(self, kind: str) -> list[Fact]:
        if kind not in self._read:
            self._read[kind] = self._picked(kind)
        return self._read[kind]

    def _picked(self, kind: str) -> list[Fact]:
        if kind == "plant":
            return [fact for fact in self.garden.of(kind) if fact.text("name") in self.plants]
        if kind in SINCE:
            return self.garden.since(kind, self.since)
        named = [(of, column) for of in ("plant", "spot") for column in _naming(self.garden.kinds[kind], of)]
        if not named:
            return self.garden.of(kind)
        things = self.garden.things()
        whose = {"plant": self.plants, "spot": self.spots}
        conditions: list[str] = []
        given: list[object] = []
        for of, column in named:
            ids = [things[name, of] for name in whose[of] if (name, of) in things]
            if ids:
                conditions.append(f'"{column}" IN ({", ".join("?" * len(ids))})')
                given += ids
        return self.garden.picked(kind, f"({' OR '.join(conditions)})", given) if conditions else []

    def who_said(self, kind: str) -> Mapping[int, str]:
        return self.garden.who_said(kind)


# ---- what is worth a closer look


def last_moves(garden: Garden, day: date) -> list[Fact]:
    """Return each plant's moves of the last day up to a day on which it was moved."""
    return garden.latest("move", "plant", datetime.combine(day, time.max, UTC))


def covers_lying(garden: Garden, day: date) -> list[Fact]:
    """Return the covers that lay on a day."""
    return garden.picked("cover", "put_on <= ? AND (taken_off IS NULL OR taken_off > ?)", [day.isoformat()] * 2)


def moves_of_one_day(garden: Garden) -> list[Fact]:
    """Return the moves of each plant and day that lead to different spots."""
    where, known = garden.in_use("move")
    two = f'SELECT plant, "on" FROM move WHERE {where} GROUP BY plant, "on" HAVING COUNT(DISTINCT to_spot) > 1'
    return garden.picked("move", f'(plant, "on") IN ({two})', known)


def looks_at_odds(garden: Garden, first: date) -> list[Fact]:
    """Return the stages from a day on of the plants whose looks may be at odds.

    Those are plants with two stages on one day, one that lies before the stage seen earlier, or a crop since then.
    """
    where, known = garden.in_use("stage")
    crops, of_crops = garden.in_use("crop")
    beside = 'LAG(bbch) OVER next AS code, LAG("on") OVER next AS day'
    looks = (
        f'SELECT plant, "on", bbch, {beside} FROM stage WHERE "on" >= ? AND {where} '
        'WINDOW next AS (PARTITION BY plant ORDER BY "on", bbch)'
    )
    odd = f'SELECT plant FROM ({looks}) WHERE bbch < code OR ("on" = day AND bbch != code)'
    picked = f'SELECT plant FROM crop WHERE "on" >= ? AND {crops}'
    start = first.isoformat()
    return garden.picked(
        "stage", f'"on" >= ? AND plant IN ({odd} UNION {picked})', [start, start, *known, start, *of_crops]
    )
