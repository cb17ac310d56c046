"""Which column of a weather file is what, and in which unit: as told, else guessed and said back."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from statistics import quantiles

from advisor.errors import RowFault
from advisor.records.rows import fold
from advisor.records.tables import Table
from advisor.records.units import column_names, plain_number

FIELDS = ("min_c", "max_c", "temp_c", "dew_point_c", "rain_mm")
SYNONYMS: Mapping[str, tuple[str, ...]] = {
    "when": ("on", "at", "date", "day", "time", "datetime", "date_time", "timestamp", "time_hour", "valid"),
    "min_c": ("min", "tmin", "temp_min", "min_temp", "minimum", "temperature_min", "tn", "low", "t_min", "mintemp"),
    "max_c": ("max", "tmax", "temp_max", "max_temp", "maximum", "temperature_max", "tx", "high", "t_max", "maxtemp"),
    "temp_c": ("temp", "temperature", "air_temp", "air_temperature", "t", "tair"),
    "dew_point_c": ("dew", "dewp", "dew_point", "dewpoint", "td"),
    "rain_mm": ("rain", "precip", "precipitation", "prcp", "rainfall", "p"),
    "source": ("source", "station", "station_id"),
    "spot": ("spot",),
    "words": ("words",),
}
DATE_PARTS: Mapping[str, tuple[str, ...]] = {
    "year": ("year", "yr"),
    "month": ("month", "mon"),
    "day": ("day",),
    "hour": ("hour", "hr"),
}
UNIT_MARK = re.compile(r"[_ (\[]+(?:deg)?[_ ]?°?(c|f|mm|in)[)\]]?$")
MISSING = {"", "na", "nan", "null", "none", "m", "-", "-99", "-99.9", "-999", "-999.9", "-9999", "-9999.0"}
"""What stands for a value that is not there, as weather files write it (common practice, no source)."""
HOTTEST_C, COLDEST_C = 55.0, -60.0
"""Beyond these a shade temperature is no °C: Earth's records lie near 57 and, where trees grow, -68 (from memory)."""
MOST_OF_A_YEAR_DAYS = 200
FREEZING_C = -5.0


@dataclass
class Columns:
    """A file's columns by what they hold, and how each value comes to the unit inside.

    ``unit_learnt`` is c or f where no column's name said it, but the sender or the values did.
    """

    at: dict[str, str] = field(default_factory=dict)
    convert: dict[str, Callable[[float], float]] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)
    faults: list[RowFault] = field(default_factory=list)
    unit_learnt: str = ""


def find_source(table: Table, renamed: Mapping[str, str]) -> str:
    """Return the column that names each row's station, "" where there is none."""
    ours = {renamed.get(theirs, theirs): theirs for theirs in table.header}
    plain = {_plain(theirs): theirs for theirs in table.header if theirs not in renamed}
    return ours.get("source") or next((plain[word] for word in SYNONYMS["source"] if word in plain), "")


def weather_kind(table: Table, renamed: Mapping[str, str]) -> str:
    """Return the kind of weather that a file holds whose name says nothing: "" where its columns do not tell it either.

    A day with its highs and lows is weather of a day. Hours are not guessed: a soil logger's file looks the same.
    """
    words = {renamed.get(name, _plain(name)) for name in table.header}

    def has(name: str) -> bool:
        return bool(words & {name, *SYNONYMS[name]})

    dated = has("when") or all(words & set(DATE_PARTS[part]) for part in DATE_PARTS)
    return "weather_day" if dated and has("min_c") and has("max_c") and not words & {"kind", "issued"} else ""


