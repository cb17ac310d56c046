"""The rows of a dated kind in the order in which they hold: of all, of each plant and of each spot.

The order depends on the rows and the place's zone alone, so that it is kept from day to day. A row that is told or
taken out of use is put in its place, or taken out; lists of other plants and spots stay the very same.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, date, datetime
from functools import cached_property
from itertools import groupby
from operator import itemgetter, lt
from sys import maxsize
from zoneinfo import ZoneInfo

from advisor.facts import Fact, Recorded

NEVER = datetime.min.replace(tzinfo=UTC)
HOLDS_FROM = ("on", "at", "put_on", "issued", "from_day")
NO_ROWS: list[Fact] = []
MOST_ANEW = 8
"""Where more than one row of so many is another one, all are put in order again."""


class Moments:
    """When recorded facts hold from, as times in a zone."""

    def __init__(self, zone: ZoneInfo) -> None:
        self.zone = zone
        self._midnights: dict[date, datetime] = {}

    def of(self, fact: Fact) -> datetime:
        values = fact.values
        for name in HOLDS_FROM:
            value = values.get(name)
            if isinstance(value, datetime):
                return value.astimezone(self.zone)
            if isinstance(value, date):
                return self._midnights.get(value) or self.midnight(value)
        return NEVER

    def midnight(self, day: date) -> datetime:
        found = self._midnights.get(day)
        if found is None:
            found = self._midnights[day] = datetime.combine(day, datetime.min.time(), self.zone)
        return found


class Told:
    """The rows of one kind, oldest first; those of one moment by what they say, so that the order of telling changes
    nothing. No list that it hands out is to be changed."""

    def __init__(self, rows: list[Fact], moments: Moments) -> None:
        self.rows = rows
        self._moments = moments
        self._ordered: dict[tuple[str, str], list[Fact]] = {}

    @cached_property
    def latest(self) -> datetime:
        """The moment from which the last row holds, which may be one to come."""
        return max(moments_of(self.rows, self._moments), default=NEVER)

    @property
    def oldest_first(self) -> list[Fact]:
        return self._named("", "")

    @cached_property
    def _by(self) -> dict[str, dict[str, list[Fact]]]:
        """The rows by what they name in a field, in the order told; of all fields that were asked for."""
        return {"": {"": self.rows}}

    def by(self, field: str) -> Mapping[str, list[Fact]]:
        """Return the rows by the plant or spot that they name, "" for none; those of each in the order told."""
        found = self._by.get(field)
        if found is None:
            found = {}
            for row in self.rows:
                name: str = row.values.get(field, "")  # type: ignore[assignment]  # what names a thing is a text
                found.setdefault(name, []).append(row)
            self._by[field] = found
        return found

    def _named(self, field: str, name: str) -> list[Fact]:
        """Return the rows that name a plant or a spot, oldest first."""
        found = self._ordered.get((field, name))
        if found is None:
            found = self._ordered[field, name] = ordered(self.by(field).get(name, NO_ROWS), self._moments)
        return found

    def named(self, field: str, name: str, end: datetime) -> list[Fact]:
        """Return the rows that name a plant or a spot and hold by a moment, oldest first."""
        rows = self._named(field, name)
        return rows if self.latest <= end else rows[: bisect_right(rows, end, key=self._moments.of)]

    def span(self, start: datetime, end: datetime) -> list[Fact]:
        """Return the rows that hold from one moment to another, both counted."""
        rows, when = self.oldest_first, self._moments.of
        first = bisect_left(rows, start, key=when) if start > NEVER else 0
        return rows if not first and self.latest <= end else rows[first : bisect_right(rows, end, key=when)]

    def grown(self, rows: list[Fact]) -> Told:
        """Return the same of the rows that are in use now, with as much of this as still holds."""
        gone, new = differences(self.rows, rows)
        after = Told(rows, self._moments)
        if MOST_ANEW * (len(gone) + len(new)) > len(self.rows):
            return after
        out = {id(row) for row in gone}
        kept = dict(self._ordered)
        for field, groups in list(self._by.items()):  # which others may add to
            touched: dict[str, list[Fact]] = {row.text(field): [] for row in gone}
            for row in new:
                touched.setdefault(row.text(field), []).append(row)
            after._by[field] = {"": rows} if not field else groups | {
                name: sorted([*(row for row in groups.get(name, NO_ROWS) if id(row) not in out), *more], key=row_number)
                for name, more in touched.items()
            }  # fmt: skip
            for name, more in touched.items():
                if (field, name) in kept:
                    kept[field, name] = self._placed(kept[field, name], out, more)
        after._ordered = kept
        return after

    def _placed(self, rows: list[Fact], out: set[int], new: Iterable[Fact]) -> list[Fact]:
        """Return rows in their order without those that are out, and with others each in its place."""
        when = self._moments.of
        placed = [row for row in rows if id(row) not in out] if out else list(rows)
        for row in new:
            start, end = (bisect(placed, when(row), key=when) for bisect in (bisect_left, bisect_right))
            placed[start:end] = _alike(sorted([*placed[start:end], row], key=row_number))
        return placed


def moments_of(rows: list[Fact], moments: Moments) -> Sequence[datetime]:
    """Return when each row holds from."""
    days = [row.values.get("on") for row in rows]
    if all(type(day) is date for day in days):  # by far the most rows
        found = {day: moments.midnight(day) for day in set(days)}  # type: ignore[arg-type]
        return [found[day] for day in days]
    return [moments.of(row) for row in rows]


def ordered(rows: list[Fact], moments: Moments) -> list[Fact]:
    """Return rows by when they hold; those of one moment by what they say."""
    whens = moments_of(rows, moments)
    if all(map(lt, whens, whens[1:])):
        return rows
    timed = sorted(zip(whens, rows, strict=True), key=itemgetter(0))
    found: list[Fact] = []
    for _, same in groupby(timed, key=itemgetter(0)):
        found += _alike([row for _, row in same])
    return found


def _alike(rows: list[Fact]) -> list[Fact]:
    """Return rows of one moment by what they say; those that say the same stay in the order told."""
    return sorted(rows, key=lambda row: row.key) if len(rows) > 1 else rows


def row_number(row: Fact) -> int:
    """Return a row's number in its table, which counts up in the order told; one that is supposed comes last."""
    return (row.origin.row_ids[0] if isinstance(row.origin, Recorded) and row.origin.row_ids else 0) or maxsize


def differences(before: list[Fact], now: list[Fact]) -> tuple[list[Fact], list[Fact]]:
    """Return the rows that are in the first of two lists only, and in the second only."""
    if now[: len(before)] == before:  # facts are equal to themselves alone
        return [], now[len(before) :]
    there, then = {id(row) for row in now}, {id(row) for row in before}
    return [row for row in before if id(row) not in there], [row for row in now if id(row) not in then]
