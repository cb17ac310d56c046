"""Numbers in a message with what they measure. What can be read two ways carries a doubt, or is left out whole."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from advisor.language import quantity_words as words
from advisor.language.measures import (
    Quantity,
    in_celsius,
    in_cm,
    kilograms,
    litres,
    metres_per_second,
    plausible_temperature,
)
from advisor.language.numbers_left_alone import blanked
from advisor.language.quantity_parts import Measured, below, joined, left_out, measured, numeral

__all__ = [
    "Quantity",
    "find_quantities",
    "in_celsius",
    "in_cm",
    "kilograms",
    "litres",
    "metres_per_second",
    "plausible_temperature",
]


def find_quantities(text: str, names: Sequence[str] = ()) -> list[Quantity]:
    """Return the quantities of a message in their order, without the digits of the garden's names, dates and times.

    >>> [(q.value, q.unit, q.counted) for q in find_quantities("12,5 °C under 4 in. of chips, six leaves")]
    [(12.5, 'c', ''), (4.0, 'in', ''), (6.0, '', 'leaves')]
    >>> find_quantities("pot 3 at 18:30 on 4/4", ["pot 3"])
    []
    """
    plain = blanked(text, names)
    found: list[Quantity] = []
    place = 0
    while match := words.NUMBER.search(plain, place):
        read, end = _read(plain, match, names)
        if read is not None:
            found.append(replace(read, text=text[read.start : read.end]))
        place = max(end, match.end())
    return _shared_unit(plain, found)


def _read(plain: str, match: re.Match[str], names: Sequence[str]) -> tuple[Quantity | None, int]:
    """Return the quantity that begins with a numeral, None where it measures nothing, and where to read on."""
    said = numeral(plain, match)
    if end := left_out(plain, said):
        return None, end
    first = measured(plain, said)
    if first is None:
        return None, said.end
    whole = joined(plain, first)
    if whole is None:
        return None, first.end
    first = below(plain, whole)
    last = _range_end(plain, first)
    if isinstance(last, int):
        return None, last
    if last is None:
        last = first
    if said.needs_unit and (first.bare or (said.is_share and plain.startswith("green", last.end + 1))):
        share = _share(plain, first) if said.is_share else None
        return share, share.end if share else said.end
    if _is_pronoun(plain, first, last):
        return None, said.end
    if _means_something_else(plain, first, last):
        return None, last.end
    if said.written == "article" and (more := words.OR_TWO.match(plain, last.end)):
        last = replace(first, value=2.0, end=more.end())
    start, low, high = first.start, first.value, None
    if last is not first:
        low, high = sorted((first.value, last.value))
        between = words.BETWEEN.search(plain[max(start - 12, 0) : start])
        start -= len(between[0]) if between else 0
    quantity = Quantity(start, last.end, "", low, high, last.unit or first.unit, last.counted)
    about = said.written == "couple" or _is_about(plain, quantity, first.end)
    doubt = first.doubt or last.doubt or _doubt(plain, first, last, names)
    return replace(quantity, degrees=first.degrees or last.degrees, about=about, doubt=doubt), last.end


def _is_about(plain: str, quantity: Quantity, first_end: int) -> bool:
    """Return whether a quantity is told as near: "about 3", "3 or so", "3 or 4"."""
    ahead, rest = plain[max(quantity.start - 16, 0) : quantity.start], plain[first_end : quantity.end]
    return bool(words.ABOUT.search(ahead) or words.OR_SO.match(plain, quantity.end) or words.OR.match(rest))


def _range_end(plain: str, first: Measured) -> Measured | int | None:
    """Return the upper end of a range, None where there is no range, or where to read on after one that is unclear."""
    between = words.BETWEEN.search(plain[max(first.start - 12, 0) : first.start])
    link = (words.RANGE_AND if between else words.RANGE).match(plain, first.end)
    match = words.RANGE_NUMBER.match(plain, link.end()) if link else None
    if not link or not match or first.counted or words.FROM.search(plain[max(first.start - 8, 0) : first.start]):
        return None
    dash = link["dash"] is not None
    number = words.NUMBER.match(plain, match.end())
    if not number:
        return None
    said = numeral(plain, number)
    unclear = number.end()
    second = None if left_out(plain, said) else measured(plain, said, signed=False)
    if second is None:
        return unclear if dash else None
    if match["sign"]:
        second = replace(second, value=-second.value)
    elif first.value < 0 and not dash and second.value > 0:
        second = replace(second, doubt="sign")
    stuck_after_space = dash and link["ahead"] and not link["behind"]
    if (first.unit and second.unit not in ("", first.unit)) or (first.unit and second.counted) or said.is_share:
        return None
    if (first.degrees and not second.may_be_temperature) or (second.degrees and not first.may_be_temperature):
        return None
    if stuck_after_space and second.may_be_temperature:
        return None
    ascends = second.value > first.value
    if dash:
        below_zero = first.value < 0 and not match["sign"]
        if below_zero or (not ascends and not (first.value < 0 and second.value < first.value)):
            return max(second.end, unclear) if not link["ahead"] or below_zero else None
        if first.bare and second.bare and words.DATED.search(plain[max(first.start - 9, 0) : first.start]):
            return second.end
        if words.LEADING_ZERO.match(plain, first.numeral.start) or words.LEADING_ZERO.match(plain, said.start):
            return second.end
    elif not ascends and not (first.value < 0 and second.value < 0 and second.value != first.value):
        return None
    return second


def _means_something_else(plain: str, first: Measured, last: Measured) -> bool:
    """Return whether a number is a year, a day of a month, a time, a place in a list, or the zero of "below zero"."""
    start, end = first.numeral.start, last.numeral.end
    written, ahead = plain[start : first.numeral.end].lower(), plain[max(first.start - 14, 0) : first.start]
    if last.unit == "h" and words.AT.search(ahead):
        return True
    if not (first.bare and last.bare):
        year = written.isdigit() and len(written) == 4 and 1900 <= first.value <= 2099
        return year and bool(last.counted)
    if written.isdigit() and (len(written) > 3 or (len(written) > 1 and written[0] == "0")):
        return True
    if first.value == 0 and first.unit == "" and words.OF_ZERO.search(ahead):
        return True
    if first.numeral.whole and 1 <= abs(first.value) <= 31:
        return bool(
            words.MONTH_AFTER.match(plain, end)
            or words.MONTH_BEFORE.search(plain[max(first.start - 18, 0) : first.start])
            or (words.LIST_AHEAD.search(plain[max(start - 6, 0) : start]) and words.LIST_AFTER.match(plain, end))
        )
    return False


def _is_pronoun(plain: str, first: Measured, last: Measured) -> bool:
    """Return whether "one" stands for a thing: "the small one", "one of the figs"."""
    if plain[first.numeral.start : first.numeral.end].lower() != "one":
        return False
    described = words.DESCRIBED.search(plain[max(first.start - 20, 0) : first.start])
    if last is not first:
        return last.value > 3 or last.bare or bool(described)
    noun = words.COUNTED.match(plain, first.end) if first.counted else None
    singular = noun is not None and not noun["noun"].lower().endswith("s") and " of " not in noun[0].lower()
    if described and first.unit in ("", "freezing"):
        return not first.degrees
    return not (first.unit or first.degrees or singular or first.value < 0)


def _share(plain: str, first: Measured) -> Quantity | None:
    """Return "half of the buds" or "lost half" as a percentage, None where half is no share, as in "half open"."""
    said = first.numeral
    follows = words.SHARE_OF.match(plain, said.end) or (
        said.value == 0.5 and (words.SHARE_ENDS.match(plain, said.end) and said.written == "share")
    )
    if not follows or words.NO_SHARE.search(plain[max(said.start - 10, 0) : said.start]):
        return None
    about = bool(words.ABOUT.search(plain[max(said.start - 16, 0) : said.start]))
    return Quantity(
        said.start, said.end, plain[said.start : said.end], round(said.value * 100, 6), unit="percent", about=about
    )


def _doubt(plain: str, first: Measured, last: Measured, names: Sequence[str]) -> str:
    """Return what else a number that is told no more of may be: part of a name, a time, a date."""
    ahead = plain[max(first.start - 40, 0) : first.start]
    written = plain[first.numeral.start : first.numeral.end].lower()
    if last is not first or first.value < 1:
        return ""
    if first.bare and words.DAY_MONTH.fullmatch(written) and words.DATED.search(ahead):
        return "date"
    if not first.numeral.whole:
        return ""
    named = words.NAMED_THING.search(ahead)
    if named and first.unit in ("", "c", "f", "cm", "mm", "percent"):
        said = f" {_plain_words(ahead)}"
        known = any(said.endswith(f" {_plain_words(name)}") for name in names if _plain_words(name))
        same = any(re.findall(r"\w+", name.casefold())[-2:] == [named[1].lower(), written] for name in names)
        if same or (first.bare and not known):
            return "name"
    if not first.bare:
        return ""
    if first.value <= 24 and words.AT.search(ahead) and not words.READING_AT.search(ahead):
        return "time"
    return "date" if first.value <= 31 and words.WEEKDAY.search(ahead) else ""


def _plain_words(text: str) -> str:
    """Return a text's words without marks, parted by single spaces."""
    return " ".join(re.findall(r"[^\W_]+", text.casefold()))


def _shared_unit(plain: str, found: Sequence[Quantity]) -> list[Quantity]:
    """Return quantities of which "12, 13 and 14 C" and "from 8 to 12 cm" have one unit in common."""
    shared = list(found)
    listed = False
    for place in reversed(range(len(shared) - 1)):
        one, two = shared[place], shared[place + 1]
        gap = plain[one.end : two.start]
        told = one.unit or one.counted or one.doubt == "inches" or not two.unit or len(gap) > 12
        compared = two.unit in ("c", "f") and (
            words.COMPARED.fullmatch(gap) or (listed and words.LISTED.fullmatch(gap))
        )
        changed = words.CHANGED.fullmatch(gap) and words.FROM.search(plain[max(one.start - 8, 0) : one.start])
        listed = bool(compared and not told)
        if not told and (compared or changed):
            shared[place] = replace(one, unit=two.unit, doubt="" if one.doubt == "time" else one.doubt)
    return shared
