"""A number with what it measures, and its value in the units that records hold."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from advisor.records.units import IMPORTED

PLAUSIBLE_C = {"soil": (-5.0, 38.0), "air": (-35.0, 42.0)}
"""Temperatures that a garden's soil and air may have (house judgement)."""


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number as written, in its own unit, with its place in the text.

    The span holds the sign, the number, its unit and "below freezing"; not the noun counted, nor "about".
    ``unit`` is one of c f cm mm m in ft l ml gal kg g lb oz percent m_s km_h mph h min, "freezing" for degrees from
    the freezing point in a scale that was not told ("2 below freezing" is -2), or "" where none was told.
    ``doubt`` says what else the words may mean: "sign" (a dash that may be a minus, or "below" that may be a place),
    "inches" ("3 in mulch"), "name" ("pot 9"), "time" ("at 3"), "date" ("Tuesday 12"); conversions then give None.
    """

    start: int
    end: int
    text: str
    value: float
    high: float | None = None
    unit: str = ""
    counted: str = ""
    degrees: bool = False
    about: bool = False
    doubt: str = ""

    def at_high(self) -> Quantity:
        """Return the upper end of a range as a quantity of its own.

        >>> Quantity(0, 8, "10-12 cm", 10, 12, unit="cm").at_high().value
        12
        """
        return self if self.high is None else replace(self, value=self.high, high=None)


@dataclass(frozen=True, slots=True)
class _Number:
    """A numeral: its value without a sign, where it stands, and how it was written."""

    start: int
    end: int
    value: float
    written: str
    whole: bool
    place: int = 0

    @property
    def needs_unit(self) -> bool:
        return self.written in ("slash", "mixed_slash", "couple", "article", "vulgar") or self.written.startswith(
            "share"
        )


Convert = Callable[[float], float]
_FAHRENHEIT, _POUND = IMPORTED["c"]["_f"], IMPORTED["kg"]["_lb"]
_CM: Mapping[str, Convert] = {
    "cm": float, "mm": IMPORTED["cm"]["_mm"], "m": IMPORTED["cm"]["_m"], "in": IMPORTED["cm"]["_in"],
    "ft": lambda ft: IMPORTED["m"]["_ft"](ft) * 100, "metric": float, "us": IMPORTED["cm"]["_in"],
}  # fmt: skip
_LITRES: Mapping[str, Convert] = {
    "l": float, "ml": lambda ml: ml / 1000, "gal": IMPORTED["litres"]["_gal"],
    "metric": float, "us": IMPORTED["litres"]["_gal"],
}  # fmt: skip
_KG: Mapping[str, Convert] = {
    "kg": float, "g": IMPORTED["kg"]["_g"], "lb": _POUND, "oz": lambda oz: _POUND(oz / 16), "metric": float,
    "us": _POUND,
}  # fmt: skip
_M_S: Mapping[str, Convert] = {
    "m_s": float, "km_h": IMPORTED["m_s"]["_km_h"], "mph": IMPORTED["m_s"]["_mph"], "us": IMPORTED["m_s"]["_mph"],
}  # fmt: skip
_CELSIUS: Mapping[str, Convert] = {"c": float, "f": _FAHRENHEIT, "metric": float, "us": _FAHRENHEIT}


def _converted(quantity: Quantity, place_unit: str, ways: Mapping[str, Convert]) -> float | None:
    """Return a quantity's value by the way for its unit, None where it has none, counts a thing or is in doubt."""
    if quantity.counted or quantity.doubt in ("sign", "name", "time", "date"):
        return None
    way = ways.get(quantity.unit or place_unit)
    return way(quantity.value) if way else None


def in_celsius(quantity: Quantity, place_unit: str) -> float | None:
    """Return a temperature in °C, None where the quantity is none; ``place_unit`` is "metric" or "us".

    >>> in_celsius(Quantity(0, 2, "50", 50), "us"), in_celsius(Quantity(0, 4, "5 cm", 5, unit="cm"), "us")
    (10.0, None)
    """
    if quantity.unit == "freezing":
        return in_celsius(
            replace(quantity, unit="", value=quantity.value + (32 if place_unit == "us" else 0)), place_unit
        )
    return _converted(quantity, place_unit, _CELSIUS)


def in_cm(quantity: Quantity, place_unit: str) -> float | None:
    """Return a length in cm, None where the quantity is none.

    "3 in mulch" is known only where inches are the place's unit anyway.

    >>> in_cm(Quantity(0, 4, "2 in", 2, unit="in"), "metric"), in_cm(Quantity(0, 3, "12°", 12, degrees=True), "metric")
    (5.08, None)
    """
    if quantity.degrees or (quantity.doubt == "inches" and place_unit != "us"):
        return None
    return _converted(quantity, place_unit, _CM)


def litres(quantity: Quantity, place_unit: str) -> float | None:
    """Return a volume in litres, None where the quantity is none; a gallon is the US one.

    >>> litres(Quantity(0, 4, "20 l", 20, unit="l"), "us")
    20.0
    """
    return None if quantity.degrees or quantity.doubt else _converted(quantity, place_unit, _LITRES)


def kilograms(quantity: Quantity, place_unit: str) -> float | None:
    """Return a weight in kg, None where the quantity is none.

    >>> kilograms(Quantity(0, 5, "500 g", 500, unit="g"), "metric")
    0.5
    """
    return None if quantity.degrees or quantity.doubt else _converted(quantity, place_unit, _KG)


def metres_per_second(quantity: Quantity, place_unit: str) -> float | None:
    """Return a speed in m/s, None where the quantity is none.

    Without a unit it is miles per hour in a US place, and not known in a metric one, where m/s and km/h are both used.

    >>> metres_per_second(Quantity(0, 7, "18 km/h", 18, unit="km_h"), "metric")
    5.0
    """
    return None if quantity.degrees or quantity.doubt else _converted(quantity, place_unit, _M_S)


def plausible_temperature(value: float, unit_or_place: str, what: str) -> tuple[float | None, tuple[str, ...]]:
    """Return a temperature in °C where it is plausible as told, else None; and the scales in which it would be.

    ``unit_or_place`` is "c", "f", "metric" or "us", ``what`` is "soil" or "air". A scale is never changed silently:
    54 at a metric place is asked back, with "f" as the reading that would do.

    >>> plausible_temperature(12.5, "metric", "soil"), plausible_temperature(54, "metric", "soil")
    ((12.5, ('c',)), (None, ('f',)))
    """
    lowest, highest = PLAUSIBLE_C[what]
    in_c = {"c": value, "f": _FAHRENHEIT(value)}
    scales = tuple(scale for scale, celsius in in_c.items() if lowest <= celsius <= highest)
    told = {"metric": "c", "us": "f"}.get(unit_or_place, unit_or_place)
    return (in_c[told] if told in scales else None), scales
