"""A weather file into rows: daily or hourly, checked beside what is recorded, with hours summed up to days."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from advisor.errors import RowFault
from advisor.facts import Value, key_of
from advisor.records.schemas import Known
from advisor.records.store import Garden, NewRow
from advisor.records.tables import Table
from advisor.records.weather_checks import STUCK_DAYS, STUCK_HOURS, Checked, Entry, check
from advisor.records.weather_columns import find_columns, find_source
from advisor.records.weather_days import Moment, day_row, remade
from advisor.records.weather_rows import Stations, WeatherReader

WEATHER = ("weather_day", "weather_hour")
VALUES = {False: ("min_c", "max_c", "rain_mm"), True: ("temp_c", "dew_point_c", "rain_mm")}
"""What a row of weather tells of its moment: of a day, and of an hour."""
DATED = re.compile(r"[-_ ]*\d[\d\-_.]*")


@dataclass(frozen=True, slots=True)
class WeatherOptions:
    """What was told of a weather file from outside it: the station's name, c or f, local or winter; "" for not told."""

    station: str = ""
    unit: str = ""
    clock: str = ""


@dataclass
class WeatherRead:
    """The rows of a weather file, what was found in it, and how many were recorded before."""

    rows: list[NewRow] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    faults: list[RowFault] = field(default_factory=list)
    known_rows: int = 0


def read_weather_table(
    table: Table,
    garden: Garden,
    known: Known,
    *,
    hourly: bool,
    renamed: Mapping[str, str],
    told: WeatherOptions,
    stations: Stations,
    days: set[Moment],
) -> WeatherRead:
    """Check and sum up the rows of a weather file; what is doubtful comes back as rows of their own.

    A moment told anew with other values stands for what was recorded of it; a recorded one that the new rows show to
    be doubtful goes out of use. ``days`` holds the days that other files of the same import tell, which hours do not
    sum up again; a file of days adds its own. ``stations`` is what is known of each, and learns.
    """
    read = WeatherRead()
    if hourly and known.zone is None:
        read.faults.append(
            RowFault(table.name, 0, "file", "no place yet", "a place with its time zone, imported first")
        )
        return read
    zone = known.zone or ZoneInfo("UTC")
    source_column = find_source(table, renamed)
    station = told.station or ("" if source_column else _station(table, garden, read))
    sources = {str(row.get(source_column, "")) for _, row in table.rows} if source_column else {station}
    wrote = stations.common(sources, "temperature_unit")
    columns = find_columns(table, hourly, renamed, told.unit, remembered=wrote, us=known.us is not False)
    read.notes += columns.notes
    read.faults += columns.faults
    if read.faults:
        return read
    reader = WeatherReader(table, columns, known, station, hourly)
    entries = reader.entries(told.clock, stations.common(sources, "clock"))
    read.notes += reader.notes
    read.faults += reader.faults
    there = _recorded(garden, WEATHER[hourly])
    checked = check([*entries, *_beside(entries, there, hourly)])
    read.notes += checked.notes(table.name, "hour" if hourly else "day")
    if _looks_wrong_as_a_whole(table, checked, read):
        return read
    fresh = _new_rows(garden, checked, there, hourly, read)
    if not hourly:
        days |= {_key(entry) for entry in checked.trusted}
    gone = _doubts(garden, checked, there, hourly, zone, read)
    if hourly and (fresh or gone):
        for one in remade(garden, zone, fresh=fresh, gone=gone):
            if one.key in days:
                continue
            if one.day is not None:
                read.rows.append(replace(day_row(one.day), replaces=one.row_id))
            elif one.row_id is not None:  # too few hours are left; the doubt that took them takes the day too
                _rule_out(read.rows, "weather_day", one.row_id)
    if entries:
        stations.learn(sources, reader.clock_shown, columns.unit_learnt)
    return read


def _station(table: Table, garden: Garden, read: WeatherRead) -> str:
    """Return the station of a file that does not name it: by the file's name without its date, else the only one.

    Two files that may be of two stations are never put together by a guess: that is a fault.
    """
    stem = DATED.sub("", table.name.rpartition(".")[0]).strip(" -_")
    recorded = sorted({source for kind in WEATHER for _, source in garden.columns_in_use(kind, "source") if source})
    counting = garden.place().text("station") if garden.of("place") else ""
    if stem in WEATHER or not stem:
        if counting or len(recorded) <= 1:
            return counting or (recorded[0] if recorded else "station")
    elif not recorded or stem in recorded:
        if stem not in recorded:
            read.notes.append(f"{table.name}: no station told, so it is called {stem!r}; --station names it")
        return stem
    wanted = f"--station NAME: one of {', '.join(recorded)}, or a new one"
    read.faults.append(RowFault(table.name, 0, "station", "none told", wanted))
    return ""


