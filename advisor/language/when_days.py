"""Which days a text tells: dates, weekdays, "two weeks ago", spans; each reader sees one shape and its neighbours."""

from __future__ import annotations

import re
from calendar import monthrange
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import UTC, date, timedelta

from advisor.language.when_words import (
    COUNT,
    COUNTED,
    MONTH,
    NAMED,
    PART,
    UNIT,
    WEEKDAY,
    YEAR,
    Piece,
    Scene,
    day_before,
    month_number,
    real_date,
    weekday_number,
)

Reader = Callable[[re.Match[str], Scene], Piece | None]
HALF_A_YEAR = 183
"""Days: a day or month told without its year is the last one, unless that is longer ago (house judgement)."""
_ORDINAL = r"(?:st|nd|rd|th)\b"
_NUMBER = r"(?<![\w.,:/#-])([0-9]{1,2})"
_YEAR_AFTER = rf"(?:(?:,\s*|\s+)({YEAR})|\s*['’]([0-9]{{2}})\b)?"
_AIMED = re.compile(r"\b(?:for|by|until|till?|before)\s+(?:the\s+)?$")
_DATED = re.compile(r"\b(?:on|since|from|dated?|of|until|till|by|after|before|for)\s+(?:the\s+)?$")
_MAY_VERB = re.compile(
    r"\s+(?:be|have|not|need|well|yet|take|get|go|come|do|want|also|still|just|die|live|survive|wake|break|ripen|lose"
    r"|drop|turn|look|make|open|freeze|recover|set|end|only|never|never|soon|help|as|i|we|you|it|they|he|she)\b"
)
_STEP = {"day": 1, "week": 7, "wk": 7, "fortnight": 14}
_SPRING = {"spring": (3, 5), "summer": (6, 8), "autumn": (9, 11), "fall": (9, 11), "winter": (12, 2)}


def _iso(m: re.Match[str], scene: Scene) -> Piece | None:
    day = real_date(int(m[1]), int(m[3]), int(m[4]))
    return day and Piece(m.start(), m.end(), day)


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
        return replace(piece, unclear=f"{scene.typed(*m.span())} could be day and month or month and day")
    return piece


def _of_year(m: re.Match[str], scene: Scene, month: int, day: int, year: int | None) -> Piece | None:
    """Return a date; without a year the last such day, unless the words before it aim at one to come."""
    if year is not None:
        found = real_date(year, month, day)
        return found and Piece(m.start(), m.end(), found)
    today = scene.today
    past = [d for y in range(today.year, today.year - 5, -1) if (d := real_date(y, month, day)) and d <= today]
    if not past:
        return None
    if (today - past[0]).days <= HALF_A_YEAR:
        return Piece(m.start(), m.end(), past[0])
    ahead = real_date(past[0].year + 1, month, day)
    if ahead and _AIMED.search(scene.before(m.start())):
        return Piece(m.start(), m.end(), ahead, to_come=True)
    return Piece(m.start(), m.end(), past[0], unclear=f"the year of {scene.typed(*m.span())} is not told")


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
    if piece and not m[2] and NAMED.search(scene.before(m.start())):
        return replace(piece, unclear=f"whether {m[1]} is a name's number or a day")
    return piece


def _is_may(m: re.Match[str], scene: Scene, group: int, dated: bool) -> bool:
    """Return whether "12 may" is the month: as a verb it stands small and before another word."""
    if _MAY_VERB.match(scene.after(m.end(group))):
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
    if re.search(r"\b(?:buds?|cut|dead|brown|alive|score|scored|killed|flowers?|npk|out of)\b", around):
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
    marked = re.search(r"\b(on|since|until|till|from|of|between)\s+(?:the\s+)?$", before)
    ends = re.match(r"\s*(?:$|[.,;:!?\n)]|-\s)", after)
    goes_on = re.match(
        rf"\s+(?:at|i|we|it|was|in|and|soil|air|about|around|last|{PART}|night|noon|midday|[0-9]{{1,2}}\s*[ap]m)\b",
        after,
    )
    piece = Piece(m.start(), m.end(), found)
    if re.match(COUNTED, after) or re.match(r"\s+(?:one|time|year|week|day|month|floor|crop|wave|round|from)\b", after):
        return None
    if marked and (ends or goes_on):
        return piece
    if ends and not re.search(r"\bthe\s+$", before):
        return piece
    if marked or ends:
        return replace(piece, unclear=f"whether {m[0]} is a day or something counted")
    return None


