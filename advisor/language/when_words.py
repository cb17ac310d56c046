"""What a grower's words for time are looked for in: one spelling, whose places still lead back to the text as typed."""

from __future__ import annotations

import re
from bisect import bisect_right
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from rapidfuzz.distance import OSA

WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
MONTHS = ("january", "february", "march", "april", "may", "june", "july",
          "august", "september", "october", "november", "december")  # fmt: skip
COUNT = {"a": 1, "an": 1, "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8,
         "nine": 9, "ten": 10, "eleven": 11, "twelve": 12}  # fmt: skip
SHORTHAND = {
    "ystdy": "yesterday", "ystrdy": "yesterday", "nite": "night", "yest": "yesterday", "yday": "yesterday",
    "ystd": "yesterday", "2day": "today", "tonite": "tonight", "2nite": "tonight", "2night": "tonight",
    "tmrw": "tomorrow", "tmr": "tomorrow", "tomoz": "tomorrow", "2moro": "tomorrow", "2morrow": "tomorrow",
    "arpil": "april", "aprl": "april", "apirl": "april", "arvo": "afternoon", "morn": "morning",
    "wensday": "wednesday", "wenesday": "wednesday",
}  # fmt: skip
_LONG = tuple(word for word in (*WEEKDAYS, *MONTHS, "yesterday", "tomorrow", "morning", "afternoon", "evening",
                                "tonight", "midnight", "midday") if len(word) >= 6)  # fmt: skip
_TWO_SLIPS = ("yesterday", "tomorrow", "wednesday")
_NOT_SLIPS = {"sundry", "mondays", "warning", "mooring", "opening", "leaning", "meaning", "evenings", "mornings"}
_WORD = re.compile(r"\b[0-9]?[a-z]+\b")
_LOWER = {upper: upper + 32 for upper in range(ord("A"), ord("Z") + 1)}

MONTH = (
    r"(?:jan(?:uary)?|feb(?:ruary)?|mar(?:ch)?|apr(?:il)?|may|june?|july?|aug(?:ust)?|sept?(?:ember)?|oct(?:ober)?"
    r"|nov(?:ember)?|dec(?:ember)?)\b"
)
WEEKDAY = r"(?:mon|tues?|wed|weds|thu|thurs?|fri|sat|sun|monday|tuesday|wednesday|thursday|friday|saturday|sunday)\b"
YEAR = r"(?:19|20|21)[0-9]{2}\b"
PART = r"(?:morning|afternoon|evening)\b"
UNIT = (
    r"(?:\s*[°º%\"″′]|['’](?![0-9])|\s*-?(?:deg(?:rees?|s)?|celsius|centigrade|fahrenheit|c|f|k|cms?|mms?|m|metres?|meters?|inch|inche?s"
    r"|in(?!\s+the\s+(?:morning|afternoon|evening)|\s+[a-z])|ft|foot|feet|l|lt|litres?|liters?|gals?|gallons?|kgs?|kilos?"
    r"|g|grams?|lbs?|pounds?|oz|mph|kmh|percent|x|times|hours?|days?|weeks?|months?|years?)\b)"
)
"""What makes the number before it a quantity. "in" only where no word follows: not "3 in May"."""
COUNTED = (
    r"(?:\s*(?:or|-)?\s*(?:more|new|open|green|dead|brown|live|ripe|small|tiny|good|big|breba)?\s*(?:leaf|leaves|buds?|nodes?|figs?|fruits?"
    r"|fruitlets?|flowers?|blossoms?|shoots?|pots?|trees?|plants?|branch(?:es)?|twigs?|limbs?|cuttings?|spots?"
    r"|beds?|rows?|pears?|apples?|plums?|peach(?:es)?|apricots?|cherr(?:y|ies)|of\s+(?:them|the\s+[a-z]+s)|gone|dead|brown|out)\b)"
)
"""What is counted by the number before it."""
AIMED = re.compile(r"\b(?:for|by|until|till?|before)\s+(?:the\s+)?$")
"""Words that aim at a day, gone or to come."""
MAY_VERB = re.compile(
    r"\s+(?:be|have|not|need|well|yet|take|get|go|come|do|want|also|still|just|die|live|survive|wake|break|ripen|lose"
    r"|drop|turn|look|make|open|freeze|recover|set|end|only|never|never|soon|help|as|i|we|you|it|they|he|she)\b"
)
"""What follows "may" where it is no month."""
NAMED = re.compile(r"(?:\b(?:pots?|beds?|trees?|plants?|figs?|rows?|no|number|nr|site|spot|limb|tag)\.?\s*|#)$")
"""Words whose number is part of a name, as in "pot 3"."""