def _beside(entries: Sequence[Entry], there: Mapping[Moment, _There], hourly: bool) -> Iterable[Entry]:
    """Yield what is recorded around a file's moments, so that runs and jumps show across two files."""
    if not entries or not there:
        return
    margin = timedelta(hours=STUCK_HOURS + 1) if hourly else timedelta(days=STUCK_DAYS + 1)
    first = min(entry.when for entry in entries) - margin
    last = max(entry.when for entry in entries) + margin
    new = {_key(entry) for entry in entries}
    places = {key[1:] for key in new}
    for key, (_, values) in there.items():
        if first <= key[0] <= last and key not in new and key[1:] in places:
            told: dict[str, Any] = dict(zip(VALUES[hourly], values, strict=True))
            yield Entry(0, *key, **told)


def _new_rows(
    garden: Garden, checked: Checked, there: Mapping[Moment, _There], hourly: bool, read: WeatherRead
) -> list[Entry]:
    """Add a row for each trusted entry that is new or tells its moment anew, and return those entries."""
    retired = garden.keys_retired(WEATHER[hourly])
    fresh = []
    for entry in checked.trusted:
        if not entry.line:
            continue
        row_id, before = there.get(_key(entry), (None, ()))
        told = [getattr(entry, name) for name in VALUES[hourly]]
        told = [old if new is None else new for old, new in zip(before or told, told, strict=True)]
        if tuple(told) == before:
            read.known_rows += 1
            continue
        entry = replace(entry, **dict(zip(VALUES[hourly], told, strict=True)))
        row = replace(_row(WEATHER[hourly], entry), replaces=row_id)
        if retired and key_of(row.kind, row.values) in retired:
            read.known_rows += 1
            continue
        fresh.append(entry)
        read.rows.append(row)
    return fresh


def _doubts(
    garden: Garden, checked: Checked, there: Mapping[Moment, _There], hourly: bool, zone: ZoneInfo, read: WeatherRead
) -> set[Moment]:
    """Add a row for each new doubt, which rules out what was recorded of its moment; return the moments ruled out."""
    known = {(f.values["at"], f.text("source"), f.values["why"]) for f in garden.of("weather_doubt")}
    gone: set[Moment] = set()
    for why, entry in checked.doubtful:
        row = _doubt(why, entry, zone)
        row_id, before = there.get(_key(entry), (None, ()))
        rules_out = row_id is not None and all(
            new is None or new == old for new, old in zip(_told(entry, hourly), before, strict=True)
        )
        if rules_out and _key(entry) not in gone:
            gone.add(_key(entry))
            row = replace(row, rules_out=((WEATHER[hourly], int(row_id or 0)),))
        if rules_out or (row.values["at"], row.values.get("source", ""), row.values["why"]) not in known:
            read.rows.append(row)
    return gone


def _looks_wrong_as_a_whole(table: Table, checked: Checked, read: WeatherRead) -> bool:
    """Refuse a file of which much cannot be °C: its unit is wrong, not its days, so that none of them is sound."""
    odd = sum(why == "looks like another unit" and entry.line > 0 for why, entry in checked.doubtful)
    wrong = odd > 0.1 * max(len(checked.trusted) + len(checked.doubtful), 1) and odd >= 3
    if wrong:
        found = f"{odd} values too hot for °C"
        read.faults.append(RowFault(table.name, 0, "temperatures", found, "°C; if they are °F, name the columns so"))
    return wrong


def _told(entry: Entry, hourly: bool) -> list[float | None]:
    return [getattr(entry, name) for name in VALUES[hourly]]


def _key(entry: Entry) -> Moment:
    return (entry.when, entry.source, entry.spot)


def _row(kind: str, entry: Entry) -> NewRow:
    values: dict[str, Value] = {"on" if kind == "weather_day" else "at": entry.when}
    values |= {name: value for name in VALUES[kind == "weather_hour"] if (value := getattr(entry, name)) is not None}
    values |= {name: value for name in ("source", "spot") if (value := getattr(entry, name))}
    return NewRow(kind, values, words=entry.words, line=entry.line)


def _rule_out(rows: list[NewRow], kind: str, row_id: int) -> None:
    at = next(n for n, row in enumerate(rows) if row.rules_out)
    rows[at] = replace(rows[at], rules_out=(*rows[at].rules_out, (kind, row_id)))


def _doubt(why: str, entry: Entry, zone: ZoneInfo) -> NewRow:
    when = entry.when
    at = when if isinstance(when, datetime) else datetime.combine(when, time(), zone).astimezone(UTC)
    values: dict[str, Value] = {"at": at, "why": why}
    for name in ("min_c", "max_c", "temp_c", "rain_mm"):
        value = getattr(entry, name)
        if value is not None:
            values[name] = max(-500.0, min(500.0, value))
    if entry.source:
        values["source"] = entry.source
    return NewRow("weather_doubt", values, line=entry.line or None)


_There = tuple[int, tuple[float | None, ...]]
"""A recorded moment's row and its values."""


def _recorded(garden: Garden, kind: str) -> dict[Moment, _There]:
    when = "on" if kind == "weather_day" else "at"
    read = date.fromisoformat if kind == "weather_day" else datetime.fromisoformat
    rows = garden.columns_in_use(kind, when, "source", "spot", *VALUES[kind == "weather_hour"])
    return {
        (read(moment), source or "", garden.name_of(spot)): (row_id, tuple(values))
        for row_id, moment, source, spot, *values in rows
    }