def find_columns(
    table: Table, hourly: bool, renamed: Mapping[str, str], unit: str, *, remembered: str = "", us: bool = False
) -> Columns:
    """Return the columns of a weather file.

    ``renamed`` maps its names to ours; ``unit`` is c or f for temperatures whose column does not say, or "";
    ``remembered`` is what the station wrote until now; ``us`` says that the place may well write °F.
    A unit that neither the name nor the range of the values settles is a fault that asks for it.
    """
    found = Columns()
    plain = {name: _plain(name) for name in table.header}
    for theirs in table.header:
        ours = renamed.get(theirs, fold(theirs))
        for name in (*FIELDS, "on", "at", "source", "spot"):
            unit_of_name = next((suffix for suffix in ("c", "mm") if name.endswith(f"_{suffix}")), None)
            names = column_names(name, unit_of_name)
            if ours in names:
                inside = "when" if name in ("on", "at") else name
                if inside in found.at:
                    twice = f"also given as {found.at[inside]}"
                    found.faults.append(RowFault(table.name, 1, f"column {theirs}", twice, "one of them"))
                    continue
                found.at[inside] = theirs
                if name in FIELDS:
                    found.convert[name] = names[ours]
    guessed = _take_date_parts(table, plain, found) if "when" not in found.at else []
    for name, words in SYNONYMS.items():
        if name in found.at or (name == "when" and "year" in found.at):
            continue
        hit = next((t for word in words for t in table.header if plain[t] == word and t not in renamed), None)
        if hit is not None and hit not in found.at.values():
            found.at[name] = hit
            guessed.append(name)
    if guessed:
        read = ", ".join(f"{found.at[name]} as {name}" for name in guessed)
        found.notes.append(f"{table.name}: read {read}")
    open_ones = [name for name in FIELDS if name in found.at and name not in found.convert]
    together = [value for name in open_ones if name != "rain_mm" for value in numbers(table, found.at[name])]
    days = len(table.rows) / (24 if hourly else 1)
    shown = unit or _by_range(together, days, us)
    if remembered and not unit and shown and shown != remembered:
        wrong = f"°{shown.upper()} by their range, and this station wrote °{remembered.upper()} until now"
        found.faults.append(RowFault(table.name, 1, "temperatures", wrong, "--temperature-unit c or f"))
    for name in open_ones:
        _settle_unit(table, name, found, shown or remembered)
    _require(table, hourly, found)
    return found


def _plain(name: str) -> str:
    return re.sub(r"[^a-z0-9]+", "_", UNIT_MARK.sub("", name.casefold())).strip("_")


def _take_date_parts(table: Table, plain: Mapping[str, str], found: Columns) -> list[str]:
    """Take year, month and day columns, and the hour if there is one, where all three are there."""
    parts: dict[str, str] = {}
    for name, words in DATE_PARTS.items():
        hit = next((theirs for theirs in table.header if plain[theirs] in words), None)
        if hit is not None:
            parts[name] = hit
    if not {"year", "month", "day"} <= set(parts):
        return []
    found.at |= parts
    return list(parts)


def _settle_unit(table: Table, name: str, found: Columns, unit: str) -> None:
    """Settle one column's unit: by its own name, else by ``unit``, else ask."""
    theirs = found.at[name]
    mark = UNIT_MARK.search(theirs.casefold())
    names = column_names(name, "mm" if name == "rain_mm" else "c")
    stem = name.rsplit("_", 1)[0]
    told = mark[1] if mark else ""
    if name == "rain_mm":
        found.convert[name] = names[f"{stem}_{told if told in ('mm', 'in') else 'mm'}"]
        if not told:
            found.notes.append(f"{table.name}: {theirs} taken as mm of rain")
        return
    if told not in ("c", "f"):
        told = unit
        found.unit_learnt = unit
        if not told:
            wanted = "the unit: say --temperature-unit c or f, or name the column so"
            found.faults.append(RowFault(table.name, 1, f"column {theirs}", "values that fit °C and °F", wanted))
            told = "c"
        else:
            low, high = _ends(numbers(table, theirs))
            found.notes.append(f"{table.name}: {theirs} taken as °{told.upper()}, {low:g} to {high:g}")
    found.convert[name] = names[f"{stem}_{told}"]


def numbers(table: Table, column: str) -> list[float]:
    """Return the numbers of a column, what is missing or no number left out."""
    read = (plain_number(str(row.get(column, "")), table.decimal_comma) for _, row in table.rows)
    return [value for value in read if value is not None and f"{value:g}" not in MISSING]


def _ends(values: Sequence[float]) -> tuple[float, float]:
    return (min(values), max(values)) if values else (0.0, 0.0)


def _by_range(values: Sequence[float], days: float, us: bool) -> str:
    """Return c or f where the values fit only one of them over a span that tells, else "".

    Frost well below -5 is °C, but where the place may write °F a hard January there has such figures too.
    """
    if len(values) < 2:
        return ""
    low, high = _ends(values)
    top = quantiles(values, n=50)[-1] if len(values) >= 50 else high
    if top > HOTTEST_C:
        return "f"
    if (low < FREEZING_C and not us) or (days >= MOST_OF_A_YEAR_DAYS and top <= 45):
        return "c"
    return ""


def _require(table: Table, hourly: bool, found: Columns) -> None:
    for name in ("temp_c",) if hourly else ("min_c", "max_c"):
        if name not in found.at:
            names = " or ".join(column_names(name, "c"))
            found.faults.append(RowFault(table.name, 1, "header", f"no column for {name}", f"a column {names}"))
    if "when" not in found.at and "year" not in found.at:
        wanted = f"a column {'at' if hourly else 'on'}, or --column THEIRS={'at' if hourly else 'on'}"
        found.faults.append(RowFault(table.name, 1, "header", f"no column for {'at' if hourly else 'on'}", wanted))
