"""The rows of a weather file into entries: each cell in the unit inside, each moment by the clock the file keeps."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from typing import Any

from advisor.errors import RowFault
from advisor.facts import Fact, Recorded, Value
from advisor.records.moments import read_clock, read_date, to_utc
from advisor.records.schemas import Known
from advisor.records.store import Garden, NewRow
from advisor.records.tables import Table
from advisor.records.units import plain_number
from advisor.records.weather_checks import Entry
from advisor.records.weather_clock import WINTER, settle_clock, winter_offset
from advisor.records.weather_columns import FIELDS, MISSING, Columns

MOST_RAIN_MM = 1000


@dataclass
class Stations:
    """What is known of each weather station, the clock it keeps and the unit it writes, and what files showed anew."""

    recorded: Mapping[str, Fact]
    told: dict[str, Mapping[str, Value]] = field(default_factory=dict)
    shown: dict[str, dict[str, Value]] = field(default_factory=dict)

    @classmethod
    def of(cls, garden: Garden, rows: Iterable[NewRow]) -> Stations:
        """Return the stations of a garden, and of rows that are about to be added."""
        told = {str(row.values["name"]): row.values for row in rows if row.kind == "weather_station"}
        return cls({fact.text("name"): fact for fact in garden.of("weather_station")}, told)

    def common(self, names: Collection[str], what: str) -> str:
        """Return what all these stations have in common, "" where they differ or nothing is known."""
        found = {str(self._values(name).get(what, "")) for name in names}
        return found.pop() if len(found) == 1 else ""

    def learn(self, names: Collection[str], clock: str, unit: str) -> None:
        """Keep what a file showed of its stations."""
        new: dict[str, Value] = {key: value for key, value in (("clock", clock), ("temperature_unit", unit)) if value}
        for name in names:
            if name and any(self._values(name).get(key) != value for key, value in new.items()):
                self.shown.setdefault(name, {}).update(new)

    def rows(self) -> list[NewRow]:
        """Return the rows that keep what was learnt; a station that a file told of itself is left as told."""
        rows = []
        for name, new in sorted(self.shown.items()):
            if name in self.told:
                continue
            before = self.recorded.get(name)
            row_id = before.origin.row_ids[0] if before and isinstance(before.origin, Recorded) else None
            values = {**(before.values if before else {"name": name}), **new}
            rows.append(NewRow("weather_station", values, replaces=row_id))
        return rows

    def _values(self, name: str) -> Mapping[str, Value]:
        before = self.recorded.get(name)
        return {**(before.values if before else {}), **self.told.get(name, {}), **self.shown.get(name, {})}


class WeatherReader:
    """Reads a weather table's rows; what is wrong with them is gathered in ``faults``, what was assumed in ``notes``.

    After ``entries`` has run, ``clock_shown`` is the clock that the file or its sender showed, "" where none did.
    """

    def __init__(self, table: Table, columns: Columns, known: Known, station: str, hourly: bool) -> None:
        self.table, self.columns, self.known, self.hourly, self.station = table, columns, known, hourly, station
        self.spots = {name.casefold(): name for name in known.spots}
        self.faults: list[RowFault] = []
        self.notes: list[str] = []
        self.clock_shown = ""
        self._at = columns.at.get("when", "date")
        self._names = {name: columns.at.get(name, "\0") for name in (*FIELDS, "source", "spot", "words")}

    def entries(self, clock_told: str = "", clock_remembered: str = "") -> list[Entry]:
        """Return the table's entries in its order, rows in which something is wrong left out."""
        moments = self._moments()
        if self.hourly:
            moments = self._by_clock(moments, clock_told, clock_remembered)
        missing = 0
        entries = []
        for line, row, when in moments:
            today = self.known.today
            if today and (when.date() if isinstance(when, datetime) else when) > today + timedelta(days=1):
                self._fault(line, self._at, self._text(row), "a day that has come")
                continue
            values = self._values(line, row)
            if values is None:
                continue
            wanted = ("temp_c",) if self.hourly else ("min_c", "max_c")
            if not all(name in values for name in wanted):
                missing += 1
                continue
            told = str(row.get(self._names["spot"], ""))
            spot = self.spots.get(told.casefold(), told)
            if spot and spot not in self.known.spots:
                self._fault(line, "spot", spot, "a spot that is recorded or in spot.csv")
                continue
            kept = {name: values[name] for name in (*wanted, "dew_point_c", "rain_mm") if name in values}
            source = str(row.get(self._names["source"], "")) or self.station
            words = str(row.get(self._names["words"], ""))
            entries.append(Entry(line, when, source, spot, words=words, **kept))
        if missing:
            rows = "1 row" if missing == 1 else f"{missing} rows"
            self.notes.append(f"{self.table.name}: {rows} without a temperature passed over")
        return entries

    def _fault(self, line: int, at: str, found: object, wanted: str) -> None:
        self.faults.append(RowFault(self.table.name, line, at, repr(found), wanted))

    # ---- when

    def _text(self, row: Mapping[str, Any]) -> str:
        at = self.columns.at
        if "when" in at:
            return str(row.get(at["when"], ""))
        year, month, day = (str(row.get(at[name], "")).split(".")[0] for name in ("year", "month", "day"))
        text = f"{year}-{month}-{day}"
        return f"{text} {str(row.get(at['hour'], '0')).split('.')[0]}:00" if self.hourly and "hour" in at else text

    def _moments(self) -> list[tuple[int, Mapping[str, Any], Any]]:
        """Return each row with its day, or with its time as the file writes it."""
        found: list[tuple[int, Mapping[str, Any], Any]] = []
        for line, row in self.table.rows:
            text = self._text(row)
            try:
                if self.hourly:
                    when: datetime | date = read_clock(text, self.known.day_first)
                else:
                    when = read_date(text.partition("T")[0].partition(" ")[0], self.known.day_first)
            except (ValueError, OverflowError) as error:
                self._fault(line, self._at, text, str(error))
                continue
            found.append((line, row, when))
        return found

    def _by_clock(
        self, moments: list[tuple[int, Mapping[str, Any], Any]], told: str, remembered: str
    ) -> list[tuple[int, Mapping[str, Any], Any]]:
        """Return the rows with their times in UTC, by the clock that the file keeps."""
        zone = self.known.zone
        assert zone is not None
        groups: dict[tuple[str, str], list[datetime]] = {}
        for _, row, when in moments:
            if when.tzinfo is None:
                groups.setdefault(self._group(row), []).append(when)
        clock = settle_clock(groups, zone, told, remembered)
        self.notes += [f"{self.table.name}: {note}" for note in clock.notes]
        if clock.fault:
            self.faults.append(RowFault(self.table.name, 0, "clock", *clock.fault))
            return []
        self.clock_shown = clock.kept if clock.shown else ""
        found: list[tuple[int, Mapping[str, Any], Any]] = []
        seen: set[tuple[datetime, tuple[str, str]]] = set()
        for line, row, when in moments:
            if when.tzinfo is None and clock.kept == WINTER:
                when = (when - winter_offset(zone, when.year)).replace(tzinfo=UTC)
            else:
                mark = (when, self._group(row))
                try:
                    when = to_utc(when, zone, fold=int(mark in seen))
                except ValueError as error:
                    self._fault(line, self._at, self._text(row), str(error))
                    continue
                seen.add(mark)
            found.append((line, row, when))
        return found

    def _group(self, row: Mapping[str, Any]) -> tuple[str, str]:
        return (str(row.get(self._names["source"], "")), str(row.get(self._names["spot"], "")))

    # ---- what

    def _values(self, line: int, row: Mapping[str, Any]) -> dict[str, float] | None:
        """Return a row's values in the units inside, or None where one of them is no value that can be."""
        values: dict[str, float] = {}
        sound = True
        for name in FIELDS:
            column = self._names[name]
            cell = str(row.get(column, ""))
            if cell.casefold() in MISSING:
                continue
            if name == "rain_mm" and cell.casefold() in ("t", "trace"):
                cell = "0"
            number = plain_number(cell, self.table.decimal_comma)
            if number is None:
                self._fault(line, column, cell, "a number")
                sound = False
                continue
            values[name] = round(self.columns.convert[name](number), 4)
            if name == "rain_mm" and not 0 <= values[name] <= MOST_RAIN_MM:
                self._fault(line, column, cell, f"rain between 0 and {MOST_RAIN_MM} mm")
                sound = False
        return values if sound else None