def _near(m: re.Match[str], scene: Scene) -> Piece | None:
    """Return the days that are named from today."""
    today, said = scene.today, re.sub(r"\s+", " ", m[0])
    span = m.span()
    if re.match(r"\s+week\b", scene.after(m.end())) or re.search(r"\bweek\s+$", scene.before(m.start())):
        return Piece(*span, today, unclear=f"which day {said} and a week is")
    match said.removeprefix("the ").replace("early ", "").replace("late ", "").replace("later ", "").split():
        case ["day", "before", "yesterday"]:
            return Piece(*span, day_before(today, 2))
        case ["day", "after", "tomorrow"]:
            return Piece(*span, today + timedelta(2), to_come=True)
        case ["night", "before", "last"]:
            return Piece(*span, day_before(today, 2), part="night")
        case ["last", "night"]:
            return Piece(*span, day_before(today, 1), part="last night")
        case ["last", "evening"]:
            return Piece(*span, day_before(today, 1), part="evening")
        case ["overnight"]:
            unclear = "" if scene.now.hour < 12 else "whether the night just gone or the one to come"
            return Piece(*span, day_before(today, 1), part="last night", unclear=unclear)
        case ["yesterday"]:
            return Piece(*span, day_before(today, 1))
        case ["today"]:
            return Piece(*span, today, to_come=said.startswith("later"))
        case ["tomorrow"]:
            return Piece(*span, today + timedelta(1), to_come=True)
        case ["tonight"]:
            return Piece(*span, today, part="night", to_come=True)
        case ["this", "lunchtime" | "noon" | "midday"]:
            return Piece(*span, today, part="midday", to_come=scene.now.hour < 12)
        case ["this", ("morning" | "afternoon" | "evening") as part]:
            begins = {"morning": 0, "afternoon": 12, "evening": 17}[part]
            return Piece(*span, today, part=part, to_come=scene.now.hour < begins)
        case ["the" | "other", *_] | ["recently" | "a" | "some" | "ages" | "long", *_]:
            return Piece(*span, today, unclear=f"which day {said} was")
    return Piece(*span, today)


def _ago(m: re.Match[str], scene: Scene) -> Piece | None:
    words, unit = m[1].split(), m[2].rstrip("s")
    vague = "couple" in words or "few" in words or "several" in words or unit in ("month", "year", "yr")
    told = int(words[0]) if words[0].isdigit() else COUNT.get(words[0], 2)
    count = 2 if "couple" in words else 3 if (vague and "few" in words) or "several" in words else told
    vague = (
        vague
        or re.search(r"(?:[0-9.,]|\b(?:one|two|three|four|five|six))\s*(?:-|–|to|or|and)?\s*$", scene.before(m.start()))
        is not None
    )
    unclear = f"which day {m[0]} was" if vague else ""
    if unit in ("minute", "min", "hour", "hr", "h"):
        minutes = count * (1 if unit.startswith("m") else 60) // (2 if words[0] == "half" else 1)
        then = (scene.now.astimezone(UTC) - timedelta(minutes=minutes)).astimezone(scene.now.tzinfo)
        return Piece(
            *m.span(), then.date(), hour=then.hour, minute=then.minute, half="24", fold=then.fold, unclear=unclear
        )
    base: date | None = scene.today
    if m[3]:
        word = m[3].split()[-1]
        back = 1 if word == "yesterday" else 0 if word == "today" else _since_weekday(scene, word)
        base = day_before(scene.today, back)
    days = {"month": 30, "year": 365, "yr": 365}.get(unit) or _STEP[unit]
    day = base and day_before(base, days * count)
    return day and Piece(*m.span(), day, unclear=unclear)


def _since_weekday(scene: Scene, word: str) -> int:
    return (scene.today.weekday() - weekday_number(word)) % 7


