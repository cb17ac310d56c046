"""Numbers in a message and what they measure: read whole, left out whole, or in doubt; never a part of one."""

from __future__ import annotations

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
        ("12.5 degrees celsius", 12.5, "c"), ("12.5°c", 12.5, "c"), ("12.5 ℃", 12.5, "c"), ("12.5  ° C", 12.5, "c"), ("12.5 oC", 12.5, "c"), ("½ C", 0.5, "c"),
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


@pytest.mark.parametrize(
    ("text", "value", "counted"),
    [
        ("six leaves", 6, "leaves"), ("6 lvs", 6, "leaves"), ("6leaves", 6, "leaves"), ("6-leaf", 6, "leaves"),
        ("two buds at the nodes", 2, "buds"), ("two node buds", 2, "buds"), ("a dozen figs", 12, "figs"),
        ("picked 12 breba figs", 12, "figs"), ("half a dozen figs", 6, "figs"), ("2 dozen pears", 24, "pears"),
        ("brought the four small ones back in", 4, "ones"), ("one leaf", 1, "leaves"), ("twenty one figs", 21, "figs"),
        ("2 of the pots", 2, "pots"), ("3 fig trees", 3, "trees"), ("two weeks ago", 2, "weeks"), ("10 days", 10, "days"),
        ("1250 degree days", 1250, "degree days"), ("wall fig - 2 leaves", 2, "leaves"), ("a pair of buds", 2, "buds"),
        ("2.5 years old", 2.5, "years"), ("fig 2 bud break", 2, ""), ("12.5 buds swelling", 12.5, ""),
    ],
)  # fmt: skip
def test_things_counted(text: str, value: float, counted: str) -> None:
    """The noun after a number is told in one form; a stage's noun is not counted, nor a part of a bud."""
    assert read(text) == [(value, "", counted)]


@pytest.mark.parametrize(
    "text",
    [
        "18:30", "3pm", "at 3 p.m.", "7:30am", "2-4 pm", "12 o'clock", "12 noon", "18h30", "at 16h", "half past six",
        "20 past 6", "quarter to 7", "at 6 in the morning", "0630", "4/4", "2026-04-12", "12.4.", "soil 12.4.", "4-5-26",
        "4 April", "April 4", "Apr four", "12 mar", "4th of April", "on the 12th", "planted 2019", "the 2019 fig", "'26",
        "on 10-12", "no 4", "nr. 4", "number four", "#5 pot", "# 5", "zone 7b", "bbch 53", "week 16", "1) bud break",
        "the small one", "this one", "that one", "one of the figs", "the tall one leaves", "one bud break", "both figs",
        "the one below zero", "1,250", "1 250 g", "12,5,6", "10,12 cm", "1.2.3", "12-10", "-3-5", "10cm2", "12.5,10cm",
        "$5", "±2", "5 knots", "3 miles", "two thousand", "one twenty cm", "two fifty grams", "NPK 10-10-10", "B12", "5x",
        "68/54F", "7/10", "24/7", "1/2", "1/2 in the mulch", "soil 12 1/2", "below zero", "half size", "half open",
        "half-inch green", "cut in half", "first half of April", "a few leaves", "dozens of figs", "2 pairs of leaves",
        "third leaf", "12figgy", "3's", "", "10000000000 figs", "9" * 400 + " figs",
    ],
)  # fmt: skip
def test_what_is_no_quantity(text: str) -> None:
    """Times, dates, numbers given to things, pronouns, and numbers that are unclear are left out, to the last digit."""
    assert find_quantities(text) == []


@pytest.mark.parametrize(
    ("text", "value", "high", "unit", "counted"),
    [
        ("12-15 C", 12, 15, "c", ""), ("10 to 12 cm", 10, 12, "cm", ""), ("between 8 and 10", 8, 10, "", ""),
        ("10–12", 10, 12, "", ""), ("10cm-12cm", 10, 12, "cm", ""), ("10 cm to 12 cm", 10, 12, "cm", ""),
        ("-3 to -1", -3, -1, "", ""), ("-3 - -1", -3, -1, "", ""), ("-3 to -5", -5, -3, "", ""), ("7-9 leaves", 7, 9, "", "leaves"),
        ("two to three inches", 2, 3, "in", ""), ("one or two leaves", 1, 2, "", "leaves"), ("8 -10 cm", 8, 10, "cm", ""),
        ("5 - 7 cm", 5, 7, "cm", ""), ("an inch or two", 1, 2, "in", ""), ("1-2 in of mulch", 1, 2, "in", ""),
    ],
)  # fmt: skip
def test_ranges(text: str, value: float, high: float, unit: str, counted: str) -> None:
    """Two numbers with a dash, "to" or "between" are one quantity, its lower end first."""
    assert [(q.value, q.high, q.unit, q.counted) for q in find_quantities(text)] == [(value, high, unit, counted)]


