"""A weather file into rows: daily or hourly, checked, with hours summed up to days."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from advisor.errors import RowFault
from advisor.facts import Value, key_of
from advisor.records.moments import read_date, read_time
from advisor.records.schemas import Known
from advisor.records.store import Garden, NewRow
from advisor.records.tables import Table, read_table
from advisor.records.weather_checks import Checked, Entry, check
from advisor.records.weather_columns import FIELDS, MISSING, Columns, find_columns

WEATHER = ("weather_day", "weather_hour")
VALUES = {False: ("min_c", "max_c", "rain_mm"), True: ("temp_c", "dew_point_c", "rain_mm")}
"""What a row of weather tells of its moment: of a day, and of an hour."""
Moment = tuple[datetime | date, str, str]
"""When, the station, and the spot."""
MOST_RAIN_MM = 1000
HOURS_FOR_A_DAY = 20
"""So many hours of a day must be there for its minimum and maximum to be taken from them (house judgement)."""


@dataclass
class WeatherRead:
    """The rows of a weather file, what was found in it, and how many were recorded before."""

    rows: list[NewRow] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    faults: list[RowFault] = field(default_factory=list)
    known_rows: int = 0


def read_weather_file(
    path: Path,
    garden: Garden,
    known: Known,
    *,
    hourly: bool,
    renamed: Mapping[str, str],
    station: str = "",
    unit: str = "",
    days: set[Moment] | None = None,
) -> WeatherRead:
    """Read, check and sum up a weather file; what is doubtful comes back as rows of their own.

    A moment told anew with other values stands for what was recorded of it. ``days`` holds the days that other files
    of the same import tell, which hours do not sum up again; a file of days adds its own.
    """
    read = WeatherRead()
    table = read_table(path)
    read.faults += table.faults
    columns = find_columns(table, hourly, renamed, unit)
    read.notes += [*table.notes, *columns.notes]
    read.faults += columns.faults
    if read.faults:
        return read
    zone = known.zone or ZoneInfo("UTC")
    if hourly and known.zone is None:
        read.faults.append(
            RowFault(table.name, 0, "file", "no place yet", "a place with its time zone, imported first")
        )
        return read
    if not station and "source" not in columns.at:
        read.notes.append(f"{table.name}: no station told, so it is called {path.stem!r}; --station names it")
    entries = _Reader(table, columns, known, station, hourly, read).entries()
    checked = check(entries)
    read.notes += checked.notes(table.name, "hour" if hourly else "day")
    if _looks_wrong_as_a_whole(table, checked, read):
        return read
    there = _recorded(garden, WEATHER[hourly])
    retired = garden.keys_retired(WEATHER[hourly])
    fresh = []
    for entry in checked.trusted:
        row_id, before = there.get(_key(entry), (None, ()))
        told = [getattr(entry, name) for name in VALUES[hourly]]
        told = [old if new is None else new for old, new in zip(before or told, told, strict=True)]
        entry = replace(entry, **dict(zip(VALUES[hourly], told, strict=True)))
        row = replace(_row(WEATHER[hourly], entry), replaces=row_id)
        if tuple(told) == before or (retired and key_of(row.kind, row.values) in retired):
            read.known_rows += 1
            continue
        fresh.append(entry)
        read.rows.append(row)
    days = set() if days is None else days
    if not hourly:
        days |= {_key(entry) for entry in checked.trusted}
    doubts = _recorded_doubts(garden)
    for why, entry in checked.doubtful:
        row = _doubt(why, entry, zone)
        if (row.values["at"], row.values.get("source", ""), row.values["why"]) not in doubts:
            read.rows.append(row)
    if hourly and fresh:
        read.rows += [row for day, row in _summed_up(garden, fresh, zone) if day not in days]
    return read


def _summed_up(garden: Garden, fresh: list[Entry], zone: ZoneInfo) -> list[tuple[Moment, NewRow]]:
    """Return the days that new hours make or change, with the hours of those days that were recorded before."""
    days = {entry.when.astimezone(zone).date() for entry in fresh if isinstance(entry.when, datetime)}
    earlier = []
    now = {_key(entry) for entry in fresh}
    for _, at, temp_c, rain_mm, source, spot in garden.columns_in_use(
        "weather_hour", "at", "temp_c", "rain_mm", "source", "spot"
    ):
        when = datetime.fromisoformat(at)
        key = (when, source or "", garden.name_of(spot))
        if key not in now and when.astimezone(zone).date() in days:
            earlier.append(Entry(0, when, source or "", garden.name_of(spot), temp_c=temp_c, rain_mm=rain_mm))
    recorded = {
        (date.fromisoformat(on), source or "", garden.name_of(spot)): (row_id, min_c, max_c, rain_mm)
        for row_id, on, source, spot, min_c, max_c, rain_mm in garden.columns_in_use(
            "weather_day", "on", "source", "spot", "min_c", "max_c", "rain_mm"
        )
    }
    made = []
    for day in daily([*earlier, *fresh], zone):
        row_id, *values = recorded.get(_key(day), (None, None, None, None))
        if values != [day.min_c, day.max_c, day.rain_mm]:
            made.append((_key(day), replace(_row("weather_day", day), replaces=row_id)))
    return made


class _Reader:
    def __init__(
        self, table: Table, columns: Columns, known: Known, station: str, hourly: bool, read: WeatherRead
    ) -> None:
        self.table, self.columns, self.known, self.hourly, self.read = table, columns, known, hourly, read
        self.station = station or ("" if "source" in columns.at else Path(table.name).stem)
        self.spots = {name.casefold(): name for name in known.spots}
        self.standard_time = False
        self.seen: set[str] = set()
        self.missing = 0

    def entries(self) -> list[Entry]:
        entries = self._all()
        if self.standard_time:  # a logger that never changes its clock: read all of it so
            self.read.notes.append(f"{self.table.name}: its clock keeps winter time all year; read so")
            self.read.faults = [f for f in self.read.faults if "clocks were put forward" not in f.wanted]
            entries = self._all()
        if self.missing:
            self.read.notes.append(f"{self.table.name}: {self.missing} rows without a temperature passed over")
        return entries

    def _all(self) -> list[Entry]:
        self.seen, self.missing = set(), 0
        made = (self._entry(line, row) for line, row in self.table.rows)
        return [entry for entry in made if entry is not None]

    def _entry(self, line: int, row: Mapping[str, Any]) -> Entry | None:
        text = self._moment(row)
        try:
            when = self._when(text, row)
        except ValueError as error:
            if "clocks were put forward" in str(error):
                self.standard_time = True
            self.read.faults.append(
                RowFault(self.table.name, line, self.columns.at.get("when", "date"), repr(text), str(error))
            )
            return None
        today = self.known.today
        if today and (when.date() if isinstance(when, datetime) else when) > today + timedelta(days=1):
            at = self.columns.at.get("when", "date")
            self.read.faults.append(RowFault(self.table.name, line, at, repr(text), "a day that has come"))
            return None
        values: dict[str, float] = {}
        for name in FIELDS:
            cell = str(row.get(self.columns.at.get(name, "\0"), "")).replace("−", "-")
            if cell.casefold() in MISSING:
                continue
            if name == "rain_mm" and cell.casefold() in ("t", "trace"):
                cell = "0"
            try:
                values[name] = round(self.columns.convert[name](float(cell.replace(",", "."))), 4)
            except ValueError:
                at = self.columns.at[name]
                self.read.faults.append(RowFault(self.table.name, line, at, repr(cell), "a number"))
                continue
            if name == "rain_mm" and not 0 <= values[name] <= MOST_RAIN_MM:
                at = self.columns.at[name]
                wanted_rain = f"rain between 0 and {MOST_RAIN_MM} mm"
                self.read.faults.append(RowFault(self.table.name, line, at, repr(cell), wanted_rain))
                del values[name]
        wanted = ("temp_c",) if self.hourly else ("min_c", "max_c")
        if not all(name in values for name in wanted):
            self.missing += 1
            return None
        source = str(row.get(self.columns.at.get("source", "\0"), "")) or self.station
        told = str(row.get(self.columns.at.get("spot", "\0"), ""))
        spot = self.spots.get(told.casefold(), told)
        if spot and spot not in self.known.spots:
            wanted_spot = "a spot that is recorded or in spot.csv"
            self.read.faults.append(RowFault(self.table.name, line, "spot", repr(spot), wanted_spot))
            return None
        kept = {name: value for name, value in values.items() if name in wanted or name in ("dew_point_c", "rain_mm")}
        return Entry(line, when, source, spot, **kept)

    def _moment(self, row: Mapping[str, Any]) -> str:
        at = self.columns.at
        if "when" in at:
            return str(row.get(at["when"], ""))
        year, month, day = (str(row.get(at[name], "")).split(".")[0] for name in ("year", "month", "day"))
        text = f"{year}-{month}-{day}"
        return f"{text} {str(row.get(at['hour'], '0')).split('.')[0]}:00" if self.hourly and "hour" in at else text

    def _when(self, text: str, row: Mapping[str, Any]) -> datetime | date:
        if not self.hourly:
            return read_date(text.partition("T")[0].partition(" ")[0], self.known.day_first)
        zone = self.known.zone
        if self.standard_time and zone is not None:
            local = read_time(text, ZoneInfo("UTC"), self.known.day_first)
            offset = datetime(local.year, 1, 1, tzinfo=zone).utcoffset()
            summer = datetime(local.year, 7, 1, tzinfo=zone).utcoffset()
            standard = min(o for o in (offset, summer) if o is not None)
            return local - standard
        mark = " ".join([text, *(str(row.get(self.columns.at.get(name, ""), "")) for name in ("source", "spot"))])
        when = read_time(text, zone, self.known.day_first, fold=int(mark in self.seen))
        self.seen.add(mark)
        return when


def _looks_wrong_as_a_whole(table: Table, checked: Checked, read: WeatherRead) -> bool:
    """Refuse a file of which much cannot be °C: its unit is wrong, not its days, so that none of them is sound."""
    odd = sum(why == "looks like another unit" for why, _ in checked.doubtful)
    wrong = odd > 0.1 * max(len(checked.trusted) + len(checked.doubtful), 1) and odd >= 3
    if wrong:
        found = f"{odd} values too hot for °C"
        read.faults.append(RowFault(table.name, 0, "temperatures", found, "°C; if they are °F, name the columns so"))
    return wrong


def daily(hours: list[Entry], zone: ZoneInfo) -> list[Entry]:
    """Return each local day's minimum, maximum and rain from its hours, for days that have enough of them."""
    days: dict[tuple[date, str, str], list[Entry]] = {}
    for entry in hours:
        assert isinstance(entry.when, datetime)
        days.setdefault((entry.when.astimezone(zone).date(), entry.source, entry.spot), []).append(entry)
    made = []
    for (day, source, spot), entries in sorted(days.items()):
        temps = [entry.temp_c for entry in entries if entry.temp_c is not None]
        if (
            len({entry.when.replace(minute=0) for entry in entries if isinstance(entry.when, datetime)})
            < HOURS_FOR_A_DAY
        ):
            continue
        rain = [entry.rain_mm for entry in entries if entry.rain_mm is not None]
        made.append(Entry(entries[0].line, day, source, spot, min_c=min(temps), max_c=max(temps),
                          rain_mm=round(sum(rain), 2) if rain else None))  # fmt: skip
    return made


def _key(entry: Entry) -> Moment:
    return (entry.when, entry.source, entry.spot)


def _row(kind: str, entry: Entry) -> NewRow:
    values: dict[str, Value] = {"on" if kind == "weather_day" else "at": entry.when}
    values |= {name: value for name in VALUES[kind == "weather_hour"] if (value := getattr(entry, name)) is not None}
    values |= {name: value for name in ("source", "spot") if (value := getattr(entry, name))}
    return NewRow(kind, values, line=entry.line)


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
    return NewRow("weather_doubt", values, line=entry.line)


def _recorded(garden: Garden, kind: str) -> dict[Moment, tuple[int, tuple[float | None, ...]]]:
    when = "on" if kind == "weather_day" else "at"
    read = date.fromisoformat if kind == "weather_day" else datetime.fromisoformat
    rows = garden.columns_in_use(kind, when, "source", "spot", *VALUES[kind == "weather_hour"])
    return {
        (read(moment), source or "", garden.name_of(spot)): (row_id, tuple(values))
        for row_id, moment, source, spot, *values in rows
    }


def _recorded_doubts(garden: Garden) -> set[tuple[Value, Value, Value]]:
    return {(f.values["at"], f.text("source"), f.values["why"]) for f in garden.of("weather_doubt")}
