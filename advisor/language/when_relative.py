"""Which days a text tells from today: weekdays, "two weeks ago", months and other spans."""

from __future__ import annotations

import re
from calendar import monthrange
from collections.abc import Callable, Sequence
from datetime import UTC, date, timedelta

from advisor.language.when_words import (
    AIMED,
    COUNT,
    COUNTED,
    MAY_VERB,
    MONTH,
    PART,
    UNIT,
    WEEKDAY,
    WEEKDAYS,
    YEAR,
    Piece,
    Scene,
    day_before,
    month_number,
    weekday_number,
)

Reader = Callable[[re.Match[str], Scene], Piece | None]
_STEP = {"day": 1, "d": 1, "night": 1, "week": 7, "wk": 7, "fortnight": 14}
_SEASONS = {"spring": (3, 5), "summer": (6, 8), "autumn": (9, 11), "fall": (9, 11), "winter": (12, 2)}
_ORDINAL = r"(?:st|nd|rd|th)\b"


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
            unclear = "" if scene.now.hour < 12 else "whether the night just gone or the one to come is meant"
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
    told = int(words[0]) if words[0].isdigit() else COUNT.get(words[0], 1)
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
    part = "night" if unit == "night" else ""
    days = {"month": 30, "year": 365, "yr": 365}.get(unit) or _STEP[unit]
    day = base and day_before(base, days * count)
    return Piece(*m.span(), day, part=part, unclear=unclear) if day else None


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
            capital = scene.typed(m.start(2), m.end(2)) == "Sat" and before.strip()
            unclear = "" if capital or re.match(rf"\s+(?:{PART}|night\b)", after) else "whether sat is Saturday"
    if re.match(r"\s+week\b", after):
        unclear = f"which {WEEKDAYS[number].title()} is meant"
    if not lead and not tail and re.search(r"\bthe\s+$", before) and not dated:
        unclear = unclear or f"which {WEEKDAYS[number].title()} is meant"
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
    elif back and (lead == "this" or AIMED.search(before)):
        unclear = unclear or f"whether the {WEEKDAYS[number].title()} gone or the one to come is meant"
    return Piece(*m.span(), day, weekday=number, to_come=to_come, unclear=unclear) if day else None


def _month_span(m: re.Match[str], scene: Scene) -> Piece | None:
    """Return the span of a month: "in March", "since March", "late March", "March 2025"."""
    lead, edge, name, year = m[1] or "", m[2] or "", m[3], int(m[4]) if m[4] else None
    verb = MAY_VERB.match(scene.after(m.end(3))) if name == "may" else None
    if verb and lead in ("in", "since", "during") and verb[0].strip() in ("i", "we", "you", "they"):
        verb = None
    if verb or not (lead or edge or year):
        return None
    doubt_may = False
    if name == "may" and year is None and re.match(r"\s+[a-z]", scene.after(m.end())):
        typed = scene.plain.typed[scene.plain.place(m.start(3)) : scene.plain.place(m.end(3))]
        doubt_may = typed != "May"
        if doubt_may and lead not in ("in", "since", "during"):
            return None  # "this may kill it"
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
    if doubt_may:
        unclear = unclear or "whether may is the month"
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
    step = {"this": 0, "next": 1}.get(which, -1)
    if which not in ("last", "this", "next") and what != "weekend":
        return None
    if what in _SEASONS:
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
    return Piece(*m.span(), first, _no_later(first, last, today), to_come=first > today)


def _season(m: re.Match[str], scene: Scene, step: int) -> Piece | None:
    """Return a season by its months in the north; the other seasons of the south are not told here."""
    if m[2] == "fall" and re.match(r"\s+(?:off|down|out|over)\b", scene.after(m.end())):
        return None
    today, (low, high) = scene.today, _SEASONS[m[2]]
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


_HOW_MANY = r"[0-9]{1,3}|an?\s+few|a\s+couple(?:\s+of)?|couple(?:\s+of)?|a\s+few|few|several|half\s+an|" + "|".join(
    COUNT
)
RELATIVE: Sequence[tuple[re.Pattern[str], Reader]] = [
    (re.compile(pattern), reader)
    for pattern, reader in (
        (
            rf"(?<!\w)({_HOW_MANY})\s*(minutes?|mins?|hours?|hrs?|h|days?|d|nights?|weeks?|wks?|fortnights?|months?|years?|yrs?)\s+(?:ago|back)\b"
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
            rf"\b(?:(last\s+week(?:\s+on|,)?\s+|last\s+|this\s+|next\s+|coming\s+|on\s+(?=sat|sun))(?:week\s+)?)?(?<!-)({WEEKDAY})(?!-)"
            r"(\s+(?:of\s+)?(?:last|this)\s+week\b)?",
            _weekday,
        ),
        (
            rf"\b(?:(in|since|during|over|last|next|this|of|back\s+in)\s+)?((?:early|mid|late)[\s-]+(?:in\s+)?"
            rf"|(?:the\s+)?(?:start|beginning|end)\s+of\s+)?({MONTH})(?!-)(?:,?\s+({YEAR})|\s+(this|last)\s+year\b)?",
            _month_span,
        ),
        (
            r"\b(last|this|next|(?:at|on|over|during)\s+the)\s+(weekend|week|month|year|spring|summer|autumn|fall|winter)\b(?!-)",
            _stretch,
        ),
        (
            rf"\b(?:in|since|during|of|planted|grafted|bought|sown|potted)\s+({YEAR})(?!{UNIT}|{COUNTED}|[-/.:][0-9])",
            _year_span,
        ),
    )
]
"""The shapes of days told from today, in the order in which they claim their words."""