def _weekday(m: re.Match[str], scene: Scene) -> Piece | None:
    """Return the most recent such day; "sun" and "sat" only where nothing else can be meant."""
    lead, word, tail = (m[1] or "").strip(), m[2], (m[3] or "").strip()
    number, back = weekday_number(word), _since_weekday(scene, word)
    before, after = scene.before(m.start()), scene.after(m.end())
    ends = re.match(rf"\s*(?:$|[.,;:!?\n)@]|-\s|at\s+[0-9]|(?:{PART}|night\b|last\s+week))", after)
    dated = re.match(rf"\s+(?:the\s+)?[0-9]{{1,2}}(?:{_ORDINAL}|\s+{MONTH}|/[0-9])|\s+{MONTH}\s+[0-9]", after)
    unclear = ""
    if word in ("sat", "sun") and not dated:
        marked = (lead in ("last", "next", "on") or re.search(r"\b(?:on|since)\s+$", before)) and not before.endswith(
            "the "
        )
        if not (marked and (ends or tail)):
            verb = re.search(r"\b(?:it|that|they|which|i|we|he|she|has|have|had)\s+$", before)
            if word == "sun" or verb or not (ends or tail):
                return None
            unclear = "" if re.match(rf"\s+(?:{PART}|night\b)", after) else "whether sat is Saturday"
    if re.match(r"\s+week\b", after):
        unclear = f"which {word} is meant"
    today = scene.today
    day, to_come = day_before(today, back), False
    monday = day_before(today, today.weekday()) or today
    if lead == "next" or lead == "coming":
        day, to_come = today + timedelta(7 - back), True
    elif "last" in lead + tail and "week" in lead + tail:
        day = day_before(monday, 7 - number)
    elif "this" in tail:
        day = monday + timedelta(number)
        to_come = day > today
    elif lead == "last" and back == 0:
        day = day_before(today, 7)
    elif back and (lead == "this" or _AIMED.search(before)):
        unclear = unclear or f"whether the {word} gone or the one to come"
    return day and Piece(*m.span(), day, weekday=number, to_come=to_come, unclear=unclear)


def _month_span(m: re.Match[str], scene: Scene) -> Piece | None:
    """Return the span of a month: "in March", "since March", "late March", "March 2025"."""
    lead, edge, name, year = m[1] or "", m[2] or "", m[3], _year(m[4], None)
    if (name == "may" and _MAY_VERB.match(scene.after(m.end(3)))) or not (lead or edge or year):
        return None
    if name in ("march", "may", "mar", "sep", "dec", "jan") and not (lead or year):
        return None
    month, today, unclear = month_number(name), scene.today, ""
    passed = (today.month - month) % 12
    if year is None and m[5]:
        year = today.year - (m[5] == "last")
    elif year is None:
        year = today.year - (month > today.month)
        doubtful = passed > 6 and not lead.startswith("since")
        if doubtful or (lead.startswith("last") and year == today.year):
            unclear = f"which {name.title()} is meant"
        if lead.startswith("next"):
            year, unclear = today.year + (month <= today.month), ""
    length = monthrange(year, month)[1]
    low, high = 1, length
    if re.match(r"(?:the\s+)?(?:early|start|begin)", edge):
        high = 10
    elif edge.startswith("mid"):
        low, high = 11, 20
    elif edge:
        low = 21
    first, last = date(year, month, low), date(year, month, high)
    return Piece(*m.span(), first, _no_later(first, last, today), to_come=first > today, unclear=unclear)


def _no_later(first: date, last: date, today: date) -> date:
    return min(last, today) if first <= today else last


