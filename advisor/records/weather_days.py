"""Days from hours: a local day's minimum, maximum and rain, worked out again whenever its hours change."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Set
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from advisor.facts import Value
from advisor.records.reading import GardenReader
from advisor.records.store import NewRow
from advisor.records.weather_checks import Entry

HOURS_FOR_A_DAY = 20
"""So many hours of a day must be there for its minimum and maximum to be taken from them (house judgement)."""
FROM_HOURS = "worked out from its hours"
"""The words of a day that nobody told; a day that a file of days told is not replaced by one."""
Moment = tuple[datetime | date, str, str]
"""When, the station, and the spot."""


@dataclass(frozen=True, slots=True)
class Remade:
    """A day whose hours have changed: ``day`` as it is now, None if too few hours are left; the row it stands for."""

    key: Moment
    day: Entry | None
    row_id: int | None


def day_row(day: Entry) -> NewRow:
    """Return the row of a day that its hours made."""
    told: dict[str, Value | None] = {"on": day.when, "min_c": day.min_c, "max_c": day.max_c, "rain_mm": day.rain_mm}
    told |= {"source": day.source or None, "spot": day.spot or None}
    return NewRow("weather_day", {name: value for name, value in told.items() if value is not None}, words=FROM_HOURS,
                  line=day.line or None)  # fmt: skip


def daily(hours: Iterable[Entry], zone: ZoneInfo) -> list[Entry]:
    """Return each local day's minimum, maximum and rain from its hours, for days that have enough of them."""
    days: dict[tuple[date, str, str], list[Entry]] = {}
    for entry in hours:
        assert isinstance(entry.when, datetime)
        days.setdefault((entry.when.astimezone(zone).date(), entry.source, entry.spot), []).append(entry)
    made = []
    for (day, source, spot), entries in sorted(days.items()):
        temps = [entry.temp_c for entry in entries if entry.temp_c is not None]
        there = {entry.when.replace(minute=0) for entry in entries if isinstance(entry.when, datetime)}
        if len(there) < HOURS_FOR_A_DAY:
            continue
        rain = [entry.rain_mm for entry in entries if entry.rain_mm is not None]
        made.append(Entry(entries[0].line, day, source, spot, min_c=min(temps), max_c=max(temps),
                          rain_mm=round(sum(rain), 2) if rain else None))  # fmt: skip
    return made


def remade(
    garden: GardenReader,
    zone: ZoneInfo,
    *,
    fresh: Iterable[Entry] = (),
    gone: Set[Moment] = frozenset(),
    changed: Iterable[Moment] = (),
) -> Iterator[Remade]:
    """Yield the days that change with hours that are ``fresh``, ``gone``, or ``changed`` in the file already.

    The hours recorded before count too. A day that a file of days told stays as it was told.
    """
    fresh = list(fresh)
    now = {(entry.when, entry.source, entry.spot) for entry in fresh} | gone
    every = (*now, *changed)
    touched = {(at.astimezone(zone).date(), source, spot) for at, source, spot in every if isinstance(at, datetime)}
    days = {day for day, _, _ in touched}
    earlier = []
    columns = ("at", "temp_c", "rain_mm", "source", "spot")
    for _, at, temp_c, rain_mm, source, spot in garden.columns_in_use("weather_hour", *columns):
        when = datetime.fromisoformat(at)
        hour = (when, source or "", garden.name_of(spot))
        if hour not in now and when.astimezone(zone).date() in days:
            earlier.append(Entry(0, *hour, temp_c=temp_c, rain_mm=rain_mm))
    recorded = {
        (date.fromisoformat(on), source or "", garden.name_of(spot)): (row_id, words, [min_c, max_c, rain_mm])
        for row_id, on, source, spot, words, min_c, max_c, rain_mm in garden.columns_in_use(
            "weather_day", "on", "source", "spot", "words", "min_c", "max_c", "rain_mm"
        )
    }
    made = {(day.when, day.source, day.spot): day for day in daily([*earlier, *fresh], zone)}
    for key in sorted(touched):
        day = made.get(key)
        row_id, words, values = recorded.get(key, (None, FROM_HOURS, None))
        now_values = [day.min_c, day.max_c, day.rain_mm] if day else None
        if words == FROM_HOURS and values != now_values:
            yield Remade(key, day, row_id)
