"""Days as one remembers them: when a plant was planted, to a day, a month or a year; a usual day of the year."""

from __future__ import annotations

import re
from datetime import date

from advisor.records.moments import read_date

SETTLED_YEARS = 4
"""Years after which no rule asks how many springs a tree has stood, so that its year alone will do."""
MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
MONTH = r"(?P<month>(?:" + "|".join(MONTHS) + r")[a-z]*)\.?"
YEAR = r"(?P<year>(?:19|20)\d\d)"

MONTH_2, YEAR_2, YEAR_3 = MONTH.replace("month", "month2"), YEAR.replace("year", "year2"), YEAR.replace("year", "year3")
SEASONS = "spring|summer|autumn|fall|winter"
BY_MONTH = re.compile(
    rf"{MONTH}(?:\s+of)?\s+{YEAR}|{YEAR_2}[-/.](?P<number>\d\d?)|(?P<number2>\d\d?)[-/.]{YEAR_3}", re.IGNORECASE
)
DAY_OF_YEAR = re.compile(
    rf"(?:the\s+)?(?P<day>\d\d?)(?:st|nd|rd|th)?\.?\s+(?:of\s+)?{MONTH}"
    rf"|{MONTH_2}\s+(?P<day2>\d\d?)(?:st|nd|rd|th)?",
    re.IGNORECASE,
)
BY_YEAR = re.compile(YEAR)
SEASON = re.compile(rf"(?P<season>{SEASONS})\s+(?:of\s+)?{YEAR}", re.IGNORECASE)
TOLD = re.compile(
    r"\b(?:in|since|back in)\s+(?:(?:early|late|the)\s+)*"
    rf"(?P<when>(?:(?:{MONTH}|{SEASONS})\s+(?:of\s+)?)?{YEAR})\b(?!\s*[-/.]\d)",
    re.IGNORECASE,
)
"""A month, a season or a year in which something was planted, told in a sentence."""


def planted_day(text: str, today: date, day_first: bool | None = None) -> date:
    """Return the day that is kept for a planting: a month's or a year's first where no day was told.

    A year alone will do where the tree is long settled. Raises ValueError, saying what is wanted.

    >>> planted_day("2021", date(2026, 4, 24)), planted_day("Nov 2025", date(2026, 4, 24))
    (datetime.date(2021, 1, 1), datetime.date(2025, 11, 1))
    """
    text = text.strip()
    if year := BY_YEAR.fullmatch(text):
        if today.year - int(year["year"]) < SETTLED_YEARS and int(year["year"]) <= today.year:
            raise ValueError(f"the month too, as {year['year']}-04: for a tree planted of late it counts")
        day = date(int(year["year"]), 1, 1)
    elif season := SEASON.fullmatch(text):
        raise ValueError(f"the month in {season['season'].casefold()} {season['year']}, as {season['year']}-04")
    elif month := BY_MONTH.fullmatch(text):
        number = MONTHS.index(month["month"][:3].casefold()) + 1 if month["month"] else 0
        number = number or int(month["number"] or month["number2"])
        if not 1 <= number <= 12:
            raise ValueError("a month from 1 to 12, as 2025-04")
        day = date(int(month["year"] or month["year2"] or month["year3"]), number, 1)
    else:
        try:
            day = read_date(text, day_first)
        except ValueError as error:
            raise ValueError(f"{error}, a month as 2025-04, or a year") from None
    if day > today:
        raise ValueError("a day that has come; is the year right?")
    return day


def month_day(text: str) -> str:
    """Return a day of the year as records keep it; what is none is returned as it is, for the schema to refuse.

    >>> month_day("10 May"), month_day("May 10th"), month_day("05-10")
    ('05-10', '05-10', '05-10')
    """
    found = DAY_OF_YEAR.fullmatch(text.strip())
    if found is None:
        return text.strip()
    month = MONTHS.index((found["month"] or found["month2"])[:3].casefold()) + 1
    return f"{month:02d}-{int(found['day'] or found['day2']):02d}"


def planted_told(text: str) -> str:
    """Return the month, season or year in which a sentence says that something was planted; "" for none.

    >>> planted_told("planted a fig at the wall in April 2021, call it old fig"), planted_told("on 4 April 2021")
    ('April 2021', '')
    """
    found = TOLD.search(text)
    return found["when"] if found else ""
