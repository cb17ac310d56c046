"""Units at the edge: inside everything is °C, cm, m, mm and litres; a column or a reply may be in other units."""

from __future__ import annotations

from collections.abc import Callable, Mapping

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