def test_a_change_is_no_range() -> None:
    """ "From 8 to 12 cm" tells two lengths, of which the reader must choose; both have the unit."""
    assert [(q.value, q.high, q.unit) for q in find_quantities("grew from 8 to 12 cm")] == [
        (8, None, "cm"),
        (12, None, "cm"),
    ]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("68 at the south wall vs 54 in the mulch", [(68, "", ""), (54, "", "")]),
        ("68 vs 54F", [(68, "f", ""), (54, "f", "")]),
        ("12, 13 and 14 C", [(12, "c", ""), (13, "c", ""), (14, "c", "")]),
        ("12.5 and 10 cm deep", [(12.5, "", ""), (10, "cm", "")]),
        ("10cm,sun 12.5C", [(10, "cm", ""), (12.5, "c", "")]),
        ("12.5C/10cm", [(12.5, "c", ""), (10, "cm", "")]),
        ("cut ten buds, 7 brown", [(10, "", "buds"), (7, "", "")]),
        ("12,5 w 6 lvs", [(12.5, "", ""), (6, "", "leaves")]),
        ("3 inches - 12 degrees", [(3, "in", ""), (12, "", "")]),
        ("3 20l pots", [(3, "", ""), (20, "l", "")]),
        ("evening 5.4, dew point -2", [(5.4, "", ""), (-2, "", "")]),
        ("20.4. wall 12.5C at 10:30, 6 leaves", [(12.5, "c", ""), (6, "", "leaves")]),
        ("the small one to 12 cm", [(12, "cm", "")]),
    ],
)
def test_several_in_a_message(text: str, expected: list[tuple[float, str, str]]) -> None:
    """Quantities are told in their order; only temperatures that are compared share the last one's unit."""
    assert read(text) == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("pot 3 12.5C", [(12.5, "c", "")]),
        ("Pot-3: 12.5C", [(12.5, "c", "")]),
        ("pot three, 6 leaves", [(6, "", "leaves")]),
        ("porch fig 2 has 6 leaves", [(6, "", "leaves")]),
        ("fig two is awake", []),
        ("dwarf no 7 12C", [(12, "c", "")]),
        ("brought pots 3 and 4 in", []),
        ("pots 3, 4 and 12 bud break", []),
        ("pot 3, 12 cm", [(12, "cm", "")]),
        ("pot 3 and 12 leaves", [(12, "", "leaves")]),
        ("bed 12 14C", [(14, "c", "")]),
        ("pot 3.5 C", [(3.5, "c", "")]),
        ("wall fig 12 in the sun", [(12, "", "")]),
    ],
)
def test_digits_of_names(text: str, expected: list[tuple[float, str, str]]) -> None:
    """The numbers in the garden's names are left alone, in figures or words, alone or in a list."""
    assert read(text, NAMES) == expected


@pytest.mark.parametrize(
    ("text", "doubt"),
    [
        ("hollow - 3 C", "sign"), ("low-2", "sign"), ("—2", "sign"), ("8 -10", "sign"), ("2 below in the mulch", "sign"),
        ("minus two to four", "sign"), ("3 in mulch", "inches"), ("a 10 in pot", "inches"), ("brought all 4 in", "inches"),
        ("pot 9 asleep", "name"), ("pot 3 C", "name"), ("wall fig at 3", "time"), ("Tuesday 12", "date"),
        ("seen on 24.4", "date"), ("14 in sun", ""), ("soil at 12", ""), ("low -2", ""), ("12.5 in the mulch", ""), ("tall pot 12.5", ""), ("small pot 14", ""), ("the Wall-Fig 12", ""), ("long wall fig: 12", ""), ("hall fig 12", "name"),
    ],
)  # fmt: skip
def test_what_can_be_read_two_ways(text: str, doubt: str) -> None:
    """A number whose words have another reading says so, and is then no depth, and but for "in" no temperature."""
    last = find_quantities(text, NAMES)[-1]
    assert last.doubt == doubt
    assert (in_celsius(last, "metric") is None) is (doubt not in ("", "inches"))
    assert (in_cm(last, "metric") is None) is (doubt != "")


