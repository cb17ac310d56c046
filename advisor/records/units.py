"""Units at the edge: inside everything is °C, cm, m, mm and litres; a column or a reply may be in other units."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from math import isfinite

Convert = Callable[[float], float]

IMPORTED: Mapping[str, Mapping[str, Convert]] = {
    "c": {"_c": float, "_f": lambda f: (f - 32) / 1.8},
    "k": {"_k": float},
    "cm": {"_cm": float, "_in": lambda inch: inch * 2.54, "_mm": lambda mm: mm / 10, "_m": lambda m: m * 100},
    "m": {"_m": float, "_ft": lambda ft: ft * 0.3048},
    "mm": {"_mm": float, "_in": lambda inch: inch * 25.4},
    "cm_h": {"_cm_h": float, "_in_h": lambda inch: inch * 2.54},
    "litres": {"_litres": float, "_l": float, "_gal": lambda gal: gal * 3.785411784},
    "kg": {"_kg": float, "_g": lambda g: g / 1000, "_lb": lambda lb: lb * 0.45359237},
    "m_s": {"_m_s": float, "_km_h": lambda km_h: km_h / 3.6, "_mph": lambda mph: mph * 0.44704},
    "deg": {"_deg": float},
    "h": {"_h": float},
}
"""For each unit inside, the column endings it may arrive in. Inch, foot, pound, mile and US gallon are exact by
definition."""


def column_names(field: str, unit: str | None) -> dict[str, Convert]:
    """Return the column names under which a field may arrive, each with its conversion to the unit inside.

    >>> sorted(column_names("temp_c", "c"))
    ['temp_c', 'temp_f']
    """
    if unit is None or unit not in IMPORTED:
        return {field: float}
    stem = field.removesuffix(f"_{unit}")
    return {stem + ending: convert for ending, convert in IMPORTED[unit].items()}


_NUMBER = re.compile(r"[-+]?(\d+\.?\d*|\.\d+)([eE][-+]?\d+)?")
_DECIMAL_COMMA = re.compile(r"[-+]?\d+,\d+")


def plain_number(cell: str, decimal_comma: bool) -> float | None:
    """Return the number in a cell, None where it is none or can be read two ways.

    ``decimal_comma`` says that cells are parted by something else than commas. Elsewhere three figures after a comma
    may be thousands, and are not guessed.

    >>> plain_number("12,5", False), plain_number("1,250", False), plain_number("1,250", True)
    (12.5, None, 1.25)
    """
    text = cell.strip().replace("−", "-")
    if _DECIMAL_COMMA.fullmatch(text) and (decimal_comma or len(text.split(",")[1]) != 3):
        text = text.replace(",", ".")
    if not _NUMBER.fullmatch(text):
        return None
    number = float(text)
    return number if isfinite(number) else None
