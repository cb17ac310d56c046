"""Which clock a weather file keeps: the place's own, with its summer time, or winter time all year round."""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

LOCAL, WINTER = "local", "winter"
HOUR = timedelta(hours=1)


@dataclass(frozen=True, slots=True)
class Change:
    """A span of wall-clock time that a change of the clocks leaves out, or lets pass twice."""

    skipped: bool
    start: datetime
    end: datetime


@dataclass
class Clock:
    """The clock of a file: ``local`` or ``winter``, whether the file itself shows it, what to say, what is wrong."""

    kept: str = LOCAL
    shown: bool = False
    notes: list[str] = field(default_factory=list)
    fault: tuple[str, str] | None = None


@dataclass
class _Evidence:
    winter: int = 0
    local: int = 0
    once: int = 0


def settle_clock(
    moments: Mapping[tuple[str, str], Sequence[datetime]], zone: ZoneInfo, told: str, remembered: str
) -> Clock:
    """Return which clock a file's moments were read from.

    ``moments`` are wall-clock times without a zone, by station and spot. A logger that never changes has rows in the
    hour that the clocks leave out in spring, each time, and one row, not two, in the hour that they repeat in autumn.
    One row alone in the skipped hour is a slip of the pen and shows nothing. ``told`` outranks what is ``remembered``
    of the station; where the file shows the opposite of what is remembered, nobody can tell, and that is a fault.
    """
    seen = _Evidence()
    summer = False
    for times in moments.values():
        ordered = sorted(times)
        if not ordered:
            continue
        for year in range(ordered[0].year, ordered[-1].year + 1):
            for change in changes(zone, year):
                _weigh(ordered, change, seen)
        summer = summer or _in_summer(ordered, zone)
    if told:
        return Clock(told, shown=True)
    winter, local = bool(seen.winter and not seen.local), bool(seen.local)
    if remembered and ((remembered == LOCAL and winter) or (remembered == WINTER and local)):
        kept = "winter time all year" if remembered == WINTER else "the place's own time"
        return Clock(fault=(f"a station that kept {kept} until now, and no longer does", "--clock local or winter"))
    if winter:
        return Clock(WINTER, True, ["its clock keeps winter time all year; read so"])
    if remembered or local or not summer:
        return Clock(remembered or LOCAL, shown=local)
    hint = "the hour repeated in autumn is there once, so it may keep winter time" if seen.once else "it cannot be told"
    return Clock(notes=[f"its clock is read as the place's own; {hint}; --clock winter if it never changes"])


def _weigh(ordered: Sequence[datetime], change: Change, seen: _Evidence) -> None:
    inside = ordered[bisect_left(ordered, change.start) : bisect_left(ordered, change.end)]
    before = ordered[bisect_left(ordered, change.start - HOUR) : bisect_left(ordered, change.start)]
    after = ordered[bisect_left(ordered, change.end) : bisect_left(ordered, change.end + HOUR)]
    if not (before and after):
        return
    if change.skipped:
        seen.winter += bool(inside)
        seen.local += not inside
    elif inside:
        twice = max(Counter(inside).values()) > 1
        seen.local += twice
        seen.once += not twice


def _in_summer(ordered: Sequence[datetime], zone: ZoneInfo) -> bool:
    return any(when.replace(tzinfo=zone).utcoffset() != winter_offset(zone, when.year) for when in ordered[::24])


@lru_cache(maxsize=512)
def changes(zone: ZoneInfo, year: int) -> tuple[Change, ...]:
    """Return the changes of the clocks in a year.

    >>> [(c.skipped, c.start.isoformat()) for c in changes(ZoneInfo("Europe/Vienna"), 2026)]
    [(True, '2026-03-29T02:00:00'), (False, '2026-10-25T02:00:00')]
    """
    found = []
    at = datetime(year, 1, 1, tzinfo=UTC)
    while at.year == year:
        later = at + timedelta(days=1)
        if at.astimezone(zone).utcoffset() != later.astimezone(zone).utcoffset():
            found.append(_change(zone, at))
        at = later
    return tuple(found)


def _change(zone: ZoneInfo, at: datetime) -> Change:
    minute = timedelta(minutes=15)
    old = at.astimezone(zone).utcoffset()
    while at.astimezone(zone).utcoffset() == old:
        at += minute
    new = at.astimezone(zone).utcoffset()
    assert old is not None and new is not None
    one, other = ((at + offset).replace(tzinfo=None) for offset in (old, new))
    return Change(other > one, min(one, other), max(one, other))


@lru_cache(maxsize=512)
def winter_offset(zone: ZoneInfo, year: int) -> timedelta:
    """Return how far a place's winter time is from UTC: the lesser of January's and July's, in either hemisphere."""
    offsets = (datetime(year, month, 1, tzinfo=zone).utcoffset() for month in (1, 7))
    return min(offset for offset in offsets if offset is not None)