@pytest.mark.parametrize(
    ("text", "about"),
    [
        ("about 12 cm", True), ("around 12", True), ("~12", True), ("roughly 12 C", True), ("12ish", True), ("12 or so", True),
        ("a couple of inches", True), ("5 or 6 leaves", True), ("nearly 3 inches", True), ("12 cm", False), ("10-12 cm", False),
    ],
)  # fmt: skip
def test_about(text: str, about: bool) -> None:
    """A number told as near is marked; a range is not."""
    assert [q.about for q in find_quantities(text)] == [about]


def test_degrees_are_no_unit() -> None:
    """ "Degrees" alone leaves the scale to the place, but rules out a length."""
    quantity = find_quantities("fifty degrees")[0]
    assert (quantity.degrees, quantity.unit) == (True, "")
    assert (in_celsius(quantity, "us"), in_celsius(quantity, "metric"), in_cm(quantity, "us")) == (10, 50, None)


@pytest.mark.parametrize(
    ("text", "place", "celsius"),
    [
        ("2 below freezing", "metric", -2), ("2 below freezing", "us", 30 / 1.8 - 32 / 1.8), ("-2", "us", -34 / 1.8),
        ("2 below", "metric", -2), ("2 C below freezing", "us", -2), ("2 F below freezing", "metric", -2 / 1.8),
        ("3 above freezing", "us", 3 / 1.8), ("54F", "metric", 22 / 1.8), ("12.5 C", "us", 12.5), ("30%", "us", None),
        ("6 leaves", "metric", None), ("5 cm", "metric", None),
    ],
)  # fmt: skip
def test_celsius(text: str, place: str, celsius: float | None) -> None:
    """A scale that was told holds in any place; degrees from freezing are of the place's scale if none was told."""
    found = in_celsius(find_quantities(text)[0], place)
    assert found == (None if celsius is None else pytest.approx(celsius))


@pytest.mark.parametrize(
    ("text", "convert", "place", "expected"),
    [
        ("4", in_cm, "metric", 4), ("4", in_cm, "us", 10.16), ("5 ft", in_cm, "metric", 152.4), ("12 mm", in_cm, "us", 1.2),
        ("1.2 m", in_cm, "us", 120), ("20 l", in_cm, "us", None), ("5 gal", litres, "metric", 18.927058920),
        ("500 ml", litres, "us", 0.5), ("20", litres, "metric", 20), ("12 degrees", litres, "metric", None),
        ("3lb 4oz", kilograms, "metric", 1.4741752), ("8 oz", kilograms, "us", 0.226796185), ("2", kilograms, "us", 0.90718474),
        ("3", metres_per_second, "metric", None), ("10 mph", metres_per_second, "metric", 4.4704),
        ("36 km/h", metres_per_second, "us", 10), ("10", metres_per_second, "us", 4.4704),
    ],
)  # fmt: skip
def test_other_conversions(text: str, convert: object, place: str, expected: float | None) -> None:
    """Lengths, volumes, weights and winds come out in the units inside, and None where the unit does not fit."""
    assert callable(convert)
    found = convert(find_quantities(text)[0], place)
    assert found == (None if expected is None else pytest.approx(expected))


@pytest.mark.parametrize(
    ("value", "unit_or_place", "what", "celsius", "scales"),
    [
        (12.5, "metric", "soil", 12.5, ("c",)), (54, "us", "soil", 22 / 1.8, ("f",)), (54, "metric", "soil", None, ("f",)),
        (54, "c", "soil", None, ("f",)), (12, "us", "soil", None, ("c",)), (12, "us", "air", -20 / 1.8, ("c", "f")),
        (38, "metric", "soil", 38, ("c", "f")), (38.1, "metric", "soil", None, ("f",)), (-5, "c", "soil", -5, ("c",)),
        (-35, "metric", "air", -35, ("c",)), (-35.1, "metric", "air", None, ()), (42, "metric", "air", 42, ("c", "f")),
        (150, "f", "air", None, ()),
    ],
)  # fmt: skip
def test_plausible(value: float, unit_or_place: str, what: str, celsius: float | None, scales: tuple[str, ...]) -> None:
    """A temperature outside what soil or air may have is not taken, nor turned into the other scale."""
    found, readings = plausible_temperature(value, unit_or_place, what)
    assert readings == scales
    assert found == (None if celsius is None else pytest.approx(celsius))