@dataclass(frozen=True, slots=True)
class Plain:
    """A text in lower case with known slips mended, and the way back to the places of the text as typed.

    >>> Plain.of("Yestarday, 3 PM").text
    'yesterday, 3 pm'
    """

    text: str
    typed: str
    cuts: tuple[int, ...]
    shifts: tuple[int, ...]

    @classmethod
    def of(cls, typed: str) -> Plain:
        """Return a text in one spelling; only whole words are changed."""
        parts: list[str] = []
        cuts, shifts, at, length = [0], [0], 0, 0
        known: dict[str, str] = {}
        lower = typed.translate(_LOWER)
        for match in _WORD.finditer(lower):
            word = match[0]
            if word not in known:
                known[word] = _mended(word)
            plain = known[word]
            parts += [lower[at : match.start()], plain]
            length += match.start() - at + len(plain)
            at = match.end()
            if at - length != shifts[-1]:
                cuts.append(length)
                shifts.append(at - length)
        parts.append(lower[at:])
        return cls("".join(parts), typed, tuple(cuts), tuple(shifts))

    def place(self, at: int) -> int:
        """Return where a place, at the start or end of a word, lies in the text as typed."""
        return at + self.shifts[bisect_right(self.cuts, at) - 1]


def _mended(word: str) -> str:
    if word in SHORTHAND:
        return SHORTHAND[word]
    if len(word) < 6 or word in _LONG or word in _NOT_SLIPS or len(word) > 12:
        return word
    near = [
        known
        for known in _LONG
        if known[0] == word[0]
        and abs(len(known) - len(word)) < 2
        and word != known + "s"
        and OSA.distance(word, known, score_cutoff=2) <= (2 if known in _TWO_SLIPS else 1)
    ]
    return near[0] if len(near) == 1 else word


@dataclass(frozen=True, slots=True)
class Piece:
    """One thing told of time, before what stands beside it is looked at; ``start`` and ``end`` are in plain text."""

    start: int
    end: int
    day: date | None = None
    last_day: date | None = None
    hour: int | None = None
    minute: int = 0
    half: str = ""
    """"am", "pm", "24" for the clock of 24 hours, "midnight", or "" where the half of the day isn't told."""
    part: str = ""
    weekday: int | None = None
    since: bool = False
    to_come: bool = False
    unclear: str = ""
    loose: str = ""
    """Why it can't be told unless a day stands with it."""
    fold: int = 0


@dataclass(frozen=True, slots=True)
class Scene:
    """What a reader of words looks at besides the words it matched."""

    plain: Plain
    now: datetime
    day_first: bool | None
    southern: bool

    @property
    def text(self) -> str:
        """The text in one spelling."""
        return self.plain.text

    @property
    def today(self) -> date:
        """The day of the clock."""
        return self.now.date()

    def typed(self, start: int, end: int) -> str:
        """Return words as they were typed."""
        return self.plain.typed[self.plain.place(start) : self.plain.place(end)].strip()

    def before(self, at: int) -> str:
        """Return some of what stands before a place."""
        return self.plain.text[max(0, at - 40) : at]

    def after(self, at: int) -> str:
        """Return some of what stands after a place."""
        return self.plain.text[at : at + 40]

    def around(self, start: int, end: int) -> str:
        """Return the rest of the clause around a place, as far as it is near."""
        left = re.split(r"[,;!?\n]|\.\s", self.plain.text[max(0, start - 90) : start])[-1]
        right = re.split(r"[,;!?\n]|\.(?:\s|$)", self.plain.text[end : end + 90])[0]
        return f"{left} … {right}"

    def leads(self, at: int) -> bool:
        """Return whether nothing but "on" or "since" stands before a place in its sentence."""
        return (
            re.search(r"(?:^|[;!?\n]|\.\s)\s*(?:(?:on|since|from|at|in)\s+)?(?:the\s+)?$", self.before(at)) is not None
        )


def month_number(word: str) -> int:
    """Return the number of a month from its name or short form."""
    return next(n for n, month in enumerate(MONTHS, 1) if month[:3] == word[:3])


def weekday_number(word: str) -> int:
    """Return the number of a weekday from its name or short form, Monday is 0."""
    return next(n for n, day in enumerate(WEEKDAYS) if day[:3] == word[:3])


def day_before(day: date, days: int) -> date | None:
    """Return the day so many days before; None outside the calendar."""
    try:
        return day - timedelta(days=days)
    except OverflowError:
        return None


def real_date(year: int, month: int, day: int) -> date | None:
    """Return a date, None if there is no such day."""
    try:
        return date(year, month, day)
    except ValueError:
        return None