def _stretch(m: re.Match[str], scene: Scene) -> Piece | None:
    """Return a week, weekend, month, year or season told from today."""
    which, what, today = m[1], m[2], scene.today
    step = {"last": -1, "this": 0, "next": 1}[which]
    unclear = ""
    if what in _SPRING:
        return _season(m, scene, step)
    if what == "weekend":
        saturday = today - timedelta((today.weekday() - 5) % 7)
        if which == "this" and today.weekday() < 5:
            saturday += timedelta(7)
        elif today.weekday() >= 5:
            saturday += timedelta(7 * step)
        elif which == "next":
            saturday += timedelta(7)
        first, last = saturday, saturday + timedelta(1)
    elif what == "week":
        first = today - timedelta(today.weekday()) + timedelta(7 * step)
        last = first + timedelta(6)
    elif what == "month":
        months = today.year * 12 + today.month - 1 + step
        first = date(months // 12, months % 12 + 1, 1)
        last = date(first.year, first.month, monthrange(first.year, first.month)[1])
    else:
        first, last = date(today.year + step, 1, 1), date(today.year + step, 12, 31)
    return Piece(*m.span(), first, _no_later(first, last, today), to_come=first > today, unclear=unclear)


def _season(m: re.Match[str], scene: Scene, step: int) -> Piece | None:
    """Return a season by its months in the north; the other seasons of the south are not told here."""
    if m[2] == "fall" and re.match(r"\s+(?:off|down|out|over)\b", scene.after(m.end())):
        return None
    today, (low, high) = scene.today, _SPRING[m[2]]
    starts = [date(year, low, 1) for year in range(today.year - 2, today.year + 2)]
    spans = [(s, date(s.year + (high < low), high, monthrange(s.year + (high < low), high)[1])) for s in starts]
    ended = [span for span in spans if span[1] < today]
    running = [span for span in spans if span[0] <= today <= span[1]]
    unclear = ""
    if step < 0:
        first, last = ended[-1]
        if last.year == today.year and m[2] != "winter":
            unclear = f"which {m[2]} is meant"
    elif step > 0:
        first, last = next(span for span in spans if span[0] > today)
    elif running:
        first, last = running[0]
    else:
        first, last = next(span for span in spans if span[0].year == today.year)
        unclear = f"which {m[2]} is meant" if m[2] == "winter" else ""
    if scene.southern:
        unclear = f"which months {m[2]} has in this place"
    return Piece(*m.span(), first, _no_later(first, last, today), to_come=first > today, unclear=unclear)


def _year_span(m: re.Match[str], scene: Scene) -> Piece | None:
    first = date(int(m[1]), 1, 1)
    last = _no_later(first, date(int(m[1]), 12, 31), scene.today)
    return Piece(*m.span(), first, last, to_come=first > scene.today)


_NOT_COUNT = rf"(?!{UNIT}|{COUNTED}|[.,:/-]?[0-9]|\s*(?:-|–|to|or)\s*[0-9]+(?:{UNIT}|{COUNTED}))"
_HOW_MANY = r"[0-9]{1,3}|an?\s+few|a\s+couple(?:\s+of)?|couple(?:\s+of)?|a\s+few|few|several|half\s+an|" + "|".join(
    COUNT
)
DAYS: Sequence[tuple[re.Pattern[str], Reader]] = [
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
        (
            rf"(?<!\w)({_HOW_MANY})\s*(minutes?|mins?|hours?|hrs?|h|days?|weeks?|wks?|fortnights?|months?|years?|yrs?)\s+ago\b"
            rf"(?:\s+((?:on\s+)?{WEEKDAY}|yesterday|today))?",
            _ago,
        ),
        (
            r"\b(?:(?:the\s+)?day\s+before\s+yesterday|(?:the\s+)?day\s+after\s+tomorrow|(?:the\s+)?night\s+before\s+last"
            r"|(?:late\s+)?last\s+night|(?:late\s+)?last\s+evening|overnight|yesterday|(?:earlier\s+|later\s+)?today|tomorrow|tonight"
            rf"|(?:early\s+|late\s+|later\s+|earlier\s+)?this\s+(?:{PART}|lunchtime|noon|midday)|just\s+now|right\s+now"
            r"|the\s+other\s+(?:day|night|week|morning|evening)|recently|(?:a|some)\s+(?:while|time)\s+(?:ago|back)"
            r"|(?:ages|long)\s+ago)\b",
            _near,
        ),
        (
            rf"\b(?:(last\s+week(?:\s+on|,)?\s+|last\s+|this\s+|next\s+|coming\s+|on\s+(?=sat|sun))(?:week\s+)?)?({WEEKDAY})(?!-)"
            r"(\s+(?:of\s+)?(?:last|this)\s+week\b)?",
            _weekday,
        ),
        (rf"{_NUMBER}{_ORDINAL}(?!-)", _ordinal),
        (
            rf"\b(?:(in|since|during|over|last|next|this|of|back\s+in)\s+)?((?:early|mid|late)[\s-]+(?:in\s+)?"
            rf"|(?:the\s+)?(?:start|beginning|end)\s+of\s+)?({MONTH})(?!-)(?:,?\s+({YEAR})|\s+(this|last)\s+year\b)?",
            _month_span,
        ),
        (r"\b(last|this|next)\s+(weekend|week|month|year|spring|summer|autumn|fall|winter)\b(?!-)", _stretch),
        (rf"\b(?:in|since|during|of)\s+({YEAR})(?!{UNIT}|{COUNTED}|[-/.:][0-9])", _year_span),
    )
]
"""The shapes of days, in the order in which they claim their words."""