LETTERS = st.text(st.sampled_from("0123456789.,-−–/:'\"°½ \ncCfFinmlbosghtxe&#()"), max_size=60)
WORDS = st.lists(
    st.sampled_from(  # the words of the grammar, in any order
        [
            "12",
            "12.5",
            "-2",
            "3",
            "one",
            "two",
            "twenty",
            "half",
            "a",
            "an",
            "inch",
            "in",
            "cm",
            "C",
            "F",
            "degrees",
            "below",
            "freezing",
            "zero",
            "to",
            "or",
            "and",
            "between",
            "from",
            "minus",
            "point",
            "dozen",
            "couple",
            "of",
            "leaves",
            "pot",
            "bed",
            "1/2",
            "4/4",
            "18:30",
            "the",
            "at",
            "vs",
            "%",
            "lb",
            "oz",
            "ft",
            "6",
            "and",
            "a",
            "half",
        ]
    ),
    max_size=25,
).map(" ".join)


@given(
    st.one_of(st.text(max_size=200), LETTERS, WORDS), st.lists(st.one_of(st.sampled_from(NAMES), st.text(max_size=12)))
)
@settings(max_examples=300)
@example("a", ["("])
def test_any_text_is_survived(text: str, names: list[str]) -> None:
    """Whatever is typed and however things are called, quantities stand in order, apart, and where they say."""
    place = 0
    for quantity in find_quantities(text, names):
        assert place <= quantity.start < quantity.end <= len(text)
        assert quantity.text == text[quantity.start : quantity.end]
        assert quantity.high is None or quantity.value <= quantity.high
        place = quantity.end


@pytest.mark.parametrize(
    "piece", ["1", "1 ", " ", "12 to ", "twenty one hundred and ", "1.", "1,", "- ", '3" ', "3' ", "3 in ", "pot 3, ",
              "pots 3 and 4 and ", "12.5 C below, ", "half an ", "1 small ", "'1 ", "1-"],
)  # fmt: skip
def test_long_messages_come_back(piece: str) -> None:
    """Ten thousand letters of any sort are read; a pattern that ran away would hang here."""
    names = [f"pot {number}" for number in range(40)]
    text = (piece * 10_000)[:10_000]
    assert all(0 <= one.start < one.end <= len(text) for one in find_quantities(text, names))


WRITTEN = {
    "c": ["C", " C", " °C", " degrees C", " celsius", "c"], "f": ["F", " °F", " fahrenheit", " deg F"],
    "cm": ["cm", " cm", " centimetres"], "in": [" inches", '"', "in deep", " in. deep"], "ft": [" ft", " feet"],
    "mm": ["mm", " mm"], "l": ["l", " l", " litres"], "gal": [" gal", " gallons"], "kg": ["kg", " kilos"],
    "lb": ["lb", " lbs"], "percent": ["%", " percent"], "m_s": [" m/s"], "km_h": ["km/h", " kph"], "mph": [" mph"],
}  # fmt: skip
AROUND = [
    ("", ""),
    ("wall fig ", " at the wall"),
    ("under chips ", ", sun"),
    ("(", ")"),
    ("at 18:30 on 4/4 it was ", "."),
]


@given(
    st.sampled_from(sorted(WRITTEN)),
    st.integers(-4000, 12000),
    st.sampled_from(AROUND),
    st.sampled_from("-−"),
    st.data(),
)
@settings(max_examples=300)
def test_a_value_written_is_found_again(
    unit: str, tenths: int, around: tuple[str, str], minus: str, data: st.DataObject
) -> None:
    """A value with its unit, written in any of the ways and put into a message, is found with value and unit."""
    number = f"{abs(tenths) / 10:g}"
    if data.draw(st.booleans()):
        number = number.replace(".", ",")
    sign = minus if tenths < 0 else ""
    text = around[0] + sign + number + data.draw(st.sampled_from(WRITTEN[unit])) + around[1]
    (found,) = find_quantities(text)
    assert (found.value, found.unit, found.high, found.doubt) == (tenths / 10, unit, None, "")
    assert found.start == len(around[0])


SPELT = {12: "twelve", 54: "fifty four", 68: "sixty-eight", 7: "seven", 120: "a hundred and twenty", 21: "twenty one"}


@given(st.sampled_from(sorted(SPELT)), st.sampled_from(["", "minus ", "negative "]), st.sampled_from([None, 2, 5]))
def test_a_spoken_value_is_found_again(value: int, sign: str, tenth: int | None) -> None:
    """A value as voice typing spells it is the one that was meant."""
    point = {None: "", 2: " point two", 5: " point five"}[tenth]
    (found,) = find_quantities(f"mulch is {sign}{SPELT[value]}{point} degrees at the wall")
    assert found.value == (-1 if sign else 1) * float(f"{value}.{tenth or 0}")
    assert isinstance(found, Quantity) and found.degrees
