"""Which dates a text tells, in figures or with a month's name; each reader sees one shape and its neighbours."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import replace

from advisor.language.when_words import (
    AIMED,
    COUNTED,
    MAY_VERB,
    MONTH,
    NAMED,
    PART,
    UNIT,
    WEEKDAY,
    YEAR,
    Piece,
    Scene,
    month_number,
    real_date,
)

Reader = Callable[[re.Match[str], Scene], Piece | None]
HALF_A_YEAR = 183
"""Days: a day or month told without its year is the last one, unless that is longer ago (house judgement)."""
_ORDINAL = r"(?:st|nd|rd|th)\b"
_NUMBER = r"(?<![\w.,:/#-])([0-9]{1,2})"
_YEAR_AFTER = rf"(?:(?:,\s*|\s+)({YEAR})|\s*['’]([0-9]{{2}})\b)?"
_DATED = re.compile(r"\b(?:between|on|since|from|dated?|of|until|till|by|after|before|for)\s+(?:the\s+)?$")
_ON_THE = re.compile(
    rf"\b(?:{WEEKDAY}|on|since|until|till|from|of|between|between(?:\s+the)?\s+[0-9]{{1,2}}(?:st|nd|rd|th)\s+and)\s+(?:the\s+)?$"
)


def _iso(m: re.Match[str], scene: Scene) -> Piece | None:
    day = real_date(int(m[1]), int(m[3]), int(m[4]))
    return Piece(m.start(), m.end(), day) if day else None


def _figures(m: re.Match[str], scene: Scene) -> Piece | None:
    one, two, mark = int(m[1]), int(m[3]), m[2]
    year = int(m[4]) if len(m[4]) == 4 else 2000 + int(m[4])
    if mark == "-" and len(m[4]) == 2:
        return None
    if len(m[4]) == 2 and re.search(r"\b(?:npk|fe?ed|fertili[sz]\w*|granul\w*)\b", scene.around(*m.span())):
        if abs(year - scene.today.year) > 2:
            return None  # "fed 10/10/10" tells what was in the bag
    elif not 1900 <= year <= 2199 or (len(m[4]) == 2 and year > scene.today.year + 10):
        return None
    return _ordered(m, scene, one, two, mark, year)


def _ordered(m: re.Match[str], scene: Scene, one: int, two: int, mark: str, year: int | None) -> Piece | None:
    """Return a date of two numbers in the order of the place; where there is none, only what the numbers show."""
    first = True if mark == "." else scene.day_first
    if one > 12 or two > 12:
        first = one > 12
    day, month = (two, one) if first is False else (one, two)
    piece = _of_year(m, scene, month, day, year)
    if piece is None and mark != ".":
        day, month = month, day
        return _of_year(m, scene, month, day, year)
    if piece and first is None and one != two:
        return replace(piece, unclear=f"whether {scene.typed(*m.span())} is day and month or month and day")
    return piece


def _of_year(m: re.Match[str], scene: Scene, month: int, day: int, year: int | None) -> Piece | None:
    """Return a date; without a year the last such day, unless the words before it aim at one to come."""
    if year is not None:
        found = real_date(year, month, day)
        return Piece(m.start(), m.end(), found) if found else None
    today = scene.today
    past = [d for y in range(today.year, today.year - 5, -1) if (d := real_date(y, month, day)) and d <= today]
    if not past:
        return None
    if (today - past[0]).days <= HALF_A_YEAR:
        return Piece(m.start(), m.end(), past[0])
    ahead = real_date(past[0].year + 1, month, day)
    if ahead and AIMED.search(scene.before(m.start())):
        return Piece(m.start(), m.end(), ahead, to_come=True)
    return Piece(m.start(), m.end(), past[0], unclear=f"which year's {scene.typed(*m.span())} is meant")


def _year(four: str | None, two: str | None) -> int | None:
    return int(four) if four else 2000 + int(two) if two else None


def _day_month(m: re.Match[str], scene: Scene) -> Piece | None:
    dated = bool(m[2]) or scene.leads(m.start()) or _DATED.search(scene.before(m.start())) is not None
    if m[4] and not dated:  # "pot 3. March"
        return None
    year = _year(m[6], m[7])
    after = scene.after(m.end())
    if m[5][:3] == "may" and not year and not _is_may(m, scene, 5, dated):
        return None
    number_after = re.match(r"\s+(?:the\s+)?([0-9]{1,2})\b(?![.:/][0-9])", after)
    if not dated and not year and number_after and 1 <= int(number_after[1]) <= 31:
        if NAMED.search(scene.before(m.start())):
            return None  # "pot 3 April 12" is read month first
        if not re.match(rf"\s+[0-9]{{1,2}}(?:{UNIT}|{COUNTED}|\s*[ap]\.?m\b)", after):
            piece = _of_year(m, scene, month_number(m[5]), int(m[1]), None)
            return piece and replace(piece, unclear=f"which number beside {m[5].title()} is the day")
    piece = _of_year(m, scene, month_number(m[5]), int(m[1]), year)
    if piece and m[5] == "may" and not year and not _is_may(m, scene, 5, bool(m[2])):
        return replace(piece, unclear="whether may is the month")
    if piece and not m[2] and NAMED.search(scene.before(m.start())):
        return replace(piece, unclear=f"whether {m[1]} is a name's number or a day")
    return piece


def _is_may(m: re.Match[str], scene: Scene, group: int, dated: bool) -> bool:
    """Return whether "12 may" is the month: as a verb it stands small and before another word."""
    if MAY_VERB.match(scene.after(m.end(group))):
        return False
    typed = scene.plain.typed[scene.plain.place(m.start(group)) : scene.plain.place(m.end(group))]
    return dated or typed == "May" or not re.match(r"\s*[a-z]", scene.after(m.end(group)))


def _month_day(m: re.Match[str], scene: Scene) -> Piece | None:
    return _of_year(m, scene, month_number(m[1]), int(m[2]), _year(m[4], m[5]))


def _word_ordinal(m: re.Match[str], scene: Scene) -> Piece | None:
    words = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth")
    return _of_year(m, scene, month_number(m[2]), words.index(m[1]) + 1, _year(m[3], None))


def _span(m: re.Match[str], scene: Scene, month: str, one: str, two: str, year: int | None) -> Piece | None:
    first = _of_year(m, scene, month_number(month), int(one), year)
    last = _of_year(m, scene, month_number(month), int(two), year)
    if not first or not last or not first.day or not last.day or first.day >= last.day:
        return None
    return replace(first, last_day=last.day)


def _days_month(m: re.Match[str], scene: Scene) -> Piece | None:
    if m[3][:3] == "may" and not _is_may(m, scene, 3, "between" in m[0] or "from" in m[0]):
        return None
    return _span(m, scene, m[3], m[1], m[2], _year(m[4], None))


def _month_days(m: re.Match[str], scene: Scene) -> Piece | None:
    return _span(m, scene, m[1], m[2], m[3], _year(m[4], None))


def _slashed(m: re.Match[str], scene: Scene) -> Piece | None:
    one, two = int(m[1]), int(m[2])
    around, dated = scene.around(*m.span()), _DATED.search(scene.before(m.start()))
    dated = dated or re.search(rf"\b{WEEKDAY}\s+$", scene.before(m.start()))
    piece = _ordered(m, scene, one, two, "/", None)
    if piece is None or dated:
        return piece
    if re.match(
        r"\s*(?:of|the|size|way|buds?|dead|brown|killed|flowers?|full|out|open|grown|done)\b", scene.after(m.end())
    ):
        return None
    if one <= two and re.search(r"\b(?:buds|dead|brown|alive|score|scored|killed|npk|out of)\b", around):
        return replace(piece, unclear=f"whether {m[0]} is a date or so many of a number")
    if one < two and two in (2, 3, 4, 5, 8, 10, 16):
        where = scene.leads(m.start()) or re.match(r"\s*(?:$|[.,;:!?\n])", scene.after(m.end()))
        return replace(piece, unclear=f"whether {m[0]} is a date or a fraction") if where else None
    return piece


def _pointed(m: re.Match[str], scene: Scene) -> Piece | None:
    piece = _ordered(m, scene, int(m[1]), int(m[2]), ".", None)
    dated = _DATED.search(scene.before(m.start())) is not None
    if piece is None or dated:
        return piece
    if not m[3]:
        return None
    if scene.leads(m.start()) and re.match(r"\s*[a-z:]", scene.after(m.end())):
        return piece
    if re.search(r"\b(?:soil|air|temp\w*|was|is|at|reads?|low|high|min|max|cm|kg|lb)\b", scene.around(*m.span())):
        return None
    return replace(piece, unclear=f"whether {m[0]} is a date or a number")


def _ordinal(m: re.Match[str], scene: Scene) -> Piece | None:
    day, before, after = int(m[1]), scene.before(m.start()), scene.after(m.end())
    found = None
    for back in range(4):
        months = scene.today.year * 12 + scene.today.month - 1 - back
        here = real_date(months // 12, months % 12 + 1, day)
        if here and here <= scene.today:
            found = here
            break
    if found is None:
        return None
    marked = _ON_THE.search(before)
    ends = re.match(r"\s*(?:$|[.,;:!?\n)]|-\s)", after)
    goes_on = re.match(
        rf"\s+(?:at|i|we|it|was|in|and|the|my|all|soil|air|about|around|last|{PART}|night|noon|midday|[0-9]{{1,2}}\s*[ap]m)\b",
        after,
    )
    piece = Piece(m.start(), m.end(), found)
    counted = re.match(COUNTED, after)
    if (counted and not counted[0].endswith(("s", "leaves"))) or re.match(
        r"\s+(?:ripe|breba|true|open|big|one|time|year|week|day|month|floor|crop|wave|round|from)\b", after
    ):
        return None
    if marked and (ends or goes_on):
        return piece
    if ends and not re.search(r"\bthe\s+$", before):
        return piece
    if marked or ends or (scene.leads(m.start()) and not re.search(r"\bthe\s+$", before)):
        return replace(piece, unclear=f"whether {m[0]} is a day or something counted")
    return None


_NOT_COUNT = rf"(?!{UNIT}|{COUNTED}|[.,:/-]?[0-9]|\s*(?:-|–|to|or)\s*[0-9]+(?:{UNIT}|{COUNTED}))"
DATES: Sequence[tuple[re.Pattern[str], Reader]] = [
    (re.compile(pattern), reader)
    for pattern, reader in (
        (
            r"(?<![\w./:-])((?:19|20|21)[0-9]{2})([-/.])([0-9]{1,2})\2([0-9]{1,2})(?:[tT](?=[0-9]{2}:)|(?![\w/-]|[.:][0-9]))",
            _iso,
        ),
        (r"(?<![\w./:-])([0-9]{1,2})([-/.])\s?([0-9]{1,2})\2\s?([0-9]{4}|[0-9]{2})(?![\w/-]|[.:,][0-9])", _figures),
        (
            rf"(?:\b(?:between|from)\s+(?:the\s+)?)?{_NUMBER}{_ORDINAL[:-2]}?\s*(?:and|to|-|–|until|till)\s*(?:the\s+)?"
            rf"([0-9]{{1,2}})(?:st|nd|rd|th)?\s+(?:of\s+)?({MONTH})(?:,?\s+({YEAR}))?",
            _days_month,
        ),
        (
            rf"(?:\b(?:between|from)\s+)?\b({MONTH})\.?\s+(?:the\s+)?([0-9]{{1,2}})(?:st|nd|rd|th)?\s*(?:and|to|-|–|until|till)\s*"
            rf"(?:the\s+)?([0-9]{{1,2}})(?:st|nd|rd|th)?(?:,?\s+({YEAR}))?{_NOT_COUNT}",
            _month_days,
        ),
        (rf"{_NUMBER}({_ORDINAL})?(\s+of)?(\.)?\s*({MONTH}){_YEAR_AFTER}", _day_month),
        (rf"\b({MONTH})\.?\s*(?:the\s+)?([0-9]{{1,2}})({_ORDINAL})?{_YEAR_AFTER}{_NOT_COUNT}", _month_day),
        (
            rf"\b(first|second|third|fourth|fifth|sixth|seventh|eighth|ninth|tenth)\s+of\s+({MONTH})(?:,?\s+({YEAR}))?",
            _word_ordinal,
        ),
        (rf"(?<![\w./-])([0-9]{{1,2}})/([0-9]{{1,2}})(?![\w/-]|[.:,][0-9]|{UNIT})", _slashed),
        (rf"(?<![\w.,:/-])([0-9]{{1,2}})\.([0-9]{{1,2}})(\.)?(?![\w-]|\.|{UNIT})", _pointed),
        (rf"{_NUMBER}{_ORDINAL}(?!-)", _ordinal),
    )
]
"""The shapes of dates, in the order in which they claim their words."""
