"""What one numeral of a message says by itself: its value, its sign, its unit, and what it counts."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from advisor.language import quantity_words as words

TEMPERATURES = ("c", "f", "freezing")
JOINED = {("lb", "oz"): 16, ("ft", "in"): 12, ("m", "cm"): 100, ("kg", "g"): 1000, ("h", "min"): 60}
"""Units that are said one after the other, and how many of the second make one of the first."""
NEAR = 160
"""Letters to either side in which a word or an opening quotation mark bears on a number (house judgement)."""
SPANS_OF_TIME = ("days", "nights", "weeks", "months", "years", "degree days")


@dataclass(frozen=True, slots=True)
class Numeral:
    """A numeral without its sign; ``written`` names the way it was written, ``whole`` that it has no part after one."""

    start: int
    end: int
    value: float
    written: str
    whole: bool

    @property
    def is_share(self) -> bool:
        """Return whether it is a part of one, which may be a share of many as well as a part of a unit."""
        return self.written in ("slash", "vulgar") or self.written.startswith("share")

    @property
    def needs_unit(self) -> bool:
        """Return whether it says nothing without a unit or a noun."""
        return self.is_share or self.written in ("mixed_slash", "couple", "pair", "article")


@dataclass(frozen=True, slots=True)
class Measured:
    """A numeral with its sign, its unit, what it counts, and what else it may mean."""

    numeral: Numeral
    start: int
    end: int
    value: float
    unit: str = ""
    counted: str = ""
    degrees: bool = False
    doubt: str = ""

    @property
    def bare(self) -> bool:
        """Return whether nothing tells what the number is of."""
        return not (self.unit or self.counted or self.degrees)

    @property
    def may_be_temperature(self) -> bool:
        """Return whether its unit, or the lack of one, leaves it a temperature."""
        return self.unit in ("", *TEMPERATURES) and not self.counted


LARGEST = 1e9
"""A longer number is no measure of anything in a garden: a code, or a key held down."""


def numeral(plain: str, match: re.Match[str]) -> Numeral:
    """Return what a match of ``NUMBER`` says."""
    given = {name: part for name, part in match.groupdict().items() if part is not None}
    written, end, whole = next(iter(given)), match.end(), False
    if written == "whole":
        value = float(given["whole"]) + words.VULGAR[given["whole_vulgar"]]
    elif written == "before_slash":
        written, value = "mixed_slash", float(given["before_slash"]) + _ratio(given["mixed_slash"])
    elif written == "slash":
        value = _ratio(given["slash"])
    elif written == "vulgar":
        value = words.VULGAR[given["vulgar"]]
    elif written == "digits":
        digits, after = given["digits"].replace(",", "."), given.get("digits_point")
        whole = digits.isdigit() and after is None
        value = _with_point(float(digits), after)
    elif written in ("point", "words"):
        after = given.get("point") or given.get("words_point")
        value, whole = _with_point(_spelt(given.get("words", "")), after), after is None
    elif written.startswith("share"):
        value = words.SHARES[given[written].lower()]
    else:
        value, whole = {"couple": 2.0, "pair": 2.0, "dozen": 12.0, "article": 1.0}[written], True
    if part := words.AND_A_PART.match(plain, end):
        value += 0.75 if part["many"] else words.SHARES[part["one"].lower()]
        end, whole, written = part.end(), False, "digits"
    if written != "dozen" and (dozen := words.DOZEN.match(plain, end)):
        value, end, written, whole = value * 12, dozen.end(), "dozen", True
    return Numeral(match.start(), end, value, written, whole)


def _ratio(written: str) -> float:
    above, below = written.split("/")
    return int(above) / int(below)


def _with_point(before: float, after: str | None) -> float:
    """Return a number with what was said after its point: twelve, "two five" is 12.25."""
    if after is None:
        return before
    return float(f"{int(before)}." + "".join(str(words.DIGIT_WORDS.get(word, word)) for word in after.lower().split()))


def _spelt(written: str) -> float:
    """Return the value of number words below a thousand."""
    total = 0
    for word in written.lower().replace("-", " ").split():
        total = max(total, 1) * 100 if word == "hundred" else total + words.WORD_VALUES.get(word, 0)
    return float(total)


def left_out(plain: str, said: Numeral) -> int | None:
    """Return where to read on when a numeral is part of something else, such as a word, a price or "1,250"."""
    before, after = plain[max(said.start - 1, 0) : said.start], plain[said.end : said.end + 1]
    if before.isalpha() or before in ("$", "£", "€", "±", words.BLANK) or after == words.BLANK:
        return said.end
    if said.value > LARGEST:
        return said.end
    if words.UNCLEAR_COMMA.fullmatch(plain, said.start, said.end):
        large = words.UNIT.match(plain, said.end)
        if len(plain[said.start : said.end].split(",")[1]) != 2 or not large or large["plain"] not in ("m", "l", "kg"):
            return said.end
    if words.STUCK_LETTER.match(plain, said.end):
        return said.end
    if words.OTHER_UNIT.match(plain, said.end) and not words.UNIT.match(plain, said.end):
        return said.end
    if said.written == "words" and (then := words.SPELT_NEXT.match(plain, said.end)):
        unit = words.UNIT.match(plain, then.end())
        if not unit or words.UNIT_OF.get((unit["plain"] or "").lower()) not in ("l", "gal"):
            return then.end()
    return None


def measured(plain: str, said: Numeral, signed: bool = True) -> Measured | None:
    """Return a numeral with what stands around it, None where letters that are no unit are stuck to it."""
    start, factor, doubt = _sign(plain, said.start) if signed else (said.start, 1, "")
    value = factor * said.value if said.value else 0.0
    unit, degrees, end, other = _unit(plain, said, value)
    counted = ""
    if not unit and not degrees:
        counted = _counted(plain, said, value)
        capital = words.CAPITAL_UNIT.match(plain, end)
        if capital and not counted:
            unit, end = capital["unit"].lower(), capital.end()
        elif plain[end : end + 1].isalpha() and not counted and not words.STUCK.match(plain, end):
            return None
        if counted and words.COMMA.search(plain, said.start, said.end):
            return None
    found = Measured(said, start, end, value, unit, counted, degrees, doubt or ("" if counted else other))
    if found.doubt == "sign" and not found.may_be_temperature:
        found = replace(found, doubt="")
    return found


def _sign(plain: str, start: int) -> tuple[int, int, str]:
    """Return where a signed number starts, 1 or -1, and the doubt whether a dash is a minus."""
    found = words.SIGN.search(plain[max(start - 14, 0) : start])
    if not found:
        return start, 1, ""
    size = len(found["sign"]) + len(found["space"])
    ahead = plain[: start - size][-1:]
    stuck = ahead.isalnum() or (ahead in (*"-−–—)%°\"'", words.BLANK) and ahead != "")
    after_number = bool(words.NUMBER_BEFORE.search(plain[max(start - size - 8, 0) : start - size]))
    if found["sign"] == "+":
        return start - size, 1, ""
    if found["sign"] == "—":
        return start, 1, "" if stuck or found["space"] else "sign"
    if stuck or after_number:
        return start, 1, "sign"
    if found["sign"] in "-–" and found["space"]:
        return start, 1, "sign"
    return start - size, -1, ""


def _unit(plain: str, said: Numeral, value: float) -> tuple[str, bool, int, str]:
    """Return the unit after a numeral, whether degrees were said, where it ends, and a doubt about "in"."""
    end = said.end
    if within := words.IN.match(plain, end):
        return _inches(plain, within, end)
    if mark := _mark(plain, end):
        return mark[0], False, end + mark[1], ""
    at = end
    if said.is_share and (of := words.PART_OF.match(plain, end)):
        at = of.end()
    found = words.UNIT.match(plain, at)
    if not found:
        return "", False, end, ""
    kind = str(found.lastgroup)
    if plain[found.end() : found.end() + 1].isalpha() and words.COUNTED.match(plain, end):
        return "", False, end, ""
    unit = {"celsius": "c", "fahrenheit": "f", "degrees": ""}.get(kind, kind)
    if kind == "plain":
        unit = words.UNIT_OF[found["plain"].lower()]
    if (unit == "min" and (value < 0 or not said.whole)) or (
        said.is_share and said.written != "vulgar" and kind in ("celsius", "fahrenheit", "degrees")
    ):
        return "", False, end, ""
    return unit, kind == "degrees", found.end(), ""


def _inches(plain: str, within: re.Match[str], end: int) -> tuple[str, bool, int, str]:
    """Return whether the word "in" after a numeral means inches, a place, or may mean either."""
    if words.PLACE_AFTER_IN.match(plain, within.end()):
        return "", False, end, ""
    if words.LENGTH_AFTER_IN.match(plain, within.end()):
        return "in", False, within.end(), ""
    if words.PAUSE_AFTER_IN.match(plain, within.end()):
        moved = within["gap"] and words.BROUGHT.search(plain[max(end - 60, 0) : end])
        return ("", False, end, "inches") if moved else ("in", False, within.end(), "")
    if within["gap"] == "-" or (not within["gap"] and not words.SOIL_WORD.match(plain, within.end())):
        return "in", False, within.end(), ""
    return "", False, end, "inches"


def _mark(plain: str, end: int) -> tuple[str, int] | None:
    """Return the unit that a quotation mark stuck to a numeral means, and its length; None where it closes a quote."""
    if plain.startswith("''", end):
        return "in", 2
    mark, after = plain[end : end + 1], plain[end + 1 : end + 2]
    if mark and mark in '"”':
        return None if len(words.OPENING_DOUBLE.findall(plain, max(end - NEAR, 0), end)) % 2 else ("in", 1)
    if mark and mark in "'’" and not after.isalpha():
        return None if words.OPENING_SINGLE.search(plain, max(end - NEAR, 0), end) else ("ft", 1)
    return None


def _counted(plain: str, said: Numeral, value: float) -> str:
    """Return what a numeral counts. A part of a leaf is not counted, nor fewer than none, nor what makes a stage."""
    found = words.COUNTED.match(plain, said.end)
    if not found or value < 0 or said.is_share:
        return ""
    noun = " ".join(found["noun"].lower().split())
    plural = "degree days" if noun.startswith("degree") else words.COUNTED_AS[noun]
    if not said.whole and plural not in SPANS_OF_TIME:
        return ""
    if noun in ("bud", "leaf", "fruit", "flower", "fig", "leaves") and words.STAGE_NOUN.match(plain, found.end()):
        return ""
    return plural


def joined(plain: str, first: Measured) -> Measured | None:
    """Return a measure with a smaller one that follows it, "3 lb 4 oz"; None where digits stuck to it say no such."""
    if first.unit and (part := words.AND_A_PART.match(plain, first.end)):
        more = 0.75 if part["many"] else words.SHARES[part["one"].lower()]
        return replace(first, end=part.end(), value=first.value + (more if first.value >= 0 else -more))
    stuck = plain[first.end : first.end + 1].isdigit()
    if then := words.JOINT.match(plain, first.end):
        small = words.NUMBER.match(plain, then.end()) or words.STUCK_DIGITS.match(plain, then.end())
        if small:
            said = numeral(plain, small) if small.re is words.NUMBER else _digits(small)
            second = measured(plain, said, signed=False)
            factor = JOINED.get((first.unit, second.unit)) if second else None
            if (
                first.unit == "ft"
                and second
                and second.bare
                and said.whole
                and words.CLAUSE_ENDS.match(plain, said.end)
            ):
                factor = 12
            if first.unit == "m" and second and second.bare and stuck and said.end - said.start == 2:
                factor = 100
            told = then["and"] is None or first.unit in ("lb", "ft", "h")
            if second and factor and told and said.value < factor:
                value = first.value + said.value / factor if first.value >= 0 else first.value
                return replace(first, end=second.end, value=value)
    return None if stuck else first


def _digits(match: re.Match[str]) -> Numeral:
    return Numeral(match.start(), match.end(), float(match[0]), "digits", match[0].isdigit())


def below(plain: str, first: Measured) -> Measured:
    """Return a temperature with "below", "below zero" or "below freezing" taken into it.

    "Below" alone may also be a place under the mulch: it is taken as cold only where nothing in the message is.
    """
    if not first.may_be_temperature:
        return first
    if found := words.FROM_ZERO.match(plain, first.end):
        factor = -1 if found["way"].lower() in ("below", "under") else 1
        value = factor * abs(first.value)
        if found["freezing"] is None:
            return replace(first, end=found.end(), value=value, doubt="")
        if first.unit == "f":
            return replace(first, end=found.end(), value=32 + value, doubt="")
        return replace(first, end=found.end(), value=value, unit=first.unit or "freezing", degrees=False, doubt="")
    if found := words.BELOW.match(plain, first.end):
        doubt = "sign" if words.LAYERS.search(plain, max(first.start - NEAR, 0), first.end + NEAR) else ""
        return replace(first, end=found.end(), value=-abs(first.value), doubt=doubt)
    return first
