"""Numbers in a message and what they measure: read whole, left out whole, or in doubt; never a part of one."""

from __future__ import annotations

import time

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from advisor.language.quantities import (
    Quantity,
    find_quantities,
    in_celsius,
    in_cm,
    kilograms,
    litres,
    metres_per_second,
    plausible_temperature,
)

NAMES = ["pot 3", "pot 4", "pot 12", "porch fig two", "porch fig", "wall fig", "bed 12", "small pot", "Dwarf No. 7"]


def read(text: str, names: list[str] | None = None) -> list[tuple[float, str, str]]:
    """Return value, unit and thing counted of each quantity."""
    return [(q.value, q.unit, q.counted) for q in find_quantities(text, names or [])]


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("12.5C", 12.5, "c"), ("12,5 °C", 12.5, "c"), ("12.5 c", 12.5, "c"), ("12.5 deg C", 12.5, "c"),
        ("12.5 degrees celsius", 12.5, "c"), ("12.5°c", 12.5, "c"), ("12.5 ℃", 12.5, "c"), ("12.5  ° C", 12.5, "c"),
        ("54F", 54, "f"), ("54 fahrenheit", 54, "f"), ("54 degrees F", 54, "f"), ("54ºF.", 54, "f"),
        ("-2", -2, ""), ("minus 2", -2, ""), ("−2", -2, ""), ("–2 C", -2, "c"), ("negative two", -2, ""),
        ("minus two point five", -2.5, ""), ("-0.5", -0.5, ""), ("+3 C", 3, "c"), ("(-2)", -2, ""), ("low:-3", -3, ""),
        ("2 below", -2, ""), ("2 below zero", -2, ""), ("two below at the hollow", -2, ""), ("2C below.", -2, "c"),
        ("2 below freezing", -2, "freezing"), ("2 F below freezing", 30, "f"), ("2 C below freezing", -2, "c"),
        ("3 above freezing", 3, "freezing"), ("3 above zero", 3, ""), ("2 degrees below freezing", -2, "freezing"),
        ("½ inch", 0.5, "in"), ("1/2 inch", 0.5, "in"), ("1 1/2 in", 1.5, "in"), ("1½ in", 1.5, "in"), ('3"', 3, "in"),
        ("3 in.", 3, "in"), ("3 inches", 3, "in"), ("two inches", 2, "in"), ("3in", 3, "in"), ("4-inch", 4, "in"),
        ("half an inch", 0.5, "in"), ("three quarters of an inch", 0.75, "in"), ("an inch", 1, "in"),
        ("one inch", 1, "in"), ("two and a half inches", 2.5, "in"), ("a quarter inch", 0.25, "in"),
        ("10cm deep", 10, "cm"), ("4 in deep", 4, "in"), ("5 ft", 5, "ft"), ("5'", 5, "ft"), ("a foot of mulch", 1, "ft"),
        ("20 l pot", 20, "l"), ("20-litre pot", 20, "l"), ("5 gallon pot", 5, "gal"), ("20L", 20, "l"),
        ("3lb 4oz", 3.25, "lb"), ("3 lb and 4 oz", 3.25, "lb"), ("3lb4oz", 3.25, "lb"), ("5 ft 6 in", 5.5, "ft"),
        ("5'6\"", 5.5, "ft"), ("three pounds four ounces", 3.25, "lb"), ("1m20", 1.2, "m"), ("1 m 20 cm", 1.2, "m"),
        ("5 ft 6", 5.5, "ft"), ("1.5 kg", 1.5, "kg"), ("1,25 kg", 1.25, "kg"), ("0,75 cm", 0.75, "cm"),
        ("500g", 500, "g"), ("30%", 30, "percent"), ("30 per cent", 30, "percent"), ("thirty percent", 30, "percent"),
        ("lost half", 50, "percent"), ("half the flowers", 50, "percent"), ("1/4 of the buds", 25, "percent"),
        ("wind 3 m/s", 3, "m_s"), ("10 km/h", 10, "km_h"), ("10 kph", 10, "km_h"), ("12 mph", 12, "mph"),
        ("10 miles an hour", 10, "mph"), ("3 metres per second", 3, "m_s"), ("6 h", 6, "h"), ("20 min", 20, "min"),
        ("12.5Cunder chips", 12.5, "c"), ("68F@southwall", 68, "f"), ("68Fsouth wall", 68, "f"), ("54fin the sun", 54, "f"),
        ("twelve point five degrees", 12.5, ""), ("fifty four degrees", 54, ""), ("fifty-four", 54, ""),
        ("point five inches", 0.5, "in"), ("zero point five", 0.5, ""), ("12 point 5", 12.5, ""), (".5 inch", 0.5, "in"),
        ("a hundred and twenty cm", 120, "cm"), ("12.5 in the mulch", 12.5, ""), ("68 in the sun", 68, ""),
        ("12 mm of rain", 12, "mm"), ("12.5 below the chips", 12.5, ""), ("-3 min last night", -3, ""),
        ("12 °C\nat the wall", 12, "c"), ("12.5\xa0°C", 12.5, "c"), ("3 h 30 min", 3.5, "h"), ("0", 0, ""), ("-0 C", 0, "c"),
        ("the wall fig—12.5C", 12.5, "c"), ("12 and a half degrees", 12.5, ""), ("12.4 C.", 12.4, "c"), ("-2.5.", -2.5, ""),
    ],
)  # fmt: skip
def test_one_quantity(text: str, value: float, unit: str) -> None:
    """Each way of writing a measure gives its value and its unit, and nothing else."""
    assert read(text) == [(value, unit, "")]
